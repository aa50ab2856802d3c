"""The linear master over the columns at hand."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from fabplan.nesting.engine.frame import HUGE, Ints
from fabplan.nesting.engine.lp import Master, solve_lp
from fabplan.nesting.engine.state import SearchState

Floats = npt.NDArray[np.float64]


def dear(state: SearchState) -> Floats:
    """Price of leaving a piece out: more than a piece can be worth to any plan.

    Stock without limit takes one more of a piece at what the piece costs alone, so no piece is worth more. Stock on
    hand gives no such ceiling: a free offcut takes one piece at no cost and the next not at all. Where only such stock
    holds a piece, the dearest metal anywhere is taken.
    """
    frame, pool = state.frame, state.pool
    endless = frame.available[pool.stock] >= HUGE
    rate = float((pool.cost / np.maximum(frame.area @ pool.matrix, 1)).max(initial=0.0))
    alone = rate * frame.area.astype(float)
    for r in range(frame.n):
        has = (pool.matrix[r] > 0) & endless
        if has.any():
            alone[r] = float((pool.cost[has] / pool.matrix[r, has]).min())
    price: Floats = np.maximum(alone, 1e-6) * 10 + float(frame.cost.max(initial=0.0)) * 1e-3
    return price


def master(
    state: SearchState, picks: Ints | None = None, demand: Ints | None = None, available: Ints | None = None
) -> Master:
    """Linear master over the pool (or some of its columns)."""
    pool, frame = state.pool, state.frame
    picks = np.arange(len(pool)) if picks is None else picks
    state.spent += 2.0 + 2.5e-4 * picks.size * frame.n
    return solve_lp(
        pool.matrix[:, picks],
        pool.cost[picks],
        frame.demand if demand is None else demand,
        pool.stock[picks],
        pool.use[picks],
        frame.available if available is None else available,
        state_dear(state),
    )


def state_dear(state: SearchState) -> Floats:
    """Leave-out prices, worked out once the singles are in the pool."""
    if state.dear is None:
        state.dear = dear(state)
    return state.dear
