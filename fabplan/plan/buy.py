"""The buying list: what to pull from stock and what to buy."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

from fabplan.job.metals import MetalProfile
from fabplan.job.model import Job, RackStock, Stock
from fabplan.nesting.model import StockUse
from fabplan.plan.coils import Panels, Taken, fullest, off_coils, panels_of
from fabplan.plan.model import Amount, BuyLine, CoilPull, Plan
from fabplan.units import NM_PER_FOOT, NM_PER_MM, POUNDS_TO_KG, to_grid

_CENT = Decimal("0.01")


def money(amount: Fraction | Decimal | float) -> Decimal:
    """Round to cents, halves up."""
    exact = Decimal(amount.numerator) / Decimal(amount.denominator) if isinstance(amount, Fraction) else Decimal(amount)
    return exact.quantize(_CENT, rounding=ROUND_HALF_UP)


class _BuyLine:
    """One line of stock and what a nanometre of its coil, or one piece of it, weighs and costs; exact."""

    def __init__(self, use: StockUse, stock: Stock | None, grid: int, metal: MetalProfile, panels: Panels) -> None:
        self.use, self.stock, self.grid, self.panels = use, stock, grid, panels
        self.coil = use.form == "coil"
        self.taken = (use.used_length or 0) * grid if self.coil else use.used_count or 0
        self.run = 1 if self.coil else (use.length or 0) * grid  # nanometres of one
        self.each = Fraction(str(metal.weight)) * use.width * grid * self.run / NM_PER_FOOT**2  # pounds of one

    def amount(self, n: int) -> Amount:
        """So many nanometres of coil, or so many pieces."""
        pounds = float(n * self.each)
        return Amount(length=n, pounds=pounds) if self.coil else Amount(count=n, pounds=pounds)

    def on_hand(self) -> int | None:
        """How much is there; None when as much as needed."""
        hand = self.stock.on_hand if self.stock else None
        if not self.coil:
            return self.taken if self.use.form == "offcut" else hand.count if hand else None
        if hand is None:
            return None
        if hand.length is not None:
            return int(hand.length)
        return int(Fraction(str(hand.pounds)) / self.each) if hand.pounds is not None and self.each else None

    def price(self, n: int) -> Decimal | None:
        """Money for what is bought of it, to the cent; None when nothing is, or it has no price."""
        price = self.stock.price if self.stock else None
        if price is None or not n:
            return None
        one = {
            "lb": self.each,
            "kg": self.each * POUNDS_TO_KG,
            "foot": Fraction(self.run, NM_PER_FOOT),
            "meter": Fraction(self.run, 1000 * NM_PER_MM),
        }.get(price.per, Fraction(1))
        return money(Fraction(price.amount) * one * n)

    def listed(self) -> BuyLine:
        """As it stands on the list."""
        hand = self.on_hand()
        more = hand is None or (self.stock is not None and self.stock.buy)
        pulled = min(self.taken, hand or 0)
        several = isinstance(self.stock, RackStock) and len(self.stock.coils) > 1
        coils: tuple[CoilPull, ...] = ()
        if several:
            coils = self.off_each()
            pulled = sum(c.length for c in coils)
        elif more and self.coil and 0 < pulled < self.taken:
            # What is at hand ends somewhere: a panel comes off it whole or off the new coil.
            pulled = self.length_of(fullest(self.panels, pulled // self.grid))
        bought = self.taken - pulled if more else 0
        over = hand - pulled if hand is not None else 0
        ordered = sold(bought, self.stock) if self.stock is not None and bought else bought
        return BuyLine(
            stock=self.use.name,
            metal=self.use.metal,
            form=self.use.form,
            need=self.amount(self.taken),
            pull=self.amount(pulled),
            buy=self.amount(bought),
            left=self.amount(over) if over > 0 else None,
            price=self.price(bought),
            order=self.amount(ordered) if ordered > bought else None,
            order_price=self.price(ordered) if ordered > bought else None,
            lead_days=self.stock.lead_time if self.stock is not None and bought else None,
            coils=coils,
        )

    def off_each(self) -> tuple[CoilPull, ...]:
        """What comes off each of several coils."""
        assert isinstance(self.stock, RackStock)
        got = off_coils(self.panels, [free // self.grid for _, free in self.stock.coils])
        return tuple(
            CoilPull(lot=lot, piece=piece, length=self.length_of(taken), layouts=taken)
            for (lot, _), piece, taken in zip(self.stock.coils, self.stock.pieces, got, strict=True)
            if taken
        )

    def length_of(self, taken: Taken) -> int:
        """Nanometres of so many panels."""
        lengths = {n: length for n, length, _ in self.panels}
        return sum(lengths[n] * times for n, times in taken) * self.grid


def sold(bought: int, stock: Stock) -> int:
    """The least a supplier sells that holds what is to be bought: nanometres of coil, or sheets.

    A coil is sold from `coil_min` up, in steps of `coil_step`; sheets by the pack.
    """
    if stock.form == "coil":
        least, step = int(stock.coil_min or 0), int(stock.coil_step or 1)
        return least + max(0, -(-(bought - least) // step)) * step
    pack = stock.sheets_per_pack or 1
    return -(-bought // pack) * pack


def buying_list(plan: Plan) -> tuple[BuyLine, ...]:
    """One line a stock used, in the job's stock order.

    Stock with a stated `on_hand` is pulled, and bought beyond it where `buy` allows that; stock without one is bought.
    """
    if plan.cut_plan is None:
        return ()
    by_name = _by_name(plan.job)
    cut = plan.cut_plan
    kerf = to_grid(plan.job.shear.kerf, cut.grid, "up")
    return tuple(
        _BuyLine(use, by_name.get(use.name), cut.grid, plan.metals[use.metal], panels_of(cut, use.name, kerf)).listed()
        for use in plan.cut_plan.stock
        if (use.used_length or 0) or (use.used_count or 0)
    )


def full_price(line: BuyLine, plan: Plan) -> Decimal | None:
    """Money for all that is taken of a line, on hand or bought, to the cent; None where it has no price."""
    assert plan.cut_plan is not None
    use = next(u for u in plan.cut_plan.stock if u.name == line.stock)
    here = _BuyLine(use, _by_name(plan.job).get(use.name), plan.cut_plan.grid, plan.metals[use.metal], ())
    return here.price(here.taken)


def _by_name(job: Job) -> dict[str, Stock]:
    return {s.name: s for s in job.stock}
