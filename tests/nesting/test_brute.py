"""Bound and plan of small random shops against every plan there is (`brute.py`)."""

from __future__ import annotations

import random
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

import pytest
from brute import Blank, Line, Shear, least
from nesting_jobs import METALS, make_job, polygon, rect, stock

from fabplan.blanks.model import FlatPattern
from fabplan.errors import ProofError
from fabplan.job.model import Job
from fabplan.nesting.check.whole import check_plan
from fabplan.nesting.engine import solve
from fabplan.nesting.engine.problem import Item
from fabplan.nesting.nest import nest
from fabplan.nesting.problem import NoRoomError


@dataclass(frozen=True)
class Shop:
    """One small job, said to the program and to the brute force."""

    patterns: tuple[FlatPattern, ...]
    job: Job
    blanks: tuple[Blank, ...]
    lines: tuple[Line, ...]
    shear: Shear
    slanted: bool


def inches(graduations: int) -> Fraction:
    return Fraction(graduations, 32)


def small_shop(seed: int, *, slanted: bool = False, tiny: bool = False) -> Shop:
    """Up to seven blanks of three kinds, two lines of stock, every limit in play; fewer and smaller with `tiny`."""
    rng = random.Random(seed)
    most = 3 if tiny else 7
    shear = Shear(
        longest_cut=rng.choice([60, 60, 30, 22]),
        reach=rng.choice([60, 60, 14, 9]),
        least_held=rng.choice([1, 1, 2, 3]),
        kerf=rng.choice([0, 0, 0, 1]),
        to_mark=rng.random() < 0.6,
        stages=rng.choice([2, 2, 3]),
    )
    blanks, patterns, fixed = [], [], []
    left = rng.randint(3, most)
    for n in range(rng.randint(1, 3)):
        w, h = rng.randint(3, 6 if tiny else 14), rng.randint(3, 10 if tiny else 18)
        count = max(1, min(left, rng.randint(1, 4)))
        left -= count
        mark = f"P{n}"
        half = slanted and (n == 0 or rng.random() < 0.5)
        lie = rng.choice(["any", "any", "along", "across", "stock"]) if not half else "any"
        if half:
            w, h = max(w, 5), max(h, 5)
            top = rng.choice([0, 0, w // 3])  # a triangle, or a trapezoid whose sides together are the width
            ring = [(0, 0), ((w - top) / 32, 0), (top / 32, h / 32), (0, h / 32)]
            patterns.append(polygon(mark, ring if top else [*ring[:2], ring[3]], count))
        else:
            patterns.append(rect(mark, w, h, count, grain="any" if lie == "stock" else lie))
        if lie == "stock":
            fixed.append(mark)
        blanks.append(Blank(width=w, length=h, count=count, lie=lie, yields=2 if half else 1))  # type: ignore[arg-type]
        if left <= 0:
            break
    lines, stocks = [], []
    for n in range(rng.randint(1, 2)):
        coil = rng.random() < 0.5
        w, h, trim = rng.randint(11, 13 if tiny else 24), rng.randint(12, 15 if tiny else 30), rng.choice([0, 0, 0, 1])
        across, have = rng.random() < 0.4, rng.choice([None, None, 1, 2])
        if have is not None and coil:
            have *= 40
        price = rng.randint(1, 9)
        lines.append(
            Line(coil=coil, width=w, length=h, cost=Fraction(price), on_hand=have, trim=trim, rolled_across=across)
        )
        more: dict[str, Any] = {"trim": inches(trim), "grain": "across" if across else "along"}
        if coil:
            more |= {"longest_cut_off": inches(h), "price": (str(price * 32 * 12), "foot")}
        else:
            more |= {"price": (str(price), "sheet")}
        if have is not None:
            more["on_hand"] = inches(have) if coil else have
        stocks.append(stock(f"s{n}", "coil" if coil else "sheet", inches(w), None if coil else inches(h), **more))
    job = make_job(
        stocks,
        longest_cut=inches(shear.longest_cut),
        reach=inches(shear.reach),
        least_held=inches(shear.least_held),
        kerf=inches(shear.kerf),
        coil_cut_off="scribed" if shear.to_mark else "gauge",
        cutting="strips" if shear.stages == 2 else "stacked-strips",
        may_not_turn=tuple(fixed),
        effort=0 if tiny else 0.02,
        good_enough=Fraction(0),
    )
    return Shop(tuple(patterns), job, tuple(blanks), tuple(lines), shear, slanted)


def compare(shop: Shop, monkey: pytest.MonkeyPatch, *, exact: bool) -> str:
    """Plan the shop and hold it against the brute force; what came of it.

    Small jobs are proved by the engine's exact program; without `exact` its bound for large jobs is what is tried.
    """
    cost = least(shop.blanks, shop.lines, shop.shear)
    monkey.setattr(solve, "EXACT_STATES", 4000 if exact else 0)
    try:
        plan = nest(shop.patterns, shop.job, METALS)
    except NoRoomError:
        assert cost is None or shop.slanted
        return "no room"
    assert check_plan(plan, shop.patterns, shop.job, METALS) == []
    if plan.short:
        return "short"  # the search is no proof that the stock cannot do
    assert plan.bound <= plan.total
    if cost is not None:
        assert plan.bound <= cost, "the bound is above a plan that can be cut"
        if plan.status == "proven" and not shop.slanted:
            assert plan.total <= cost
    if not shop.slanted and (cost is None or cost > plan.total):
        return "deeper"
    return plan.status


SEEDS = range(50)


@pytest.mark.parametrize("seed", SEEDS)
def test_no_tiny_shop_has_a_plan_below_the_proven_least(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    compare(small_shop(seed, slanted=seed % 5 == 0, tiny=True), monkeypatch, exact=seed % 2 == 0)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(500))
def test_no_small_shop_has_a_plan_below_the_proven_least(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    compare(small_shop(seed, slanted=seed % 5 == 0), monkeypatch, exact=seed % 2 == 0)


@pytest.mark.parametrize("seed", [10, 295])
def test_rows_of_slanted_blanks_once_were_bound_too_high(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """A weight of work among equals, and a saw's kerf, had no place in a bound of the metal."""
    compare(small_shop(seed, slanted=True), monkeypatch, exact=seed % 2 == 0)


def test_the_brute_force_finds_what_is_known_by_hand() -> None:
    """A 10 x 10 sheet, one trim: two 6 x 5 side by side do not fit across, one above the other they do."""
    shear = Shear(longest_cut=99, reach=99, least_held=1, kerf=0, to_mark=True, stages=2)
    sheet = Line(coil=False, width=10, length=10, cost=Fraction(1))
    for count, cost in ((2, 1), (3, 2)):
        locked = (Blank(width=6, length=5, count=count, lie="stock"),)
        assert least(locked, (sheet,), shear) == cost
    loose = (Blank(width=6, length=5, count=3),)
    assert least(loose, (sheet,), shear) == 2  # the pinwheel's third would need a cut that is not straight
    coil = Line(coil=True, width=10, length=40, cost=Fraction(2))
    assert least((Blank(width=5, length=3, count=4),), (coil,), shear) == 2 * 6
    assert least((Blank(width=5, length=3, count=4, lie="along"),), (coil,), shear) == 2 * 6
    across = Line(coil=True, width=10, length=40, cost=Fraction(2), rolled_across=True)
    assert least((Blank(width=5, length=3, count=4, lie="along"),), (across,), shear) == 2 * 10
    assert least((Blank(width=11, length=11, count=1),), (sheet,), shear) is None


def test_the_old_fault_is_found_by_the_program_itself(monkeypatch: pytest.MonkeyPatch) -> None:
    """Blanks locked to the stock, laid by its rolling direction: their cheapest sheet was left out of the bound."""
    right = Item.ways
    job = make_job(
        [
            stock("s", "sheet", inches(8), inches(9), grain="across", price=("1", "sheet")),
            stock("t", "sheet", inches(9), inches(9), price=("2", "sheet")),
        ],
        may_not_turn=("P",),
        effort=0,
        good_enough=Fraction(0),
        least_held=inches(1),
    )
    assert nest([rect("P", 4, 9, 2)], job, METALS).total == 1
    monkeypatch.setattr(Item, "ways", lambda item, across: right(replace(item, keeps_frame=False), across))
    with pytest.raises(ProofError, match="less than the proven least"):
        nest([rect("P", 4, 9, 2)], job, METALS)
