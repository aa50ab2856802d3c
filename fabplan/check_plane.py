"""Plane geometry of the checkers, with ways of its own: nothing is shared with `plane`, which what is checked uses."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

Point = tuple[float, float]


def signed_area(ring: Sequence[Point]) -> float:
    """Area by triangles from the first corner, positive when the ring runs counter-clockwise."""
    start = complex(*ring[0])
    arms = [complex(*p) - start for p in ring[1:]]
    return sum((a.conjugate() * b).imag for a, b in pairwise(arms)) / 2


def area(ring: Sequence[Point]) -> float:
    """Area of a ring, either way round."""
    return abs(signed_area(ring))


def left_of(start: Point, end: Point, p: Point) -> float:
    """Positive when a point lies on the left, looking along a line: twice the area of the triangle."""
    return ((complex(*end) - complex(*start)).conjugate() * (complex(*p) - complex(*start))).imag


def cross(a: Point, b: Point, p: Point, q: Point) -> bool:
    """Whether two stretches cross at inner points of both."""
    return left_of(a, b, p) * left_of(a, b, q) < 0 and left_of(p, q, a) * left_of(p, q, b) < 0
