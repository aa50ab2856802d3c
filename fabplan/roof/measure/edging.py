"""Edges of a slope: their kind, how far the metal reaches past them; openings and their edges."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import shapely

from fabplan import plane
from fabplan.errors import JobError
from fabplan.job.model import Job
from fabplan.job.slopes import Slope
from fabplan.roof.clip import intersection
from fabplan.roof.model import Hole, Measured, Point, SlopeEdge
from fabplan.units import inches

_SIDE_KIND = {
    "rectangle": "rake",
    "triangle": "hip",
    "trapezoid": "hip",
    "four-sided": "hip",
    "polygon": "rake",
    "gable": "rake",
    "ell": "rake",
    "regular-spire": "hip",
    "irregular-spire": "hip",
}
_WITHIN = 30.0  # degrees from straight down or up that still make an eave or a ridge
_ON = 1e-6  # inches: a point on an edge


def facing(start: Point, end: Point) -> float:
    """Degrees between the outward normal of a counter-clockwise edge and straight down."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    return math.degrees(math.acos(max(-1.0, min(1.0, dx / math.hypot(dx, dy)))))


def edge_slope(
    entry: Slope, job: Job, points: Sequence[Point], names: Sequence[str], eave_fold: float
) -> tuple[SlopeEdge, ...]:
    """Edges of an outline with kind, reach and fold.

    Raises
    ------
    JobError
        Edge names the shape does not have, an outline that crosses itself or has an edge of no length.
    """
    where = f'slope "{entry.name}"'
    outline = shapely.Polygon(points)
    n = len(points)
    if not outline.is_valid or outline.area <= 1e-9:
        raise JobError("the outline crosses itself or encloses nothing", file=job.file, key=where)
    if any(math.dist(points[i], points[(i + 1) % n]) < _ON for i in range(n)):
        raise JobError("two corner points of the outline fall together", file=job.file, key=where)
    numbers = {str(i + 1): name for i, name in enumerate(names)}
    for key in ("edges", "run_past", "stop_short"):
        for name in getattr(entry, key):
            if name not in names and name not in numbers:
                raise JobError(
                    "there is no such edge",
                    file=job.file,
                    key=f"{where} > {key}",
                    value=name,
                    write="one of "
                    + ", ".join(dict.fromkeys(names))
                    + (" or a number" if names[0] == "bottom" else ""),
                )
    out = []
    for i, name in enumerate(names):
        start, end = points[i], points[(i + 1) % n]
        off = facing(start, end)
        kind = "eave" if off <= _WITHIN else "ridge" if off >= 180 - _WITHIN else _SIDE_KIND[entry.shape]
        keys = (name, str(i + 1)) if names[0] == "bottom" else (name,)
        for key in keys:
            kind = entry.edges.get(key, kind)
        reach = default_reach(kind, job)
        for key in keys:
            if key in entry.run_past:
                reach = inches(entry.run_past[key])
            if key in entry.stop_short:
                reach = -inches(entry.stop_short[key])
        fold = (
            eave_fold
            if kind == "eave"
            else inches(job.roof.rake_fold if kind in ("rake", "ridge") else job.roof.cut_edge_fold)
        )
        out.append(SlopeEdge(name=name, kind=kind, start=start, end=end, reach=reach, fold=fold))
    return tuple(out)


def default_reach(kind: str, job: Job) -> float:
    """How far visible metal goes past an edge of this kind (inches; negative: stops short)."""
    roof = job.roof
    if kind == "hip" and roof.hips == "wrapped":
        return inches(roof.wrap)
    if kind in ("hip", "ridge"):
        return -inches(roof.cap_leg - roof.underlap)
    if kind == "valley":
        return -inches(roof.valley_short)
    return 0.0


def open_slope(slope: Measured, entry: Slope, job: Job, face: int) -> Measured:
    """Add the openings that lie on this slope.

    Raises
    ------
    JobError
        An opening that crosses itself, misses the slope or leaves nothing of it.
    """
    spire = entry.shape in ("regular-spire", "irregular-spire")
    outline = shapely.Polygon(slope.outline)
    holes: list[Hole] = []
    for number, opening in enumerate(entry.openings, start=1):
        if spire and opening.slope != face:
            continue
        name = opening.name or f"opening {number}"
        key = f'slope "{entry.name}" > opening "{name}"'
        if opening.points is not None:
            ring: list[Point] = [(inches(x), inches(y)) for x, y in opening.points]
        else:
            x, y = inches(opening.from_left or 0), inches(opening.up or 0)
            w, h = inches(opening.width or 0), inches(opening.height or 0)
            ring = [(x, y), (x + w, y), (x + w, y + h), (x, y + h)]
        hole = shapely.Polygon(ring)
        if not hole.is_valid or hole.area <= 1e-9:
            raise JobError("the opening crosses itself or encloses nothing", file=job.file, key=key)
        cut = intersection(hole, outline)
        if cut.area <= 1e-9:
            raise JobError("the opening lies outside the slope", file=job.file, key=key)
        if outline.area - cut.area <= 1e-6:
            raise JobError("the opening leaves nothing of the slope", file=job.file, key=key)
        if cut.geom_type != "Polygon":
            raise JobError("the opening meets the slope in several places; give each by itself", file=job.file, key=key)
        if any(cut.intersection(shapely.Polygon(h.outline)).area > 1e-9 for h in holes):
            raise JobError("the opening overlaps another one", file=job.file, key=key)
        if hole.area - cut.area <= 1e-9:
            cut = hole
        holes.append(
            _hole(name, cut, outline, inches(opening.run_past - opening.stop_short), inches(job.roof.cut_edge_fold))
        )
    return replace(slope, holes=tuple(holes))


def _hole(name: str, polygon: Any, outline: shapely.Polygon, reach: float, fold: float) -> Hole:
    ring: list[Point] = [(float(x), float(y)) for x, y in list(polygon.exterior.coords)[:-1]]
    if plane.area(tuple(ring)) > 0:
        ring.reverse()
    border = outline.exterior
    edges = []
    for i, start in enumerate(ring):
        end = ring[(i + 1) % len(ring)]
        middle = shapely.Point((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
        off = facing(start, end)
        # seen from the metal: below the opening its edge looks up, above it down
        kind = "head" if off <= _WITHIN else "sill" if off >= 180 - _WITHIN else "jamb"
        if border.distance(middle) < _ON and border.distance(shapely.Point(start)) < _ON:
            kind = "open"  # lies on the slope's own edge: nothing to finish there
        edges.append(
            SlopeEdge(
                name=f"{name} {kind}",
                kind=kind,
                start=start,
                end=end,
                reach=0.0 if kind == "open" else reach,
                fold=0.0 if kind == "open" else fold,
            )
        )
    return Hole(name=name, edges=tuple(edges))
