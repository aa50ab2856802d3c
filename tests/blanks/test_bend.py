"""One bend: laws of its sizes, and the shop's own strips."""

from __future__ import annotations

import math

import pytest
from blank_jobs import COPPER, copper, job, metals, piece
from hypothesis import given
from hypothesis import strategies as st

from fabplan.blanks.develop import develop
from fabplan.blanks.flat.bend import (
    Bend,
    bend_marks,
    developed_length,
    make_bend,
    straights,
)
from fabplan.job.model import MeasuredAllowance
from fabplan.units import Nm, from_inches

ANGLES = st.floats(1, 180)
RADII = st.floats(0, 0.5)


@given(ANGLES, RADII)
def test_deduction_is_two_setbacks_less_the_arc(turned: float, radius: float) -> None:
    b = make_bend(turned, copper(), radius=radius)
    assert b.deduction == pytest.approx(2 * b.setback - b.bend_allowance, abs=1e-12)
    assert b.bend_allowance == pytest.approx(math.radians(turned) * (radius + 0.407 * 0.0216), abs=1e-12)


@given(st.floats(0.1, 3), st.floats(0, 0.25))
def test_a_hem_turned_about_its_fold_line_lands_on_its_width(width: float, gap: float) -> None:
    b = make_bend(180, copper(), gap=gap)
    raw = b.allowance(width)
    assert 2 * b.fold_line - raw == pytest.approx(-width, abs=1e-12)
    assert b.fold_line == pytest.approx(b.bend_allowance / 2 - b.setback, abs=1e-12)
    assert b.slot_depth(width) == pytest.approx(width - (gap / 2 + 0.0216), abs=1e-12)


@pytest.mark.parametrize("gap", [0.0, 1 / 16])
def test_a_hem_takes_its_width_within_a_thirty_second(gap: float) -> None:
    b = make_bend(180, copper(), gap=gap)
    assert abs(b.allowance(1.0) - 1.0) < 1 / 32


def test_plain_takes_the_width_and_nothing_else() -> None:
    b = make_bend(180, copper(), gap=1 / 16, how="plain")
    assert b.allowance(0.75) == 0.75
    assert b.fold_line == 0.0
    assert b.deduction == 2 * b.setback - b.bend_allowance == 0.0


sections = st.lists(st.tuples(st.floats(0.6, 4), st.floats(5, 179), RADII), min_size=1, max_size=6)


@given(sections, st.floats(0.6, 4))
def test_developed_length_is_straights_and_arcs(parts: list[tuple[float, float, float]], last: float) -> None:
    legs = [leg + 1.1 for leg, _, _ in parts] + [last + 1.1]
    bends = [make_bend(a, copper(), radius=r) for _, a, r in parts]
    flat, marks = straights(legs, bends), bend_marks(legs, bends)
    total = developed_length(legs, bends)
    assert total == pytest.approx(sum(flat) + sum(b.bend_allowance for b in bends), abs=1e-9)
    assert all(b > a for a, b in zip([0, *marks], [*marks, total], strict=True))
    # the same strip described from its other end
    back = bend_marks(legs[::-1], bends[::-1])
    assert [total - m for m in reversed(back)] == pytest.approx(marks, abs=1e-9)
    # outside of a formed bend to the next mark
    if len(bends) > 1:
        inside = marks[1] - marks[0]
        assert inside == pytest.approx(legs[1] - bends[1].deduction / 2 - bends[0].deduction / 2, abs=1e-9)


@pytest.mark.parametrize("turned", [0, -10, 181])
def test_impossible_bends_are_refused(turned: float) -> None:
    with pytest.raises(ValueError, match="0 up to 180"):
        Bend(turned=turned, radius=0, gap=0, bend_allowance=0, setback=0, deduction=0)


def test_negative_radius_is_refused() -> None:
    with pytest.raises(ValueError, match="negative"):
        Bend(turned=90, radius=-1, gap=0, bend_allowance=0, setback=0, deduction=0)


def test_legs_and_bends_must_match() -> None:
    with pytest.raises(ValueError, match="2 bends join 3 legs, not 2"):
        developed_length([1, 1], [make_bend(90, copper())] * 2)


def _strip(turned: float, gap: float, deduction: float) -> MeasuredAllowance:
    return MeasuredAllowance.model_construct(
        metal=COPPER, turned=turned, gap=from_inches(gap), deduction=Nm(from_inches(deduction))
    )


def test_a_measured_strip_replaces_the_computed_deduction() -> None:
    measured = (_strip(90, 0, 0.05), _strip(180, 1 / 16, -0.02))
    keys = {"kind": "section", "length": "48 in", "legs": ["2 in", "3 in"], "bends": [90]}
    hem = {"width": "1/2 in", "toward": "back"}
    made = develop(job(piece(**keys, start_hem={**hem, "gap": "1/16 in"}), measured=measured), metals())[0]
    assert [f.deduction for f in made.folds] == pytest.approx([-0.02, 0.05])
    assert made.section is not None
    assert made.section.developed == pytest.approx(5.5 - 0.03)
    assert "2 of 2 bends use the shop's measured deduction." in made.notes
    # another gap, another metal or the plain rule: not this strip
    other = develop(job(piece(**keys, start_hem={**hem, "gap": "1/8 in"}), measured=measured[1:]), metals())[0]
    assert all(f.deduction != pytest.approx(-0.02) for f in other.folds)
    plain = develop(job(piece(**keys, allowance="plain"), measured=measured), metals())[0]
    assert plain.folds[0].deduction == 0.0
