"""Sheets of panels: the third level, panels one after another along a sheet, and which panels a view may use.

As the levels before it an unbounded knapsack over integer values (P. C. Gilmore, R. E. Gomory, Operations Research 13,
1965); a panel deeper than the back gauge reaches may come once.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fabplan.nesting.engine.bounded import BoundedStrips
from fabplan.nesting.engine.frame import Ints, StockView
from fabplan.nesting.engine.panels import PanelTable
from fabplan.nesting.engine.tables import Panel, Strips, repeat_item


@dataclass(slots=True)
class PanelValues:
    """Values of panels of one view: `value[j]` for length `length[j]`; `whole` = a piece as wide as the stock."""

    length: Ints
    value: Ints
    whole: Ints


def panels_of(view: StockView, s: Strips | BoundedStrips, p: PanelTable) -> PanelValues:
    """Values of the panels a view may use."""
    t = s.table
    if view.coil or view.many:
        cols = np.flatnonzero(p.length <= min(view.Y, view.rip_max))
    else:
        cols = np.flatnonzero((p.length == view.Y) & (p.length <= view.rip_max))
    length = p.length[cols]
    value = p.best[view.X, cols].astype(np.int64)
    whole = np.full(length.size, -1, dtype=np.int64)
    if view.whole and (view.rip_max < view.Y or not view.cut_off):
        for o in np.flatnonzero((t.across == view.X) & (t.along <= view.Y) & (s.value > 0)):
            y = int(t.along[o])
            if y == view.Y or (view.cut_off and (view.coil or view.many) and y > view.rip_max):
                length = np.append(length, y)
                value = np.append(value, s.value[o])
                whole = np.append(whole, o)
    order = np.lexsort((-value, length))
    return PanelValues(length=length[order], value=value[order], whole=whole[order])


def open_panel(view: StockView, p: PanelTable, panel: PanelValues, j: int) -> Panel:
    """Panel j of those a view may use: its length and strips."""
    if panel.whole[j] >= 0:
        o, y = int(panel.whole[j]), int(panel.length[j])
        return y, ((view.X, ((y, ((o, 1),)),)),)
    y, opened = p.open(view.X, int(np.searchsorted(p.length, panel.length[j])))
    return (y if view.coil or view.many else view.Y), opened


def chains_of(
    view: StockView, gauge: int, panel: PanelValues, most: int, least: float
) -> tuple[int, list[tuple[int, list[int]]]]:
    """Most value of one sheet, and the best sheets above the least, so many at most: value and panels."""
    if not view.many:
        best = int(panel.value.max())
        return best, [(best, [int(np.argmax(panel.value))])] if best > least else []
    h = np.zeros(view.Y + 1, dtype=np.int64)
    used: list[int] = []
    deep: list[int] = []
    for j in range(panel.length.size):
        y, v = int(panel.length[j]), int(panel.value[j])
        if v <= 0:
            continue
        if y > gauge:
            deep.append(j)
        elif v > h[y]:
            used.append(j)
            repeat_item(h, y, v)
    pick = np.array(used + deep, dtype=np.int64)
    if not pick.size:
        return 0, []
    total = panel.value[pick] + h[view.Y - panel.length[pick]]
    order = [at for at in np.argsort(-total, kind="stable")[:most] if total[at] > least]
    return int(total.max()), [(int(total[at]), _chain(h, view.Y, panel, used, int(pick[at]))) for at in order]


def _chain(h: Ints, y: int, panel: PanelValues, used: list[int], first: int) -> list[int]:
    """Panels that follow `first` to the sheet's end, deepest first."""
    chain = [first]
    y -= int(panel.length[first])
    js = np.array(used, dtype=np.int64)
    while y > 0 and h[y] > 0:
        size, value = panel.length[js], panel.value[js]
        ok = size <= y
        hit = np.flatnonzero(ok & (h[y - np.where(ok, size, 0)] + value == h[y]))
        j = int(js[hit[-1]])
        chain.append(j)
        y -= int(panel.length[j])
    return sorted(chain, key=lambda j: -int(panel.length[j]))
