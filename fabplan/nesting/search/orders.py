"""Which order of cuts each layout takes, so that the shear program shares its settings.

The same blanks can be freed by ripping or by crosscutting first, and by taking narrow trims first or last. One layout
after another takes the order that makes the work of the whole plan cheapest, until none gains.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction

from fabplan.nesting.cuts.layouts import LayoutDraft, finish
from fabplan.nesting.cuts.order import NotCuttableError
from fabplan.nesting.cuts.program import trees_of
from fabplan.nesting.cuts.sequence import Trees, fewest
from fabplan.nesting.model import Layout
from fabplan.nesting.problem import Group
from fabplan.nesting.search.work import own_seconds

ROUNDS = 2
STEP = 15  # seconds a setting counts here beside what it takes: of two that take as long, the one with fewer to follow

Ways = list[list[Layout]]


def ways_of(drafts: Sequence[LayoutDraft], group: Group) -> Ways | None:
    """Every draft as layouts with its cuts in every order worth trying; None where one cannot be cut at all."""
    ways = [_ways(d, group) for d in drafts]
    return ways if all(ways) else None


def ordered(ways: Ways, group: Group) -> tuple[Layout, ...]:
    """The layouts in the orders of cuts that share settings best."""
    start = [0] * len(ways)
    if not group.second:
        return tuple(w[0] for w in ways)
    trees = Trees()
    ready = [[trees_of(y, trees) for y in w] for w in ways]
    angles = [[{c.angle for c in y.cuts if c.back_gauge is not None} - {90.0} for y in w] for w in ways]
    own = [[own_seconds(group, y) for y in w] for w in ways]
    gauge, stop = Fraction(str(group.labour.set_gauge)) + STEP, Fraction(str(group.labour.set_stop))

    def shared(pick: Sequence[int]) -> Fraction:
        settings, _ = fewest(trees, frozenset().union(*(r[i] for r, i in zip(ready, pick, strict=True))), 1)
        return gauge * settings + stop * len(set().union(*(a[i] for a, i in zip(angles, pick, strict=True))))

    return tuple(w[i] for w, i in zip(ways, descend(own, start, shared), strict=True))


def descend(
    own: Sequence[Sequence[Fraction]], start: Sequence[int], shared: Callable[[Sequence[int]], Fraction]
) -> list[int]:
    """Which way each layout takes: one after another the way that costs least with the rest, a few times over.

    Parameters
    ----------
    own : sequence of sequences of Fraction
        What each way of each layout costs by itself.
    start : sequence of int
    shared : callable
        What the settings cost that all share, by the ways taken.
    """
    pick = list(start)

    def cost() -> Fraction:
        return shared(pick) + sum((o[i] for o, i in zip(own, pick, strict=True)), Fraction(0))

    best = cost()
    for _ in range(ROUNDS):
        before = best
        for n, o in enumerate(own):
            for i in range(len(o)):
                old = pick[n]
                if i == old:
                    continue
                pick[n] = i
                now = cost()
                if now < best:
                    best = now
                else:
                    pick[n] = old
        if best == before:
            break
    return pick


def _ways(draft: LayoutDraft, group: Group) -> list[Layout]:
    """The layout with its cuts in every order worth trying, no two alike."""
    out: list[Layout] = []
    for first in dict.fromkeys((draft.first, "x", "y")):
        for trims_first in (False, True):
            try:
                made = finish(replace(draft, first=first, trims_first=trims_first), group)
            except NotCuttableError:
                continue
            if all(made.cuts != y.cuts for y in out):
                out.append(made)
    return out
