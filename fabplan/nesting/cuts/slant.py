"""Blanks that are not rectangles, cut straight: strips of them head to tail, parted by slanted edge-to-edge cuts.

A strip lies with its length along u and its height along v; every blank stands on one of its edges, right way up or
turned half round, never over (the face stays up). Two convex blanks side by side can always be parted by one straight
cut along an edge of either; the closest spacing is the least over the directions the angle stop can take. Each cell
between two such cuts is then trimmed along the blank's own edges, so every cut runs from edge to edge.

A slanted cut is gauged from the corner that leads: it meets the back gauge while the angle stop holds the side. So that
the gauge stands on a whole graduation, every cut of a row lies a hair (less than one graduation) further along than the
blanks need. Blanks that lie head to tail are cut off two by two, all at one setting, and the pairs halved at another.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise

from fabplan import plane
from fabplan.nesting.cuts.order import Cell
from fabplan.nesting.cuts.slant_cuts import LocalCut, LocalPart, leading, split, strip_cuts
from fabplan.nesting.model import Cut, Part, Placed, Use
from fabplan.nesting.problem import NEAR, XY, Blank, ShearLimits


@dataclass(frozen=True, slots=True, kw_only=True)
class Pose:
    """A blank standing on one of its edges: turned `angle` degrees counter-clockwise from its own frame.

    `points` is the convex outline with its lower left at (0, 0); `height` the strip it needs, in graduations.
    """

    mark: str
    angle: float
    points: tuple[XY, ...]
    drawn: tuple[XY, ...]
    width: float
    height: int
    area: float


@dataclass(frozen=True, slots=True)
class Seat:
    """One blank in a strip: its pose, whether turned half round, and how far along it starts."""

    pose: Pose
    flipped: bool
    at: float


@dataclass(frozen=True)
class SlantStrip:
    """Blanks in a row: `height` and `length` of the rectangle they are cut from, and the cut before each next one.

    `pairs`: blanks are cut off two by two and the pairs parted afterwards.
    """

    seats: tuple[Seat, ...]
    lines: tuple[tuple[XY, float], ...]
    height: int
    length: int
    limits: ShearLimits
    pairs: bool = False

    @cached_property
    def cuts(self) -> tuple[LocalCut, ...] | None:
        """Cuts inside the strip, or None when the shear cannot make one of them."""
        hulls = [placed_points(s.pose.points, s, self.height) for s in self.seats]
        size = self.length, self.height
        ways = [
            strip_cuts(size, hulls, self.lines, self.limits, pairs=self.pairs, both_ends=both)
            for both in ((True, False) if len(self.seats) < 3 else (False, True))
        ]
        return min((way for way in ways if way is not None), key=_settings, default=None)


def _settings(cuts: Sequence[LocalCut]) -> tuple[int, int, int]:
    """How many cuts are scribed and made, and how many settings they take."""
    return (
        sum(c.back_gauge is None for c in cuts),
        len(cuts),
        len({(c.back_gauge, c.angle) for c in cuts}),
    )


def poses(blank: Blank) -> list[Pose]:
    """Ways a blank may stand in a strip: on any edge, or square to its own frame; different heights only once.

    A blank locked to the grain keeps its own frame's directions.
    """
    assert blank.outline is not None and blank.drawn is not None
    angles = [0.0, 90.0]
    if blank.lie == "any":
        ring = blank.outline
        for (x0, y0), (x1, y1) in zip(ring, (*ring[1:], ring[0]), strict=True):
            angles.append(-math.degrees(math.atan2(y1 - y0, x1 - x0)) % 360)
    out: dict[tuple[object, ...], Pose] = {}
    for angle in angles:
        pose = _stand(blank, angle)
        key = (pose.height, round(pose.width, 4), tuple(sorted((round(x, 3), round(y, 3)) for x, y in pose.points)))
        out.setdefault(key, pose)
    return list(out.values())


def _stand(blank: Blank, angle: float) -> Pose:
    assert blank.outline is not None and blank.drawn is not None
    points = plane.rotated(blank.outline, angle)
    low_x, low_y = min(x for x, _ in points), min(y for _, y in points)
    top = max(y for _, y in points) - low_y
    return Pose(
        mark=blank.mark,
        angle=angle,
        points=tuple((x - low_x, y - low_y) for x, y in points),
        drawn=tuple((x - low_x, y - low_y) for x, y in plane.rotated(blank.drawn, angle)),
        width=max(x for x, _ in points) - low_x,
        height=math.ceil(top - NEAR),
        area=blank.area,
    )


def placed_points(points: Sequence[XY], seat: Seat, height: int) -> tuple[XY, ...]:
    """A seat's outline in the strip's frame."""
    if seat.flipped:
        width = seat.pose.width
        return tuple((seat.at + width - x, height - y) for x, y in points)
    return tuple((seat.at + x, y) for x, y in points)


def next_seat(
    before: Sequence[Sequence[XY]], lines: Sequence[tuple[XY, float]], ring: Sequence[XY], limits: ShearLimits
) -> tuple[float, tuple[XY, float]] | None:
    """Where the next blank starts, and the cut before it.

    Parameters
    ----------
    before : sequence of outlines
        Blanks already in the row.
    lines : sequence of (unit normal, offset)
        Cuts between them; the new blank must lie beyond every one.
    ring : outline
        The new blank as if it started at 0.
    limits : ShearLimits

    Returns
    -------
    tuple or None
        Start along the strip and the cut; None when the angle stop allows no cut.
    """
    best: tuple[float, tuple[XY, float]] | None = None
    least = max((_clear(ring, n, c, limits.kerf) for n, c in lines), default=-math.inf)
    for n in _normals(before[-1], ring, limits):
        c = max(n[0] * x + n[1] * y for points in before for x, y in points)
        at = max(least, _clear(ring, n, c, limits.kerf))
        if best is None or at < best[0] - NEAR:
            best = (at, (n, c))
    return best


def _clear(ring: Sequence[XY], n: XY, c: float, kerf: int) -> float:
    """How far along a blank must start to lie beyond a cut."""
    return (c + kerf - min(n[0] * x + n[1] * y for x, y in ring)) / n[0]


def spacing(left: tuple[Pose, bool], right: tuple[Pose, bool], limits: ShearLimits) -> float | None:
    """Least distance from the start of one blank to the start of the next; None when no cut parts them."""
    height = max(left[0].height, right[0].height)
    a, b = (placed_points(p.points, Seat(p, flipped, 0.0), height) for p, flipped in (left, right))
    found = next_seat([a], [], b, limits)
    return None if found is None else found[0]


def _normals(a: Sequence[XY], b: Sequence[XY], limits: ShearLimits) -> list[XY]:
    """Directions worth trying between two blanks: square first, their facing edges, the ends of the angle stop."""
    low, high = limits.angle_stop
    out: list[XY] = [(1.0, 0.0)] if low <= 90 <= high else []
    for ring, sign in ((a, 1.0), (b, -1.0)):
        for (x0, y0), (x1, y1) in zip(ring, (*ring[1:], ring[0]), strict=True):
            length = math.hypot(x1 - x0, y1 - y0)
            n = (sign * (y1 - y0) / length, -sign * (x1 - x0) / length)
            if n[0] > NEAR and low - NEAR <= math.degrees(math.atan2(n[0], -n[1])) <= high + NEAR:
                out.append(n)
    for angle in (low, high):
        if 0 < angle < 180:
            out.append((math.sin(math.radians(angle)), -math.cos(math.radians(angle))))
    return out


def row(
    seats: Iterable[tuple[Pose, bool]], limits: ShearLimits, height: int | None = None, length: int = 0
) -> SlantStrip | None:
    """Blanks side by side as close as the shear can part them, or None when it cannot; no lower, no shorter."""
    every = list(seats)
    turns = len(every) > 2 and all(a[0] is b[0] and a[1] != b[1] for a, b in pairwise(every))
    for pairs in (True, False) if turns else (False,):
        strip = _row(every, limits, pairs, (max(height or 0, *(p.height for p, _ in every)), length))
        if strip is not None and strip.cuts is not None:
            return strip
    return None


def _row(
    every: Sequence[tuple[Pose, bool]], limits: ShearLimits, pairs: bool, least: tuple[int, int]
) -> SlantStrip | None:
    height = least[0]
    done = list(seated(every, height, limits, gauged=True, pairs=pairs))
    if len(done) < len(every):
        return None
    length = max(least[1], math.ceil(max(s.at + s.pose.width for s, _ in done) - NEAR))
    seats = [s for s, _ in done]
    lines = tuple(line for _, line in done if line is not None)
    if len(seats) == 2 and every[0][0] is every[1][0] and every[0][1] != every[1][1]:
        seats[1] = _opposite(seats, length)
    return SlantStrip(tuple(seats), lines, height, length, limits, pairs)


def _opposite(seats: Sequence[Seat], length: int) -> Seat:
    """The second of two blanks head to tail as far from its end as the first from its own: both are cut alike."""
    first, second = seats
    return replace(second, at=max(second.at, length - first.at - second.pose.width))


def seated(
    seats: Iterable[tuple[Pose, bool]], height: int, limits: ShearLimits, *, gauged: bool = False, pairs: bool = False
) -> Iterator[tuple[Seat, tuple[XY, float] | None]]:
    """Seats one after another with the cut before each (None before the first); stops where none can follow.

    With `gauged` every cut lies where the back gauge can stand on a whole graduation, blanks cut off two by two with
    `pairs`; else the seats are as close as cuts can part them.
    """
    rings: list[tuple[XY, ...]] = []
    lines: list[tuple[XY, float]] = []
    high = float(height)
    region: list[XY] = [(0.0, 0.0), (1e7, 0.0), (1e7, high), (0.0, high)]
    for number, (pose, flipped) in enumerate(seats):
        at, line = 0.0, None
        own = placed_points(pose.points, Seat(pose, flipped, 0.0), height)
        if rings:
            found = next_seat(rings, lines, own, limits)
            if found is None or found[0] < -NEAR:
                return
            at, line = max(0.0, found[0]), found[1]
            if gauged:
                n, c = line
                line = (n, _whole(region, n, c))
                at = max(at, _clear(own, n, line[1], limits.kerf))
                if number % 2 == 0 or not pairs:
                    region = split(region, n, line[1], limits.kerf)[1]
            lines.append(line)
        elif gauged:
            at = _led(own, height)
        seat = Seat(pose, flipped, at)
        rings.append(placed_points(pose.points, seat, height))
        if gauged and not lines:
            for n, c in leading(region, rings[0]):
                region = split(region, n, c, limits.kerf)[0]
        yield seat, line


def _whole(region: Sequence[XY], n: XY, c: float) -> float:
    """The offset of a cut moved on until what it takes off is a whole number of graduations deep."""
    deep = c - min(n[0] * x + n[1] * y for x, y in region)
    return c + math.ceil(deep - NEAR) - deep


def _led(ring: Sequence[XY], height: int) -> float:
    """How far along the first blank starts so that its end can be trimmed at a whole graduation.

    A blank with a side square to the strip lies flush with the end.
    """
    if sum(x <= NEAR for x, _ in ring) > 1:
        return 0.0
    for n, c in leading([(0.0, 0.0), (1e7, 0.0), (1e7, float(height)), (0.0, float(height))], ring):
        deep = max(0.0, n[1] * height) - c
        return (math.ceil(deep - NEAR) - deep) / -n[0]
    return 0.0


def head_to_tail(pose: Pose, count: int, limits: ShearLimits, height: int | None = None) -> SlantStrip | None:
    """`count` of one blank in a row no lower than `height`, alternately turned half round when that is closer."""
    up, down = (pose, False), (pose, True)
    if count == 1:
        return row([up], limits, height)
    straight, there, back = (spacing(a, b, limits) for a, b in ((up, up), (up, down), (down, up)))
    if there is not None and back is not None:
        turns = there if count == 2 else (there + back) / 2
        if straight is None or turns < straight - NEAR:
            return row([(pose, bool(n % 2)) for n in range(count)], limits, height)
    return row([up] * count, limits, height)


def cell(strip: SlantStrip, x: int, y: int, turned: bool) -> Cell:
    """The strip on the stock with its lower left at (x, y); not turned, its length lies along the stock's length."""

    def to_stock(p: XY) -> XY:
        return (x + p[0], y + p[1]) if turned else (x + strip.height - p[1], y + p[0])

    def metal(part: LocalPart, first: int) -> Part:
        ring = [to_stock(p) for p in part.ring]
        k = ring.index(min(ring, key=lambda p: (p[1], p[0])))
        use: Use = "dust" if part.dust else "piece" if part.blanks else "scrap"
        return Part(outline=(*ring[k:], *ring[:k]), blanks=tuple(first + b for b in part.blanks), use=use)

    def inside(stage: int, first: int) -> list[Cut]:
        return [
            Cut(
                step=1,
                start=to_stock(c.start),
                end=to_stock(c.end),
                back_gauge=c.back_gauge,
                held=c.held,
                angle=c.angle,
                stage=stage + c.depth,
                on=metal(c.on, first),
                falls=metal(c.falls, first),
                stays=metal(c.stays, first),
                after=None,
            )
            for c in strip.cuts or ()
        ]

    return Cell(
        x=x,
        y=y,
        width=strip.length if turned else strip.height,
        length=strip.height if turned else strip.length,
        blanks=tuple(_placed(strip, s, to_stock, turned) for s in strip.seats),
        inside=inside,
    )


