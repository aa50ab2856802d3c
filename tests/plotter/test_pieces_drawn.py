"""Blank, bend and finished-piece drawings: sizes are the results', pictures are the right way round and legible."""

import math
import re
from dataclasses import replace
from fractions import Fraction

import pieces
import pytest
from legible import assert_legible, texts, words

from fabplan import plane
from fabplan.bending.schedule import schedule_bends
from fabplan.blanks.develop import develop
from fabplan.job.load import load_job
from fabplan.plotter.bend.fold import draw_fold_plan, draw_fold_section
from fabplan.plotter.bend.section import draw_brake, draw_strip_plan
from fabplan.plotter.blank.blank import draw_blank
from fabplan.plotter.blank.finished import draw_finished
from fabplan.plotter.model import Line, Shape
from fabplan.units import NM_PER_INCH


def inches(text: str) -> float:
    """A printed size: whole number, fraction, or both."""
    return float(sum(Fraction(part.replace("⁄", "/")) for part in text.split()))


def sizes(drawing) -> list[float]:
    return [inches(w) for w in words(drawing) if re.fullmatch(r"\d+|(\d+ )?\d+⁄\d+", w)]


def shown(exact: float) -> float:
    grid = int(pieces.job().info.round_to)
    return math.floor(exact * NM_PER_INCH / grid + 0.5) * grid / NM_PER_INCH


@pytest.mark.parametrize("mark", pieces.MARKS)
def test_blank(mark):
    pattern = pieces.patterns()[mark]
    drawing = draw_blank(pattern, show=pieces.show())
    assert_legible(drawing)
    grid = pattern.grid / NM_PER_INCH
    said = sizes(drawing)
    assert pattern.width_units * grid in said
    if pattern.section is None:
        assert pattern.length_units * grid in said
        edges = {t.text for t in texts(drawing) if t.bold and t.size == 13.0}
        assert edges == {str(n) for n in range(1, len(pattern.finished.outline) + 1)}
    else:
        for mark_at in pattern.section.marks:
            assert shown(mark_at) in said
    assert any("FACE" in w or "face" in w for w in words(drawing))


@pytest.mark.parametrize("mark", ["A", "B", "S", "RL", "RR"])
def test_snips_are_dimensioned_with_their_legs(mark):
    pattern = pieces.patterns()[mark]
    said = sizes(draw_blank(pattern, show=pieces.show()))
    for notch in pattern.notches:
        for leg in notch.legs:
            assert shown(leg) in said, notch


def test_fold_lines_are_narrow_and_continuous():
    drawing = draw_blank(pieces.patterns()["A"], show=pieces.show())
    assert sum(isinstance(m, Line) and m.pen == "fold" for m in drawing.marks) == 4


@pytest.mark.parametrize("mark", pieces.MARKS)
def test_finished(mark):
    drawing = draw_finished(pieces.patterns()[mark], show=pieces.show())
    assert_legible(drawing)


def test_a_finished_diamond_stands_on_its_tip_with_edge_1_at_the_upper_left():
    drawing = draw_finished(pieces.patterns()["A"], show=pieces.show())
    at = {t.text: t.at for t in texts(drawing) if t.text in "1234"}
    assert at["1"][0] < at["4"][0] and at["1"][1] > at["2"][1]
    assert at["4"][1] > at["3"][1] and at["2"][0] < at["3"][0]
    assert "1, 4: open hem 1 to the face" in words(drawing)
    assert "the pieces above hook in here" in words(drawing)


@pytest.mark.parametrize("mark", pieces.FOLDED)
def test_every_step_is_drawn_legibly(mark):
    pattern, schedule = pieces.patterns()[mark], pieces.schedule(mark)
    for step in schedule.steps:
        up = f"{step.side_up.upper()} UP"
        if schedule.kind == "section":
            plan = draw_strip_plan(pattern, schedule, step)
            others = [draw_brake(pattern, schedule, step, when) for when in ("before", "after")]
        else:
            plan = draw_fold_plan(pattern, schedule, step)
            others = [draw_fold_section(pattern, schedule, step, show=pieces.show())]
        for drawing in (plan, *others):
            assert_legible(drawing)
        assert up in words(plan)
        assert str(step.edge) in words(plan)
        turned = f"turned {step.turned_deg:g}°"
        assert any(turned in w for d in others for w in words(d))


