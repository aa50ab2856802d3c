"""Another way of cutting the same job: the best rectangle packer. The pencil plan is in `one_size`.

rectpack's guillotine packers are used one bin at a time with merging of free areas off (with it on, some bins cannot
be cut straight). A piece that fits nowhere is dropped by rectpack without a word; here it is counted and the try fails.
Every layout kept has its cuts ordered within the shear's limits like any other.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from typing import Any, Literal

from rectpack import guillotine

from fabplan.nesting.cuts.layouts import LayoutDraft, amount, cost, finish, merged, pulled, within_stock
from fabplan.nesting.cuts.order import Cell, NotCuttableError
from fabplan.nesting.model import Layout
from fabplan.nesting.problem import Group, StockLine
from fabplan.nesting.remarks import Outcome

MOST_PACKED = 50_000  # it places pieces one by one, and each takes memory until the last is placed
RULES = tuple(f"{fit}{split}" for fit in ("Bssf", "Baf", "Blsf") for split in ("Sas", "Slas", "Las", "Maxas"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A rectangle to place: a blank, or a strip of slanted blanks. `make(x, y, turned)` gives its cell.

    Both functions can be copied to another process.
    """

    key: str
    width: int
    length: int
    count: int
    ways: Callable[[StockLine], tuple[bool, ...]]
    make: Callable[[int, int, bool], Cell]


