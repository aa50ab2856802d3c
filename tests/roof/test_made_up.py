"""Apex caps and opening sets, by hand-worked sizes and by the measured roof.

A pyramid of four facets 12 in wide and 10 in up the middle has hips of sqrt(100 + 36) = 11.662 in and a facet's point
opens 2 atan(6/10) = 61.93 degrees, flat 247.71 for all four. Its run is 6 in, cos p = 0.6, so its hips turn
acos(0.64 cos 90 + 0.36) = acos 0.36 = 68.9 degrees.
"""

from __future__ import annotations

import cmath
import math
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from fabplan.errors import JobError
from fabplan.job.kinds.outline import OutlinePiece
from fabplan.job.kinds.section import SectionPiece
from fabplan.job.load import load_job
from fabplan.plan.make import Pieces, make_bends, make_pieces
from fabplan.roof.check.made_up import check_made_up

HEAD = """
[job]
name = "Bell turret"
number = "9"
[metal]
use = "copper-16oz"
"""
DIAMOND = '[[piece]]\nmark = "A"\nkind = "diamond"\nside = "9 in"\nhem = "3/4 in"\n'
CAP = '[[piece]]\nmark = "P"\nkind = "apex-cap"\nhem = {width = "1/2 in", toward = "back"}\n'
SET = '[[piece]]\nmark = "W"\nkind = "opening-set"\nupstand = "4 in"\nflange = "5 in"\n'
SPIRE = '[[slope]]\nname = "turret"\nshape = "regular-spire"\npiece = "A"\nsides = 6\nside = "40 in"\nslant = "70 in"\n'
WING = (
    '[[slope]]\nname = "wing"\nshape = "rectangle"\npiece = "A"\nbottom = "90 in"\nheight = "60 in"\ncount = 2\n'
    'openings = [{name = "skylight", width = "24 in", height = "30 in", from_left = "30 in", up = "14 in"}]\n'
)


def made(tmp: Path, *parts: str) -> tuple[Any, Pieces]:
    path = tmp / "job.toml"
    path.write_text(HEAD + "".join(parts), encoding="utf-8")
    job = load_job(path)
    return job, make_pieces(job)


def test_a_cap_by_hand(tmp_path: Path) -> None:
    _, pieces = made(tmp_path, CAP, 'count = 2\nsides = 4\nside = "12 in"\nslant = "10 in"\n')
    (cap,) = pieces.job.pieces
    assert isinstance(cap, OutlinePiece)
    assert (cap.count, len(cap.points), len(cap.folds), len(cap.creases)) == (2, 8, 4, 4)
    at = [complex(*p) / 25_400_000 for p in cap.points]
    low = [p - at[0] for p in at[1:6]]
    assert [abs(p) for p in low] == pytest.approx([11.662] * 5, abs=1e-3)
    opens = sum(math.degrees(cmath.phase(b / a)) for a, b in pairwise(low))
    assert opens == pytest.approx(247.71, abs=0.01)
    assert {c.turned for c in cap.creases} == {68.9}
    (flat,) = pieces.whole
    assert len(flat.creases) == 4 and all(c.toward == "back" for c in flat.creases)
    lengths = [math.dist(*c.line) for c in flat.creases]
    assert lengths == pytest.approx([11.662] * 4, abs=1e-3)
    schedule = make_bends(pieces.job, pieces).schedules
    assert [len(s.steps) for s in schedule] == [4]


def test_a_cap_in_two_halves_has_two_seams(tmp_path: Path) -> None:
    _, pieces = made(tmp_path, CAP, 'count = 1\nsides = 4\nside = "12 in"\nslant = "10 in"\nseams = 2\n')
    (cap,) = pieces.job.pieces
    assert isinstance(cap, OutlinePiece)
    assert (cap.count, len(cap.points), len(cap.folds), len(cap.creases)) == (2, 6, 2, 2)


