"""Whole plans: greedy first, then dives that fix patterns of the linear master one after another."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from fabplan.nesting.engine import exact
from fabplan.nesting.engine.bounded import cut_back
from fabplan.nesting.engine.columns import PatternColumn
from fabplan.nesting.engine.frame import HUGE, Ints
from fabplan.nesting.engine.master import master
from fabplan.nesting.engine.state import Plan, SearchState

Floats = npt.NDArray[np.float64]
EXACT_PAIRS = 30_000.0
PENALTY = 0.85
FEW = 90  # pieces left: from here on the master is priced to the end


def fitted(
    state: SearchState,
    pi: Floats,
    mu: Floats,
    want: Ints,
    available: Ints,
    per_view: int,
    thin: int,
    tries: int = 1,
    most: int = 16,
) -> list[PatternColumn]:
    """Good patterns that hold no more than what is wanted, from the stock left.

    The tables bound what one strip holds, not a whole pattern; pieces a pattern holds too many of are made cheaper
    and the tables built again, `tries` times in all.
    """
    out: list[PatternColumn] = []
    frame = state.frame
    for stages in (2, 3) if state.pricer.stages == 3 else (2,):
        price = pi
        for _ in range(tries):
            priced = state.pricer.price(price, mu, want, per_view, False, thin, stages, available, most)
            assert priced.value is not None
            over = np.zeros(frame.n, dtype=bool)
            value = np.floor(np.maximum(pi, 0.0) * priced.scale).astype(np.int64)
            for col in priced.columns:
                over |= col.counts > want
                if available[col.stock] < col.use:
                    continue
                cut = cut_back(frame, col, want, value)
                state.spent += 0.2
                if cut is not None and cut.counts.any():
                    out.append(cut)
            if not over.any():
                break
            price = np.where(over, price * PENALTY, price)
    return out


def greedy(state: SearchState, worth: Floats | None = None) -> tuple[Plan, Ints]:
    """A first plan and what it misses: the pattern with most piece value per cost, as often as it fits.

    Pieces are worth their area, or what is given.
    """
    frame = state.frame
    want, left = frame.demand.copy(), frame.available.copy()
    pi = frame.area.astype(float)
    rates = [_rate(state, k) for k in range(left.size) if left[k] > 0]
    rate = min((r for r in rates if r > 0), default=1.0)  # metal already paid for says nothing of what a piece is worth
    pi = pi * rate * 1.5 if worth is None else worth * 1.5
    plan: Plan = {}
    while want.any():
        state.tick()
        lift = 1.0
        cols: list[PatternColumn] = []
        while not cols and lift < 1e7:
            cols = fitted(state, pi * lift, np.zeros(left.size), want, left, 2, 24)
            lift *= 8
        if not cols:
            break
        col = max(cols, key=lambda c: (float(pi @ c.counts) / max(c.cost, 1e-12), c.counts.tobytes()))
        times: int = int((want[col.counts > 0] // col.counts[col.counts > 0]).min())
        if left[col.stock] < HUGE:
            times = int(min(times, left[col.stock] // col.use))
            left[col.stock] -= times * col.use
        j = state.pool.add(col)
        plan[j] = plan.get(j, 0) + times
        want -= times * col.counts
    return plan, want


def _rate(state: SearchState, k: int) -> float:
    """Cost per area of a stock line."""
    view = next((v for v in state.frame.views if v.stock == k), None)
    if view is None:
        return 1.0
    t = state.frame.tables[view.table]
    area = view.X * t.unit_across * t.unit_along * (1 if view.coil else view.Y)
    return float(state.frame.cost[k]) / area if area else 1.0  # an offcut narrower than the finest strip


def finish(
    state: SearchState, want: Ints, left: Ints, pairs: float = EXACT_PAIRS
) -> list[tuple[PatternColumn, int]] | None:
    """The cheapest end of a plan when little is left; None if too much is left."""
    if state.frame.thin or exact.pairs(want) > pairs or exact.states(want) > 3000:
        return None
    state.spent += exact.effort(state.frame, want)
    return exact.ExactProgram(state.frame, want).solve(left)


def dive(
    state: SearchState,
    start: Floats | None,
    noise: float,
    reprice: int,
    want: Ints | None = None,
    left: Ints | None = None,
    pairs: float = EXACT_PAIRS,
    thin: int = 48,
    tries: int = 1,
    look: int = 1,
) -> tuple[Plan, Ints]:
    """Fix the whole parts of the master's answer, then one pattern at a time, re-pricing for what is left.

    Parameters
    ----------
    state : the search so far: its pool of patterns, and the work it may still take
    start : amounts to begin with (over the pool), or None to solve for what is wanted first
    noise : how far the choice strays from the largest amount
    reprice : pricing rounds after each fixing
    want, left : what to make and the stock to make it from; the whole job by default
    pairs : work the last few patterns may take to be chosen exactly
    thin : panel lengths looked at in pricing
    tries : how often the tables are built again for patterns that hold too many of a piece
    look : how many amounts nearest to whole are tried before one is fixed

    Returns
    -------
    The plan, and what is missing from it when the stock runs out.
    """
    frame, pool = state.frame, state.pool
    want = frame.demand.copy() if want is None else want.copy()
    left = frame.available.copy() if left is None else left.copy()
    plan: Plan = {}

    def take(j: int, times: int) -> int:
        col = pool.columns[j]
        has = col.counts > 0
        times = min(times, int((want[has] // col.counts[has]).min()))
        if left[col.stock] < HUGE:
            times = min(times, int(left[col.stock] // col.use))
        if times > 0:
            plan[j] = plan.get(j, 0) + times
            want[:] -= times * col.counts
            if left[col.stock] < HUGE:
                left[col.stock] -= times * col.use
        return times

    if start is not None:
        for whole in np.flatnonzero(start >= 1 - 1e-6):
            take(int(whole), int(start[whole] + 1e-6))
    while want.any():
        state.tick()
        tail = finish(state, want, left, pairs)
        if tail is not None:
            for col, times in tail:
                j = pool.add(col)
                plan[j] = plan.get(j, 0) + times
            return plan, np.zeros_like(want)
        a = pool.matrix
        picks = np.flatnonzero((a <= want[:, None]).all(axis=0) & (pool.use <= left[pool.stock]))
        lp = master(state, picks, want, left)
        few = want.sum() <= FEW
        for _ in range(reprice + (12 if few else 0)):
            new = fitted(state, lp.pi, lp.mu, want, left, 2, thin, tries + 2 * few)
            new = [c for c in new if float(c.cost - lp.mu[c.stock] * c.use - lp.pi @ c.counts) < -1e-9]
            added = np.setdiff1d(np.array(pool.extend(new), dtype=np.int64), picks)
            if not added.size:
                break
            picks = np.union1d(picks, added)
            lp = master(state, picks, want, left)
        if not picks.size:
            break
        x = lp.x
        done = 0
        for i in np.flatnonzero(x >= 1 - 1e-6):
            done += take(int(picks[i]), int(x[i] + 1e-6))
        if not done:
            score = x + noise * state.rng.random(x.size) * (x > 1e-6) if noise else x
            rank = np.argsort(-score, kind="stable")
            if look > 1:
                rank = _look_ahead(state, picks, rank, x, look, want, left)
            for i in rank:
                if take(int(picks[i]), 1):
                    done = 1
                    break
        if not done:
            break
    return plan, want


def _look_ahead(state: SearchState, picks: Ints, rank: Ints, x: Floats, look: int, want: Ints, left: Ints) -> Ints:
    """The first few of a ranking, ordered by what the master costs once each is fixed."""
    pool = state.pool
    head = [int(i) for i in rank[:look] if x[i] > 1e-6]
    if len(head) < 2:
        return rank
    after = []
    for i in head:
        j = int(picks[i])
        rest = want - pool.columns[j].counts
        have = left.copy()
        if have[pool.stock[j]] < HUGE:
            have[pool.stock[j]] -= int(pool.use[j])
        fits = picks[
            (pool.matrix[:, picks] <= rest[:, None]).all(axis=0) & (pool.use[picks] <= have[pool.stock[picks]])
        ]
        after.append(pool.cost[j] + master(state, fits, rest, have).cost)
    order = np.argsort(np.array(after), kind="stable")
    return np.concatenate([np.array(head, dtype=np.int64)[order], rank[len(head) :]])
