"""Prove the set-up sheet of a job: every stroke of every batch once, in its piece's order, at its own setting."""

from __future__ import annotations

from fabplan.bending.model import BendSchedule, SetUp, Step
from fabplan.plan.model import Plan
from fabplan.units import NM_PER_INCH


def check_setups(plan: Plan) -> list[str]:
    """Faults of the rounds of set-ups, empty when they make every batch of every piece."""
    size, grid = plan.job.info.batch, plan.job.info.round_to / NM_PER_INCH
    left: dict[str, int] = {}
    for p in plan.patterns:
        left[p.mark] = (p.count + plan.job.done.unfolded.get(p.mark, 0) + size - 1) // size
    faults: list[str] = []
    schedules = {s.mark: s for s in plan.schedules}
    for number, one in enumerate(plan.setups, 1):
        if one.times < 1:
            return [f"round {number} of the set-ups is made {one.times} times"]
        part = {mark: schedule for mark, schedule in schedules.items() if left[mark] > 0}
        faults += [f"round {number}: {fault}" for fault in _round(one.setups, part, grid)]
        for mark in part:
            left[mark] -= one.times
    faults += [f"piece {mark}: {left[mark]} batches are not set up" for mark in schedules if left[mark] != 0]
    return faults


def _round(setups: tuple[SetUp, ...], schedules: dict[str, BendSchedule], grid: float) -> list[str]:
    at = dict.fromkeys(schedules, 0)
    faults: list[str] = []
    for number, setup in enumerate(setups, 1):
        first: Step | None = None
        for mark, step in setup.strokes:
            if mark not in at or at[mark] >= len(schedules[mark].steps) or schedules[mark].steps[at[mark]].step != step:
                return [*faults, f"set-up {number}: stroke {step} of piece {mark} is not its next"]
            stroke = schedules[mark].steps[at[mark]]
            first = first or stroke
            if not _alike(setup, stroke, first, grid):
                faults.append(f"set-up {number}: stroke {step} of piece {mark} takes another setting")
            at[mark] += 1
        if first is not None and not _as_told(setup, first):
            faults.append(f"set-up {number}: its stop or angle is not that of its first stroke")
        if first is None:
            faults.append(f"set-up {number} makes no stroke")
    short = [mark for mark, n in at.items() if n != len(schedules[mark].steps)]
    return faults + [f"piece {mark} is not finished" for mark in short]


def _as_told(setup: SetUp, first: Step) -> bool:
    """The setting printed is that of the first stroke made with it."""
    stops = [(setup.stop, first.stop)] if setup.stop is not None else []
    if setup.far_stop is not None:
        stops.append((setup.far_stop, first.stop if first.far is None else first.far.stop))
    return abs(setup.set_deg - first.set_deg) < 1e-6 and all(a is not None and abs(a - b) < 1e-6 for a, b in stops)


def _alike(setup: SetUp, stroke: Step, first: Step, grid: float) -> bool:
    """Tool, kind of stroke, angle as read off a protractor, and stops alike on the shop's rule."""
    loose = stroke.action in {"close", "by hand"}
    if (setup.stop is None) != loose or stroke.tool != setup.tool or (loose and stroke.action != first.action):
        return False
    if round(stroke.set_deg * 10) != round(setup.set_deg * 10):
        return False
    if setup.stop is None:
        return True
    far = stroke.stop if stroke.far is None else stroke.far.stop
    wanted = setup.stop if setup.far_stop is None else setup.far_stop
    return round(stroke.stop / grid) == round(setup.stop / grid) and round(far / grid) == round(wanted / grid)