Order = Literal["area", "length", "width"]
ORDERS: dict[Order, Callable[[Piece], tuple[int, ...]]] = {
    "area": lambda p: (p.width * p.length, max(p.width, p.length)),
    "length": lambda p: (max(p.width, p.length), min(p.width, p.length)),
    "width": lambda p: (min(p.width, p.length), max(p.width, p.length)),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """Outcome of one way of nesting: its layouts and cost, or why there are none."""

    way: Literal["packer", "one_size"]
    layouts: tuple[Layout, ...] | None
    total: Fraction | None
    outcome: Outcome


class _OneLook:
    """Looks at every free area once, with rectpack's own choice and ties (it works each fitness out twice)."""

    rot: bool
    _sections: list[Any]
    _section_fitness: Callable[[Any, int, int], int | None]

    def _select_fittest_section(self, w: int, h: int) -> tuple[Any, bool | None]:
        best: tuple[int, Any, bool] | None = None
        for turned in (False, True) if self.rot else (False,):
            a, b = (h, w) if turned else (w, h)
            for section in self._sections:
                fit = self._section_fitness(section, a, b)
                if fit is not None and (best is None or fit < best[0]):
                    best = (fit, section, turned)
        return (None, None) if best is None else best[1:]


@cache
def _packer(rule: str) -> Any:
    return type(f"{rule}OneLook", (_OneLook, getattr(guillotine, f"Guillotine{rule}")), {})


class _Bin:
    """One piece of stock being filled by a rectpack packer."""

    def __init__(self, line: StockLine, rule: str, kerf: int, length: int) -> None:
        self.line = line
        self.algo = _packer(rule)(line.usable_width + kerf, length + kerf, rot=False, merge=False)
        self.end_trim = 0 if line.form == "coil" else line.trim
        self.cells: list[Cell] = []
        self.top = 0

    def add(self, piece: Piece, kerf: int) -> bool:
        """Place one piece; False when it does not fit."""
        ways = piece.ways(self.line)
        width, length = (piece.length, piece.width) if ways[0] else (piece.width, piece.length)
        self.algo.rot = len(ways) > 1
        rect = self.algo.add_rect(width + kerf, length + kerf)
        if rect is None:
            return False
        turned = ways[0] if (rect.width, rect.height) == (width + kerf, length + kerf) else not ways[0]
        self.cells.append(piece.make(rect.x + self.line.trim, rect.y + self.end_trim, turned))
        self.top = max(self.top, rect.y + rect.height - kerf)
        return True

    def draft(self) -> LayoutDraft:
        """The bin's cells; a coil is cut off just past the last piece."""
        length = self.top if self.line.form == "coil" else self.line.length
        return LayoutDraft(stock=self.line.name, length=length, cells=tuple(self.cells))


def rectpack_tries(
    group: Group, pieces: Sequence[Piece], work: int, stopped: Callable[[], bool]
) -> Iterator[tuple[Order, list[LayoutDraft]]]:
    """Complete packings by rule, order (told) and kind of stock, while `work` placements last (at least one a kind)."""
    total = max(1, sum(p.count for p in pieces))
    sequences = _sequences(group)
    for order, key in ORDERS.items():
        ordered = sorted(pieces, key=lambda p: (key(p), p.key), reverse=True)
        for rule in RULES:
            first = order == next(iter(ORDERS)) and rule == RULES[0]
            for lines in sequences:
                if (work < 0 and not first) or stopped():
                    return
                work -= total
                drafts = _pack(lines, ordered, rule, group.limits.kerf)
                if drafts is not None:
                    yield order, merged(drafts)


def _sequences(group: Group) -> list[list[StockLine]]:
    """Which stock a packing may open, in order: every kind singly, after the offcuts; then all that is limited."""
    offcuts = sorted((s for s in group.stock if s.form == "offcut"), key=lambda s: (s.width * s.length, s.name))
    kinds = [s for s in group.stock if s.form != "offcut" and s.width <= group.limits.longest_cut]
    kinds += [s for s in group.stock if s.form == "sheet" and s not in kinds]
    out = [[*offcuts, k] for k in kinds]
    if offcuts:
        out.append(offcuts)
    limited = [s for s in kinds if s.on_hand is not None]
    if limited and len(kinds) > 1:
        by_price = sorted(kinds, key=lambda s: (s.cost_per_area, s.name))
        out.append([*offcuts, *by_price])
    return out


def _pack(lines: Sequence[StockLine], ordered: Sequence[Piece], rule: str, kerf: int) -> list[LayoutDraft] | None:
    """First fit over the open bins; a new bin when none takes the piece; None when a piece is left over."""
    bins: list[_Bin] = []
    opened = {s.name: 0 for s in lines}
    left = {s.name: s.on_hand for s in lines}
    for piece in ordered:
        start = 0
        for _ in range(piece.count):
            # A free area only ever shrinks: a bin that refused this size refuses it for good.
            while start < len(bins) and not bins[start].add(piece, kerf):
                start += 1
            if start < len(bins):
                continue
            if not _open(bins, lines, opened, left, piece, rule, kerf):
                return None
            start = len(bins) - 1
    drafts = [b.draft() for b in bins if b.cells]
    for line in lines:
        if line.form == "coil" and line.on_hand is not None and amount(line, drafts, kerf) > line.on_hand:
            return None
    return drafts


def _open(
    bins: list[_Bin],
    lines: Sequence[StockLine],
    opened: dict[str, int],
    left: dict[str, int | None],
    piece: Piece,
    rule: str,
    kerf: int,
) -> bool:
    for line in lines:
        have = left[line.name]
        length = line.usable_length
        if have is not None:
            if line.form == "coil":
                length = min(length, have - opened[line.name] * (line.length + kerf) - kerf)
            elif opened[line.name] >= have:
                continue
        if line.usable_width <= 0 or length <= 0:
            continue
        fresh = _Bin(line, rule, kerf, length)
        if fresh.add(piece, kerf):
            bins.append(fresh)
            opened[line.name] += 1
            return True
    return False


def best_rectpack(
    group: Group, pieces: Sequence[Piece], *, work: int, stopped: Callable[[], bool] = lambda: False
) -> Tried:
    """The cheapest rectpack packing whose layouts can all be cut on this shear."""
    if sum(p.count for p in pieces) > MOST_PACKED:
        return Tried(way="packer", layouts=None, total=None, outcome=Outcome(what="not_tried"))
    tries = list(rectpack_tries(group, pieces, work, stopped))
    priced = sorted(((cost(group, d), n) for n, (_, d) in enumerate(tries)), key=lambda t: t)
    for total, n in priced:
        order, drafts = tries[n]
        if not within_stock(group, drafts):
            continue
        try:
            layouts = tuple(finish(d, group) for d in pulled(drafts, group))
        except NotCuttableError:
            continue
        outcome = Outcome(what="packed", packings=len(tries), order=order)
        return Tried(way="packer", layouts=layouts, total=total, outcome=outcome)
    outcome = Outcome(what="not_cuttable" if priced else "left_over")
    return Tried(way="packer", layouts=None, total=None, outcome=outcome)
