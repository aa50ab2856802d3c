"""Small jobs to the end: a dynamic program over every part of the demand.

A part of the demand (so many of each piece) is numbered in mixed radix. Strips, panels, sheets and whole plans are
each the cheapest way to split a part in two, so one pass over all parts proves the optimum of the allowed class.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from fabplan.nesting.engine.columns import PatternColumn, column
from fabplan.nesting.engine.frame import HUGE, Frame, Ints, StockView, Turned
from fabplan.nesting.engine.part_tables import PartTable
from fabplan.nesting.engine.parts import FAR, Parts, effort, pairs, states

__all__ = ["ExactProgram", "effort", "pairs", "states"]
Floats = npt.NDArray[np.float64]


class ExactProgram:
    """The dynamic program for one demand; `proof` is False when some allowed pattern is left out."""

    def __init__(self, frame: Frame, demand: Ints) -> None:
        self.frame = frame
        self.parts = Parts(demand)
        self.proof = True
        self.tables = [
            self._table(t) if any(v.table == i for v in frame.views) else None for i, t in enumerate(frame.tables)
        ]

    def _table(self, t: Turned) -> PartTable:
        ymax = xmax = 0
        for v in self.frame.views:
            if self.frame.tables[v.table] is t:
                ymax, xmax = max(ymax, min(v.Y, v.rip_max)), max(xmax, v.X)
        if any(t.across[o] > t.cut_across and t.across[o] <= xmax for o in range(t.size)):
            self.proof = False
        return PartTable(self.parts, t, ymax, xmax, self.frame.stages)

    def solve(self, available: Ints) -> list[tuple[PatternColumn, int]] | None:
        """The cheapest plan, or None if none exists (or coil on hand would run out)."""
        frame, parts = self.frame, self.parts
        n = parts.size
        single = np.full(n, np.inf)
        choice = np.full(n, -1, dtype=np.int64)
        per_stock: dict[int, tuple[Floats, Ints]] = {}
        for i, view in enumerate(frame.views):
            cost = self.view_cost(view)
            if view.stock in per_stock:
                old, which = per_stock[view.stock]
                better = cost < old
                per_stock[view.stock] = (np.where(better, cost, old), np.where(better, i, which))
            else:
                per_stock[view.stock] = (cost, np.full(n, i, dtype=np.int64))
        limited = []
        for k, (cost, which) in per_stock.items():
            if available[k] < HUGE and not self._is_coil(k):
                limited.append(k)
                continue
            price = cost
            if available[k] < HUGE and frame.cost[k]:
                price = np.where(cost <= float(available[k] * frame.cost[k]) + 1e-12, cost, np.inf)
            better = price < single - 1e-15
            single, choice = np.where(better, price, single), np.where(better, which, choice)
        best = np.full(n, np.inf)
        best[0] = 0.0
        for m in range(1, n):
            s = parts.firsts[m]
            best[m] = (single[s] + best[m - s]).min()
        layers: list[tuple[int, Floats]] = [(-1, best)]
        pieces = int(parts.demand.sum())
        for k in limited:
            cost = per_stock[k][0]
            for _ in range(min(int(available[k]), pieces)):
                old = layers[-1][1]
                new = old.copy()
                for m, s in enumerate(parts.all()):
                    if s.size:
                        new[m] = min(new[m], float((cost[s] + old[m - s]).min()))
                if (new == old).all():
                    break
                layers.append((k, new))
        m = n - 1
        if not np.isfinite(layers[-1][1][m]):
            return None
        out: list[tuple[PatternColumn, int]] = []
        at = len(layers) - 1
        while m:
            k, now = layers[at]
            if k >= 0:
                old = layers[at - 1][1]
                at -= 1
                if old[m] <= now[m]:
                    continue
                cost, which = per_stock[k]
                s = parts.all()[m]
                pick = int(s[np.argmin(cost[s] + old[m - s])])
                out.append((self.pattern(int(which[pick]), pick), 1))
                m -= pick
                continue
            s = parts.firsts[m]
            pick = int(s[np.argmin(single[s] + now[m - s])])
            out.append((self.pattern(int(choice[pick]), pick), 1))
            m -= pick
        used = np.zeros(len(frame.problem.stock), dtype=np.int64)
        for col, times in out:
            used[col.stock] += col.use * times
        return out if (used <= available).all() else None

    def _is_coil(self, k: int) -> bool:
        return self.frame.problem.stock[k].form == "coil"

    def view_cost(self, view: StockView) -> Floats:
        """Cost of the best single pattern of a view for every part; infinite if it does not fit."""
        table = self.tables[view.table]
        assert table is not None
        price = float(self.frame.cost[view.stock])
        length = table.panel_length(view)
        if view.coil:
            return np.where(length < FAR, length * price, np.inf)
        fits = table.sheet_length(view) <= view.Y
        return np.where(fits, price, np.inf)

    def pattern(self, i: int, m: int) -> PatternColumn:
        """The best pattern of view i for part m."""
        view = self.frame.views[i]
        table = self.tables[view.table]
        assert table is not None
        return column(self.frame, i, table.open(view, m))
