"""A face with a finish never meets bare steel: something soft is between where a stroke lays it down or presses it."""

from __future__ import annotations

from dataclasses import replace

from fabplan.bending.model import BendSchedule, Soft, Step
from fabplan.blanks.model import FlatPattern

GRIPS_BOTH = ("jaws", "slot", "by hand")  # the flap, or the piece beside it, is held on both sides


def with_soft(schedule: BendSchedule, pattern: FlatPattern) -> BendSchedule:
    """The schedule with what is covered at each stroke, of a piece whose face has a finish."""
    if pattern.finish == "bare":
        return schedule
    return replace(schedule, steps=tuple(replace(s, soft=soft_of(s)) for s in schedule.steps))


def soft_of(step: Step) -> tuple[Soft, ...]:
    """What is covered at a stroke: "bed", whatever the face lies on or swings against; "jaw", what grips or presses it.

    A hem that is closed shows its outside above and below: the face where it turns to the back.
    """
    if step.action == "close" and step.turned_deg >= 180:
        shows = step.toward == "back"
        bed, jaw = shows or step.side_up == "back", shows
    else:
        bed = step.side_up == "back"
        jaw = step.hold.way in GRIPS_BOTH or step.side_up == "face" or step.action == "close"
    return (*(("bed",) if bed else ()), *(("jaw",) if jaw else ()))
