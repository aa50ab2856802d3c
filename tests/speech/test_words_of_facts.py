"""What is said of facts made here by hand: lengths, lists, work, stock, folds, changes, roofs."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from fabplan.job.load import load_job
from fabplan.job.model import Job
from fabplan.labour import Spent
from fabplan.plan.changes import Changes, CountChange, HoursChange, LayoutChange
from fabplan.plan.make import make_pieces
from fabplan.plan.model import Lift, StationTime
from fabplan.speech import buying, changes, folds, format, labour, roof, roof_tables
from fabplan.units import NM_PER_INCH, Nm, Show

INCHES = Show("in", Nm(NM_PER_INCH // 32))
METRIC = Show("mm", Nm(500_000))
ROOF = """
[job]
name = "Pump house"
number = "5"
[metal]
use = "copper-16oz"
[[piece]]
mark = "A"
kind = "diamond"
side = "10 in"
hem = "3/4 in"
[[slope]]
name = "front"
shape = "rectangle"
piece = "A"
bottom = "60 in"
height = "50 in"
[[stock]]
name = "coil"
form = "coil"
width = "24 in"
"""


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Job:
    path = tmp_path_factory.mktemp("roof") / "job.toml"
    path.write_text(ROOF, encoding="utf-8")
    return load_job(path)


def test_figures_as_they_stand_on_paper() -> None:
    assert format.paper("14-1/32 in, 24 x 42") == "14 1⁄32 in, 24 × 42"
    assert format.listed(["A"]) == "A" and format.listed("ABC") == "A, B and C"
    assert format.spans([1, 4, 5, 6, 9]) == "1, 4–6, 9"
    assert format.count(1240, "piece") == "1,240 pieces" and format.count(1, "sheet") == "1 sheet"
    say = format.Say(show=METRIC, currency="EUR")
    assert say.percent(0.1234) == "12.3 %"
    assert say.money(Fraction("1240.5")) == "EUR 1,240.50"


@pytest.mark.parametrize(("seconds", "words"), [(40, "40 s"), (59.6, "1 min"), (1320, "22 min"), (15480, "4.3 h")])
def test_times_as_one_says_them(seconds: float, words: str) -> None:
    assert labour.time_words(seconds) == words


def test_work_is_told_longest_first_and_summed() -> None:
    shear = StationTime(
        station="shear",
        spent=(Spent(what="scribe", times=1, seconds=60.0), Spent(what="stroke", times=1361, seconds=13610.0)),
    )
    bench = StationTime(station="bench", spent=(Spent(what="bar_fold", times=2, seconds=16.0),))
    assert labour.work_words(shear.spent).startswith("1,361 ")
    rows = labour.hours_rows([shear, bench])
    assert [row[0] for row in rows][:2] == ["Shear", "Bench"]
    assert rows[-1][1] == labour.time_words(13686.0)
    assert len(labour.hours_rows([bench])) == 1  # one station needs no sum


def test_what_is_lifted_names_the_heaviest_above_its_limit() -> None:
    light = Lift(kind="bundle", of="A", count=12, size=None, pounds=30.0, limit=50.0)
    heavy = Lift(
        kind="panel", of="coil 24", count=1, size=(24 * NM_PER_INCH, 60 * NM_PER_INCH), pounds=70.0, limit=50.0
    )
    heavier = Lift(
        kind="panel", of="coil 36", count=1, size=(36 * NM_PER_INCH, 60 * NM_PER_INCH), pounds=90.0, limit=50.0
    )
    assert buying.lift_words(light, INCHES) == "12 of A"
    assert buying.heavy_notes([light], INCHES) == ()
    (note,) = buying.heavy_notes([light, heavy, heavier], INCHES)
    assert "coil 36" in note and "coil 24" not in note
    assert buying.count_of(1, "sheet") == "1 sheet" and buying.count_of(2, "sheet") == "2 sheets"


def test_angles_and_turns_of_a_fold() -> None:
    assert folds.angle_words(45, INCHES) == "turned 45° (inside 135°)"
    assert folds.join(["a", "b", "c"]) == "a, b and c"
    left, right = folds.rotate_words(90, INCHES), folds.rotate_words(-90, INCHES)
    assert "left" in left and "right" in right and left != right
    assert folds.not_planned(["C", "D"]) == "NOT PLANNED: C and D"


def test_changes_are_told_hands_first_and_nothing_is_a_sentence() -> None:
    nothing = Changes(
        counts=(),
        blanks=(),
        folds=(),
        still_good=("A",),
        layouts=LayoutChange(same=3, new=0, gone=0, other_times=0),
        stock=(),
        money=None,
        metal=None,
        hours=(),
        missing=(0, 0),
    )
    assert changes.change_lines(nothing, INCHES) == ["Nothing changed for the shop."]
    some = replace(
        nothing,
        counts=(CountChange(mark="A", old=10, new=12),),
        hours=(HoursChange(station="shear", old=3600.0, new=7200.0),),
    )
    lines = changes.change_lines(some, INCHES)
    assert "A" in lines[0] and "12" in lines[0]
    assert len(lines) <= 10


def test_a_roof_in_tables(job: Job) -> None:
    plan = make_pieces(job).roof
    assert plan is not None
    slope = plan.slopes[0]
    table = roof_tables.course_table(slope, job)
    pieces = [c.total for c in slope.courses]
    assert len([row for row in table.rows if any(row)]) >= len(pieces)
    assert any(str(pieces[-1]) in row for row in table.rows)
    counted = roof_tables.count_table(plan, job)
    assert any(str(sum(pieces)) in cell.replace(",", "") for row in counted.rows for cell in row)
    assert roof_tables.on_the_roof(job) and "in place" in roof.on_roof_note(plan, job)
    assert len(set(roof.notes(plan, job))) == len(roof.notes(plan, job))  # nothing is said twice
