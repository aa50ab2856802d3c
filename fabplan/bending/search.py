"""Best-first search over explicit states with costs compared place by place.

One engine serves both families: the folds of flat pieces and the bends of sections. Costs are tuples of whole
numbers, all >= 0, compared left to right; they add place by place. With an estimate that never falls by more than
the cost of a move (in every place), the first time a goal leaves the queue its cost is least: the order is proven.

A move's geometry may be dear to check, so it is looked at only when the move leaves the queue (`OrderProblem.allowed`):
a move that fails then is dropped, and its target stays open for other ways of reaching it.

See Hart, Nilsson & Raphael, "A Formal Basis for the Heuristic Determination of Minimum Cost Paths", IEEE
Transactions on Systems Science and Cybernetics 4(2), 1968.
"""

from __future__ import annotations

import heapq
import operator
from collections.abc import Hashable, Iterable
from dataclasses import dataclass
from typing import Generic, Protocol, TypeVar

Cost = tuple[int, ...]
S = TypeVar("S", bound=Hashable)
A = TypeVar("A")


class OrderProblem(Protocol[S, A]):
    """What the engine needs to know."""

    def starts(self) -> Iterable[tuple[Cost, S]]:
        """Start states with their cost."""

    def done(self, state: S) -> bool:
        """Whether nothing is left to do."""

    def moves(self, state: S) -> Iterable[tuple[Cost, A, S]]:
        """Cost, action and next state of every move that may be possible."""

    def allowed(self, state: S, action: A) -> bool:
        """The dear part: whether the move is really possible."""

    def estimate(self, state: S) -> Cost:
        """A cost never above what is left, and never falling faster than the moves cost."""

    def progress(self, state: S) -> int:
        """How much is done: of equal costs the furthest state is taken first."""


@dataclass(frozen=True, slots=True)
class OrderFound(Generic[S, A]):
    """What a search came to.

    Attributes
    ----------
    cost : tuple or None
        None when no order was found.
    path : tuple
        (state before, action, state after) of each move.
    proven : bool
        With a path: its cost is least. Without: no path exists. False when the search was cut short.
    states : int
        States settled.
    reached : tuple
        The settled states (to say how far a failed search got).
    """

    cost: Cost | None
    path: tuple[tuple[S, A, S], ...]
    proven: bool
    states: int
    reached: tuple[S, ...]


def add(a: Cost, b: Cost) -> Cost:
    """Sum place by place."""
    return tuple(map(operator.add, a, b))


def search(problem: OrderProblem[S, A], *, most_states: int | None = None, settle: bool = False) -> OrderFound[S, A]:
    """Least-cost order, or proof that there is none.

    Parameters
    ----------
    problem : OrderProblem
    most_states : int, optional
        Give up after settling so many states; the answer is then not proven.
    settle : bool
        Take the furthest state first and stop at any goal: a good order fast, proven only when none exists.
    """
    queue: list[tuple[int, Cost, int, int, Cost, S, tuple[S, A] | None]] = []
    tick = 0
    for cost, state in problem.starts():
        done = -problem.progress(state)
        heapq.heappush(
            queue, (done if settle else 0, add(cost, problem.estimate(state)), done, tick, cost, state, None)
        )
        tick += 1
    came: dict[S, tuple[S, A] | None] = {}
    while queue:
        *_, cost, state, parent = heapq.heappop(queue)
        if state in came or (parent is not None and not problem.allowed(*parent)):
            continue
        came[state] = parent
        if problem.done(state):
            return OrderFound(cost, _trace(came, state), not settle, len(came), tuple(came))
        if most_states is not None and len(came) >= most_states:
            return OrderFound(None, (), False, len(came), tuple(came))
        for step, action, after in problem.moves(state):
            if after in came:
                continue
            g = add(cost, step)
            done = -problem.progress(after)  # of equal costs the furthest first
            f = add(g, problem.estimate(after))
            heapq.heappush(queue, (done if settle else 0, f, done, tick, g, after, (state, action)))
            tick += 1
    return OrderFound(None, (), True, len(came), tuple(came))


def _trace(came: dict[S, tuple[S, A] | None], state: S) -> tuple[tuple[S, A, S], ...]:
    path: list[tuple[S, A, S]] = []
    while (link := came[state]) is not None:
        path.append((link[0], link[1], state))
        state = link[0]
    return tuple(reversed(path))
