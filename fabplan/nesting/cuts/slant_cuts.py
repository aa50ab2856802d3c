"""Cutting one strip of slanted blanks: the cuts between blanks, then each cell trimmed to its blank.

Everything is in the strip's own frame: u along it, v across, floats in graduations. Every cut runs from edge to edge of
the convex piece it is made on.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from fabplan import plane
from fabplan.nesting.problem import NEAR, XY, ShearLimits
from fabplan.plane import half

SLIVER = 1.0 - 1e-3  # graduations: the shop cannot shear a thinner trim than one graduation


@dataclass(frozen=True, slots=True)
class LocalPart:
    """Metal in the strip's own frame, with the places of its blanks in the strip."""

    ring: tuple[XY, ...]
    blanks: tuple[int, ...]
    dust: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class LocalCut:
    """A cut in the strip's own frame; the saw's kerf lies to the right of start to end."""

    start: XY
    end: XY
    back_gauge: int | None
    held: int
    angle: float
    depth: int
    on: LocalPart
    falls: LocalPart
    stays: LocalPart


def split(ring: Sequence[XY], n: XY, c: float, kerf: float) -> tuple[list[XY], list[XY]]:
    """A convex polygon below `n . p <= c` and above `n . p >= c + kerf`."""
    return half(ring, n, c, NEAR), half(ring, (-n[0], -n[1]), -(c + kerf), NEAR)


class _ImpossibleError(Exception):
    pass


def strip_cuts(
    size: tuple[int, int],
    hulls: Sequence[Sequence[XY]],
    lines: Sequence[tuple[XY, float]],
    limits: ShearLimits,
    *,
    pairs: bool = False,
    both_ends: bool = False,
) -> tuple[LocalCut, ...] | None:
    """Cuts that free every blank of a strip, or None when the shear cannot make one of them.

    Parameters
    ----------
    size : (length, height)
        The strip's rectangle.
    hulls : sequence of outlines
        Every blank in the strip's frame, in order.
    lines : sequence of (unit normal, offset)
        The cut between each blank and the next.
    limits : ShearLimits
    pairs : bool
        Blanks are cut off two by two, and each pair parted afterwards.
    both_ends : bool
        The far end is trimmed before the blanks are parted, as the near one is.
    """
    length, height = float(size[0]), float(size[1])
    region: list[XY] = [(0.0, 0.0), (length, 0.0), (length, height), (0.0, height)]
    cuts: list[LocalCut] = []
    each = 2 if pairs else 1
    try:
        region = _end(region, hulls, limits, cuts, -1.0)
        if both_ends:
            region = _end(region, hulls, limits, cuts, 1.0)
        cells: list[list[XY]] = []
        for i in range(0, len(hulls), each):
            cell, last = region, min(i + each, len(hulls)) - 1
            if last < len(lines):
                n, c = lines[last]
                cell, rest = split(region, n, c, limits.kerf)
                both = range(i, last + 1), range(last + 1, len(hulls))
                cuts.append(_local(_Split(region, cell, rest, n, c, 0), limits, both))
                region = rest
            for k in range(i, last):
                n, c = lines[k]
                low, high = split(cell, n, c, limits.kerf)
                both = range(k, k + 1), range(k + 1, last + 1)
                cuts.append(_local(_Split(cell, low, high, n, c, 1), limits, both))
                cells.append(low)
                cell = high
            cells.append(cell)
        for at, (ring, hull) in enumerate(zip(cells, hulls, strict=True)):
            _trim(ring, hull, at, limits, cuts, each)
    except _ImpossibleError:
        return None
    return tuple(sorted(cuts, key=lambda c: c.depth))


