"""The problem made ready for arithmetic: kerf folded in, divided by its common measure, turned every allowed way.

With a kerf k every piece and every stock side grows by k, so that parts simply add up. All lengths here are then
divided by the greatest common measure of the pieces (stock rounds down).
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import gcd

import numpy as np
import numpy.typing as npt

from fabplan.nesting.engine.problem import Limits, OffcutCredit, Problem, StockSize

Ints = npt.NDArray[np.int64]
HUGE = 1 << 40


@dataclass(frozen=True, slots=True)
class Turned:
    """Oriented pieces for one way of cutting: `across` the strip, `along` the strip, sorted by `across`.

    `unit_across`/`unit_along` are grid units per step of each axis. `big_across`/`big_along`: deeper than the back
    gauge reaches, so at most one per division. `thin`: too narrow to be held.
    """

    item: Ints
    across: Ints
    along: Ints
    unit_across: int
    unit_along: int
    gauge_across: int
    gauge_along: int
    cut_across: int
    least_across: int

    @property
    def size(self) -> int:
        return int(self.item.size)


@dataclass(frozen=True, slots=True)
class StockView:
    """One stock seen in one direction: strips share `X`, panels share `Y` (steps of the table's axes).

    `rip_max`: longest panel that can be ripped; `whole` = a piece as wide as X needs no rip. `cut_off`: panels can be
    cut off across X. `many`: several panels per sheet.
    """

    stock: int
    table: int
    direction: str
    coil: bool
    X: int
    Y: int
    rip_max: int
    cut_off: bool
    many: bool
    whole: bool


@dataclass(frozen=True, slots=True)
class Frame:
    """Everything the search needs, in steps."""

    problem: Problem
    items: tuple[int, ...]
    demand: Ints
    area: Ints
    tables: tuple[Turned, ...]
    views: tuple[StockView, ...]
    unit_cost: tuple[Fraction, ...]
    cost: npt.NDArray[np.float64]
    cost_scale: Fraction
    available: Ints
    unplaced: tuple[int, ...]
    kerf: int
    stages: int
    coil_step: int
    thin: bool
    credit: OffcutCredit | None

    @property
    def n(self) -> int:
        return int(self.demand.size)


def _orient(problem: Problem, picks: list[int], swap: bool, across_grain: bool) -> list[tuple[int, int, int]]:
    """(row, across, along) in grid units with kerf; `swap` for panels cut off along the width."""
    k = problem.limits.kerf
    out = []
    for row, pick in enumerate(picks):
        item = problem.items[pick]
        w, length = item.width + k, item.length + k
        for turned in item.ways(across_grain):
            x, y = (length, w) if turned else (w, length)
            out.append((row, y, x) if swap else (row, x, y))
    return sorted(out)


def _fit(stock: StockSize, limits: Limits, swap: bool) -> tuple[int, int, int]:
    """Usable size across and along (kerf added), and the full size across that a cut-off must span."""
    k = limits.kerf
    x = stock.width - 2 * stock.trim + k
    y = stock.length - (2 * stock.trim if stock.form == "sheet" else 0) + k
    if stock.form == "coil" and not limits.coil_cut_off_to_mark and limits.back_gauge is not None:
        y = min(y, limits.back_gauge + k)
    return (y, x, stock.length) if swap else (x, y, stock.width)


def _cut_this_way(stock: StockSize, limits: Limits, swap: bool) -> bool:
    if stock.form == "coil":
        return not swap
    return limits.both_directions if swap else not limits.across_only


def build(problem: Problem, credit: OffcutCredit | None = None) -> Frame:
    """Fold in the kerf, find the common measure, set up oriented pieces and stock views."""
    limits = problem.limits
    k = limits.kerf
    picks = [p for p, item in enumerate(problem.items) if item.count > 0]
    placeable = [p for p in picks if any(_can_place(problem, p, s) for s in problem.stock)]
    unplaced = tuple(p for p in picks if p not in set(placeable))
    mixed = any(problem.items[p].may_turn and problem.items[p].width != problem.items[p].length for p in placeable)
    mixed = mixed or any(s.grain_across for s in problem.stock)
    gx = gy = 0
    for p in placeable:
        gx, gy = gcd(gx, problem.items[p].width + k), gcd(gy, problem.items[p].length + k)
    if mixed:
        gx = gy = gcd(gx, gy)
    gx, gy = gx or 1, gy or 1
    tables: list[Turned] = []
    where: dict[tuple[tuple[int, int, int], ...], int] = {}
    views: list[StockView] = []
    for s, stock in enumerate(problem.stock):
        for swap in (False, True):
            if not _cut_this_way(stock, limits, swap):
                continue
            ua, ul = (gy, gx) if swap else (gx, gy)
            oriented = _orient(problem, placeable, swap, stock.grain_across)
            x, y, span = _fit(stock, limits, swap)
            longest = HUGE if limits.longest_cut is None else limits.longest_cut
            cut_off = span <= longest
            if x <= 0 or y <= 0 or ((stock.form == "coil" or stock.trim) and not cut_off):
                continue
            key = (*oriented, (ua, ul, 0))
            if key not in where:
                where[key] = len(tables)
                tables.append(_table(oriented, limits, ua, ul))
            view = StockView(
                stock=s,
                table=where[key],
                direction="width" if swap else "length",
                coil=stock.form == "coil",
                X=x // ua,
                Y=y // ul,
                rip_max=min(HUGE, (longest + k) // ul),
                cut_off=cut_off,
                many=stock.form == "sheet" and limits.sheet_as_coil and cut_off,
                whole=stock.trim == 0,
            )
            twin = any(v.stock == s and v.table == view.table and v.X == view.X and v.Y == view.Y for v in views)
            if not twin:
                views.append(view)
    unit = tuple(s.cost * gy if s.form == "coil" else s.cost for s in problem.stock)
    scale = max(unit, default=Fraction(1)) or Fraction(1)
    avail = [
        HUGE if s.available is None else (s.available // gy if s.form == "coil" else s.available) for s in problem.stock
    ]
    return Frame(
        problem=problem,
        items=tuple(placeable),
        demand=np.array([problem.items[p].count for p in placeable], dtype=np.int64),
        area=np.array(
            [(problem.items[p].width + k) * (problem.items[p].length + k) for p in placeable], dtype=np.int64
        ),
        tables=tuple(tables),
        views=tuple(views),
        unit_cost=unit,
        cost=np.array([float(u / scale) for u in unit]),
        cost_scale=scale,
        available=np.array(avail, dtype=np.int64),
        unplaced=unplaced,
        kerf=k,
        stages=limits.stages,
        coil_step=gy,
        credit=credit if credit is not None and credit.per_area > 0 else None,
        thin=any(min(problem.items[p].width, problem.items[p].length) < limits.least_held for p in placeable),
    )


def _table(oriented: list[tuple[int, int, int]], limits: Limits, ua: int, ul: int) -> Turned:
    k = limits.kerf
    rows = sorted((a // ua, b // ul, r) for r, a, b in oriented)
    gauge = HUGE if limits.back_gauge is None else limits.back_gauge + k
    longest = HUGE if limits.longest_cut is None else limits.longest_cut + k
    return Turned(
        item=np.array([r for _, _, r in rows], dtype=np.int64),
        across=np.array([a for a, _, _ in rows], dtype=np.int64),
        along=np.array([b for _, b, _ in rows], dtype=np.int64),
        unit_across=ua,
        unit_along=ul,
        gauge_across=gauge // ua,
        gauge_along=gauge // ul,
        cut_across=longest // ua,
        least_across=-(-(limits.least_held + k) // ua) if limits.least_held else 0,
    )


def _can_place(problem: Problem, pick: int, stock: StockSize) -> bool:
    """Whether one such piece alone can be cut from this stock."""
    limits = problem.limits
    longest = HUGE if limits.longest_cut is None else limits.longest_cut
    if stock.available == 0:
        return False
    for swap in (False, True):
        if not _cut_this_way(stock, limits, swap):
            continue
        X, Y, span = _fit(stock, limits, swap)
        for _, a, b in _orient(problem, [pick], swap, stock.grain_across):
            if (
                a <= X
                and b <= Y
                and single_way(
                    a, b, X, Y, span, longest, limits.kerf, stock.form == "coil", limits.sheet_as_coil, stock.trim
                )
                is not None
            ):
                return True
    return False


def single_way(
    a: int, b: int, X: int, Y: int, span: int, longest: int, kerf: int, coil: bool, many: bool, trim: int
) -> int | None:
    """Panel length (with kerf) that yields one piece `a` across by `b` along, or None if the shear cannot cut it."""
    ripped = a < X or trim > 0
    if span > longest and (coil or trim):
        return None
    if span <= longest and (coil or many or b == Y) and (not ripped or b - kerf <= longest):
        return b
    if not ripped and b == Y and not coil:
        return Y
    if coil or Y - kerf > longest:
        return None
    return Y if b == Y or a - kerf <= longest else None
