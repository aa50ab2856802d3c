"""The master problem: cover the demand at least cost, as a linear or an integer program (HiGHS through scipy)."""

from __future__ import annotations

import math
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.optimize import Bounds, LinearConstraint, linprog, milp
from scipy.sparse import csr_array, vstack

from fabplan.nesting.engine.frame import HUGE, Ints

Floats = npt.NDArray[np.float64]
_linprog: Any = linprog  # scipy's own types are narrower than what it takes
_milp: Any = milp


@contextmanager
def quiet() -> Iterator[None]:
    """Send anything the solver prints at C level to nowhere: a stray line would spoil JSON on stdout."""
    try:
        sys.stdout.flush()
        saved = os.dup(1)
    except (OSError, ValueError):
        yield
        return
    null = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(null, 1)
        yield
    finally:
        os.dup2(saved, 1)
        os.close(saved)
        os.close(null)


@dataclass(slots=True)
class Master:
    """Solution of the linear master: amounts, duals of the pieces (>= 0) and of the stock on hand (<= 0)."""

    x: Floats
    pi: Floats
    mu: Floats
    cost: float


def summable(prices: Floats, most: int) -> Floats:
    """Prices on a binary grid so fine that it costs nothing, yet so coarse that sums of them are exact.

    A sum of at most `most` of each then has no rounding, whatever the order a processor adds in: the same columns look
    good on every machine.
    """
    top = math.fsum(np.abs(prices)) * max(1, most)
    if not top or not math.isfinite(top):
        return prices
    grid = math.ldexp(1.0, math.frexp(top)[1] - 52)
    exact: Floats = np.rint(prices / grid) * grid
    return exact


def stock_rows(stock: Ints, use: Floats, available: Ints) -> tuple[Floats, Floats, Ints]:
    """Rows of limited stock that could bind: coefficients, right sides, and which stock each is."""
    limited = np.flatnonzero(available < HUGE)
    rows = np.array([np.where(stock == k, use, 0.0) for k in limited]).reshape(limited.size, stock.size)
    return rows, available[limited].astype(np.float64), limited


def solve_lp(a: Ints, cost: Floats, demand: Ints, stock: Ints, use: Floats, available: Ints, dear: Floats) -> Master:
    """Least-cost cover; a piece may be left out at price `dear`.

    Dual signs: demand rows are handed over as -a x <= -d, so their marginals are not positive and pi = -marginal.
    """
    n, m = a.shape
    rows, limit, limited = stock_rows(stock, use, available)
    left_out = np.eye(n)
    top = csr_array(np.hstack([-a, -left_out]))
    matrix = vstack([top, csr_array(np.hstack([rows, np.zeros((limited.size, n))]))]) if limited.size else top
    for method in ("highs", "highs-ds", "highs-ipm"):
        result = _linprog(
            np.concatenate([cost, dear]),
            A_ub=matrix,
            b_ub=np.concatenate([-demand.astype(np.float64), limit]),
            bounds=(0, None),
            method=method,
        )
        if result.x is not None:
            break
    if result.x is None:
        raise RuntimeError(f"linear program failed: {result.message}")
    mu = np.zeros(available.size)
    marginal = np.asarray(result.ineqlin.marginals)
    mu[limited] = np.minimum(marginal[n:], 0.0)
    pi = summable(np.maximum(-marginal[:n], 0.0), int(a.max(initial=1)))
    return Master(x=result.x[:m], pi=pi, mu=mu, cost=float(result.fun))


def solve_mip(
    a: Ints,
    cost: Floats,
    demand: Ints,
    stock: Ints,
    use: Floats,
    available: Ints,
    nodes: int,
    seconds: float | None,
    upper: float | None = None,
    gap: float = 0.0,
) -> tuple[Ints | None, bool, float]:
    """Integer cover with a node limit, whether it was solved to the end, and the work it took.

    `upper`: only plans cheaper than this are wanted. scipy reports status 1 for a limit with or without a plan, so
    only `x is None` tells.
    """
    n, m = a.shape
    if not m:
        return None, False, 0.0
    rows, limit, limited = stock_rows(stock, use, available)
    most = np.ceil(np.where(a > 0, demand[:, None] / np.maximum(a, 1), 0).max(axis=0)) if n else np.zeros(m)
    constraints = [LinearConstraint(csr_array(a), lb=demand.astype(np.float64), ub=np.inf)]
    if limited.size:
        constraints.append(LinearConstraint(csr_array(rows), ub=limit))
    if upper is not None:
        constraints.append(LinearConstraint(csr_array(cost[None, :]), ub=np.array([upper])))
    options: dict[str, Any] = {"node_limit": max(1, nodes), "mip_rel_gap": gap, "disp": False}
    if seconds is not None:
        options["time_limit"] = max(0.05, seconds)
    with quiet():
        result = _milp(
            cost,
            constraints=constraints,
            integrality=np.ones(m, dtype=np.int64),
            bounds=Bounds(0, most),
            options=options,
        )
    work = 10.0 + 1.5 * m + 0.06 * m * float(result.get("mip_node_count") or 0.0) ** 0.8
    if result.x is None:
        return None, result.status == 2, work
    x = np.rint(result.x).astype(np.int64)
    ok = (a @ x >= demand).all() and (not limited.size or (rows @ x <= limit + 1e-9).all())
    return (x if ok else None), result.status == 0, work
