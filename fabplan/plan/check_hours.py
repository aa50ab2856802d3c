"""Prove the hours of a job by station: work counted again from the proved parts of the plan."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Iterator

import shapely

from fabplan.blanks.model import FlatPattern, Notch
from fabplan.job.model import Job
from fabplan.labour import Labour
from fabplan.plan.model import Plan
from fabplan.roof.model import RoofPlan

_ROUNDED = 0.02  # seconds for each sum
_GRID = 1e-6  # inches
_BITE = 2.5  # inches one cut of the snips goes


def check_hours(plan: Plan) -> list[str]:
    """Faults of the hours, empty when they are those of the plan's cuts, folds and roof."""
    right = _work(plan)
    said = {h.station: h for h in plan.hours}
    if len(said) != len(plan.hours) or set(said) != {s for s, work in right.items() if work}:
        return ["the stations are not those with work"]
    if [h.station for h in plan.hours] != [s for s in ("shear", "bench", "brake", "roof") if s in said]:
        return ["the stations are not in order"]
    faults = list(_whole_work(plan))
    for station, hours in said.items():
        work = right[station]
        if [s.what for s in hours.spent] != list(dict.fromkeys(s.what for s in hours.spent)):
            faults.append(f"{station}: the same work is told twice")
        if {s.what: s.times for s in hours.spent} != {what: n for what, (n, _) in work.items()}:
            faults.append(f"{station}: the work is not what the plan takes")
            continue
        for s in hours.spent:
            far = _ROUNDED * max(1, len(plan.schedules))
            if abs(s.seconds - work[s.what][1]) > far or round(s.seconds, 2) != s.seconds:
                faults.append(f"{station}: {s.seconds:g} s of {s.what} are not what the plan takes")
    return faults


def _whole_work(plan: Plan) -> Iterator[str]:
    """The time of a whole diamond that the ways of cutting are compared with."""
    for mark, seconds in plan.roof.whole_work if plan.roof is not None else ():
        pattern = next((p for p in plan.patterns if p.mark == mark), None)
        schedule = next((s for s in plan.schedules if s.mark == mark), None)
        if pattern is None or schedule is None:
            continue
        right = sum(_snips(n, pattern) for n in pattern.notches) * plan.job.labour.snip
        right += sum(s.seconds for time in schedule.times for s in time.each)
        if abs(right - seconds) > _ROUNDED:
            yield f"a whole {mark} takes {right:g} s at the bench, not {seconds:g}"


Found = dict[str, dict[str, tuple[int, float]]]
Add = Callable[[str, str, int, float], None]


def _work(plan: Plan) -> Found:
    """Strokes and seconds by station and kind of work, counted from the schedules and the roof."""
    found: Found = {"shear": {}, "bench": {}, "brake": {}, "roof": {}}

    def add(station: str, what: str, times: int, seconds: float) -> None:
        if times:
            n, s = found[station].get(what, (0, 0.0))
            found[station][what] = (n + times, s + seconds)

    for s in plan.cut_plan.spent if plan.cut_plan else ():
        add("shear", s.what, s.times, s.seconds)
    _made(plan, add)
    for one in plan.setups:
        for setup in one.setups:
            where = "brake" if setup.tool == "leaf brake" else "bench"
            add(where, "set_bench", one.times, one.times * plan.job.labour.set_bench)
    if plan.roof is not None:
        _cut_shapes(plan.roof, plan.job.labour, add)
        _laid(plan.roof, plan.job, add)
    return found


