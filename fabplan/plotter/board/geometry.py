"""Small plane geometry for marks: hatch lines, arrowheads, centres, clipping. Any unit, mostly paper mm."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil, cos, floor, hypot, radians, sin

from fabplan.plotter.model import Point

Segment = tuple[Point, Point]


def hatch_lines(outline: Sequence[Point], angle: float, spacing: float) -> list[Segment]:
    """Parallel lines inside a closed polygon (even-odd), `spacing` apart, `angle` degrees.

    The lines sit on one grid for the whole drawing, so neighbouring hatched areas match.
    """
    c, s = cos(radians(angle)), sin(radians(angle))
    along = [(x * c + y * s, y * c - x * s) for x, y in outline]
    low, high = min(v for _, v in along), max(v for _, v in along)
    lines: list[Segment] = []
    for k in range(ceil(low / spacing), floor(high / spacing) + 1):
        level = k * spacing
        crossings = []
        for (u0, v0), (u1, v1) in zip(along, along[1:] + along[:1], strict=True):
            if (v0 <= level) != (v1 <= level):
                crossings.append(u0 + (u1 - u0) * (level - v0) / (v1 - v0))
        crossings.sort()
        for u0, u1 in zip(crossings[::2], crossings[1::2], strict=False):
            if u1 - u0 > 0.05:
                lines.append(((u0 * c - level * s, u0 * s + level * c), (u1 * c - level * s, u1 * s + level * c)))
    return lines


def arrow_head(tip: Point, tail: Point, length: float) -> tuple[Point, Point, Point]:
    """Filled arrowhead at `tip`, coming from `tail`: 1 wide to 3 long."""
    dx, dy = tip[0] - tail[0], tip[1] - tail[1]
    size = hypot(dx, dy) or 1.0
    ux, uy = dx / size, dy / size
    bx, by = tip[0] - length * ux, tip[1] - length * uy
    half = length / 6
    return tip, (bx - half * uy, by + half * ux), (bx + half * uy, by - half * ux)


def toward(start: Point, end: Point, distance: float) -> Point:
    """The point `distance` from `start` in the direction of `end`."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    size = hypot(dx, dy) or 1.0
    return start[0] + dx / size * distance, start[1] + dy / size * distance


def between(start: Point, end: Point, share: float) -> Point:
    """The point at `share` of the way from `start` to `end`."""
    return start[0] + (end[0] - start[0]) * share, start[1] + (end[1] - start[1]) * share


def corners(bounds: tuple[float, float, float, float]) -> tuple[Point, ...]:
    """Corners of an upright rectangle, counter-clockwise."""
    x0, y0, x1, y1 = bounds
    return (x0, y0), (x1, y0), (x1, y1), (x0, y1)


def clip_to_window(line: Segment, window: tuple[float, float, float, float]) -> Segment | None:
    """The part of a straight line inside an upright rectangle (x0, y0, x1, y1), or None (Liang and Barsky, 1984)."""
    (x0, y0), (x1, y1) = line
    dx, dy = x1 - x0, y1 - y0
    first, last = 0.0, 1.0
    for p, q in ((-dx, x0 - window[0]), (dx, window[2] - x0), (-dy, y0 - window[1]), (dy, window[3] - y0)):
        if p == 0:
            if q < 0:
                return None
        elif p < 0:
            first = max(first, q / p)
        else:
            last = min(last, q / p)
    if first > last:
        return None
    return (x0 + first * dx, y0 + first * dy), (x0 + last * dx, y0 + last * dy)


def boxes_touch(a: Sequence[Point], b: Sequence[Point], slack: float = 0.0) -> bool:
    """Whether two convex polygons overlap by more than `slack` (separating axes)."""
    for outline in (a, b):
        x0, y0 = outline[-1]
        for x1, y1 in outline:
            nx, ny = y1 - y0, x0 - x1
            x0, y0 = x1, y1
            size = hypot(nx, ny)
            if size < 1e-12:
                continue
            along_a = [x * nx + y * ny for x, y in a]
            along_b = [x * nx + y * ny for x, y in b]
            least = slack * size
            if max(along_a) - min(along_b) <= least or max(along_b) - min(along_a) <= least:
                return False
    return True


def strip_box(a: Point, b: Point, half: float) -> tuple[Point, ...]:
    """Thin rectangle round a line."""
    u = toward((0.0, 0.0), (b[0] - a[0], b[1] - a[1]), half)
    return (
        (a[0] - u[1], a[1] + u[0]),
        (b[0] - u[1], b[1] + u[0]),
        (b[0] + u[1], b[1] - u[0]),
        (a[0] + u[1], a[1] - u[0]),
    )
