"""Which order of cuts each layout takes, so that the shear program shares its settings.

The same blanks can be freed by ripping or by crosscutting first, and by taking narrow trims first or last. One layout
after another takes the order that makes the work of the whole plan cheapest, until none gains.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from fabplan.nesting import minutes
from fabplan.nesting.cuts.layouts import Draft, finish
from fabplan.nesting.cuts.order import NotCuttableError
from fabplan.nesting.cuts.program import shear_program
from fabplan.nesting.model import Layout
from fabplan.nesting.problem import Group
from fabplan.nesting.search.work import own_seconds

ROUNDS = 2
STEP = 15  # seconds a step of the program counts here, beside what it takes


def ordered(drafts: Sequence[Draft], group: Group) -> tuple[Layout, ...] | None:
    """The drafts as layouts whose cuts share settings well; None where one cannot be cut at all."""
    ways = [_ways(d, group) for d in drafts]
    if not all(ways):
        return None
    own = [[own_seconds(group, y) for y in w] for w in ways]
    pick = [0] * len(ways)

    def cost() -> Fraction:
        made = [w[i] for w, i in zip(ways, pick, strict=True)]
        program = shear_program(made)
        settings = minutes.seconds_of(minutes.program_work(program, group.labour))
        if program is not None:  # of two that take as long, the one with fewer steps to follow
            settings += STEP * program.settings
        return settings + sum((o[i] for o, i in zip(own, pick, strict=True)), Fraction(0))

    best = cost()
    for _ in range(ROUNDS if group.second else 0):
        before = best
        for n, w in enumerate(ways):
            for i in range(len(w)):
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
    return tuple(w[i] for w, i in zip(ways, pick, strict=True))


def _ways(draft: Draft, group: Group) -> list[Layout]:
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
