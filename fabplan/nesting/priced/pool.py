"""Columns kept once each: of two that make the same of the same stock, the one with less work."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from fabplan.nesting.priced.charges import Charges
from fabplan.nesting.priced.columns import Ints, LayoutColumn
from fabplan.nesting.priced.master import ColumnArrays


class LayoutPool:
    """All columns of a search."""

    def __init__(self, rows: int, charges: Charges) -> None:
        self.rows, self.charges = rows, charges
        self.columns: list[LayoutColumn] = []
        self._seen: dict[tuple[int, int, bytes], int] = {}
        self._once = float(charges.money(charges.set_gauge))

    def add(self, columns: Iterable[LayoutColumn]) -> int:
        """How many of them are new, or better than their like."""
        news = 0
        for col in columns:
            old = self._seen.get(col.key())
            if old is None:
                self._seen[col.key()] = len(self.columns)
                self.columns.append(col)
                news += 1
            elif self._rank(col) < self._rank(self.columns[old]) - 1e-9:
                self.columns[old] = col
                news += 1
        return news

    def _rank(self, col: LayoutColumn) -> float:
        return col.cost + 0.2 * self._once * len(col.settings)

    def __len__(self) -> int:
        return len(self.columns)

    def table(self) -> ColumnArrays:
        """Everything as arrays."""
        return ColumnArrays.of(self.columns, self.rows)

    def fitting(self, want: Ints) -> list[int]:
        """Columns that hold no more than what is wanted."""
        return [j for j, c in enumerate(self.columns) if (c.counts <= want).all()]


def plan_cost(columns: list[LayoutColumn], plan: dict[int, int], charges: Charges) -> float:
    """Cost of a plan with every charge, each setting taken once."""
    settings = set().union(*(columns[j].settings for j in plan)) if plan else set()
    stops = {a for _, a in settings if a != 90.0}
    once = charges.layout * len(plan) + charges.set_gauge * len(settings) + charges.set_stop * len(stops)
    return sum(columns[j].cost * k for j, k in plan.items()) + float(charges.money(once))


def made_by(columns: list[LayoutColumn], plan: dict[int, int], rows: int) -> Ints:
    """Blanks a plan makes."""
    out = np.zeros(rows, dtype=np.int64)
    for j, k in plan.items():
        out += columns[j].counts * k
    return out
