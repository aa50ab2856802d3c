"""Elevation of one slope in true shape: courses numbered, cut pieces hatched, lines to snap with their heights.

Looked at from outside, the base line level. The heights stand at the left, course numbers at the right; marks on the
base line are from the centre line outwards.
"""

from __future__ import annotations

from collections.abc import Callable
from math import atan2, degrees

from fabplan import plane
from fabplan.plotter.board import geometry, labels
from fabplan.plotter.board.draft import Draft
from fabplan.plotter.board.measure import cap_height, extent, fit, shorten, width
from fabplan.plotter.model import Drawing, Point, Text
from fabplan.roof.model import SlopeLayout
from fabplan.units import NM_PER_INCH, Show

LABEL = 8.0  # points
NUMBER = 9.0
LEFT, RIGHT, TOP, GAP = 23.0, 22.0, 7.0, 1.2
LINE_GAP = 3.6  # mm between labels of neighbouring lines
MARK_GAP = 3.3  # mm between the turned labels of neighbouring marks


def draw_slope(
    layout: SlopeLayout,
    *,
    show: Show,
    name: str,
    snap_every: int = 1,
    width_mm: float = 248.0,
    height_mm: float = 150.0,
) -> Drawing:
    """Picture of a laid-out slope.

    Parameters
    ----------
    layout : SlopeLayout
    show : Show
        How sizes are printed (the lines use their own step).
    name : str
        Name of the drawing (its file).
    snap_every : int
        A line is snapped every so many courses.
    width_mm, height_mm : float
        Paper it may take at most, mm.
    """
    tape = Show(show.unit, layout.mark_step)
    marks = [labels.bare(tape, abs(n) * layout.mark_step / NM_PER_INCH) for _, n in layout.first_marks]
    below = max((width(t, LABEL) for t in marks), default=0.0) + 3 * GAP + 2 * 6.0
    x0, y0, x1, y1 = plane.bounds(layout.slope.outline)
    y0 = min(y0, layout.base)
    scale = min((width_mm - LEFT - RIGHT) / (x1 - x0), (height_mm - below - TOP) / (y1 - y0))
    left = LEFT + (width_mm - LEFT - RIGHT - (x1 - x0) * scale) / 2

    def at(p: Point) -> Point:
        return left + (p[0] - x0) * scale, below + (p[1] - y0) * scale

    draft = Draft()
    edges = left, left + (x1 - x0) * scale
    _pieces(draft, layout, at, scale)
    _lines(draft, layout, at, scale, tape, max(1, snap_every), edges)
    _centre(draft, layout, at, below + (y1 - y0) * scale)
    _outline(draft, layout, at)
    _numbers(draft, layout, at, scale)
    _base_marks(draft, layout, at, scale, marks)
    _sizes(draft, layout, at, show, edges, max((width(t, LABEL) for t in marks), default=0.0))
    times = "" if layout.slope.times == 1 else f", {layout.slope.times} alike"
    courses = len(layout.courses)
    title = f"Slope {layout.slope.name}{times}: {len(layout.pieces)} pieces in {courses} courses"
    return draft.trimmed(name, title, width_mm, 25.4 / scale)


def _pieces(draft: Draft, layout: SlopeLayout, at: Callable[[Point], Point], scale: float) -> None:
    for p in layout.pieces:
        ring = tuple(at(q) for q in p.visible)
        if p.kind == "whole":
            draft.polygon(ring, "dimension", "none")
            if p.trimmed:
                draft.polygon(_diamond(at(p.centre), 0.9), None, "black")
        elif p.under_cap:
            draft.polygon(ring, "hidden", "none")
        elif p.mark != layout.slope.piece:  # a starter or a half of its own mark: nothing is trimmed
            draft.polygon(ring, "dimension", "none")
        else:
            draft.polygon(ring, "dimension", "hatch")


