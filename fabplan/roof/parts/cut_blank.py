"""Outlines of part blanks: what straight cuts leave of a whole blank, and the metal one takes in a strip of its own."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from fabplan import plane
from fabplan.plane import half
from fabplan.roof.model import Point, Polygon
from fabplan.roof.parts.pairing import NEAR

LEAST_CUT = 0.05  # share of the whole blank: a cut that takes off less is not worth making
MOST_CUTS = 3


def cut_outline(hull: Polygon, whole: Polygon, step: float) -> Polygon:
    """What is left of a whole blank after the few straight cuts that pay, every part of a hull still inside.

    Each cut runs from side to side of the whole blank between two points a whole number of steps from its corners,
    never nearer to the hull than the hull's own edge.

    Parameters
    ----------
    hull : polygon
        Convex, counter-clockwise, inside the whole blank.
    whole : polygon
        The whole blank, convex, counter-clockwise.
    step : float
        Graduation of the shop, inches.
    """
    full = plane.area(whole)
    lines = []
    for p, q in pairwise((*hull, hull[0])):
        length = math.dist(p, q)
        if length < NEAR:
            continue
        normal = ((q[1] - p[1]) / length, -(q[0] - p[0]) / length)
        line = _outward(normal, normal[0] * p[0] + normal[1] * p[1], whole, step)
        if line is not None:
            lines.append((full - plane.area(below(whole, *line)), line))
    ring, cuts = whole, 0
    for _, line in sorted(lines, key=lambda x: (-round(x[0], 6), x[1])):
        after = below(ring, *line)
        if cuts < MOST_CUTS and len(after) > 2 and plane.area(ring) - plane.area(after) >= LEAST_CUT * full:
            ring, cuts = after, cuts + 1
    return ring


def below(ring: Polygon, normal: Point, offset: float) -> Polygon:
    """The part of a convex ring where `normal . p <= offset`."""
    out = half(ring, normal, offset, NEAR)
    return tuple(p for n, p in enumerate(out) if math.dist(p, out[n - 1]) > 1e-6)


def _outward(normal: Point, offset: float, whole: Polygon, step: float) -> tuple[Point, float] | None:
    """The line moved away from what is kept until it crosses the sides at whole steps; None when it cuts nothing."""
    found: list[Point] = []
    for p, q in pairwise((*whole, whole[0])):
        a = normal[0] * p[0] + normal[1] * p[1] - offset
        b = normal[0] * q[0] + normal[1] * q[1] - offset
        if (a > NEAR) == (b > NEAR):
            continue
        off, on = (p, q) if a > NEAR else (q, p)  # the corner cut off, the corner kept
        length = math.dist(p, q)
        away = math.floor(length * max(a, b) / abs(a - b) / step + 1e-6) * step
        found.append((off[0] + away / length * (on[0] - off[0]), off[1] + away / length * (on[1] - off[1])))
    if len(found) != 2 or math.dist(*found) < step / 2:
        return None
    (x0, y0), (x1, y1) = found
    length = math.hypot(x1 - x0, y1 - y0)
    n = ((y1 - y0) / length, -(x1 - x0) / length)
    if n[0] * normal[0] + n[1] * normal[1] < 0:
        n = (-n[0], -n[1])
    return n, n[0] * x0 + n[1] * y0


def strip_area(ring: Polygon, *, locked: bool) -> float:
    """Metal one blank takes in a long strip of its own kind, square inches: the least over the sides it can stand on.

    Parameters
    ----------
    ring : polygon
        Convex, counter-clockwise, in the blank's own frame.
    locked : bool
        Whether it must keep the directions of its own frame (rolling direction).
    """
    ways = [0.0, math.pi / 2]
    if not locked:
        ways += [-math.atan2(q[1] - p[1], q[0] - p[0]) for p, q in pairwise((*ring, ring[0]))]
    return min(_row(ring, way) for way in ways)


def _row(ring: Polygon, turn: float) -> float:
    c, s = math.cos(turn), math.sin(turn)
    points = [(c * x - s * y, s * x + c * y) for x, y in ring]
    low, high = min(y for _, y in points), max(y for _, y in points)
    levels = {y for _, y in points} | {low + high - y for _, y in points}
    spans = [(*_span(points, y), *_span(points, low + high - y)) for y in levels]
    straight = max(b - a for a, b, _, _ in spans)
    # every second one turned half round: its left side is the other's right side upside down
    there = max(b + other for _, b, _, other in spans)
    back = max(-a - other for a, _, other, _ in spans)
    return (high - low) * min(straight, (there + back) / 2)


def _span(points: Sequence[Point], y: float) -> tuple[float, float]:
    """Left and right of a convex outline at a height."""
    xs = []
    for p, q in pairwise((*points, points[0])):
        if min(p[1], q[1]) - 1e-7 <= y <= max(p[1], q[1]) + 1e-7:
            if abs(q[1] - p[1]) <= 1e-7:
                xs += [p[0], q[0]]
            else:
                t = min(max((y - p[1]) / (q[1] - p[1]), 0.0), 1.0)
                xs.append(p[0] + t * (q[0] - p[0]))
    return min(xs), max(xs)
