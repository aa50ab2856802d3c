"""Where folded and pressed metal lies in plan: flaps, press strips, landing areas. Areas are exact (shapely).

Every fold has its own frame: s along the fold line, u outward from it. A flap turned by theta about its line lies at
u cos(theta); at 180 degrees that is the mirror image, and the raw edge comes exactly where the finished width puts it,
because the line is the middle of the bend zone.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from fabplan.blanks.model import Fold, Point

GRID = 1e-9  # overlays of shapes that share a border can come back empty without a grid size
SLIVER = 1 / 64  # overlaps no wider than twice this are within what hand work varies, and never count
WALL = 1 / 16  # least thickness of a standing flange in plan


@dataclass(frozen=True, slots=True)
class FoldFrame:
    """Fold line and outward direction on the blank."""

    origin: Point
    along: Point
    out: Point
    length: float

    def place(self, s: float, u: float) -> Point:
        """Point on the blank."""
        return (
            self.origin[0] + s * self.along[0] + u * self.out[0],
            self.origin[1] + s * self.along[1] + u * self.out[1],
        )

    def local(self, p: Point) -> Point:
        """(s, u) of a point."""
        x, y = p[0] - self.origin[0], p[1] - self.origin[1]
        return x * self.along[0] + y * self.along[1], x * self.out[0] + y * self.out[1]

    @property
    def direction(self) -> float:
        """Outward direction seen from the face, degrees 0..360."""
        return math.degrees(math.atan2(self.out[1], self.out[0])) % 360


def frame_of(fold: Fold) -> FoldFrame:
    """Frame of a flat piece's fold; outward is the flap's side."""
    (x0, y0), (x1, y1) = fold.line
    length = math.hypot(x1 - x0, y1 - y0)
    along = ((x1 - x0) / length, (y1 - y0) / length)
    out = (along[1], -along[0])
    if fold.flap:
        # first moment about the line, so that a flap of any shape gives the right side
        side = shapely.centroid(Polygon(fold.flap))
        if (side.x - x0) * out[0] + (side.y - y0) * out[1] < 0:
            out = (-out[0], -out[1])
    return FoldFrame((x0, y0), along, out, length)


def _solid(shape: BaseGeometry) -> BaseGeometry:
    """The shape without stray lines and points."""
    parts = [g for g in shapely.get_parts(shapely.get_parts(shape)) if g.geom_type == "Polygon" and g.area > 0]
    return shapely.MultiPolygon(parts) if len(parts) != 1 else parts[0]


def overlap(a: BaseGeometry, b: BaseGeometry) -> BaseGeometry:
    """Common area, safe for shapes that share a border."""
    return _solid(shapely.intersection(a, b, grid_size=GRID))


def meets(a: BaseGeometry, b: BaseGeometry) -> BaseGeometry | None:
    """Common area of two shapes, or None when it is only a sliver."""
    common = overlap(a, b)
    return None if common.is_empty or common.buffer(-SLIVER).is_empty else common


def flap_footprint(fold: Fold, frame: FoldFrame, turned: float, *, wall: bool = True) -> BaseGeometry:
    """Plan footprint of the flap turned so far; with `wall` a standing one has at least the thickness of a wall."""
    flap = [frame.local(p) for p in fold.flap] or [
        (0.0, 0.0),
        (frame.length, 0.0),
        (frame.length, fold.width),
        (0.0, fold.width),
    ]
    scale = math.cos(math.radians(turned))
    moved = _solid(Polygon([frame.place(s, u * scale) for s, u in flap]).buffer(0))
    if turned >= 180 or not wall:
        return moved
    upright = Polygon([frame.place(s, u) for s, u in _box(0, frame.length, -WALL, 0)])
    return _solid(shapely.union(moved, upright, grid_size=GRID))


def strip(frame: FoldFrame, depth: float, start: float, stop: float) -> Polygon:
    """Press strip from s = start to stop, `depth` inside the line."""
    return Polygon([frame.place(s, u) for s, u in _box(start, stop, -depth, 0)])


def stretch(frame: FoldFrame, area: BaseGeometry) -> float:
    """Length along the fold that an area takes up."""
    if area.is_empty:
        return 0.0
    parts = shapely.get_coordinates(area)
    s = [frame.local((float(x), float(y)))[0] for x, y in parts]
    return max(0.0, min(max(s), frame.length) - max(min(s), 0.0))


def _box(s0: float, s1: float, u0: float, u1: float) -> list[Point]:
    return [(s0, u0), (s1, u0), (s1, u1), (s0, u1)]