def _numbers(draft: Draft, layout: SlopeLayout, at: Callable[[Point], Point], scale: float) -> None:
    """Numbers of the cut shapes inside their pieces, where there is room."""
    for p in layout.pieces:
        if not p.shape:
            continue
        room = min(p.visible, key=lambda q: q[0])[0], max(p.visible, key=lambda q: q[0])[0]
        text = f"{p.shape}{'m' if p.mirrored else ''}"
        size = fit(text, (room[1] - room[0]) * scale * 0.62, 8.0, 8.0)
        middle = at(plane.middle(p.visible))
        if size is not None and plane.contains(p.visible, plane.middle(p.visible)):
            tall = max(q[1] for q in p.visible) - min(q[1] for q in p.visible)
            label = Text(at=middle, text=text, size=size, boxed=True)
            if tall * scale > 1.6 * cap_height(size) and draft.free(extent(label, 0.2)):
                draft.text(label)


def _diamond(centre: Point, half: float) -> tuple[Point, ...]:
    x, y = centre
    return (x, y - half), (x + half, y), (x, y + half), (x - half, y)


def _outline(draft: Draft, layout: SlopeLayout, at: Callable[[Point], Point]) -> None:
    slope = layout.slope
    draft.polygon((at(p) for p in slope.outline), "outline")
    for hole in slope.holes:
        ring = tuple(at(p) for p in hole.outline)
        draft.polygon(ring, "outline", "white")
        low_x, low_y, high_x, high_y = plane.bounds(ring)
        size = fit(hole.name, high_x - low_x - 1.0, 8.5, 8.0)
        middle = ((low_x + high_x) / 2, (low_y + high_y) / 2)
        if size is not None and high_y - low_y > 2 * cap_height(size):
            draft.text(Text(at=middle, text=hole.name, size=size))
        elif high_y - low_y > 8.0 and high_x - low_x > 2.5:
            text = shorten(hole.name, high_y - low_y - 1.0, 8.0)
            draft.text(Text(at=middle, text=text, size=8.0, turned=90.0))
    if layout.cap_line is not None:
        xs = _across(layout, layout.cap_line)
        draft.line((at((xs[0], layout.cap_line)), at((xs[1], layout.cap_line))), "hidden")


def _across(layout: SlopeLayout, y: float) -> tuple[float, float]:
    """Where a level line enters and leaves the slope."""
    xs = []
    points = layout.slope.outline
    for (xa, ya), (xb, yb) in zip(points, points[1:] + points[:1], strict=True):
        if (ya - y) * (yb - y) <= 0 and abs(ya - yb) > 1e-12:
            xs.append(xa + (xb - xa) * (y - ya) / (yb - ya))
    if not xs:
        xs = [p[0] for p in points]
    return min(xs), max(xs)


