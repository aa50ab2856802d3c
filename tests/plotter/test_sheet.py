"""Nested-sheet drawings: every cut numbered, the sizes are the plan's, nothing clashes or leaves the paper."""

import math
import random
import re

import pytest
import results
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from legible import assert_legible, balloons, texts, words

from fabplan import plane
from fabplan.nesting.cuts.order import NotCuttableError
from fabplan.plotter.board import geometry
from fabplan.plotter.board.callouts import Callout, draw_callouts
from fabplan.plotter.board.draft import Draft
from fabplan.plotter.board.measure import extent
from fabplan.plotter.model import Line, Shape, Text
from fabplan.plotter.sheet.replay import replay
from fabplan.plotter.sheet.sheet import draw_sheet
from fabplan.units import NM_PER_INCH, Show


def draw(layout, **size):
    return draw_sheet(layout, grid=results.GRID, show=results.SHOW, name="pattern", **size)


def numbered(drawing) -> set[int]:
    """Cut numbers shown, ranges opened."""
    shown: set[int] = set()
    for text in texts(drawing):
        if text.bold and text.size == 8.5 and re.fullmatch(r"[\d–…, ]+", text.text):
            for part in text.text.split(", "):
                ends = [int(n) for n in re.findall(r"\d+", part)]
                shown |= set(range(ends[0], ends[-1] + 1))
    return shown


@pytest.mark.parametrize("name", results.LAYOUTS)
def test_fixed_layouts_are_legible_and_complete(name):
    layout = results.LAYOUTS[name]()
    drawing = draw(layout)
    assert_legible(drawing)
    assert numbered(drawing) == {c.step for c in layout.cuts}
    said = " ".join(words(drawing))
    for mark in {b.mark for b in layout.blanks}:
        assert re.search(rf"\b{mark}\b", said)
    assert said.count("KEEP") == sum(o.keep for o in layout.offcuts)
    assert "FACE UP" in said


@pytest.mark.parametrize("name", results.LAYOUTS)
def test_the_picture_is_to_scale_and_never_mirrored(name):
    layout = results.LAYOUTS[name]()
    drawing = draw(layout)
    outline = next(m for m in drawing.marks if isinstance(m, Shape) and m.pen == "outline")
    inch = results.GRID / NM_PER_INCH
    sides = sorted(plane.distance(a, b) for a, b in zip(outline.points, outline.points[1:], strict=False))
    real = sorted([layout.width * inch, layout.length * inch])
    assert sides[0] * drawing.scale / 25.4 == pytest.approx(real[0], rel=1e-6)
    assert sides[-1] * drawing.scale / 25.4 == pytest.approx(real[1], rel=1e-6)
    parts = [
        m for m in drawing.marks if isinstance(m, Shape) and m.pen == "edge" and m.fill == "white" and len(m.points) < 7
    ]
    for placed, part in zip(layout.blanks, parts, strict=False):
        own = placed.outline or (
            (placed.x, placed.y),
            (placed.x + placed.width, placed.y),
            (placed.x + placed.width, placed.y + placed.length),
            (placed.x, placed.y + placed.length),
        )
        # the same sense of turning on paper as on the metal: the face is what is seen
        assert math.copysign(1, plane.area(part.points)) == math.copysign(1, plane.area(own))


def test_settings_and_sizes_are_those_of_the_plan():
    said = words(draw(results.mixed_sheet()))
    assert said.count("15 1⁄2 × 15 1⁄2") == 14
    assert said.count("19 1⁄2 × 4 3⁄4") == 6
    assert "120" in said and "36" in said
    assert "to the gauge: 1, 2" in said
    assert "11 1⁄2 ×" in said  # the offcuts to keep
    assert "1⁄4" in said  # the trim strip goes to the gauge


def test_metal_to_keep_is_dashed_and_metal_for_the_bin_is_not():
    layout = results.mixed_sheet()
    kept = [o for o in layout.offcuts if o.keep]
    binned = [o for o in layout.offcuts if not o.keep]
    shapes = [m for m in draw(layout).marks if isinstance(m, Shape)]
    assert kept and binned
    assert sum(m.pen == "keep" for m in shapes) == len(kept)
    outlined = [abs(plane.area(m.points)) for m in shapes if m.pen == "edge" and m.fill == "none"]
    white = [abs(plane.area(m.points)) for m in shapes if m.pen == "edge" and m.fill == "white"]
    by_area = max(outlined + white) / max(b.width * b.length for b in (*layout.blanks, *kept, *binned))
    assert sorted(outlined) == pytest.approx(sorted(o.width * o.length * by_area for o in binned), rel=1e-3)


