"""Fewer different patterns for a little more metal.

Again and again the pattern that can be repeated longest without making too many of anything is fixed, among those
nearly as good as the best; the rest is priced anew. Several degrees of "nearly" are tried.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import numpy.typing as npt

from fabplan.nesting.engine.dive import finish, fitted
from fabplan.nesting.engine.frame import HUGE, Ints
from fabplan.nesting.engine.master import master
from fabplan.nesting.engine.state import Plan, SearchState, Stop

Floats = npt.NDArray[np.float64]
NEARLY = (0.002, 0.005, 0.01, 0.02, 0.04)


def fewer_patterns(state: SearchState, allowed: Fraction) -> Plan | None:
    """The plan with fewest patterns found that costs at most `allowed` more than the best, as a share; None if none."""
    if state.plan is None or state.cost is None:
        return None
    limit = state.cost * (1 + allowed)
    best, rank = state.plan, (len(state.plan), state.cost)
    try:
        for nearly in NEARLY:
            for first in (True, False):
                plan = _long_runs(state, nearly, float(limit / state.frame.cost_scale), first)
                if plan is None or not state.covers(plan):
                    continue
                cost = state.plan_cost(plan)
                if cost <= limit and (len(plan), cost) < rank:
                    best, rank = plan, (len(plan), cost)
    except Stop:
        pass
    return best


def _long_runs(state: SearchState, nearly: float, limit: float, by_metal: bool) -> Plan | None:
    """A plan of few patterns, each made as often as it can be; None when it takes more than the best so far."""
    frame, pool = state.frame, state.pool
    want, left = frame.demand.copy(), frame.available.copy()
    plan: Plan = {}
    spent = 0.0
    while want.any():
        state.tick()
        if len(plan) >= len(state.plan or ()):
            return None
        tail = finish(state, want, left) if want.sum() <= 12 else None
        if tail is not None:
            for col, times in tail:
                j = pool.add(col)
                plan[j] = plan.get(j, 0) + times
            return plan
        picks = np.flatnonzero((pool.matrix <= want[:, None]).all(axis=0) & (pool.use <= left[pool.stock]))
        lp = master(state, picks, want, left)
        for _ in range(2):
            new = fitted(state, lp.pi, lp.mu, want, left, 4, 48, 2, 24)
            picks = np.union1d(picks, np.array(pool.extend(new), dtype=np.int64)).astype(np.int64)
            lp = master(state, picks, want, left)
        if spent + lp.cost > limit * (1 + 1e-9):
            return None
        j = times = 0
        for i, run in _longest(state, picks, lp.pi, lp.mu, want, left, nearly, by_metal):
            rest, have = want - run * pool.columns[i].counts, left.copy()
            if have[pool.stock[i]] < HUGE:
                have[pool.stock[i]] -= run * int(pool.use[i])
            if not rest.any():
                j, times = i, run
                break
            fits = picks[
                (pool.matrix[:, picks] <= rest[:, None]).all(axis=0) & (pool.use[picks] <= have[pool.stock[picks]])
            ]
            after = master(state, fits, rest, have)
            new = fitted(state, after.pi, after.mu, rest, have, 2, 32, 1)
            fits = np.union1d(fits, np.array(pool.extend(new), dtype=np.int64)).astype(np.int64)
            if spent + run * pool.cost[i] + master(state, fits, rest, have).cost <= limit:
                j, times = i, run
                break
        if times == 0:
            return None
        col = pool.columns[j]
        plan[j] = plan.get(j, 0) + times
        want = want - times * col.counts
        spent += times * col.cost
        if left[col.stock] < HUGE:
            left[col.stock] -= times * col.use
    return plan


def _longest(
    state: SearchState, picks: Ints, pi: Floats, mu: Floats, want: Ints, left: Ints, nearly: float, by_metal: bool
) -> list[tuple[int, int]]:
    """Columns to repeat and how often, the longest exact runs first: most metal, or most pieces, in one run."""
    pool = state.pool
    a = pool.matrix[:, picks]
    runs = np.where(a > 0, want[:, None] // np.maximum(a, 1), 1 << 30).min(axis=0)
    limited = left[pool.stock[picks]] < HUGE
    runs = np.where(limited, np.minimum(runs, left[pool.stock[picks]] // np.maximum(pool.use[picks], 1)), runs)
    runs = np.where(a.any(axis=0), runs, 0).astype(np.int64)
    cost = pool.cost[picks]
    loss = cost - mu[pool.stock[picks]] * pool.use[picks] - pi @ a
    ends = (a * runs == want[:, None]).sum(axis=0)  # pieces finished by the run
    good = (runs > 0) & (loss <= nearly * np.maximum(cost, 1e-12) + 1e-9)
    if not good.any() and (runs > 0).any():
        good = (runs > 0) & (loss <= loss[runs > 0].min() + 1e-9)
    size = runs * (cost if by_metal else a.sum(axis=0) * (1.0 + 0.5 * ends))
    order = np.argsort(-np.where(good, size - 1e-6 * loss, -np.inf), kind="stable")
    return [(int(picks[i]), int(runs[i])) for i in order[:6] if good[i]]
