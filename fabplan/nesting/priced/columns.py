"""A layout as a column of the master: what it makes, what stock and work it takes, and how it is laid out."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

import numpy as np
import numpy.typing as npt

from fabplan.nesting.cuts.layouts import Draft
from fabplan.nesting.priced.cells import Bit
from fabplan.nesting.priced.charges import Charges, Setting
from fabplan.nesting.problem import Group, StockLine

Ints = npt.NDArray[np.int64]
Laid = tuple[tuple[int, tuple[tuple[int, tuple[tuple[int, bool], ...]], ...]], ...]
"""Panels: (length, strips); a strip: (width, cells); a cell: (number of the bit, turned on the stock)."""


@dataclass(slots=True, eq=False)
class Column:
    """`use`: graduations of coil (kerf with it), or 1 sheet; `work` one repeat's ticks."""

    stock: int
    across_width: bool
    panels: Laid
    counts: Ints
    use: int
    metal: Fraction
    work: int
    settings: frozenset[Setting]
    cost: float = 0.0
    draft: Draft | None = None
    bits: tuple[int, ...] = field(default=())

    def key(self) -> tuple[int, int, bytes, frozenset[Setting]]:
        """Columns with the same key are worth the same but for their work."""
        return self.stock, self.use, self.counts.tobytes(), self.settings


def build(
    group: Group, bits: list[Bit], charges: Charges, stock: int, swap: bool, panels: Laid
) -> Column | None:
    """The column of a layout; None where one of its leftovers cannot be cut off. `swap`: panels across the width."""
    line = group.stock[stock]
    kerf = group.limits.kerf
    counts = np.zeros(len(group.blanks), dtype=np.int64)
    settings: set[Setting] = set()
    work = charges.start(line)
    wastes: list[tuple[int, int]] = []
    used: list[int] = []
    across_all = line.usable_length if swap else line.usable_width
    along_all = line.usable_width if swap else line.usable_length
    coil = line.form == "coil"
    for length, strips in panels:
        if not coil and len(panels) > 1:
            settings.add((length, 90.0))
        x = 0
        for width, cells in strips:
            settings.add((width, 90.0))
            y = 0
            for number, turned in cells:
                bit = bits[number]
                used.append(number)
                counts[bit.row] += bit.count
                work += bit.work + charges.stroke
                settings |= bit.settings
                a, b = size(bit, turned, swap)
                wastes.append((width - a, 0))
                if width != a:
                    settings.add((a if width - a >= charges.held else width - a, 90.0))
                settings.add((b, 90.0))
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
                settings.add((rest + edge, 90.0))
    use = panels[0][0] + kerf if coil else 1
    metal = line.cost * use
    return Column(
        stock=stock,
        across_width=swap,
        panels=panels,
        counts=counts,
        use=use,
        metal=metal,
        work=work,
        settings=frozenset(settings),
        cost=float(metal) + float(charges.tick) * work,
        bits=tuple(used),
    )


def size(bit: Bit, turned: bool, swap: bool) -> tuple[int, int]:
    """Across and along the strip of a cell."""
    p = bit.piece
    w, length = (p.length, p.width) if turned else (p.width, p.length)
    return (length, w) if swap else (w, length)


def draft(group: Group, bits: list[Bit], col: Column, repeat: int, want: Ints | None = None) -> Draft:
    """The column as cells on its stock; with `want` no more of a blank than that is laid."""
    if col.draft is not None:
        d = col.draft
        return Draft(stock=d.stock, length=d.length, cells=d.cells, repeat=repeat, first=d.first)
    line: StockLine = group.stock[col.stock]
    kerf = group.limits.kerf
    cells = []
    left = None if want is None else want.copy()
    b = 0 if line.form == "coil" else line.trim
    top = 0
    for length, strips in col.panels:
        a = line.trim
        for width, row in strips:
            at = b
            for number, turned in row:
                bit = bits[number]
                if left is None or left[bit.row] >= bit.count:
                    if left is not None:
                        left[bit.row] -= bit.count
                    x, y = (at, a) if col.across_width else (a, at)
                    cells.append(bit.piece.make(x, y, turned))
                    at += size(bit, turned, col.across_width)[1] + kerf
                    top = max(top, at - kerf)
            a += width + kerf
        b += length + kerf
    coil_length = col.panels[0][0] if want is None else top
    length = coil_length if line.form == "coil" else line.length
    return Draft(
        stock=line.name, length=length, cells=tuple(cells), repeat=repeat, first="y" if col.across_width else "x"
    )
