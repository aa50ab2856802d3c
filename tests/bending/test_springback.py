"""Springback of the metal against published values."""

from __future__ import annotations

import pytest
from bend_pieces import stroke_words
from bend_sections import job_of, metals, section
from hypothesis import given
from hypothesis import strategies as st

from fabplan.bending.brake.springback import overbend, springback_ratio
from fabplan.bending.schedule import schedule_bends
from fabplan.units import Show


def test_worked_numbers_of_the_formula() -> None:
    """Ri/Rf = 4 X^3 - 3 X + 1, X = Y Ri/(E T), as taught in sheet-metal forming (credited to Boothroyd, and to
    Marciniak & Duncan, "Mechanics of Sheet Metal Forming"). The formula is theirs; the case is worked by us: Y 300 MPa,
    E 210 GPa, Ri 50 mm, T 2 mm gives the ratio .8930 and Rf 55.99 mm."""
    ratio = springback_ratio(50, 2, 300, 210_000)
    assert ratio == pytest.approx(0.8930, abs=1e-3)
    assert 50 / ratio == pytest.approx(55.99, abs=0.01)


def test_16_oz_cold_rolled_copper_at_a_square_bend() -> None:
    """R = T. Yield 20 ksi at least and modulus 17,000 ksi: Copper Development Association, "Copper in Architecture
    Design Handbook", table 1.1A. Yield 28 ksi typical: its alloy data sheet C12700, temper H00. By the formula above
    .32 to .44 degrees at 90, worked by us."""
    assert overbend(90, 0.0216, 0.0216, 20, 17_000) == pytest.approx(0.318, abs=0.01)
    assert overbend(90, 0.0216, 0.0216, 28, 17_000) == pytest.approx(0.445, abs=0.01)


@given(st.floats(0, 5), st.floats(0.005, 0.2), st.floats(1, 100), st.floats(5_000, 35_000))
def test_springback_lies_between_none_and_all(r: float, t: float, y: float, e: float) -> None:
    ratio = springback_ratio(r, t, y, e)
    assert 0 <= ratio <= 1
    assert springback_ratio(r * 1.1, t, y, e) <= ratio
    assert springback_ratio(r, t, y * 1.1, e) <= ratio


@pytest.mark.parametrize("bad", [(-1, 0.02, 20, 17_000), (0, 0, 20, 17_000), (0, 0.02, 0, 17_000), (0, 0.02, 20, 0)])
def test_numbers_that_make_no_sense(bad: tuple[float, float, float, float]) -> None:
    with pytest.raises(ValueError, match="above 0"):
        springback_ratio(*bad)


def test_the_page_sets_the_shop_springback_and_shows_the_metals() -> None:
    pattern = section([2, 2], [90])
    (step,) = schedule_bends(pattern, job_of("[brake]\nspringback = 3\n"), metals()).steps
    assert (step.turned_deg, step.set_deg, step.check_deg) == (90, 93, 90)
    assert step.metal_springback is not None
    assert 0.2 < step.metal_springback < 0.6


def test_the_leaf_goes_no_further_than_it_can() -> None:
    (step,) = schedule_bends(section([3, 3], [134]), job_of(), metals()).steps
    assert (step.set_deg, step.check_deg) == (135, 134)
    assert step.hold.by_hand == pytest.approx(1.0)
    assert "press the last 1° by hand" in stroke_words(step, Show("in", 793_750))
