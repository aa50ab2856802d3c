"""The engine's front door."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from fractions import Fraction

import numpy as np

from fabplan.nesting.engine import beam, exact
from fabplan.nesting.engine.columns import given_column, pattern
from fabplan.nesting.engine.dive import dive, greedy
from fabplan.nesting.engine.frame import Frame, Ints, build
from fabplan.nesting.engine.generate import column_generation
from fabplan.nesting.engine.improve import GROW, SHRINK, recut, settle
from fabplan.nesting.engine.leaveout import starting_plans
from fabplan.nesting.engine.lowdemand import applies as low_demand_applies
from fabplan.nesting.engine.lowdemand import choose, low_demand
from fabplan.nesting.engine.lp import Floats, Master
from fabplan.nesting.engine.problem import Key, Options, Pattern, Problem, Solution, leaves
from fabplan.nesting.engine.setups import fewer_patterns
from fabplan.nesting.engine.singles import singles
from fabplan.nesting.engine.squeeze import squeeze
from fabplan.nesting.engine.state import Plan, SearchState, Stop

__all__ = ["solve"]

WORK = 14_000.0  # of improvement at effort 1, about milliseconds
CLOSE_WORK = 14_000.0  # of closing the linear master, whatever the effort: the bound must not hang on it
FILLINGS = 6  # plans of filled sheets a turn
WIDEST = 256  # fillings side by side, at most
LESS = 0.4  # of the improvement's work goes to searches of less stock, at most
FIRST_WORK = 5_000.0  # of the first greedy plan, and again of the first dive
PATIENCE = 0.6
REPRICE = 6  # pricing rounds after each fixing of a dive
MANY = 30  # kinds of piece above which dives pay better than integer programs
EXACT_STATES = 4000
EXACT_WORK = 4e8


def solve(problem: Problem, options: Options | None = None, start: Sequence[Sequence[Pattern]] = ()) -> Solution:
    """Cut the problem's blanks from its stock at least cost.

    Parameters
    ----------
    problem : Problem
        Blanks and stock on one integer grid.
    options : Options, optional
        Effort, seed, margins and callbacks.
    start : sequence of plans
        Plans (each a sequence of patterns) that the answer must not be worse than.

    Returns
    -------
    Solution
        Never worse than the best complete start plan.
    """
    options = options or Options()
    frame = build(problem, options.credit)
    state = SearchState(frame, options)
    partial: tuple[Plan, Ints] | None = None
    if frame.n:
        state.pool.extend(singles(frame))
        with suppress(Stop):
            partial = _search(state, start)
    return _answer(frame, state, partial)


def _search(state: SearchState, start: Sequence[Sequence[Pattern]]) -> tuple[Plan, Ints] | None:
    """Everything in turn; returns a partial plan and what it misses when the stock does not suffice."""
    frame = state.frame
    rows = {frame.problem.items[p].key for p in frame.items}
    for plan in start:
        if all(leaf.piece in rows for p in plan for leaf in leaves(p.root)):
            state.offer_columns([(given_column(frame, p), p.repeat) for p in plan])
    if _small(frame):
        program = exact.ExactProgram(frame, frame.demand)
        best = program.solve(frame.available)
        if best is not None:
            state.offer_columns(best)
            if program.proof and state.cost is not None:
                state.raise_bound(sum((frame.unit_cost[c.stock] * c.use * k for c, k in best), Fraction(0)))
            if state.done():
                return None
    if state.options.bound_only:
        lp = column_generation(state, 400, CLOSE_WORK * state.options.share)
        if not state.closed or _covered(state, lp):
            state.raise_bound(state.mix.exact(state.seconds()))
            return {}, np.zeros_like(frame.demand)
        return {}, frame.demand
    if frame.stages == 3:
        state.pricer.stages = 2  # plans of two stages first: three are never worse
    state.mix.add_areas()
    state.raise_bound(state.mix.exact(state.seconds()))
    first, missing = _first(state)
    if state.done():
        return None
    if frame.stages == 3:
        lp = column_generation(state, 400, CLOSE_WORK * state.options.share)
        _spend(state, lp, 0.3)
        state.pricer.stages = 3
    lp = column_generation(state, 400, CLOSE_WORK * state.options.share)
    if state.plan is None and state.closed and not _covered(state, lp):  # the stock cannot suffice: make what can be
        other, lacking = dive(state, lp.x, 0.0, 2)
        more = frame.area @ lacking < frame.area @ missing
        return (other, lacking) if more else (first, missing)
    state.raise_bound(state.mix.exact(state.seconds()))
    _spend(state, lp, 1.0)
    if state.options.fewer_setups > 0:
        with state.within(WORK * max(0.1, state.options.effort)):
            state.chosen = fewer_patterns(state, state.options.fewer_setups)
    return (first, missing) if state.plan is None else None


def _first(state: SearchState) -> tuple[Plan, Ints]:
    """The first greedy plan and what it misses: everything, where it took too long."""
    first: Plan = {}
    missing = state.frame.demand
    with state.within(FIRST_WORK * state.options.share):
        first, missing = greedy(state)
    if not missing.any():
        state.offer(first)
    return first, missing


def _covered(state: SearchState, lp: Master) -> bool:
    """Whether the stock makes every piece, were parts of patterns allowed."""
    demand = state.frame.demand
    return bool((state.pool.matrix[:, : lp.x.size] @ lp.x >= demand * (1 - 1e-6) - 1e-6).all())


def _small(frame: Frame) -> bool:
    """Whether the exact program is affordable."""
    if frame.thin or exact.states(frame.demand) > EXACT_STATES:
        return False
    longest = max((min(v.Y, 2000) for v in frame.views), default=0)
    return exact.pairs(frame.demand) * longest < EXACT_WORK


def _spend(state: SearchState, lp: Master, share: float) -> None:
    """Improve with a share of the work."""
    with state.within(FIRST_WORK * state.options.share):
        _dive(state, lp, 0)
    if state.options.effort <= 0 or state.done():
        return
    if beam.applies(state.frame):  # after all that no effort does, so that some effort never gives a dearer plan
        with state.within(min(FIRST_WORK * state.options.share, 0.3 * WORK * state.options.effort)):
            for width in (8, 32):
                beam.corrected(state, FILLINGS, width)
        if state.done():
            return
    work = WORK * state.options.effort * share
    with state.within(work):
        if state.options.share == 1.0:
            starting_plans(state, solve, work * LESS)
        _improve(state, lp, work)


def _improve(state: SearchState, lp: Master, work: float) -> None:
    """Dives, integer programs and re-cutting until the work is spent, or half of it brought nothing."""
    few, filled = low_demand_applies(state), beam.applies(state.frame)
    pieces, turn, best, since = min(60.0, _most(state)), 0, state.worth, state.spent
    while not state.done():
        turn += 1
        if filled:
            beam.corrected(state, FILLINGS, min(64 << turn // 3, WIDEST), state.pi if turn % 2 else None)
            if turn % 2 == 0 and not state.done():
                choose(state, 50, 300)
        if not state.done() and not (filled and turn % 4):
            pieces = _mend(state, lp, turn, few, pieces)
        if state.worth != best:
            best, since = state.worth, state.spent
        elif state.spent - since > PATIENCE * work:
            return


def _most(state: SearchState) -> float:
    """Most pieces cut again at a time."""
    return max(12.0, 0.6 * float(state.frame.demand.sum()))


def _mend(state: SearchState, lp: Master, turn: int, few: bool, pieces: float) -> float:
    """One turn of dives and of cutting parts of the plan again; how many pieces the next is to take."""
    sheets = all(s.form == "sheet" for s in state.frame.problem.stock)
    if few and not (sheets and turn % 3):
        low_demand(state, 24, 200)
    many = state.frame.n > MANY
    if not many and turn % (4 if sheets else 2) == 1:
        settle(state, lp, 0, 300)
    x = _dive(state, lp, turn)
    if sheets and not state.done():
        squeeze(state, x, 150)
    for _ in range(1 if sheets else 2 if many else 6):
        if state.done() or state.plan is None:
            break
        _, ended = recut(state, lp, pieces, 100)
        pieces = min(max(pieces * (GROW if ended else SHRINK), 12.0), 600.0, _most(state))
    return pieces


def _dive(state: SearchState, lp: Master, turn: int) -> Floats:
    """One dive from the master's answer, keeping back some of it on later turns; returns where it began."""
    grow = len(state.pool) - lp.x.size
    lp.x = np.concatenate([lp.x, np.zeros(grow)])
    back = turn % 3
    x = np.maximum(np.floor(lp.x + 1e-6) - back, 0) if back else lp.x
    plan, missing = dive(state, x, 0.3 if turn else 0.0, REPRICE, tries=2)
    if not missing.any():
        state.offer(plan)
    lp.x = np.concatenate([lp.x, np.zeros(len(state.pool) - lp.x.size)])
    return np.concatenate([x, np.zeros(len(state.pool) - x.size)])


