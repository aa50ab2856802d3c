"""What stops and settings must satisfy, whatever the fold: laws, not worked values."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fabplan.bending.brake.springback import overbend, springback_ratio
from fabplan.bending.flat.steps import line_to_edge, prebent_width, straight
from fabplan.blanks.flat.bend import bend_allowance, setback
from fabplan.blanks.model import Fold


@given(st.floats(5, 175), st.floats(0.01, 0.2), st.floats(5, 60))
def test_metal_bent_past_its_angle_comes_back_to_it(turned: float, radius: float, yield_ksi: float) -> None:
    """Let go, a bend opens to its share under load; the whole of what it was bent to, not of what is wanted."""
    ratio = springback_ratio(radius, 0.0216, yield_ksi, 17_000)
    if ratio > 0.5:
        assert (turned + overbend(turned, radius, 0.0216, yield_ksi, 17_000)) * ratio == pytest.approx(turned)


@given(st.floats(20, 180), st.floats(0.0, 0.1), st.floats(0.5, 2.0))
def test_a_flap_is_its_straight_part_and_its_share_of_the_bend(turned: float, radius: float, width: float) -> None:
    """Outside of the bend to raw edge is setback and straight part; flat, half the arc lies beyond the fold line."""
    t = 0.0216
    arc, back = bend_allowance(turned, radius, t, 0.4), setback(turned, radius, t)
    fold = Fold(
        edge=1,
        line=((0.0, 0.0), (1.0, 0.0)),
        toward="face",
        turned=turned,
        width=width,
        gap=0.0,
        radius=radius,
        bend_allowance=arc,
        setback=back,
        deduction=2 * back - arc,
        allowance=width - (2 * back - arc),
        slot_depth=width - back,
    )
    assert straight(fold) + back == pytest.approx(width)
    assert straight(fold) == pytest.approx(fold.slot_depth)
    # The raw edge lies one allowance outside the finished edge, the fold line half a deduction inside it.
    assert line_to_edge(fold) == pytest.approx(fold.allowance + fold.deduction / 2)
    assert prebent_width(fold, turned) == pytest.approx(width)
    assert prebent_width(fold, turned / 2) == pytest.approx(width + arc / 4)
