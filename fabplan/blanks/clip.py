"""Overlays of polygons that are safe where shapes share a border.

Overlays of shapes whose borders agree only to within rounding can come back empty, with no error. Every overlay here
is made on a grid of 1e-9 in, and each result must keep the area law

    area(A and B) + area(A or B) = area(A) + area(B)

or `OverlayError` is raised: a wrong area never reaches a plan.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence

import shapely
from shapely.errors import GEOSException
from shapely.geometry import MultiPolygon
from shapely.geometry import Polygon as Shape
from shapely.geometry.base import BaseGeometry

from fabplan import plane

GRID = 1e-9  # inches
WELD = 1e-7  # inches
COARSER = (GRID, 3e-9, 1e-8, 3e-8)
LEAST = 1e-8  # inches: corners closer than this to a straight line are dropped
Point = tuple[float, float]
Points = Sequence[Point]


class OverlayError(ArithmeticError):
    """Two shapes could not be overlaid without losing area."""


def shape(points: Points) -> Shape:
    """Polygon of a list of corners (inches)."""
    return Shape(points)


def _tolerance(*shapes: BaseGeometry) -> float:
    return 1e-7 + 4 * GRID * sum(s.length for s in shapes)


def _overlay(a: BaseGeometry, b: BaseGeometry) -> tuple[BaseGeometry, BaseGeometry]:
    both = _solid(_try(shapely.intersection, a, b))
    either = _solid(_try(shapely.union, a, b))
    if abs(both.area + either.area - a.area - b.area) > _tolerance(a, b):
        raise OverlayError(
            f"overlay lost area: {both.area!r} + {either.area!r} against {a.area!r} + {b.area!r} square inches"
        )
    return both, either


def _try(overlay: Callable[..., BaseGeometry], a: BaseGeometry, b: BaseGeometry) -> BaseGeometry:
    """Overlay on the grid; the engine refuses some borders a hair apart, and a little coarser grid helps it."""
    for grid in COARSER:
        try:
            return overlay(a, b, grid_size=grid)
        except GEOSException:
            continue
    raise OverlayError("shapes too tangled to overlay")


def _solid(geometry: BaseGeometry) -> BaseGeometry:
    """The polygons of a result; touching borders leave lines and points in it, which no overlay takes back in."""
    found = pieces(geometry)
    return found[0] if len(found) == 1 else MultiPolygon(found)


def intersection(a: BaseGeometry, b: BaseGeometry) -> BaseGeometry:
    """Common part of two shapes."""
    return _overlay(a, b)[0]


def union(a: BaseGeometry, b: BaseGeometry) -> BaseGeometry:
    """Two shapes together."""
    return _overlay(a, b)[1]


def join(shapes: Iterable[BaseGeometry]) -> BaseGeometry:
    """Shapes that touch, welded into one: corners within 1e-7 in of a border are made part of it first.

    Borders cut separately agree only to a few 1e-9 in; without the weld a hair of nothing is left between them.
    """
    total: BaseGeometry = Shape()
    for s in shapes:
        piece = shapely.snap(s, total, WELD) if not total.is_empty else s
        total = union(shapely.snap(total, piece, WELD), piece)
    return total


def difference(a: BaseGeometry, b: BaseGeometry) -> BaseGeometry:
    """What is left of `a` outside `b`."""
    both, _ = _overlay(a, b)
    left = _try(shapely.difference, a, b)
    if abs(left.area + both.area - a.area) > _tolerance(a, b):
        raise OverlayError(f"difference lost area: {left.area!r} + {both.area!r} against {a.area!r} square inches")
    return _solid(left)


def apart(a: BaseGeometry, b: BaseGeometry) -> float:
    """Area that belongs to one of two shapes only, square inches: 0 when they are the same."""
    both, either = _overlay(a, b)
    return float(either.area - both.area)


def carve(a: BaseGeometry, b: BaseGeometry) -> BaseGeometry:
    """What is left of `a` outside `b`, their common borders welded first so that no hair joins what falls apart."""
    return difference(shapely.snap(a, b, WELD), b)


def overlap(a: BaseGeometry, b: BaseGeometry) -> float:
    """Common area of two shapes, square inches."""
    return float(intersection(a, b).area)


def pieces(geometry: BaseGeometry) -> list[Shape]:
    """The polygons of a geometry; lines and points left by touching borders are dropped."""
    if isinstance(geometry, Shape):
        return [] if geometry.is_empty else [geometry]
    if isinstance(geometry, MultiPolygon) or hasattr(geometry, "geoms"):
        return [p for g in geometry.geoms for p in pieces(g)]
    return []


def largest(geometry: BaseGeometry) -> Shape:
    """The biggest polygon of a geometry (an empty one when there is none)."""
    return max(pieces(geometry), key=lambda p: float(p.area), default=Shape())


def corners(polygon: Shape) -> tuple[Point, ...]:
    """Corners of a polygon, counter-clockwise, without those on a straight line."""
    ring = [(float(x), float(y)) for x, y in shapely.get_coordinates(polygon.exterior)[:-1]]
    if plane.area(ring) < 0:
        ring.reverse()
    changed = True
    while changed and len(ring) > 3:
        changed = False
        for i, b in enumerate(ring):
            a, c = ring[i - 1], ring[(i + 1) % len(ring)]
            run = math.dist(a, c)
            off = abs(plane.turn(a, b, c))
            if math.dist(a, b) < LEAST or off <= LEAST * max(run, LEAST):
                del ring[i]
                changed = True
                break
    return tuple(ring)


def ring(points: Points) -> Shape:
    """Polygon of a walk that may cross itself by a hair, past an edge shorter than the walk's own offset."""
    walk = Shape([p for k, p in enumerate(points) if math.dist(p, points[k - 1]) > GRID])
    return walk if walk.is_valid else largest(walk.buffer(0))


def half_plane(through: Point, normal: Point, reach: float) -> Shape:
    """The part of the plane with ``(p - through) . normal <= 0``, out to `reach` inches.

    Parameters
    ----------
    through : point
        A point of the border.
    normal : unit vector
        Points out of the part that is kept.
    reach : float
        How far the part goes, inches.
    """
    along = (-normal[1], normal[0])

    def at(a: float, n: float) -> Point:
        return (through[0] + a * along[0] + n * normal[0], through[1] + a * along[1] + n * normal[1])

    return Shape([at(-reach, 0), at(reach, 0), at(reach, -reach), at(-reach, -reach)])
