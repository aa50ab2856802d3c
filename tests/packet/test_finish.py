"""A face with a finish, from the job file to paper: one way on the metal, never on bare steel, arrows, words."""

from __future__ import annotations

from dataclasses import replace
from math import hypot
from pathlib import Path

import pytest

from fabplan.bending.check.soft import soft_faults
from fabplan.bending.check.whole import check_schedule
from fabplan.blanks.check.patterns import check_patterns
from fabplan.job.load import load_job
from fabplan.packet.pages.build import build_packet
from fabplan.packet.pages.pictures import blank_drawing, layout_drawing
from fabplan.packet.rolling import rolled_ways
from fabplan.plan.make import make_pieces, make_plan
from fabplan.plan.model import Plan
from fabplan.plotter.model import Drawing, Line

JOB = """
[job]
name = "Pump house lantern"
number = "C-1"
{units}
[metal]
use = "{metal}"
{finish}
[[piece]]
mark = "A"
kind = "diamond"
count = 7
side = "10 in"
hem = "3/4 in"
[[piece]]
mark = "S"
kind = "starter"
for = "A"
count = 3
hooks = "D"
[[piece]]
mark = "D"
kind = "section"
count = 2
length = "34 in"
legs = ["3/4 in", "2-1/2 in", "3 in"]
bends = [90, -45]
end_hem = {{width = "1/2 in", toward = "back", gap = "0 in"}}
[[piece]]
mark = "K"
kind = "rectangle"
count = 5
width = "4 in"
length = "9 in"
[[stock]]
name = "sheet"
form = "sheet"
width = "36 in"
length = "96 in"
{stock}
"""


def job_text(finish: str = "", metal: str = "copper-16oz", units: str = "", stock: str = "") -> str:
    return JOB.format(finish=finish, metal=metal, units=units, stock=stock)


def planned(folder: Path, **keys: str) -> Plan:
    (folder / "job.toml").write_text(job_text(**keys), encoding="utf-8")
    return make_plan(load_job(folder / "job.toml"), effort=0, should_stop=lambda: True)


