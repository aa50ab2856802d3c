"""Part blanks in the whole plan: chosen by cost, cut by the nest, said on the page, proved from the saved file."""

from __future__ import annotations

import copy
import json
import random
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import roof_jobs as rj
from test_random_roofs import SHAPES, random_rules, random_slope

import fabplan.plan.prove
import fabplan.roof.parts.part_sizes
from fabplan.errors import FabplanError
from fabplan.job.load import load_job
from fabplan.job.model import Job
from fabplan.nesting.check.whole import check_plan
from fabplan.nesting.model import Cut, Layout, Placed
from fabplan.plan.file import plan_json
from fabplan.plan.make import Pieces, make_nest, make_pieces, make_plan
from fabplan.plan.prove import prove
from fabplan.roof.model import RoofPlan

JOB = """
[job]
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
hem_gap = "1/16 in"

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
price = "9.40 per lb"

[roof]
cut_pieces = "at the bench"
cap_leg = "4 in"
underlap = "2 in"

[nest]
search_effort = 0.05
"""


METAL_ALONE = (
    JOB
    + """
[labour]
rate = 0
[shear]
longest_cut = "52 in"
back_gauge_reach = "48 in"
least_gauge = "0 in"
least_held = "1 in"
least_pull = "0 in"
width_tolerance = "0 in"
"""
)


def job_of(tmp: Path, text: str = METAL_ALONE) -> Job:
    path = tmp / "job.toml"
    path.write_text(text, encoding="utf-8")
    return load_job(path)


def whole_only(monkeypatch: pytest.MonkeyPatch, job: Job) -> Pieces:
    with monkeypatch.context() as patch:
        patch.setattr(fabplan.roof.parts.part_sizes, "with_part_sizes", lambda plan, _job, _patterns: plan)
        return make_pieces(job)


