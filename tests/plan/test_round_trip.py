"""A plan is written, read back and proved; what is read back says the same again."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from plan_jobs import JOBS, load, made

from fabplan.errors import JobError
from fabplan.job.load import load_job
from fabplan.job.model import Job
from fabplan.plan.codec import written
from fabplan.plan.file import plan_json, plan_schema, read_plan, saved, scale_of
from fabplan.plan.make import make_plan
from fabplan.plan.model import Plan
from fabplan.plan.prove import prove, prove_file

ROOT = Path(__file__).resolve().parents[2]
Case = tuple[Job, Plan, Path]


@pytest.fixture(scope="module", params=sorted(JOBS))
def case(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Case:
    folder = tmp_path_factory.mktemp("plan")
    job, plan, _ = made(request.param)
    path = folder / "plan.json"
    path.write_text(json.dumps(plan_json(plan), ensure_ascii=False, indent=1), encoding="utf-8")
    return job, plan, path


def test_a_written_plan_is_proved(case: Case) -> None:
    job, _, path = case
    proof = prove_file(path, job)
    assert proof.ok, proof.lines()
    assert proof.lines()[-1] == "The plan is proved."
    assert [stage for stage, _ in proof.stages] == [
        "job",
        "blanks",
        "roof",
        "cut plan",
        "bend schedules",
        "buying list",
        "weights",
        "set-ups",
        "hours",
    ]


def same(a: object, b: object) -> bool:
    """Whether two plans say the same; an area worked out from rounded corners is off by as little as they are."""
    if isinstance(a, dict) and isinstance(b, dict):
        return list(a) == list(b) and all(same(a[k], b[k]) for k in a)
    if isinstance(a, list) and isinstance(b, list):
        return len(a) == len(b) and all(map(same, a, b))
    return a == b or (isinstance(a, float) and isinstance(b, float) and abs(a - b) <= 1e-8 * abs(b) + 1e-6)


def test_what_is_read_back_says_the_same(case: Case) -> None:
    job, plan, path = case
    data = read_plan(path)
    assert data == json.loads(json.dumps(plan_json(plan)))
    back = saved(data)
    again = back.nesting
    assert same(written(back, scale_of(job, again)), data)
    assert plan.cut_plan is not None and again is not None
    assert (again.total, again.bound) == (plan.cut_plan.total, plan.cut_plan.bound)
    assert [(u.name, u.cost, u.area) for u in again.stock] == [(u.name, u.cost, u.area) for u in plan.cut_plan.stock]
    assert [(y.repeat, y.width, y.length, y.offcuts) for y in again.layouts] == [
        (y.repeat, y.width, y.length, y.offcuts) for y in plan.cut_plan.layouts
    ]
    assert (again.program, again.short, again.grid) == (plan.cut_plan.program, plan.cut_plan.short, plan.cut_plan.grid)


def test_the_published_schema_is_the_one_the_types_give() -> None:
    text = (ROOT / "docs" / "plan.schema.json").read_text(encoding="utf-8")
    again = "write it again: python -m fabplan.plan.file > docs/plan.schema.json"
    assert json.loads(text) == plan_schema(), again


def test_the_same_job_gives_the_same_plan(case: Case) -> None:
    job, plan, _ = case
    assert json.dumps(plan_json(make_plan(job, effort=0, seconds=None))) == json.dumps(plan_json(plan))


CHANGES = {
    "list": [("count = 11", "count = 12"), ('"W-3"', '"W-4"'), ('"4 in"', '"4-1/16 in"'), ("9.40 per", "9.41 per")],
    "roof": [
        ("height = 1220", "height = 1262"),
        ("hem = 20", "hem = 21"),
        ("zinc-0.7mm", "zinc-0.8mm"),
        ("3 %", "9 %"),
    ],
}


def test_a_plan_of_an_older_job_file_is_not_proved(case: Case, tmp_path: Path) -> None:
    job, _, path = case
    name = "roof" if job.info.units == "mm" else "list"
    for old, new in CHANGES[name]:
        assert old in JOBS[name]
        changed = tmp_path / "changed.toml"
        changed.write_text(JOBS[name].replace(old, new, 1), encoding="utf-8")
        proof = prove_file(path, load_job(changed))
        assert not proof.ok, new
        assert "do not cut by it" in proof.lines()[-1]


def test_a_plan_without_stock_is_proved(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text(JOBS["list"].split("[[stock]]", maxsplit=1)[0], encoding="utf-8")
    job = load_job(path)
    data = json.loads(json.dumps(plan_json(make_plan(job, effort=0, seconds=None))))
    assert data["nesting"] is None
    assert prove(data, job).ok
    with_stock = load("list", tmp_path)
    assert "cut plan" in [stage for stage, faults in prove(data, with_stock).stages if faults]


@pytest.mark.parametrize(
    ("name", "text", "words"),
    [
        ("plan.json", "", "not valid JSON"),
        ("plan.json", "{", "not valid JSON"),
        ("plan.json", "[" * 100_000, "not valid JSON"),
        ("plan.json", '{"fabplan": NaN}', "not valid JSON"),
        ("plan.json", "[1]", "not a plan"),
        ("plan.json", '{"fabplan": "1"}', "not a plan"),
        ("plan.json", '{"fabplan": "1", "job": {}}', "another fabplan"),
        ("plan.json", '{"fabplan": "1", "job": {}, "schema": 1}', "another fabplan"),
        ("plan.json", '{"fabplan": "1", "job": {}, "schema": 2.0}', "another fabplan"),
        ("plan.json", '{"fabplan": "1", "job": {}, "schema": 99, "units": "in"}', "another fabplan"),
        ("plan.json", '{"fabplan": "1", "job": {}, "schema": 2}', "units"),
        ("plan.json", '{"fabplan": "1", "job": {}, "schema": 2, "units": "ft"}', "units"),
        ("plan.json", '{"fabplan": "1", "job": {}, "schema": 2, "units": "mm"}', "other units"),
        ("plan.json", '{"fabplan": "1", "job": {}, "schema": 2, "units": "in"}', "not complete"),
        ("plan.json", '{"fabplan": "1", "job": {}, "schema": 2, "units": "in", "round_to": 0}', "out of range"),
        ("plan.txt", "{}", "ending in .json"),
    ],
)
def test_a_file_that_is_no_plan_is_refused(tmp_path: Path, name: str, text: str, words: str) -> None:
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    with pytest.raises(JobError, match=words):
        prove_file(path, load("list", tmp_path))


def test_a_missing_file_and_a_folder_are_refused(tmp_path: Path) -> None:
    job = load("list", tmp_path)
    with pytest.raises(JobError, match="no such file"):
        prove_file(tmp_path / "none.json", job)
    (tmp_path / "folder.json").mkdir()
    with pytest.raises(JobError, match="cannot be read"):
        prove_file(tmp_path / "folder.json", job)


def test_a_file_too_large_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "plan.json"
    with path.open("wb") as f:
        f.truncate(100_000_001)
    with pytest.raises(JobError, match="too large"):
        prove_file(path, load("list", tmp_path))
