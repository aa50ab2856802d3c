"""Each thing the checker of flat pieces asks of a stroke and a tool: refused in words when it is not so."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from bend_pieces import diamond, piece
from bend_sections import job_of, metals

from fabplan.bending.check.whole import check_schedule
from fabplan.bending.model import BendSchedule
from fabplan.bending.schedule import schedule_bends
from fabplan.blanks.model import FlatPattern

SQUARE = [(0.0, 0.0), (18.0, 0.0), (18.0, 24.0), (0.0, 24.0)]


def tray() -> FlatPattern:
    folds = {1: ("face", 90.0, 1.0, 0.0), 2: ("face", 90.0, 1.0, 0.0), 3: ("back", 180.0, 0.5, 0.0)}
    return piece(SQUARE, folds)


def made(pattern: FlatPattern) -> BendSchedule:
    return schedule_bends(pattern, job_of(), metals())


@pytest.mark.parametrize(
    ("brake", "says"),
    [
        ('throat = "3 in"', "do not suit the leaf brake"),
        ('longest_bend = "12 in"', "the fold is longer than the leaf brake"),
        ('least_flange = "2 in"', "the leaf brake does not take a fold"),
        ("largest_angle = 60", "turns only 60 degrees"),
    ],
)
def test_a_brake_that_cannot_do_a_stroke_is_told(brake: str, says: str) -> None:
    """The same strokes, said to be done on the leaf brake: the usual one can do what this one cannot."""
    pattern = tray()
    schedule = made(pattern)
    braked = replace(schedule, steps=tuple(replace(s, tool="leaf brake") for s in schedule.steps))
    usual = check_schedule(braked, pattern, job_of(), metals())
    other = check_schedule(braked, pattern, job_of(f"[brake]\n{brake}\n"), metals())
    assert any(says in f for f in other)
    assert not any(says in f for f in usual)


def stroke(schedule: BendSchedule, kind: str, **changes: Any) -> BendSchedule:
    """The schedule with its first stroke of this kind changed."""
    at = next(i for i, s in enumerate(schedule.steps) if s.action == kind)
    steps = list(schedule.steps)
    steps[at] = replace(steps[at], **changes)
    return replace(schedule, steps=tuple(steps))


@pytest.mark.parametrize(
    ("kind", "changes", "says"),
    [
        ("fold", {"tool": "steam hammer"}, "there is no steam hammer"),
        ("fold", {"action": "pre-bend"}, "no pre-bend with"),
        ("fold", {"turned_deg": 45.0}, "degrees"),
    ],
)
def test_a_wrong_stroke_is_refused(kind: str, changes: dict[str, Any], says: str) -> None:
    pattern = tray()
    assert any(says in f for f in check_schedule(stroke(made(pattern), kind, **changes), pattern, job_of(), metals()))


@pytest.mark.parametrize("pattern", [tray(), diamond()], ids=["tray", "diamond"])
def test_finished_sizes_other_than_what_the_folds_give_are_refused(pattern: FlatPattern) -> None:
    schedule = made(pattern)
    moved = tuple((x + 0.5, y + 0.5) for x, y in pattern.finished.outline)
    other = replace(pattern, finished=replace(pattern.finished, outline=moved))
    assert any("from the finished outline" in f for f in check_schedule(schedule, other, job_of(), metals()))


def test_a_fold_left_undone_ends_at_another_angle() -> None:
    pattern = tray()
    schedule = made(pattern)
    short = replace(schedule, steps=schedule.steps[:-1])
    assert any("ends at" in f and "instead of" in f for f in check_schedule(short, pattern, job_of(), metals()))
