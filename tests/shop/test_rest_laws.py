"""Laws of what is left: nothing cut is planned twice, nothing is forgotten, and what is laid stays where it is."""

from __future__ import annotations

import json
import random
from collections import Counter
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from real_runs import HEAD

from fabplan.errors import JobError, PlanError
from fabplan.job.load import load_job
from fabplan.plan.file import plan_json, saved
from fabplan.plan.make import make_pieces, make_plan
from fabplan.plan.model import Plan
from fabplan.roof.check.whole import check_roof
from fabplan.shop import record
from fabplan.shop.on_roof import copies, slope_of
from fabplan.shop.rest import prove_rest, refuse_begun, rest, rest_lines, rest_text
from fabplan.units import inches

FLAT = (
    HEAD.replace('number = "W-3"', 'number = "W-3"\nspare = "1 pieces"\nkeep_at_least = "3 x 4 in"')
    + """[[piece]]
mark = "K"
kind = "rectangle"
count = 31
width = "4 in"
length = "12 in"
[[piece]]
mark = "L"
kind = "rectangle"
count = 9
width = "7 in"
length = "9 in"
[[stock]]
name = "sheet"
form = "sheet"
width = "24 in"
length = "24 in"
on_hand = 9
[[stock]]
name = "coil"
form = "coil"
width = "14 in"
on_hand = "12 ft"
[labour]
rate = 0
"""
)
ROOF = (
    HEAD
    + """[[piece]]
mark = "A"
kind = "diamond"
side = "10 in"
hem = "3/4 in"
[[piece]]
mark = "AS"
kind = "starter"
for = "A"
[[slope]]
name = "north"
shape = "rectangle"
piece = "A"
bottom = "60 in"
height = "40 in"
[[stock]]
name = "coil 24"
form = "coil"
width = "24 in"
on_hand = "900 lb"
[labour]
rate = 0
[roof]
cut_pieces = "on the roof"
"""
)
WIDER = ROOF.replace('bottom = "60 in"', 'bottom = "63-1/2 in"')


@cache
def planned(text: str, folder: Path) -> dict[str, Any]:
    path = folder / "planned.toml"
    path.write_text(text)
    data: dict[str, Any] = json.loads(json.dumps(plan_json(make_plan(load_job(path), effort=0))))
    return data


def until_nothing_is_left(folder: Path, seed: int) -> None:
    """Cut some, spoil some, plan the rest, and again: at the end there is exactly what the job takes."""
    rng = random.Random(seed)
    text, name, rounds = FLAT, "job", 0
    needed = {"K": 32, "L": 10}
    there = dict.fromkeys(needed, 0)
    sheets, chalked = 9, 0
    while True:
        job = folder / f"{name}.toml"
        job.write_text(text)
        counts = {p.mark: p.count for p in make_pieces(load_job(job)).patterns}
        assert counts == {m: max(0, needed[m] - there[m]) for m in needed}
        data = planned(text, folder)
        offcuts = [o["number"] for y in data["nesting"]["layouts"] for o in y["offcuts"] if o["keep"]]
        assert offcuts == list(range(chalked + 1, chalked + 1 + len(offcuts)))
        path = folder / f"{seed}-{rounds}.db"
        cut = dict.fromkeys(needed, 0)
        for n, lay in enumerate(data["nesting"]["layouts"], 1):
            times = rng.randint(0, lay["repeat"]) if rounds < 2 else lay["repeat"]
            if times:
                record.note(path, data, "cut", {str(n): times})
            sheets -= times if lay["stock"] == "sheet" else 0
            for b in lay["blanks"]:
                cut[b["mark"]] += times
        for m, n in cut.items():
            spoiled = rng.randint(0, min(n, 4)) if rounds < 2 else 0
            if spoiled:
                record.note(path, data, "spoiled", {m: spoiled})
            there[m] += n - spoiled
        if not path.exists():
            return
        the_job = load_job(job)
        found = rest(the_job, record.done(path))
        assert {m.mark: m.left for m in found.marks} == {m: max(0, needed[m] - there[m]) for m in needed}
        if not found.left:
            assert all(there[m] >= n for m, n in needed.items())
            return
        text = rest_text(text, the_job, found)
        name, rounds = f"job-{seed}-{rounds}", rounds + 1
        job = folder / f"{name}.toml"
        job.write_text(text)
        again = load_job(job)
        prove_rest(again, found)
        chalked += len(offcuts)  # the next go on from here, and what is left is known by what is chalked on it
        left = {
            s.name.partition(" off ")[0] for s in again.stock if s.form == "offcut" and s.name.endswith("off sheet")
        }
        assert {int(n[1:]) for names in left for n in names.split(", ")} <= set(range(1, chalked + 1))
        on_hand = next(s.on_hand for s in again.stock if s.name == "sheet")
        assert on_hand is not None
        assert on_hand.count == sheets


