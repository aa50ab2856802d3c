"""One blank that the shear cannot cut: the limit is named with what it takes, and the rest is planned and proved."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from fabplan.cli import app
from fabplan.job.load import load_job
from fabplan.packet.check import check_packet
from fabplan.packet.pages.build import build_packet
from fabplan.plan.file import plan_json
from fabplan.plan.make import make_plan
from fabplan.plan.prove import prove

JOB = """
[job]
name = "two pieces, one too long for the shear"
number = "2"
[metal]
use = "copper-16oz"
[shear]
longest_cut = "52 in"
back_gauge_reach = "48 in"
[[piece]]
mark = "A"
kind = "rectangle"
count = 10
width = "8 in"
length = "9 in"
[[piece]]
mark = "L"
kind = "rectangle"
count = 2
width = "20 in"
length = "100 in"
[[stock]]
name = "coil 24"
form = "coil"
width = "24 in"
"""


@pytest.fixture
def path(tmp_path: Path) -> Path:
    file = tmp_path / "job.toml"
    file.write_text(JOB, encoding="utf-8")
    return file


def test_the_rest_is_planned_and_proved(path: Path) -> None:
    job = load_job(path)
    plan = make_plan(job, effort=0, should_stop=lambda: True)
    (lost,) = plan.uncut
    assert lost.mark == "L" and lost.fits
    assert [p.mark for p in plan.patterns] == ["A"] and [p.mark for p in plan.left_out] == ["L"]
    assert plan.schedules == () and plan.unbent == ()
    proof = prove(json.loads(json.dumps(plan_json(plan))), job)
    assert proof.ok, proof.lines()
    packet = build_packet(plan)
    assert check_packet(packet, plan) == []
    assert packet.banner == "NOT PLANNED: L"


def test_a_plan_that_hides_what_is_not_cut_is_refused(path: Path) -> None:
    job = load_job(path)
    data = json.loads(json.dumps(plan_json(make_plan(job, effort=0, should_stop=lambda: True))))
    data["uncut"] = []
    assert not prove(data, job).ok


def test_the_terminal_names_the_limit_and_leaves_with_1(path: Path) -> None:
    ran = CliRunner().invoke(app, ["plan", str(path), "--out", str(path.parent / "out")])
    assert ran.exit_code == 1
    said = " ".join(str(ran.exception).split())
    assert "longest_cut is 52 in, and it takes 100 in or more" in said
    assert "NOT PLANNED" in said
    assert (path.parent / "out" / "plan.json").exists()
