"""Place the lattice on a slope: level or along the eave, courses closed up, apex cap, and lay it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from fabplan.blanks.model import Lattice
from fabplan.errors import JobError
from fabplan.job.model import Job, Laid
from fabplan.job.slopes import Slope
from fabplan.roof.count import count_courses
from fabplan.roof.lay.courses import close_up, course_lines, first_marks
from fabplan.roof.lay.lattice import Alignment
from fabplan.roof.lay.layout import centre_line, lay, turn
from fabplan.roof.lay.region import net_region, polygons, ring_points
from fabplan.roof.model import Measured, SlopeLayout
from fabplan.roof.remarks import ApexCap, EaveDrop, EvenCourses, HeldCourses, NoApexCap, NoLevelRidge, SlopeNote
from fabplan.roof.words import size
from fabplan.units import NM_PER_INCH, NM_PER_MM, inches

FOLLOW_BELOW = 0.5  # inches of eave drop: less is followed, more is laid level
LEVEL = 1 / 16  # inches: a ridge that leans no more is level


@dataclass(frozen=True, slots=True, kw_only=True)
class Cap:
    """An apex cap: `end` = level where the pieces end (a course line), `edge` = its lower edge, both as y;
    `length` = from its lower edge to the point, along the slope."""

    end: float
    edge: float
    length: float


def mark_step(job: Job) -> int:
    """Nanometres course lines are rounded to."""
    if job.roof.mark_to is not None:
        return int(job.roof.mark_to)
    return NM_PER_INCH // 16 if job.info.units == "in" else NM_PER_MM


def levelled(slope: Measured, entry: Slope, job: Job) -> tuple[Measured, float, float, list[SlopeNote]]:
    """The slope turned as its eave asks, degrees turned, level of the base line, notes."""
    first = slope.edges[0]
    drop = inches(entry.eave_drop)
    if drop >= first.length:
        raise JobError(
            "must be less than the eave's length",
            file=job.file,
            key=f'slope "{entry.name}" > eave_drop',
            value=size(drop, job.info.units),
        )
    how = job.roof.eave
    if drop == 0 or how == "follow" or (how == "auto" and drop < FOLLOW_BELOW):
        notes: list[SlopeNote] = [EaveDrop(drop=drop, low_end=entry.low_end, level=None)] if drop else []
        return slope, 0.0, first.start[1] - first.reach, notes
    degrees = math.degrees(math.asin(drop / first.length)) * (-1 if entry.low_end == "right" else 1)
    turned = turn(slope, degrees)
    first = turned.edges[0]
    ends = (first.start[1], first.end[1])
    level = {"low": min(ends), "high": max(ends), "middle": sum(ends) / 2}[job.roof.level_from]
    note = EaveDrop(drop=drop, low_end=entry.low_end, level=job.roof.level_from)
    return turned, degrees, level - first.reach, [note]


def apex_cap(slope: Measured, lattice: Lattice, job: Job, base: float) -> tuple[Cap | None, list[SlopeNote]]:
    """Cap over the point where two hips meet, its end snapped down to a course line.

    The pieces end on a course line with plain ridge halves; the cap laps them by the underlap. Its lower edge lies
    where the slope is at least the cap width wide.
    """
    roof = job.roof
    points = slope.outline
    highest = max(p[1] for p in points)
    tops = [i for i, p in enumerate(points) if p[1] > highest - 1e-6]
    if not roof.apex_cap or len(tops) != 1:
        return None, []
    left, right = slope.edges[tops[0]], slope.edges[tops[0] - 1]
    if left.kind != "hip" or right.kind != "hip":
        return None, []
    rate = 0.0
    for edge, sign in ((right, 1), (left, -1)):
        dx, dy = edge.end[0] - edge.start[0], edge.end[1] - edge.start[1]
        if abs(dy) < 1e-9:
            return None, []
        rate -= sign * dx / dy
    if rate <= 0:
        return None, []
    wide = max(lattice.spacing, 6.0) if roof.apex_width is None else inches(roof.apex_width)
    underlap = inches(roof.underlap)

    def cap_at(width: float) -> Cap | None:
        level = highest - width / rate
        course = math.floor((level + underlap - base) / lattice.course + 1e-9)
        if course < 1:
            return None
        end = base + course * lattice.course
        return Cap(end=end, edge=end - underlap, length=highest - end + underlap)

    cap = cap_at(wide)
    if cap is None:
        return None, [NoApexCap(slope=slope.name, width=wide)]
    line = round((cap.end - base) / lattice.course)
    narrow = cap_at(6.0) if roof.apex_width is None and wide > 6.0 else None
    shorter = narrow.length if narrow is not None and narrow.length < cap.length else None
    return cap, [ApexCap(slope=slope.name, length=cap.length, line=line, narrow=shorter)]


def place(slope: Measured, entry: Slope, lattice: Lattice, job: Job, alignment: Alignment) -> SlopeLayout:
    """One slope laid out with its counts and lines.

    Raises
    ------
    JobError, PlanError
        Sizes that do not fit together, or nothing left to cover.
    """
    roof = job.roof
    turned, degrees, base, notes = levelled(slope, entry, job)
    held = job.held(slope.name)
    if held is not None:
        base, alignment = inches(held.base), held.centre
        notes.append(HeldCourses(slope=slope.name, courses=held.courses))
    cap, cap_notes = apex_cap(turned, lattice, job, base)
    notes += cap_notes
    course = lattice.course
    ridge = _level_ridge(turned)
    if held is not None:
        course, ridge = _held_course(held, lattice, job), None
    if ridge is not None and ridge - base > 0:
        closing = close_up(ridge - base, lattice, inches(roof.least_hook))
        if closing.closed > 1e-6:
            done = closing.allowed and roof.even_courses
            if done:
                course = closing.course
            notes.append(
                EvenCourses(
                    slope=slope.name,
                    courses=closing.courses,
                    closed=closing.closed,
                    hooked=closing.hooked,
                    how="done" if done else "offered" if closing.allowed else "refused",
                )
            )
    elif roof.even_courses and ridge is None and cap is None and held is None:
        notes.append(NoLevelRidge(slope=slope.name))
    laid = lay(
        turned,
        lattice,
        roof,
        alignment=alignment,
        centre_x=centre_line(turned, float(roof.centre_at)) if held is None else inches(held.from_left),
        base=base,
        course=course,
        top=None if cap is None else cap.end,
    )
    grid, step = laid.grid, mark_step(job)
    last = max((p.course for p in laid.pieces), default=0)
    top_level = laid.region.bounds[3]
    last = min(last, math.floor((top_level - base) / grid.course + 1e-9))
    parts = polygons(laid.region)
    eave = turned.edges[0]
    return SlopeLayout(
        slope=turned,
        turned=degrees,
        alignment=alignment,
        centre_x=grid.centre_x,
        base=base,
        spacing=grid.spacing,
        course=grid.course,
        laid=None if held is None else held.courses,
        full_course=lattice.course,
        exposed=lattice.exposed,
        top_angle=lattice.top_angle,
        lap=lattice.lap,
        cap_line=None if cap is None else cap.edge,
        region=tuple(ring_points(p.exterior) for p in parts),
        voids=tuple(ring_points(r) for p in parts for r in p.interiors),
        pieces=laid.pieces,
        slivers=laid.slivers,
        courses=count_courses(laid.pieces, grid.spacing * grid.course),
        mark_step=step,
        lines=course_lines(grid, lattice, 0, max(last, 0), step),
        first_marks=first_marks(grid, min(eave.start[0], eave.end[0]), max(eave.start[0], eave.end[0]), step),
        notes=tuple(notes),
    )


def _held_course(held: Laid, lattice: Lattice, job: Job) -> float:
    """The course a slope is laid with; the diamond must reach it, and hook."""
    course, units = inches(held.course), job.info.units
    hooked = lattice.hooked - (lattice.course - course) * math.sin(math.radians(lattice.top_angle) / 2)
    if course > lattice.course + 1e-5 or hooked < inches(job.roof.least_hook) - 1e-5:
        raise JobError(
            f"this diamond is laid in courses of {size(lattice.course, units)}, or closed up as far as its locks hook",
            file=job.file,
            key=f'laid "{held.slope}" > course',
            value=size(course, units),
            write="the courses as they were laid, with the diamond they were laid with",
        )
    return min(course, lattice.course)


def _level_ridge(slope: Measured) -> float | None:
    """Level at which the metal ends under a level ridge that tops the slope, or None."""
    highest = max(p[1] for p in slope.outline)
    for e in slope.edges:
        level = abs(e.start[1] - e.end[1]) <= LEVEL
        if (
            e.kind in ("ridge", "wall")
            and level
            and max(e.start[1], e.end[1]) > highest - LEVEL
            and e.start[0] > e.end[0]
        ):
            level_at = (e.start[1] + e.end[1]) / 2 + e.reach
            # caps on both sides of a short ridge can leave no metal up there
            return level_at if net_region(slope).bounds[3] >= level_at - LEVEL else None
    return None
