"""Prove the minutes of a bend schedule: its strokes counted again, tool by tool."""

from __future__ import annotations

from fabplan.bending.model import BendSchedule, Step
from fabplan.blanks.model import FlatPattern
from fabplan.job.model import Job
from fabplan.labour import Spent

_SHORT = 48.0  # inches: a bend up to this length takes one stroke's time, a longer one in proportion


def minutes_faults(schedule: BendSchedule, pattern: FlatPattern, job: Job) -> list[str]:
    """Faults of the times of a schedule, empty when they are what its strokes take."""
    faults = []
    brake = [s.tool == "leaf brake" for s in schedule.steps]
    stations = [name for name, there in (("bench", not all(brake)), ("brake", any(brake))) if there]
    if [t.station for t in schedule.times] != stations:
        return [f"its times are those of {[t.station for t in schedule.times]}, not {stations}"]
    for time in schedule.times:
        at = [k for k, b in enumerate(brake) if b == (time.station == "brake")]
        own = [schedule.steps[k] for k in at]
        once = {"check_fold": float(len(own)), "set_bench": float(sum(_is_set(schedule, k) for k in at))}
        priced = {key: (n, n * float(getattr(job.labour, key))) for key, n in once.items()}
        faults += _differ(f"a batch at the {time.station}", time.batch, priced)
        faults += _differ(f"a piece at the {time.station}", time.each, _piece(own, pattern, job))
    return faults


def _is_set(schedule: BendSchedule, k: int) -> bool:
    now, before = schedule.steps[k], schedule.steps[k - 1]
    if k and (now.far is None) != (before.far is None):
        return True
    if k and now.far is not None and before.far is not None and now.far.stop != before.far.stop:
        return True
    return k == 0 or now.tool != before.tool or now.stop != before.stop or now.set_deg != before.set_deg


def _piece(steps: list[Step], pattern: FlatPattern, job: Job) -> dict[str, tuple[float, float]]:
    labour, found = job.labour, dict[str, tuple[float, float]]()

    def add(what: str, times: float, seconds: float) -> None:
        n, s = found.get(what, (0.0, 0.0))
        found[what] = (n + times, s + seconds)

    for step in steps:
        add("turn_over", step.turns_over, step.turns_over * labour.turn_over)
        moved = step.rotates or step.turn.swap
        add("quarter_turn", moved, moved * labour.quarter_turn)
        (x0, y0), (x1, y1) = next(f.line for f in (*pattern.folds, *pattern.end_folds) if f.edge == step.edge)
        length = ((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5
        if step.tool == "leaf brake":
            add("brake_stroke", 1, labour.brake_stroke * max(length, _SHORT) / _SHORT)
        elif "mallet" in step.tool.lower() or "hammer" in step.tool.lower():
            add("mallet", 1, labour.mallet * length / 12)
        elif any(t.name == step.tool and t.in_bites for t in job.hem_tools):
            bites = step.hold.bites or 1
            add("bite", bites, bites * labour.bite)
        else:
            add("bar_fold", 1, labour.bar_fold)
    return found


def _differ(where: str, said: tuple[Spent, ...], right: dict[str, tuple[float, float]]) -> list[str]:
    listed = {s.what: (float(s.times), s.seconds) for s in said}
    right = {what: both for what, both in right.items() if both[0]}
    if len(listed) != len(said) or {k: n for k, (n, _) in listed.items()} != {k: n for k, (n, _) in right.items()}:
        return [f"the work of {where} is not what its strokes are"]
    return [
        f"{listed[k][1]:g} s of {k} for {where} are not what its strokes take"
        for k in listed
        if abs(listed[k][1] - right[k][1]) > 0.02 or round(listed[k][1], 2) != listed[k][1]
    ]
