"""A layout as a column of the master: what it makes, what stock and work it takes, and how it is laid out."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from fractions import Fraction

import numpy as np
import numpy.typing as npt

from fabplan.nesting.cuts.layouts import LayoutDraft
from fabplan.nesting.cuts.order import Axis
from fabplan.nesting.priced.cells import Bit
from fabplan.nesting.priced.charges import Charges, Setting
from fabplan.nesting.problem import Group, StockLine

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]
Laid = tuple[tuple[int, tuple[tuple[int, tuple[tuple[int, bool], ...]], ...]], ...]
"""Panels: (length, strips); a strip: (width, cells); a cell: (number of the bit, turned on the stock)."""


@dataclass(slots=True, eq=False)
class LayoutColumn:
    """`use`: graduations of coil (kerf with it), or 1 sheet; `work` one repeat's ticks; `often`: uses of settings."""

    stock: int
    across_width: bool
    panels: Laid
    counts: Ints
    use: int
    metal: Fraction
    work: int
    settings: frozenset[Setting]
    often: dict[Setting, int] = field(default_factory=dict)
    cost: float = 0.0
    draft: LayoutDraft | None = None
    bits: tuple[int, ...] = field(default=())

    def key(self) -> tuple[int, int, bytes]:
        """Columns with the same key make the same of the same stock."""
        return self.stock, self.use, self.counts.tobytes()


def build(group: Group, bits: list[Bit], charges: Charges, stock: int, swap: bool, panels: Laid) -> LayoutColumn | None:
    """The column of a layout; None where one of its leftovers cannot be cut off. `swap`: panels across the width."""
    line = group.stock[stock]
    kerf = group.limits.kerf
    counts = np.zeros(len(group.blanks), dtype=np.int64)
    settings = Counter[Setting]()
    work = charges.start(line)
    wastes: list[tuple[int, int]] = []
    used: list[int] = []
    across_all = line.usable_length if swap else line.usable_width
    along_all = line.usable_width if swap else line.usable_length
    coil = line.form == "coil"
    for length, strips in panels:
        if not coil and len(panels) > 1:
            settings[length, 90.0] += 1
        x = 0
        for width, cells in strips:
            settings[width, 90.0] += 1
            y = 0
            for number, turned in cells:
                bit = bits[number]
                used.append(number)
                counts[bit.row] += bit.count
                work += bit.work + charges.stroke
                settings.update(bit.settings)
                a, b = size(bit, turned, swap)
                wastes.append((width - a, 0))
                if width != a:
                    settings[a if width - a >= charges.held else width - a, 90.0] += 1
                settings[b, 90.0] += 1
                y += b + kerf
            wastes.append((length + kerf - y, 0))
            x += width + kerf
        wastes.append((across_all + kerf - x, line.trim))
        if line.trim:
            work += charges.stroke
    if not coil:
        total = sum(length + kerf for length, _ in panels)
        wastes.append((along_all + kerf - total, line.trim))
        if line.trim:
            work += charges.stroke
    for rest, edge in wastes:
        if rest + edge:
            price = charges.waste(rest + edge)
            if price is None:
                return None
            work += price
            if rest + edge < charges.held and charges.gauge <= rest + edge:
                settings[rest + edge, 90.0] += 1
    use = panels[0][0] + kerf if coil else 1
    metal = line.cost * use
    return LayoutColumn(
        stock=stock,
        across_width=swap,
        panels=panels,
        counts=counts,
        use=use,
        metal=metal,
        work=work,
        settings=frozenset(settings),
        often=dict(settings),
        cost=float(metal) + float(charges.tick) * work,
        bits=tuple(used),
    )


def size(bit: Bit, turned: bool, swap: bool) -> tuple[int, int]:
    """Across and along the strip of a cell."""
    p = bit.piece
    w, length = (p.length, p.width) if turned else (p.width, p.length)
    return (length, w) if swap else (w, length)


def cut_back(group: Group, bits: list[Bit], charges: Charges, col: LayoutColumn, want: Ints) -> LayoutColumn | None:
    """The column without what it holds beyond `want`; a shorter panel where that leaves every strip shorter."""
    if (col.counts <= want).all():
        return col
    line, kerf = group.stock[col.stock], group.limits.kerf
    left = want.copy()
    panels = []
    for length, strips in col.panels:
        kept = []
        for _, cells in strips:
            row = []
            for number, turned in cells:
                bit = _within(bits, number, turned, col.across_width, line, int(left[bits[number].row]))
                if bit is not None:
                    left[bits[bit[0]].row] -= bits[bit[0]].count
                    row.append(bit)
            if row:
                wide = max(size(bits[n], turned, col.across_width)[0] for n, turned in row)
                kept.append((wide, tuple(row)))
        if kept:
            long = max(sum(size(bits[n], t, col.across_width)[1] + kerf for n, t in row) - kerf for _, row in kept)
            whole = (
                line.form != "coil"
                and len(col.panels) == 1
                and length == (line.usable_width if col.across_width else line.usable_length)
            )
            if line.form == "coil":
                long = max(long, min(length, group.limits.least_pull))
            panels.append((length if whole else long, tuple(kept)))
    return build(group, bits, charges, col.stock, col.across_width, tuple(panels)) if panels else None


def _within(
    bits: list[Bit], number: int, turned: bool, swap: bool, line: StockLine, left: int
) -> tuple[int, bool] | None:
    """The cell itself, or the largest of the same blank in its place that makes no more than is left."""
    own = bits[number]
    if own.count <= left:
        return number, turned
    a, b = size(own, turned, swap)
    best: tuple[int, bool, int, int, bool] | None = None
    for n, bit in enumerate(bits):
        if bit.row != own.row or not 0 < bit.count <= left:
            continue
        for way in bit.piece.ways(line):
            wide, long = size(bit, way, swap)
            if wide <= a and long <= b and (best is None or (bit.count, not bit.spare, -bit.work) > best[:3]):
                best = (bit.count, not bit.spare, -bit.work, n, way)
    return None if best is None else best[3:]


def draft(group: Group, bits: list[Bit], col: LayoutColumn, repeat: int) -> LayoutDraft:
    """The column as cells on its stock."""
    if col.draft is not None:
        d = col.draft
        return LayoutDraft(stock=d.stock, length=d.length, cells=d.cells, repeat=repeat, first=d.first)
    line, kerf = group.stock[col.stock], group.limits.kerf
    cells = []
    b = 0 if line.form == "coil" else line.trim
    for length, strips in col.panels:
        a = line.trim
        for width, row in strips:
            at = b
            for number, turned in row:
                x, y = (at, a) if col.across_width else (a, at)
                cells.append(bits[number].piece.make(x, y, turned))
                at += size(bits[number], turned, col.across_width)[1] + kerf
            a += width + kerf
        b += length + kerf
    length = col.panels[0][0] if line.form == "coil" else line.length
    first: Axis = "y" if (len(col.panels) > 1) != col.across_width else "x"
    return LayoutDraft(stock=line.name, length=length, cells=tuple(cells), repeat=repeat, first=first)
