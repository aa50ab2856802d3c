"""The engine's front door."""

from __future__ import annotations

from collections.abc import Sequence

from fabplan.nesting.engine.problem import Options, Pattern, Problem, Solution

__all__ = ["solve"]


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
    raise NotImplementedError
