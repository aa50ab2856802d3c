"""Where the metal goes: sums over the layouts, by area and weight."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from fabplan import plane
from fabplan.nesting.model import Layout, Placed
from fabplan.plan.model import Plan
from fabplan.units import NM_PER_INCH

SQ_IN_PER_SQ_FT = 144.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """One place metal goes to: square inches and pounds."""

    area: float
    pounds: float


@dataclass(frozen=True, slots=True, kw_only=True)
class WhereItGoes:
    """Blanks as sheared, offcuts kept, scrap, and all stock; `snips` is metal snipped off the blanks later."""

    blanks: Share
    kept: Share
    scrap: Share
    stock: Share
    snips: Share


def _placed_area(blank: Placed) -> float:
    return abs(plane.area(blank.outline)) if blank.outline else float(blank.width * blank.length)


def pieces_cut(plan: Plan) -> Counter[str]:
    """How many blanks of each mark the layouts yield."""
    got: Counter[str] = Counter()
    for layout in plan.cut_plan.layouts if plan.cut_plan else ():
        for blank in layout.blanks:
            got[blank.mark] += layout.repeat
    return got


def per_layout(layout: Layout) -> Counter[str]:
    """Blanks of each mark in one layout, in order of first appearance."""
    return Counter(blank.mark for blank in layout.blanks)


def where_it_goes(plan: Plan, *, stock: str | None = None) -> WhereItGoes:
    """Sum the layouts of a plan (which must have a cut plan), all or those cut from one stock."""
    if plan.cut_plan is None:
        raise ValueError("the plan has no cut plan")
    inch = plan.cut_plan.grid / NM_PER_INCH
    sums = {"blanks": [0.0, 0.0], "kept": [0.0, 0.0], "stock": [0.0, 0.0]}
    for layout in plan.cut_plan.layouts:
        if stock is not None and layout.stock != stock:
            continue
        parts = {
            "stock": float(layout.width * layout.length),
            "blanks": sum(_placed_area(b) for b in layout.blanks),
            "kept": float(sum(o.width * o.length for o in layout.offcuts if o.keep)),
        }
        per_square_inch = plan.metals[layout.metal].weight / SQ_IN_PER_SQ_FT
        for name, squares in parts.items():
            area = squares * layout.repeat * inch * inch
            sums[name][0] += area
            sums[name][1] += area * per_square_inch
    blanks, kept, taken = (Share(area=a, pounds=w) for a, w in (sums["blanks"], sums["kept"], sums["stock"]))
    scrap = Share(
        area=taken.area - blanks.area - kept.area,
        pounds=taken.pounds - blanks.pounds - kept.pounds,
    )
    return WhereItGoes(blanks=blanks, kept=kept, scrap=scrap, stock=taken, snips=_snips(plan))


def _snips(plan: Plan) -> Share:
    area = pounds = 0.0
    got = pieces_cut(plan)
    for pattern in plan.patterns:
        each = plane.area(pattern.outline) - plane.area(pattern.snipped)
        area += each * got[pattern.mark]
        pounds += each * got[pattern.mark] * plan.metals[pattern.metal].weight / SQ_IN_PER_SQ_FT
    return Share(area=area, pounds=pounds)
