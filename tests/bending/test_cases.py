"""Trim that was once refused or planned as no fabricator works: each case file, and what is wanted of it.

The wanted orders are common practice, no source: clamp the wide body and swing the flange, hems before the bends beside
them, kicks of a coping before its faces.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest
from bend_pieces import stroke_words

from fabplan.bending.check.whole import check_schedules
from fabplan.bending.model import Bends, BendSchedule
from fabplan.bending.schedule import schedule_all
from fabplan.errors import JobError
from fabplan.job.load import load_job
from fabplan.plan.make import make_pieces
from fabplan.units import Show

CASES = Path(__file__).parent / "cases"
SHOW = Show("in", 793_750)


@cache
def bends(name: str) -> Bends:
    job = load_job(CASES / f"{name}.toml")
    pieces = make_pieces(job)
    made = schedule_all(pieces.patterns, job, pieces.metals)
    unbent = [u.mark for u in made.unbent]
    assert check_schedules(made.schedules, pieces.patterns, job, pieces.metals, unbent) == []
    return made


def planned(name: str) -> BendSchedule:
    made = bends(name)
    assert not made.unbent, made.unbent
    return made.schedules[-1]


@pytest.mark.parametrize("name", ["d1_hem38_rounding", "d1_least_flange_by_rounding", "d1_reversed", "d7_mend_applied"])
def test_a_size_typed_at_a_limit_is_not_refused_for_rounding(name: str) -> None:
    planned(name)


def test_d2_a_pan_as_deep_as_the_throat_keeps_its_body_under_the_nose() -> None:
    first, close = planned("d2_throat_false_hit").steps
    assert (first.end_in, first.hold.wide_swings) == ("start end", False)
    assert close.hold.way == "pushed in"


def test_d3_a_hem_pushed_in_is_drawn_under_the_nose() -> None:
    close = planned("d3_lone_end_hem_picture").steps[1]
    assert close.after is not None
    (hem,) = close.after.hems
    fold, raw = sorted((hem[0][0], hem[1][0]), reverse=True)
    # the fold at the front of the nose, the flap back from there, over the body
    assert -0.1 < fold <= 0
    assert raw == pytest.approx(fold - 0.75)


def test_d4_the_apron_is_clamped_and_its_hems_are_swung() -> None:
    schedule = planned("d4_hem_flap_clamped")
    assert not any(s.hold.wide_swings for s in schedule.steps if s.action == "pre-bend")
    assert schedule.turn_overs == 1


def test_d5_mitred_flanges_past_square_do_not_strike_each_other() -> None:
    assert [s.turned_deg for s in planned("d5_two_flanges_past_90").steps] == [100, 100]


@pytest.mark.parametrize("name", ["d6_coping_with_kicks", "d13_one_bad_piece_no_packet"])
def test_d6_a_coping_is_hemmed_kicked_and_then_squared(name: str) -> None:
    strokes = [s.edge for s in planned(name).steps if s.action != "close"]
    assert [sorted(strokes[:2]), sorted(strokes[2:4]), sorted(strokes[4:])] == [[1, 6], [2, 5], [3, 4]]


def test_d8_hems_that_overlap_are_a_fault_of_the_job() -> None:
    with pytest.raises(JobError, match="two hems to one side of a leg overlap"):
        load_job(CASES / "d8_overlapping_hems.toml")


def test_d9_an_s_cleat_keeps_its_shim() -> None:
    steps = planned("d9_s_cleat").steps
    assert [s.hold.shims_in for s in steps] == [(), (), (1,), (1,)]
    assert "put its shim back in" in stroke_words(steps[3], SHOW)


def test_d10_a_radius_the_nose_cannot_form_is_named() -> None:
    (step,) = planned("d10_radius_setting").steps
    assert step.hold.radius == pytest.approx(2.0)
    assert step.set_deg > 120  # the metal alone opens 43 to 72 degrees
    assert "sharper than the inside radius of 2 in" in stroke_words(step, SHOW)


def test_d11_overbend_is_swept_only_as_far_as_there_is_room() -> None:
    short = [s for s in planned("d11_box_gutter_overbend").steps if s.hold.by_hand]
    assert [(s.edge, round(s.set_deg, 1)) for s in short] == [(2, 90.2)]


def test_d12_a_narrow_z_is_bent_with_the_bar_off() -> None:
    schedule = planned("d12_z_step")
    assert [s.hold.bar_off for s in schedule.steps] == [False, True]
