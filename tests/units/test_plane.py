"""Plane geometry of the program and that of its checkers, both against shapely."""

from __future__ import annotations

import math

import pytest
import shapely
from hypothesis import assume, given
from hypothesis import strategies as st

from fabplan import check_plane, plane
from fabplan.plane import Point

NUMBER = st.integers(-400, 400).map(lambda n: n / 16)
POINTS = st.tuples(NUMBER, NUMBER)
CLOUD = st.lists(POINTS, min_size=3, max_size=12)
SHARP = ((0.0, 0.0), (8.0, 0.0), (8.0, 6.0), (4.0, 1.0), (0.0, 6.0))  # with a corner turned in


def test_turn_is_left_positive_and_exact_for_whole_numbers() -> None:
    assert plane.turn((0, 0), (1, 0), (1, 1)) == 1
    assert plane.turn((0, 0), (10**15, 1), (2 * 10**15, 3)) == 10**15  # a float would lose it
    assert check_plane.left_of((0, 0), (1, 0), (1, 1)) == 1
    assert check_plane.left_of((0, 0), (1, 0), (1, -1)) == -1


@given(CLOUD)
def test_hull_and_areas(points: list[Point]) -> None:
    theirs = shapely.convex_hull(shapely.MultiPoint(points))
    assume(theirs.area > 0)
    ring = plane.hull(points)
    assert shapely.equals(shapely.Polygon(ring), theirs)
    assert len(ring) == len(theirs.exterior.coords) - 1  # no straight corner is kept
    assert plane.area(ring) == pytest.approx(theirs.area)
    assert plane.area(ring[::-1]) == pytest.approx(-theirs.area)
    assert check_plane.signed_area(ring) == pytest.approx(theirs.area)
    assert check_plane.area(ring[::-1]) == pytest.approx(theirs.area)
    assert plane.middle(ring) == pytest.approx((theirs.centroid.x, theirs.centroid.y))
    assert plane.bounds(ring) == theirs.bounds


def test_areas_and_inside_of_an_outline_with_a_corner_turned_in() -> None:
    assert plane.area(SHARP) == check_plane.signed_area(SHARP) == shapely.Polygon(SHARP).area == 28
    assert plane.contains(SHARP, (1.0, 4.0)) and not plane.contains(SHARP, (4.0, 3.0))


@given(POINTS)
def test_inside(point: Point) -> None:
    theirs = shapely.Polygon(SHARP)
    assume(theirs.boundary.distance(shapely.Point(point)) > 0)
    assert plane.contains(SHARP, point) == theirs.contains(shapely.Point(point))


@given(POINTS, POINTS, POINTS)
def test_distances(a: Point, b: Point, p: Point) -> None:
    assume(a != b)
    stretch = shapely.LineString([a, b])
    assert plane.distance(a, b) == pytest.approx(stretch.length)
    assert plane.to_stretch(a, b, p) == pytest.approx(stretch.distance(shapely.Point(p)), abs=1e-9)
    along, off = plane.beside_line(a, b, p)
    assert off == plane.off_line(a, b, p)
    assert math.hypot(along, off) == pytest.approx(math.dist(a, p))
    assert plane.on_stretch(a, b, p, 1e-6) == (stretch.distance(shapely.Point(p)) < 1e-6)


@given(POINTS, POINTS, POINTS, POINTS)
def test_two_stretches_cross(p: Point, q: Point, a: Point, b: Point) -> None:
    assume(p != q and a != b)
    inner = shapely.crosses(shapely.LineString([p, q]), shapely.LineString([a, b]))
    assert plane.crosses(p, q, a, b) == check_plane.cross(p, q, a, b)
    assert not plane.crosses(p, q, a, b) or inner
    at = plane.crossing((p, q), (a, b))
    if plane.crosses(p, q, a, b):
        assert at is not None
        assert max(plane.to_stretch(p, q, at), plane.to_stretch(a, b, at)) < 1e-9


def test_parallel_lines_cross_nowhere() -> None:
    assert plane.crossing(((0, 0), (4, 2)), ((0, 1), (4, 3))) is None


@given(CLOUD, st.floats(0, 360), NUMBER)
def test_half_of_a_ring_is_what_a_straight_cut_leaves(points: list[Point], way: float, offset: float) -> None:
    assume(shapely.convex_hull(shapely.MultiPoint(points)).area > 0)
    ring, n = plane.hull(points), (math.cos(math.radians(way)), math.sin(math.radians(way)))
    below = plane.half(ring, n, offset, 1e-9)
    above = plane.half(ring, (-n[0], -n[1]), -offset, 1e-9)
    assert sum(plane.area(r) for r in (below, above) if len(r) > 2) == pytest.approx(plane.area(ring))
    assert all(n[0] * x + n[1] * y <= offset + 1e-8 for x, y in below)


@given(CLOUD, st.floats(-720, 720))
def test_turning_keeps_sizes_and_is_exact_by_quarters(points: list[Point], degrees: float) -> None:
    out = plane.rotated(points, degrees)
    assert math.dist(out[0], out[1]) == pytest.approx(math.dist(points[0], points[1]))
    assert plane.rotated(points, 90) == tuple((-y, x) for x, y in points)
    assert plane.rotated(((1.0, 0.0),), 30)[0] == pytest.approx((math.sqrt(3) / 2, 0.5))
