"""Shops of unlike kinds: more work never costs more, every plan is proved piece by piece, bounds hold."""

from __future__ import annotations

import random
from collections.abc import Callable
from fractions import Fraction

import pytest
from engine_problems import prove

from fabplan.nesting.engine.problem import Item, Limits, OffcutCredit, Options, Problem, StockSize
from fabplan.nesting.engine.solve import solve


def sheets(seed: int, kinds: int, *, available: int | None, coil: bool = False, **limits: object) -> Problem:
    rng = random.Random(seed)
    items = tuple(
        Item(
            key=f"p{n}",
            width=rng.randint(9, 60),
            length=rng.randint(9, 80),
            count=rng.randint(1, 9),
            may_turn=rng.random() < 0.7,
        )
        for n in range(kinds)
    )
    stock = [
        StockSize(key="small", form="sheet", width=96, length=120, cost=Fraction(100), available=available),
        StockSize(key="large", form="sheet", width=120, length=240, cost=Fraction(240), available=available),
        StockSize(key="odd", form="sheet", width=72, length=100, cost=Fraction(1, 3) * 190, available=available and 2),
    ]
    if coil:
        stock.append(StockSize(key="coil", form="coil", width=96, length=200, cost=Fraction(17, 20), available=4_000))
    return Problem(items=items, stock=tuple(stock), limits=Limits(**{"longest_cut": 240, **limits}))  # type: ignore[arg-type]


SHOPS = {
    "whole sheets, few of each": sheets(1, 9, available=6),
    "whole sheets, any number": sheets(2, 7, available=None),
    "sheets and a coil": sheets(3, 8, available=5, coil=True),
    "three stages": sheets(4, 7, available=6, stages=3),
    "a saw": sheets(5, 8, available=7, kerf=1),
    "a gauge that ends before the sheet": sheets(6, 7, available=7, back_gauge=70),
    "strips held by the hold-downs": sheets(7, 6, available=8, least_held=8),
    "a shear shorter than the sheets": sheets(9, 8, available=14, longest_cut=97),
    "the same in three stages": sheets(10, 7, available=14, longest_cut=97, stages=3),
    "a short shear and a gauge": sheets(11, 7, available=14, longest_cut=98, back_gauge=50, coil=True),
    "many kinds": sheets(8, 14, available=12, coil=True),
}


FAST = ("whole sheets, any number", "sheets and a coil", "a saw", "the same in three stages")


@pytest.mark.parametrize("shop", [s if s in FAST else pytest.param(s, marks=pytest.mark.slow) for s in SHOPS])
def test_more_work_never_costs_more_and_every_plan_is_sound(shop: str) -> None:
    problem = SHOPS[shop]
    costs = []
    for effort in (0.0, 0.03):
        answer = solve(problem, Options(effort=effort, seed=1, margin=Fraction(0)))
        prove(problem, answer)
        assert not answer.short
        costs.append(answer.cost)
    assert costs[1] <= costs[0]


@pytest.mark.parametrize(
    "shop", [pytest.param("whole sheets, few of each", marks=pytest.mark.slow), "sheets and a coil"]
)
def test_the_bound_holds_for_every_seed(shop: str) -> None:
    answers = [solve(SHOPS[shop], Options(effort=0.02, seed=seed, margin=Fraction(0))) for seed in range(3)]
    assert max(a.bound for a in answers) <= min(a.cost for a in answers)


def test_offcuts_worth_keeping_are_credited() -> None:
    problem = SHOPS["sheets and a coil"]
    credit = OffcutCredit(per_area=Fraction(1, 400), short_side=30, long_side=40)
    answer = solve(problem, Options(effort=0.02, seed=1, margin=Fraction(0), credit=credit))
    prove(problem, answer)


@pytest.mark.slow
def test_fewer_setups_take_no_more_metal_than_allowed() -> None:
    problem = SHOPS["whole sheets, any number"]
    cheap = solve(problem, Options(effort=0.02, seed=1, margin=Fraction(0)))
    plain = solve(problem, Options(effort=0.02, seed=1, margin=Fraction(0), fewer_setups=Fraction(1, 10)))
    prove(problem, plain)
    assert plain.cost <= cheap.cost * Fraction(11, 10)


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: Item(key="p", width=0, length=4, count=1), "sides must be positive"),
        (lambda: Item(key="p", width=3, length=4, count=-1), "the count not negative"),
        (lambda: StockSize(key="s", form="coil", width=0, length=9, cost=Fraction(1)), "sides must be positive"),
        (lambda: StockSize(key="s", form="coil", width=9, length=9, cost=Fraction(-1)), "may not be negative"),
        (
            lambda: StockSize(key="s", form="coil", width=9, length=9, cost=Fraction(1), available=-1),
            "may not be negative",
        ),
        (lambda: Problem(items=(Item(key=1, width=1, length=1, count=1),) * 2, stock=()), "item keys must differ"),
    ],
)
def test_a_problem_that_makes_no_sense_cannot_be_built(make: Callable[[], object], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        make()
