"""What a set of blanks would cost, quickly: to choose between two ways of supplying the same pieces."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

from fabplan.blanks.model import FlatPattern
from fabplan.job.metals import MetalProfile
from fabplan.job.model import Job
from fabplan.nesting.problem import NoRoomError, build_groups
from fabplan.nesting.search.found import Run
from fabplan.nesting.search.priced import quick_worth
from fabplan.nesting.search.search import quick_cost


def weigh(patterns: Sequence[FlatPattern], job: Job, metals: Mapping[str, MetalProfile]) -> Fraction | None:
    """Rough cost of the blanks by quick nests; None when the stock does not make them all.

    The figures of two sets are to be compared with each other, never printed: of a big job they are what the best mix
    of patterns would cost in fractions, of a small one the cost of a first plan. The work is fixed, so the same job
    always gives the same figure.
    """
    run = Run(
        effort=0.0,
        seed=job.nest.try_again,
        margin=Fraction(job.nest.good_enough),
        fewer_setups=Fraction(0),
        offcut_credit=Fraction(0),
        pair=job.nest.pair,
    )
    total = Fraction(0)
    try:
        groups = build_groups(patterns, job, metals)
    except NoRoomError:
        return None
    for group in groups:
        cost = quick_worth(group, run) if group.second else quick_cost(group, run)
        if cost is None:
            return None
        total += cost
    return total
