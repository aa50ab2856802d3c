"""Metal as a supplier sells it, metal on hand that is preferred, and what to buy where the stock is short."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st
from real_runs import HEAD

from fabplan.job.load import load_job
from fabplan.job.model import Stock
from fabplan.plan.buy import sold
from fabplan.plan.check_buy import check_buy
from fabplan.plan.file import plan_json
from fabplan.plan.make import make_plan
from fabplan.plan.model import Plan
from fabplan.plan.prove import prove
from fabplan.speech.buying import lacking_words, lead_words, order_words
from fabplan.units import NM_PER_INCH, Nm

PIECES = (
    HEAD
    + """[[piece]]
mark = "K"
kind = "rectangle"
count = 30
width = "24 in"
length = "10 in"
may_turn = false
"""
)
COIL = """[[stock]]
name = "coil 24"
form = "coil"
width = "24 in"
longest_cut_off = "40 in"
price = "2 per foot"
"""
SHEET = """[[stock]]
name = "sheet"
form = "sheet"
width = "24 in"
length = "40 in"
"""
NO_RATE = "[labour]\nrate = 0\n"


def planned(folder: Path, *text: str, count: int = 30) -> Plan:
    path = folder / "job.toml"
    path.write_text("".join((PIECES.replace("count = 30", f"count = {count}"), *text, NO_RATE)))
    return make_plan(load_job(path), effort=0)


@given(st.integers(1, 90), st.integers(0, 60), st.integers(1, 12))
def test_the_order_is_the_least_that_is_sold_and_holds_it(bought: int, least: int, step: int) -> None:
    coil = Stock.model_construct(form="coil", coil_min=Nm(least) if least else None, coil_step=Nm(step))
    assert sold(bought, coil) == min(n for n in (least + k * step for k in range(200)) if n >= bought)
    pack = Stock.model_construct(form="sheet", sheets_per_pack=step)
    assert sold(bought, pack) == min(n for n in range(0, 200, step) if n >= bought)


def test_a_coil_is_ordered_as_it_is_sold(tmp_path: Path) -> None:
    terms = 'on_hand = "125 in"\nbuy = true\ncoil_min = "10 ft"\ncoil_step = "4 ft"\nlead_time = "2 weeks"\n'
    plan = planned(tmp_path, COIL, terms)
    (line,) = plan.buy
    assert (line.buy.length, line.lead_days) == (180 * NM_PER_INCH, 14)
    assert line.order is not None
    assert line.order.length == 18 * 12 * NM_PER_INCH
    assert (line.price, line.order_price) == (30, 36)
    assert order_words(line, plan.job.show, "USD") == (
        "Order 18.0 ft of coil 24 as it is sold: 3.0 ft more than this job takes, for 6.00 USD. It stays on hand."
    )
    assert lead_words(plan.buy) == "Order ahead: coil 24 14 days."
    assert prove(plan_json(plan), plan.job).ok
    wrong = [
        replace(line, order=None, order_price=None),
        replace(line, order=replace(line.order, length=line.order.length + 48 * NM_PER_INCH)),
        replace(line, order_price=line.price),
        replace(line, lead_days=7),
        replace(line, order=replace(line.order, pounds=1.0)),
    ]
    assert check_buy(plan.buy, plan.cut_plan, plan.job, plan.metals) == []
    for one in wrong:
        assert check_buy([one], plan.cut_plan, plan.job, plan.metals)


def test_sheets_are_ordered_by_the_pack(tmp_path: Path) -> None:
    (line,) = planned(tmp_path, SHEET, 'price = "7 per sheet"\nsheets_per_pack = 5\n').buy
    assert (line.buy.count, line.order and line.order.count, line.to_pay) == (8, 10, 70)
    (line,) = planned(tmp_path, SHEET, 'price = "7 per sheet"\nsheets_per_pack = 4\n').buy
    assert (line.buy.count, line.order, line.to_pay) == (8, None, 56)


def test_metal_on_hand_is_preferred_unless_buying_is_cheaper_by_more(tmp_path: Path) -> None:
    # 40 in of coil are 6.67, a sheet of 40 in is 6.40: 4 % cheaper.
    stock = (COIL, 'on_hand = "60 ft"\n', SHEET, 'price = "6.40 per sheet"\n')
    assert [line.stock for line in planned(tmp_path, *stock, count=32).buy] == ["sheet"]
    for share, taken in (("3 %", "sheet"), ("5 %", "coil 24")):
        plan = planned(tmp_path, *stock, f'[nest]\nprefer_on_hand = "{share}"\n', count=32)
        assert [line.stock for line in plan.buy] == [taken]
        assert prove(plan_json(plan), plan.job).ok
    assert plan.cut_plan is not None
    assert plan.cut_plan.metal_total == Fraction(2 * 320, 12) * Fraction(95, 100)
    assert plan.cut_plan.bound <= plan.cut_plan.total


def test_what_is_there_of_a_line_counts_less_and_more_of_it_its_price(tmp_path: Path) -> None:
    plan = planned(
        tmp_path, COIL, 'on_hand = "10 ft"\nbuy = true\n', SHEET, 'price = "6.40 per sheet"\n',
        '[nest]\nprefer_on_hand = "5 %"\n', count=32,
    )  # fmt: skip
    taken = {line.stock: line for line in plan.buy}
    assert set(taken) == {"coil 24", "sheet"}  # 12 off the coil that is there, the others off sheets
    assert not taken["coil 24"].buy.length
    assert plan.cut_plan is not None
    assert plan.cut_plan.metal_total == 20 * Fraction(95, 100) + Fraction("6.4") * 5
    assert prove(plan_json(plan), plan.job).ok


def test_short_says_what_to_buy_and_it_is_enough(tmp_path: Path) -> None:
    plan = planned(tmp_path, COIL, 'on_hand = "125 in"\n')
    assert plan.cut_plan is not None
    assert plan.cut_plan.short
    (line,) = plan.lacking
    assert (line.stock, line.buy.length) == ("coil 24", 180 * NM_PER_INCH)
    assert lacking_words(plan.lacking, plan.job) == (
        "Buy 15.0 ft more of coil 24 (30.00), and there is enough for all."
    )
    again = planned(tmp_path, COIL, f'on_hand = "{125 + 180} in"\n')
    assert again.cut_plan is not None
    assert not again.cut_plan.short


def test_nothing_can_be_bought_where_only_offcuts_are_listed(tmp_path: Path) -> None:
    plan = planned(tmp_path, SHEET.replace('form = "sheet"', 'form = "offcut"'), "on_hand = 2\n")
    assert plan.cut_plan is not None
    assert plan.cut_plan.short
    assert plan.lacking == ()
