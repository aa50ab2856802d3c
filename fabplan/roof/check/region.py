"""Does the covered area follow from the edges, their reach, the openings and the cap?"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from fabplan.job.model import Job
from fabplan.roof.check.plane import CLOSE, Array, Flags, inside_ring, is_convex, line_through, ring_moved
from fabplan.roof.model import SlopeEdge, SlopeLayout
from fabplan.units import inches


def covered(
    layout: SlopeLayout,
    job: Job,
    points: Array,
    slack: float = 0.0,
    *,
    folds: bool = False,
    past_eaves: float = 0.0,
) -> Flags:
    """Which points visible metal should cover, worked out from the edges alone; `slack` widens the border.

    With `folds` also the metal cut pieces keep past the edges, and `past_eaves` past the eaves.
    """
    edges = layout.slope.edges

    def out(e: SlopeEdge) -> float:
        more = e.fold + (past_eaves if e.kind == "eave" else 0.0) if folds else 0.0
        return e.reach + slack + more

    if is_convex(edges):
        inside = np.ones(points.shape[:-1], dtype=bool)
        for e in edges:
            a, b, c = line_through(e, out(e))
            inside &= a * points[..., 0] + b * points[..., 1] <= c
    else:
        inside = inside_ring(points, ring_moved(edges, [out(e) for e in edges]))
    if layout.cap_line is not None:
        fold = max((e.fold for e in edges if e.kind != "eave"), default=0.0) if folds else 0.0
        inside &= points[..., 1] <= layout.cap_line + inches(job.roof.underlap) + slack + fold
    far = 10 + 10 * max(abs(e.reach) for e in edges)
    for hole in layout.slope.holes:
        moved = [-far if e.kind == "open" else out(e) for e in hole.edges]
        around = [SlopeEdge(name="", kind="", start=e.end, end=e.start) for e in hole.edges[::-1]]
        outward = [-m for m in moved[::-1]]
        if is_convex(around):
            void = np.ones(points.shape[:-1], dtype=bool)
            for e, by in zip(around, outward, strict=True):
                a, b, c = line_through(e, by)
                void &= a * points[..., 0] + b * points[..., 1] <= c
        else:
            void = inside_ring(points, ring_moved(around, outward))
        inside &= ~void
    return inside


def check_region(layout: SlopeLayout, job: Job) -> Iterator[str]:
    rings = list(layout.region)
    if not rings:
        yield "nothing is covered"
        return
    xs, ys = [p[0] for r in rings for p in r], [p[1] for r in rings for p in r]
    points = np.stack(
        np.meshgrid(np.linspace(min(xs) - 1.03, max(xs) + 1.07, 157), np.linspace(min(ys) - 1.01, max(ys) + 1.09, 163)),
        axis=-1,
    )
    ours = covered(layout, job, points)
    theirs = np.zeros(points.shape[:-1], dtype=bool)
    for ring in rings:
        theirs |= inside_ring(points, ring)
    for ring in layout.voids:
        theirs &= ~inside_ring(points, ring)
    off = int(np.count_nonzero(ours != theirs))
    if off:
        yield f"the covered area is not what the edges ask for ({off} of {points.shape[0] * points.shape[1]} samples)"
    for ring in (*rings, *layout.voids):
        for p in ring:
            at = np.array(p)
            if not bool(covered(layout, job, at, CLOSE * 10)) or bool(covered(layout, job, at, -CLOSE * 10)):
                yield f"corner ({p[0]:.3f}, {p[1]:.3f}) of the covered area does not lie on its border"
    yield from _cap(layout, job)


def _cap(layout: SlopeLayout, job: Job) -> Iterator[str]:
    if layout.cap_line is None:
        return
    if not job.roof.apex_cap:
        yield "an apex cap is planned, none is asked"
    end = layout.cap_line + inches(job.roof.underlap)
    course = (end - layout.base) / layout.course
    if abs(course - round(course)) > 1e-6 or round(course) < 1:
        yield "the pieces do not end on a course line below the apex cap"
    wide = inches(job.roof.apex_width) if job.roof.apex_width is not None else max(layout.spacing, 6.0)
    if _width(layout, layout.cap_line) < wide - 1e-4:
        yield f"the apex cap begins where the slope is only {_width(layout, layout.cap_line):.3f} in wide"
    if _width(layout, layout.cap_line + layout.course) >= wide + 1e-4:
        yield "the apex cap begins a course lower than it has to"


def _width(layout: SlopeLayout, y: float) -> float:
    xs = []
    for e in layout.slope.edges:
        (x0, y0), (x1, y1) = e.start, e.end
        if (y0 - y) * (y1 - y) <= 0 and y0 != y1:
            xs.append(x0 + (x1 - x0) * (y - y0) / (y1 - y0))
    return max(xs) - min(xs) if xs else 0.0