def _end(
    region: list[XY], hulls: Sequence[Sequence[XY]], limits: ShearLimits, cuts: list[LocalCut], side: float
) -> list[XY]:
    """Trim the strip's near end (`side` -1) or far end to its blank before the blanks are parted.

    Only where the cut clears the others.
    """
    own, others = (hulls[0], hulls[1:]) if side < 0 else (hulls[-1], hulls[:-1])
    for n, edge in list(_over(region, own)):
        if n[0] * side < NEAR or any(n[0] * x + n[1] * y > edge + NEAR for hull in others for x, y in hull):
            continue
        if side > 0 and not _beyond(region, n, edge):
            continue
        c = _gauged(region, n, edge, limits)
        low, high = split(region, n, c, limits.kerf)
        cuts.append(_local(_Split(region, low, high, n, c, 0), limits, (range(len(hulls)), ())))
        region = low
    return region


def _beyond(region: Sequence[XY], n: XY, c: float) -> bool:
    """Whether the piece still has at least a graduation of metal beyond a line."""
    return max(n[0] * x + n[1] * y for x, y in region) - c > SLIVER


def leading(region: Sequence[XY], hull: Sequence[XY]) -> list[tuple[XY, float]]:
    """Edges of the first blank that face the strip's end and have metal beyond them: outward normal, offset."""
    return [(n, c) for n, c in _over(region, hull) if n[0] < -NEAR]


def _gauged(region: Sequence[XY], n: XY, c: float, limits: ShearLimits) -> float:
    """Where to trim metal beyond `n . p = c`: on the line, or less than a graduation further out to suit the gauge.

    The scrap's leading corner meets the back gauge, else the blank does; what cannot be gauged is cut to a line.
    """
    spread = [n[0] * x + n[1] * y for x, y in region]
    top, bottom = max(spread), min(spread)
    over, whole = top - c - limits.kerf, c - bottom
    drop, keep = math.floor(over + NEAR), math.ceil(whole - NEAR)
    ways = []
    if limits.least_gauge <= drop <= limits.reach and whole >= limits.least_held - NEAR:
        ways.append((over - drop, 0, top - limits.kerf - drop))
    if limits.least_gauge <= keep <= limits.reach and top - limits.kerf - bottom - keep >= limits.least_held - NEAR:
        ways.append((keep - whole, 1, bottom + keep))
    return min((move > NEAR, k, at) for move, k, at in ways)[2] if ways else c


def _trim(ring: list[XY], hull: Sequence[XY], at: int, limits: ShearLimits, cuts: list[LocalCut], depth: int) -> None:
    """Cut a cell down to its blank, edge by edge; tries the edges in another order when the angle stop objects."""
    edges = list(_over(ring, hull))
    while edges:
        for k, (n, edge) in enumerate(edges):
            c = _gauged(ring, n, edge, limits)
            low, high = split(ring, n, c, limits.kerf)
            try:
                cut = _local(_Split(ring, low, high, n, c, depth), limits, ((at,), ()))
            except _ImpossibleError:
                if k == len(edges) - 1:
                    raise
                continue
            cuts.append(cut)
            ring = low
            break
        edges = list(_over(ring, hull))
        depth += 1


def _over(ring: Sequence[XY], hull: Sequence[XY]) -> Iterator[tuple[XY, float]]:
    """Edges of the blank beyond which the piece still has at least a graduation of metal: outward normal, offset."""
    for (x0, y0), (x1, y1) in zip(hull, (*hull[1:], hull[0]), strict=True):
        length = math.hypot(x1 - x0, y1 - y0)
        n = ((y1 - y0) / length, -(x1 - x0) / length)
        c = n[0] * x0 + n[1] * y0
        if max(n[0] * x + n[1] * y for x, y in ring) - c > SLIVER:
            yield n, c


@dataclass(frozen=True, slots=True)
class _Split:
    """A cut along `n . p = c` through a region, what lies below and above it, and how deep in the cell's cuts."""

    region: Sequence[XY]
    low: Sequence[XY]
    high: Sequence[XY]
    n: XY
    c: float
    depth: int


