"""Prove the shares of a shear run: they add up to it, none is less than nothing, and a layout of one job is its own."""

from __future__ import annotations

from collections import defaultdict
from fractions import Fraction

import numpy as np

from fabplan.check_plane import area
from fabplan.nesting.model import CutPlan
from fabplan.plan.check_buy import NEAR
from fabplan.plan.model import JobShare


def check_shares(shares: tuple[JobShare, ...], cut: CutPlan, numbers: tuple[str, ...]) -> list[str]:
    """Faults of the shares of a run; marks begin with the number of their job and a space.

    Parameters
    ----------
    shares : tuple of JobShare
    cut : CutPlan
        Already proved.
    numbers : tuple of str
        The jobs of the run.
    """
    if [s.number for s in shares] != list(numbers):
        return ["the shares are not one for each job, in their order"]
    faults = []
    if sum((s.metal for s in shares), Fraction(0)) != cut.metal_total:
        faults.append("the shares of the metal do not add up to the run's")
    if sum((s.labour for s in shares), Fraction(0)) != cut.labour_total:
        faults.append("the shares of the work do not add up to the run's")
    spent = sum(w.seconds for w in cut.spent)
    weight = sum(u.pounds for u in cut.stock)
    if abs(sum(s.seconds for s in shares) - spent) > NEAR * max(1.0, spent):
        faults.append("the shares of the time do not add up to the run's")
    if abs(sum(s.pounds for s in shares) - weight) > NEAR * max(1.0, weight):
        faults.append("the shares of the weight do not add up to the run's")
    made, stands, pays = defaultdict(int), defaultdict(set), defaultdict(float)  # type: ignore[var-annotated]
    time = defaultdict(float)  # type: ignore[var-annotated]
    lengths = defaultdict(int)  # type: ignore[var-annotated]
    cost = {u.name: float(u.cost) for u in cut.stock}
    for y in cut.layouts:
        lengths[y.stock] += y.repeat * (y.length if y.form == "coil" else 1)
    for n, y in enumerate(cut.layouts, 1):
        own = cost[y.stock] * y.repeat * (y.length if y.form == "coil" else 1) / lengths[y.stock]
        areas = np.array([_area(b.outline, b.width, b.length) for b in y.blanks])
        for b, own_area in zip(y.blanks, areas, strict=True):
            number = next((k for k in sorted(numbers, key=len, reverse=True) if b.mark.startswith(f"{k} ")), "")
            made[number] += y.repeat
            stands[number].add(n)
            pays[number] += own * own_area / areas.sum()
            time[number] += sum(w.seconds for w in y.spent) / len(y.blanks)
    whole = sum(time.values())
    for s in shares:
        if s.blanks != made[s.number] or set(s.layouts) != stands[s.number]:
            faults.append(f"{s.number}: {made[s.number]} blanks are cut for it, its share says {s.blanks}")
        if abs(float(s.metal) - pays[s.number]) > NEAR * max(1.0, pays[s.number]):
            faults.append(f"{s.number}: its metal is {pays[s.number]:.6g}, its share says {float(s.metal):.6g}")
        labour = float(cut.labour_total) * (time[s.number] / whole if whole else 1 / len(numbers))
        if abs(float(s.labour) - labour) > NEAR * max(1.0, labour):
            faults.append(f"{s.number}: its work is {labour:.6g}, its share says {float(s.labour):.6g}")
    return faults


def _area(outline: tuple[tuple[float, float], ...] | None, width: int, length: int) -> float:
    if outline is None:
        return float(width) * length
    return area(outline)
