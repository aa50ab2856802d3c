"""Where to mark: laid off along the lines named, the marks lie on the cut; sizes in pictures are what is drawn."""

from __future__ import annotations

import math
from typing import Any

import pytest
from kiosk import planned

from fabplan.nesting.model import Cut, Layout
from fabplan.packet.check import read_numbers
from fabplan.packet.model import Shots, flat
from fabplan.packet.pages.build import build_packet
from fabplan.packet.pages.pictures import cut_drawing, layout_drawing
from fabplan.packet.pages.scribe import markings
from fabplan.plan.model import Plan
from fabplan.plane import contains, middle
from fabplan.plotter.board.draft import Draft
from fabplan.plotter.board.measure import extent
from fabplan.plotter.model import Line as DrawnLine
from fabplan.plotter.model import Shape, Text
from fabplan.plotter.sheet.cut_lie import by_marks, stop_hand
from fabplan.plotter.sheet.replay import blank_outline, replay
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
    return planned(STOCK, tmp_path_factory.mktemp("kiosk"), 0.0)


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


def on_slanted_metal(layout: Layout) -> set[int]:
    """Cuts whose metal has a side that runs along neither side of the stock."""
    return {
        made.cut.step
        for made in replay(layout)
        for a, b in zip(made.outline, (*made.outline[1:], *made.outline[:1]), strict=True)
        if abs(a[0] - b[0]) > 0.5 and abs(a[1] - b[1]) > 0.5
    }


def test_marks_laid_off_along_the_lines_named_lie_on_the_cut(plan: Plan) -> None:
    seen = 0
    for layout in layouts(plan):
        ends = markings(layout)
        assert sorted(m.step for m in ends) == sorted(c.step for c in to_mark(layout) for _ in range(2))
        for m in ends:
            cut = next(c for c in layout.cuts if c.step == m.step)
            along, start = line_of(m.along, layout), line_of(m.start, layout)
            corner = crossing(along, start)
            tips = [p for p in (cut.start, cut.end) if off(along, p) < 0.05 or math.dist(corner, p) < 1.6]
            assert any(abs(math.dist(corner, p) - (m.size or 0.0)) < 1.6 for p in tips), m
            seen += m.size is not None
    assert seen >= 5


def test_every_cut_to_a_mark_and_every_slanted_one_is_in_one_picture_of_its_page(plan: Plan) -> None:
    pages = [p for p in build_packet(plan).pages if p.kind == "shear"]
    for page, layout in zip(pages, layouts(plan), strict=True):
        shots = [shot for b in flat(page.blocks) if isinstance(b, Shots) for shot in b.shots]
        told = [step for shot in shots for step in read_numbers(shot.title)]
        assert sorted(told) == sorted({c.step for c in to_mark(layout)} | on_slanted_metal(layout))
        cuts = {c.step: c for c in layout.cuts}
        for shot in shots:
            steps = read_numbers(shot.title)
            assert {(cuts[s].back_gauge, cuts[s].angle) for s in steps} == {
                (cuts[steps[0]].back_gauge, cuts[steps[0]].angle)
            }
            made = next(m for m in replay(layout) if m.cut.step == steps[0])
            assert ("scribed points" in shot.sets) == by_marks(made)
            assert shot.sets[:1].isdigit() == (made.cut.back_gauge is not None)
            assert ("°" in shot.sets) == bool(made.cut.back_gauge is not None and stop_hand(made))
            assert "Falls: " in shot.picture.alt


def test_sizes_in_the_picture_of_a_cut_are_the_lengths_they_are_drawn_over(
    plan: Plan, monkeypatch: pytest.MonkeyPatch
) -> None:
    drawn: dict[Draft, list[tuple[float, str, bool]]] = {}  # a picture is drawn again until it is narrow enough
    real = Draft.dimension

    def kept(self: Draft, start: Any, end: Any, offset: float, label: str, **more: Any) -> bool:
        made = real(self, start, end, offset, label, **more)
        if made or not more.get("only_clear"):
            drawn.setdefault(self, []).append((math.dist(start, end), label, more["bold"]))
        return made

    monkeypatch.setattr(Draft, "dimension", kept)
    assert plan.cut_plan is not None
    seen = 0
    for number, layout in enumerate(layouts(plan), 1):
        asked = {c.step for c in to_mark(layout)}
        for made in (m for m in replay(layout) if m.cut.step in asked):
            drawn.clear()
            drawing = cut_drawing(plan, layout, number, made, 44.0)
            corners = [m for m in drawing.marks if isinstance(m, Text) and m.text == "corner"]
            sizes = list(drawn.values())[-1] if drawn else []  # none where the cut runs from corner to corner
            if made.cut.back_gauge is None:
                assert sum(bold for _, _, bold in sizes) + len(corners) == 2
            for long, label, _ in sizes:
                inches = parse_length(label.replace("⁄", "/"), "in") / 25_400_000
                assert inches == pytest.approx(long / 25.4 * drawing.scale, abs=1 / 32), (layout.stock, made.cut.step)
                seen += 1
    assert seen > 20


def test_the_stop_is_drawn_on_the_hand_the_words_tell(plan: Plan) -> None:
    assert plan.cut_plan is not None
    seen = 0
    for number, layout in enumerate(layouts(plan), 1):
        for made in (m for m in replay(layout) if m.parts and m.cut.back_gauge is not None):
            drawing = cut_drawing(plan, layout, number, made, 44.0)
            bars = [m.points for m in drawing.marks if isinstance(m, Shape) and (m.pen, m.fill) == ("edge", "white")]
            assert bool(bars) == bool(stop_hand(made)), made.cut
            for bar in bars:
                x, y = middle(bar)
                lines = [m.points for m in drawing.marks if isinstance(m, DrawnLine) and m.pen == "edge"]
                at = [a[0] + (b[0] - a[0]) * (y - a[1]) / (b[1] - a[1]) for a, b in lines if (a[1] <= y) != (b[1] <= y)]
                if at:
                    assert stop_hand(made) == ("left" if x < min(at) + 0.1 else "right"), made.cut
                    assert x < min(at) + 0.1 or x > max(at) - 0.1, made.cut
                    seen += 1
    assert seen > 10


def test_what_falls_at_a_cut_is_what_the_plan_says(plan: Plan) -> None:
    for layout in layouts(plan):
        for made in (m for m in replay(layout) if m.parts):
            blanks = {n: middle(blank_outline(b)) for n, b in enumerate(layout.blanks)}
            for part, metal in zip(made.parts, (made.cut.falls, made.cut.stays), strict=True):
                assert {n for n, at in blanks.items() if contains(part, at)} == set(metal.blanks), made.cut
            assert len(made.cut.falls.blanks) + len(made.cut.stays.blanks) == len(made.blanks)


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


def test_nothing_of_a_picture_of_a_cut_is_cut_off(plan: Plan) -> None:
    """Every word and size lies inside its picture."""
    for page in build_packet(plan).pages:
        for block in flat(page.blocks):
            for shot in block.shots if isinstance(block, Shots) else ():
                drawing = shot.picture.drawing
                for mark in drawing.marks:
                    for x, y in extent(mark) if isinstance(mark, Text) else ():
                        assert -0.01 <= x <= drawing.width + 0.01, (shot.title, mark)
                        assert -0.01 <= y <= drawing.height + 0.01, (shot.title, mark)
