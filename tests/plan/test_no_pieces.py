"""A part that no course takes has no pages of its own, and the job is planned and proved all the same."""

from __future__ import annotations

import json
from pathlib import Path

from fabplan.job.load import load_job
from fabplan.packet.check import check_packet
from fabplan.packet.pages.build import build_packet
from fabplan.plan.file import plan_json
from fabplan.plan.make import make_plan
from fabplan.plan.prove import prove

JOB = """
[job]
name = "t"
number = "T1"
[metal]
use = "copper-16oz"
[[piece]]
mark = "A"
kind = "diamond"
side = "10 in"
hem = "3/4 in"
[[piece]]
mark = "R"
kind = "ridge-half"
for = "A"
[[stock]]
name = "c"
form = "coil"
width = "24 in"
[[slope]]
name = "tri"
shape = "triangle"
piece = "A"
bottom = "30 in"
height = "25 in"
[nest]
search_effort = 0
"""


def test_a_part_with_no_pieces(tmp_path: Path) -> None:
    file = tmp_path / "job.toml"
    file.write_text(JOB)
    job = load_job(file)
    plan = make_plan(job)
    assert plan.pattern("R").count == 0
    assert [s.mark for s in plan.schedules] == ["A"]
    packet = build_packet(plan)
    assert check_packet(packet, plan) == []
    assert not [p.title for p in packet.pages if p.kind in ("blank", "bend", "template") and " R" in p.title]
    assert prove(json.loads(json.dumps(plan_json(plan))), job).ok
