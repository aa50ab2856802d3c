"""What the cut pieces of a roof take either way, metal and hours: cut on the roof, or at the bench."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from fabplan import plane
from fabplan.blanks.model import FlatPattern
from fabplan.blanks.snip_count import cuts_along, snips_of
from fabplan.job.model import Job
from fabplan.labour import Labour
from fabplan.roof.model import CutWay, RoofPlan
from fabplan.roof.parts.part_sizes import with_part_sizes
from fabplan.roof.parts.shape_patterns import with_work
from fabplan.roof.plan import mark_parts


@dataclass(frozen=True, slots=True, kw_only=True)
class Worth:
    """What weighs metal against work: seconds that a whole diamond takes at the bench, by mark, and what a square inch
    of metal and an hour cost (None without prices or a rate)."""

    whole: Mapping[str, float]
    area: float | None = None
    hour: float | None = None

    def money(self, metal: float, hours: float) -> float | None:
        """Metal and hours together."""
        return None if self.area is None or self.hour is None else metal * self.area + hours * self.hour


def on_the_roof(
    blanks: Mapping[str, int], cut: Mapping[str, int], patterns: Mapping[str, FlatPattern], labour: Labour, worth: Worth
) -> CutWay:
    """Whole blanks of every diamond; the cut pieces snipped and folded whole, then scribed and trimmed in place."""
    metal = sum(n * abs(plane.area(patterns[mark].outline)) for mark, n in blanks.items())
    hours = sum(n * (worth.whole.get(mark, 0.0) + labour.lay_cut) for mark, n in cut.items()) / 3600
    return CutWay(
        how="on the roof",
        blanks=sum(blanks.values()),
        metal=metal,
        hours=hours,
        templates=0,
        money=worth.money(metal, hours),
    )


def at_the_bench(plan: RoofPlan, patterns: Mapping[str, FlatPattern], job: Job, worth: Worth) -> CutWay:
    """Blanks as a bench plan counts them; templates read and cut out, each piece marked, snipped, folded and laid."""
    diamonds = {s.slope.piece for s in plan.slopes}
    counts = Counter({mark: n for mark, n in plan.counts if mark in diamonds})
    metal = sum(n * abs(plane.area(patterns[mark].outline)) for mark, n in counts.items())
    metal += sum(s.times * s.share * abs(plane.area(patterns[s.diamond].outline)) for s in plan.part_sizes)
    labour = job.labour
    seconds = 0.0
    for s in with_work(plan.shapes, patterns):
        whole = patterns[s.mark]
        corners = sum(snips_of(n, whole.outline) for n in whole.notches) * labour.snip
        folding = max(0.0, worth.whole.get(s.mark, 0.0) - corners) * s.folds / max(1, len(whole.folds))
        seconds += s.times * (labour.scribe + s.snips * labour.snip + folding + labour.lay)
        sides = zip(s.metal, (*s.metal[1:], *s.metal[:1]), strict=True)
        seconds += labour.layout + cuts_along(math.fsum(math.dist(p, q) for p, q in sides)) * labour.snip
    return CutWay(
        how="at the bench",
        blanks=counts.total() + sum(s.times for s in plan.part_sizes),
        metal=metal,
        hours=seconds / 3600,
        templates=len(plan.shapes),
        money=worth.money(metal, seconds / 3600),
    )


def with_ways(plan: RoofPlan, job: Job, patterns: Sequence[FlatPattern], worth: Worth) -> RoofPlan:
    """The plan with what its cut pieces take as planned and the other way; the plan itself without cut pieces."""
    by_mark = {p.mark: p for p in patterns}
    diamonds = {s.slope.piece for s in plan.slopes}
    cut = Counter[str]()
    for s in plan.slopes:
        for p in s.pieces:
            if p.kind != "whole" and p.mark in diamonds:
                cut[p.mark] += s.slope.times
    if not cut:
        return plan
    planned = Counter({mark: n for mark, n in plan.counts if mark in diamonds})
    if job.roof.cut_pieces == "on the roof":
        ways = (
            on_the_roof(planned, cut, by_mark, job.labour, worth),
            at_the_bench(_bench(plan, job, by_mark), by_mark, job, worth),
        )
    else:
        whole = Counter({mark: n for mark, n in plan.pieces if mark in diamonds})
        ways = at_the_bench(plan, by_mark, job, worth), on_the_roof(whole, cut, by_mark, job.labour, worth)
    return replace(plan, ways=ways, whole_work=tuple(sorted((m, worth.whole.get(m, 0.0)) for m in diamonds)))


def _bench(plan: RoofPlan, job: Job, patterns: Mapping[str, FlatPattern]) -> RoofPlan:
    """The same layouts with their cut pieces made at the bench."""
    other = job.model_copy(update={"roof": job.roof.model_copy(update={"cut_pieces": "at the bench"})})
    parts = mark_parts(plan.slopes, other, patterns)
    bench = RoofPlan(
        counts=tuple(sorted(parts.blanks.items())),
        slopes=parts.layouts,
        shapes=parts.shapes,
        pairs=parts.pairs,
        leftover=parts.leftover,
    )
    return with_part_sizes(bench, other, tuple(patterns.values())) if job.stock else bench
