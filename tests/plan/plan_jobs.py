"""Two small jobs that together use every part of a plan: a list of pieces in inches, a roof in millimetres."""

from __future__ import annotations

import json
import tempfile
from functools import cache
from pathlib import Path
from typing import Any

from fabplan.job.load import load_job
from fabplan.job.model import Job
from fabplan.plan.file import plan_json
from fabplan.plan.make import make_plan
from fabplan.plan.model import Plan

LIST = """
[job]
name = "Well house"
number = "W-3"
spare = "1 piece"
keep_at_least = "6 x 12 in"
[metal]
use = "copper-16oz"
[[piece]]
mark = "A"
kind = "diamond"
count = 11
side = "9-1/4 in"
hem = "3/4 in"
[[piece]]
mark = "S"
kind = "starter"
for = "A"
count = 4
[[piece]]
mark = "D"
kind = "section"
count = 3
length = "48 in"
legs = ["3/4 in", "2-1/2 in", "3 in"]
bends = [90, -45]
start_hem = {width = "1/2 in", toward = "back", gap = "0 in"}
[[piece]]
mark = "K"
kind = "rectangle"
count = 9
width = "2-1/8 in"
length = "4 in"
grain = "along"
[[stock]]
name = "coil 24"
form = "coil"
width = "24 in"
longest_cut_off = "60 in"
price = "9.40 per lb"
[[stock]]
name = "sheet"
form = "sheet"
width = "36 in"
length = "96 in"
on_hand = 3
price = "160 per sheet"
[handling]
carry_limit = "6 lb"
"""

ROOF = """
[job]
name = "Pump house"
number = "P-9"
units = "mm"
spare = "3 %"
[metal]
use = "zinc-0.7mm"
[[piece]]
mark = "Z"
kind = "diamond"
side = 300
hem = 20
hem_gap = 1.5
[[piece]]
mark = "ZS"
kind = "starter"
for = "Z"
[[slope]]
name = "north"
shape = "trapezoid"
piece = "Z"
bottom = 1950
top = 1400
height = 1220
[[stock]]
name = "coil 670"
form = "coil"
width = 670
longest_cut_off = 2000
"""

JOBS = {"list": LIST, "roof": ROOF}


def load(name: str, folder: Path) -> Job:
    """One of the jobs, from a file in a folder."""
    path = folder / f"{name}.toml"
    path.write_text(JOBS[name], encoding="utf-8")
    return load_job(path)


@cache
def made(name: str) -> tuple[Job, Plan, str]:
    """One of the jobs, its plan at no effort and what is saved of it; made once."""
    with tempfile.TemporaryDirectory() as folder:
        job = load(name, Path(folder))
    plan = make_plan(job, effort=0, seconds=None)
    return job, plan, json.dumps(plan_json(plan))


def saved_data(name: str) -> Any:
    """What is saved of the plan of one of the jobs, to change at will."""
    return json.loads(made(name)[2])
