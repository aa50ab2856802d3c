"""The buying list: what to pull from stock and what to buy, in the units the supplier sells."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from math import ceil

from fabplan.job.model import Stock
from fabplan.nesting.model import CutPlan, StockUse
from fabplan.plan.model import BuyLine, Plan
from fabplan.units import NM_PER_INCH, POUNDS_TO_KG

FOOT_NM = 12 * NM_PER_INCH
METER_NM = 1_000_000_000
POUNDS_PER_KG = float(1 / POUNDS_TO_KG)
_CENT = Decimal("0.01")


def money(amount: Fraction | Decimal | float) -> Decimal:
    """Round to cents, halves up."""
    exact = Decimal(amount.numerator) / Decimal(amount.denominator) if isinstance(amount, Fraction) else Decimal(amount)
    return exact.quantize(_CENT, rounding=ROUND_HALF_UP)


def _pieces(n: int, noun: str) -> str:
    return f"{n} {noun}" if n == 1 else f"{n} {noun}s"


def _coil_on_hand(stock: Stock, per_foot: float) -> int | None:
    """Nanometres of a coil on hand; None when as much as needed."""
    hand = stock.on_hand
    if hand is None:
        return None
    if hand.length is not None:
        return int(hand.length)
    if hand.pounds is not None:
        return int(hand.pounds / per_foot * FOOT_NM) if per_foot > 0 else 0
    return None


def _line(use: StockUse, stock: Stock | None, plan: CutPlan, metric: bool) -> BuyLine:
    if use.form != "coil":
        taken = use.used_count or 0
        noun = "sheet" if use.form == "sheet" else "offcut"
        hand = stock.on_hand.count if stock and stock.on_hand and stock.on_hand.count is not None else None
        pulled = taken if use.form == "offcut" else min(taken, hand or 0)
        bought = taken - pulled if hand is None else 0
        share = bought / taken if taken else 0.0
        return BuyLine(
            stock=use.name,
            metal=use.metal,
            need=_pieces(taken, noun),
            pull=_pieces(pulled, noun) if pulled else "",
            buy=_pieces(bought, noun) if bought else "",
            pounds=use.pounds,
            price=money(use.cost * Fraction(share)) if stock and stock.price and bought else None,
            left=_pieces(hand - pulled, noun) if hand is not None and hand > pulled and noun == "sheet" else "",
        )
    nm = (use.used_length or 0) * plan.grid
    feet = nm / FOOT_NM
    per_foot = use.pounds / feet if feet else 0.0
    hand_nm = _coil_on_hand(stock, per_foot) if stock else None

    def run(length_nm: float) -> str:
        if metric:
            return f"{ceil(length_nm / METER_NM * 10) / 10:.1f} m"
        return f"{ceil(length_nm / FOOT_NM * 10) / 10:.1f} ft"

    def heavy(length_nm: float) -> str:
        pounds = per_foot * length_nm / FOOT_NM
        return f"{pounds / POUNDS_PER_KG:.1f} kg" if metric else f"{pounds:.1f} lb"

    known = hand_nm is not None
    return BuyLine(
        stock=use.name,
        metal=use.metal,
        need=run(nm),
        pull=run(nm) if known else "",
        buy="" if known else f"{run(nm)} ({heavy(nm)})",
        pounds=use.pounds,
        price=money(use.cost) if stock and stock.price and not known else None,
        left=f"{run(hand_nm - nm)} ({heavy(hand_nm - nm)})" if hand_nm is not None and hand_nm > nm else "",
    )


def buying_list(plan: Plan) -> tuple[BuyLine, ...]:
    """One line a stock used, in the job's stock order.

    Stock with a stated `on_hand` is pulled; stock without one is bought. Lengths are rounded up to a tenth of a foot
    (or of a meter), weights come from the same length.
    """
    if plan.cut_plan is None:
        return ()
    by_name = {s.name: s for s in plan.job.stock}
    metric = plan.job.info.units == "mm"
    return tuple(
        _line(use, by_name.get(use.name), plan.cut_plan, metric)
        for use in plan.cut_plan.stock
        if (use.used_length or 0) or (use.used_count or 0)
    )
