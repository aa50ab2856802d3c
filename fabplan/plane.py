"""Plane geometry of points in any unit, the one place of the program for it; checkers have `check_plane`."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from itertools import pairwise

Point = tuple[float, float]
Points = Sequence[Point]


def turn(a: Point, b: Point, c: Point) -> float:
    """Twice the signed area of a triangle: positive when the way from `a` over `b` to `c` turns left."""
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def distance(a: Point, b: Point) -> float:
    """Length of the straight line between two points."""
    return math.hypot(b[0] - a[0], b[1] - a[1])


def off_line(a: Point, b: Point, p: Point) -> float:
    """How far a point lies off the endless line through two others, either side."""
    return abs(turn(a, b, p)) / (distance(a, b) or 1.0)


def beside_line(a: Point, b: Point, p: Point) -> tuple[float, float]:
    """How far along a line from `a` towards `b` a point lies, and how far off it."""
    long = distance(a, b) or 1.0
    along = ((p[0] - a[0]) * (b[0] - a[0]) + (p[1] - a[1]) * (b[1] - a[1])) / long
    return along, off_line(a, b, p)


def on_stretch(a: Point, b: Point, p: Point, near: float) -> bool:
    """Whether a point lies on the stretch between two others, `near` enough."""
    along, off = beside_line(a, b, p)
    return off < near and -near <= along <= distance(a, b) + near


def to_stretch(a: Point, b: Point, p: Point) -> float:
    """Distance from a point to the stretch between two others."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    span = dx * dx + dy * dy
    s = 0.0 if span == 0 else min(1.0, max(0.0, ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / span))
    return math.hypot(p[0] - a[0] - s * dx, p[1] - a[1] - s * dy)


def crosses(p: Point, q: Point, a: Point, b: Point) -> bool:
    """Whether two stretches cross at inner points of both."""
    if turn(a, b, p) * turn(a, b, q) >= 0:
        return False
    return turn(p, q, a) * turn(p, q, b) < 0


def crossing(one: tuple[Point, Point], other: tuple[Point, Point]) -> Point | None:
    """Where two endless lines cross, or None when they are parallel."""
    (x0, y0), (x1, y1) = one
    (x2, y2), (x3, y3) = other
    d = (x1 - x0) * (y3 - y2) - (y1 - y0) * (x3 - x2)
    if abs(d) < 1e-12:
        return None
    t = ((x2 - x0) * (y3 - y2) - (y2 - y0) * (x3 - x2)) / d
    return x0 + t * (x1 - x0), y0 + t * (y1 - y0)


def area(outline: Points) -> float:
    """Signed area by the shoelace sum: positive when the outline runs counter-clockwise."""
    pairs = zip(outline, (*outline[1:], *outline[:1]), strict=True)
    return 0.5 * math.fsum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in pairs)


def middle(outline: Points) -> Point:
    """Centre of gravity of a polygon (mean of the points when it has no area)."""
    twice, sx, sy = 0.0, 0.0, 0.0
    for (x0, y0), (x1, y1) in zip(outline, (*outline[1:], outline[0]), strict=True):
        cross = x0 * y1 - x1 * y0
        twice += cross
        sx += (x0 + x1) * cross
        sy += (y0 + y1) * cross
    if abs(twice) < 1e-12:
        return sum(p[0] for p in outline) / len(outline), sum(p[1] for p in outline) / len(outline)
    return sx / (3 * twice), sy / (3 * twice)


def bounds(points: Iterable[Point]) -> tuple[float, float, float, float]:
    """Least x, least y, greatest x, greatest y."""
    xs, ys = zip(*points)  # noqa: B905 - every point has two numbers; this runs very often
    return min(xs), min(ys), max(xs), max(ys)


def contains(outline: Points, point: Point) -> bool:
    """Whether the point is inside the polygon (even-odd; points on the border may go either way)."""
    x, y = point
    odd = False
    x0, y0 = outline[-1]
    for x1, y1 in outline:
        if (y0 > y) != (y1 > y) and x < x0 + (y - y0) * (x1 - x0) / (y1 - y0):
            odd = not odd
        x0, y0 = x1, y1
    return odd


def rotated(points: Iterable[Point], degrees: float) -> tuple[Point, ...]:
    """Points turned counter-clockwise about the origin, exact for quarter turns."""
    quarter = {0.0: (1.0, 0.0), 90.0: (0.0, 1.0), 180.0: (-1.0, 0.0), 270.0: (0.0, -1.0)}
    c, s = quarter.get(degrees % 360) or (math.cos(math.radians(degrees)), math.sin(math.radians(degrees)))
    return tuple((c * x - s * y, s * x + c * y) for x, y in points)


def half(ring: Points, normal: Point, offset: float, near: float) -> list[Point]:
    """The part of a convex ring where ``normal . p <= offset``; corners within `near` of the line count as on it."""
    out: list[Point] = []
    for p, q in pairwise((*ring, ring[0])):
        a = normal[0] * p[0] + normal[1] * p[1] - offset
        b = normal[0] * q[0] + normal[1] * q[1] - offset
        if a <= near:
            out.append(p)
        if (a < -near and b > near) or (a > near and b < -near):
            t = a / (a - b)
            out.append((p[0] + t * (q[0] - p[0]), p[1] + t * (q[1] - p[1])))
    return out


def hull(points: Iterable[Point], near: float = 0.0) -> tuple[Point, ...]:
    """Convex hull, counter-clockwise, without corners that turn by `near` or less (monotone chain, Andrew 1979)."""
    ordered = sorted(set(points))

    def chained(run: Points) -> list[Point]:
        chain: list[Point] = []
        for p in run:
            while len(chain) > 1 and turn(chain[-2], chain[-1], p) <= near:
                chain.pop()
            chain.append(p)
        return chain[:-1]

    return (*chained(ordered), *chained(ordered[::-1]))
