"""Slopes and rings of the roof checks, with their own ray casting and hulls: nothing is shared with the layout."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from fabplan.check_plane import left_of
from fabplan.roof.model import Point, SlopeEdge

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
NEAR = 1e-6  # inches
CLOSE = 1e-5  # inches: what is measured from outlines


def inside_ring(points: Array, ring: Sequence[Point]) -> Flags:
    """Which points a ray to the right leaves an odd number of times."""
    x, y = points[..., 0], points[..., 1]
    odd = np.zeros(x.shape, dtype=bool)
    for (x1, y1), (x2, y2) in zip(ring, [*ring[1:], ring[0]], strict=True):
        if y1 == y2:
            continue
        crosses = (y1 > y) != (y2 > y)
        at = x1 + (y - y1) * (x2 - x1) / (y2 - y1)
        odd ^= crosses & (x < at)
    return odd


def to_ring(point: Point, ring: Sequence[Point]) -> float:
    """Distance from a point to the border of a ring."""
    best = math.inf
    px, py = point
    for (x1, y1), (x2, y2) in zip(ring, [*ring[1:], ring[0]], strict=True):
        dx, dy = x2 - x1, y2 - y1
        span = dx * dx + dy * dy
        along = 0.0 if span == 0 else max(0.0, min(1.0, ((px - x1) * dx + (py - y1) * dy) / span))
        best = min(best, math.hypot(px - x1 - along * dx, py - y1 - along * dy))
    return best


def off_ring(point: Point, ring: Sequence[Point]) -> float:
    """How far outside a ring a point lies; 0 inside."""
    if bool(inside_ring(np.array(point), ring)):
        return 0.0
    return to_ring(point, ring)


def line_through(edge: SlopeEdge, outward: float) -> tuple[float, float, float]:
    """(a, b, c) with a x + b y <= c on the metal's side of an edge that has been moved outward."""
    dx, dy = edge.end[0] - edge.start[0], edge.end[1] - edge.start[1]
    length = math.hypot(dx, dy)
    a, b = dy / length, -dx / length
    return a, b, a * edge.start[0] + b * edge.start[1] + outward


def is_convex(edges: Sequence[SlopeEdge]) -> bool:
    """Whether every corner lies on the metal's side of every edge."""
    return all(
        a * p.start[0] + b * p.start[1] <= c + 1e-7 for a, b, c in (line_through(e, 0.0) for e in edges) for p in edges
    )


def ring_moved(edges: Sequence[SlopeEdge], outward: Sequence[float]) -> list[Point]:
    """Corners where neighbouring moved edges meet, by solving both lines."""
    out: list[Point] = []
    for i in range(len(edges)):
        a1, b1, c1 = line_through(edges[i - 1], outward[i - 1])
        a2, b2, c2 = line_through(edges[i], outward[i])
        det = a1 * b2 - a2 * b1
        if abs(det) < 1e-9:
            x, y = edges[i].start
            out.append((x + a1 * outward[i - 1], y + b1 * outward[i - 1]))
            out.append((x + a2 * outward[i], y + b2 * outward[i]))
        else:
            out.append(((c1 * b2 - c2 * b1) / det, (a1 * c2 - a2 * c1) / det))
    return out


def hull_of(points: Sequence[Point]) -> list[Point]:
    """Convex hull, counter-clockwise, by the monotone chain."""
    ordered = sorted(set(points))

    def half(some: Sequence[Point]) -> list[Point]:
        chain: list[Point] = []
        for p in some:
            while len(chain) > 1 and left_of(chain[-2], chain[-1], p) <= 0:
                chain.pop()
            chain.append(p)
        return chain[:-1]

    return half(ordered) + half(ordered[::-1])


def parted(first: Sequence[Point], second: Sequence[Point], allowed: float = 1e-6) -> bool:
    """Whether some straight line along an edge of either hull has them on opposite sides."""
    hulls = (hull_of(first), hull_of(second))
    for one, other in (hulls, hulls[::-1]):
        for p, q in zip(one, [*one[1:], one[0]], strict=True):
            length = math.dist(p, q)
            if all(left_of(p, q, r) <= allowed * length for r in other):
                return True
    return False
