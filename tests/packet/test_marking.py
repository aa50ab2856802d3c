"""Where to mark: laid off along the lines named, the marks lie on the cut; sizes in pictures are what is drawn."""

from __future__ import annotations

import math
from typing import Any

import pytest
from kiosk import planned

from fabplan.nesting.model import Cut, Layout
from fabplan.packet.build import build_packet
from fabplan.packet.marking import markings
from fabplan.packet.model import Table
from fabplan.packet.pictures import layout_drawing
from fabplan.plan.model import Plan
from fabplan.plotter.draft import Draft
from fabplan.units import parse_length

STOCK = """
[[stock]]
name = "coil 24"
form = "coil"
width = "24 in"
longest_cut_off = "60 in"
[[stock]]
name = "offcut 7"
form = "offcut"
width = "20 in"
length = "31 in"
"""
Line = tuple[tuple[float, float], tuple[float, float]]


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    return planned(STOCK, tmp_path_factory.mktemp("kiosk"), 0.05)


def layouts(plan: Plan) -> tuple[Layout, ...]:
    assert plan.cut_plan is not None
    return plan.cut_plan.layouts


def line_of(name: str, layout: Layout) -> Line:
    """The line a name stands for: a cut's, or the stock's edge on that side of the picture."""
    if name.startswith("cut "):
        cut = next(c for c in layout.cuts if c.step == int(name[4:]))
        return cut.start, cut.end
    w, h = float(layout.width), float(layout.length)
    corners = {"left": ((0, 0), (0, h)), "right": ((w, 0), (w, h)), "bottom": ((0, 0), (w, 0)), "top": ((0, h), (w, h))}
    if h > w:  # the picture lies a quarter turned
        corners = {
            "top": corners["left"],
            "bottom": corners["right"],
            "left": corners["bottom"],
            "right": corners["top"],
        }
    return corners[name.split()[1]]  # type: ignore[return-value]


def crossing(one: Line, other: Line) -> tuple[float, float]:
    (ax, ay), (bx, by) = one
    (cx, cy), (dx, dy) = other
    d = (bx - ax) * (dy - cy) - (by - ay) * (dx - cx)
    t = ((cx - ax) * (dy - cy) - (cy - ay) * (dx - cx)) / d
    return ax + t * (bx - ax), ay + t * (by - ay)


def off(line: Line, p: tuple[float, float]) -> float:
    (ax, ay), (bx, by) = line
    return abs((bx - ax) * (p[1] - ay) - (by - ay) * (p[0] - ax)) / math.dist(*line)


def to_mark(layout: Layout) -> list[Cut]:
    """Cuts that two marks are given for: those to a mark, and slanted ones at the gauge."""
    unset = [c for c in layout.cuts if c.back_gauge is None or abs(c.angle - 90) > 0.05]
    return [c for c in unset if not (layout.form == "coil" and c.stage == 0)]


def test_marks_laid_off_along_the_lines_named_lie_on_the_cut(plan: Plan) -> None:
    seen = 0
    for layout in layouts(plan):
        ends = markings(layout)
        assert sorted(m.step for m in ends) == sorted(c.step for c in to_mark(layout) for _ in range(2))
        for m in ends:
            cut = next(c for c in layout.cuts if c.step == m.step)
            along, start = line_of(m.along, layout), line_of(m.start, layout)
            corner = crossing(along, start)
            tips = [p for p in (cut.start, cut.end) if off(along, p) < 0.05 or math.dist(corner, p) < 1.0]
            assert any(abs(math.dist(corner, p) - (m.size or 0.0)) < 1.0 for p in tips), m
            seen += m.size is not None
    assert seen >= 5


def test_every_cut_to_a_mark_is_in_the_table_of_its_page(plan: Plan) -> None:
    pages = [p for p in build_packet(plan).pages if p.kind == "shear"]
    for page, layout in zip(pages, layouts(plan), strict=True):
        tables = [b for b in page.blocks if isinstance(b, Table) and b.name == "Where to mark"]
        assert [row[0] for t in tables for row in t.rows] == [str(c.step) for c in to_mark(layout)]
        assert all(row[4] for t in tables for row in t.rows)


def test_a_size_in_the_picture_is_the_length_it_is_drawn_over(plan: Plan, monkeypatch: pytest.MonkeyPatch) -> None:
    drawn: dict[Draft, list[tuple[float, str]]] = {}  # a picture is drawn again until its margins fit
    real = Draft.dimension

    def kept(self: Draft, start: Any, end: Any, offset: float, label: str, **more: Any) -> None:
        drawn.setdefault(self, []).append((math.dist(start, end), label))
        real(self, start, end, offset, label, **more)

    monkeypatch.setattr(Draft, "dimension", kept)
    assert plan.cut_plan is not None
    for number, layout in enumerate(layouts(plan), 1):
        drawn.clear()
        drawing = layout_drawing(plan, layout, number, 240.0, 135.0)
        assert drawn
        overall = max(layout.width, layout.length) * plan.cut_plan.grid / 25_400_000
        for sizes in drawn.values():
            longest = max(long for long, _ in sizes)
            for long, label in sizes:
                inches = parse_length(label.replace("⁄", "/"), "in") / 25_400_000
                assert inches == pytest.approx(long / longest * overall, abs=0.08), (layout.stock, label)
        assert drawing.marks
