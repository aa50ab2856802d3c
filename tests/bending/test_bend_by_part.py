"""Bending part by part: plan views of flaps, sections of a taper, reasons, mends, and the replays' own geometry."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from bend_pieces import diamond, piece
from bend_sections import brake, job_of, metals, section
from hypothesis import given
from hypothesis import strategies as st

from fabplan.bending.brake import impossible, mends, taper
from fabplan.bending.brake.bend_order import SectionProblem
from fabplan.bending.brake.section import BendStrip
from fabplan.bending.brake.springback import metal_springback, overbends
from fabplan.bending.check import common, press
from fabplan.bending.check import flat as check_flat
from fabplan.bending.flat import footprint, steps
from fabplan.bending.schedule import schedule_bends
from fabplan.units import NM_PER_INCH, Nm, Show

SHOW = Show("in", Nm(NM_PER_INCH // 32))
COPPER = "copper-16oz"
SQUARE = [(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)]


# a flat piece seen from above -----------------------------------------------------------------------------------------


def test_where_a_flap_lies_as_it_is_turned() -> None:
    fold = piece(SQUARE, {1: ("face", 180.0, 1.0, 0.0)}).folds[0]
    frame = footprint.frame_of(fold)
    (x0, y0), (x1, y1) = fold.line
    assert frame.length == pytest.approx(math.dist((x0, y0), (x1, y1)))
    assert frame.out[1] < 0  # edge 1 is the lowest: its flap lies below the line
    flat = footprint.flap_footprint(fold, frame, 0.0, wall=False)
    shut = footprint.flap_footprint(fold, frame, 180.0)
    assert flat.area == pytest.approx(shapely.Polygon(fold.flap).area)
    assert shut.area == pytest.approx(flat.area)
    assert flat.bounds[3] == pytest.approx(shut.bounds[1])  # it turns about its line
    assert footprint.meets(flat, shut) is None
    upright = footprint.flap_footprint(fold, frame, 90.0)
    assert 0 < upright.area < flat.area / 4
    pressed = footprint.strip(frame, 0.25, 2.0, 7.0)
    assert pressed.area == pytest.approx(0.25 * 5)
    assert footprint.stretch(frame, pressed) == pytest.approx(5.0)
    assert footprint.overlap(pressed, shut).area == pytest.approx(pressed.area)
    assert footprint.meets(pressed, shut) is not None


def test_depths_of_a_flap_and_what_is_left_to_the_hands() -> None:
    pattern = diamond()
    fold = pattern.folds[0]
    assert steps.straight(fold) == pytest.approx(fold.width - fold.setback)
    assert steps.straight(fold) < steps.line_to_edge(fold)
    schedule = schedule_bends(pattern, job_of(), metals())
    by_hand = steps.hand_steps(schedule.steps, pattern.folds, {pattern.folds[-1].edge: 180.0})
    assert [s.action for s in by_hand[len(schedule.steps) :]] == ["by hand"]
    assert by_hand[-1].edge == pattern.folds[-1].edge and by_hand[-1].step == len(by_hand)


def test_the_replay_of_a_flat_piece_finds_another_order_and_another_depth() -> None:
    pattern, job, metal = diamond(), job_of(), metals()[COPPER]
    schedule = schedule_bends(pattern, job, metals())
    assert check_flat.replay_flat(schedule, pattern, job, metal) == []
    first, second, *rest = schedule.steps
    deeper = replace(schedule, steps=(replace(first, stop=first.stop + 0.25), second, *rest))
    assert check_flat.replay_flat(deeper, pattern, job, metal)
    twice = replace(schedule, steps=(first, replace(second, edge=first.edge), *rest))
    assert check_flat.replay_flat(twice, pattern, job, metal)


# the checker's own geometry -------------------------------------------------------------------------------------------


@given(st.floats(0.1, 9.9), st.floats(0.1, 9.9))
def test_how_deep_a_point_lies_inside(x: float, y: float) -> None:
    outline = np.array(SQUARE)
    found = common.inside_by(np.array([(x, y), (x + 10, y)]), outline)
    assert found[0] == pytest.approx(shapely.Polygon(SQUARE).boundary.distance(shapely.Point(x, y)))
    assert found[1] == 0


def test_lines_cross_and_points_turn() -> None:
    a, b = np.array([(0.0, 0.0), (2.0, 2.0)]), np.array([(0.0, 2.0), (2.0, 0.0)])
    assert common.cross_anywhere(a, b)
    assert not common.cross_anywhere(a, b + np.array((5.0, 0.0)))
    assert common.turned_by(np.array([(1.0, 0.0)]), 90.0) == pytest.approx(np.array([(0.0, 1.0)]))
    assert common.differs(1.0, math.nan) and not common.differs(1.0, 1.0)


@given(st.floats(10, 180), st.floats(0, 0.5))
def test_two_ways_of_working_out_springback_agree(turned: float, radius: float) -> None:
    metal = metals()[COPPER]
    assert common.own_springback(metal, turned, radius) == pytest.approx(metal_springback(metal, turned, radius))


def test_a_standing_fold_under_the_tool_is_found() -> None:
    from fabplan.bending.check.flaps import FlapReplay, place_of

    pattern, job = diamond(), job_of()
    schedule = schedule_bends(pattern, job, metals())
    step = schedule.steps[-1]
    last = next(i for i, f in enumerate(pattern.folds) if f.edge == step.edge)
    tools = {t.name: t for t in job.hem_tools}
    replay = FlapReplay(
        pattern=pattern,
        folds=pattern.folds,
        places=tuple(place_of(f) for f in pattern.folds),
        turned=[0.0 if i == last else f.turned for i, f in enumerate(pattern.folds)],
        tools=tools,
        brake=job.brake,
        metal=metals()[COPPER],
    )
    assert press.pressed_faults(replay, step, last) == []
    assert press.landing_faults(replay, step, last) == []


# sections -------------------------------------------------------------------------------------------------------------


def problem(legs: list[float], bends: list[float], extra: str = "") -> SectionProblem:
    strip = BendStrip(section(legs, bends))
    return SectionProblem(strip, brake(extra), overbends(strip, metals()[COPPER], 2.0))


def test_the_bend_that_cannot_be_made_is_blamed_and_told() -> None:
    blamed, told = impossible.reasons(problem([3, 2], [95], "\n[brake]\nlargest_angle = 80"), SHOW)
    assert blamed == [0] and len(told) == 1
    assert "80" in told[0]


def test_a_section_of_a_taper_lies_between_its_ends() -> None:
    ends = section([5, 4, 1], [90, -90]), section([3, 4, 1], [90, -90])
    tapered = replace(ends[0], far=ends[1].section)
    half = taper.section_at(tapered, 0.5)
    assert half.section is not None and half.far is None
    assert half.section.legs == pytest.approx((4.0, 4.0, 1.0))
    assert taper.section_at(tapered, 0.0).section.legs == pytest.approx(ends[0].section.legs)  # type: ignore[union-attr]
    assert taper.tapered_strokes(ends[0], {}, brake(), (2.0, 2.0)) is None  # alike all along


def test_a_mend_is_planned_before_it_is_offered() -> None:
    text = (
        '\n[[piece]]\nmark = "B"\nkind = "section"\ncount = 1\nlength = "40 in"\nlegs = ["3 in", "2 in"]\n'
        "bends = [95]\nfinish_by_hand = [1, 15]\n[brake]\nlargest_angle = 80\n"
    )
    assert mends.by_hand(job_of(text), "B") == {1: 15.0}
    assert mends.by_hand(job_of(text), "R") == {}
    own = mends.piece_of(job_of(text), section([3, 2], [95], mark="B"))
    assert own.bends == (95.0,) and own.mark == "B"