def _local(made: _Split, limits: ShearLimits, blanks: tuple[Sequence[int], Sequence[int]]) -> LocalCut:
    """The cut with its setting; `blanks` lie below and above it. A trim has none above."""
    n, c = made.n, made.c
    chord = _chord(made.region, n, c)
    if math.dist(*chord) > limits.longest_cut + NEAR:
        raise _ImpossibleError
    below = max(c - (n[0] * x + n[1] * y) for x, y in made.low)
    above = max((n[0] * x + n[1] * y - c - limits.kerf for x, y in made.high), default=0.0)
    dust = above <= NEAR
    low = LocalPart(tuple(made.low), tuple(blanks[0]))
    high = LocalPart(tuple(split(made.region, n, c, 0.0)[1] if dust else made.high), tuple(blanks[1]), dust)
    # The scrap drops; of two with blanks the first.
    sides = [(low, below, above), (high, above, below)]
    if not blanks[1]:
        sides.reverse()
    gauge: int | None = None
    for falls, drop, held in sides:  # noqa: B007 - what falls is the side it stops at
        whole = abs(drop - round(drop)) < 1e-4 and limits.least_gauge <= round(drop) <= limits.reach
        if whole and held >= limits.least_held - NEAR:
            gauge = round(drop)
            break
    else:
        if max(below, above) < limits.least_held - NEAR or min(below, above) < limits.least_scribed * SLIVER:
            raise _ImpossibleError
        if len(blanks[0]) == len(blanks[1]):
            sides.sort(key=lambda s: plane.area(s[0].ring))
        falls, _, held = next(s for s in sides if s[2] >= limits.least_held - NEAR)
    return LocalCut(
        start=chord[0],
        end=chord[1],
        back_gauge=gauge,
        held=math.floor(held + NEAR),
        angle=_angle(made.region, chord, limits),
        depth=made.depth,
        on=LocalPart(tuple(made.region), (*blanks[0], *blanks[1])),
        falls=falls,
        stays=high if falls is low else low,
    )


def _chord(region: Sequence[XY], n: XY, c: float) -> tuple[XY, XY]:
    """Where a line crosses a convex polygon, running so that the far side (n) is on the right."""
    hits: list[XY] = []
    for p, q in zip(region, (*region[1:], region[0]), strict=True):
        dp, dq = n[0] * p[0] + n[1] * p[1] - c, n[0] * q[0] + n[1] * q[1] - c
        if abs(dp) <= NEAR:
            hits.append(p)
        elif dp * dq < 0 and abs(dq) > NEAR:
            t = dp / (dp - dq)
            hits.append((p[0] + t * (q[0] - p[0]), p[1] + t * (q[1] - p[1])))
    along = (-n[1], n[0])
    hits.sort(key=lambda p: along[0] * p[0] + along[1] * p[1])
    if len(hits) < 2 or math.dist(hits[0], hits[-1]) <= NEAR:
        raise _ImpossibleError
    return hits[0], hits[-1]


def _angle(region: Sequence[XY], chord: tuple[XY, XY], limits: ShearLimits) -> float:
    """Setting of the angle stop: from the edge laid against it (the strip's own edges first) to the cut."""
    low, high = limits.angle_stop
    cut = math.degrees(math.atan2(chord[1][1] - chord[0][1], chord[1][0] - chord[0][0])) % 180
    found: list[tuple[bool, float]] = []
    for p, q in zip(region, (*region[1:], region[0]), strict=True):
        span = math.dist(p, q)
        if span <= NEAR:
            continue
        for end in chord:
            along, off = plane.beside_line(p, q, end)
            inside = -NEAR <= along <= span + NEAR
            if off > NEAR * 10 or not inside:
                continue
            edge = math.degrees(math.atan2(q[1] - p[1], q[0] - p[0])) % 180
            angle = (cut - edge) % 180
            if low - NEAR <= angle <= high + NEAR:
                found.append((abs(q[1] - p[1]) > NEAR, angle))
    if not found:
        raise _ImpossibleError
    angle = min(found)[1]
    # A corner cut the same from either side: one setting of the stop serves both hands.
    other = [a for _, a in found if abs(a + angle - 180) < NEAR and a < angle]
    return round(other[0] if other else angle, 6)
