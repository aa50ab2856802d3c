"""What changed between two plans, as the shop is told."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
from in_process import Said
from real_runs import SMALL

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
    plan = make_plan(load_job(path), effort=0, should_stop=lambda: True)  # the first one found
    return saved(json.loads(json.dumps(plan_json(plan))))


@pytest.fixture(scope="module")
def old(tmp_path_factory: pytest.TempPathFactory) -> PlanFile:
    return planned(tmp_path_factory.mktemp("old"), PRICED)


def told(old: PlanFile, new: PlanFile) -> list[str]:
    return change_lines(changes(old, new), Show(new.units, new.round_to), "USD")


def test_a_plan_beside_itself(old: PlanFile) -> None:
    assert told(old, old) == ["Nothing changed for the shop."]


def test_more_of_one_piece_and_a_new_one(old: PlanFile, tmp_path: Path) -> None:
    more = PRICED.replace("count = 8", "count = 14").replace('mark = "K"', 'mark = "L"')
    new = planned(tmp_path, more)
    assert old.nesting is not None
    assert new.nesting is not None
    assert changes(old, new).money == (float(old.nesting.metal_total), float(new.nesting.metal_total))  # no work in it
    said = told(old, new)
    assert said[0] == "Pieces: A 14, was 8 (+6), no K any more (was 12), L 12 (new)."
    assert any(line.startswith("Stock: ") and "of coil 24, was " in line for line in said)
    assert any(line.startswith("Metal cost: ") and "USD, was " in line for line in said)
    assert any(line.startswith("Work: ") for line in said)
    assert not any("still good" in line for line in said)
    assert len(said) <= 10


def test_another_blank_is_told_and_what_is_still_good(old: PlanFile, tmp_path: Path) -> None:
    said = told(old, planned(tmp_path, PRICED.replace("9-1/4 in", "9-1/2 in")))
    assert said[0].startswith("Other blanks: A ")
    assert "Made by the old pages and still good: K." in said


def test_of_what_is_not_made_any_more_no_folds_are_told(old: PlanFile) -> None:
    none = replace(old, blanks=tuple(replace(p, count=0) for p in old.blanks), bending=())
    assert old.bending
    assert changes(old, none).folds == ()


def test_plans_in_other_units_are_not_compared(old: PlanFile, tmp_path: Path) -> None:
    metric = planned(tmp_path, PRICED.replace('number = "W-3"', 'number = "W-3"\nunits = "mm"'))
    with pytest.raises(JobError, match="different units"):
        changes(old, metric)


def test_the_command(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.chdir(tmp_path)
    for name, text in (("a", SMALL), ("b", SMALL.replace("count = 12", "count = 16"))):
        job = tmp_path / "job.toml"
        job.write_text(text)
        plan = make_plan(load_job(job), effort=0, should_stop=lambda: True)
        Path(f"{name}.json").write_text(json.dumps(plan_json(plan)))
    done = Said(capsys, "diff", "a.json", "b.json")
    assert done.status == 0, done.err
    assert "K 16, was 12 (+4)" in done.out
    data = Said(capsys, "diff", "a.json", "b.json", "--json").data
    assert data["counts"] == [{"mark": "K", "old": 12, "new": 16}]
    assert Said(capsys, "diff", "a.json", "none.json").status == 2
