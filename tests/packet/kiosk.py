"""An invented ferry kiosk of slanted diamonds and their parts, for tests of blank and shear pages."""

from __future__ import annotations

from pathlib import Path

from fabplan.job.load import load_job
from fabplan.plan.make import make_plan
from fabplan.plan.model import Plan

KIOSK = """
[job]
name = "Ferry kiosk"
number = "K-3"
[metal]
use = "copper-20oz"
[[piece]]
mark = "A"
kind = "diamond"
count = 12
side = "9 in"
top_angle = 75
upper_hem = "3/4 in"
lower_hem = "7/8 in"
[[piece]]
mark = "S"
kind = "starter"
for = "A"
count = 7
[[piece]]
mark = "RL"
kind = "rake-left"
for = "A"
count = 5
[[piece]]
mark = "RH"
kind = "ridge-half"
for = "A"
count = 5
"""


def planned(more: str, folder: Path, effort: float) -> Plan:
    """The kiosk with more pieces or stock, planned."""
    path = folder / "job.toml"
    path.write_text(KIOSK + more, encoding="utf-8")
    return make_plan(load_job(path), effort=effort)
