"""The time folding takes, counted from the strokes of a schedule.

Every stroke is made over a whole batch before the next is set up, so tools are set and folds checked once a batch, and
every piece is turned as the schedule says. A hand tool that folds in bites takes the time of its bites, a mallet that
of the length it dresses, any other hand tool one fold; the brake one stroke.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Mapping

from fabplan.bending.model import BendSchedule, FoldTime, Step
from fabplan.bending.tools import LEAF_BRAKE, is_mallet
from fabplan.blanks.model import FlatPattern
from fabplan.job.model import Job
from fabplan.labour import Labour, Spent

INCHES_PER_FOOT = 12.0


def fold_times(schedule: BendSchedule, pattern: FlatPattern, job: Job) -> tuple[FoldTime, ...]:
    """Time of one piece, and of setting up and checking one batch, at the bench and at the brake."""
    lengths = {fold.edge: math.dist(*fold.line) for fold in (*pattern.folds, *pattern.end_folds)}
    in_bites = {tool.name: tool.in_bites for tool in job.hem_tools}
    out = []
    for station in ("bench", "brake"):
        own = [s for s in schedule.steps if (s.tool == LEAF_BRAKE) == (station == "brake")]
        if own:
            out.append(
                FoldTime(
                    station="brake" if station == "brake" else "bench",
                    each=_each(own, lengths, in_bites, job.labour),
                    batch=_batch(own, schedule, job.labour),
                )
            )
    return tuple(out)


def _each(
    steps: list[Step], lengths: Mapping[int, float], in_bites: Mapping[str, bool], labour: Labour
) -> tuple[Spent, ...]:
    times: Counter[str] = Counter()
    seconds: dict[str, float] = defaultdict(float)
    for step in steps:
        times["turn_over"] += step.turns_over
        times["quarter_turn"] += step.rotates or step.turn.swap
        length = lengths.get(step.edge, 0.0)
        if step.tool == LEAF_BRAKE:
            times["brake_stroke"] += 1
            seconds["brake_stroke"] += labour.one_bend(length)
        elif is_mallet(step.tool):
            times["mallet"] += 1
            seconds["mallet"] += labour.mallet * length / INCHES_PER_FOOT
        elif in_bites.get(step.tool, False):
            times["bite"] += max(1, step.hold.bites)
        else:
            times["bar_fold"] += 1
    return _spent(times, seconds, labour)


def _batch(own: list[Step], schedule: BendSchedule, labour: Labour) -> tuple[Spent, ...]:
    """A tool is set where it, its depth or its angle changes from the stroke before."""
    times: Counter[str] = Counter(check_fold=len(own))
    before = None
    for step in schedule.steps:
        setting = (step.tool, step.stop, step.far and step.far.stop, step.set_deg)
        if any(step is s for s in own) and setting != before:
            times["set_bench"] += 1
        before = setting
    return _spent(times, {}, labour)


def _spent(times: Counter[str], seconds: Mapping[str, float], labour: Labour) -> tuple[Spent, ...]:
    return tuple(
        Spent(what=what, times=n, seconds=round(seconds.get(what, n * float(getattr(labour, what))), 2))
        for what, n in times.items()
        if n
    )
