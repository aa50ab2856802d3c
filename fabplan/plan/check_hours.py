"""Prove the hours of a job by station: work counted again from the proved parts of the plan."""

from __future__ import annotations

from collections import defaultdict

import shapely

from fabplan.blanks.model import FlatPattern, Notch
from fabplan.plan.model import Plan

_ROUNDED = 0.02  # seconds for each sum
_GRID = 1e-6  # inches


def check_hours(plan: Plan) -> list[str]:
    """Faults of the hours, empty when they are those of the plan's cuts, folds and roof."""
    right = _work(plan)
    said = {h.station: h for h in plan.hours}
    if len(said) != len(plan.hours) or set(said) != {s for s, work in right.items() if work}:
        return ["the stations are not those with work"]
    if [h.station for h in plan.hours] != [s for s in ("shear", "bench", "brake", "roof") if s in said]:
        return ["the stations are not in order"]
    faults = []
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


def _work(plan: Plan) -> dict[str, dict[str, tuple[int, float]]]:
    """Strokes and seconds by station and kind of work, counted from the schedules and the roof."""
    found: dict[str, dict[str, tuple[int, float]]] = {"shear": {}, "bench": {}, "brake": {}, "roof": {}}

    def add(station: str, what: str, times: int, seconds: float) -> None:
        if times:
            n, s = found[station].get(what, (0, 0.0))
            found[station][what] = (n + times, s + seconds)

    labour = plan.job.labour
    for s in plan.cut_plan.spent if plan.cut_plan else ():
        add("shear", s.what, s.times, s.seconds)
    pieces: dict[str, int] = defaultdict(int)
    for p in plan.patterns:
        pieces[p.mark] += p.count + plan.job.done.unfolded.get(p.mark, 0)
        for notch in p.notches:
            snips = pieces[p.mark] * _snips(notch, p)
            add("bench", "snip", snips, snips * labour.snip)
    for schedule in plan.schedules:
        n = pieces[schedule.mark]
        batches = (n + plan.job.info.batch - 1) // plan.job.info.batch
        for time in schedule.times:
            for s in time.each:
                add(time.station, s.what, n * s.times, n * s.seconds)
            for s in time.batch:
                if s.what == "set_bench":
                    continue  # set as the set-up sheet says, which is proved of its own
                add(time.station, s.what, batches * s.times, batches * s.seconds)
    for one in plan.setups:
        for setup in one.setups:
            where = "brake" if setup.tool == "leaf brake" else "bench"
            add(where, "set_bench", one.times, one.times * labour.set_bench)
    if plan.roof is not None:
        for slope in plan.roof.slopes:
            times = slope.slope.times
            there = -1 if slope.laid is None else slope.laid
            for c in slope.courses:
                if c.course <= there:
                    continue
                cut = c.trimmed + c.cut_left + c.cut_right + c.cut_both + c.notched
                as_is = c.whole - c.trimmed + c.starter + c.ridge_half
                add("roof", "lay_cut", times * cut, times * cut * labour.lay_cut)
                add("roof", "lay", times * as_is, times * as_is * labour.lay)
            lines = times * (1 + len(slope.lines))
            if slope.laid is not None:
                lines = times * len([n for n in slope.lines if n.course >= there])
            add("roof", "snap_line", lines, lines * labour.snap_line)
        for run in plan.roof.edge_runs:
            add("roof", "lay", run.times * run.pieces, run.times * run.pieces * labour.lay)
    return found


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