def test_offcuts_of_the_rest_go_on_from_those_of_before(tmp_path: Path) -> None:
    """Two shops' worth of numbers: what is chalked K1 is never K1 again."""
    larger = FLAT.replace('width = "24 in"\nlength = "24 in"', 'width = "25 in"\nlength = "29 in"')  # leaves an offcut
    text = larger + "[done]\noffcuts = 7\n"
    path = _written(tmp_path / "job.toml", text)
    plan = make_plan(load_job(path), effort=0)
    assert plan.cut_plan is not None
    numbers = [o.number for y in plan.cut_plan.layouts for o in y.offcuts if o.keep]
    assert numbers == list(range(8, 8 + len(numbers)))
    assert numbers
    data = json.loads(json.dumps(plan_json(plan)))
    db = tmp_path / "r.db"
    record.note(db, data, "cut", {str(n): y["repeat"] for n, y in enumerate(data["nesting"]["layouts"], 1)})
    record.note(db, data, "spoiled", {"K": 3})
    found = rest(load_job(path), record.done(db))
    assert found.there.offcuts == numbers[-1]
    again = load_job(_written(tmp_path / "rest.toml", rest_text(text, load_job(path), found)))
    assert again.done.offcuts == numbers[-1]
    left = [s.name for s in again.stock if s.form == "offcut"]
    assert sorted(n for name in left for n in name.partition(" off ")[0].split(", ")) == sorted(
        f"K{n}" for n in numbers
    )


@pytest.fixture(scope="module")
def flat(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, Any]]:
    """A plan of plain blanks."""
    folder = tmp_path_factory.mktemp("flat")
    data = planned(FLAT, folder)
    return folder / "planned.toml", data


@pytest.mark.parametrize("seed", range(6))
def test_cut_and_left_make_what_is_needed(flat: tuple[Path, dict[str, Any]], tmp_path: Path, seed: int) -> None:
    job, data = flat
    path, rng = tmp_path / "r.db", random.Random(seed)
    cut, taken = Counter[str](), Counter[str]()
    for n, lay in enumerate(data["nesting"]["layouts"], 1):
        times = rng.randint(n == 1, lay["repeat"])
        if times:
            record.note(path, data, "cut", {str(n): times})
        taken[lay["stock"]] += times * (1 if lay["stock"] == "sheet" else lay["length"])
        cut.update({m: times * k for m, k in Counter(b["mark"] for b in lay["blanks"]).items()})
    spoiled = {m: rng.randint(1, n) for m, n in cut.items() if n}
    record.note(path, data, "spoiled", spoiled)
    found = rest(load_job(job), record.done(path))
    good = {m: cut[m] - spoiled.get(m, 0) for m in ("K", "L")}
    assert {m.mark: (m.good, m.left) for m in found.marks} == {
        m: (good[m], max(0, n - good[m])) for m, n in (("K", 32), ("L", 10))
    }
    again = load_job(_written(tmp_path / "rest.toml", rest_text(FLAT, load_job(job), found)))
    prove_rest(again, found)
    hand = {s.name: s.on_hand for s in again.stock}
    assert hand["sheet"] is not None
    assert hand["sheet"].count == 9 - taken["sheet"]
    assert hand["coil"] is not None
    assert inches(hand["coil"].length or 0) == pytest.approx(144 - taken["coil"], abs=1e-3)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(2, 40))
