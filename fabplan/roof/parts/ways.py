"""What the cut pieces of a roof take either way, metal and hours: cut on the roof, or at the bench."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace

from fabplan import plane
from fabplan.blanks.model import FlatPattern
from fabplan.job.model import Job
from fabplan.labour import Labour
from fabplan.roof.model import CutWay, RoofPlan
from fabplan.roof.parts.part_sizes import with_part_sizes
from fabplan.roof.plan import mark_parts

CUTS = 2  # snips along the cut edges of a piece at the bench, about


def on_the_roof(blanks: Mapping[str, int], cut: int, patterns: Mapping[str, FlatPattern], labour: Labour) -> CutWay:
    """Whole blanks of every diamond, and `cut` pieces scribed and trimmed in place."""
    return CutWay(
        how="on the roof",
        blanks=sum(blanks.values()),
        metal=sum(n * abs(plane.area(patterns[mark].outline)) for mark, n in blanks.items()),
        hours=cut * labour.lay_cut / 3600,
        templates=0,
    )


def at_the_bench(plan: RoofPlan, patterns: Mapping[str, FlatPattern], job: Job) -> CutWay:
    """Blanks as a bench plan counts them; each template made and read once, each piece marked, cut and laid."""
    diamonds = {s.slope.piece for s in plan.slopes}
    counts = Counter({mark: n for mark, n in plan.counts if mark in diamonds})
    metal = sum(n * abs(plane.area(patterns[mark].outline)) for mark, n in counts.items())
    metal += sum(s.times * s.share * abs(plane.area(patterns[s.diamond].outline)) for s in plan.part_sizes)
    labour = job.labour
    cut = sum(s.same + s.mirrored for s in plan.shapes)
    each = labour.scribe + CUTS * labour.snip + labour.lay
    return CutWay(
        how="at the bench",
        blanks=counts.total() + sum(s.times for s in plan.part_sizes),
        metal=metal,
        hours=(cut * each + len(plan.shapes) * labour.layout) / 3600,
        templates=len(plan.shapes),
    )


def with_ways(plan: RoofPlan, job: Job, patterns: Sequence[FlatPattern]) -> RoofPlan:
    """The plan with what its cut pieces take as planned and the other way; the plan itself without cut pieces."""
    by_mark = {p.mark: p for p in patterns}
    diamonds = {s.slope.piece for s in plan.slopes}
    trimmed = sum(s.slope.times for s in plan.slopes for p in s.pieces if p.kind != "whole" and p.mark in diamonds)
    if not trimmed:
        return plan
    planned = Counter({mark: n for mark, n in plan.counts if mark in diamonds})
    if job.roof.cut_pieces == "on the roof":
        ways = (
            on_the_roof(planned, trimmed, by_mark, job.labour),
            at_the_bench(_bench(plan, job, by_mark), by_mark, job),
        )
    else:
        whole = Counter({mark: n for mark, n in plan.pieces if mark in diamonds})
        ways = at_the_bench(plan, by_mark, job), on_the_roof(whole, trimmed, by_mark, job.labour)
    return replace(plan, ways=ways)


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
