"""Better plans from what is known: integer programs over good columns, for part of the plan at a time."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from fabplan.nesting.engine.dive import finish, fitted
from fabplan.nesting.engine.frame import HUGE, Ints
from fabplan.nesting.engine.lp import Master, solve_mip
from fabplan.nesting.engine.master import master
from fabplan.nesting.engine.state import Plan, SearchState

Floats = npt.NDArray[np.float64]
EXACT_PAIRS = 60_000.0
GROW, SHRINK = 1.15, 0.8


def reduced_costs(state: SearchState, pi: Floats, mu: Floats) -> Floats:
    """Reduced cost of every pool column."""
    pool = state.pool
    out: Floats = pool.cost - mu[pool.stock] * pool.use - pi @ pool.matrix
    return out


def settle(state: SearchState, lp: Master, back: int, nodes: int) -> bool:
    """Keep the whole parts of the master's answer (less `back` of each); an integer program finds the rest."""
    frame, pool = state.frame, state.pool
    whole = np.maximum(np.floor(lp.x + 1e-6) - back, 0).astype(np.int64)
    keep: Plan = {}
    want, left = frame.demand.copy(), frame.available.copy()
    for j in np.flatnonzero(whole):
        col = pool.columns[int(j)]
        has = col.counts > 0
        times = int(min(whole[j], (want[has] // col.counts[has]).min()))
        if times > 0:
            keep[int(j)] = times
            want = want - times * col.counts
            if left[col.stock] < HUGE:
                left[col.stock] -= times * col.use
    goal = state.goal() - sum(pool.columns[j].cost * c for j, c in keep.items())
    new, _ = part(state, want, left, goal, nodes)
    return new is not None and state.offer(_sum(keep, new))


def recut(state: SearchState, lp: Master, pieces: float, nodes: int) -> tuple[bool, bool]:
    """Take patterns with about so many pieces out of the plan and cut them again, better if possible.

    Returns whether it got better, and whether the part was solved to the end.
    """
    assert state.plan is not None
    pool, rng = state.pool, state.rng
    units = np.array([j for j, c in state.plan.items() for _ in range(c)], dtype=np.int64)
    waste = np.maximum(reduced_costs(state, lp.pi, lp.mu)[units], 0)
    weight = waste / max(float(waste.max(initial=0.0)), 1e-12) + 0.1
    order = np.argsort(rng.standard_exponential(units.size) / weight, kind="stable")
    size = np.cumsum(pool.matrix[:, units[order]].sum(axis=0))
    out = units[order[: max(2, int(np.searchsorted(size, pieces)))]]
    gone: Plan = {}
    for j in out:
        gone[int(j)] = gone.get(int(j), 0) + 1
    keep = {j: c - gone.get(j, 0) for j, c in state.plan.items() if c > gone.get(j, 0)}
    made = np.zeros(state.frame.n, dtype=np.int64)
    for j, c in keep.items():
        made += pool.columns[j].counts * c
    want = np.maximum(state.frame.demand - made, 0)
    left = state.available_after(keep)
    new, ended = part(state, want, left, sum(pool.columns[j].cost * c for j, c in gone.items()), nodes)
    return new is not None and state.offer(_sum(keep, new)), ended


def _sum(a: Plan, b: Plan) -> Plan:
    out = dict(a)
    for j, c in b.items():
        out[j] = out.get(j, 0) + c
    return out


def part(state: SearchState, want: Ints, left: Ints, goal: float, nodes: int) -> tuple[Plan | None, bool]:
    """Cheapest way found to make `want` from `left` for less than `goal`, and whether the search was complete.

    Small parts go to the exact program; else the master is priced for this part and an integer program picks among
    the columns that could still be in a cheaper plan.
    """
    pool = state.pool
    state.tick()
    goal -= 1e-9 * abs(goal) if np.isfinite(goal) else 0.0
    if not want.any():
        return {}, True
    tail = finish(state, want, left, EXACT_PAIRS)
    if tail is not None:
        if sum(c.cost * k for c, k in tail) >= goal:
            return None, True
        plan: Plan = {}
        for col, times in tail:
            j = pool.add(col)
            plan[j] = plan.get(j, 0) + times
        return plan, True
    picks = np.flatnonzero((pool.matrix <= want[:, None]).all(axis=0) & (pool.use <= left[pool.stock]))
    lp = master(state, picks, want, left)
    for _ in range(4):
        new = fitted(state, lp.pi, lp.mu, want, left, 2, 48, 2)
        new = [c for c in new if float(c.cost - lp.mu[c.stock] * c.use - lp.pi @ c.counts) < 1e-3 * c.cost]
        added = np.setdiff1d(np.array(pool.extend(new), dtype=np.int64), picks)
        if not added.size:
            break
        picks = np.union1d(picks, added)
        lp = master(state, picks, want, left)
    if lp.cost >= goal:
        return None, True
    reduced = pool.cost[picks] - lp.mu[pool.stock[picks]] * pool.use[picks] - lp.pi @ pool.matrix[:, picks]
    order = np.argsort(reduced, kind="stable")
    order = order[reduced[order] <= goal - lp.cost][:400]
    good = picks[order]
    upper = goal if np.isfinite(goal) else None
    x, ended, work = solve_mip(
        pool.matrix[:, good],
        pool.cost[good],
        want,
        pool.stock[good],
        pool.use[good],
        left,
        nodes,
        state.seconds(),
        upper,
    )
    state.spent += work
    if x is None:
        return None, ended
    return {int(j): int(c) for j, c in zip(good, x, strict=True) if c}, ended


def program(state: SearchState, picks: Ints, want: Ints, left: Ints, nodes: int) -> bool:
    """Integer program over the given columns for the whole job."""
    pool = state.pool
    state.tick()
    upper = None if state.worth is None else state.goal() * (1 - 1e-9)
    x, _, work = solve_mip(
        pool.matrix[:, picks],
        pool.cost[picks],
        want,
        pool.stock[picks],
        pool.use[picks],
        left,
        nodes,
        state.seconds(),
        upper,
    )
    state.spent += work
    if x is None:
        return False
    return state.offer({int(j): int(c) for j, c in zip(picks, x, strict=True) if c})
