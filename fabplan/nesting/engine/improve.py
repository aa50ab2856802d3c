"""Better plans from what is known: an integer program over good columns, and re-cutting parts of the plan."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from fabplan.nesting.engine.dive import dive, finish
from fabplan.nesting.engine.frame import Ints
from fabplan.nesting.engine.generate import master
from fabplan.nesting.engine.lp import Master, solve_mip
from fabplan.nesting.engine.state import Plan, State

Floats = npt.NDArray[np.float64]


def reduced_costs(state: State, pi: Floats, mu: Floats) -> Floats:
    """Reduced cost of every pool column."""
    pool = state.pool
    return pool.cost - mu[pool.stock] * pool.use - pi @ pool.matrix


def pool_program(state: State, lp: Master, columns: int, nodes: int) -> bool:
    """Integer program over the columns of least reduced cost and those of the best plan."""
    pool = state.pool
    reduced = reduced_costs(state, lp.pi, lp.mu)
    slack = np.inf
    if state.cost is not None:
        slack = float(state.cost / state.frame.cost_scale) - lp.cost + 1e-9
    order = np.argsort(reduced, kind="stable")
    picks = order[reduced[order] <= slack][:columns]
    if state.plan:
        picks = np.union1d(picks, np.array(list(state.plan), dtype=np.int64))
    return program(state, picks, state.frame.demand, state.frame.available, nodes)


def program(state: State, picks: Ints, want: Ints, left: Ints, nodes: int) -> bool:
    """Solve the integer program over `picks` for the whole job and offer the answer."""
    pool = state.pool
    state.tick()
    upper = None
    if state.cost is not None:
        upper = float(state.cost / state.frame.cost_scale) * (1 - 1e-9)
    x, _ = solve_mip(
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
    if x is None:
        return False
    return state.offer({int(j): int(c) for j, c in zip(picks, x, strict=True) if c})


def recut(state: State, lp: Master, size: int, nodes: int) -> bool:
    """Take some patterns out of the plan and cut their pieces again, better if possible."""
    assert state.plan is not None
    state.tick()
    pool, rng = state.pool, state.rng
    units = np.array([j for j, c in state.plan.items() for _ in range(c)], dtype=np.int64)
    waste = reduced_costs(state, lp.pi, lp.mu)[units]
    weight = np.maximum(waste, 0) / max(float(waste.max(initial=0.0)), 1e-12) + 0.15
    out = rng.choice(units.size, size=min(size, units.size), replace=False, p=weight / weight.sum())
    gone: Plan = {}
    for i in out:
        gone[int(units[i])] = gone.get(int(units[i]), 0) + 1
    keep = {j: c - gone.get(j, 0) for j, c in state.plan.items() if c > gone.get(j, 0)}
    made = np.zeros(state.frame.n, dtype=np.int64)
    for j, c in keep.items():
        made += pool.columns[j].counts * c
    want = np.maximum(state.frame.demand - made, 0)
    left = state.available_after(keep)
    new = part(state, want, left, gone, nodes)
    if new is None:
        return False
    plan = dict(keep)
    for j, c in new.items():
        plan[j] = plan.get(j, 0) + c
    return state.offer(plan)


def part(state: State, want: Ints, left: Ints, old: Plan, nodes: int) -> Plan | None:
    """Cheapest way found to make `want` from `left`, or None if no better than `old`."""
    pool = state.pool
    goal = sum(pool.columns[j].cost * c for j, c in old.items()) * (1 - 1e-9)
    if not want.any():
        return {}
    tail = finish(state, want, left, 200_000.0)
    if tail is not None:
        cost = sum(c.cost * k for c, k in tail)
        if cost >= goal:
            return None
        plan: Plan = {}
        for col, times in tail:
            j = pool.add(col)
            plan[j] = plan.get(j, 0) + times
        return plan
    plan2 = dive(state, None, 0.0, 2, want, left)
    best: Plan | None = None
    if plan2 is not None and state.covers_part(plan2, want, left):
        cost = sum(pool.columns[j].cost * c for j, c in plan2.items())
        if cost < goal:
            best, goal = plan2, cost * (1 - 1e-9)
    picks = np.flatnonzero((pool.matrix <= want[:, None]).all(axis=0) & (pool.use <= left[pool.stock]))
    lp = master(state, picks, want, left)
    if lp.cost >= goal:
        return best
    reduced = pool.cost[picks] - lp.mu[pool.stock[picks]] * pool.use[picks] - lp.pi @ pool.matrix[:, picks]
    good = picks[np.argsort(reduced, kind="stable")[:250]]
    good = good[
        (pool.cost[good] - lp.mu[pool.stock[good]] * pool.use[good] - lp.pi @ pool.matrix[:, good])
        <= goal - lp.cost + 1e-9
    ]
    x, _ = solve_mip(
        pool.matrix[:, good],
        pool.cost[good],
        want,
        pool.stock[good],
        pool.use[good],
        left,
        nodes,
        state.seconds(),
        goal,
    )
    if x is None:
        return best
    return {int(j): int(c) for j, c in zip(good, x, strict=True) if c}