def test_the_spire_sizes_its_cap(tmp_path: Path) -> None:
    _, pieces = made(tmp_path, DIAMOND, CAP, "seams = 2\n", SPIRE, '[roof]\napex_piece = "P"\n')
    assert pieces.roof is not None
    (layout,) = pieces.roof.slopes
    assert layout.cap_line is not None
    slant = 70 - layout.cap_line
    side = 40 * slant / 70  # a slope as wide as its eave at the bottom, nothing at the point
    cap = next(p for p in pieces.job.pieces if p.mark == "P")
    assert isinstance(cap, OutlinePiece)
    at = [complex(*p) / 25_400_000 for p in cap.points]
    assert abs(at[1] - at[0]) == pytest.approx(math.hypot(slant, side / 2), abs=1e-3)
    assert abs(at[2] - at[1]) == pytest.approx(side, abs=1e-3)
    assert cap.count == 2


def test_every_opening_has_its_set(tmp_path: Path) -> None:
    """An opening of 24 x 30 in, flange 5 in, lap 3 in: apron and back pan 34 in long, two side pieces of 36 in."""
    job, pieces = made(tmp_path, DIAMOND, SET, WING, '[roof]\nopening_piece = "W"\n')
    found = {
        p.mark: (p.count, p.length / 25_400_000, [leg / 25_400_000 for leg in p.legs], p.bends)
        for p in pieces.job.pieces
        if isinstance(p, SectionPiece)
    }
    assert found == {
        "W-apron": (2, 34.0, [5.0, 4.0], (90.0,)),
        "W-side": (4, 36.0, [5.0, 4.0], (90.0,)),
        "W-back": (2, 34.0, [7.5, 4.0], (90.0,)),
    }
    assert check_made_up(job.pieces, pieces.job, pieces.roof) == []
    wrong = [p.model_copy(update={"count": 3}) if p.mark == "W-side" else p for p in pieces.job.pieces]
    assert check_made_up(job.pieces, pieces.job.model_copy(update={"pieces": tuple(wrong)}), pieces.roof)
    other = replace(
        pieces.roof, slopes=(replace(pieces.roof.slopes[0], slope=replace(pieces.roof.slopes[0].slope, times=1)),)
    )
    assert check_made_up(job.pieces, pieces.job, other)


@pytest.mark.parametrize(
    ("update", "says"),
    [({"count": 5}, "for 1"), ({"creases": ()}, "0 caps for 1"), ({"folds": ()}, "hems are not on the lower edges")],
)
def test_a_wrong_cap_is_found(tmp_path: Path, update: dict[str, Any], says: str) -> None:
    job, pieces = made(tmp_path, CAP, 'count = 1\nsides = 4\nside = "12 in"\nslant = "10 in"\n')
    wrong = tuple(p.model_copy(update=update) for p in pieces.job.pieces)
    (fault,) = check_made_up(job.pieces, pieces.job.model_copy(update={"pieces": wrong}), None)
    assert says in fault


@pytest.mark.parametrize(
    ("parts", "says"),
    [
        ((DIAMOND, CAP, WING, '[roof]\napex_piece = "P"\n'), "no spire of the job comes to a point"),
        ((DIAMOND, SET, SPIRE, '[roof]\nopening_piece = "W"\n'), "no slope of the job has an opening"),
        ((DIAMOND, CAP, "seams = 4\n", SPIRE, '[roof]\napex_piece = "P"\n'), "must divide the 6 facets"),
        (
            (
                DIAMOND,
                SET,
                WING.replace(
                    'width = "24 in", height = "30 in", from_left = "30 in", up = "14 in"',
                    'points = [["30 in", "14 in"], ["54 in", "16 in"], ["40 in", "40 in"]]',
                ),
                '[roof]\nopening_piece = "W"\n',
            ),
            "skylight of wing is not square to the eave .* made on site",
        ),
    ],
)
def test_what_the_roof_does_not_size_is_said(tmp_path: Path, parts: tuple[str, ...], says: str) -> None:
    with pytest.raises(JobError, match=says) as fault:
        made(tmp_path, *parts)
    assert fault.value.exit_code == 2
