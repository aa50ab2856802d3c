"""Weights people lift: each sheet, coil panel, bundle of blanks and kit, against the shop's limits."""

from __future__ import annotations

from typing import Literal

from fabplan.job.model import Job
from fabplan.plan.model import Lift, Plan
from fabplan.units import NM_PER_INCH, Show

SQ_IN_PER_SQ_FT = 144.0


def show_of(job: Job) -> Show:
    """The formatter of a job's lengths and weights."""
    return Show(job.info.units, int(job.info.round_to))


def lifts(plan: Plan) -> tuple[Lift, ...]:
    """Everything the crew lifts: sheets and panels to the shear, batches of blanks to the bench, kits to the roof.

    A bundle is one batch of a piece. What one person carries (sheets, panels, bundles) is held against ``carry_limit``,
    kits against ``lift_limit``; when only one of the two is given it holds for all.
    """
    job = plan.job
    given = job.handling
    carry = given.carry_limit if given.carry_limit is not None else given.lift_limit
    lift = given.lift_limit if given.lift_limit is not None else given.carry_limit
    out: list[Lift] = []
    if plan.cut_plan is not None:
        grid = plan.cut_plan.grid
        seen: set[tuple[str, int]] = set()
        for layout in plan.cut_plan.layouts:
            key = (layout.stock, layout.length)
            if key in seen:
                continue
            seen.add(key)
            kind: Literal["sheet", "panel"] = "panel" if layout.form == "coil" else "sheet"
            size = (layout.width * grid, layout.length * grid)
            area = size[0] * size[1] / NM_PER_INCH**2
            pounds = area / SQ_IN_PER_SQ_FT * plan.metals[layout.metal].weight
            out.append(Lift(kind=kind, of=layout.stock, size=size, pounds=pounds, limit=carry))
    for p in plan.patterns:
        if p.count:
            n = min(job.info.batch, p.count)
            out.append(Lift(kind="bundle", of=p.mark, count=n, pounds=n * p.weight, limit=carry))
    if plan.roof is not None:
        out += [Lift(kind="kit", of=k.label, pounds=k.pounds, limit=lift) for k in plan.roof.kits]
    return tuple(out)
