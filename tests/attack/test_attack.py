"""Random valid jobs against a second prover that shares nothing with the program; and wrong plans against both."""

from __future__ import annotations

import copy
import json
import random
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from attack_jobs import job_text
from second_prover import second_faults

from fabplan.errors import JobError, PlanError
from fabplan.job.load import load_job
from fabplan.job.model import Job
from fabplan.plan.file import plan_json
from fabplan.plan.make import make_plan
from fabplan.plan.prove import Given, prove

Data = dict[str, Any]


def planned(text: str, folder: Path, *, soon: bool = False) -> tuple[Job, Data, str] | None:
    """The plan of a job as it is saved, and the job; None when no plan can be made of it. `soon`: the first plan."""
    file = folder / "job.toml"
    file.write_text(text, encoding="utf-8")
    job = load_job(file)
    try:
        plan = make_plan(job, include_unbent=True, should_stop=(lambda: True) if soon else None)
    except PlanError:  # a small shear, or too little stock
        return None
    return job, json.loads(json.dumps(plan_json(plan))), text


ONCE_FAILED = (1247, 1766)


@pytest.mark.parametrize("seed", [*range(60), *ONCE_FAILED])
def test_a_second_prover_finds_nothing(seed: int, tmp_path: Path) -> None:
    made = planned(job_text(seed), tmp_path, soon=seed % 40 > 0)
    if made is not None:
        assert second_faults(made[2], made[1]) == []
        assert seed not in ONCE_FAILED or prove(made[1], made[0], Given(made[0])).ok


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(1_000, 3_000))
def test_what_the_program_proves_the_second_prover_passes(seed: int, tmp_path: Path) -> None:
    made = planned(job_text(seed), tmp_path, soon=seed % 5 > 0)
    if made is None:
        return
    job, data, text = made
    given = Given(job)
    assert prove(data, job, given).ok
    assert second_faults(text, data) == []
    rng = random.Random(seed)
    for _ in range(6 if data["nesting"]["layouts"] else 0):  # stopped before the first layout: nothing to change
        wrong = copy.deepcopy(data)
        _nudge(wrong["nesting"], rng)
        if _passes(wrong, job, given):
            assert second_faults(text, wrong) == []


def _passes(data: Data, job: Job, given: Given) -> bool:
    """Whether the program takes a plan: read and proved."""
    try:
        return prove(data, job, given).ok
    except JobError:  # not a plan at all
        return False


def _nudge(nest: Data, rng: random.Random) -> None:
    """One number of the layouts changed a little, or much."""
    layout = rng.choice(nest["layouts"])
    where = rng.choice([w for w in (layout["blanks"], layout["cuts"], [layout]) if w])
    entry = rng.choice(where)
    key = rng.choice([k for k, v in entry.items() if isinstance(v, (int, float)) and not isinstance(v, bool)])
    entry[key] += rng.choice([1, -1, 0.03125, -0.03125, 1e-4, 10])


def first(data: Data, key: str) -> Data:
    entry: Data = data["nesting"]["layouts"][0][key][0]
    return entry


def gauged(data: Data) -> Data:
    """The first cut made at the back gauge."""
    return next(c for y in data["nesting"]["layouts"] for c in y["cuts"] if c["back_gauge"] is not None)


PLAIN = """[job]
name = "plain"
number = "P1"
[metal]
use = "copper-16oz"
[[piece]]
mark = "A"
kind = "rectangle"
count = 7
width = "4 in"
length = "9-1/2 in"
[[piece]]
mark = "B"
kind = "rectangle"
count = 3
width = "5 in"
length = "11 in"
grain = "along"
[[stock]]
name = "coil"
form = "coil"
width = "20 in"
[nest]
search_effort = 0
"""

WRONG: dict[str, Callable[[Data], Any]] = {
    "a blank moved": lambda d: first(d, "blanks").update(x=first(d, "blanks")["x"] + 1),
    "a blank wider": lambda d: first(d, "blanks").update(width=first(d, "blanks")["width"] + 0.5),
    "a blank less": lambda d: d["nesting"]["layouts"][0]["blanks"].pop(),
    "a layout made twice": lambda d: d["nesting"]["layouts"][0].update(repeat=99),
    "a cut left out": lambda d: d["nesting"]["layouts"][0]["cuts"].pop(1),
    "a cut moved": lambda d: gauged(d).update({"from": [v + 0.25 for v in gauged(d)["from"]]}),
    "a wrong stop": lambda d: gauged(d).update(back_gauge=gauged(d)["back_gauge"] + 0.125),
    "a lower total": lambda d: d["nesting"].update(total=d["nesting"]["total"] / 2, metal_total=1.0),
    "a higher bound": lambda d: d["nesting"].update(bound=d["nesting"]["total"] * 1.01),
    "another stock": lambda d: d["nesting"]["layouts"][0].update(width=d["nesting"]["layouts"][0]["width"] + 1),
    "a blank against its grain": lambda d: [b.update(grain="across") for b in d["blanks"]],
    "a rival below the bound": lambda d: d["nesting"]["rivals"][0].update(total=1.0),
    "a step less": lambda d: d["nesting"]["shear_program"]["steps"].pop(),
    "steps the other way round": lambda d: d["nesting"]["shear_program"]["steps"].reverse(),
}


@pytest.fixture(scope="module")
def right(tmp_path_factory: pytest.TempPathFactory) -> tuple[Data, str]:
    made = planned(PLAIN, tmp_path_factory.mktemp("attack"))
    assert made is not None
    return made[1], made[2]


@pytest.mark.parametrize("what", WRONG)
def test_the_second_prover_finds_a_wrong_plan(what: str, right: tuple[Data, str]) -> None:
    wrong = copy.deepcopy(right[0])
    WRONG[what](wrong)
    assert second_faults(right[1], wrong)