def test_they_cost_less_than_whole_blanks(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    job = job_of(tmp_path)
    pieces, whole = make_pieces(job), whole_only(monkeypatch, job)
    assert pieces.roof is not None and pieces.roof.part_sizes
    assert sum(p.count - p.spare for p in pieces.patterns) > sum(p.count - p.spare for p in whole.patterns)
    with_parts, without = make_nest(job, pieces), make_nest(job, whole)
    assert with_parts is not None and without is not None
    # a cupola's parts take four fifths of the metal of whole blanks, or less
    assert with_parts.total < without.total * 4 / 5
    marks = {s.mark for s in pieces.roof.part_sizes}
    angles = {
        c.angle for y in with_parts.layouts if marks & {b.mark for b in y.blanks} for c in y.cuts if c.angle != 90
    }
    assert angles and all(30 <= a <= 150 for a in angles)


def test_they_stay_where_the_stock_is_short(tmp_path: Path) -> None:
    enough = make_pieces(job_of(tmp_path, METAL_ALONE))
    price = 'price = "9.40 per lb"'
    short = make_pieces(job_of(tmp_path, METAL_ALONE.replace(price, price + '\non_hand = "6 ft"')))
    assert short.parts
    assert [(p.mark, p.count) for p in short.patterns] == [(p.mark, p.count) for p in enough.patterns]


@pytest.mark.parametrize(
    ("change", "why"),
    [
        (("[roof]", "[roof]\npair = false"), "two from a blank forbidden"),
        (("[nest]", "[nest]\npair = false"), "slanted strips forbidden"),
        (('[[stock]]\nname = "coil 24"\nform = "coil"\nwidth = "24 in"\nprice = "9.40 per lb"', ""), "no stock"),
    ],
)
def test_whole_blanks_stay_where_parts_are_not_allowed(tmp_path: Path, change: tuple[str, str], why: str) -> None:
    pieces = make_pieces(job_of(tmp_path, METAL_ALONE.replace(*change)))
    assert pieces.roof is not None and not pieces.roof.part_sizes, why
    assert [p.mark for p in pieces.patterns] == ["A"]


def test_whole_blanks_stay_where_the_shear_cannot_slant(tmp_path: Path) -> None:
    shear = '\n[shear]\nlongest_cut = "52 in"\nback_gauge_reach = "48 in"\nangle_stop = [90, 90]\n'
    pieces = make_pieces(job_of(tmp_path, JOB + shear))
    assert pieces.roof is not None and not pieces.roof.part_sizes


def test_whole_blanks_stay_where_they_cost_no_more(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Sheets that hold all of it: the metal costs the same whatever the blanks."""
    stock = JOB.replace(
        'form = "coil"\nwidth = "24 in"\nprice = "9.40 per lb"',
        'form = "sheet"\nwidth = "60 in"\nlength = "120 in"\nprice = "400 per sheet"',
    )
    pieces = make_pieces(
        job_of(tmp_path, stock + '\n[shear]\nlongest_cut = "121 in"\nback_gauge_reach = "60 in"\n[labour]\nrate = 0\n')
    )
    assert pieces.roof is not None and not pieces.roof.part_sizes


def test_spare_is_added_once_to_each_blank(tmp_path: Path) -> None:
    pieces = make_pieces(job_of(tmp_path))
    assert pieces.roof is not None
    for p in pieces.patterns:
        need = dict(pieces.roof.counts)[p.mark]
        assert p.count - p.spare == need and p.spare == -(-need * 4 // 100)


@pytest.mark.parametrize("text", [METAL_ALONE, pytest.param(JOB, marks=pytest.mark.slow)], ids=["metal", "work too"])
def test_the_saved_plan_is_proved_and_damage_is_found(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, text: str
) -> None:
    job = job_of(tmp_path, text)
    data = json.loads(json.dumps(plan_json(make_plan(job, effort=0))))
    assert prove(data, job).ok
    pieces = make_pieces(job)
    monkeypatch.setattr(fabplan.plan.prove, "make_pieces", lambda _job: pieces)  # the same each time, and slow
    mark = data["roof"]["part_blanks"][0]["mark"]

    def blank(d: Any) -> Any:
        return next(b for b in d["blanks"] if b["mark"] == mark)

    def placed(d: Any) -> Any:
        return next(b for y in d["nesting"]["layouts"] for b in y["blanks"] if b["mark"] == mark)

    damage: dict[str, Callable[[Any], object]] = {
        "count": lambda d: blank(d).update(count=blank(d)["count"] - 1),
        "outline": lambda d: blank(d)["outline"].reverse(),
        "shape": lambda d: d["roof"]["part_blanks"][0]["cut_shapes"][0].update(cut_shape=1000),
        "turned": lambda d: d["roof"]["part_blanks"][0]["cut_shapes"][0].update(turned_deg=45),
        "placed as a whole one": lambda d: placed(d).update(mark="A"),
    }
    for what, spoil in damage.items():
        spoilt = copy.deepcopy(data)
        spoil(spoilt)
        assert not prove(spoilt, job).ok, what


def test_same_job_same_choice(tmp_path: Path) -> None:
    job = job_of(tmp_path)
    first, second = make_pieces(job).roof, make_pieces(job).roof
    assert isinstance(first, RoofPlan) and first == second


def test_spoilt_cut_plans_of_part_blanks_are_found(tmp_path: Path) -> None:
    job = job_of(tmp_path)
    pieces = make_pieces(job)
    plan = make_nest(job, pieces)
    assert plan is not None and pieces.roof is not None
    marks = {s.mark for s in pieces.roof.part_sizes}
    assert check_plan(plan, pieces.patterns, job, pieces.metals) == []
    n, layout = next((n, y) for n, y in enumerate(plan.layouts) if any(b.mark in marks for b in y.blanks))
    k, blank = next((k, b) for k, b in enumerate(layout.blanks) if b.mark in marks)
    c, cut = next((c, x) for c, x in enumerate(layout.cuts) if x.angle != 90)
    assert blank.outline is not None

    def with_blank(*new: Placed) -> Layout:
        return replace(layout, blanks=(*layout.blanks[:k], *new, *layout.blanks[k + 1 :]))

    def with_cut(*new: Cut) -> Layout:
        return replace(layout, cuts=(*layout.cuts[:c], *new, *layout.cuts[c + 1 :]))

    other = next(m for m in (*sorted(marks), "A") if m != blank.mark)
    gauge = 10 if cut.back_gauge is None else cut.back_gauge + 1
    spoilt = {
        "moved": with_blank(replace(blank, x=blank.x + 1)),
        "moved with its outline": with_blank(
            replace(blank, x=blank.x + 5, outline=tuple((x + 5, y) for x, y in blank.outline))
        ),
        "turned over": with_blank(
            replace(blank, outline=tuple((blank.x * 2 + blank.width - x, y) for x, y in blank.outline))
        ),
        "another mark": with_blank(replace(blank, mark=other)),
        "left out": with_blank(),
        "twice": with_blank(blank, blank),
        "angle": with_cut(replace(cut, angle=cut.angle + 1)),
        "angle beyond the stop": with_cut(replace(cut, angle=20.0)),
        "gauge": with_cut(replace(cut, back_gauge=gauge)),
        "cut left out": with_cut(),
        "cut shortened": with_cut(replace(cut, end=cut.start)),
        "made once more": replace(layout, repeat=layout.repeat + 1),
    }
    for what, bad in spoilt.items():
        changed = replace(plan, layouts=(*plan.layouts[:n], bad, *plan.layouts[n + 1 :]))
        assert check_plan(changed, pieces.patterns, job, pieces.metals), what


def test_two_diamonds_part_on_their_own_and_marks_do_not_meet(tmp_path: Path) -> None:
    more = """
[[piece]]
mark = "B"
kind = "diamond"
side = "8 in"
hem = "3/4 in"
hem_gap = "1/16 in"

[[piece]]
mark = "B-1"
kind = "rectangle"
width = "3 in"
length = "5 in"
count = 4

[[slope]]
name = "second"
shape = "regular-spire"
piece = "B"
sides = 6
side = "30 in"
height = "50 in"

[[slope]]"""
    pieces = make_pieces(job_of(tmp_path, METAL_ALONE.replace("[[slope]]", more.lstrip(), 1)))
    assert pieces.roof is not None
    assert {s.diamond for s in pieces.roof.part_sizes} == {"A", "B"}
    marks = [p.mark for p in pieces.patterns]
    assert len(set(marks)) == len(marks) and "B-2" in marks
    assert dict(pieces.roof.spared).keys() == {"A", "B"}


@pytest.mark.slow
def test_random_roofs_are_never_dearer_for_their_part_blanks(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    stocked = job_of(tmp_path)
    taken = 0
    for seed in range(60):
        rng = random.Random(seed)
        slope = rj.slope(**random_slope(rng, SHAPES[seed % len(SHAPES)]))
        job = rj.job_with(slope, rules=random_rules(rng), stock=stocked.stock)
        try:
            pieces = make_pieces(job)
        except FabplanError:
            continue
        if pieces.roof is None or not pieces.roof.part_sizes:
            continue
        taken += 1
        ours, whole = make_nest(job, pieces, effort=0.05), make_nest(job, whole_only(monkeypatch, job), effort=0.05)
        assert ours is not None and whole is not None and ours.total <= whole.total, f"seed {seed}"
    assert taken >= 10
