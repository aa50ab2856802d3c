"""Column generation: the linear master and the pricing tables in turn, until no pattern is worth adding."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from fabplan.nesting.engine.frame import HUGE, Ints
from fabplan.nesting.engine.lp import Master, solve_lp
from fabplan.nesting.engine.state import State

Floats = npt.NDArray[np.float64]
SMOOTH = 0.5
FEW = 8  # new patterns below which cheap rounds give way to full ones
HEAVY_ROUNDS = 4


def dear(state: State) -> Floats:
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
    state: State, picks: Ints | None = None, demand: Ints | None = None, available: Ints | None = None
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


def state_dear(state: State) -> Floats:
    """Leave-out prices, worked out once the singles are in the pool."""
    if state.dear is None:
        state.dear = dear(state)
    return state.dear


def column_generation(state: State, rounds: int) -> Master:
    """Close the linear master over every allowed pattern; every full round also lifts the bound.

    Cheap rounds look at few panel lengths and run while they find something; full rounds then settle it. Duals are
    smoothed toward those of the best bound (P. Wentges, 1997).
    """
    frame, pool = state.frame, state.pool
    centre: Floats | None = None
    best = 0.0
    heavy = state.pricer.heavy()
    level = 0  # 0 few panel lengths, 1 all of them, 2 every strip width as well
    top = 1 if state.pricer.stages < frame.stages else 2
    last = HEAVY_ROUNDS if heavy else rounds
    pure = False
    lp = master(state)
    active = np.arange(len(pool))
    for _ in range(rounds):
        state.tick()
        if level == 2:
            last -= 1
        smooth = level == 2 and not pure and centre is not None
        pi = SMOOTH * centre + (1 - SMOOTH) * lp.pi if smooth and centre is not None else lp.pi
        pure = False
        priced = state.pricer.price(pi, lp.mu, None, 6 if level else 4, level > 0, every=level == 2)
        if priced.worth is not None and priced.value is not None:
            alone = state.mix.add(priced.worth, float((priced.value * frame.demand).sum()) / priced.scale)
            if alone > best:
                best, centre = alone, pi
                state.raise_bound(state.mix.rounded(alone))
            if lp.cost - best <= 1e-7 * max(1.0, lp.cost):
                break
        new = [c for c in priced.columns if float(c.cost - lp.mu[c.stock] * c.use - lp.pi @ c.counts) < -1e-9]
        added = np.setdiff1d(np.array(pool.extend(new), dtype=np.int64), active)
        if level < top and added.size < (FEW if level == 0 else 1):
            level = level + 1 if heavy or top == 1 else 2
            if not added.size:
                continue
        if not added.size:  # nothing new under these duals: look at the master's own
            if not smooth:
                break
            pure = True
            continue
        if active.size > 6 * frame.n + 400:
            reduced = pool.cost[active] - lp.mu[pool.stock[active]] * pool.use[active] - lp.pi @ pool.matrix[:, active]
            keep = np.argsort(reduced, kind="stable")[: 4 * frame.n + 200]
            active = np.sort(active[keep])
        if level == 2 and last <= 0:
            break
        active = np.union1d(active, added)
        lp = master(state, active)
    state.pi, state.mu = lp.pi, lp.mu
    full_x = np.zeros(len(pool))
    full_x[active] = lp.x
    lp.x = full_x
    return lp
