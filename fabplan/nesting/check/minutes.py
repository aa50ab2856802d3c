"""Prove the minutes of a cut plan: counted again from its cuts and its shear program, and priced again."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from fractions import Fraction
from itertools import pairwise

import shapely

from fabplan.job.metals import MetalProfile
from fabplan.job.model import Job
from fabplan.labour import Labour, Spent
from fabplan.nesting.check.cuts import CheckedLimits, PiecesOnTable, hull
from fabplan.nesting.model import CutPlan, Layout
from fabplan.units import NM_PER_INCH

_HEAVY = 10.0  # lb: a piece up to this weight takes one stroke's time, a heavier one in proportion
_FREE_PILES = 6
_ROUNDED = 0.02  # seconds, on every stroke of a layout at most


def minutes_faults(
    plan: CutPlan, job: Job, metals: Mapping[str, MetalProfile], shop: CheckedLimits, per_pound: Mapping[str, Fraction]
) -> list[str]:
    """Faults of the minutes, the labour total and the sum, empty when they are what the cuts take.

    Parameters
    ----------
    plan : CutPlan
        Cuts and program already proved.
    job : Job
    metals : mapping of profile name to MetalProfile
    shop : CheckedLimits
    per_pound : mapping of metal to Fraction
        Cost of a pound of each metal in the plan's objective, at its cheapest.
    """
    faults: list[str] = []
    labour = job.labour
    cost, dearest, all_work = Fraction(0), Fraction(0), Counter[str]()
    for n, layout in enumerate(plan.layouts, start=1):
        metal = metals[layout.metal]
        times, seconds = _layout(layout, labour, metal.weight * (plan.grid / (12 * NM_PER_INCH)) ** 2, shop)
        faults += [f"layout {n}: {f}" for f in _differ(layout.spent, times, seconds, layout.repeat)]
        second = _second(labour, metal, per_pound[layout.metal], plan.objective)
        dearest = max(dearest, second)
        cost += sum((Fraction(round(s.seconds * 100), 100) for s in layout.spent), Fraction(0)) * second
        all_work.update(times)
    settings = _settings(plan)
    all_work.update(settings)
    own = {what: times * float(getattr(labour, what)) for what, times in settings.items()}
    shared = [s for s in plan.spent if s.what in ("set_gauge", "set_stop", "stack")]
    faults += _differ(shared, settings, own, 1)
    if Counter({s.what: s.times for s in plan.spent}) != +all_work:
        faults.append("the work of the plan is not that of its layouts and settings")
    faults += [
        f"{s.seconds:g} s of {s.what} are not in hundredths" for s in plan.spent if round(s.seconds, 2) != s.seconds
    ]
    whole = sum(round(s.seconds * 100) for s in plan.spent)
    parts = sum(round(s.seconds * 100) for y in plan.layouts for s in y.spent) + sum(
        round(s.seconds * 100) for s in shared
    )
    if whole != parts:
        faults.append("the seconds of the plan are not those of its layouts and settings")
    cost += sum((Fraction(round(s.seconds * 100), 100) for s in shared), Fraction(0)) * dearest
    if plan.labour_total != cost:
        faults.append("the labour total is not what its seconds cost")
    return faults


def _layout(
    layout: Layout, labour: Labour, pounds: float, shop: CheckedLimits
) -> tuple[Counter[str], dict[str, float]]:
    """How often each kind of work is done in all repeats of a layout, and the seconds of each."""
    times: Counter[str] = Counter(layout=1)
    strokes = 0.0
    light = layout.width * layout.length * pounds <= _HEAVY
    by_hand = layout.repeat * sum(_slanted(hull(b.outline)) for b in layout.blanks if b.boxed and b.outline is not None)
    times["scribe"], times["snip"] = by_hand, by_hand
    table = PiecesOnTable(layout, shop, None)
    for cut in layout.cuts:
        times["stroke"] += layout.repeat
        if layout.form == "coil" and cut.step == 1:
            strokes += labour.stroke
            continue
        if cut.back_gauge is None:
            times["scribe"] += layout.repeat
        if light:
            strokes += labour.stroke
            continue
        table.cut(cut)
        gone = 0.0 if table.last is None else shapely.Polygon(table.last.on).area
        strokes += labour.stroke * max(1.0, gone * pounds / _HEAVY)
    times[{"coil": "pull", "sheet": "sheet", "offcut": "offcut"}[layout.form]] += layout.repeat
    seconds = {what: n * float(getattr(labour, what)) for what, n in times.items()}
    seconds["stroke"] = strokes * layout.repeat
    return times, seconds


def _slanted(shape: shapely.Polygon) -> int:
    """Sides that lie neither along nor across the box."""
    ring = list(shape.exterior.coords)
    return sum(min(abs(x0 - x1), abs(y0 - y1)) > 1e-3 for (x0, y0), (x1, y1) in pairwise(ring))


def _settings(plan: CutPlan) -> Counter[str]:
    """Settings of the shear program, and piles beyond the free ones."""
    found: Counter[str] = Counter()
    if plan.program is None:
        return found
    gauged = [(s.back_gauge, s.angle) for s in plan.program.steps if s.back_gauge is not None]
    sizes = [size for size, _ in gauged]
    slants = [angle for _, angle in gauged if angle != 90]
    found["set_gauge"] = sum(a != b for a, b in zip([None, *sizes], sizes, strict=False))
    found["set_stop"] = sum(a != b for a, b in zip([90.0, *slants], slants, strict=False))
    found["stack"] = max(0, plan.program.most_open_stacks - _FREE_PILES)
    return found


def _differ(said: Iterable[Spent], times: Counter[str], seconds: Mapping[str, float], repeat: int) -> list[str]:
    listed = {s.what: s for s in said}
    faults = []
    if {what: s.times for what, s in listed.items()} != dict(+times):
        faults.append("its work is not what its cuts take")
    for what, s in listed.items():
        if abs(s.seconds - seconds.get(what, 0.0)) > _ROUNDED * repeat or round(s.seconds, 2) != s.seconds:
            faults.append(f"{s.seconds:g} s of {what} are not what its cuts take")
    return faults


def _second(labour: Labour, metal: MetalProfile, per_pound: Fraction, objective: str) -> Fraction:
    """Cost of a second, from the rate and, where an hour counts as metal, the cheapest metal."""
    if labour.rate is not None and (objective == "money" or labour.rate == 0):
        return Fraction(str(labour.rate)) / 3600
    pounds = metal.hour_weighs if labour.rate_pounds is None else labour.rate_pounds
    return Fraction(str(pounds)) * per_pound / 3600
