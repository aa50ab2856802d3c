"""One piece that cannot be bent: the rest is planned and proved, its own blanks are left out or asked for."""

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
name = "two pieces, one impossible"
number = "2"
[metal]
use = "copper-16oz"
[[piece]]
mark = "A"
kind = "rectangle"
count = 10
width = "8 in"
length = "9 in"
[[piece]]
mark = "C"
kind = "section"
count = 2
length = "40 in"
legs = ["3 in", "2 in"]
bends = [95]
[brake]
largest_angle = 80
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


@pytest.mark.parametrize("include", [False, True])
def test_the_rest_is_planned_and_proved(path: Path, include: bool) -> None:
    job = load_job(path)
    plan = make_plan(job, effort=0, include_unbent=include, should_stop=lambda: True)
    assert [u.mark for u in plan.unbent] == ["C"]
    assert [p.mark for p in plan.patterns] == (["A", "C"] if include else ["A"])
    assert [p.mark for p in plan.left_out] == ([] if include else ["C"])
    assert plan.cut_plan is not None
    cut = {b.mark for layout in plan.cut_plan.layouts for b in layout.blanks}
    assert cut == ({"A", "C"} if include else {"A"})
    proof = prove(json.loads(json.dumps(plan_json(plan))), job)
    assert proof.ok, proof.lines()
    packet = build_packet(plan)
    assert check_packet(packet, plan) == []
    assert packet.banner == "NOT PLANNED: C"
    (page,) = [p for p in packet.pages if p.kind == "unbent"]
    said = str(page.blocks)
    assert "the leaf swings only 80°" in said
    assert "Write: finish_by_hand = [1, 15]" in said
    cover = str(packet.pages[0].blocks)
    assert "2 pieces of C cannot be folded" in cover
    assert ("not cut, not bought, not counted" in cover) != include


def test_a_saved_plan_that_hides_it_is_not_proved(path: Path) -> None:
    job = load_job(path)
    data = json.loads(json.dumps(plan_json(make_plan(job, effort=0, should_stop=lambda: True))))
    for key, value in (("unbent", []), ("left_out", [])):
        assert not prove({**data, key: value}, job).ok
    data["unbent"][0]["mends"] = []
    assert not prove(data, job).ok


def test_the_packet_is_written_and_the_exit_is_1(path: Path, tmp_path: Path) -> None:
    out = tmp_path / "packet"
    run = CliRunner().invoke(app, ["plan", str(path), "--effort", "0", "--out", str(out)])
    assert run.exit_code == 1
    assert {"packet.pdf", "plan.json"} <= {p.name for p in out.iterdir()}


def test_compare_leaves_it_out_as_the_plan_does_and_says_so(path: Path) -> None:
    run = CliRunner().invoke(app, ["compare", str(path), "--effort", "0", "--no-trade"])
    assert run.exit_code == 0, run.output
    said = " ".join(run.output.split())
    assert "C cannot be folded with the tools at hand: its blanks are in none of these sums." in said
    data = json.loads(CliRunner().invoke(app, ["compare", str(path), "--effort", "0", "--no-trade", "--json"]).stdout)
    assert data["left_out"] == ["C"]
    first, _, rest = JOB.partition('[[piece]]\nmark = "C"')
    path.write_text(first + rest[rest.index("[[stock]]") :], encoding="utf-8")
    alone = json.loads(CliRunner().invoke(app, ["compare", str(path), "--effort", "0", "--no-trade", "--json"]).stdout)
    assert alone["compare"] == data["compare"]
    assert alone["left_out"] == []


@pytest.mark.slow
def test_best_size_says_that_its_diamond_cannot_be_folded(tmp_path: Path) -> None:
    text = JOB.replace('kind = "rectangle"\ncount = 10\nwidth = "8 in"\nlength = "9 in"', "").replace(
        'mark = "A"\n', 'mark = "A"\nkind = "diamond"\ncount = 10\nside = "8 in"\nhem = "1/8 in"\n'
    )
    file = tmp_path / "job.toml"
    file.write_text(text + "[nest]\nsearch_effort = 0\n", encoding="utf-8")
    run = CliRunner().invoke(app, ["best-size", str(file)])
    assert run.exit_code == 0, run.output
    assert "A cannot be folded with the tools at hand: its blanks are in these sums" in " ".join(run.output.split())
