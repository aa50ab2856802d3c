"""Replays every schedule, stroke by stroke, with geometry of its own, and says what is wrong.

Nothing of the search is used: the strip is folded along true arcs (sections) or by turning points of its flaps (flat
pieces), reach and collision are looked for by dense sampling, and the end shape is compared with the finished piece.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from fabplan.bending.check.flat import replay_flat
from fabplan.bending.check.minutes import minutes_faults
from fabplan.bending.check.section import replay_section
from fabplan.bending.check.soft import soft_faults
from fabplan.bending.model import BendSchedule
from fabplan.blanks.model import FlatPattern
from fabplan.job.metals import MetalProfile
from fabplan.job.model import Job


def check_schedules(
    schedules: Sequence[BendSchedule],
    patterns: Sequence[FlatPattern],
    job: Job,
    metals: Mapping[str, MetalProfile],
    unbent: Sequence[str] = (),
) -> list[str]:
    """Faults of the schedules, one plain sentence each; empty when every one of them works.

    Every pattern with folds must have one schedule, or be among the `unbent` marks.
    """
    faults: list[str] = []
    folded = {p.mark: p for p in patterns if p.folds}
    seen: list[str] = []
    for schedule in schedules:
        pattern = folded.get(schedule.mark)
        if pattern is None:
            faults.append(f"schedule {schedule.mark}: there is no piece of that mark with folds")
            continue
        seen.append(schedule.mark)
        found = check_schedule(schedule, pattern, job, metals) or minutes_faults(schedule, pattern, job)
        faults += [f"piece {schedule.mark}: {fault}" for fault in found]
    seen += unbent
    faults += [f"piece {mark}: {seen.count(mark)} schedules instead of one" for mark in folded if seen.count(mark) != 1]
    faults += [f"piece {mark} cannot be folded, and has no folds" for mark in unbent if mark not in folded]
    return faults


def check_schedule(
    schedule: BendSchedule, pattern: FlatPattern, job: Job, metals: Mapping[str, MetalProfile]
) -> list[str]:
    """Faults of one schedule."""
    metal = metals[pattern.metal]
    expected = "section" if pattern.section is not None else "flat"
    if schedule.kind != expected:
        return [f"its schedule is for a {schedule.kind} piece, it is a {expected} one"]
    numbers = [s.step for s in schedule.steps]
    if numbers != list(range(1, len(numbers) + 1)):
        return [f"steps are numbered {numbers}"]
    replay = replay_section if expected == "section" else replay_flat
    return replay(schedule, pattern, job, metal) or soft_faults(schedule, pattern)
