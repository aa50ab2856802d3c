"""What a straight cut leaves of a convex outline."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

Point = tuple[float, float]


def half(ring: Sequence[Point], normal: Point, offset: float, near: float) -> list[Point]:
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
