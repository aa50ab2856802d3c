"""A run that was stopped early does not take the place of a better plan of the same job."""

from __future__ import annotations

import json
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from real_runs import PLAIN

from fabplan.cli.planning import keep_better
from fabplan.errors import PlanError
from fabplan.job.load import load_job
from fabplan.plan.file import plan_json
from fabplan.plan.make import make_plan
from fabplan.plan.model import Plan
from fabplan.plan.standing import better_saved
from fabplan.speech.status import stopped_sentence


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    path = tmp_path_factory.mktemp("job") / "job.toml"
    path.write_text(PLAIN)
    return make_plan(load_job(path), effort=0, should_stop=lambda: True)


def stopped(plan: Plan, more: int) -> Plan:
    """The plan as a run stopped early would have it, so much dearer."""
    assert plan.cut_plan is not None
    worse = replace(plan.cut_plan, total=plan.cut_plan.total + Fraction(more), stopped_early=True, status="not_proven")
    return replace(plan, cut_plan=worse)


def save(plan: Plan, folder: Path) -> Path:
    (folder / "plan.json").write_text(json.dumps(plan_json(plan)))
    return folder / "plan.json"


def test_a_better_packet_is_left(plan: Plan, tmp_path: Path) -> None:
    saved = save(plan, tmp_path)
    assert better_saved(saved, stopped(plan, 1)) is not None
    with pytest.raises(PlanError, match=r"Stopped early .* better one .* --force"):
        keep_better(stopped(plan, 1), tmp_path)
    keep_better(stopped(plan, 0), tmp_path)
    keep_better(plan, tmp_path)
    keep_better(stopped(plan, 1), tmp_path / "nowhere")


def test_a_saved_plan_that_is_not_of_this_job_keeps_nothing_out(plan: Plan, tmp_path: Path) -> None:
    path = save(plan, tmp_path)
    data = json.loads(path.read_text())
    data["blanks"][0]["count"] += 1
    path.write_text(json.dumps(data))
    assert better_saved(path, stopped(plan, 1)) is None
    path.write_text("{")
    assert better_saved(path, stopped(plan, 1)) is None


def test_a_saved_plan_that_does_not_hold_up_keeps_nothing_out(plan: Plan, tmp_path: Path) -> None:
    path = save(plan, tmp_path)
    data = json.loads(path.read_text())
    data["nesting"]["layouts"][0]["blanks"][0]["x"] += 1
    path.write_text(json.dumps(data))
    assert better_saved(path, stopped(plan, 1)) is None


def test_the_proven_least_is_never_called_stopped_early(plan: Plan) -> None:
    assert plan.cut_plan is not None
    cut_short = replace(plan.cut_plan, stopped_early=True)
    assert "Stopped early" in stopped_sentence(replace(cut_short, status="not_proven"))
    assert stopped_sentence(replace(cut_short, status="proven")) == ""
