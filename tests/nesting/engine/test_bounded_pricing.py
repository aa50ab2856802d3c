"""The proven least priced with the demand in mind is below the true least of small jobs, and not below the old one."""

from __future__ import annotations

import random
from fractions import Fraction

import pytest

from fabplan.nesting.engine import solve as engine
from fabplan.nesting.engine.problem import Item, Limits, Options, Problem, StockSize


def small(seed: int) -> Problem:
    """Few pieces of few kinds, so that the exact program knows the true least."""
    rng = random.Random(seed)
    wide = rng.choice((12, 20, 24))
    items = tuple(
        Item(key=i, width=rng.randint(2, wide), length=rng.randint(2, 20), count=n, may_turn=rng.random() < 0.5)
        for i, n in enumerate(rng.choice(((1, 1, 1, 2), (2, 2, 1), (1, 3), (4, 2), (1, 1, 1, 1, 1))))
    )
    stock = [
        StockSize(key="s", form="sheet", width=wide, length=rng.randint(24, 40), cost=Fraction(rng.randint(20, 60)))
    ]
    if rng.random() < 0.5:
        stock.append(StockSize(key="c", form="coil", width=rng.randint(20, 26), length=40, cost=Fraction(1)))
    if rng.random() < 0.4:
        stock.append(StockSize(key="o", form="sheet", width=15, length=16, cost=Fraction(3), available=1))
    limits = Limits(
        back_gauge=rng.choice((None, None, 14)),
        longest_cut=rng.choice((None, None, 30)),
        least_held=rng.choice((0, 2)),
        both_directions=rng.random() < 0.6,
    )
    return Problem(items=items, stock=tuple(stock), limits=limits)


def bound(problem: Problem, monkeypatch: pytest.MonkeyPatch) -> Fraction:
    """The proven least without the exact program."""
    with monkeypatch.context() as m:
        m.setattr(engine, "_small", lambda _: False)
        answer = engine.solve(problem, Options(bound_only=True))
    return Fraction(0) if answer.short else answer.bound


def check(seeds: range, monkeypatch: pytest.MonkeyPatch) -> int:
    """How many proven leasts were compared; none may be above the true one."""
    compared = 0
    for seed in seeds:
        problem = small(seed)
        true = engine.solve(problem, Options(effort=0))
        if true.status != "proven":
            continue
        compared += 1
        assert bound(problem, monkeypatch) <= true.cost, seed
    return compared


def test_no_proven_least_is_above_the_true_one(monkeypatch: pytest.MonkeyPatch) -> None:
    assert check(range(25), monkeypatch) > 15


@pytest.mark.slow
@pytest.mark.parametrize("first", range(1000, 1600, 100))
def test_no_proven_least_of_many_is_above_the_true_one(first: int, monkeypatch: pytest.MonkeyPatch) -> None:
    assert check(range(first, first + 100), monkeypatch) > 60


def test_a_strip_of_its_width_for_every_piece_and_no_more(monkeypatch: pytest.MonkeyPatch) -> None:
    """One long piece, the only one that fills a panel: four of it side by side are a panel nobody needs."""
    items = (Item(key="a", width=5, length=30, count=1, may_turn=False), Item(key="b", width=3, length=9, count=3))
    stock = (StockSize(key="c", form="coil", width=20, length=30, cost=Fraction(1)),)
    problem = Problem(items=items, stock=stock, limits=Limits())
    assert bound(problem, monkeypatch) == 30
