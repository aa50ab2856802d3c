"""The proven least holds for every legal plan: stock rolled across beside stock rolled along, locked blanks, rivals."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from nesting_jobs import METALS, make_job, rect, stock

from fabplan.errors import ProofError
from fabplan.nesting.check.whole import check_plan
from fabplan.nesting.engine.problem import Options, Problem, Solution
from fabplan.nesting.model import Layout, Placed
from fabplan.nesting.nest import nest
from fabplan.nesting.problem import build_groups
from fabplan.nesting.search import engine_run
from fabplan.nesting.search.beaten import bound_that_holds, in_strips
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


def test_a_plan_cut_in_strips_below_the_proven_least_is_a_fault_found_before_printing() -> None:
    job = make_job([stock("coil", "coil", 24)], effort=0)
    blanks = [rect("A", 300, 410, 5), rect("B", 200, 350, 4)]
    plan = nest(blanks, job, METALS)
    (group,) = build_groups(blanks, job, METALS)
    assert bound_that_holds(group, plan.bound, [(plan.total, plan.layouts)]) == plan.bound
    with pytest.raises(ProofError, match="less than the proven least"):
        bound_that_holds(group, plan.total + 1, [(plan.total, plan.layouts)])


def test_the_search_itself_looks_at_every_plan_it_was_offered(monkeypatch: pytest.MonkeyPatch) -> None:
    """With a bound wrong by one part in a hundred the program finds the fault, whatever plan it would have printed."""
    right = engine_run.engine.solve

    def wrong(problem: Problem, options: Options) -> Solution:
        answer = right(problem, options)
        return replace(answer, bound=answer.cost * Fraction(101, 100))

    monkeypatch.setattr(engine_run.engine, "solve", wrong)
    with pytest.raises(ProofError, match="less than the proven least"):
        nest([rect("A", 300, 410, 5)], make_job([stock("coil", "coil", 24)], effort=0), METALS)


def placed(*boxes: tuple[int, int, int, int]) -> Layout:
    """Rectangles (x, y, width, length) on a coil panel of 100 x 100."""
    blanks = tuple(Placed(mark="A", x=x, y=y, width=w, length=h, turned=False) for x, y, w, h in boxes)
    return Layout(
        stock="c", form="coil", metal="m", repeat=1, width=100, length=100, blanks=blanks, cuts=(), offcuts=()
    )


STRIP = ((0, 0, 40, 100), (40, 0, 60, 50))
TRIMMED = (*STRIP, (40, 50, 30, 50))
STACKED = (*STRIP, (40, 50, 30, 50), (70, 50, 30, 40))
DEEPER = (*STRIP, (40, 50, 30, 50), (70, 50, 30, 20), (70, 70, 30, 20))


@pytest.mark.parametrize(
    ("boxes", "stages"), [(STRIP, 2), (TRIMMED, 2), (STACKED, 3), (DEEPER, 4)], ids=["strip", "trim", "stack", "deep"]
)
def test_how_deep_a_layout_is_cut(boxes: tuple[tuple[int, int, int, int], ...], stages: int) -> None:
    job = make_job([stock("c", "coil", 24)], least_held=0)
    (group,) = build_groups([rect("A", 40, 100, 1)], job, METALS)
    for allowed in (2, 3):
        limits = replace(group.limits, stages=allowed)
        assert in_strips(placed(*boxes), limits) == (stages <= allowed)


def test_a_cheaper_plan_cut_deeper_leaves_the_area_bound() -> None:
    job = make_job([stock("c", "coil", 24)], least_held=0)
    (group,) = build_groups([rect("A", 40, 100, 1)], job, METALS)
    deeper = (Fraction(900 * 768), [placed(*DEEPER)])
    assert bound_that_holds(group, Fraction(1000 * 768), [deeper]) == 40 * 100


def test_the_checker_faults_a_rival_below_the_proven_least() -> None:
    blanks, job = [rect("A", 300, 410, 5)], make_job([stock("coil", "coil", 24)], effort=0)
    plan = nest(blanks, job, METALS)
    cheap = replace(plan, rivals=(replace(plan.rivals[0], total=plan.bound / 2), *plan.rivals[1:]))
    assert check_plan(plan, blanks, job, METALS) == []
    (fault,) = check_plan(cheap, blanks, job, METALS)
    assert fault.endswith("costs less than the proven least")
