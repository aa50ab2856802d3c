"""Column generation: the linear master and the pricing tables in turn, until no pattern is worth adding."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from fabplan.nesting.engine.dive import greedy
from fabplan.nesting.engine.frame import Ints
from fabplan.nesting.engine.lp import Master
from fabplan.nesting.engine.master import master
from fabplan.nesting.engine.state import SearchState

Floats = npt.NDArray[np.float64]
SMOOTH = 0.5
FEW = 8  # new patterns below which cheap rounds give way to full ones
HEAVY_ROUNDS = 4
MANY = 12  # pieces per way of cutting above which pricing alone brings too few patterns a round
SWEEP = 3  # rounds between greedy plans then
CLOSE = 1.003  # master within this of the bound: greedy plans no longer help


def column_generation(state: SearchState, rounds: int, work: float) -> Master:
    """Close the linear master over every allowed pattern; every full round also lifts the bound.

    No pattern need hold more of a piece than is wanted, and the tables know it as far as they can: strips and the
    strips of one width in a panel are bounded (not where thin pieces need wider strips to be held).

    When so much work is spent it ends unclosed (`state.closed`), at least one full round done.

    Cheap rounds look at few panel lengths and run while they find something; full rounds then settle it. Duals are
    smoothed toward those of the best bound (P. Wentges, 1997).

    With many pieces and few ways of cutting, one round brings few patterns, and all hold the same dear pieces. The
    first duals are then the pieces' areas, and now and then a whole greedy plan under the duals joins: patterns that
    fit together, as in sequential value correction (G. Belov, G. Scheithauer, INFORMS Journal on Computing 19, 2007).
    """
    frame, pool = state.frame, state.pool
    centre: Floats | None = None
    best = 0.0
    end = state.spent + work
    state.closed = False
    heavy = state.pricer.heavy()
    level = 0  # 0 few panel lengths, 1 all of them, 2 every strip width as well
    top = 1 if state.pricer.stages < frame.stages else 2
    last = HEAVY_ROUNDS if heavy else rounds
    pure = False
    many = frame.n > MANY * len(frame.views) and top == 2 and not heavy and bool((frame.cost > 0).any())
    few = min(FEW, len(frame.views)) if many else FEW
    cap = frame.demand if not frame.thin and state.pricer.stages == 2 and frame.stages == 2 else None
    lp = master(state)
    active = np.arange(len(pool))
    if many:
        best, centre, added = _area_bound(state, lp, cap)
        active = np.union1d(active, added)
        lp = master(state, active)
    for turn in range(rounds):
        state.tick()
        if state.spent > end:  # what is known of the bound so far is true; without a bound, one full round
            if best > 0 or top == 1:
                break
            level = top
        if level == 2:
            last -= 1
        smooth = (level == 2 or many) and not pure and centre is not None
        pi = SMOOTH * centre + (1 - SMOOTH) * lp.pi if smooth and centre is not None else lp.pi
        pure = False
        priced = state.pricer.price(pi, lp.mu, cap, 6 if level else 4, level > 0, every=level == 2)
        if priced.worth is not None and priced.value is not None:
            alone = state.mix.add(priced.worth, float((priced.value * frame.demand).sum()) / priced.scale)
            if alone > best:
                best, centre = alone, pi
                state.raise_bound(state.mix.rounded(alone))
            if lp.cost - best <= 1e-7 * max(1.0, lp.cost):
                state.closed = True
                break
        new = [c for c in priced.columns if float(c.cost - lp.mu[c.stock] * c.use - lp.pi @ c.counts) < -1e-9]
        added = np.setdiff1d(np.array(pool.extend(new), dtype=np.int64), active)
        if level < top and added.size < (few if level == 0 else 1):
            level = level + 1 if heavy or top == 1 else 2
            if not added.size:
                continue
        if not added.size:  # nothing new under these duals: look at the master's own
            if not smooth:
                state.closed = True
                break
            pure = True
            continue
        if many and turn % SWEEP == 0 and centre is not None and lp.cost > CLOSE * best:
            added = np.union1d(added, _sweep(state, lp.pi, centre))
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


def _area_bound(state: SearchState, lp: Master, cap: Ints | None) -> tuple[float, Floats, Ints]:
    """Bound (scaled cost) under duals that go by area, those duals made feasible, and the patterns found."""
    frame = state.frame
    pi: Floats = frame.area.astype(np.float64) * (lp.cost / float(frame.area @ frame.demand))
    priced = state.pricer.price(pi, lp.mu, cap, 6, True)
    assert priced.worth is not None and priced.value is not None
    bound = state.mix.add(priced.worth, float((priced.value * frame.demand).sum()) / priced.scale)
    state.raise_bound(state.mix.rounded(bound))
    return bound, pi * (bound / lp.cost), np.array(state.pool.extend(priced.columns), dtype=np.int64)


def _sweep(state: SearchState, pi: Floats, centre: Floats) -> Ints:
    """A greedy plan with pieces worth something between two sets of duals; its patterns."""
    share = state.rng.random()
    plan, missing = greedy(state, (1 - share) * pi + share * centre)
    if not missing.any():
        state.offer(plan)
    return np.array(sorted(plan), dtype=np.int64)