def _made(plan: Plan, add: Add) -> None:
    """Snips, creases and folds of every piece; a blank cut up for cut shapes is none, its shapes keep their hems."""
    labour = plan.job.labour
    gone: dict[str, int] = defaultdict(int)
    hems: dict[str, int] = defaultdict(int)
    if plan.roof is not None:
        for pair in plan.roof.pairs:
            gone[pair.mark] += pair.times
        for rest in plan.roof.leftover:
            gone[rest.mark] += rest.times
        for shape in plan.roof.shapes:
            hems[shape.mark] += (shape.same + shape.mirrored) * shape.folds
    pieces: dict[str, int] = defaultdict(int)
    for p in plan.patterns:
        pieces[p.mark] += p.count + plan.job.done.unfolded.get(p.mark, 0)
        for notch in p.notches:
            snips = max(0, pieces[p.mark] - gone[p.mark]) * _snips(notch, p)
            add("bench", "snip", snips, snips * labour.snip)
        for crease in p.creases:
            long = shapely.LineString(crease.line).length
            add("bench", "mallet", pieces[p.mark], pieces[p.mark] * long / 12 * labour.mallet)
    for schedule in plan.schedules:
        n = pieces[schedule.mark]
        own = max(0, n - gone[schedule.mark])
        batches = (n + plan.job.info.batch - 1) // plan.job.info.batch
        part = hems[schedule.mark] / next(len(p.folds) for p in plan.patterns if p.mark == schedule.mark)
        for time in schedule.times:
            for s in time.each:
                add(time.station, s.what, own * s.times, own * s.seconds)
                add(time.station, s.what, math.floor(part * s.times + 0.5 + 1e-9), part * s.seconds)
            for s in time.batch:
                if s.what == "set_bench":
                    continue  # set as the set-up sheet says, which is proved of its own
                add(time.station, s.what, batches * s.times, batches * s.seconds)


def _cut_shapes(roof: RoofPlan, labour: Labour, add: Add) -> None:
    """Pieces marked by templates and snipped free, and the templates read and cut out."""
    for shape in roof.shapes:
        many = shape.same + shape.mirrored
        card = max(1, math.ceil(shapely.LinearRing(shape.metal).length / _BITE - 1e-6))
        add("bench", "scribe", many, many * labour.scribe)
        add("bench", "layout", 1, labour.layout)
        add("bench", "snip", many * shape.snips + card, (many * shape.snips + card) * labour.snip)


def _laid(roof: RoofPlan, job: Job, add: Add) -> None:
    """Pieces laid, trimmed in place and bent round hips; lines; edge metal."""
    labour = job.labour
    for slope in roof.slopes:
        times = slope.slope.times
        there = -1 if slope.laid is None else slope.laid
        for c in slope.courses:
            if slope.laid is not None and c.course <= there:
                continue
            parts = c.starter + c.ridge_half + c.cut_left + c.cut_right + c.cut_both + c.notched
            cut = c.trimmed + parts - c.ready
            as_is = c.whole - c.trimmed + c.ready
            add("roof", "lay_cut", times * cut, times * cut * labour.lay_cut)
            add("roof", "lay", times * as_is, times * as_is * labour.lay)
        apart = [v.largest_per_lock for v in roof.variation if v.mark == slope.slope.piece]
        snapped = [n.course for n in slope.lines if n.course % max(1, *apart[:1], 1) == 0]
        lines = times * (1 + len(snapped))
        if slope.laid is not None:
            lines = times * len([course for course in snapped if course >= there])
        add("roof", "snap_line", lines, lines * labour.snap_line)
    for hip in roof.hips if job.roof.hips == "wrapped" else ():
        for side in (hip.slope_left, hip.slope_right):
            rows = next(x for x in roof.slopes if x.slope.name == side)
            still = [c for c in rows.courses if rows.laid is None or c.course > rows.laid]
            share = len(still) / max(1, len(rows.courses))
            add("roof", "mallet", len(still), share * hip.length / 12 * labour.mallet)
    for run in roof.edge_runs:
        add("roof", "lay", run.times * run.pieces, run.times * run.pieces * labour.lay)


def _snips(notch: Notch, pattern: FlatPattern) -> int:
    """Sides of a notch along which it hangs on the blank; a slit has one."""
    if not notch.removed:
        return 1
    edge = shapely.LinearRing(pattern.outline)
    ring = list(notch.removed)
    sides = [
        shapely.LineString([p, q])
        for p, q in zip(ring, ring[1:] + ring[:1], strict=True)
        if shapely.Point(p).distance(shapely.Point(q)) > _GRID
    ]
    return max(1, sum(side.interpolate(0.5, normalized=True).distance(edge) > _GRID for side in sides))
