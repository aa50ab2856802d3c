"""What the steps say: sides, ends, stops, settings, check sizes, words."""

from __future__ import annotations

from dataclasses import replace

import pytest
from bend_pieces import T, diamond, piece, stroke_words
from bend_sections import job_of, metals, random_section, section, zoo

from fabplan.bending.errors import BendError
from fabplan.bending.model import BendSchedule, Gauge, Turn
from fabplan.bending.schedule import schedule_all, schedule_bends
from fabplan.blanks.model import FlatPattern
from fabplan.plotter.bend.section import hems_underneath
from fabplan.speech.folds import assumed_words, check_words, notes, turn_words
from fabplan.units import Show

SHOW = Show("in", 793_750)


def plan(pattern: FlatPattern, extra: str = "") -> BendSchedule:
    return schedule_bends(pattern, job_of(extra), metals())


def told(schedule: BendSchedule, pattern: FlatPattern) -> list[str]:
    said = notes(schedule, pattern, job_of(), metals())
    return [*said.before, *said.after]


def test_drip_edge_step_by_step() -> None:
    pattern = zoo()["drip edge"]
    first, second = plan(pattern).steps
    # the wide side is clamped and the kick swung
    assert (first.edge, first.side_up, first.end_in, first.turn) == (1, "face", "finish end", Turn())
    assert (first.turned_deg, first.set_deg, first.check_deg) == (90, 92, 90)
    assert first.gauged_from == Gauge(what="edge", ref=2)
    # the middle of the bend lies a leg less setback plus half the allowance from the start edge
    assert pattern.section is not None
    assert first.stop == pytest.approx(pattern.section.developed - (0.75 - T + 0.5 * 0.35 * T * 1.5707963))
    assert (first.check.size, check_words(first, SHOW)) == (pytest.approx(0.75), "outside of bend 1 to the start edge")
    assert (second.side_up, second.end_in, second.turns_over) == ("back", "finish end", True)
    assert turn_words(second, SHOW) == "turn over end for end (the same end goes in)"
    assert second.check.size == pytest.approx(2.5)
    assert second.done == (1,)
    assert "Swing up, turned 47° (inside 133°); let go, it reads turned 45° (inside 135°)." in stroke_words(
        second, SHOW
    )


def test_a_hem_takes_two_strokes() -> None:
    schedule = plan(zoo()["eave strip"])
    assert [(s.edge, s.action, s.turned_deg) for s in schedule.steps] == [
        (2, "pre-bend", 135),
        (2, "close", 180),
        (1, "fold", 90),
    ]
    close = schedule.steps[1]
    assert "on a shim of 1/16 in" in stroke_words(close, SHOW)
    assert close.check.size == pytest.approx(0.5)
    assert check_words(schedule.steps[2], SHOW) == "outside of bend 1 to the fold of hem 2"
    closed = plan(section([3, 1.5], [-90], end_hem=(0.5, "back", 0.0)))
    assert "close it flat" in stroke_words(closed.steps[1], SHOW)


def test_a_hem_between_strip_and_bed_is_told_and_drawn_above_the_bed() -> None:
    # the drip edge with both edges hemmed to the back: bend 2 is folded face up over the start hem
    schedule = plan(section([0.75, 2.5, 2], [90, -45], start_hem=(0.5, "back", 0.0), end_hem=(0.5, "back", 1 / 16)))
    over = [s for s in schedule.steps if s.before is not None and hems_underneath(s.before) and s.action == "fold"]
    assert over
    for step in schedule.steps:
        assert ("A hem lies under the strip" in stroke_words(step, SHOW)) == (step in over)


def test_every_step_of_a_section_has_pictures_and_a_brake() -> None:
    for pattern in zoo().values():
        schedule = plan(pattern)
        assert schedule.brake is not None
        assert all(s.before is not None and s.after is not None for s in schedule.steps)


