"""Prove the buying list from the layouts and the job: what is taken, pulled, bought and left, its weight and price."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from fractions import Fraction

import numpy as np

from fabplan.job.metals import MetalProfile
from fabplan.job.model import Job, RackStock, Stock
from fabplan.nesting.model import CutPlan, Layout
from fabplan.plan.model import Amount, BuyLine
from fabplan.units import to_grid

_FOOT = 304_800_000  # nanometres
_KG_IN_POUND = Fraction("0.45359237")
NEAR = 2e-6  # of a weight: the saved plan has six decimals, of a kilogram perhaps (1.1 millionths of a pound)
_HALF_A_CENT = Fraction(1, 200)


def check_buy(
    lines: Sequence[BuyLine], cut_plan: CutPlan | None, job: Job, metals: Mapping[str, MetalProfile]
) -> list[str]:
    """Faults of a buying list, empty when it is proved.

    Parameters
    ----------
    lines : sequence of BuyLine
    cut_plan : CutPlan or None
        Its layouts alone are read.
    job : Job
        With the stock of a rack among its own, when the plan takes any.
    metals : mapping of profile name to MetalProfile
    """
    taken = _taken(cut_plan, job)
    stock = {s.name: s for s in job.stock}
    listed = Counter(line.stock for line in lines)
    if any(name not in taken or n > 1 for name, n in listed.items()):
        return ["the buying list names stock that is not cut, or names it twice"]
    missing = [name for name in taken if name not in listed]
    faults = [f"{name} is cut and not on the buying list" for name in missing]
    for line in lines:
        faults += [f"{line.stock}: {fault}" for fault in _line(line, taken[line.stock], stock.get(line.stock), metals)]
    return faults


class _Taken:
    """What the layouts take of one line of stock: nanometres of coil or pieces, and the size of one piece."""

    def __init__(self, layout: Layout, grid: int) -> None:
        self.form, self.metal = layout.form, layout.metal
        self.width = layout.width * grid
        self.length = layout.length * grid
        self.n = 0
        self.panels = Counter[int]()
        self.layouts: dict[int, tuple[int, int]] = {}  # number to length with its kerf, and times
        self.grid = grid

    def pounds(self, metals: Mapping[str, MetalProfile], n: int) -> Fraction:
        """Weight of so much of it."""
        run = n if self.form == "coil" else n * self.length
        return Fraction(str(metals[self.metal].weight)) * self.width * run / _FOOT**2


def _taken(cut_plan: CutPlan | None, job: Job) -> dict[str, _Taken]:
    taken: dict[str, _Taken] = {}
    if cut_plan is None:
        return taken
    grid = cut_plan.grid
    kerf = to_grid(job.shear.kerf, grid, "up")
    runs = Counter[str]()
    for number, y in enumerate(cut_plan.layouts, 1):
        taken.setdefault(y.stock, _Taken(y, grid))
        taken[y.stock].panels[y.length + kerf] += y.repeat
        taken[y.stock].layouts[number] = (y.length + kerf, y.repeat)
        runs[y.stock] += y.repeat * ((y.length + kerf) * grid if y.form == "coil" else 1)
    for name, n in runs.items():
        taken[name].n = n
    return taken


def _line(line: BuyLine, taken: _Taken, stock: Stock | None, metals: Mapping[str, MetalProfile]) -> Iterator[str]:
    if stock is None or (line.form, line.metal) != (taken.form, taken.metal):
        yield "form or metal is not the stock's"
        return
    amounts = {"need": line.need, "pull": line.pull, "buy": line.buy}
    if line.left is not None:
        amounts["left"] = line.left
    n = {}
    for name, amount in amounts.items():
        found = _number(amount, taken.form)
        if found is None or found < 0:
            yield f"{name} is not a length of coil or a count"
            return
        n[name] = found
        pounds = float(taken.pounds(metals, found))
        if abs(amount.pounds - pounds) > NEAR * max(1.0, pounds):
            yield f"{name} weighs {pounds:.6f} lb, {amount.pounds:.6f} is listed"
    if n["need"] != taken.n:
        yield f"{taken.n} is taken by the layouts, {n['need']} is listed"
    hand = _on_hand(stock, taken, metals)
    pull = 0 if hand is None else min(taken.n, hand)
    if isinstance(stock, RackStock) and len(stock.coils) > 1:
        yield from _coils(line, taken, stock)
        pull = sum(c.length for c in line.coils)
        if not stock.buy and pull < taken.n:
            yield f"{taken.n} is taken, and {pull} of it comes off the coils that are there"
    elif line.coils:
        yield "it is pulled off several coils, and there are not several"
    elif stock.buy and taken.form == "coil" and 0 < pull < taken.n:
        pull = _most_panels(taken.panels, pull // taken.grid) * taken.grid
    if n["pull"] != pull:
        yield f"{pull} is to be pulled, {n['pull']} is listed"
    if n["buy"] != taken.n - pull:
        yield f"{taken.n - pull} is to be bought, {n['buy']} is listed"
    if n.get("left", 0) != (0 if hand is None else hand - pull):
        yield f"{0 if hand is None else hand - pull} is left over, {n.get('left', 0)} is listed"
    yield from _price(line.price, taken, stock, metals, taken.n - pull)
    yield from _ordered(line, taken, stock, metals, taken.n - pull)


def _coils(line: BuyLine, taken: _Taken, stock: RackStock) -> Iterator[str]:
    """Every panel comes off one coil that holds it, and none is bought that one of them still holds."""
    free = {piece: (lot, n) for (lot, n), piece in zip(stock.coils, stock.pieces, strict=True)}
    left = {n: times for n, (_, times) in taken.layouts.items()}
    over = {piece: n for piece, (_, n) in free.items()}
    for c in line.coils:
        if c.piece not in over or free[c.piece][0] != c.lot:
            yield f"lot {c.lot} is not one of its coils, or is named twice"
            return
        length = 0
        for n, times in c.layouts:
            if times < 1 or left.get(n, 0) < times:
                yield f"layout {n} comes off its coils more often than it is cut"
                return
            left[n] -= times
            length += times * taken.layouts[n][0] * taken.grid
        if c.length != length or length > over[c.piece]:
            yield f"lot {c.lot}: its panels are {length}, {c.length} is listed and {over[c.piece]} is on it"
        over[c.piece] -= length
        free[c.piece] = (-1, 0)  # named once
    for n, times in left.items():
        if times and taken.layouts[n][0] * taken.grid <= max(over.values()):
            yield f"a panel of layout {n} is bought, and a coil that is there holds it"


def _ordered(
    line: BuyLine, taken: _Taken, stock: Stock, metals: Mapping[str, MetalProfile], bought: int
) -> Iterator[str]:
    """The order is one the supplier sells, holds what is bought, and the next smaller one does not."""
    if line.lead_days != (stock.lead_time if bought else None):
        yield f"a lead time of {line.lead_days} days, {stock.lead_time} is the supplier's"
    ordered = bought if line.order is None else _number(line.order, taken.form)
    if ordered is None or (line.order is not None and (ordered <= bought or not bought)):
        yield "the order is no more than what is bought, or not of its kind"
        return
    if not bought:
        return
    least = int(stock.coil_min or 0) if taken.form == "coil" else 0
    step = int(stock.coil_step or 1) if taken.form == "coil" else stock.sheets_per_pack or 1
    if ordered < max(bought, least) or (ordered - least) % step:
        yield f"{ordered} is ordered, which the supplier does not sell or which is too little"
    elif ordered - step >= max(bought, least):
        yield f"{ordered} is ordered, and {ordered - step} would do"
    if line.order is not None:
        pounds = float(taken.pounds(metals, ordered))
        if abs(line.order.pounds - pounds) > NEAR * max(1.0, pounds):
            yield f"the order weighs {pounds:.6f} lb, {line.order.pounds:.6f} is listed"
        yield from _price(line.order_price, taken, stock, metals, ordered)
    elif line.order_price is not None:
        yield "an order is priced, and none is listed"


def _most_panels(panels: Counter[int], most: int) -> int:
    """The greatest length up to `most` made up of whole panels, one panel after another."""
    reached = np.zeros(most + 1, dtype=bool)
    reached[0] = True
    for length, times in panels.items():
        for _ in range(min(times, most // length)):
            more = reached.copy()
            more[length:] |= reached[:-length]
            if (more == reached).all():
                break
            reached = more
    return int(np.flatnonzero(reached)[-1])


def _number(amount: Amount, form: str) -> int | None:
    known, other = (amount.length, amount.count) if form == "coil" else (amount.count, amount.length)
    return None if other is not None else known


def _on_hand(stock: Stock, taken: _Taken, metals: Mapping[str, MetalProfile]) -> int | None:
    hand = stock.on_hand
    if taken.form == "offcut":
        return taken.n  # the cut plan's own proof holds it against how many there are
    if hand is None:
        return None
    if taken.form == "sheet":
        return hand.count
    if hand.length is not None:
        return int(hand.length)
    if hand.pounds is None:
        return None
    return int(Fraction(str(hand.pounds)) * _FOOT**2 / (Fraction(str(metals[taken.metal].weight)) * taken.width))


def _price(
    price: Decimal | None, taken: _Taken, stock: Stock, metals: Mapping[str, MetalProfile], bought: int
) -> Iterator[str]:
    if stock.price is None or not bought:
        if price is not None:
            yield f"{price} is to pay, and nothing is bought at a price"
        return
    run = bought if taken.form == "coil" else bought * taken.length
    pounds = taken.pounds(metals, bought)
    units = {
        "lb": pounds,
        "kg": pounds * _KG_IN_POUND,
        "foot": Fraction(run, _FOOT),
        "meter": Fraction(run, 10**9),
    }.get(stock.price.per, Fraction(bought))
    exact = Fraction(stock.price.amount) * units
    if price is None or abs(Fraction(price) - exact) > _HALF_A_CENT:
        yield f"{float(exact):.2f} is to pay, {price} is listed"
