"""Cut shapes nearly alike under a cap are made one at the bench, sized up so that it holds them all."""

from __future__ import annotations

from dataclasses import dataclass, field

import shapely

from fabplan.job.model import Job
from fabplan.roof.model import LaidPiece, Polygon, SlopeEdge, SlopeLayout
from fabplan.roof.parts.pairing import NEAR, SAME
from fabplan.units import NM_PER_INCH, NM_PER_MM, inches

_ON = 1e-4  # inches: a corner on an edge


def alike_within(job: Job) -> float:
    """How far shapes under a cap may differ to be made one, inches: as asked, or 1/2 in, 12 mm."""
    if job.roof.alike_within is not None:
        return inches(job.roof.alike_within)
    return 12 * NM_PER_MM / NM_PER_INCH if job.info.units == "mm" else 0.5


def room_under_cap(piece: LaidPiece, layout: SlopeLayout, most: float) -> float:
    """How much larger a cut piece may be made without showing or passing its hip or ridge line, inches.

    0 unless every edge it is cut along lies under a cap.
    """
    room = most
    edges = [*layout.slope.edges, *(e for h in layout.slope.holes for e in h.edges if e.kind != "open")]
    for e in edges:
        if not _touches(piece, e):
            continue
        if e.kind not in ("hip", "ridge") or e.reach >= 0:
            return 0.0
        room = min(room, -(e.reach + e.fold))
    return max(0.0, room)


def _touches(piece: LaidPiece, e: SlopeEdge) -> bool:
    """Whether a side of the piece runs along the edge as the metal reaches it."""
    dx, dy = (e.end[0] - e.start[0]) / e.length, (e.end[1] - e.start[1]) / e.length
    on = [
        p
        for ring in (piece.visible, *piece.inner)
        for p in ring
        if abs((p[0] - e.start[0]) * dy - (p[1] - e.start[1]) * dx - e.reach) < _ON
    ]
    along = [p[0] * dx + p[1] * dy for p in on]
    return len(on) > 1 and max(along) - min(along) > _ON


@dataclass(slots=True)
class _LikeShape:
    """One shape: what it is now, the different ones it holds, and how far it may be off the smallest."""

    now: shapely.Polygon
    holds: list[shapely.Polygon]
    room: float


@dataclass(slots=True)
class NumberedShapes:
    """Gives cut shapes of one mark their numbers from 0, mirrored ones with a flag; grows a shape to hold its like."""

    shapes: list[_LikeShape] = field(default_factory=list)
    known: dict[tuple[tuple[int, int], ...], tuple[int, bool]] = field(default_factory=dict)

    def number(self, metal: Polygon, room: float = 0.0) -> tuple[int, bool]:
        """Index of the shape and whether the piece is its mirror image.

        Parameters
        ----------
        metal : polygon
        room : float
            How much larger this piece may be made, inches; shapes within 1/32 in are one anyhow.
        """
        key = tuple((round(x * 4096), round(y * 4096)) for x, y in metal)
        if key not in self.known:
            self.known[key] = self._find(metal, room)
        return self.known[key]

    def metal(self, index: int) -> Polygon:
        """The shape as it is made: it holds every piece that has its number."""
        ring = shapely.get_coordinates(shapely.orient_polygons(self.shapes[index].now).exterior)[:-1]
        return tuple((float(x), float(y)) for x, y in ring)

    def _find(self, metal: Polygon, room: float) -> tuple[int, bool]:
        plain = shapely.Polygon(metal)
        mirror = shapely.Polygon([(-x, y) for x, y in metal])
        best: tuple[float, int, bool, shapely.Polygon] | None = None
        for i, shape in enumerate(self.shapes):
            allowed = max(SAME, min(room, shape.room))
            if abs(shape.now.area - plain.area) > allowed * (shape.now.length + plain.length) / 2:
                continue
            for flag, one in ((False, plain), (True, mirror)):
                if shapely.hausdorff_distance(shape.now, one) > allowed:
                    continue
                grown = _both(shape.now, one) if allowed > SAME else shape.now
                off = max(float(shapely.hausdorff_distance(grown, held)) for held in (*shape.holds, one))
                if off <= allowed and (best is None or off < best[0] - NEAR):
                    best = off, i, flag, grown
        if best is None:
            self.shapes.append(_LikeShape(plain, [plain], room))
            return len(self.shapes) - 1, False
        _, i, flag, grown = best
        shape = self.shapes[i]
        shape.holds.append(mirror if flag else plain)
        shape.now, shape.room = grown, min(shape.room, room)
        return i, flag


def _both(one: shapely.Polygon, other: shapely.Polygon) -> shapely.Polygon:
    """The least outline that holds both; convex where both are."""
    points = [*shapely.get_coordinates(one), *shapely.get_coordinates(other)]
    hull = shapely.Polygon(shapely.get_coordinates(shapely.convex_hull(shapely.MultiPoint(points))))
    if all(shapely.convex_hull(p).area - p.area <= NEAR * p.area for p in (one, other)):
        return hull
    both = shapely.union(one, other)
    return shapely.Polygon(both.exterior) if isinstance(both, shapely.Polygon) else hull
