"""More never costs more: another line of stock, a wider limit, more effort, leave to turn a blank.

Seeded random small shops, each planned before and after one such change. Every plan of the shop before is a plan of the
shop after, so a dearer one shows a search that lost its way, not a law of cutting.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Any

import pytest
from nesting_jobs import METALS, make_job, rect, stock

from fabplan.job.model import Stock
from fabplan.labour import NO_LABOUR, Labour
from fabplan.nesting.nest import nest

INCH = 32
EFFORT = 0.02
RATES = {"least metal": NO_LABOUR, "metal and labour": Labour(rate_pounds=6.0)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Shop:
    """A small shop: (width, length, count, may turn) of its blanks, its stock and limits."""

    blanks: tuple[tuple[int, int, int, bool], ...]
    stock: tuple[Stock, ...]
    limits: dict[str, Any] = field(default_factory=dict)
    effort: float = EFFORT

    def total(self, labour: Labour) -> Fraction | None:
        """What its plan costs; None where the stock does not make it all."""
        blanks = [
            rect(f"B{i}", w, h, n, grain="any" if turn else "along") for i, (w, h, n, turn) in enumerate(self.blanks)
        ]
        job = make_job(self.stock, effort=self.effort, good_enough=Fraction(0), **self.limits)
        plan = nest(blanks, job.model_copy(update={"labour": labour}), METALS)
        return None if plan.short else plan.total


def line(rng: random.Random, name: str) -> Stock:
    """A line of stock that takes every blank."""
    form = rng.choice(["coil", "sheet", "sheet", "offcut"])
    if form == "coil":
        return stock(name, "coil", rng.randint(20, 30), longest_cut_off=rng.randint(48, 72))
    have = {"on_hand": rng.randint(1, 2)} if form == "offcut" else {}
    return stock(name, form, rng.randint(20, 36), rng.randint(30, 60), **have)


def shop(rng: random.Random, kinds: int, count: int) -> Shop:
    """A shop with one or two lines of stock, one of them without end, and so many of so many kinds at most."""
    blanks = tuple(
        (rng.randint(6, 38) * INCH // 2, rng.randint(6, 38) * INCH // 2, rng.randint(1, count), rng.random() < 0.6)
        for _ in range(rng.randint(2, kinds))
    )
    endless = (
        stock("main", "coil", rng.randint(20, 30), longest_cut_off=60)
        if rng.random() < 0.4
        else stock("main", "sheet", rng.randint(20, 36), rng.randint(40, 80))
    )
    more = (line(rng, "other"),) if rng.random() < 0.5 else ()
    limits = {"longest_cut": 60, "reach": rng.choice([24, 48]), "least_held": rng.choice([0, 1, 2])}
    return Shop(blanks=blanks, stock=(endless, *more), limits=limits)


def with_stock(s: Shop, rng: random.Random) -> Shop:
    """One more line of stock."""
    return replace(s, stock=(*s.stock, line(rng, "new")))


def with_wider_limit(s: Shop, rng: random.Random) -> Shop:
    """A longer shear, a deeper gauge, or hands that hold less."""
    key, value = rng.choice([("longest_cut", 120), ("reach", 60), ("least_held", 0)])
    return replace(s, limits={**s.limits, key: value})


def with_effort(s: Shop, rng: random.Random) -> Shop:
    """A longer search."""
    return replace(s, effort=s.effort * rng.choice([2, 5]))


def with_turning(s: Shop, rng: random.Random) -> Shop:
    """Every blank may be turned."""
    return replace(s, blanks=tuple((w, h, n, True) for w, h, n, _ in s.blanks))


CHANGES: tuple[Callable[[Shop, random.Random], Shop], ...] = (with_stock, with_wider_limit, with_effort, with_turning)


def dearer(seed: int, labour: Labour, kinds: int, count: int) -> str:
    """What a change made dearer in the shop of this seed; nothing where all is well."""
    rng = random.Random(seed)
    before = shop(rng, kinds, count)
    change = CHANGES[seed % len(CHANGES)]
    after = change(before, rng)
    had = before.total(labour)
    has = after.total(labour)
    if had is None or (has is not None and has <= had):
        return ""
    now = "no plan" if has is None else f"{float(has):g}"
    return f"seed {seed}, {change.__name__}: {float(had):g} before, {now} after"


@pytest.mark.parametrize(("rate", "shops"), [("least metal", 40), ("metal and labour", 1)])
def test_more_costs_no_more(rate: str, shops: int) -> None:
    faults = [fault for seed in range(shops) if (fault := dearer(seed, RATES[rate], 2, 3))]
    assert not faults


@pytest.mark.slow
@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize("first", range(1000, 1500, 50))
def test_more_costs_no_more_in_many_shops(first: int, rate: str) -> None:
    """Half of them tiny, so that the exact program knows the least; the others are for the search."""
    faults = [
        fault
        for seed in range(first, first + 50)
        if (fault := dearer(seed, RATES[rate], *((5, 6) if seed % 8 < 4 else (12, 3))))
    ]
    assert not faults


def test_a_dearer_plan_would_be_told(monkeypatch: pytest.MonkeyPatch) -> None:
    costs = iter([Fraction(5), Fraction(6)])
    monkeypatch.setattr(Shop, "total", lambda *_: next(costs))
    assert dearer(3, NO_LABOUR, 2, 2) == "seed 3, with_turning: 5 before, 6 after"
