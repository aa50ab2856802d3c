"""What a job costs the shop, for the office: metal, hours, scrap, total, and for each square.

Facts only; `fabplan.shop.check_quote` proves them and `fabplan.shop.quote_page` sets them on paper.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from fabplan.job.model import Stock
from fabplan.plan.buy import full_price, money
from fabplan.plan.model import Plan
from fabplan.shop.model import Quote, QuoteMetal, QuoteWork
from fabplan.units import MM2_PER_SQ_IN, POUNDS_TO_KG, SQ_IN_PER_SQ_FT

SQUARE = 100 * SQ_IN_PER_SQ_FT
"""Square inches in a roofer's square."""


def quote(plan: Plan) -> Quote:
    """Price a plan that has a cut plan and is not short."""
    cut = plan.cut_plan
    assert cut is not None
    lines = {line.name: line for line in plan.job.stock}
    metal = tuple(
        QuoteMetal(
            stock=b.stock,
            metal=b.metal,
            form=b.form,
            taken=b.need,
            price=_metal_price(full_price(b, plan), lines.get(b.stock), cut.objective),
        )
        for b in plan.buy
    )
    rate = None if plan.job.labour.rate is None else Decimal(str(plan.job.labour.rate))
    work = tuple(
        QuoteWork(
            station=h.station,
            seconds=h.seconds,
            price=None if rate is None else money(Fraction(rate) * Fraction(str(h.seconds)) / 3600),
        )
        for h in plan.hours
    )
    scrap = scrap_pounds(plan)
    paid = plan.job.info.scrap_price
    sold = None
    if paid is not None:
        sold = money(Decimal(str(scrap)) * paid.amount * (POUNDS_AS_KG if paid.per == "kg" else 1))
    priced = [price for price in (*(m.price for m in metal), *(w.price for w in work)) if price is not None]
    total = sum(priced, Decimal(0)) - (sold or Decimal(0))
    metal_price = sum((m.price for m in metal if m.price is not None), Decimal(0))
    pounds = sum(Fraction(p.weight) * p.count for p in plan.patterns)
    spare = sum(Fraction(p.weight) * p.spare for p in plan.patterns)
    area = covered(plan)
    unit = SQUARE if plan.job.info.units == "in" else 1_000_000 / float(MM2_PER_SQ_IN)
    return Quote(
        metal=metal,
        work=work,
        rate=rate,
        spare_pieces=sum(p.spare for p in plan.patterns),
        spare_pounds=float(spare),
        spare_price=money(Fraction(metal_price) * spare / pounds) if pounds and metal_price else None,
        scrap_pounds=scrap,
        scrap_price=sold,
        total=total,
        whole=len(priced) == len(metal) + len(work),
        area=area,
        per_square=money(total / Decimal(str(area / float(unit)))) if area else None,
    )


POUNDS_AS_KG = Decimal(str(float(POUNDS_TO_KG)))


def _metal_price(cost: Decimal | None, line: Stock | None, objective: str) -> Decimal | None:
    if line is not None and line.form == "offcut" and line.price is None:
        return Decimal("0.00")  # paid for with an earlier job
    return cost if objective == "money" and line is not None and line.price is not None else None


def scrap_pounds(plan: Plan) -> float:
    """Metal that goes to the dealer: what is cut away and not kept, and the snips."""
    from fabplan.packet.totals import where_it_goes

    goes = where_it_goes(plan)
    return goes.scrap.pounds + goes.snips.pounds


def covered(plan: Plan) -> float:
    """Square inches of roof: measured slopes, and the cover of pieces that are counted and not laid on one."""
    area = 0.0
    laid: set[str] = set()
    if plan.roof is not None:
        area = sum(s.net_area * s.slope.times for s in plan.roof.slopes)
        laid = {mark for mark, _ in plan.roof.counts}
    return area + sum(p.finished.covers_area * (p.count - p.spare) for p in plan.patterns if p.mark not in laid)