def test_cut_and_left_make_what_is_needed_many(tmp_path: Path, seed: int) -> None:
    until_nothing_is_left(tmp_path, seed)


@pytest.fixture(scope="module")
def begun(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, Any]]:
    """A roof whose metal is all cut, laid up to course 2."""
    folder = tmp_path_factory.mktemp("roof")
    data = planned(ROOF, folder)
    path = folder / "r.db"
    record.note(path, data, "cut", {str(n): y["repeat"] for n, y in enumerate(data["nesting"]["layouts"], 1)})
    record.note(path, data, "laid", {"north": 2})
    return path, data


def test_laid_courses_stay_where_they_are(begun: tuple[Path, dict[str, Any]], tmp_path: Path) -> None:
    path, data = begun
    was = data["roof"]["slopes"][0]
    job = tmp_path / "job.toml"
    job.write_text(WIDER)
    free = make_pieces(load_job(job)).roof
    assert free is not None
    assert (free.slopes[0].alignment, free.slopes[0].centre_x) != (was["alignment"], was["centre_x"])
    found = rest(load_job(job), record.done(path))
    again = tmp_path / "again.toml"
    again.write_text(rest_text(WIDER, load_job(job), found))
    roof = make_pieces(load_job(again)).roof
    assert roof is not None
    (now,) = roof.slopes
    assert (now.alignment, now.laid) == (was["alignment"], 2)
    for mine, theirs in ((now.centre_x, was["centre_x"]), (now.base, was["base"]), (now.course, was["course"])):
        assert mine == pytest.approx(theirs, abs=1e-6)
    assert min(k.first_course for k in roof.kits) == 3
    # Left is what the courses above take now, less what was cut and is not laid.
    above = sum(p.mark == "A" for p in now.pieces if p.course > 2)
    by_old = make_pieces(load_job(_written(tmp_path / "old.toml", ROOF))).roof
    assert by_old is not None
    laid = sum(p.mark == "A" for p in by_old.slopes[0].pieces if p.course <= 2)
    a = next(m for m in found.marks if m.mark == "A")
    assert a.on_roof == laid
    assert a.left == max(0, above - (a.good - laid))


def _written(path: Path, text: str) -> Path:
    path.write_text(text)
    return path


def test_a_slope_measured_as_before_leaves_nothing(begun: tuple[Path, dict[str, Any]], tmp_path: Path) -> None:
    found = rest(load_job(_written(tmp_path / "job.toml", ROOF)), record.done(begun[0]))
    assert found.left == 0
    assert "north: laid up to course 2; its lines stay where they are" in rest_lines(found)


def test_a_rest_that_is_begun_is_not_worked_out_anew(begun: tuple[Path, dict[str, Any]], tmp_path: Path) -> None:
    path, target = tmp_path / "W-3-rest-record.db", tmp_path / "job-rest.toml"
    refuse_begun(path, target)  # no record yet
    record.note(path, begun[1], "cut", {"1": 1})
    with pytest.raises(PlanError, match=r"fabplan rest job-rest\.toml"):
        refuse_begun(path, target)
    record.undo(path)
    refuse_begun(path, target)


def test_more_laid_than_cut_is_refused(begun: tuple[Path, dict[str, Any]], tmp_path: Path) -> None:
    path = tmp_path / "r.db"
    record.note(path, begun[1], "laid", {"north": 2})
    with pytest.raises(PlanError, match="lie on the roof by this record"):
        rest(load_job(_written(tmp_path / "job.toml", ROOF)), record.done(path))


