"""The master problem of whole prices: a linear cover for prices and the bound, an integer one with charges paid once.

The integer program is the cutting stock problem with set-ups: each layout used and each setting of the shear costs
once, however often it repeats (S. Henn and G. Waescher, "Extensions of cutting problems: setups", Pesquisa Operacional
33(2), 2013). HiGHS through scipy; node limits, no clock, so the same columns give the same plan.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.optimize import Bounds, LinearConstraint, linprog, milp
from scipy.sparse import coo_array, csr_array, vstack

from fabplan.nesting.engine.lp import quiet, summable
from fabplan.nesting.priced.charges import Charges, Setting
from fabplan.nesting.priced.columns import Ints, LayoutColumn

Floats = npt.NDArray[np.float64]
_linprog: Any = linprog
_milp: Any = milp
FREE = 1 << 40
OWN = 0.6  # share of its settings a layout pays where they are not shared


@dataclass(slots=True)
class Linear:
    """Amounts, prices of the blanks (>= 0) and of stock on hand (<= 0), cost."""

    x: Floats
    pi: Floats
    mu: Floats
    cost: float


@dataclass(slots=True)
class ColumnArrays:
    """Columns as arrays."""

    a: Ints
    cost: Floats
    use: Floats
    stock: Ints

    @classmethod
    def of(cls, columns: Sequence[LayoutColumn], rows: int) -> ColumnArrays:
        """Arrays of some columns."""
        a = np.array([c.counts for c in columns], dtype=np.int64).reshape(len(columns), rows).T
        return cls(
            a,
            np.array([c.cost for c in columns]),
            np.array([float(c.use) for c in columns]),
            np.array([c.stock for c in columns], dtype=np.int64),
        )

    def stock_rows(self, on_hand: Ints) -> tuple[Floats, Floats, Ints]:
        """Rows of stock on hand: coefficients, limits, which stock."""
        limited = np.flatnonzero(on_hand < FREE)
        rows = np.array([np.where(self.stock == k, self.use, 0.0) for k in limited]).reshape(
            limited.size, self.use.size
        )
        return rows, on_hand[limited].astype(float), limited


def linear(t: ColumnArrays, demand: Ints, on_hand: Ints, dear: Floats) -> Linear:
    """Least-cost cover in fractions; a blank may be left out at price `dear`."""
    n, m = t.a.shape
    rows, limit, limited = t.stock_rows(on_hand)
    matrix = csr_array(np.hstack([-t.a, -np.eye(n)]))
    if limited.size:
        matrix = vstack([matrix, csr_array(np.hstack([rows, np.zeros((limited.size, n))]))])
    result = None
    for method in ("highs", "highs-ds", "highs-ipm"):
        result = _linprog(
            np.concatenate([t.cost, dear]),
            A_ub=matrix,
            b_ub=np.concatenate([-demand.astype(float), limit]),
            bounds=(0, None),
            method=method,
        )
        if result.x is not None:
            break
    if result is None or result.x is None:
        raise RuntimeError("linear program failed")
    marginal = np.asarray(result.ineqlin.marginals)
    mu = np.zeros(on_hand.size)
    mu[limited] = np.minimum(marginal[n:], 0.0)
    pi = summable(np.maximum(-marginal[:n], 0.0), int(t.a.max(initial=1)))
    return Linear(x=result.x[:m], pi=pi, mu=mu, cost=float(result.fun))


def most_times(t: ColumnArrays, demand: Ints) -> Ints:
    """How often each column may repeat before one of its blanks is all made."""
    times = np.where(t.a > 0, -(-demand[:, None] // np.maximum(t.a, 1)), 1 << 30).min(axis=0)
    return np.where(t.a.any(axis=0), times, 0)


def whole(
    columns: Sequence[LayoutColumn], demand: Ints, on_hand: Ints, charges: Charges, *,
    paid: frozenset[Setting] = frozenset(), nodes: int = 300, upper: float | None = None, gap: float = 1e-4,
    shared: bool = True,
) -> tuple[list[tuple[int, int]] | None, float, bool]:  # fmt: skip
    """Least cost of whole layouts with every charge; (column, times) of each, the cost, and whether it is proven.

    Blanks beyond the demand are left uncut in one more layout, which is charged. `paid`: settings already there; not
    `shared`: each layout pays a part of its own settings, a smaller program.
    """
    n, m = demand.size, len(columns)
    t = ColumnArrays.of(columns, n)
    most = most_times(t, demand)
    settings = sorted({s for c in columns for s in c.settings} - paid) if shared else []
    stops = sorted({s[1] for s in settings if s[1] != 90.0})
    place = {s: i for i, s in enumerate(settings)}
    at = {a: i for i, a in enumerate(stops)}
    k, q = len(settings), len(stops)
    # variables: x (m), y (m), z (k), stops (q), surplus (n), trimmed (1)
    width = 2 * m + k + q + n + 1
    layout, gauge, stop = (float(charges.money(c)) for c in (charges.layout, charges.set_gauge, charges.set_stop))
    once = np.full(m, layout)
    if not shared:
        once += gauge * OWN * np.array([len(c.settings - paid) for c in columns])
    cost = np.concatenate([t.cost, once, np.full(k, gauge), np.full(q, stop), np.full(n, 1e-6), [layout]])
    cons = [
        LinearConstraint(
            csr_array(np.hstack([t.a, np.zeros((n, m + k + q)), -np.eye(n), np.zeros((n, 1))])),
            lb=demand.astype(float),
            ub=demand.astype(float),
        )
    ]
    r: list[int] = []
    c: list[int] = []
    v: list[float] = []
    row = 0
    for j in range(m):  # x <= most y
        r += [row, row]
        c += [j, m + j]
        v += [1.0, -float(most[j])]
        row += 1
    users: dict[int, list[int]] = {}
    for j, col in enumerate(columns):
        for s in col.settings:
            if s in place:
                users.setdefault(place[s], []).append(j)
    for g, js in users.items():
        for j in js:
            r += [row, row]
            c += [m + j, 2 * m + g]
            v += [1.0, -1.0]
            row += 1
        if settings[g][1] != 90.0:
            r += [row, row]
            c += [2 * m + g, 2 * m + k + at[settings[g][1]]]
            v += [1.0, -1.0]
            row += 1
    big = t.a.max(axis=1, initial=0) if m else np.zeros(n, dtype=np.int64)
    for i in range(n):  # surplus only with one more layout
        r += [row, row]
        c += [2 * m + k + q + i, width - 1]
        v += [1.0, -float(max(1, big[i]))]
        row += 1
    cons.append(LinearConstraint(coo_array((v, (r, c)), shape=(row, width)).tocsr(), ub=np.zeros(row)))
    rows, limit, limited = t.stock_rows(on_hand)
    if limited.size:
        cons.append(LinearConstraint(csr_array(np.hstack([rows, np.zeros((limited.size, width - m))])), ub=limit))
    if upper is not None:
        cons.append(LinearConstraint(csr_array(cost[None, :]), ub=np.array([upper])))
    high = np.concatenate([most, np.ones(m + k + q), np.maximum(big, 0), [1]]).astype(float)
    with quiet():
        result = _milp(
            cost,
            constraints=cons,
            integrality=np.concatenate([np.ones(2 * m), np.zeros(k + q + n), [1]]).astype(int),
            bounds=Bounds(0, high),
            options={"node_limit": max(1, nodes), "mip_rel_gap": gap, "disp": False},
        )
    if result.x is None:
        return None, float("inf"), result.status == 2
    x = np.rint(result.x[:m]).astype(int)
    return [(int(j), int(x[j])) for j in np.flatnonzero(x)], float(result.fun), result.status == 0
