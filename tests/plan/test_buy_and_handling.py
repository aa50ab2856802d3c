"""The buying list and the weights to lift: right ones are proved, any wrong figure in them is found."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from fabplan.errors import ProofError
from fabplan.job.load import load_job
from fabplan.job.model import Job
from fabplan.plan import buy, handling
from fabplan.plan.check_buy import check_buy
from fabplan.plan.check_handling import check_handling
from fabplan.plan.make import make_plan
from fabplan.plan.model import Amount, BuyLine, Lift, Plan

PIECES = """
[job]
name = "Well house"
number = "W-3"
{units}batch = 12
[metal]
use = "copper-16oz"
[[piece]]
mark = "A"
kind = "rectangle"
count = 31
width = "10 in"
length = "30 in"
[[piece]]
mark = "B"
kind = "rectangle"
count = 5
width = "34 in"
length = "40 in"
[handling]
carry_limit = "30 lb"
lift_limit = "300 lb"
"""
COIL = '[[stock]]\nname = "coil"\nform = "coil"\nwidth = "24 in"\nlongest_cut_off = "60 in"\n'
SHEET = '[[stock]]\nname = "sheet"\nform = "sheet"\nwidth = "36 in"\nlength = "96 in"\n'
OFFCUT = '[[stock]]\nname = "drop"\nform = "offcut"\nwidth = "10-1/2 in"\nlength = "31 in"\non_hand = 2\n'
SHOPS = {
    "bought": COIL + 'price = "9.40 per lb"\n' + SHEET + 'price = "160 per sheet"\n',
    "on hand": COIL + 'price = "12 per foot"\non_hand = "60 ft"\n' + SHEET + 'price = "160 per sheet"\non_hand = 9\n',
    "weighed": COIL + 'price = "19.15 per kg"\non_hand = "90 lb"\n' + SHEET + 'price = "9 per lb"\n',
    "by the metre": COIL + 'price = "41 per meter"\n' + SHEET + 'price = "160 per sheet"\non_hand = 4\n' + OFFCUT,
    "price of one only": COIL + 'price = "9.40 per lb"\n' + SHEET,
}


def planned(folder: Path, stock: str, units: str = "") -> Plan:
    path = folder / "job.toml"
    path.write_text(PIECES.format(units=units) + stock, encoding="utf-8")
    return make_plan(load_job(path), effort=0, should_stop=lambda: True)


@pytest.fixture(scope="module", params=sorted(SHOPS))
def plan(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Plan:
    return planned(tmp_path_factory.mktemp("shop"), SHOPS[request.param])


def buy_faults(plan: Plan, lines: Sequence[BuyLine], job: Job | None = None) -> list[str]:
    return check_buy(lines, plan.cut_plan, job or plan.job, plan.metals)


def lift_faults(plan: Plan, lifts: Sequence[Lift]) -> list[str]:
    return check_handling(lifts, plan.cut_plan, plan.patterns, plan.roof, plan.job, plan.metals)


def more(amount: Amount, by: int = 1) -> Amount:
    if amount.length is not None:
        return replace(amount, length=amount.length + by)
    return replace(amount, count=(amount.count or 0) + by)


def test_right_lists_are_proved(plan: Plan) -> None:
    assert plan.buy and plan.lifts
    assert buy_faults(plan, plan.buy) == []
    assert lift_faults(plan, plan.lifts) == []


WRONG_LINES: dict[str, Callable[[BuyLine], BuyLine]] = {
    "more needed": lambda b: replace(b, need=more(b.need)),
    "more pulled": lambda b: replace(b, pull=more(b.pull)),
    "less bought": lambda b: replace(b, buy=more(b.buy, -1)),
    "pulled and bought swapped": lambda b: replace(b, pull=b.buy, buy=b.pull),
    "something left": lambda b: replace(b, left=more(b.left or b.need)),
    "half the price": lambda b: replace(b, price=b.price / 2 if b.price else Decimal(1)),
    "a cent more": lambda b: replace(b, price=(b.price or Decimal(0)) + Decimal("0.01")),
    "another metal": lambda b: replace(b, metal="zinc-0.7mm"),
    "another form": lambda b: replace(b, form="offcut" if b.form == "sheet" else "sheet"),
    "twice the weight": lambda b: replace(b, need=replace(b.need, pounds=2 * b.need.pounds)),
    "a count for a length": lambda b: replace(b, need=replace(b.need, length=b.need.count, count=b.need.length)),
}


@pytest.mark.parametrize("what", WRONG_LINES)
def test_any_wrong_line_is_found(plan: Plan, what: str) -> None:
    for n, line in enumerate(plan.buy):
        lines = [*plan.buy[:n], WRONG_LINES[what](line), *plan.buy[n + 1 :]]
        assert buy_faults(plan, lines), (what, line)


def test_lines_left_out_or_twice_are_found(plan: Plan) -> None:
    assert buy_faults(plan, plan.buy[1:]) == [f"{plan.buy[0].stock} is cut and not on the buying list"]
    assert buy_faults(plan, (*plan.buy, plan.buy[0]))
    assert buy_faults(plan, (*plan.buy, replace(plan.buy[0], stock="coil 99")))


WRONG_LIFTS: dict[str, Callable[[Lift], Lift]] = {
    "weight doubled": lambda i: replace(i, pounds=2 * i.pounds),
    "one more": lambda i: replace(i, count=i.count + 1),
    "no limit": lambda i: replace(i, limit=None),
    "the other limit": lambda i: replace(i, limit=330.0 - (i.limit or 0.0)),
    "of something else": lambda i: replace(i, of="Q"),
    "another kind": lambda i: replace(i, kind="kit"),
    "another size": lambda i: replace(i, size=(1, 1)),
}


@pytest.mark.parametrize("what", WRONG_LIFTS)
def test_any_wrong_lift_is_found(plan: Plan, what: str) -> None:
    for n, item in enumerate(plan.lifts):
        assert lift_faults(plan, [*plan.lifts[:n], WRONG_LIFTS[what](item), *plan.lifts[n + 1 :]]), (what, item)


def test_lifts_left_out_or_twice_are_found(plan: Plan) -> None:
    assert lift_faults(plan, plan.lifts[1:])
    assert lift_faults(plan, (*plan.lifts, plan.lifts[0]))


@pytest.mark.parametrize("given", ["carry", "lift"])
def test_one_limit_alone_holds_for_all(plan: Plan, given: str) -> None:
    limits = {"carry_limit": 30.0, "lift_limit": 300.0, f"{'lift' if given == 'carry' else 'carry'}_limit": None}
    job = plan.job.model_copy(update={"handling": plan.job.handling.model_copy(update=limits)})
    found = handling.lifts(replace(plan, job=job))
    assert {i.limit for i in found} == {30.0 if given == "carry" else 300.0}
    assert check_handling(found, plan.cut_plan, plan.patterns, plan.roof, job, plan.metals) == []


def test_weights_are_those_of_the_sheet_tables(tmp_path: Path) -> None:
    """Sheet copper is named by its ounces a square foot (ASTM B370): 16 oz weighs one pound a square foot."""
    plan = planned(tmp_path, SHEET + 'price = "160 per sheet"\n')
    (line,) = plan.buy
    assert line.need.pounds == pytest.approx(24 * (line.need.count or 0))  # 36 x 96 in is 24 sq ft
    (sheet,) = (i for i in plan.lifts if i.kind == "sheet")
    assert sheet.pounds == pytest.approx(24) and not sheet.over
    (bundle,) = (i for i in plan.lifts if i.of == "A")
    assert bundle.pounds == pytest.approx(12 * 300 / 144)  # 12 blanks of 10 x 30 in


def test_stock_with_a_price_is_paid_by_its_price_also_where_metal_is_what_counts(tmp_path: Path) -> None:
    plan = planned(tmp_path, SHOPS["price of one only"])
    assert plan.cut_plan is not None and plan.cut_plan.objective == "area"
    prices = {line.stock: (line.price, line.buy.pounds) for line in plan.buy}
    price, pounds = prices["coil"]
    assert float(price or 0) == pytest.approx(9.40 * pounds, abs=0.0051)
    assert prices.get("sheet", (None, 0))[0] is None


# Wrong edits of the program itself: each must stop the plan before anything is printed.

Edit = Callable[[pytest.MonkeyPatch], Any]


def _pull_max(mp: pytest.MonkeyPatch) -> None:
    mp.setattr(buy, "min", max, raising=False)


def _price_halved(mp: pytest.MonkeyPatch) -> None:
    right = buy.money
    mp.setattr(buy, "money", lambda amount: right(Fraction(amount) / 2))


def _left_summed(mp: pytest.MonkeyPatch) -> None:
    right = buy._BuyLine.listed

    def listed(self: Any) -> BuyLine:
        line = right(self)
        return replace(line, left=self.amount((self.on_hand() or 0) + self.taken))

    mp.setattr(buy._BuyLine, "listed", listed)


def _limits_swapped(mp: pytest.MonkeyPatch) -> None:
    right = handling.lifts

    def lifts(plan: Plan) -> tuple[Lift, ...]:
        given = plan.job.handling
        swapped = given.model_copy(update={"carry_limit": given.lift_limit, "lift_limit": given.carry_limit})
        return right(replace(plan, job=plan.job.model_copy(update={"handling": swapped})))

    mp.setattr("fabplan.plan.make.lifts", lifts)


def _panel_doubled(mp: pytest.MonkeyPatch) -> None:
    mp.setattr(handling, "SQ_IN_PER_SQ_FT", 72.0)


@pytest.mark.parametrize(
    ("edit", "stage"),
    [
        (_pull_max, "buying list"),
        (_price_halved, "buying list"),
        (_left_summed, "buying list"),
        (_limits_swapped, "weights"),
        (_panel_doubled, "weights"),
    ],
)
def test_a_wrong_edit_of_the_program_stops_the_plan(
    edit: Edit, stage: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    edit(monkeypatch)
    with pytest.raises(ProofError, match=stage):
        planned(tmp_path, SHOPS["on hand"] if edit is not _price_halved else SHOPS["bought"])