def test_courses_laid_by_other_rules_are_told(begun: tuple[Path, dict[str, Any]], tmp_path: Path) -> None:
    data = json.loads(json.dumps(begun[1]))
    data["roof"]["slopes"][0]["courses"][1]["whole"] += 1
    path = tmp_path / "r.db"
    record.note(path, data, "laid", {"north": 2})
    with pytest.raises(PlanError, match="is another than in the plan it was laid by"):
        rest(load_job(_written(tmp_path / "job.toml", ROOF)), record.done(path))


def test_what_is_left_of_a_coil_by_weight(begun: tuple[Path, dict[str, Any]], tmp_path: Path) -> None:
    path, data = begun
    job = _written(tmp_path / "job.toml", ROOF.replace('height = "40 in"', 'height = "52 in"'))
    text = rest_text(job.read_text(), load_job(job), rest(load_job(job), record.done(path)))
    left = load_job(_written(tmp_path / "rest.toml", text)).stock[0].on_hand
    assert left is not None
    assert left.pounds == pytest.approx(900 - data["nesting"]["stock"][0]["weight"], abs=1e-3)


def test_courses_that_this_diamond_cannot_reach_are_refused(tmp_path: Path) -> None:
    laid = """[[laid]]
slope = "north"
courses = 2
centre = "point"
from_left = "30 in"
base = "0 in"
course = "9 in"
"""
    with pytest.raises(JobError, match="this diamond is laid in courses of"):
        make_pieces(load_job(_written(tmp_path / "job.toml", ROOF + laid)))


SMALL_ROOF = ROOF.replace('bottom = "60 in"', 'bottom = "28 in"')
THREE = SMALL_ROOF.replace('name = "north"', 'name = "dormer"\ncount = 3')
APART = SMALL_ROOF.replace('name = "north"', 'name = "dormer"\ncount = 2') + THREE[
    THREE.index("[[slope]]") : THREE.index("[[stock]]")
].replace('"dormer"\ncount = 3', '"dormer no. 2"')


def all_cut(path: Path, text: str, laid: dict[str, int]) -> tuple[Any, record.DoneByPlan]:
    """A job whose blanks are all cut, and laid so far."""
    job = load_job(_written(path, text))
    plan = Plan(**_plan_of(job))
    marks = {p.mark: record.Tally(cut=p.count) for p in plan.patterns}
    said = saved(json.loads(json.dumps(plan_json(plan))))
    return job, record.DoneByPlan(digest="d", plan=said, layouts={}, marks=marks, laid=laid)


@pytest.mark.parametrize(
    "laid", [{"dormer no. 2": 1, "dormer": 3}, pytest.param({"dormer no. 2": 2}, marks=pytest.mark.slow)]
)
def test_one_of_several_alike_is_laid_as_a_slope_of_its_own(tmp_path: Path, laid: dict[str, int]) -> None:
    """Three dormers, of which the second is laid further: as though it had been measured by itself."""
    one, one_done = all_cut(tmp_path / "one.toml", THREE, laid)
    two, two_done = all_cut(tmp_path / "two.toml", APART, laid)
    higher = 'height = "40 in"', 'height = "52 in"'  # and they are all higher than was measured
    found = []
    for job, text, done in ((one, THREE, one_done), (two, APART, two_done)):
        path = _written(tmp_path / "now.toml", text.replace(*higher))
        now = rest(load_job(path), [done])
        again = load_job(_written(tmp_path / "rest.toml", rest_text(path.read_text(), load_job(path), now)))
        pieces = make_pieces(again)
        roof = pieces.roof
        assert roof is not None
        assert {p.mark: p.count for p in pieces.patterns} == {m.mark: m.left for m in now.marks}
        assert sum(s.slope.times for s in roof.slopes) == 3
        wrong = [replace(s, slope=replace(s.slope, times=4 - s.slope.times)) for s in roof.slopes]
        assert (text is APART) or check_roof(replace(roof, slopes=tuple(wrong)), again, pieces.whole)
        found.append((now.marks, sum(s.slope.times * (s.laid or 0) for s in roof.slopes)))
        assert job.info.number == again.info.number.removesuffix("-rest")
    assert found[0] == found[1]