def _lines(
    draft: Draft,
    layout: SlopeLayout,
    at: Callable[[Point], Point],
    scale: float,
    tape: Show,
    every: int,
    edges: tuple[float, float],
) -> None:
    """Course lines with their heights, no closer than they can be read."""
    step = layout.course * scale
    lines = [line for line in layout.lines if line.course % every == 0]
    gap = max(1, -int(-LINE_GAP // (step * every)))
    for n, line in enumerate(lines):
        y = layout.base + line.height
        x0, x1 = _across(layout, y)
        a, b = at((x0, y)), at((x1, y))
        last = line is lines[-1]
        room_to_last = (lines[-1].height - line.height) * scale
        labelled = last or (n % gap == 0 and room_to_last >= LINE_GAP)
        start = (edges[0] - 3.0 if labelled else a[0], a[1])
        draft.line((start, b), "snap")
        draft.take(geometry.strip_box(start, b, 0.4))
        if labelled:
            text = labels.bare(tape, line.mark * layout.mark_step / NM_PER_INCH)
            draft.text(Text(at=(edges[0] - 4.0, a[1]), text=text, size=LABEL, anchor="right"))
    gap = max(1, -int(-LINE_GAP // step))
    low = min(y for _, y in layout.slope.outline)
    numbered = [c.course for c in layout.courses if low <= layout.base + c.course * layout.course <= _top(layout)]
    for k in numbered:
        if (k - numbered[0]) % gap and k != numbered[-1]:
            continue
        if k != numbered[-1] and (numbered[-1] - k) * step < LINE_GAP:
            continue
        y = at((0.0, layout.base + k * layout.course))[1]
        near = at((_across(layout, min(layout.base + k * layout.course, _top(layout)))[1], 0.0))[0]
        draft.line(((near + 1.0, y), (edges[1] + 3.0, y)), "rule")
        draft.take(geometry.strip_box((near + 1.0, y), (edges[1] + 3.0, y), 0.3))
        draft.text(Text(at=(edges[1] + 4.0, y), text=f"{k}", size=NUMBER, bold=True, anchor="left"))
    head = at((0.0, _top(layout)))[1] + 4.0
    draft.text(Text(at=(edges[0] - 4.0, head), text=f"snap, {tape.unit}", size=LABEL, anchor="right"))
    draft.text(Text(at=(edges[1] + 4.0, head), text="course", size=LABEL, anchor="left"))


def _top(layout: SlopeLayout) -> float:
    return max(y for _, y in layout.slope.outline)


def _centre(draft: Draft, layout: SlopeLayout, at: Callable[[Point], Point], top: float) -> None:
    x, base = at((layout.centre_x, layout.base))
    draft.line(((x, base - 2.5), (x, top + 2.0)), "centre")
    draft.take(geometry.strip_box((x, top - 2.0), (x, top + 2.0), 0.3))


def _base_marks(
    draft: Draft,
    layout: SlopeLayout,
    at: Callable[[Point], Point],
    scale: float,
    texts: list[str],
) -> None:
    """Ticks and cumulative sizes from the centre line outwards."""
    if not texts:
        return
    gap = max(1, -int(-MARK_GAP // (layout.spacing * scale)))
    middle = min(range(len(texts)), key=lambda i: abs(layout.first_marks[i][0]))
    floor = at((0.0, min(layout.base, *(y for _, y in layout.slope.outline))))[1]
    for i, ((exact, _), text) in enumerate(zip(layout.first_marks, texts, strict=True)):
        x, y = at((layout.centre_x + exact, layout.base))
        draft.line(((x, y), (x, floor - 1.6)), "edge")
        if (i - middle) % gap == 0:
            tall = width(text, LABEL) / 2
            draft.text(Text(at=(x, floor - 2.6 - tall), text=text, size=LABEL, turned=90.0))


def _sizes(
    draft: Draft,
    layout: SlopeLayout,
    at: Callable[[Point], Point],
    show: Show,
    edges: tuple[float, float],
    longest: float,
) -> None:
    """Eave, height and the kind of every edge."""
    eave = layout.slope.edges[0]
    floor = at((0.0, min(layout.base, *(y for _, y in layout.slope.outline))))[1]
    a, b = at(eave.start), at(eave.end)
    low = floor - 2.6 - longest - 6.0
    level = min(a[1], b[1])
    draft.dimension((a[0], level), (b[0], level), low - level, labels.length(show, eave.length), size=LABEL)
    tall = _top(layout) - min(y for _, y in layout.slope.outline)
    foot = at((0.0, _top(layout) - tall))[1]
    head = at((0.0, _top(layout)))[1]
    draft.dimension((edges[1], foot), (edges[1], head), -15.0, labels.length(show, tall), size=LABEL, extend=False)
    for e in layout.slope.edges:
        p, q = at(e.start), at(e.end)
        along = plane.distance(p, q)
        if e.kind == "eave" or along < width(e.kind, LABEL) + 4.0:
            continue
        out = ((q[1] - p[1]) / along, -(q[0] - p[0]) / along)
        angle = reading((q[0] - p[0], q[1] - p[1]))
        places = []
        for share in (0.5, 0.46, 0.54, 0.42, 0.58, 0.35, 0.65, 0.8, 0.2, 0.72, 0.28):
            x, y = geometry.between(p, q, share)
            spot = (x + out[0] * 2.6, y + out[1] * 2.6)
            places.append(Text(at=spot, text=e.kind, size=LABEL, turned=angle, boxed=True))
        draft.place(places)


def reading(direction: Point) -> float:
    """Turn of a text along a direction so that it reads from the bottom or the right, degrees."""
    angle = degrees(atan2(direction[1], direction[0]))
    return (angle + 90.0) % 180.0 - 90.0
