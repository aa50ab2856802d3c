"""Impossible pieces: which bend, what it strikes, by how much, and changes that really work."""

from __future__ import annotations

import pytest
from bend_sections import job_of, metals, section

from fabplan.bending.errors import BendError
from fabplan.bending.model import Mend
from fabplan.bending.schedule import schedule_bends
from fabplan.blanks.model import FlatPattern


def refused(pattern: FlatPattern, extra: str = "") -> BendError:
    with pytest.raises(BendError) as caught:
        schedule_bends(pattern, job_of(extra), metals())
    return caught.value


def test_an_angle_the_leaf_does_not_reach() -> None:
    error = refused(section([3, 2], [95]), "[brake]\nlargest_angle = 80\n")
    assert error.reasons == ("Bend 1 (turned 95°): the leaf swings only 80°.",)
    assert (
        Mend(
            says="Stop bend 1 at 80° instead of 95° and turn the last 15° by hand at the end.",
            write="finish_by_hand = [1, 15]",
        )
        in error.mends
    )


def test_a_flange_too_short() -> None:
    error = refused(section([3, 0.25], [90]))
    assert "the flange on the leaf ends at the raw edge, 1/8 in short of the 3/8 in it needs" in error.reasons[0]
    assert "the flat under the nose ends at the raw edge, 1/4 in short of the 1/2 in it needs" in error.reasons[0]
    assert Mend(says="Make leg 2 3/8 in instead of 1/4 in.", write='legs = ["3 in", "3/8 in"]') in error.mends
    assert any("with the hand seamer" in m.says and m.write == "finish_by_hand = [1, 90]" for m in error.mends)


def test_a_hem_too_deep() -> None:
    error = refused(section([3, 3], [90], end_hem=(1.25, "face", 0.0)))
    assert "Hem 2 (turned 180°): the hem is 1/4 in deeper than the brake flattens (1 in)." in error.reasons
    assert any(m.write == 'end_hem.width = "1 in"' for m in error.mends)


def test_a_jaw_that_does_not_take_the_prebent_hem() -> None:
    error = refused(section([3, 3], [90], end_hem=(0.75, "face", 0.0)), '[brake]\njaw = "1/4 in"\n')
    assert "Hem 2 (turned 180°): the pre-bent hem stands 9/32 in higher than the jaw opens (1/4 in)." in error.reasons


def test_a_reverse_bend_closer_than_the_apron_bar() -> None:
    error = refused(section([4, 1.5, 4], [90, -90]), '[brake]\napron_bar = "3 in"\napron_bar_off = "0 in"\n')
    assert any("inside the apron bar" in r for r in error.reasons)
    assert any("inside the bed" in r for r in error.reasons)


def test_a_swinging_leg_that_meets_the_nose_tells_the_angle() -> None:
    error = refused(section([4, 3, 4, 1], [90, 90, 90]))
    told = " ".join(error.reasons)
    assert "Bend 2 (turned 90°), with bends 1 and 3 made" in told
    assert "strikes the nose bar at the raw edge after 82° of 90° and would go 11/16 in into it" in told
    assert any(m.write == "finish_by_hand = [2, 10]" for m in error.mends)


def test_reason_names_what_is_made_and_both_ends() -> None:
    error = refused(section([3, 3, 3, 3, 3], [90, 90, 90, 90]))
    assert any(", with bends " in r and "with the start end in" in r for r in error.reasons)


def test_a_search_cut_short_does_not_claim_proof() -> None:
    error = BendError("S", ["Bend 1: no."], [], proven=False)
    assert "no order was found in the work allowed" in str(error)
    assert "cannot be folded with the tools at hand" in str(BendError("S", [], []))