def _placed(strip: SlantStrip, seat: Seat, to_stock: object, turned: bool) -> Placed:
    assert callable(to_stock)
    points = tuple(to_stock(p) for p in placed_points(seat.pose.drawn, seat, strip.height))
    x, y = min(p[0] for p in points), min(p[1] for p in points)
    x0, y0 = math.floor(x + NEAR), math.floor(y + NEAR)
    total = (seat.pose.angle + (0 if turned else 90) + (180 if seat.flipped else 0)) % 180
    return Placed(
        mark=seat.pose.mark,
        x=x0,
        y=y0,
        width=math.ceil(max(p[0] for p in points) - NEAR) - x0,
        length=math.ceil(max(p[1] for p in points) - NEAR) - y0,
        turned=abs(total) > NEAR and abs(total - 180) > NEAR,
        outline=points,
    )


def ways(blank_angle: float, lie: str, grain_across: bool) -> tuple[bool, ...]:
    """Allowed "turned" of a strip whose blank stands at `blank_angle` (a quarter turn) and is locked as `lie` says."""
    if lie == "any":
        return (False, True)
    frame_turned = lie != "stock" and (lie == "along") == grain_across
    quarter = round(blank_angle / 90) % 2 == 1
    # Laid along the stock a strip is itself a quarter turn from its frame.
    return (quarter == frame_turned,)
