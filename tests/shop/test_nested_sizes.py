"""The best sizes of a sweep are nested: what is promised is what a plan of the whole job at that size takes."""

from __future__ import annotations

from pathlib import Path

import pytest

from fabplan.job.load import load_job
from fabplan.plan.make import make_nest, make_pieces, metals_of
from fabplan.shop.nested_sizes import CANDIDATES, candidates, nested_sizes
from fabplan.shop.report import nested_rows, size_columns, size_json
from fabplan.shop.sizes import diamond_of, sweep, with_size
from fabplan.units import NM_PER_INCH, Nm

JOB = """
[job]
name = "Porch"
number = "1"
currency = "$"
[metal]
use = "copper-16oz"
[[piece]]
mark = "A"
kind = "diamond"
side = "9 in"
hem = "3/4 in"
count = 60
[[stock]]
name = "coil 24"
form = "coil"
width = "24 in"
price = "9.40 per lb"
"""


@pytest.mark.slow
def test_what_is_promised_is_what_a_plan_takes(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text(JOB, encoding="utf-8")
    job = load_job(path)
    step = Nm(NM_PER_INCH // 2)
    found = sweep(job, metals_of(job), least=Nm(9 * NM_PER_INCH), most=Nm(10 * NM_PER_INCH), step=step)
    tried = nested_sizes(job, found)
    assert [x.row.side for x in tried if not x.asked] and len(tried) == 1 + len(candidates(found)) <= 1 + CANDIDATES
    totals = [x.plan.total for x in tried if x.plan is not None]
    assert len(totals) == len(tried) and totals == sorted(totals)
    asked = next(x for x in tried if x.asked)
    best = next(x for x in tried if not x.asked)
    assert asked.plan is not None and best.plan is not None
    # planned on its own at that size, it takes what was said, within 1 %
    trial = with_size(job, diamond_of(job, None), Nm(best.row.side_nm), best.row.top_angle)
    pieces = make_pieces(trial)
    again = make_nest(pieces.job, pieces, seconds=None)
    assert again is not None
    assert float(again.total) == pytest.approx(float(asked.plan.total) * (1 - best.saves), rel=0.01)
    rows = nested_rows(tried, job)
    assert sum("< asked" in row for row in rows) == 1
    assert all(row[3].startswith("$") and row[4].startswith("$") for row in rows)
    assert len(size_json(found, job, tried)["best_size"]["nested"]) == len(tried)
    assert "metal per square" in size_columns(found, job)[5]


def test_a_metric_job_knows_no_squares(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text(JOB.replace('number = "1"', 'number = "1"\nunits = "mm"'), encoding="utf-8")
    job = load_job(path)
    side = Nm(9 * NM_PER_INCH)
    found = sweep(job, metals_of(job), least=side, most=side)
    assert size_columns(found, job)[5] == "coil 24, metal per m²"
