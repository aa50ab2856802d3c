"""Are the pieces the ones the slopes need? Every lattice place is sampled with its own ray casting."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence

import numpy as np

from fabplan.check_plane import area, cross
from fabplan.job.model import Job
from fabplan.roof.check.plane import CLOSE, Array, inside_ring, is_convex, line_through, off_ring, to_ring
from fabplan.roof.check.region import covered
from fabplan.roof.model import LaidPiece, Point, Sliver, SlopeLayout
from fabplan.units import inches

COARSE, FINE = 12, 60
SHARE = 0.02  # of a piece, from 60 x 60 samples: a level cut takes or leaves a row of up to 60
BARE = 0.003  # of a piece, where the same samples are compared


def _centre(layout: SlopeLayout, course: int, column: int) -> Point:
    half = 0.5 if (course % 2 == 0) == (layout.alignment == "point") else 0.0
    return layout.centre_x + (column + half) * layout.spacing, layout.base + course * layout.course


def _grid(layout: SlopeLayout, n: int) -> Array:
    """n x n sample points of one rhombus about its middle, one in each of n x n small rhombi.

    Not in their middles: rows of points would fall on the level cuts at half a piece.
    """
    u, v = np.meshgrid((np.arange(n) + 0.53) / n - 0.5, (np.arange(n) + 0.41) / n - 0.5)
    return np.stack([(u - v) * layout.spacing / 2, (u + v) * layout.course], axis=-1).reshape(-1, 2)


def check_pieces(layout: SlopeLayout, job: Job) -> Iterator[str]:
    """Faults of the pieces of a slope: place in the lattice, what shows, kind, share, slivers."""
    here: dict[tuple[int, int], list[LaidPiece]] = defaultdict(list)
    thin: dict[tuple[int, int], float] = defaultdict(float)
    for p in layout.pieces:
        here[p.course, p.column].append(p)
        if math.dist(p.centre, _centre(layout, p.course, p.column)) > CLOSE:
            yield f"course {p.course}, column {p.column} is not at its place in the lattice"
    for s in layout.slivers:
        thin[s.course, s.column] += s.area / layout.cell
        yield from (f"course {s.course}, column {s.column}: {f}" for f in left_out(layout, job, s))
    for p in layout.pieces:
        hides = p.kind != "whole" and covered_by_caps(layout, job, p.visible, -0.01)
        one_cap = zip(*(_cap_depths(layout, job, q) for q in p.visible), strict=True)
        surely = hides and is_convex(layout.slope.edges) and any(min(depths) > CLOSE for depths in one_cap)
        if (p.under_cap and not hides) or (surely and not p.under_cap):
            yield f"course {p.course}, column {p.column} is {'not ' * p.under_cap}wholly under a cap"
    total = math.fsum(p.share for p in layout.pieces) * layout.cell + math.fsum(s.area for s in layout.slivers)
    if abs(total - layout.net_area) > 1e-6 + 1e-9 * layout.net_area:
        yield f"pieces and slivers cover {total:.6f} sq in, the covered area is {layout.net_area:.6f}"
    xs, ys = [p[0] for r in layout.region for p in r], [p[1] for r in layout.region for p in r]
    coarse, fine = _grid(layout, COARSE), _grid(layout, FINE)
    corners = np.array([(0, -layout.course), (layout.spacing / 2, 0), (0, layout.course), (-layout.spacing / 2, 0)])
    places, middles = [], []
    for k in range(
        math.floor((min(ys) - layout.base) / layout.course) - 2, math.ceil((max(ys) - layout.base) / layout.course) + 3
    ):
        low = math.floor((min(xs) - layout.centre_x) / layout.spacing) - 2
        high = math.ceil((max(xs) - layout.centre_x) / layout.spacing) + 2
        for i in range(low, high + 1):
            places.append((k, i))
            middles.append(_centre(layout, k, i))
    known = set(places)
    for place in {*here, *thin} - known:
        yield f"course {place[0]}, column {place[1]} lies off the slope"
    at = np.array(middles)
    first = covered(layout, job, at[:, None, :] + np.concatenate([coarse, corners * (1 - 1e-9)])[None, :, :])
    full, some = np.all(first, axis=1).tolist(), np.any(first, axis=1).tolist()
    for n, place in enumerate(places):
        mine = here.get(place, [])
        if full[n] and _clear(layout, middles[n]):
            if [p.kind for p in mine] != ["whole"] or abs(mine[0].share - 1) > 1e-6:
                yield f"course {place[0]}, column {place[1]}: one whole piece fits, the plan has {len(mine)} pieces"
            continue
        if not some[n] and not mine and not thin.get(place) and _far(layout, middles[n]):
            continue
        yield from _border(layout, job, place, middles[n], mine, thin.get(place, 0.0), fine)


def _cap_depths(layout: SlopeLayout, job: Job, point: Point) -> Iterator[float]:
    """How deep a point lies under each cap of the slope; negative: out in the weather."""
    leg = inches(job.roof.cap_leg)
    convex = is_convex(layout.slope.edges)
    for e in layout.slope.edges:
        if e.kind == "ridge" or (e.kind == "hip" and job.roof.hips == "capped"):
            a, b, c = line_through(e, -leg)
            along = (point[1] - e.start[1]) * a - (point[0] - e.start[0]) * b
            if convex or -leg <= along <= e.length + leg:  # a cap ends with its edge
                yield a * point[0] + b * point[1] - c
    if layout.cap_line is not None:
        yield point[1] - layout.cap_line


def covered_by_caps(layout: SlopeLayout, job: Job, ring: Sequence[Point], deep: float) -> bool:
    """Whether every part of an outline lies that deep under some cap: its corners, and points all over it."""
    xs, ys = [x for x, _ in ring], [y for _, y in ring]
    u, v = np.meshgrid(np.linspace(min(xs), max(xs), FINE // 4), np.linspace(min(ys), max(ys), FINE // 4))
    grid = np.stack([u, v], axis=-1).reshape(-1, 2)
    points = [*ring, *((float(x), float(y)) for x, y in grid[inside_ring(grid, ring)])]
    return all(max(_cap_depths(layout, job, p), default=-1.0) >= deep - CLOSE for p in points)


def left_out(layout: SlopeLayout, job: Job, s: Sliver) -> Iterator[str]:
    """Faults of a part that is not laid: bare, or a lock or a fastening of a neighbour lost with it."""
    if not s.visible or abs(area(s.visible) - s.area) > 1e-4 + 1e-3 * s.area:
        yield "what is left out has no outline"
        return
    if not covered_by_caps(layout, job, s.visible, inches(job.roof.least_underlap)):
        yield "left out where no cap covers it with its neighbours far enough under"
    if s.why == "sliver":
        return
    if job.roof.under_cap != "leave out":
        yield "left out under a cap, which the job does not ask for"
    x, y = _centre(layout, s.course, s.column)
    if off_ring((x, y + layout.course), s.visible) <= inches(job.roof.whole_within):
        yield "left out with its fastening"
    for p in layout.pieces:
        if p.course == s.course + 1 and _in_common(s.visible, p.visible) > inches(job.roof.sliver) + CLOSE:
            yield f"left out, and the lock of column {p.column} above opens"


def _in_common(one: Sequence[Point], other: Sequence[Point]) -> float:
    """Length of border two outlines share, side by side."""
    total = 0.0
    for a, b in zip(one, [*one[1:], one[0]], strict=True):
        long = math.dist(a, b)
        if long < CLOSE:
            continue
        ux, uy = (b[0] - a[0]) / long, (b[1] - a[1]) / long
        for p, q in zip(other, [*other[1:], other[0]], strict=True):
            if max(abs((r[0] - a[0]) * uy - (r[1] - a[1]) * ux) for r in (p, q)) < CLOSE:
                s, t = sorted((r[0] - a[0]) * ux + (r[1] - a[1]) * uy for r in (p, q))
                total += max(0.0, min(t, long) - max(s, 0.0))
    return total


def _clear(layout: SlopeLayout, middle: Point) -> bool:
    """No border passes through the rhombus: none comes nearer than its corners reach."""
    reach = max(layout.spacing / 2, layout.course)
    rings = (*layout.region, *layout.voids)
    if min(to_ring(middle, r) for r in rings) > reach:
        return True
    corners = [
        (middle[0], middle[1] - layout.course),
        (middle[0] + layout.spacing / 2, middle[1]),
        (middle[0], middle[1] + layout.course),
        (middle[0] - layout.spacing / 2, middle[1]),
    ]
    for ring in rings:
        for p, q in zip(ring, [*ring[1:], ring[0]], strict=True):
            if any(bool(inside_ring(np.array(p), corners)) for p in (p, q)):
                return False
            sides = zip(corners, [*corners[1:], corners[0]], strict=True)
            if any(cross(p, q, a, b) for a, b in sides):
                return False
    return True


def _far(layout: SlopeLayout, middle: Point) -> bool:
    reach = max(layout.spacing / 2, layout.course)
    return min(off_ring(middle, r) for r in layout.region) > reach or _clear(layout, middle)


def _border(
    layout: SlopeLayout,
    job: Job,
    place: tuple[int, int],
    middle: Point,
    mine: list[LaidPiece],
    thin: float,
    fine: Array,
) -> Iterator[str]:
    where = f"course {place[0]}, column {place[1]}"
    points = fine + np.array(middle)
    shows = covered(layout, job, points)
    share = float(shows.mean())
    said = math.fsum(p.share for p in mine) + thin
    if abs(share - said) > SHARE:
        yield f"{where}: {share:.3f} of a piece shows, the plan has {said:.3f}"
    shown = np.zeros(len(points), dtype=bool)
    for p in mine:
        shown_area = area(p.visible) - sum(area(r) for r in p.inner)
        if abs(shown_area - p.share * layout.cell) > 1e-5 * layout.cell:
            yield f"{where}: a piece of {shown_area:.4f} sq in is said to show {p.share * layout.cell:.4f}"
        part = inside_ring(points, p.visible)
        for ring in p.inner:
            part &= ~inside_ring(points, ring)
        if bool((part & shown).any()):
            yield f"{where}: two pieces overlap"
        shown |= part
        yield from (f"{where}: {fault}" for fault in _kind(layout, job, p, middle))
    if float((shown & ~shows).mean()) > BARE:
        yield f"{where}: a piece shows where nothing is to be covered"
    if mine and float((shows & ~shown).mean()) > thin + BARE:
        yield f"{where}: bare where metal should show"


def _kind(layout: SlopeLayout, job: Job, p: LaidPiece, middle: Point) -> Iterator[str]:
    full = inches(job.roof.whole_within)
    tips = {
        "L": (middle[0] - layout.spacing / 2, middle[1]),
        "R": (middle[0] + layout.spacing / 2, middle[1]),
        "B": (middle[0], middle[1] - layout.course),
        "T": (middle[0], middle[1] + layout.course),
    }
    away = {name: off_ring(tip, p.visible) for name, tip in tips.items()}
    lost = {name for name in tips if away[name] > full}
    near = {name for name in tips if abs(away[name] - full) < CLOSE}
    if p.kind == "whole":
        slack = full * 2 * math.hypot(layout.spacing, 2 * layout.course) / layout.cell
        if 1 - p.share > slack:
            yield f"a piece with {p.share:.3f} left is called whole"
        return
    if (set(p.lost) ^ lost) - near:
        yield f"it lost {''.join(sorted(lost)) or 'no tip'}, the plan says {p.lost or 'no tip'}"
    level = {y for _, y in p.visible}
    flat_top = _flat(p, max(level), full)
    flat_low = _flat(p, min(level), full)
    gone = set(p.lost)
    short_top, short_low = gone == set("LRT") and flat_top, gone == set("LRB") and flat_low
    if {"L", "R"} <= gone:
        should = "ridge-half" if short_top else "starter" if short_low else "cut-both"
    elif "L" in gone:
        should = "cut-left"
    elif "R" in gone:
        should = "cut-right"
    else:
        should = {"": "notched", "B": "starter", "T": "ridge-half"}.get("".join(sorted(gone)), "cut-both")
    if p.kind != should:
        yield f"a piece that lost {p.lost or 'no tip'} is called {p.kind}, it is {should}"


def _flat(p: LaidPiece, y: float, full: float) -> bool:
    xs = [x for x, _ in p.visible]
    at = [x for x, v in p.visible if abs(v - y) <= full]
    wide = max(xs) - min(xs)
    return max(at) - min(at) >= wide - 2 * full and wide > full
