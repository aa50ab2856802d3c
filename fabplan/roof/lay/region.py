"""The part of a slope that metal covers: each edge moved by its own reach, less openings, less what a cap covers."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import shapely

from fabplan.errors import PlanError
from fabplan.roof.clip import GRID, difference, intersection
from fabplan.roof.model import Measured, Point, SlopeEdge

_FAR = 1e5  # inches
_PARALLEL = 1e-9
_LEAST_LEFT = 1e-6  # inches of an edge: with less the half planes are cut one by one


def half_plane(start: Point, end: Point, outward: float) -> shapely.Polygon:
    """Everything on the left of an edge moved outward (to its right), as a very large rectangle."""
    length = math.dist(start, end)
    ux, uy = (end[0] - start[0]) / length, (end[1] - start[1]) / length
    ax, ay = start[0] + uy * outward, start[1] - ux * outward
    return shapely.Polygon(
        [
            (ax - ux * _FAR, ay - uy * _FAR),
            (ax + ux * _FAR, ay + uy * _FAR),
            (ax + (ux - uy) * _FAR, ay + (uy + ux) * _FAR),
            (ax - (ux + uy) * _FAR, ay - (uy - ux) * _FAR),
        ]
    )


def _convex(edges: Sequence[SlopeEdge]) -> bool:
    n = len(edges)
    for i in range(n):
        a, b = edges[i], edges[(i + 1) % n]
        ax, ay = a.end[0] - a.start[0], a.end[1] - a.start[1]
        bx, by = b.end[0] - b.start[0], b.end[1] - b.start[1]
        if ax * by - ay * bx < -_PARALLEL * a.length * b.length:
            return False
    return True


def moved_corners(edges: Sequence[SlopeEdge], outward: Sequence[float]) -> list[Point]:
    """Corner points after moving every edge of a ring to its right; neighbours meet again in a mitre."""
    n, out = len(edges), []
    for i in range(n):
        a, b, da, db = edges[i - 1], edges[i], outward[i - 1], outward[i]
        ua = ((a.end[0] - a.start[0]) / a.length, (a.end[1] - a.start[1]) / a.length)
        ub = ((b.end[0] - b.start[0]) / b.length, (b.end[1] - b.start[1]) / b.length)
        x, y = b.start
        cross = ua[0] * ub[1] - ua[1] * ub[0]
        if abs(cross) < _PARALLEL:
            out.append((x + ua[1] * da, y - ua[0] * da))
            if da != db:
                out.append((x + ub[1] * db, y - ub[0] * db))
            continue
        # the corner moves by m with m . right(a) = da and m . right(b) = db
        ra, rb = (ua[1], -ua[0]), (ub[1], -ub[0])
        det = ra[0] * rb[1] - ra[1] * rb[0]
        out.append((x + (da * rb[1] - db * ra[1]) / det, y + (ra[0] * db - rb[0] * da) / det))
    return out


def moved(edges: Sequence[SlopeEdge], outward: Sequence[float]) -> Any:
    """The ring with every edge moved outward by its own amount; empty when nothing is left."""
    if _convex(edges):
        quick = _mitred(edges, outward)
        if quick is not None:
            return quick
        shape: Any = half_plane(edges[0].start, edges[0].end, outward[0])
        for edge, by in zip(edges[1:], outward[1:], strict=True):
            shape = intersection(shape, half_plane(edge.start, edge.end, by))
        return shape
    ring = shapely.Polygon(moved_corners(edges, outward))
    if not ring.is_valid or ring.exterior.is_ccw != shapely.Polygon([e.start for e in edges]).exterior.is_ccw:
        raise PlanError(
            "The metal stops so far short of an edge, or runs so far past it, that the slope's outline crosses itself.",
            help_="Give that edge a smaller stop_short or run_past.",
        )
    return ring


def _mitred(edges: Sequence[SlopeEdge], outward: Sequence[float]) -> Any:
    """A convex ring with its edges moved, where each of them is left with some of its length; else None."""
    corners = moved_corners(edges, outward)
    if len(corners) != len(edges):
        return None
    for edge, (x0, y0), (x1, y1) in zip(edges, corners, [*corners[1:], corners[0]], strict=True):
        along = (x1 - x0) * (edge.end[0] - edge.start[0]) + (y1 - y0) * (edge.end[1] - edge.start[1])
        if along <= _LEAST_LEFT * edge.length:
            return None
    return shapely.set_precision(shapely.Polygon(corners), GRID)


def net_region(slope: Measured, top: float | None = None, *, folds: bool = False, past_eaves: float = 0.0) -> Any:
    """Area covered by visible metal, or with `folds` by all metal of cut pieces.

    Parameters
    ----------
    slope : Measured
    top : float, optional
        Level above which a cap covers everything.
    folds : bool
        Add the metal a cut piece keeps for folds beyond each edge.
    past_eaves : float
        Further metal past the eaves: a piece that keeps its bottom tip there keeps its own hems too.

    Raises
    ------
    PlanError
        When nothing is left to cover.
    """
    outward = [e.reach + (e.fold if folds else 0.0) + (past_eaves if e.kind == "eave" else 0.0) for e in slope.edges]
    shape = moved(slope.edges, outward)
    if top is not None:
        fold = max((e.fold for e in slope.edges if e.kind != "eave"), default=0.0) if folds else 0.0
        shape = intersection(shape, half_plane((1.0, top + fold), (0.0, top + fold), 0.0))
    past = 1.0 + max(abs(e.reach) + e.fold for e in slope.edges)
    for hole in slope.holes:
        # a hole's edges run clockwise, so its right side is the hole: metal reaching in makes it smaller
        ring = tuple(SlopeEdge(name="", kind=e.kind, start=e.end, end=e.start) for e in reversed(hole.edges))
        into = [e.reach + (e.fold if folds else 0.0) for e in reversed(hole.edges)]
        out = [past * 4 if e.kind == "open" else -by for e, by in zip(ring, into, strict=True)]
        void = moved(ring, out)
        if not void.is_empty:
            shape = difference(shape, void)
    if shape.is_empty or shape.area <= 1e-6:
        raise PlanError(
            f"Nothing is left to cover on slope {slope.name}: its edges and caps take all of it.",
            help_="Give smaller cap legs, stop_short or apex_width, or flash it in one piece.",
        )
    return shape


def polygons(shape: Any) -> list[shapely.Polygon]:
    """Polygon parts of any geometry, largest first; lines and points left by an overlay are dropped."""
    if isinstance(shape, shapely.Polygon):
        return [shape] if shape.area > 0 else []
    parts = [p for p in shapely.get_parts(shape) if p.geom_type == "Polygon" and p.area > 0]
    return sorted(parts, key=lambda p: -p.area)


def ring_points(ring: shapely.LinearRing) -> tuple[Point, ...]:
    """Corner points of a ring without the closing one."""
    return tuple((x, y) for x, y in shapely.get_coordinates(ring)[:-1].tolist())