def test_cuts_drawn_last_and_hatch_is_under_everything():
    drawing = draw(results.mixed_sheet())
    assert isinstance(drawing.marks[0], Shape) and drawing.marks[0].fill == "hatch"
    rings = [i for i, m in enumerate(drawing.marks) if m in balloons(drawing)]
    last_line = max(i for i, m in enumerate(drawing.marks) if isinstance(m, Line))
    assert max(rings) > last_line


@pytest.mark.parametrize("name", results.LAYOUTS)
def test_the_replay_agrees_with_every_setting(name):
    layout = results.LAYOUTS[name]()
    for made in replay(layout):
        if made.cut.back_gauge is None:
            assert made.normal is None
            continue
        assert made.normal is not None
        if made.edge is not None:
            depth = max(
                (p[0] - made.cut.start[0]) * made.normal[0] + (p[1] - made.cut.start[1]) * made.normal[1]
                for p in made.edge
            )
            assert depth == pytest.approx(made.cut.back_gauge, abs=1e-3)


def test_millimetres():
    grid = 500_000
    layout = results.layout("sheet", 2000, 4000, [results.rect("A", 0, 0, 700, 900)], stock="sheet 1000 x 2000")
    drawing = draw_sheet(layout, grid=grid, show=Show("mm", grid), name="mm")
    assert_legible(drawing)
    assert {"2000", "1000"} <= set(words(drawing))
    assert any("450 × 350" in w for w in words(drawing))


strips = st.lists(
    st.tuples(st.integers(1, 12), st.integers(2, 40), st.integers(1, 30), st.sampled_from("ABKDT")),
    min_size=1,
    max_size=7,
)


def drawn(rows, width, length, form, paper):
    """Drawing and layout of rows of blanks, None where there are none or the shear cannot cut them."""
    cells, x = [], 0
    for high, long, count, mark in rows:
        if x + high > width:
            break
        fitting = min(count, length // long)
        cells += [results.rect(mark, 32 * x, 32 * long * k, 32 * high, 32 * long) for k in range(fitting)]
        x += high if fitting else 0
    if not cells:
        return None
    try:
        layout = results.layout(form, 32 * width, 32 * length, cells)
    except NotCuttableError:
        return None
    return draw(layout, width_mm=paper[0], height_mm=paper[1]), layout


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    strips,
    st.sampled_from([24, 36, 48]),
    st.integers(20, 120),
    st.sampled_from(["coil", "sheet"]),
    st.sampled_from([(250.0, 105.0), (180.0, 90.0)]),
)
def test_any_layout_is_legible_and_shows_or_counts_every_cut(rows, width, length, form, paper):
    made = drawn(rows, width, length, form, paper)
    if made is None:
        return
    drawing, layout = made
    assert_legible(drawing)
    left_out = sum(int(w.split()[0]) for w in words(drawing) if w.endswith("see the table"))
    assert len({c.step for c in layout.cuts} - numbered(drawing)) <= left_out


def test_crowded_layouts_are_legible():
    """Seeded, and as crowded as a shop would ever make them: up to seven strips of up to forty pieces."""
    rng = random.Random(11)
    drawings = 0
    while drawings < 40:
        rows = [
            (rng.randint(1, 12), rng.randint(2, 40), rng.randint(1, 30), rng.choice("ABKDT"))
            for _ in range(rng.randint(1, 7))
        ]
        paper = rng.choice([(250.0, 105.0), (180.0, 90.0)])
        made = drawn(rows, rng.choice([24, 36, 48]), rng.randint(20, 120), rng.choice(["coil", "sheet"]), paper)
        if made is not None:
            drawings += 1
            assert_legible(made[0])


@pytest.mark.parametrize("side", ["top", "bottom"])
@pytest.mark.parametrize("pointers", [((1.0, 0.0), (-1.0, 0.0)), ((-1.0, 0.0), (1.0, 0.0)), ((-1.0, 0.0), (-1.0, 0.0))])
def test_the_point_of_a_balloon_keeps_clear_of_the_words_beside_it(side, pointers):
    callouts = [
        Callout(anchor=(100.0, 50.0), text="9-17/32", number=f"{40 + k}–{44 + k}", pointer=pointers[k % 2], side=side)
        for k in range(4)
    ]
    draft = Draft()
    draw_callouts(draft, callouts, 40.0, 30.0, 160.0, 70.0, 200.0, 100.0)
    points = [m.points for m in draft.marks if isinstance(m, Shape) and m.fill == "black" and len(m.points) == 3]
    assert len(points) == len(callouts)
    for text in (m for m in draft.marks if isinstance(m, Text)):
        assert not [p for p in points if geometry.boxes_touch(extent(text), p)], text.text
