"""Few of each piece: patterns from the exact program on small groups of pieces, then an integer program.

With one or two of each piece, patterns priced without regard to the demand are poor columns. The exact program on
about ten pieces yields the best pattern for every part of the group; those of least reduced cost join the pool.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from fabplan.nesting.engine import exact
from fabplan.nesting.engine.columns import PatternColumn
from fabplan.nesting.engine.frame import Ints
from fabplan.nesting.engine.improve import program
from fabplan.nesting.engine.master import master
from fabplan.nesting.engine.state import SearchState

Floats = npt.NDArray[np.float64]
GROUP = 70_000.0  # pairs of parts in one group


def applies(state: SearchState) -> bool:
    """Whether the job is one of few pieces, one to three of each."""
    d = state.frame.demand
    return not state.frame.thin and d.size > 0 and int(d.sum()) <= 160 and float(d.mean()) <= 3.0


def group_columns(state: SearchState, want: Ints, pi: Floats, mu: Floats, keep: int) -> list[PatternColumn]:
    """The patterns of least reduced cost among the best patterns for every part of a group."""
    frame = state.frame
    state.spent += exact.effort(frame, want)
    program_ = exact.ExactProgram(frame, want)
    worth = program_.parts.counts @ pi[program_.parts.rows]
    found: list[tuple[float, int, int]] = []
    for i, view in enumerate(frame.views):
        if frame.available[view.stock] < 1:
            continue
        cost = program_.view_cost(view)
        reduced = cost - worth
        if not view.coil:
            reduced = reduced - mu[view.stock]
        reduced[0] = np.inf
        order = np.argsort(reduced, kind="stable")[:keep]
        found += [(float(reduced[m]), i, int(m)) for m in order if np.isfinite(reduced[m])]
    found.sort()
    return [program_.pattern(i, m) for _, i, m in found[:keep]]


def pick_group(state: SearchState, x: Floats, picks: Ints) -> Ints:
    """About ten pieces that the master's active patterns hold together."""
    frame, pool, rng = state.frame, state.pool, state.rng
    want = np.zeros(frame.n, dtype=np.int64)
    active = picks[x > 1e-6]
    rng.shuffle(active)
    for j in active:
        rows = np.flatnonzero(pool.matrix[:, j])
        rng.shuffle(rows)
        for r in rows:
            more = want.copy()
            more[r] = min(frame.demand[r], want[r] + pool.matrix[r, j])
            if exact.pairs(more) <= GROUP:
                want = more
            elif exact.pairs(want) * 3 > GROUP:
                return want
    return want


def low_demand(state: SearchState, groups: int, nodes: int) -> None:
    """Columns from groups, the master's duals renewed in between, then an integer program over the best."""
    pool, frame = state.pool, state.frame
    for turn in range(groups):
        state.tick()
        picks = np.flatnonzero((pool.matrix <= frame.demand[:, None]).all(axis=0))
        lp = master(state, picks)
        want = pick_group(state, lp.x, picks)
        if want.any():
            pool.extend(group_columns(state, want, lp.pi, lp.mu, 40))
        if turn == groups - 1 or turn % 8 == 7:
            choose(state, nodes, 700)
            if state.done():
                return


def choose(state: SearchState, nodes: int, most: int) -> None:
    """An integer program over the columns that could be in a cheaper plan, at most so many of least reduced cost."""
    pool, frame = state.pool, state.frame
    picks = np.flatnonzero((pool.matrix <= frame.demand[:, None]).all(axis=0))
    lp = master(state, picks)
    reduced = pool.cost[picks] - lp.mu[pool.stock[picks]] * pool.use[picks] - lp.pi @ pool.matrix[:, picks]
    order = np.argsort(reduced, kind="stable")
    order = order[reduced[order] < state.goal() - lp.cost][:most]
    program(state, picks[order], frame.demand, frame.available, nodes)
