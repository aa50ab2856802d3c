"""The proven least holds for every legal plan: stock rolled across beside stock rolled along, locked blanks, rivals."""

from __future__ import annotations

from fractions import Fraction

import pytest
from nesting_jobs import METALS, make_job, rect, stock

from fabplan.nesting.nest import nest
from fabplan.nesting.problem import build_groups
from fabplan.nesting.search.pieces import rectangle
from fabplan.nesting.search.to_engine import engine_problem

LOCKED = [rect("S", 83, 912, 40, grain="along"), rect("R", 244, 1423, 8)]
ROLLED = [stock("coil", "coil", "32.8125", grain="across"), stock("sheet", "sheet", "27.25", "61.5625")]
CHEAPEST = 1050 * 5914  # an eight-panel plan found by hand: the whole coil's width times 184-13/16 in


def test_a_locked_blank_lies_along_stock_rolled_across_too() -> None:
    blanks = [LOCKED[1]]
    job = make_job(ROLLED, may_not_turn=("R",), coil_cut_off="gauge")
    (group,) = build_groups(blanks, job, METALS)
    problem = engine_problem(group, [rectangle(b) for b in group.blanks])
    (item,) = problem.items
    assert [s.grain_across for s in problem.stock] == [True, False]
    assert (item.width, item.length) == (244, 1423)
    assert item.ways(True) == item.ways(False) == (False,)


@pytest.mark.parametrize("few", [Fraction(0), Fraction(3, 100)])
def test_the_proven_least_counts_stock_rolled_either_way(few: Fraction) -> None:
    free = [rect("S", 83, 912, 40), LOCKED[1]]
    job = make_job(ROLLED, may_not_turn=("R",), coil_cut_off="gauge", effort=0, fewer_setups=few)
    plan = nest(free, job, METALS)
    assert plan.bound <= CHEAPEST
    assert all(r.total is None or r.total >= plan.bound for r in plan.rivals)


def test_a_blank_with_grain_turns_with_the_stock_and_one_that_keeps_its_frame_does_not() -> None:
    job = make_job(ROLLED, may_not_turn=("R",), coil_cut_off="gauge")
    (group,) = build_groups(LOCKED, job, METALS)
    grained, kept = engine_problem(group, [rectangle(b) for b in group.blanks]).items
    assert (grained.ways(False), grained.ways(True)) in {((False,), (True,)), ((True,), (False,))}
    for item, blank in ((grained, group.blanks[0]), (kept, group.blanks[1])):
        for line in group.stock:
            (turned,) = item.ways(line.grain_across)
            laid = (item.length, item.width) if turned else (item.width, item.length)
            (own,) = blank.ways(line)
            assert laid == ((blank.length, blank.width) if own else (blank.width, blank.length))
