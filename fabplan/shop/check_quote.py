"""Prove a quote: every price again from the amount and the typed price, every sum by adding it up."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from fabplan.job.model import Stock
from fabplan.nesting.model import Layout
from fabplan.plan.model import Plan
from fabplan.shop.model import Quote, QuoteMetal
from fabplan.units import NM_PER_FOOT, NM_PER_MM, POUNDS_TO_KG

CENT = Fraction(1, 100)


def check_quote(found: Quote, plan: Plan) -> list[str]:
    """Faults of a quote; none when it is proved."""
    faults = []
    lines = {line.name: line for line in plan.job.stock}
    taken = {u.name for u in plan.cut_plan.stock} if plan.cut_plan else set()
    if {m.stock for m in found.metal} != taken:
        faults.append("the quote does not list the stock the plan takes")
    for m in found.metal:
        want = _price(m, lines.get(m.stock))
        if (want is None) != (m.price is None) or (want is not None and abs(Fraction(m.price or 0) - want) > CENT):
            faults.append(f"{m.stock}: the price is not its amount at the typed price")
    seconds: dict[str, float] = {h.station: sum(s.seconds for s in h.spent) for h in plan.hours}
    rate = plan.job.labour.rate
    for w in found.work:
        want_work = None if rate is None else Fraction(str(rate)) * Fraction(seconds.get(w.station, 0.0)) / 3600
        if abs(seconds.get(w.station, -1.0) - w.seconds) > 0.02:
            faults.append(f"{w.station}: the time is not the plan's")
        if want_work is not None and abs(Fraction(w.price or 0) - want_work) > CENT:
            faults.append(f"{w.station}: the price is not its hours at the rate")
    if len(found.work) != len(seconds):
        faults.append("the quote does not list every station")
    kept = sum(
        o.width * o.length * y.repeat * _per_area(plan, y.metal) for y in _layouts(plan) for o in y.offcuts if o.keep
    )
    bought = sum(m.taken.pounds for m in found.metal)
    pieces = sum(p.weight * _made(plan, p.mark) for p in plan.patterns)
    if abs(bought - kept - pieces - found.scrap_pounds) > max(0.02, 0.002 * bought):
        faults.append("pieces, kept offcuts and scrap are not the metal taken")
    paid = plan.job.info.scrap_price
    if (paid is None) != (found.scrap_price is None):
        faults.append("the scrap is priced without a price, or not priced with one")
    elif paid is not None:
        weight = Fraction(str(found.scrap_pounds)) * (POUNDS_TO_KG if paid.per == "kg" else 1)
        if abs(Fraction(found.scrap_price or 0) - weight * Fraction(paid.amount)) > CENT:
            faults.append("the scrap is not its weight at the dealer's price")
    prices = [m.price for m in found.metal] + [w.price for w in found.work]
    total = sum((price or Decimal(0) for price in prices), Decimal(0))
    if found.total != total - (found.scrap_price or Decimal(0)):
        faults.append("the total is not the sum of its lines")
    return faults


def _layouts(plan: Plan) -> tuple[Layout, ...]:
    return plan.cut_plan.layouts if plan.cut_plan else ()


def _per_area(plan: Plan, metal: str) -> float:
    assert plan.cut_plan is not None
    return plan.metals[metal].weight * (plan.cut_plan.grid / NM_PER_FOOT) ** 2


def _made(plan: Plan, mark: str) -> int:
    return sum(y.repeat * sum(b.mark == mark for b in y.blanks) for y in _layouts(plan))


def _price(m: QuoteMetal, line: Stock | None) -> Fraction | None:
    if line is None:
        return None
    if line.price is None:
        return Fraction(0) if m.form == "offcut" else None
    run = Fraction(m.taken.length or (m.taken.count or 0) * int(line.length or 0))
    much = {
        "lb": Fraction(str(round(m.taken.pounds, 9))),
        "kg": Fraction(str(round(m.taken.pounds, 9))) * POUNDS_TO_KG,
        "foot": run / NM_PER_FOOT,
        "meter": run / (1000 * NM_PER_MM),
    }.get(line.price.per, Fraction(m.taken.count or 0))
    return Fraction(line.price.amount) * much
