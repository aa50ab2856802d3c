"""Settings shared over the whole job: counted once, and the sheet that says so is proved stroke by stroke."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from fabplan.bending.model import Round
from fabplan.job.load import load_job
from fabplan.plan.check_hours import check_hours
from fabplan.plan.check_setups import check_setups
from fabplan.plan.make import make_plan
from fabplan.plan.model import Plan

JOB = """
[job]
name = "Boathouse"
number = "7"
batch = 10
[metal]
use = "copper-16oz"
[[piece]]
mark = "L"
kind = "section"
count = 24
length = "40 in"
legs = ["2 in", "3 in"]
bends = [90]
[[piece]]
mark = "M"
kind = "section"
count = 8
length = "40 in"
legs = ["2 in", "5 in"]
bends = [90]
[[piece]]
mark = "Z"
kind = "section"
count = 8
length = "40 in"
legs = ["2 in", "1-1/2 in", "3 in"]
bends = [90, -90]
"""


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    path = tmp_path_factory.mktemp("setups") / "job.toml"
    path.write_text(JOB, encoding="utf-8")
    return make_plan(load_job(path), effort=0, should_stop=lambda: True)


def test_a_shared_setting_counts_once(plan: Plan) -> None:
    own = {s.mark: next(w.times for t in s.times for w in t.batch if w.what == "set_bench") for s in plan.schedules}
    stops = {s.mark: round(s.steps[0].stop, 2) for s in plan.schedules}
    assert own == {"L": 1, "M": 1, "Z": 2}
    assert (stops["L"], stops["M"]) == (2.98, 4.98)  # each from its wider side, which is held
    (brake,) = plan.hours
    times = {w.what: w.times for w in brake.spent}
    # three batches of L, one of M, one of Z at two settings, one of which is that of L: a leg of 3 in, square
    assert times["set_bench"] == 3 + 1 + 2 - 1
    assert [r.times for r in plan.setups] == [1, 2]
    assert check_setups(plan) == check_hours(plan) == []


def test_pieces_alike_are_set_once(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text(JOB.replace('["2 in", "5 in"]', '["2 in", "3 in"]'), encoding="utf-8")
    plan = make_plan(load_job(path), effort=0, should_stop=lambda: True)
    assert {"L", "M", "Z"} in [{mark for mark, _ in one.strokes} for one in plan.setups[0].setups]
    assert sum(r.times * len(r.setups) for r in plan.setups) == 2 + 2  # then L alone, twice


def _first(plan: Plan, change: Callable[[Round], Round]) -> Plan:
    return replace(plan, setups=(change(plan.setups[0]), *plan.setups[1:]))


DAMAGE: dict[str, Callable[[Plan], Plan]] = {
    "a round too few": lambda p: replace(p, setups=p.setups[:1]),
    "a round too many": lambda p: replace(p, setups=(*p.setups, p.setups[-1])),
    "a set-up missing": lambda p: _first(p, lambda r: replace(r, setups=r.setups[1:])),
    "out of order": lambda p: _first(p, lambda r: replace(r, setups=r.setups[::-1])),
    "another angle": lambda p: _first(
        p, lambda r: replace(r, setups=(replace(r.setups[0], set_deg=50.0), *r.setups[1:]))
    ),
    "another stop": lambda p: _first(p, lambda r: replace(r, setups=(replace(r.setups[0], stop=1.0), *r.setups[1:]))),
    "another tool": lambda p: _first(
        p, lambda r: replace(r, setups=(replace(r.setups[0], tool="shovel"), *r.setups[1:]))
    ),
    "an empty set-up": lambda p: _first(p, lambda r: replace(r, setups=(*r.setups, replace(r.setups[0], strokes=())))),
    "twice in one round": lambda p: _first(p, lambda r: replace(r, times=2)),
}


@pytest.mark.parametrize("name", DAMAGE)
def test_a_damaged_sheet_is_caught(plan: Plan, name: str) -> None:
    assert check_setups(DAMAGE[name](plan))


def test_hours_that_count_a_setting_twice_are_caught(plan: Plan) -> None:
    (brake,) = plan.hours
    more = tuple(
        replace(w, times=w.times + 1, seconds=w.seconds + 60) if w.what == "set_bench" else w for w in brake.spent
    )
    assert check_hours(replace(plan, hours=(replace(brake, spent=more),)))
