"""Drawings part by part: the strip of a section and its finished shape, a slope, and what is put on a nested sheet."""

from __future__ import annotations

import math
from functools import cache
from pathlib import Path

import pieces
import pytest
import results

from fabplan import plane
from fabplan.job.load import load_job
from fabplan.nesting.model import Layout
from fabplan.plan.make import make_pieces
from fabplan.plotter.bend.ends import draw_finished_end
from fabplan.plotter.blank.finished_section import draw_finished_section
from fabplan.plotter.blank.strip import draw_strip
from fabplan.plotter.blank.strip_ends import draw_strip_ends
from fabplan.plotter.board.draft import Draft
from fabplan.plotter.board.view import PaperView
from fabplan.plotter.model import Drawing, Shape, Text
from fabplan.plotter.roof.slope import draw_slope, reading
from fabplan.plotter.sheet import cuts, edges, parts
from fabplan.plotter.sheet.replay import MadeCut, replay
from fabplan.roof.model import SlopeLayout
from fabplan.speech.format import paper


def words(drawing: Drawing) -> list[str]:
    return [m.text for m in drawing.marks if isinstance(m, Text)]


def size(value: float) -> str:
    return pieces.show().bare(value)


@cache
def sheet() -> tuple[Layout, tuple[MadeCut, ...]]:
    layout = results.mixed_sheet()
    return layout, tuple(replay(layout))


def view() -> PaperView:
    layout, _ = sheet()
    scale = 120.0 / layout.width
    return PaperView(scale, 40.0, 40.0, False, 120.0, layout.length * scale)


# sections -------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("mark", ["D"])
def test_the_strip_and_the_finished_section_number_every_bend_and_say_every_leg(mark: str) -> None:
    pattern = pieces.patterns()[mark]
    assert pattern.section is not None
    strip = draw_strip(pattern, show=pieces.show(), name="strip")
    bent = draw_finished_section(pattern, pieces.show(), "bent", 160.0, 110.0)
    for fold in pattern.folds:
        assert str(fold.edge) in words(strip)
        assert any(text == str(fold.edge) or text.startswith(f"{fold.edge}: ") for text in words(bent))
    for leg in pattern.section.legs:
        assert any(paper(size(leg)) in text for text in words(bent)), size(leg)
    assert any("face" in text.lower() for text in words(bent)) and any("back" in text.lower() for text in words(bent))


PAN = """
[job]
name = "Reading room"
number = "9"
[metal]
use = "copper-16oz"
[[piece]]
mark = "P"
kind = "section"
count = 4
length = "36 in"
legs = ["1 in", "5 in", "2 in"]
bends = [-90, 90]
end_dams = [{leg = 2, height = "1-1/2 in", toward = "face"}]
[[stock]]
name = "coil"
form = "coil"
width = "24 in"
"""


def test_both_ends_of_a_dammed_strip_are_drawn_to_scale_and_every_fold_is_numbered(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text(PAN, encoding="utf-8")
    pattern = make_pieces(load_job(path)).patterns[0]
    flat = draw_strip_ends(pattern, show=pieces.show(), name="ends")
    for fold in (*pattern.folds, *pattern.end_folds):
        assert any(word == str(fold.edge) or str(fold.edge) in word.split() for word in words(flat)), fold.edge
    bent = draw_finished_end(pattern, "A", "end", width_mm=60.0, height_mm=40.0)
    assert 0 < bent.width <= 61 and 0 < bent.height <= 41
    assert sum(isinstance(m, Shape) for m in bent.marks) >= len(pattern.section.legs)  # type: ignore[union-attr]


# a slope --------------------------------------------------------------------------------------------------------------

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
def slope(tmp_path_factory: pytest.TempPathFactory) -> SlopeLayout:
    path = tmp_path_factory.mktemp("slope") / "job.toml"
    path.write_text(ROOF, encoding="utf-8")
    roof = make_pieces(load_job(path)).roof
    assert roof is not None
    return roof.slopes[0]


def test_every_course_of_a_slope_is_numbered(slope: SlopeLayout) -> None:
    drawing = draw_slope(slope, show=pieces.show(), name="slope")
    told = {w.split()[0] for w in words(drawing) if w}
    assert {str(c.course) for c in slope.courses[:-1]} <= told  # the top one may be too low for its number
    every_second = draw_slope(slope, show=pieces.show(), name="slope", snap_every=2)
    assert len(words(every_second)) < len(words(drawing)) or len(slope.courses) < 3


@pytest.mark.parametrize("degrees", range(0, 360, 15))
def test_words_along_a_line_read_from_the_bottom_or_the_right(degrees: int) -> None:
    turned = reading((math.cos(math.radians(degrees)), math.sin(math.radians(degrees))))
    assert -90 < turned <= 90 + 1e-9 or -90 - 1e-9 <= turned < 90
    assert math.isclose(math.sin(math.radians(turned - degrees)), 0, abs_tol=1e-9)  # along the line, either way


# a nested sheet -------------------------------------------------------------------------------------------------------


def test_a_setting_is_the_gauge_and_of_a_slanted_cut_its_angle_too() -> None:
    _, made = sheet()
    square = next(m for m in made if m.cut.back_gauge is not None and m.cut.angle == 90)
    assert cuts.setting(square, size) == size(square.cut.back_gauge)
    slanted = next(m for m in replay(results.slanted()) if m.cut.angle != 90 and m.cut.back_gauge is not None)
    assert "°" in cuts.setting(slanted, size)


def test_blanks_lie_on_paper_as_on_the_stock() -> None:
    layout, _ = sheet()
    seen = view()
    for placed in layout.blanks:
        ring = parts.part_outline(seen, placed)
        assert abs(plane.area(ring)) == pytest.approx(placed.width * placed.length * seen.scale**2, rel=1e-6)
    draft = Draft()
    own, callouts = parts.sort_parts(draft, seen, layout, size)
    assert len(own) + len(callouts) >= len({p.mark for p in layout.blanks})
    assert all(part.fits(draft) for part in own)


def test_edges_that_go_to_the_gauge_are_told_by_the_cuts_made_from_them() -> None:
    _, made = sheet()
    seen, draft = view(), Draft()
    told = edges.edge_points(draft, seen, made)
    steps = [step for runs in told.steps.values() for run in runs for step in run]
    assert steps and set(steps) <= {m.cut.step for m in made}
    side = next(side for side, runs in told.steps.items() if runs)
    assert any(str(told.steps[side][0][0]) in word for word in told.words(side))
