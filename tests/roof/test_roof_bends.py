"""Bends taken from the measured roof, cleats counted by it, several lengths of one mark.

Expected degrees are worked by hand from the sizes of the roofs: a cap turns as its two slopes turn (at a ridge by the
sum of the pitches); the roof leg of a drip edge lies on the slope and its face hangs plumb, 90 degrees less the pitch.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from fabplan.errors import FabplanError, JobError
from fabplan.job.load import load_job
from fabplan.job.model import Job, SectionPiece
from fabplan.plan.make import make_pieces
from fabplan.speech.roof import lengths_note

HEAD = """
[job]
name = "Bath house"
number = "31"
spare = "5 pieces"
[metal]
use = "copper-16oz"
[[piece]]
mark = "A"
kind = "diamond"
side = "10 in"
hem = "3/4 in"
"""
SPIRE = """
[[slope]]
name = "turret"
shape = "regular-spire"
piece = "A"
sides = 4
side = "60 in"
slant = "120 in"
"""


def wing(name: str, bottom: float, pitch: float | None, more: str = "") -> str:
    tilt = "" if pitch is None else f"pitch = {pitch}\n"
    return (
        f'\n[[slope]]\nname = "{name}"\nshape = "rectangle"\npiece = "A"\nbottom = "{bottom} in"\nheight = "40 in"\n'
        f"{tilt}{more}"
    )


def section(mark: str, legs: str, bends: str = "", length: str = "120 in") -> str:
    typed = f"bends = {bends}\n" if bends else ""
    return f'\n[[piece]]\nmark = "{mark}"\nkind = "section"\nlength = "{length}"\nlegs = {legs}\n{typed}'


def job(tmp: Path, *parts: str) -> Job:
    path = tmp / "job.toml"
    path.write_text(HEAD + "".join(parts), encoding="utf-8")
    return load_job(path)


def bends(made: Any, mark: str) -> tuple[float, ...]:
    piece = next(p for p in made.job.pieces if p.mark == mark)
    assert isinstance(piece, SectionPiece)
    return piece.bends


TWO = '["3 in", "3 in"]'
CLEAT = '\n[[piece]]\nmark = "C"\nkind = "rectangle"\ncount = "cleats"\nwidth = "2 in"\nlength = "4 in"\n'
DRIP = '["3/4 in", "2 in", "3 in"]'


def test_a_hip_cap_takes_the_turn_of_its_hips(tmp_path: Path) -> None:
    """Four sides of 60 in, slant 120 in: the run is 30 in, cos s = 1/4, the hips turn acos(1/16) = 86.4 degrees."""
    made = make_pieces(job(tmp_path, section("H", TWO), SPIRE, '[roof]\nhip_piece = "H"\n'))
    assert bends(made, "H") == (-86.4,)


def test_a_cap_with_kicks_keeps_them_and_turns_as_much_in_all(tmp_path: Path) -> None:
    legs = '["1/2 in", "3 in", "3 in", "1/2 in"]'
    made = make_pieces(job(tmp_path, section("H", legs, '[20, "roof", 20]'), SPIRE, '[roof]\nhip_piece = "H"\n'))
    assert bends(made, "H") == pytest.approx((20, -126.4, 20))


def test_a_ridge_cap_takes_both_pitches_and_a_drip_edge_the_pitch(tmp_path: Path) -> None:
    roof = '[roof]\nridge_piece = "R"\neave_piece = "D"\n'
    both = wing("left", 100, 45), wing("right", 100, 45)
    made = make_pieces(job(tmp_path, section("R", TWO), section("D", DRIP, '[90, "roof"]'), *both, roof))
    assert bends(made, "R") == (-90.0,)
    assert bends(made, "D") == (90.0, -45.0)
    steep = wing("left", 100, 60), wing("right", 100, 30)
    made = make_pieces(job(tmp_path, section("R", TWO), *steep, '[roof]\nridge_piece = "R"\n'))
    assert bends(made, "R") == (-90.0,)


def test_six_in_twelve_leaves_63_4_degrees_for_the_drip_edge(tmp_path: Path) -> None:
    """atan(6/12) = 26.565 degrees, 90 less that is 63.4."""
    roof = '[roof]\neave_piece = "D"\n'
    made = make_pieces(job(tmp_path, section("D", DRIP, '[90, "roof"]'), wing("porch", 90, 26.565), roof))
    assert bends(made, "D") == (90.0, -63.4)


@pytest.mark.parametrize(
    ("parts", "says"),
    [
        ((section("R", TWO), wing("left", 100, None), '[roof]\nridge_piece = "R"\n'), "no edge of the roof says how"),
        (
            (section("D", TWO), wing("a", 90, 30), wing("b", 90, 45), '[roof]\neave_piece = "D"\n'),
            r"the eave of b asks for 45\.0° and the eave of a for 60\.0°: one bend does not fit both",
        ),
        (
            (section("R", TWO, "[-60]"), wing("l", 100, 45), wing("r", 100, 45), '[roof]\nridge_piece = "R"\n'),
            r"is turned 60\.0° toward the back: the ridge of \w with \w asks for 90\.0°.*bends that add up to -90\.0",
        ),
    ],
)
def test_what_the_roof_does_not_say_or_says_otherwise_is_refused(
    tmp_path: Path, parts: tuple[str, ...], says: str
) -> None:
    with pytest.raises(JobError, match=says) as fault:
        make_pieces(job(tmp_path, *parts))
    assert fault.value.exit_code == 2


@pytest.mark.parametrize(
    ("parts", "says"),
    [
        ((section("R", TWO), wing("left", 100, 45)), "taken from the roof only by the section that"),
        ((section("D", DRIP, '["roof", "roof"]'), wing("left", 100, 45)), "one bend of a section is taken"),
        ((section("D", DRIP, "[90, -45]") + "roof_bend = 2\n", wing("left", 100, 45)), 'unknown key "roof_bend"'),
        ((CLEAT, CLEAT.replace('"C"', '"E"'), wing("left", 100, 45)), 'the cleats are counted as piece "C" already'),
    ],
)
def test_bad_files(tmp_path: Path, parts: tuple[str, ...], says: str) -> None:
    with pytest.raises(FabplanError, match=says):
        job(tmp_path, *parts)


def test_cleats_are_counted_once(tmp_path: Path) -> None:
    roof = '[roof]\nridge_piece = "R"\ncleats_per_piece = 2\n'
    made = make_pieces(job(tmp_path, section("R", TWO), CLEAT, wing("l", 100, 45), wing("r", 100, 45), roof))
    assert made.roof is not None
    pieces = sum(n for m, n in made.roof.pieces if m == "A")
    # along both edges of one ridge of 100 in, one every 12 in: 2 x (9 + 1)
    want = 2 * pieces + 20
    assert sum(f.count for f in made.roof.fasteners if f.what.endswith("cleats")) == want
    (c,) = [p for p in made.whole if p.mark == "C"]
    assert (c.count, c.spare) == (want + 5, 5)


def test_a_second_length_is_made_where_it_saves_strip(tmp_path: Path) -> None:
    """Eaves of 96 in and, four times, 70 in: each in one strip of its own; one length for both wastes 26 in each."""
    eaves = wing("long", 96, 45), wing("short", 70, 45, "count = 4\n")
    roof = '[roof]\neave_piece = "D"\n[shear]\nlongest_cut = "120 in"\n'
    made = make_pieces(job(tmp_path, section("D", DRIP, "[90, -45]"), *eaves, roof))
    assert made.roof is not None
    assert [(x.mark, x.of, x.length / 25_400_000) for x in made.roof.edge_lengths] == [
        ("D", "D", 96.0),
        ("D-2", "D", 70.0),
    ]
    assert {p.mark: (p.count - p.spare, p.length_units * p.grid / 25_400_000) for p in made.whole if p.mark != "A"} == {
        "D": (1, 96.0),
        "D-2": (4, 70.0),
    }
    assert lengths_note(made.roof, made.job).startswith(
        "Edge metal is made in lengths that divide the measured edges: D 96 in (typed 120 in), D-2 70 in."
    )
