"""Jobs cut from whole sheets: choose a cheaper set of sheets, then try to fit every piece into it.

With few sheets the cost moves in large steps, so the next cheaper plan is a question of room, not of cost. The
roomiest set of sheets below the present cost is fixed; pieces that do not fit yet are squeezed in by re-cutting a
few sheets at a time, keeping every change that leaves out no more than before.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.optimize import Bounds, LinearConstraint, milp

from fabplan.nesting.engine.columns import PatternColumn
from fabplan.nesting.engine.dive import dive, fitted
from fabplan.nesting.engine.frame import HUGE, Ints
from fabplan.nesting.engine.lp import quiet
from fabplan.nesting.engine.state import SearchState

Floats = npt.NDArray[np.float64]
_milp: Any = milp


def roomiest(state: SearchState) -> Ints | None:
    """Counts of each sheet, cheaper than the present plan, with most room under the best cut; None if none."""
    frame, mix = state.frame, state.mix
    if state.cost is None or not mix.rows or any(s.form == "coil" for s in frame.problem.stock):
        return None
    a = np.array(mix.rows)
    row = a[int(np.argmax([mix.alone(r) for r in mix.rows]))]
    step = float(mix.step() / frame.cost_scale)
    upper = np.where(frame.available >= HUGE, np.ceil(1 / np.maximum(row, 1e-9)), frame.available.astype(float))
    limit = float(state.cost / frame.cost_scale) - 0.5 * step
    with quiet():
        result = _milp(
            -row,
            constraints=[
                LinearConstraint(frame.cost[None, :], ub=np.array([limit])),
                LinearConstraint(a, lb=np.ones(a.shape[0])),
            ],
            integrality=np.ones(row.size, dtype=np.int64),
            bounds=Bounds(0, upper),
            options={"node_limit": 4000, "disp": False},
        )
    if result.x is None:
        return None
    count: Ints = np.rint(result.x).astype(np.int64)
    return count


def squeeze(state: SearchState, start: Floats, turns: int) -> bool:
    """One attempt at the roomiest cheaper set of sheets; True if a better plan came of it."""
    count = roomiest(state)
    if count is None:
        return False
    plan, missing = dive(state, start, 0.3, 2, left=count)
    sheets = [j for j, c in plan.items() for _ in range(c)]
    cols = [state.pool.columns[j] for j in sheets]
    used = np.zeros_like(count)
    for col in cols:
        used[col.stock] += 1
    spare = [int(k) for k in np.flatnonzero(count - used) for _ in range(int(count[k] - used[k]))]
    bins: list[tuple[int, PatternColumn | None]] = [(c.stock, c) for c in cols] + [(k, None) for k in spare]
    worth = state.pi + 1e-9 * state.frame.area
    for _ in range(turns):
        if not missing.any():
            return state.offer_columns([(c, 1) for _, c in bins if c is not None])
        state.tick()
        k = min(len(bins), int(state.rng.integers(2, 4)))
        slack = np.array(
            [state.frame.cost[s] - (float(state.pi @ c.counts) if c is not None else 0.0) for s, c in bins]
        )
        weight = np.maximum(slack, 0) / max(float(slack.max()), 1e-12) + 0.3
        picks = state.rng.choice(len(bins), size=k, replace=False, p=weight / weight.sum())
        want = missing.copy()
        for i in picks:
            col = bins[i][1]
            if col is not None:
                want += col.counts
        rest, new = refill(state, [bins[i][0] for i in picks], want, worth)
        if float(worth @ rest) <= float(worth @ missing) * (1 + 1e-9):
            missing = rest
            for i, made in zip(picks, new, strict=True):
                bins[i] = (bins[i][0], made)
    return False


def refill(state: SearchState, stock: list[int], want: Ints, worth: Floats) -> tuple[Ints, list[PatternColumn | None]]:
    """Fill the given sheets one after another, each as full as possible; what is left, and the patterns."""
    frame = state.frame
    left = want.copy()
    out: list[PatternColumn | None] = []
    noise = (
        worth * (1 + 0.1 * state.rng.random(frame.n)) * (frame.area / frame.area.max()) ** (0.1 * state.rng.random())
    )
    for k in stock:
        if not left.any():
            out.append(None)
            continue
        avail = np.zeros(len(frame.problem.stock), dtype=np.int64)
        avail[k] = 1
        mu = np.zeros(avail.size)
        cols = fitted(state, noise * 1e6, mu, left, avail, 3, 24, 2)
        pool = state.pool
        known = np.flatnonzero((pool.stock == k) & (pool.matrix <= left[:, None]).all(axis=0))
        if known.size:
            cols.append(pool.columns[int(known[np.argmax(noise @ pool.matrix[:, known])])])
        if not cols:
            out.append(None)
            continue
        best = max(cols, key=lambda c: (float(noise @ c.counts), c.counts.tobytes()))
        left = left - best.counts
        out.append(best)
    return left, out
