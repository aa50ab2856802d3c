"""What lies wholly under a hip, ridge or apex cap: counted apart, and left out where the crew may."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import shapely

from fabplan.errors import PlanError
from fabplan.job.slopes import Roof
from fabplan.roof.clip import common_areas
from fabplan.roof.lay.region import net_region
from fabplan.roof.model import LaidPiece, Measured, Sliver, SlopeEdge
from fabplan.units import inches

_NOTHING = 1e-6  # square inches


def capped(kind: str, roof: Roof) -> bool:
    """Whether a cap covers an edge of this kind."""
    return kind == "ridge" or (kind == "hip" and roof.hips == "capped")


def uncapped(slope: Measured, roof: Roof, top: float | None, under: float) -> Any:
    """The net region less what lies within `cap_leg - under` of a capped edge, and less the same of the apex cap.

    With `under` = 0 what is left shows past the caps; with the least underlap it is what must stay covered.
    """
    limit = -(inches(roof.cap_leg) - under)

    def short(e: SlopeEdge) -> SlopeEdge:
        return replace(e, reach=min(e.reach, limit)) if capped(e.kind, roof) else e

    edges = tuple(short(e) for e in slope.edges)
    level = None if top is None else top - inches(roof.underlap) + under
    try:
        return net_region(replace(slope, edges=edges), level)
    except PlanError:
        return shapely.Polygon()


def outside(shapes: Any, shown: Any) -> list[bool]:
    """Which shapes have nothing in common with what shows."""
    if not len(shapes):
        return []
    if shown.is_empty:
        return [True] * len(shapes)
    return [float(a) < _NOTHING for a in common_areas(np.array(shapes), shown)]


def leave_out(
    pieces: Sequence[LaidPiece], may: Sequence[bool], roof: Roof, cell: float
) -> tuple[set[int], list[Sliver]]:
    """Places of the pieces to leave out of those that `may` be, and what is left out, from the top down.

    A piece stays where its own top tip is fastened, and where the lock of a piece that stays above would open.
    """
    gone: set[int] = set()
    out: list[Sliver] = []
    rings = {n: shapely.Polygon(p.visible, p.inner) for n, p in enumerate(pieces)}
    for n in sorted(range(len(pieces)), key=lambda n: -pieces[n].course):
        p = pieces[n]
        if not may[n] or "T" not in p.lost:
            continue
        above = [m for m, q in enumerate(pieces) if q.course == p.course + 1 and m not in gone]
        if any(shared(rings[n], rings[m]) > inches(roof.sliver) for m in above):
            continue
        gone.add(n)
        out.append(Sliver(course=p.course, column=p.column, area=p.share * cell, visible=p.visible, why="under a cap"))
    return gone, out


def shared(one: shapely.Polygon, other: shapely.Polygon) -> float:
    """Length of the border two pieces have in common."""
    if not shapely.intersects(one, other):
        return 0.0
    near = shapely.intersection(one.exterior, shapely.buffer(other, 1e-6))
    return float(near.length)
