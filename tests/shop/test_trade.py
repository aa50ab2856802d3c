"""Metal against work: more weight on work never shows more work, and everything is counted at the shop's own times."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from fabplan.job.load import load_job
from fabplan.job.model import Job
from fabplan.labour import Labour
from fabplan.nesting.minutes import seconds_of
from fabplan.plan.make import Pieces, make_pieces
from fabplan.plotter.model import Text
from fabplan.shop.chart import trade_chart
from fabplan.shop.report import TRADE_COLUMNS, trade_json, trade_rows
from fabplan.shop.trade import AIMS, Traded, aimed, trade

JOB = """
[job]
name = "Orchard porch"
number = "7"
currency = "USD"
[metal]
use = "copper-16oz"
[[piece]]
mark = "A"
kind = "rectangle"
count = 5
width = "11 in"
length = "14 in"
[[piece]]
mark = "B"
kind = "rectangle"
count = 4
width = "5 in"
length = "17 in"
[[stock]]
name = "coil 24"
form = "coil"
width = "24 in"
price = "9.40 per lb"
"""


@pytest.fixture(scope="module")
def porch(tmp_path_factory: pytest.TempPathFactory) -> tuple[Job, Pieces]:
    path: Path = tmp_path_factory.mktemp("trade") / "job.toml"
    path.write_text(JOB, encoding="utf-8")
    job = load_job(path)
    return job, make_pieces(job)


@pytest.fixture(scope="module")
def traded(porch: tuple[Job, Pieces]) -> tuple[Traded, ...]:
    return trade(*porch, effort=0.0, seconds=0.5, workers=1)


def test_more_weight_on_work_never_takes_more_work(traded: tuple[Traded, ...]) -> None:
    assert [t.aim for t in traded] == list(AIMS)
    least, half, rate, double, fewest = traded
    assert least.metal <= half.metal <= rate.metal <= double.metal
    assert least.seconds >= half.seconds >= rate.seconds >= double.seconds
    assert fewest.settings <= min(t.settings for t in traded)
    assert rate.total == min(t.total for t in traded)


def test_counted_at_the_shops_own_times_and_rate(porch: tuple[Job, Pieces], traded: tuple[Traded, ...]) -> None:
    """USD 60 an hour, whatever the plan was aimed at; a plan's own strokes and settings at their own times."""
    labour = porch[0].labour
    for t in traded:
        assert t.plan is not None
        assert float(t.work) == pytest.approx(t.seconds / 3600 * 60, abs=1e-6)
        assert t.seconds == pytest.approx(sum(s.times * getattr(labour, s.what) for s in t.plan.spent))
    rate = traded[2]
    assert rate.plan is not None
    if rate.plan.labour_total + rate.plan.metal_total == rate.total:
        assert float(seconds_of(rate.plan.spent)) == rate.seconds


def test_an_aim_is_a_weight_on_the_times() -> None:
    own = Labour(rate=75.0, stroke=8.0)
    assert aimed(own, "least metal").free
    assert aimed(own, "half the rate") == replace(aimed(own, "half the rate"), stroke=4.0, set_gauge=22.5)
    assert aimed(own, "the rate") == own
    assert aimed(own, "double the rate").pull == 80.0
    fewest = aimed(own, "fewest settings")
    assert (fewest.set_gauge, fewest.stroke) == (450.0, 8.0)


def test_rows_data_and_chart(porch: tuple[Job, Pieces], traded: tuple[Traded, ...]) -> None:
    job = porch[0]
    rows = trade_rows(traded, job)
    assert all(len(row) == len(TRADE_COLUMNS) for row in rows)
    assert rows[2][4] == f"USD {float(traded[2].total):,.2f}"
    data = trade_json(traded, job)
    assert [d["aim"] for d in data] == list(AIMS)
    assert data[0]["metal"] == pytest.approx(float(traded[0].metal), abs=0.005)
    drawing = trade_chart(traded, job)
    words = [m.text for m in drawing.marks if isinstance(m, Text)]
    assert {"metal", "work at the shear", *AIMS} <= set(words)
    assert "back on the rack" not in words


def test_no_trade_where_work_counts_for_nothing(porch: tuple[Job, Pieces]) -> None:
    job, pieces = porch
    free = job.model_copy(update={"labour": replace(job.labour, rate=0.0)})
    assert trade(free, pieces) == ()


def test_a_job_the_stock_does_not_hold(porch: tuple[Job, Pieces]) -> None:
    job, pieces = porch
    from fabplan.job.readers import OnHand
    from fabplan.units import NM_PER_INCH, Nm

    little = job.stock[0].model_copy(update={"on_hand": OnHand(length=Nm(20 * NM_PER_INCH))})
    found = trade(job.model_copy(update={"stock": (little,)}), pieces, effort=0.0, workers=1)
    assert all(t.plan is None and "does not hold" in t.why for t in found)
    assert trade_rows(found, job)[0][1] == "-"
