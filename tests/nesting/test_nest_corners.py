"""Rarer shops and stock: the plan is proved from scratch, and costs what can be reckoned by hand."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest
from nesting_jobs import METALS, make_job, polygon, rect, stock

from fabplan.nesting.check.whole import check_plan
from fabplan.nesting.model import CutPlan
from fabplan.nesting.nest import nest
from fabplan.nesting.remarks import OpenStacks, Unpriced


def proved(blanks: list[Any], stocks: list[Any], **more: Any) -> CutPlan:
    job = make_job(stocks, **more)
    plan = nest(blanks, job, METALS)
    assert check_plan(plan, blanks, job, METALS) == []
    assert plan.bound <= plan.total
    return plan


def sheets(plan: CutPlan) -> dict[str, int]:
    return {u.name: u.used_count or 0 for u in plan.stock if u.used_count}


MIXED = [rect("A", 300, 410, 20), rect("B", 200, 350, 31), rect("C", 96, 640, 12)]
RHOMB = polygon("R", [(0, 0), (12, 0), (16, 10), (4, 10)], 9)


@pytest.mark.parametrize(
    ("stocks", "more"),
    [
        ([stock("sheet", "sheet", 48, 60)], {"longest_cut": 49}),
        ([stock("sheet", "sheet", 36, 96)], {"longest_cut": 37, "reach": 20}),
        ([stock("coil", "coil", 24), stock("sheet", "sheet", 36, 96, on_hand=2)], {"fewer_setups": Fraction(1, 50)}),
        ([stock("sheet", "sheet", 36, 96, on_hand=7), stock("small", "sheet", 24, 48)], {"effort": 1.0}),
        ([stock("few", "sheet", 36, 96, on_hand=2), stock("coil", "coil", 24)], {"fewer_setups": Fraction(1, 20)}),
        ([stock("coil", "coil", 24, on_hand=("lb", 500)), stock("sheet", "sheet", 36, 96)], {}),
    ],
    ids=[
        "narrow shear",
        "short reach",
        "few setups",
        "sheets of two sizes",
        "few sheets, few setups",
        "pounds on hand",
    ],
)
def test_every_blank_is_cut_from_stock_there_is(stocks: list[Any], more: dict[str, Any]) -> None:
    plan = proved(MIXED, stocks, **more)
    assert plan.short == ()
    for line in stocks:
        if line.form == "sheet" and line.on_hand is not None:
            assert sheets(plan).get(line.name, 0) <= line.on_hand.count


def test_a_sheet_cut_into_four_needs_a_quarter_of_the_count() -> None:
    plan = proved([rect("A", 384, 480, 14)], [stock("sheet", "sheet", 24, 30)], effort=1.0)
    assert (sheets(plan), plan.status) == ({"sheet": 4}, "proven")


def test_the_larger_sheet_goes_first_only_where_it_saves_metal() -> None:
    """Six of 12 x 15 in fill one sheet of 24 x 45 in; two sheets of 24 x 30 in would leave two places empty."""
    both = [stock("short", "sheet", 24, 30), stock("long", "sheet", 24, 45)]
    plan = proved([rect("A", 384, 480, 6)], both, effort=1.0)
    assert (sheets(plan), plan.scrap_share) == ({"long": 1}, 0.0)
    none = [stock("short", "sheet", 24, 30), stock("long", "sheet", 24, 45, on_hand=0)]
    assert sheets(proved([rect("A", 384, 480, 6)], none, effort=1.0)) == {"short": 2}


@pytest.mark.parametrize("grain", ["along", "across"])
@pytest.mark.parametrize("rolled", ["along", "across"])
def test_slanted_blanks_keep_to_the_grain(grain: str, rolled: str) -> None:
    blanks = [polygon("R", RHOMB.outline, 9, grain=grain), polygon("S", [(0, 0), (10, 0), (5, 9)], 6, grain=grain)]
    plan = proved(blanks, [stock("sheet", "sheet", 36, 60, grain=rolled)])
    assert sum(y.repeat * sum(b.mark == "R" for b in y.blanks) for y in plan.layouts) == 9


def test_slanted_blanks_that_cannot_be_had_are_short_by_so_many() -> None:
    plan = proved([RHOMB], [stock("sheet", "sheet", 17, 11, on_hand=2)])
    cut = sum(y.repeat * len(y.blanks) for y in plan.layouts)
    assert plan.short == (("R", 9 - cut),)
    assert cut >= 2


def test_mixed_slanted_blanks_share_strips_or_not_and_both_are_proved() -> None:
    blanks = [
        RHOMB,
        polygon("T", [(0, 0), (14, 0), (0, 9)], 11),
        polygon("U", [(0, 0), (12, 0), (9, 7), (3, 7)], 8),
        rect("A", 150, 222, 6),
    ]
    shared = proved(blanks, [stock("coil", "coil", 24)])
    apart = proved(blanks, [stock("coil", "coil", 24)], pair=False)
    assert shared.total <= apart.total


TRIANGLE = [(0, 0), (9, 0), (4, 7)]


@pytest.mark.parametrize("count", [40, 260])
def test_slanted_blanks_few_or_many_cost_no_more_than_each_from_its_own_rectangle(count: int) -> None:
    blanks = [polygon("T", TRIANGLE, count), rect("A", 200, 300, 11)]
    stocks = [stock("coil", "coil", 24, price=("9.40", "lb"))]
    paired, apart = proved(blanks, stocks, effort=0.1), proved(blanks, stocks, effort=0.1, pair=False)
    assert paired.total < apart.total


def test_single_blanks_locked_to_the_grain_share_a_strip_only_with_their_like() -> None:
    blanks = [
        polygon("L", [(0, 0), (12, 0), (0, 9)], 1),
        polygon("M", [(0, 0), (11, 0), (0, 9)], 2, grain="along"),
        polygon("N", [(0, 0), (10, 0), (0, 8)], 1, grain="across"),
        polygon("O", [(0, 0), (10, 2), (7, 9)], 3),
    ]
    plan = proved(blanks, [stock("coil", "coil", 20)], effort=0.2)
    assert not plan.short


def test_more_stacks_than_can_lie_open_is_said() -> None:
    blanks = [rect(mark, 90 + 17 * n, 110 + 13 * n, 9) for n, mark in enumerate("ABCDEFG")]
    plan = proved(blanks, [stock("coil", "coil", 24)], open_stacks=1)
    assert plan.program is not None
    most = plan.program.most_open_stacks
    assert any(isinstance(n, OpenStacks) and n.asked == 1 for n in plan.notes) == (most > 1)


def test_a_price_left_out_is_said_to_plan_for_metal() -> None:
    stocks = [stock("coil", "coil", 24, price=("9.40", "lb")), stock("sheet", "sheet", 36, 96)]
    plan = proved(MIXED, stocks)
    assert plan.objective == "area"
    assert Unpriced(stock=("sheet",)) in plan.notes


HANDS: dict[str, Any] = {"least_held": 2, "least_gauge": 0.5, "width_tolerance": 0.0625, "least_pull": 12}


def test_where_what_is_left_over_cannot_be_trimmed_fewer_lie_side_by_side() -> None:
    """Two of 11-31/32 in leave 1/16 in of a 24 in coil, too little to cut; one of them is still a strip of one size."""
    plan = proved([rect("A", 383, 1207, 3)], [stock("coil", "coil", 24)], effort=0, longest_cut=52, reach=48, **HANDS)
    alone = next(r for r in plan.rivals if r.way == "one_size")
    assert alone.total is not None and plan.total <= alone.total