def test_what_is_said_of_all_later_is_true_of_each(tmp_path: Path) -> None:
    job, done = all_cut(tmp_path / "one.toml", THREE, {})
    data = json.loads(json.dumps(plan_json(Plan(**_plan_of(job)))))
    path = tmp_path / "r.db"
    for laid in ({"dormer no. 2": 1}, {"dormer": 2}, {"dormer no. 3": 4}):
        record.note(path, data, "laid", laid)
    assert record.done(path)[0].laid == {"dormer": 2, "dormer no. 3": 4}
    assert copies(done.plan, job, "dormer", {"dormer": 2, "dormer no. 3": 4}) == 2
    with pytest.raises(JobError, match="no such slope"):
        slope_of(done.plan, "dormer no. 4")


def _plan_of(job: Any) -> dict[str, Any]:
    pieces = make_pieces(job)
    return {
        "job": job, "metals": pieces.metals, "patterns": pieces.patterns, "cut_plan": None, "schedules": (),
        "roof": pieces.roof,
    }  # fmt: skip


BENCH = """[job]
name = "Cupola"
number = "7"
spare = "4 %"
[metal]
use = "copper-16oz"
[[piece]]
mark = "A"
kind = "diamond"
side = "10 in"
hem = "3/4 in"
[[slope]]
name = "cupola"
shape = "regular-spire"
piece = "A"
sides = 8
across_flats = "48 in"
height = "40 in"
[[stock]]
name = "coil 24"
form = "coil"
width = "24 in"
[roof]
cut_pieces = "at the bench"
cap_leg = "4 in"
underlap = "2 in"
[labour]
rate = 0
"""


def test_part_blanks_stay_part_blanks(tmp_path: Path) -> None:
    """Some of everything is cut, some courses are laid, and the stock is short: the part blanks are those of before."""
    job = load_job(_written(tmp_path / "job.toml", BENCH))
    pieces = make_pieces(job)
    assert pieces.roof is not None
    assert pieces.parts
    plan = Plan(job=job, metals=pieces.metals, patterns=pieces.patterns, cut_plan=None, schedules=(), roof=pieces.roof)
    said = saved(json.loads(json.dumps(plan_json(plan))))
    name = pieces.roof.slopes[0].slope.name
    cut = {p.mark: p.count - 1 for p in pieces.patterns}
    done = record.DoneByPlan(
        digest="d", plan=said, layouts={}, marks={m: record.Tally(cut=n) for m, n in cut.items()}, laid={name: 0}
    )
    found = rest(job, [done])
    assert {m.mark: m.left for m in found.marks} == dict.fromkeys(cut, 1)
    assert not any(m.misfit for m in found.marks)
    assert found.there.part_blanks
    again = load_job(_written(tmp_path / "rest.toml", rest_text(BENCH, job, found)))
    prove_rest(again, found)
    left = make_pieces(again)
    assert [(p.mark, p.outline) for p in left.parts] == [(p.mark, p.outline) for p in pieces.parts]
    other = BENCH.replace('cap_leg = "4 in"', 'cap_leg = "4-1/2 in"')
    changed = rest(load_job(_written(tmp_path / "job.toml", other)), [replace(done, laid={})])
    assert any(m.misfit for m in changed.marks)  # cut shapes are others, and so are their blanks
    laid = rest(load_job(tmp_path / "job.toml"), [done])  # what lies on the roof need not fit any more
    assert sum(m.misfit for m in laid.marks) < sum(m.misfit for m in changed.marks)
    assert sum(m.left for m in laid.marks) < sum(m.left for m in changed.marks)
    assert next(m for m in changed.marks if m.mark == "A").good == cut["A"]  # whole diamonds are as they were
