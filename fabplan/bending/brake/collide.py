"""Exact contact of lines that stand still or turn about the origin.

With one turn, two outlines first touch where a corner of one meets an edge of the other. So it is enough to cut the
arcs of moving corners with fixed edges, and the arcs of fixed corners, turned backward, with moving edges. No angle is
sampled.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise

from fabplan.blanks.model import Point
from fabplan.plane import bounds, contains, crosses, to_stretch

Edge = tuple[float, float, float, float, float, float]  # x0, y0, dx, dy, least and greatest distance from the origin
TINY = 1e-9
PIVOT = 2e-3  # corners this near the bending edge turn on the spot


def edges_of(points: Sequence[Point], *, closed: bool = False) -> list[Edge]:
    """Edges of a line or outline, with their distances from the origin."""
    ends = [*points[1:], points[0]] if closed else points[1:]
    out: list[Edge] = []
    for (x0, y0), (x1, y1) in zip(points, ends, strict=False):
        dx, dy = x1 - x0, y1 - y0
        span = dx * dx + dy * dy
        if span < TINY * TINY:
            continue
        s = min(1.0, max(0.0, -(x0 * dx + y0 * dy) / span))
        near = math.hypot(x0 + s * dx, y0 + s * dy)
        out.append((x0, y0, dx, dy, near, max(math.hypot(x0, y0), math.hypot(x1, y1))))
    return out


def first_hit(corners: Sequence[Point], edges: Sequence[Edge], degrees: float) -> tuple[float, int] | None:
    """First contact of corners turning about the origin by `degrees` (negative: clockwise) with fixed edges.

    Returns
    -------
    (angle turned at contact, corner number) or None
    """
    sweep = math.radians(degrees)
    sign = 1.0 if sweep >= 0 else -1.0
    sweep = abs(sweep)
    best: tuple[float, int] | None = None
    for i, (px, py) in enumerate(corners):
        r2 = px * px + py * py
        r = math.sqrt(r2)
        if r < PIVOT:
            continue
        start: float | None = None
        for x0, y0, dx, dy, near, far in edges:
            if r < near - TINY or r > far + TINY:
                continue
            a, b, c = dx * dx + dy * dy, x0 * dx + y0 * dy, x0 * x0 + y0 * y0 - r2
            disc = b * b - a * c
            if disc < 0:
                continue
            root = math.sqrt(disc)
            if start is None:
                start = math.atan2(py, px)
            for s in ((-b - root) / a, (-b + root) / a):
                if -TINY <= s <= 1 + TINY:
                    turn = sign * (math.atan2(y0 + s * dy, x0 + s * dx) - start) % math.tau
                    if TINY < turn <= sweep and (best is None or turn < best[0]):
                        best = (turn, i)
    return None if best is None else (math.degrees(best[0]), best[1])


def sweep_hit(
    moving: Sequence[Point],
    fixed: Sequence[Point],
    degrees: float,
    *,
    closed: bool,
    edges: Sequence[Edge] | None = None,
    own: Sequence[Edge] | None = None,
) -> tuple[float, bool, int] | None:
    """First contact of a line turning about the origin with a fixed line or outline.

    The `edges` of what is fixed, and the line's `own`, may be known.

    Returns
    -------
    (angle turned at contact, whether a moving corner touches, number of that corner) or None
    """
    a = first_hit(moving, edges_of(fixed, closed=closed) if edges is None else edges, degrees)
    b = first_hit(fixed, edges_of(moving) if own is None else own, -degrees)
    if a is not None and (b is None or a[0] <= b[0]):
        return a[0], True, a[1]
    return None if b is None else (b[0], False, b[1])


def line_enters(points: Sequence[Point], outline: tuple[Point, ...]) -> bool:
    """Whether any part of a line lies inside a closed outline."""
    x0, y0, x1, y1 = _box(outline)
    sides = list(zip(outline, [*outline[1:], outline[0]], strict=True))
    for x, y in points:
        if x0 < x < x1 and y0 < y < y1 and contains(outline, (x, y)):
            return True
    px, py = points[0]
    for qx, qy in points[1:]:
        if (px <= x0 and qx <= x0) or (px >= x1 and qx >= x1):
            beside = True
        else:
            beside = (py <= y0 and qy <= y0) or (py >= y1 and qy >= y1)
        if not beside and any(crosses((px, py), (qx, qy), a, b) for a, b in sides):
            return True
        px, py = qx, qy
    return False


_box = lru_cache(maxsize=256)(bounds)


def highest_angle(points: Sequence[Point]) -> float:
    """Greatest direction of a line seen from the origin, degrees; infinite where it may reach round behind."""
    if min(y for _, y in points) < -TINY and min(x for x, _ in points) < -TINY:
        return math.inf
    return max(math.degrees(math.atan2(y, x)) for x, y in points if x * x + y * y > PIVOT * PIVOT)


def depth(points: Sequence[Point], outline: Sequence[Point], samples: int = 40) -> float:
    """How far a line goes into an outline: the deepest of its sampled points (for the words on the page)."""
    worst = 0.0
    for (x0, y0), (x1, y1) in pairwise(points):
        for i in range(samples + 1):
            p = (x0 + (x1 - x0) * i / samples, y0 + (y1 - y0) * i / samples)
            if contains(outline, p):
                ends = zip(outline, [*outline[1:], outline[0]], strict=True)
                worst = max(worst, min(to_stretch(a, b, p) for a, b in ends))
    return worst
