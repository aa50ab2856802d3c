"""Hours of a whole job by station: shear, bench, brake, roof."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from fabplan.bending.model import BendSchedule, Round
from fabplan.bending.setups import set_up_rounds
from fabplan.bending.tools import LEAF_BRAKE
from fabplan.blanks.model import FlatPattern, Notch
from fabplan.job.model import Job
from fabplan.labour import Labour, Spent
from fabplan.nesting.model import CutPlan
from fabplan.plan.model import StationTime
from fabplan.roof.model import RoofPlan
from fabplan.units import inches

XY = tuple[float, float]
SETTING = "set_bench"
_SAME = 1e-6  # inches


def station_times(
    job: Job,
    patterns: Sequence[FlatPattern],
    cut_plan: CutPlan | None,
    schedules: Sequence[BendSchedule],
    roof: RoofPlan | None,
    setups: Sequence[Round] | None = None,
) -> tuple[StationTime, ...]:
    """Time at each station that has any work, in the order the metal goes.

    Tools are set as the set-up sheet says (`setups`, made when it is not given): a setting that several pieces share
    counts once.
    """
    if setups is None:
        setups = rounds_of(job, patterns, schedules)
    by_station: dict[str, list[Spent]] = {"shear": [], "bench": [], "brake": [], "roof": []}
    if cut_plan is not None:
        by_station["shear"] += cut_plan.spent
    count = {p.mark: p.count + job.done.unfolded.get(p.mark, 0) for p in patterns}
    snips = sum(count[p.mark] * sum(snips_of(n, p.outline) for n in p.notches) for p in patterns)
    by_station["bench"].append(_times("snip", snips, job.labour))
    for schedule in schedules:
        for time in schedule.times:
            once = [s for s in time.batch if s.what != SETTING]
            by_station[time.station] += batch_work(time.each, once, count[schedule.mark], job.info.batch)
    for station in ("bench", "brake"):
        times = sum(r.times * sum((s.tool == LEAF_BRAKE) == (station == "brake") for s in r.setups) for r in setups)
        by_station[station].append(_times(SETTING, times, job.labour))
    if roof is not None:
        by_station["roof"] += roof_work(roof, job.labour)
    found = [
        StationTime(station=station, spent=_together(work))  # type: ignore[arg-type]
        for station, work in by_station.items()
    ]
    return tuple(s for s in found if s.spent)


def rounds_of(job: Job, patterns: Sequence[FlatPattern], schedules: Sequence[BendSchedule]) -> tuple[Round, ...]:
    """The set-up sheet of a job, what lies cut and unfolded included."""
    batches = {p.mark: -(-(p.count + job.done.unfolded.get(p.mark, 0)) // job.info.batch) for p in patterns}
    return set_up_rounds(schedules, batches, inches(job.info.round_to))


def batch_work(each: Iterable[Spent], batch: Iterable[Spent], pieces: int, size: int) -> list[Spent]:
    """Time of some pieces of one mark, made in batches of `size`."""
    batches = -(-pieces // size)
    return [_scaled(s, pieces) for s in each] + [_scaled(s, batches) for s in batch]


def snips_of(notch: Notch, outline: Sequence[XY]) -> int:
    """Straight cuts of the snips that take a notch off: its sides that do not lie on the edge of the blank."""
    if not notch.removed:
        return 1  # a slit
    sides = zip(notch.removed, (*notch.removed[1:], notch.removed[0]), strict=True)
    edges = list(zip(outline, (*outline[1:], outline[0]), strict=True))
    inside = [
        (p, q)
        for p, q in sides
        if math.dist(p, q) > _SAME and not any(_on(((p[0] + q[0]) / 2, (p[1] + q[1]) / 2), *edge) for edge in edges)
    ]
    return max(1, len(inside))


def roof_work(roof: RoofPlan, labour: Labour) -> list[Spent]:
    """Pieces laid, pieces trimmed in place, and lines snapped: each course's, and a centre line on every slope."""
    lay = cut = lines = 0
    for slope in roof.slopes:
        times = slope.slope.times
        courses = [c for c in slope.courses if slope.to_lay(c.course)]
        trimmed = sum(c.trimmed + c.cut_left + c.cut_right + c.cut_both + c.notched for c in courses)
        cut += times * trimmed
        lay += times * (sum(c.total for c in courses) - trimmed)
        # of a slope laid in part the centre line is there, and so are the lines below the courses to lay
        lines += times * sum(slope.laid is None or slope.to_lay(n.course + 1) for n in slope.lines)
        lines += times * (slope.laid is None)
    lay += sum(run.times * run.pieces for run in roof.edge_runs)
    return [_times("lay", lay, labour), _times("lay_cut", cut, labour), _times("snap_line", lines, labour)]


def _on(at: XY, p: XY, q: XY) -> bool:
    return abs(math.dist(p, at) + math.dist(at, q) - math.dist(p, q)) <= _SAME


def _times(what: str, times: int, labour: Labour) -> Spent:
    return Spent(what=what, times=times, seconds=round(times * float(getattr(labour, what)), 2))


def _scaled(s: Spent, times: int) -> Spent:
    return Spent(what=s.what, times=s.times * times, seconds=round(s.seconds * times, 2))


def _together(work: Iterable[Spent]) -> tuple[Spent, ...]:
    found: dict[str, Spent] = {}
    for w in work:
        old = found.get(w.what)
        if w.times:
            found[w.what] = w if old is None else Spent(
                what=w.what, times=old.times + w.times, seconds=round(old.seconds + w.seconds, 2)
            )  # fmt: skip
    return tuple(found.values())