def _answer(frame: Frame, state: SearchState, partial: tuple[Plan, Ints] | None) -> Solution:
    problem = frame.problem
    short: dict[Key, int] = {problem.items[p].key: problem.items[p].count for p in frame.unplaced}
    plan = state.chosen or state.plan
    if plan is None and frame.n:
        plan, missing = partial if partial is not None else ({}, frame.demand)
        for r, m in enumerate(missing):
            if m:
                key = problem.items[frame.items[r]].key
                short[key] = short.get(key, 0) + int(m)
    plan = plan or {}
    cost = state.plan_cost(plan)
    bound = state.bound if state.options.bound_only and not plan else min(state.bound, cost)
    if short:
        status = "short"
    elif cost == bound:
        status = "proven"
    elif cost <= bound * (1 + state.options.margin):
        status = "within_margin"
    else:
        status = "not_proven"
    order = {item.key: i for i, item in enumerate(problem.items)}
    return Solution(
        patterns=tuple(
            pattern(frame, state.pool.columns[j], c)
            for j, c in sorted(plan.items(), key=lambda jc: (state.pool.columns[jc[0]].stock, -jc[1], jc[0]))
        ),
        cost=cost,
        credit=state.plan_credit(plan),
        bound=bound,
        status=status,  # type: ignore[arg-type]
        short=tuple(sorted(short.items(), key=lambda kv: order[kv[0]])),
        stopped_early=state.stopped_early,
        work=state.work,
        history=tuple(state.history),
    )
