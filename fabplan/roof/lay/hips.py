"""Hips: whether two lattices meet along one, and top angles at which cut shapes repeat."""

from __future__ import annotations

import math
from dataclasses import dataclass

from fabplan.errors import PlanError
from fabplan.job.model import Job
from fabplan.roof.model import Hip, SlopeEdge, SlopeLayout
from fabplan.roof.remarks import HipsMeet
from fabplan.roof.words import size
from fabplan.units import inches


@dataclass(frozen=True, slots=True, kw_only=True)
class Meeting:
    """How far two lattices miss each other along a hip: along the course, and in plumb height (inches, largest)."""

    side: float
    plumb: float


def _hip_edge(layout: SlopeLayout, right: bool) -> SlopeEdge | None:
    edges = [e for e in layout.slope.edges if e.kind == "hip"]
    if not edges:
        return None
    return max(edges, key=lambda e: (e.start[0] + e.end[0]) * (1 if right else -1))


def _at(edge: SlopeEdge, y: float) -> float:
    (x0, y0), (x1, y1) = edge.start, edge.end
    return x0 + (x1 - x0) * (y - y0) / (y1 - y0)


def meeting(left: SlopeLayout, right: SlopeLayout) -> Meeting | None:
    """Mismatch of two slopes that meet in a hip: the right hip of `left`, the left hip of `right`.

    Wrapped pieces need, at every course line, the same plumb height and the same distance to the nearest column.
    """
    a, b = _hip_edge(left, True), _hip_edge(right, False)
    if a is None or b is None or left.slope.pitch is None or right.slope.pitch is None:
        return None
    sin_a, sin_b = (math.sin(math.radians(s.slope.pitch or 0)) for s in (left, right))
    tops = [max(e.start[1], e.end[1]) for e in (a, b)]
    side = plumb = 0.0
    k = 1
    while True:
        ya, yb = left.base + k * left.course, right.base + k * right.course
        if ya > tops[0] or yb > tops[1]:
            break
        shift_a, shift_b = _shift(left, k), _shift(right, k)
        off_a = _at(a, ya) - (left.centre_x + shift_a * left.spacing)
        off_b = (right.centre_x + shift_b * right.spacing) - _at(b, yb)
        off = (off_a - off_b) % left.spacing
        side = max(side, min(off, left.spacing - off))
        plumb = max(plumb, abs(k * (left.course * sin_a - right.course * sin_b)))
        k += 1
    return Meeting(side=side, plumb=plumb)


def _shift(layout: SlopeLayout, course: int) -> float:
    half = ((course + 1) % 2) / 2
    return half if layout.alignment == "point" else (half + 0.5) % 1.0


def refuse_wraps(layouts: tuple[SlopeLayout, ...], hips: tuple[Hip, ...], job: Job) -> list[HipsMeet]:
    """Notes on wrapped hips.

    Raises
    ------
    PlanError
        Hips asked to be wrapped where the lattices of the two slopes do not meet.
    """
    if job.roof.hips != "wrapped":
        return []
    by_name = {s.slope.name: s for s in layouts}
    spires = {s.name for s in job.slopes if s.shape in ("regular-spire", "irregular-spire")}
    hipped = [s.slope for s in layouts if any(e.kind == "hip" for e in s.slope.edges)]
    loose = [slope.name for slope in hipped if slope.entry not in spires]
    if loose:
        raise PlanError(
            f"Slope {loose[0]} has a hip, and what meets it there is not known, so it can not be wrapped.",
            help_='Write hips = "capped", or give the slopes together as a spire.',
        )
    limit, units = inches(job.roof.wrap_mismatch), job.info.units
    notes: list[HipsMeet] = []
    seen = set()
    for hip in hips:
        pair = (hip.slope_left, hip.slope_right)
        if pair in seen:
            continue
        seen.add(pair)
        met = meeting(by_name[pair[0]], by_name[pair[1]])
        if met is None:
            continue
        if max(met.side, met.plumb) > limit:
            raise PlanError(
                f"{hip.name} can not be wrapped: along a course the two slopes miss each other by "
                f"{size(met.side, units)}, and their course lines drift {size(met.plumb, units)} apart; at most "
                f"{size(limit, units)} is allowed.",
                help_='Write hips = "capped".',
            )
        notes.append(HipsMeet(hip=hip.name, within=max(met.side, met.plumb)))
    return notes


def repeating_angles(base_angle: float, low: float = 60.0, high: float = 120.0) -> tuple[tuple[int, float], ...]:
    """Top angles at which the cuts along a hip repeat, as (every so many courses, degrees).

    A hip at `base_angle` to the eave crosses half a spacing every j courses when tan(top angle / 2) = j / tan(base
    angle). Only odd j is a step of the lattice, so only those repeat every j courses.
    """
    steep = math.tan(math.radians(base_angle))
    if steep <= 0 or base_angle >= 90:
        return ()
    out = []
    for j in range(1, 200, 2):
        angle = math.degrees(2 * math.atan(j / steep))
        if low <= angle <= high:
            out.append((j, angle))
    return tuple(out)
