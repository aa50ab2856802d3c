"""A saved plan that is wrong in any one way is not proved, and never ends in anything but words."""

from __future__ import annotations

import json
import random
from collections import Counter
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from plan_jobs import JOBS, made
from plan_mutations import KINDS, every, together

from fabplan.errors import JobError, PlanError
from fabplan.plan.prove import Given, prove_file

# What may be changed without a word from the proof, and why. (kind, or * for any; key)
SAME_MEANING = {
    **{("two_swapped", f"nesting.layouts[].cuts[].{part}.blanks"): "in any order" for part in ("on", "falls", "stays")},
    ("two_swapped", "nesting.rivals"): "other ways of cutting, in another order",
    ("two_swapped", "nesting.notes"): "notes in another order",
    (
        "other_word",
        "nesting.notes[].mark",
    ): "remarks on widths are told, not proved",
    ("two_swapped", "hours[].spent"): "the kinds of work of a station, in any order",
}
SURVIVE = {
    ("*", "stopped_early"): "whether a search was cut short does not show in what it found",
    ("*", "nesting.time_limit"): "the clock somebody set does not show in what was found",
    ("*", "nesting.notes"): "notes are remarks on the search: they are words, no one cuts by them",
    ("*", "nesting.notes[]"): "as above",
    ("*", "nesting.notes[].stock"): "as above",
    ("*", "nesting.rivals"): "other ways of cutting are shown for comparison; their patterns are not in the file",
    ("*", "nesting.rivals[].name"): "as above",
    ("*", "nesting.rivals[].outcomes"): "as above",
    ("*", "nesting.rivals[].total"): "as above; only a total below the plan's or the proven least is told",
    ("*", "nesting.rivals[].total_exact"): "as above",
    ("*", "nesting.rivals[]"): "as above",
    ("yes_for_no", "nesting.layouts[].blanks[].turned"): "a square blank given a quarter turn is the same blank",
    ("one_more_or_less", "nesting.layouts[].cuts[].stage"): "how deep a cut lies: proved to rise, no one cuts by it",
    ("two_swapped_and_numbered", "nesting.layouts[].cuts"): "two cuts at one setting that do not wait for one another",
    ("two_swapped", "nesting.layouts[].offcuts"): "scrap has no name, and may be listed in any order",
    ("a_little", "nesting.layouts[].blanks[].outline[][]"): "less than a thousandth of a graduation",
    ("a_little", "nesting.layouts[].cuts[].from[]"): "as above",
    ("a_little", "nesting.layouts[].cuts[].to[]"): "as above",
    **{("a_little", f"nesting.layouts[].cuts[].{part}.outline[][]"): "as above" for part in ("on", "falls", "stays")},
    ("a_graduation", "nesting.blanks_area"): "areas are proved to a millionth of the stock",
    ("a_little", "nesting.blanks_area"): "as above",
    ("a_little", "nesting.stock_area"): "as above",
    ("a_graduation", "nesting.stock_area"): "as above",
}


@cache
def base(name: str) -> tuple[Any, Given, str]:
    job, _, text = made(name)
    return job, Given(job), text


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("mutations")


def caught(name: str, folder: Path, data: Any) -> bool:
    """Whether `fabplan prove` objects; anything but a fault in words passes through."""
    job, given, _ = base(name)
    path = folder / "plan.json"
    path.write_text(json.dumps(data), encoding="utf-8")
    try:
        return not prove_file(path, job, given).ok
    except (JobError, PlanError) as fault:
        assert str(fault)
        return True


def explained(kind: str, key: str) -> bool:
    return (kind, key) in SURVIVE or ("*", key) in SURVIVE


def run(folder: Path, seed: int, each: int | None, share: float = 1.0) -> tuple[int, Counter[tuple[str, str]]]:
    """How many wrong plans were tried, and the ones that passed, by kind and key; `each` of every kind and stage.

    `share`: of these, how many are tried.
    """
    rng = random.Random(seed)
    tried, passed = 0, Counter[tuple[str, str]]()
    for name in sorted(JOBS):
        right = json.loads(base(name)[2])
        assert not caught(name, folder, right)
        found = every(right, rng)
        rng.shuffle(found)
        had = Counter[tuple[str, str]]()
        for kind, key, (change, at, value) in found:
            stage = key.split(".")[0].split("[")[0]
            if (each is not None and had[kind, stage] >= each) or (kind, key) in SAME_MEANING:
                continue
            if rng.random() > share:
                had[kind, stage] += 1
                continue
            wrong = change(right, at, value, rng)
            if wrong is None or wrong == right:
                continue
            had[kind, stage] += 1
            tried += 1
            try:
                seen = caught(name, folder, wrong)
            except Exception as bug:
                raise AssertionError(f"{name}, {kind} at {at}: {type(bug).__name__}: {bug}") from bug
            passed[kind, key] += not seen
        for what, wrong in together(right, rng):
            tried += 1
            passed[what, "together"] += not caught(name, folder, wrong)
    return tried, +passed


def judge(tried: int, passed: Counter[tuple[str, str]]) -> None:
    strange = {k: n for k, n in passed.items() if not explained(*k)}
    assert strange == {}
    assert passed.total() <= 0.05 * tried


def test_wrong_plans_are_not_proved(folder: Path) -> None:
    tried, passed = run(folder, seed=1, each=1, share=0.25)
    assert tried >= 60
    judge(tried, passed)


@pytest.mark.slow
def test_very_many_wrong_plans_are_not_proved(folder: Path) -> None:
    tried, passed = run(folder, seed=2, each=25)
    print(f"{tried} wrong plans, {passed.total()} proved all the same: {dict(passed)}")
    assert tried >= 2000
    judge(tried, passed)


def test_every_kind_of_damage_finds_a_place(folder: Path) -> None:
    found = Counter[str]()
    rng = random.Random(3)
    for name in sorted(JOBS):
        right = json.loads(base(name)[2])
        for kind, _, (change, at, value) in every(right, rng):
            if found[kind] < 2:
                found[kind] += change(right, at, value, rng) is not None
    assert set(found) == set(KINDS)
    assert min(found.values()) >= 2


def test_a_change_of_order_alone_is_no_fault(folder: Path) -> None:
    rng = random.Random(4)
    seen = Counter[str]()
    for name in sorted(JOBS):
        right = json.loads(base(name)[2])
        for kind, key, (change, at, value) in every(right, rng):
            if (kind, key) in SAME_MEANING and seen[key] < 3:
                other = change(right, at, value, rng)
                if other is not None:
                    seen[key] += 1
                    assert not caught(name, folder, other), key
    assert seen["nesting.layouts[].cuts[].on.blanks"]