@pytest.mark.parametrize("mark", ["A", "B", "S", "P", "X"])
def test_the_working_edge_is_at_the_right_and_the_back_is_mirrored(mark):
    pattern, schedule = pieces.patterns()[mark], pieces.schedule(mark)
    corners = pattern.finished.outline
    for step in schedule.steps:
        drawing = draw_fold_plan(pattern, schedule, step)
        number = {t.text: t.at for t in texts(drawing) if t.text.isdigit()}
        assert number[str(step.edge)][0] == max(x for x, _ in number.values())
        active = [m for m in drawing.marks if isinstance(m, Line) and m.pen == "fold-active"]
        assert len(active) == 1
        assert abs(active[0].points[0][0] - active[0].points[1][0]) < 1e-6  # upright
        # edge numbers run counter-clockwise seen from the face, clockwise from the back
        ring = tuple(number[str(n)] for n in range(1, len(corners) + 1))
        assert (plane.area(ring) > 0) == (step.side_up == "face")


def test_folds_made_are_continuous_when_visible_and_dashed_when_below():
    pattern, schedule = pieces.patterns()["A"], pieces.schedule("A")
    for step in schedule.steps:
        drawing = draw_fold_plan(pattern, schedule, step)
        pens = {m.pen for m in drawing.marks if isinstance(m, Line)}
        made = [s for s in schedule.steps if s.step < step.step]
        assert ("hem" in pens) == any(s.side_up == step.side_up for s in made)
        assert ("hidden" in pens) == any(s.side_up != step.side_up for s in made)
        assert ("fold-later" in pens) == (step.step < len(schedule.steps))
        hatched = [m for m in drawing.marks if isinstance(m, Shape) and m.fill == "hatch"]
        assert len(hatched) == 1


def test_brake_pictures_show_the_metal_as_the_schedule_has_it():
    pattern, schedule = pieces.patterns()["D"], pieces.schedule("D")
    for step in schedule.steps:
        assert step.before and step.after
        for when, state in (("before", step.before), ("after", step.after)):
            drawing = draw_brake(pattern, schedule, step, when)
            metal = [m for m in drawing.marks if isinstance(m, Line) and m.pen == "metal"]
            assert 1 <= len(metal) <= 1 + len(state.hems)  # a hem far from the stroke is left out of the picture
            assert any(isinstance(m, Shape) and m.fill == "hatch" for m in drawing.marks)


@pytest.mark.parametrize("angle", [60, 75, 105, 120])
@pytest.mark.parametrize(("upper", "lower"), [("1", "1"), ("3/4", "1"), ("1", "1/2")])
def test_diamonds_of_every_shape(tmp_path, angle, upper, lower):
    head, _, rest = pieces.JOB.read_text(encoding="utf-8").partition("[[piece]]")
    tail = rest[rest.index("[[stock]]") :]
    piece = (
        f'[[piece]]\nmark = "A"\nkind = "diamond"\ncount = 4\nside = "11 in"\ntop_angle = {angle}\n'
        f'upper_hem = "{upper} in"\nlower_hem = "{lower} in"\n'
    )
    file = tmp_path / "job.toml"
    file.write_text(head + piece + tail, encoding="utf-8")
    job = load_job(file)
    (pattern,) = develop(job, pieces.metals())
    schedule = schedule_bends(pattern, job, pieces.metals())
    assert_legible(draw_blank(pattern, show=pieces.show()))
    assert_legible(draw_finished(pattern, show=pieces.show()))
    for step in schedule.steps:
        assert_legible(draw_fold_plan(pattern, schedule, step))
        assert_legible(draw_fold_section(pattern, schedule, step, show=pieces.show()))


@pytest.mark.parametrize("mark", pieces.MARKS)
def test_a_long_mark_is_cut_short_in_the_picture(mark):
    long = "Piece of the turret on the lake side with a name of sixty letters"
    pattern = replace(pieces.patterns()[mark], mark=long)
    drawing = draw_blank(pattern, show=pieces.show())
    assert_legible(drawing)
    assert any(w.startswith("Piece of the…") for w in words(drawing))
    assert long in drawing.title
