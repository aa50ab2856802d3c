"""The quote: every figure follows from amounts and typed prices, and its checker finds a changed one."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import pdfplumber
import pytest
from real_runs import HEAD

from fabplan.errors import PlanError
from fabplan.job.load import load_job
from fabplan.plan.make import make_plan
from fabplan.plan.model import Plan
from fabplan.shop.check_quote import check_quote
from fabplan.shop.quote_page import proved_quote, quote_lines, write_quote

# Forty pieces of 2 x 4 in fill one sheet of 16 x 20 in: the sums can be done in the head.
JOB = (
    HEAD.replace('number = "W-3"', 'number = "W-3"\ncurrency = "USD"\nscrap_price = "3.00 per lb"\nspare = "5 %"')
    + """[[piece]]
mark = "K"
kind = "rectangle"
count = 38
width = "2 in"
length = "4 in"
[[stock]]
name = "sheet"
form = "sheet"
width = "16 in"
length = "24 in"
price = "25.50 per sheet"
[labour]
rate = "60 per h"
"""
)


def planned(folder: Path, text: str) -> Plan:
    path = folder / "job.toml"
    path.write_text(text)
    return make_plan(load_job(path), effort=0, should_stop=lambda: True)


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    return planned(tmp_path_factory.mktemp("quote"), JOB)


def test_the_sums_that_can_be_done_in_the_head(plan: Plan) -> None:
    found = proved_quote(plan)
    assert [(m.stock, m.taken.count, m.price) for m in found.metal] == [("sheet", 1, Decimal("25.50"))]
    assert found.spare_pieces == 2
    assert found.spare_price == Decimal("1.28")  # 2 of 40 pieces of 25.50
    # 16 x 24 in less 40 pieces of 8 sq in leaves 64 sq in of metal of 1 lb a square foot, unless it is kept.
    assert found.scrap_pounds == pytest.approx(64 / 144)
    assert found.scrap_price == Decimal("1.33")
    work = sum((w.price or Decimal(0) for w in found.work), Decimal(0))
    assert found.total == Decimal("25.50") + work - Decimal("1.33")
    assert all(w.price == pytest.approx(Decimal(str(w.seconds)) / 60, abs=Decimal("0.01")) for w in found.work)
    assert found.whole


@pytest.mark.parametrize(
    "change",
    [
        {"total": Decimal("1.00")},
        {"scrap_pounds": 3.0},
        {"scrap_price": Decimal("9.00")},
        {"metal": ()},
        {"work": ()},
    ],
)
def test_a_changed_figure_is_found(plan: Plan, change: dict[str, Any]) -> None:
    found = proved_quote(plan)
    assert check_quote(replace(found, **change), plan)
    dearer = replace(found.metal[0], price=Decimal("26.50"))
    assert check_quote(replace(found, metal=(dearer,)), plan)
    longer = replace(found.work[0], seconds=found.work[0].seconds + 60)
    assert check_quote(replace(found, work=(longer, *found.work[1:])), plan)


def test_what_has_no_price_is_named(tmp_path: Path) -> None:
    bare = JOB.replace('price = "25.50 per sheet"\n', "").replace('scrap_price = "3.00 per lb"\n', "")
    plan = planned(tmp_path, bare)
    found = proved_quote(plan)
    assert not found.whole
    said = " ".join(quote_lines(found, plan))
    assert "Without a price: sheet" in said
    assert "Total of what has a price" in said
    assert "Write scrap_price" in said


def test_a_job_without_stock_or_short_of_it_is_not_priced(tmp_path: Path) -> None:
    with pytest.raises(PlanError, match="no stock"):
        proved_quote(planned(tmp_path, JOB[: JOB.index("[[stock]]")]))
    with pytest.raises(PlanError, match="SHORT"):
        proved_quote(planned(tmp_path, JOB.replace('per sheet"\n', 'per sheet"\non_hand = 1\n').replace("38", "99")))


@pytest.mark.parametrize("size", ["letter", "a4"])
def test_the_page_says_what_is_not_in_it(plan: Plan, tmp_path: Path, size: str) -> None:
    written = write_quote(proved_quote(plan), plan, tmp_path / "quote.pdf", paper_size=size)
    with pdfplumber.open(written) as pdf:
        assert len(pdf.pages) == 1
        said = pdf.pages[0].extract_text()
    assert "USD 25.50" in said
    assert "Not in this quote" in said
    assert "Scaffold" in said