@pytest.fixture(scope="module")
def coated(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    return planned(tmp_path_factory.mktemp("coated"), finish='finish = "coated"')


@pytest.fixture(scope="module")
def zinc(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    return planned(tmp_path_factory.mktemp("zinc"), metal="zinc-0.7mm")


def arrows(drawing: Drawing) -> list[Line]:
    return [m for m in drawing.marks if isinstance(m, Line) and m.pen == "edge" and m.arrow == "both"]


def test_no_blank_is_turned_a_quarter(coated: Plan) -> None:
    assert {p.grain for p in coated.patterns} == {"along"}
    assert coated.cut_plan is not None
    placed = [b for layout in coated.cut_plan.layouts for b in layout.blanks if b.outline is None]
    assert placed and not any(b.turned for b in placed)


def test_the_way_somebody_typed_holds_for_all(tmp_path: Path) -> None:
    text = job_text(finish='finish = "pre-patinated"').replace('width = "4 in"', 'width = "4 in"\ngrain = "across"')
    (tmp_path / "job.toml").write_text(text, encoding="utf-8")
    assert {p.grain for p in load_job(tmp_path / "job.toml").pieces} == {"across"}


def test_a_profile_may_say_that_its_metal_is_coated(tmp_path: Path) -> None:
    shipped = Path(__file__).parents[2] / "stock_profiles" / "aluminum-0.032in.toml"
    text = shipped.read_text(encoding="utf-8").replace("hour_weighs = ", 'finish = "coated"\nhour_weighs = ', 1)
    (tmp_path / "mill.toml").write_text(text, encoding="utf-8")
    (tmp_path / "job.toml").write_text(job_text(metal="mill.toml"), encoding="utf-8")
    pieces = load_job(tmp_path / "job.toml").pieces
    assert {(p.finish, p.grain) for p in pieces} == {("coated", "along")}
    (tmp_path / "job.toml").write_text(job_text(metal="mill.toml", finish='finish = "bare"'), encoding="utf-8")
    assert {p.grain for p in load_job(tmp_path / "job.toml").pieces} == {"any"}


def test_every_stroke_keeps_the_face_off_bare_steel(coated: Plan) -> None:
    for schedule in coated.schedules:
        pattern = coated.pattern(schedule.mark)
        for k, step in enumerate(schedule.steps):
            assert ("bed" in step.soft) >= (step.side_up == "back")
            for other in {(), ("bed",), ("jaw",), ("bed", "jaw")} - {step.soft}:
                steps = (*schedule.steps[:k], replace(step, soft=other), *schedule.steps[k + 1 :])
                assert soft_faults(replace(schedule, steps=steps), pattern), (schedule.mark, step.step, other)
    assert any(step.soft == ("bed", "jaw") for s in coated.schedules for step in s.steps)
    bare = tuple(replace(step, soft=()) for step in coated.schedules[-1].steps)
    wrong = replace(coated.schedules[-1], steps=bare)
    assert check_schedule(wrong, coated.pattern(wrong.mark), coated.job, coated.metals)


def test_a_bare_piece_needs_no_cover(zinc: Plan) -> None:
    assert all(not step.soft for s in zinc.schedules for step in s.steps)


def test_the_checker_sees_a_lost_finish(coated: Plan) -> None:
    pieces = make_pieces(coated.job)
    for change in ({"finish": "bare"}, {"grain": "any"}):
        wrong = (replace(pieces.whole[0], **change), *pieces.whole[1:])
        assert check_patterns(wrong, coated.job, coated.metals)


def test_an_arrow_on_every_blank(coated: Plan, zinc: Plan) -> None:
    for plan in (coated, zinc):
        for p in plan.patterns:
            ways = rolled_ways(plan, p)
            found = arrows(blank_drawing(plan, p, 80.0))
            assert len(found) == len(ways) > 0, p.mark
            for line, way in zip(found, ways, strict=True):
                (ax, ay), (bx, by) = line.points
                upright = abs(by - ay) / hypot(bx - ax, by - ay)
                assert upright == pytest.approx(1.0 if way == 90.0 else 0.0, abs=1e-6)
        assert plan.cut_plan is not None
        for n, layout in enumerate(plan.cut_plan.layouts, 1):
            drawing = layout_drawing(plan, layout, n, 250.0, 105.0)
            found = arrows(drawing)
            assert len(found) == len(layout.blanks)
            assert all(abs(line.points[0][1] - line.points[1][1]) < 1e-6 for line in found)  # the long side lies level


def test_no_arrow_where_nothing_asks_for_it(tmp_path: Path) -> None:
    plan = planned(tmp_path)
    assert all(rolled_ways(plan, p) == () for p in plan.patterns)
    assert not any(arrows(blank_drawing(plan, p, 80.0)) for p in plan.patterns)
    assert not any("closed flat" in note for note in plan.pattern("D").notes)


def test_rolled_across_the_sheet(tmp_path: Path) -> None:
    plan = planned(tmp_path, finish='finish = "coated"', stock='grain = "across"')
    assert plan.cut_plan is not None
    layout = plan.cut_plan.layouts[0]
    assert all(b.turned for b in layout.blanks if b.mark in ("D", "K"))
    found = arrows(layout_drawing(plan, layout, 1, 250.0, 105.0))
    assert found and all(abs(line.points[0][0] - line.points[1][0]) < 1e-6 for line in found)


def words(plan: Plan) -> str:
    return " ".join(repr(page.blocks) for page in build_packet(plan).pages)


def test_pages_say_how_the_face_is_kept(coated: Plan, zinc: Plan) -> None:
    told = words(coated)
    assert "Coated face: never scribed. Marks go on the back" in told
    assert "Coated: never scribe or chalk the face" in told
    assert "Soft cover on the bed" in told and "Soft jaw on the face" in told
    assert "waits" in told and "on the face of every piece that waits" not in told
    assert "mark the start edge on both sides" not in told
    plain = words(zinc)
    assert "never scribe" not in plain and "Arrows: rolling direction" in plain


def test_a_closed_hem_against_the_rule_is_told(coated: Plan, zinc: Plan) -> None:
    assert "a coated face may crack" in " ".join(coated.pattern("D").notes)
    assert "Zinc, 0.7 mm, EN 988 is folded with" in " ".join(zinc.pattern("D").notes)
    assert not any("is closed" in note for p in (zinc.pattern("A"), coated.pattern("A")) for note in p.notes)


def test_a_part_that_shows_another_direction_is_told(coated: Plan, zinc: Plan) -> None:
    assert any("leave this piece out of the job" in note for note in coated.pattern("S").notes)
    assert not any("rolling direction" in note for note in zinc.pattern("S").notes)
