"""Laws every answer of the engine keeps, and odd problems it must survive."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from engine_problems import prove, shop_instance
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fabplan.nesting.engine.problem import Item, Limits, OffcutCredit, Options, Problem, StockSize, leaves
from fabplan.nesting.engine.solve import solve

QUICK = Options(effort=0.03)


@st.composite
def problems(draw: st.DrawFn) -> Problem:
    """Small jobs with every limit in play."""
    side = st.integers(3, 30)
    items = draw(st.lists(st.tuples(side, side, st.integers(0, 9), st.booleans()), min_size=1, max_size=5))
    lines = draw(
        st.lists(
            st.tuples(
                st.sampled_from(["coil", "sheet"]),
                st.integers(20, 50),
                st.integers(30, 90),
                st.integers(0, 20),
                st.sampled_from([None, None, 0, 2, 300]),
                st.sampled_from([0, 0, 1]),
                st.booleans(),
            ),
            min_size=1,
            max_size=3,
        )
    )
    return Problem(
        items=tuple(Item(key=f"p{i}", width=w, length=h, count=c, may_turn=t) for i, (w, h, c, t) in enumerate(items)),
        stock=tuple(
            StockSize(
                key=i, form=f, width=w, length=h, cost=Fraction(c, 3), available=a, trim=t, grain_across=g and i == 1
            )  # type: ignore[arg-type]
            for i, (f, w, h, c, a, t, g) in enumerate(lines)
        ),
        limits=Limits(
            longest_cut=draw(st.sampled_from([None, 40, 60])),
            back_gauge=draw(st.sampled_from([None, 15, 30])),
            coil_cut_off_to_mark=draw(st.booleans()),
            least_held=draw(st.sampled_from([0, 2, 4])),
            stages=draw(st.sampled_from([2, 2, 3])),
            kerf=draw(st.sampled_from([0, 0, 1])),
            both_directions=draw(st.booleans()),
            sheet_as_coil=draw(st.booleans()),
        ),
    )


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(problems())
def test_every_answer_proves(problem: Problem) -> None:
    answer = solve(problem, QUICK)
    prove(problem, answer)
    assert (answer.status == "short") == bool(answer.short)


@pytest.mark.slow
@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(problems())
def test_every_answer_of_many_proves(problem: Problem) -> None:
    prove(problem, solve(problem, QUICK))


def slow(name: str) -> object:
    """A shop left to the long run."""
    return pytest.param(name, marks=pytest.mark.slow)


@pytest.mark.parametrize("name", ["w06", slow("w16"), slow("m3")])
def test_same_problem_same_answer(name: str) -> None:
    problem = shop_instance(name)
    one, two = solve(problem, QUICK), solve(problem, QUICK)
    assert (one.patterns, one.cost, one.bound, one.history) == (two.patterns, two.cost, two.bound, two.history)


@pytest.mark.parametrize("name", ["w06", slow("w16")])
def test_bound_and_cost_of_shop_jobs(name: str) -> None:
    problem = shop_instance(name)
    answer = solve(problem, Options(effort=0.1))
    prove(problem, answer)
    assert answer.bound <= answer.cost <= answer.bound * Fraction(101, 100)


def test_history_only_gets_better() -> None:
    history = solve(shop_instance("w06"), QUICK).history
    costs = [h.cost for h in history if h.cost is not None]
    bounds = [h.bound for h in history]
    assert costs == sorted(costs, reverse=True)
    assert bounds == sorted(bounds) and bounds[-1] > 0


def test_never_worse_than_a_plan_handed_in() -> None:
    problem = shop_instance("w06")
    good = solve(problem, Options(effort=0.1))
    again = solve(problem, Options(effort=0), start=[good.patterns])
    prove(problem, again)
    assert again.cost <= good.cost


def test_three_stages_never_worse_than_two() -> None:
    two = solve(shop_instance("t2"))
    three = solve(shop_instance("t2", stages=3))
    assert three.cost <= two.cost


def test_more_freedom_never_lifts_the_proven_cost() -> None:
    tight = solve(shop_instance("t6", longest_cut=None, both_directions=False, sheet_as_coil=False))
    free = solve(shop_instance("t6"))
    assert free.cost <= tight.cost


def test_kerf_costs_metal() -> None:
    plain, sawn = solve(shop_instance("t0")), solve(shop_instance("t0", kerf=1))
    assert plain.cost < sawn.cost


def test_fewer_setups_stay_within_their_share() -> None:
    problem = shop_instance("w06")
    plain = solve(problem, Options(effort=0.05))
    fewer = solve(problem, Options(effort=0.05, fewer_setups=Fraction(1, 50)))
    prove(problem, fewer)
    assert len(fewer.patterns) < len(plain.patterns)
    assert fewer.cost <= plain.cost * Fraction(102, 100)


def test_a_credit_is_no_more_than_the_metal_left() -> None:
    problem = shop_instance("m3")
    rule = OffcutCredit(short_side=24, long_side=48, per_area=Fraction(1, 1000))
    answer = solve(problem, Options(effort=0.05, credit=rule))
    prove(problem, answer)
    left = sum(
        p.repeat * (p.root.width * p.root.length - sum(n.width * n.length for n in leaves(p.root)))
        for p in answer.patterns
    )
    assert 0 <= answer.credit <= rule.per_area * left


COIL = StockSize(key="coil", form="coil", width=20, length=60, cost=Fraction(2))


def test_nothing_to_cut() -> None:
    answer = solve(Problem(items=(), stock=(COIL,)))
    assert (answer.cost, answer.status, answer.patterns) == (0, "proven", ())


def test_piece_larger_than_every_stock_is_short() -> None:
    items = (Item(key="big", width=70, length=80, count=2), Item(key="ok", width=10, length=10, count=3))
    problem = Problem(items=items, stock=(COIL,))
    answer = solve(problem)
    prove(problem, answer)
    assert answer.status == "short" and answer.short == (("big", 2),)


def test_stock_on_hand_runs_out() -> None:
    problem = Problem(items=(Item(key="a", width=20, length=10, count=9),), stock=(replace(COIL, available=55),))
    answer = solve(problem)
    prove(problem, answer)
    assert answer.short == (("a", 4),)


def test_offcuts_that_cost_nothing_go_first() -> None:
    free = StockSize(key="offcut", form="sheet", width=20, length=20, cost=Fraction(0), available=1)
    problem = Problem(items=(Item(key="a", width=10, length=10, count=6),), stock=(COIL, free))
    answer = solve(problem)
    prove(problem, answer)
    assert answer.cost == 20 and {p.stock for p in answer.patterns} == {"coil", "offcut"}


@pytest.mark.parametrize("cost", [Fraction(0), Fraction(1)])
def test_offcuts_lower_the_bound_by_no_more_than_the_coil_they_stand_for(cost: Fraction) -> None:
    """An offcut as wide as a coil, cut in panels along it, is so much coil: the least cost falls by its price."""
    plain = shop_instance("w06", both_directions=False)
    coil = plain.stock[0]
    rest = StockSize(key="rest", form="sheet", width=coil.width, length=coil.length // 4, cost=cost, available=2)
    offered = replace(plain, stock=(*plain.stock, rest))
    before, answer = solve(plain, QUICK), solve(offered, QUICK)
    prove(offered, answer)
    assert before.bound - 2 * rest.length * coil.cost <= answer.bound
    assert answer.cost <= before.cost


def test_asked_to_stop_it_answers_with_the_best_so_far() -> None:
    problem = shop_instance("w02")
    asked = []

    def stop() -> bool:
        asked.append(1)
        return len(asked) > 60

    answer = solve(problem, Options(should_stop=stop))
    prove(problem, answer)
    assert answer.stopped_early and not answer.short
