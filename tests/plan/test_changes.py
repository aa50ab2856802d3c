"""What changed between two plans, as the shop is told."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from real_runs import SMALL, run

from fabplan.errors import JobError
from fabplan.job.load import load_job
from fabplan.plan.changes import changes
from fabplan.plan.file import PlanFile, plan_json, saved
from fabplan.plan.make import make_plan
from fabplan.speech.changes import change_lines
from fabplan.units import Show

PRICED = SMALL + 'price = "9.40 per lb"\n'


def planned(folder: Path, text: str) -> PlanFile:
    path = folder / "job.toml"
    path.write_text(text)
    return saved(json.loads(json.dumps(plan_json(make_plan(load_job(path), effort=0)))))


@pytest.fixture(scope="module")
def old(tmp_path_factory: pytest.TempPathFactory) -> PlanFile:
    return planned(tmp_path_factory.mktemp("old"), PRICED)


def told(old: PlanFile, new: PlanFile) -> list[str]:
    return change_lines(changes(old, new), Show(new.units, new.round_to), "USD")


def test_a_plan_beside_itself(old: PlanFile) -> None:
    assert told(old, old) == ["Nothing changed for the shop."]


def test_more_of_one_piece_and_a_new_one(old: PlanFile, tmp_path: Path) -> None:
    more = PRICED.replace("count = 24", "count = 30").replace('mark = "K"', 'mark = "L"')
    said = told(old, planned(tmp_path, more))
    assert said[0] == "Pieces: A 30, was 24 (+6), no K any more (was 40), L 40 (new)."
    assert any(line.startswith("Stock: ") and "of coil 24, was " in line for line in said)
    assert any(line.startswith("Metal cost: ") and "USD, was " in line for line in said)
    assert any(line.startswith("Work: ") for line in said)
    assert not any("still good" in line for line in said)
    assert len(said) <= 10


def test_another_blank_is_told_and_what_is_still_good(old: PlanFile, tmp_path: Path) -> None:
    said = told(old, planned(tmp_path, PRICED.replace("9-1/4 in", "9-1/2 in")))
    assert said[0].startswith("Other blanks: A ")
    assert "Made by the old pages and still good: K." in said


def test_plans_in_other_units_are_not_compared(old: PlanFile, tmp_path: Path) -> None:
    metric = planned(tmp_path, PRICED.replace('number = "W-3"', 'number = "W-3"\nunits = "mm"'))
    with pytest.raises(JobError, match="different units"):
        changes(old, metric)


def test_the_command(tmp_path: Path) -> None:
    for name, text in (("a", SMALL), ("b", SMALL.replace("count = 40", "count = 44"))):
        job = tmp_path / "job.toml"
        job.write_text(text)
        (tmp_path / f"{name}.json").write_text(json.dumps(plan_json(make_plan(load_job(job), effort=0))))
    done = run("diff", "a.json", "b.json", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert "K 44, was 40 (+4)" in done.stdout
    data = json.loads(run("diff", "a.json", "b.json", "--json", cwd=tmp_path).stdout)
    assert data["counts"] == [{"mark": "K", "old": 40, "new": 44}]
    assert run("diff", "a.json", "none.json", cwd=tmp_path).returncode == 2
