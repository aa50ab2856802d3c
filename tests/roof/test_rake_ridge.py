"""Rake covers and ridge ends, by hand-worked sizes and by the measured roof.

A cap with legs of 5 in over slopes of 53.13 and 36.87 degrees (a 3-4-5 triangle each way) stands over feet 3 in left
and 4 in right of the ridge, 4 in and 3 in below it.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest

from fabplan.errors import JobError
from fabplan.job.kinds.outline import OutlinePiece
from fabplan.job.kinds.section import SectionPiece
from fabplan.job.load import load_job
from fabplan.plan.make import Pieces, make_bends, make_pieces
from fabplan.roof.check.made_up import check_made_up
from fabplan.roof.check.whole import check_roof

HEAD = """
[job]
name = "Boat house wing"
number = "G-1"
[metal]
use = "copper-16oz"
"""
DIAMOND = '[[piece]]\nmark = "A"\nkind = "diamond"\nside = "10 in"\nhem = "3/4 in"\n'
COVER = '[[piece]]\nmark = "RK"\nkind = "rake-cover"\non_roof = "4 in"\ndown = "3 in"\n'
CAP = '[[piece]]\nmark = "RC"\nkind = "section"\nlength = "50 in"\nlegs = ["5 in", "5 in"]\nbends = ["roof"]\n'
END = '[[piece]]\nmark = "RE"\nkind = "ridge-end"\n'
SLOPE = '[[slope]]\nname = "{name}"\nshape = "rectangle"\npiece = "A"\nbottom = "90 in"\nheight = "{high} in"\n{more}\n'
SOUTH = SLOPE.format(name="south", high=40, more="pitch = 53.13")
NORTH = SLOPE.format(name="north", high=53, more="pitch = 36.87")
CAPS = '[roof]\nridge_piece = "RC"\nridge_end_piece = "RE"\n'
ROOF = '[roof]\nrake_piece = "RK"\nridge_piece = "RC"\nridge_end_piece = "RE"\n'


def made(tmp: Path, *parts: str) -> tuple[Any, Pieces]:
    path = tmp / "job.toml"
    path.write_text(HEAD + "".join(parts), encoding="utf-8")
    job = load_job(path)
    return job, make_pieces(job)


@pytest.fixture(scope="module")
def wing(tmp_path_factory: pytest.TempPathFactory) -> tuple[Any, Pieces]:
    return made(tmp_path_factory.mktemp("wing"), DIAMOND, COVER, CAP, END, SOUTH, NORTH, ROOF)


def test_a_cover_is_bent_over_the_board_and_out_to_drip(tmp_path: Path) -> None:
    """4 in and 3 in and 1/2 in and a hem of 1/2 in: 8 in of metal less what three bends save."""
    _, pieces = made(tmp_path, COVER, "count = 3\n")
    (cover,) = pieces.job.pieces
    assert isinstance(cover, SectionPiece)
    assert (cover.count, cover.bends) == (3, (-90.0, 45.0))
    (flat,) = pieces.whole
    assert 7.9 < flat.outline[0][0] < 8.05
    assert len(make_bends(pieces.job, pieces).schedules[0].steps) >= 3
    _, plain = made(tmp_path, COVER, 'count = 3\nkick = "0 in"\nhem = "0 in"\nturned = 80\n')
    (cover,) = plain.job.pieces
    assert isinstance(cover, SectionPiece)
    assert (cover.bends, len(cover.legs), cover.start_hem) == ((-80.0,), 2, None)


def test_the_rakes_give_the_covers_their_lengths(wing: tuple[Any, Pieces]) -> None:
    _, pieces = wing
    assert pieces.roof is not None
    runs = [r for r in pieces.roof.edge_runs if r.kind == "rake"]
    assert sorted(r.length for r in runs) == pytest.approx([40, 40, 53, 53])
    counts = dict(pieces.roof.counts)
    covers = {p.mark: p.length / 25_400_000 for p in pieces.job.pieces if p.mark.startswith("RK")}
    assert sum(counts[mark] for mark in covers) == sum(r.times * r.pieces for r in runs)
    for run in runs:
        assert run.pieces * covers[run.mark] - (run.pieces - 1) * run.lap >= run.length - 1e-6


def test_an_end_is_the_triangle_under_the_cap(tmp_path: Path) -> None:
    _, pieces = made(tmp_path, END, 'count = 2\nleg = "5 in"\npitches = [53.1301, 36.8699]\n')
    (end,) = pieces.job.pieces
    assert isinstance(end, OutlinePiece)
    at = [complex(*p) / 25_400_000 for p in end.points]
    assert [p - at[0] for p in at] == pytest.approx([0, -3 - 4j, -3 - 5j, 4 - 4j, 4 - 3j], abs=1e-4)
    assert [(f.edge, f.turned, f.toward) for f in end.folds] == [(1, 90, "back"), (3, 180, "back"), (5, 90, "back")]
    assert len(make_bends(pieces.job, pieces).schedules[0].steps) == 3
    (flat,) = pieces.whole
    assert flat.count == 2


def test_an_end_for_every_open_end_of_the_ridge(wing: tuple[Any, Pieces]) -> None:
    """Seen from outside the south slope lies right of the left gable, left of the right one: two plates, mirrored."""
    job, pieces = wing
    ends = [p for p in pieces.job.pieces if isinstance(p, OutlinePiece)]
    assert [(p.mark, p.count) for p in ends] == [("RE", 1), ("RE-2", 1)]
    feet = []
    for p in ends:
        at = [complex(*q) / 25_400_000 for q in p.points]
        feet.append((at[1] - at[0], at[-1] - at[0]))
    assert feet[0][0] == pytest.approx(-4 - 3j, abs=0.01)  # the flatter, north, slope at the left
    assert feet[0][1] == pytest.approx(3 - 4j, abs=0.01)
    assert feet[1] == pytest.approx((-3 - 4j, 4 - 3j), abs=0.01)
    cap = next(p for p in pieces.job.pieces if p.mark == "RC")
    assert isinstance(cap, SectionPiece)
    assert cap.bends == (-90.0,)
    assert check_made_up(job.pieces, pieces.job, pieces.roof) == []
    assert pieces.roof is not None
    assert check_roof(pieces.roof, pieces.job, pieces.whole) == []


def test_equal_slopes_take_one_kind(tmp_path: Path) -> None:
    both = SLOPE.format(name="roof", high=40, more="pitch = 45\ncount = 2")
    _, pieces = made(tmp_path, DIAMOND, CAP, END, both, CAPS)
    (end,) = (p for p in pieces.job.pieces if isinstance(p, OutlinePiece))
    assert (end.count, math.isclose(end.points[0][0] * 2, end.points[3][0], rel_tol=1e-6)) == (2, True)


def test_a_ridge_that_meets_hips_is_left_to_the_site(tmp_path: Path) -> None:
    hip = SLOPE.replace("rectangle", "trapezoid").format(
        name="hip", high=40, more='top = "60 in"\npitch = 45\ncount = 2'
    )
    with pytest.raises(JobError, match="no ridge of the job ends between two rakes"):
        made(tmp_path, DIAMOND, CAP, END, hip, CAPS)


@pytest.mark.parametrize(
    ("parts", "says"),
    [
        ((DIAMOND, END, SOUTH, NORTH, '[roof]\nridge_end_piece = "RE"\n'), "has no ridge cap to close"),
        (
            (DIAMOND, CAP.replace('"5 in", "5 in"', '"5 in", "4 in"'), END, SOUTH, NORTH, CAPS),
            "RC is no cap of two equal legs",
        ),
        (
            (
                DIAMOND, CAP.replace('"roof"', "-60"), END, SOUTH, NORTH.replace("pitch = 36.87", ""),
                CAPS,
            ),
            "the pitch of north is not known",
        ),
    ],
)  # fmt: skip
def test_what_the_roof_does_not_say(tmp_path: Path, parts: tuple[str, ...], says: str) -> None:
    with pytest.raises(JobError, match=says) as fault:
        made(tmp_path, *parts)
    assert fault.value.exit_code == 2


@pytest.mark.parametrize(
    ("mark", "update", "says"),
    [
        ("RE", {"count": 2}, "ends for"),
        ("RE", {"folds": ()}, "flanges or its hem"),
        ("RE", {"points": ((0, 0), (1, 0), (0, 1))}, "not the cap's legs"),
        ("RK", {"bends": (90.0, 45.0)}, "not on the slope, down the board"),
        ("RK", {"start_hem": None}, "its hem is not as asked"),
    ],
)
def test_the_checker_finds_a_wrong_piece(
    wing: tuple[Any, Pieces], mark: str, update: dict[str, Any], says: str
) -> None:
    job, pieces = wing
    wrong = tuple(p.model_copy(update=update) if p.mark == mark else p for p in pieces.job.pieces)
    faults = check_made_up(job.pieces, pieces.job.model_copy(update={"pieces": wrong}), pieces.roof)
    assert any(says in fault for fault in faults)
