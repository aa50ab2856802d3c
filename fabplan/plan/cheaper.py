"""Where the cut pieces are cut when the job leaves it to the cost: on the roof or at the bench."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from fabplan.blanks.develop import develop
from fabplan.blanks.model import FlatPattern
from fabplan.blanks.snip_count import snips_of
from fabplan.job.metals import MetalProfile
from fabplan.job.model import Job
from fabplan.nesting.problem import NoRoomError, build_groups
from fabplan.roof.model import CutWay
from fabplan.roof.parts.ways import Worth, with_ways
from fabplan.roof.plan import plan_roof
from fabplan.units import NM_PER_INCH


def with_cheaper_way(job: Job, patterns: Sequence[FlatPattern], metals: Mapping[str, MetalProfile]) -> Job:
    """The job with `cut_pieces` settled: least of the blanks' metal and the hours of the cut pieces.

    Snipping, folding and laying are counted as the plan counts them. The cuts at the shear are not weighed, nor the way
    blanks fill the stock; both ways are told in the plan.
    """
    rules = job.roof
    here = job.model_copy(update={"roof": rules.model_copy(update={"cut_pieces": "on the roof"})})
    roof = plan_roof(here, patterns)
    made = develop(here, metals, counts=dict(roof.counts))
    ways = with_ways(roof, here, made, Worth(whole=whole_seconds(here, made, metals))).ways
    if len(ways) != 2:
        return here
    area, second = _prices(here, [p for p in made if p.kind == "diamond"], metals)

    def cost(way: CutWay) -> float:
        return way.metal * area + way.hours * 3600 * second

    if cost(ways[0]) <= cost(ways[1]):
        return here
    bench = rules.model_copy(update={"cut_pieces": "at the bench", "use_off_falls": False})
    return job.model_copy(update={"roof": bench})


def worth_of(job: Job, patterns: Sequence[FlatPattern], metals: Mapping[str, MetalProfile]) -> Worth:
    """Seconds of a whole diamond at the bench, and what metal and an hour cost where the job has prices and a rate."""
    diamonds = [p for p in patterns if p.kind == "diamond" and p.count]
    whole = whole_seconds(job, patterns, metals)
    if not diamonds or job.labour.rate is None or not any(line.price for line in job.stock):
        return Worth(whole=whole)
    return Worth(whole=whole, area=_prices(job, diamonds, metals)[0], hour=job.labour.rate)


def whole_seconds(job: Job, patterns: Sequence[FlatPattern], metals: Mapping[str, MetalProfile]) -> dict[str, float]:
    """Seconds of snipping and folding one whole diamond, by mark; of one that cannot be folded those of its snips."""
    from fabplan.bending.errors import BendError
    from fabplan.bending.schedule import schedule_bends

    found = {}
    for p in patterns:
        if p.kind != "diamond":
            continue
        found[p.mark] = sum(snips_of(n, p.outline) for n in p.notches) * job.labour.snip
        try:
            times = schedule_bends(p, job, metals).times
        except BendError:
            continue
        found[p.mark] += sum(s.seconds for t in times for s in t.each)
    return found


def _prices(job: Job, diamonds: Sequence[FlatPattern], metals: Mapping[str, MetalProfile]) -> tuple[float, float]:
    """What a square inch of the diamonds' metal and a second of work cost, in the same terms; pounds without stock."""
    try:
        groups = build_groups([p for p in diamonds if p.count], job, metals) if job.stock else ()
    except NoRoomError:
        groups = ()
    for group in groups:
        rates = [float(line.cost_per_area) for line in group.stock if line.cost]
        if rates:
            steps = NM_PER_INCH / int(job.info.round_to)
            return min(rates) * steps * steps, float(group.second)
    metal = metals[diamonds[0].metal]
    labour = job.labour
    weighs = labour.rate_pounds if labour.rate_pounds is not None else metal.hour_weighs
    return metal.weight / 144, 0.0 if labour.free else weighs / 3600
