"""Roof drawings: what stands on them, and that it can be read."""

from __future__ import annotations

import math
import sys
from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest

from fabplan.job.model import Job
from fabplan.plotter.board.measure import extent
from fabplan.plotter.model import Drawing, Shape, Text
from fabplan.plotter.roof.elevation import draw_cut_shapes, draw_key, roof_pages, slope_drawings
from fabplan.roof.model import RoofPlan
from fabplan.roof.plan import plan_roof
from fabplan.units import NM_PER_INCH, Show

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "roof"))
import roof_jobs as rj

SHOW = Show("in", NM_PER_INCH // 32)


@cache
def roof() -> tuple[Job, RoofPlan]:
    turret = rj.slope(
        name="turret",
        shape="irregular-spire",
        eaves=["66 in", "67 in", "68-1/2 in", "65 in"],
        hips=["128 in", "129-1/2 in", "128-1/2 in", "127 in"],
        openings=[
            {"slope": 2, "from_left": "24 in", "up": "30 in", "width": "16 in", "height": "24 in", "name": "louvre"}
        ],
    )
    wing = rj.slope(name="wing", shape="rectangle", bottom="120 in", height="80 in", count=2)
    job = rj.job_with(turret, wing)
    return job, plan_roof(job, rj.patterns())


def texts(drawing: Drawing) -> list[Text]:
    return [m for m in drawing.marks if isinstance(m, Text)]


def drawings() -> list[Drawing]:
    job, plan = roof()
    slopes = [d for n in range(len(plan.slopes)) for d in slope_drawings(plan, job, n + 1)]
    return [*slopes, draw_key(plan, show=SHOW, name="key"), *draw_cut_shapes(plan.shapes, show=SHOW, name="cut")]


def test_every_mark_is_on_the_paper_and_large_enough() -> None:
    for d in drawings():
        assert d.width <= 250
        for t in texts(d):
            assert t.size >= 7.0
            for x, y in extent(t):
                assert -0.5 <= x <= d.width + 0.5, (d.name, t.text)
                assert -0.5 <= y <= d.height + 0.5, (d.name, t.text)


def test_no_words_lie_over_words() -> None:
    for d in drawings():
        boxes = []
        for t in texts(d):
            if t.turned % 90:
                continue
            xs, ys = zip(*extent(t), strict=True)
            boxes.append((min(xs), min(ys), max(xs), max(ys), t.text))
        for i, a in enumerate(boxes):
            for b in boxes[:i]:
                over = min(a[2], b[2]) - max(a[0], b[0]), min(a[3], b[3]) - max(a[1], b[1])
                assert min(over) < 0.6, (d.name, a[4], b[4])


def test_elevation_is_to_scale_and_hatches_what_is_cut() -> None:
    job, plan = roof()
    layout = plan.slopes[1]
    (d,) = slope_drawings(plan, job, 2)
    outline = next(m for m in d.marks if isinstance(m, Shape) and m.pen == "outline" and len(m.points) == 3)
    for i, e in enumerate(layout.slope.edges):
        paper = math.dist(outline.points[i], outline.points[(i + 1) % 3])
        assert paper * d.scale / 25.4 == pytest.approx(e.length, rel=1e-6)
    hatched = [m for m in d.marks if isinstance(m, Shape) and m.fill == "hatch"]
    trimmed = [p for p in layout.pieces if p.kind != "whole" and not p.under_cap and p.mark == layout.slope.piece]
    assert len(hatched) == len(trimmed)
    words = {t.text for t in texts(d)}
    assert {"louvre", "snap, in", "course", "hip"} <= words
    # snap lines carry the height marked with a tape, each from the base line
    every = max(1, plan.variation[0].largest_per_lock)
    line = next(x for x in layout.lines if x.course == every)
    assert Show("in", layout.mark_step).bare(line.mark * layout.mark_step / NM_PER_INCH).replace("-", " ") in {
        w.replace("⁄", "/") for w in words
    }
    assert str(layout.courses[-1].course) in words


def test_key_names_every_slope_and_how_many_are_alike() -> None:
    _, plan = roof()
    words = {t.text for t in texts(draw_key(plan, show=SHOW, name="key"))}
    assert {"turret 1", "turret 4", "wing × 2"} <= words
    assert f"{len(plan.slopes[0].pieces)} pieces" in words


def test_a_key_of_many_slopes_wraps_into_rows_on_the_paper() -> None:
    _, plan = roof()
    many = tuple(replace(s, slope=replace(s.slope, name=f"{s.slope.name} {n}")) for n in range(5) for s in plan.slopes)
    d = draw_key(replace(plan, slopes=many), show=SHOW, name="key")
    assert d.height <= 150
    assert all(-0.5 <= x <= d.width + 0.5 for t in texts(d) for x, _ in extent(t))


def test_every_cut_shape_is_drawn_once_with_its_size() -> None:
    _, plan = roof()
    sheets = draw_cut_shapes(plan.shapes, show=SHOW, name="cut")
    bold = [t.text for d in sheets for t in texts(d) if t.bold]
    assert bold == [str(s.number) for s in plan.shapes]
    words = [t.text for d in sheets for t in texts(d)]
    first = plan.shapes[0]
    assert any(w.startswith(f"A, {first.same}") for w in words)
    outlines = [m for d in sheets for m in d.marks if isinstance(m, Shape) and m.pen == "outline"]
    assert len(outlines) == len(plan.shapes)


def test_pages_follow_the_work() -> None:
    job, plan = roof()
    pages = roof_pages(plan, job)
    titles = [p.title for p in pages]
    assert titles[0] == "Roof: pieces by slope"
    assert titles[1] == "Cut shapes: a template each"
    assert titles[-1] == "How often to snap a line"
    assert all(len(row) == len(t.columns) for p in pages for t in p.tables for row in t.rows)


def laid(**keys: object) -> tuple[Job, RoofPlan]:
    job = rj.job_with(rj.slope(**{"name": "wing", "shape": "rectangle", **keys}))
    return job, plan_roof(job, rj.patterns())


def said(drawings: list[Drawing]) -> list[str]:
    return [t.text for d in drawings for t in texts(d)]


def test_a_narrow_opening_has_its_name_upright_and_a_tiny_one_none() -> None:
    openings = [
        {"from_left": "20 in", "up": "12 in", "width": "7 in", "height": "44 in", "name": "flue pipe"},
        {"from_left": "70 in", "up": "30 in", "width": "2 in", "height": "2 in", "name": "vent"},
    ]
    job, plan = laid(bottom="120 in", height="80 in", openings=openings)
    shown = [t for d in slope_drawings(plan, job, 1) for t in texts(d)]
    (flue,) = [t for t in shown if t.text.startswith("flue")]
    assert flue.turned == 90.0
    assert not any(t.text == "vent" for t in shown)


def test_crowded_courses_are_numbered_and_lined_where_there_is_room() -> None:
    job, plan = laid(bottom="300 in", height="420 in")
    drawing = slope_drawings(plan, job, 1)[0]
    numbers = [t for t in texts(drawing) if t.bold and t.text.isdigit()]
    courses = plan.slopes[0].courses
    assert 2 <= len(numbers) < len(courses)
    assert numbers[-1].text == str(max(c.course for c in courses if c.whole or c.starter or c.cut_left))
    levels = sorted(t.at[1] for t in numbers)
    assert min(b - a for a, b in pairwise(levels)) > 2.0
