"""Short searches of less: one line of stock left out, sheets cut one way only, shorter panels.

With more to choose from a search may end dearer than with less: more ways of cutting share its work, and its integer
programs hold more columns that look alike. Every plan of a smaller shop is a plan of this one, so plans of the smaller
shops are starting plans here. It is the plainest neighbourhood of "fix some, search the rest" (P. Hansen,
N. Mladenovic, D. Perez-Brito, "Variable neighborhood decomposition search", Journal of Heuristics 7, 2001).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import combinations
from typing import TypeVar

from fabplan.nesting.engine.columns import given_column
from fabplan.nesting.engine.problem import Options, Problem, Solution
from fabplan.nesting.engine.state import SearchState

S = TypeVar("S")
SHARE = 0.12  # of the search's own work, for each at most
MOST_LINES = 5  # lines of stock left out one by one
MOST_WORK = 3000.0  # spent by the search before this: larger jobs are not helped and take too long
LEAST_SHARE = 0.02


def fewer_lines(lines: Sequence[S]) -> Iterator[tuple[S, ...]]:
    """Less of the stock: every smaller choice of up to three lines, else all but one of them.

    Of more lines than `MOST_LINES` none is left out: with so many one matters little.
    """
    if len(lines) <= 3:
        for n in range(len(lines) - 1, 0, -1):
            yield from combinations(lines, n)
    elif len(lines) <= MOST_LINES:
        yield from combinations(lines, len(lines) - 1)


def smaller_shops(problem: Problem) -> Iterator[Problem]:
    """The problem with less to choose from, one thing at a time."""
    limits = problem.limits
    for stock in fewer_lines(problem.stock):
        yield replace(problem, stock=stock)
    sheets = [s for s in problem.stock if s.form == "sheet"]
    if not sheets:
        return
    if limits.both_directions:
        yield replace(problem, limits=replace(limits, both_directions=False))
        yield replace(problem, limits=replace(limits, across_only=True))
    longest = max(min(s.width, s.length) for s in problem.stock)
    if limits.longest_cut is None or longest < limits.longest_cut:
        yield replace(problem, limits=replace(limits, longest_cut=longest))


def starting_plans(state: SearchState, solve: Callable[[Problem, Options], Solution], work: float) -> None:
    """Offer the plans of the smaller shops, until one is proven or so much work is spent."""
    if state.spent > MOST_WORK or state.frame.credit is not None:
        return
    problem, whole = state.frame.problem, state.options
    pieces = {problem.items[p].key for p in state.frame.items}
    only = tuple(i for i in problem.items if i.key in pieces)
    end = state.spent + work
    for less in smaller_shops(replace(problem, items=only)):
        share = min(SHARE, SHARE * (end - state.spent) / work * 2)
        if state.done() or share < LEAST_SHARE:
            return
        share *= min(1.0, whole.effort)
        answer = solve(
            less,
            replace(whole, effort=share, share=share, least=state.bound, progress=None, fewer_setups=Fraction(0)),
        )
        state.tick(float(answer.work))
        if not answer.short:
            state.offer_columns([(given_column(state.frame, p), p.repeat) for p in answer.patterns])