def test_assumed_brake_sizes_are_named_and_given_ones_are_not() -> None:
    assumed = assumed_words(plan(zoo()["Z"]), job_of())
    assert "nose angle 45°" in assumed
    assert "apron bar 1 in" in assumed
    assert "nose set back 2 thicknesses" in assumed
    extra = '[brake]\nnose_angle = 45\napron_bar = "1 in"\n'
    given = assumed_words(plan(zoo()["Z"], extra), job_of(extra))
    assert not any("nose angle" in a or "apron bar" in a for a in given)


def test_diamond_words() -> None:
    schedule = plan(diamond())
    assert [(s.edge, s.side_up, turn_words(s, SHOW)) for s in schedule.steps] == [
        (1, "face", ""),
        (4, "face", "rotate a quarter turn to the left: edge 4 to the tool"),
        (2, "back", "turn over away from you: edge 2 comes to the tool"),
        (3, "back", "rotate a quarter turn to the left: edge 3 to the tool"),
    ]
    assert all(s.tool == "hand seamer" and s.set_deg == s.check_deg == 180 for s in schedule.steps)
    assert all(s.check.size == pytest.approx(1.0) for s in schedule.steps)
    assert "Stay off the fold of edge 1 at the corner." in stroke_words(schedule.steps[1], SHOW)
    check = schedule.steps[2].check
    assert (check.across_edge, check.across) == (4, pytest.approx(12.0))
    assert any("Steps 1, 2, 3 and 4 share one setting" in n for n in told(schedule, diamond()))


def test_leaf_brake_folds_of_a_flat_piece_are_overbent() -> None:
    tray = piece([(0.0, 0.0), (18.0, 0.0), (18.0, 24.0), (0.0, 24.0)], {1: ("face", 90.0, 2.0, 0.0)})
    (step,) = plan(tray).steps
    assert step.tool == "leaf brake"
    assert (step.set_deg, step.check_deg) == (92, 90)
    assert step.metal_springback is not None


def test_a_strip_longer_than_the_brake_says_so() -> None:
    with pytest.raises(BendError, match="130 in long, the brake bends 120 in"):
        plan(section([2, 2], [90], length=130.0))
    lapped = replace(section([2, 2], [90], length=66.5), parts=2)
    assert any("made in 2 strips of 66-1/2 in" in n for n in told(plan(lapped), lapped))


def test_tall_metal_behind_the_nose_goes_in_from_the_end() -> None:
    pattern = section([4, 6, 1], [90, 90])
    usual, low = plan(pattern), plan(section([3, 6, 3, 1], [90, 90, -20]), '[brake]\njaw = "2-1/2 in"\n')
    assert usual.end_loadings == 0
    for schedule in (usual, low):
        assert schedule.end_loadings == sum(s.loading == "end" for s in schedule.steps)


def test_the_order_of_all_pieces_is_kept_and_plain_blanks_are_left_out() -> None:
    plain = replace(diamond(), mark="P", folds=())
    patterns = [replace(zoo()["Z"], mark="Z"), plain, replace(diamond(), mark="A")]
    assert [s.mark for s in schedule_all(patterns, job_of(), metals()).schedules] == ["Z", "A"]


def test_impossible_pieces_do_not_stop_the_others() -> None:
    patterns = [replace(section([3, 0.25], [90]), mark="X"), replace(zoo()["Z"], mark="Z")]
    bends = schedule_all(patterns, job_of(), metals())
    assert [s.mark for s in bends.schedules] == ["Z"]
    assert [u.mark for u in bends.unbent] == ["X"]
    assert bends.unbent[0].reasons
    assert bends.unbent[0].mends


def test_same_schedule_every_time() -> None:
    import random

    for seed in range(6):
        pattern = random_section(random.Random(seed), 3)
        try:
            assert plan(pattern) == plan(pattern)
        except BendError as error:
            with pytest.raises(BendError) as again:
                plan(pattern)
            assert str(again.value) == str(error)
