"""Prove the weights to lift and carry, and the limits they are held against, from layouts, blanks and kits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

from fabplan.blanks.model import FlatPattern
from fabplan.check_plane import area
from fabplan.job.metals import MetalProfile
from fabplan.job.model import Job
from fabplan.nesting.model import CutPlan
from fabplan.plan.check_buy import NEAR
from fabplan.plan.model import Lift
from fabplan.roof.model import RoofPlan
from fabplan.units import NM_PER_INCH

Key = tuple[str, str, tuple[int, int] | None]


def check_handling(
    lifts: Sequence[Lift],
    cut_plan: CutPlan | None,
    patterns: Sequence[FlatPattern],
    roof: RoofPlan | None,
    job: Job,
    metals: Mapping[str, MetalProfile],
) -> list[str]:
    """Faults of the list of lifts, empty when it is proved.

    Every size cut off a coil, every sheet or offcut taken, one batch of every blank and every kit must stand there
    once, with its weight; one person's loads against the carry limit, kits against the lift limit, and either limit
    for both where the other is not given.
    """
    wanted: dict[Key, tuple[int, float]] = {}
    for y in cut_plan.layouts if cut_plan else ():
        grid = cut_plan.grid if cut_plan else 1
        size = (y.width * grid, y.length * grid)
        square_feet = Fraction(size[0] * size[1], (12 * NM_PER_INCH) ** 2)
        weight = float(Fraction(str(metals[y.metal].weight)) * square_feet)
        wanted["panel" if y.form == "coil" else "sheet", y.stock, size] = (1, weight)
    for p in patterns:
        n = p.count if p.count < job.info.batch else job.info.batch
        if n:
            wanted["bundle", p.mark, None] = (n, n * area(p.snipped) / 144 * metals[p.metal].weight)
    for k in roof.kits if roof else ():
        wanted["kit", k.label, None] = (1, k.pounds)  # proved with the roof
    found = {(item.kind, item.of, item.size): item for item in lifts}
    faults = [f"{kind} {of} is lifted and not listed" for kind, of, size in wanted if (kind, of, size) not in found]
    if len(found) != len(lifts):
        faults.append("a lift is listed twice")
    for key, item in found.items():
        if key not in wanted:
            faults.append(f"{item.kind} {item.of} is listed and not lifted")
            continue
        n, weight = wanted[key]
        if item.count != n:
            faults.append(f"{item.kind} {item.of}: {n} are lifted, {item.count} listed")
        if abs(item.pounds - weight) > 2 * NEAR * max(1.0, weight):
            faults.append(f"{item.kind} {item.of}: weighs {weight:.4f} lb, {item.pounds:.4f} is listed")
        limit = _limit(item.kind, job)
        if (limit is None) != (item.limit is None) or abs((limit or 0) - (item.limit or 0)) > 2 * NEAR * (limit or 1):
            faults.append(f"{item.kind} {item.of}: the limit is {limit} lb, {item.limit} is listed")
    return faults


def _limit(kind: str, job: Job) -> float | None:
    hoist, arms = job.handling.lift_limit, job.handling.carry_limit
    if kind == "kit":
        return arms if hoist is None else hoist
    return hoist if arms is None else arms
