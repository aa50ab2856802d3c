"""What spares cost is said when they alone open a sheet or a pull; `spare` may stand on a piece."""

from __future__ import annotations

from pathlib import Path

import pytest

from fabplan.job.load import load_job
from fabplan.plan.make import make_plan
from fabplan.speech.spares import spare_notes

JOB = """
[job]
name = "Spares"
number = "S"
currency = "USD"
spare = "{all}"
[metal]
use = "copper-16oz"
[[piece]]
mark = "A"
kind = "rectangle"
count = {count}
width = "36 in"
length = "24 in"
{own}
[[stock]]
name = "sheet 36 x 96"
form = "sheet"
width = "36 in"
length = "96 in"
price = "310 per sheet"
"""


@pytest.mark.parametrize(
    ("everywhere", "own", "count", "spare", "says"),
    [
        ("0 %", 'spare = "4 pieces"', 8, 4, ("4 spare pieces (A) open 1 more sheet 36 x 96: USD 310.00.",)),
        ("4 pieces", "", 8, 4, ("4 spare pieces (A) open 1 more sheet 36 x 96: USD 310.00.",)),
        ("4 pieces", "spare = 0", 8, 0, ()),  # the piece's own rule goes before the job's
        ("2 pieces", "", 6, 2, ()),  # room over is filled: nothing is opened
    ],
)
def test_spares_that_open_a_sheet(
    tmp_path: Path, everywhere: str, own: str, count: int, spare: int, says: tuple[str, ...]
) -> None:
    path = tmp_path / "job.toml"
    path.write_text(JOB.format(all=everywhere, own=own, count=count), encoding="utf-8")
    plan = make_plan(load_job(path), effort=0, should_stop=lambda: True)
    assert [(p.count, p.spare) for p in plan.patterns] == [(count + spare, spare)]
    assert spare_notes(plan) == says
