"""Corners of a folded outline: where fold lines cross, where flaps are cut, where the blank ends.

Geometry
--------
The fold line of an edge lies ``f`` outside the finished edge (middle of the bend zone, ``f = -deduction / 2``), the
blank edge ``A = width - deduction`` outside it; the flap is ``g = A - f`` deep. Turning the flap about its fold line
as a plate without thickness brings the raw edge exactly where the finished width puts it, so all conditions are
stated about the crossing F of the two fold lines of a corner. In the frame of one edge (s along it away from the
corner, from F; g outward from the fold line) the flap may use ``s >= k g`` with k the greatest of

* flat limit, so that two flaps never share stock: ``-cot(phi / 2)``
* outline limit, so that the flap stays over the panel: ``-cos(turned) cot(phi)``
* mitre, when the neighbour is folded to the same side: ``-cos(turned) cot(phi / 2)`` for the same angle, else the
  common line of the two flap planes.

phi is the corner's inside angle. A flap turned right over also stays within the finished edges, which the round of a
hem may pass by a few thousandths. This is the program's own geometry; the published corner cuts it agrees with in kind
(sides cut deeper than top and bottom) are the Copper Development Association handbook's, details 12.6A and 12.6B.

Corners within 25 degrees of straight whose two edges take different metal are stepped: there the lines of the two
edges meet far away or nowhere, so each flap ends square to its own edge at the corner (or on the line halving a corner
that is drawn in).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from fabplan.blanks.flat.bend import Bend
from fabplan.blanks.model import Point, Side

NEAR = 1e-7  # inches or square inches: less is rounding
STEPPED = 25.0  # degrees from straight


@dataclass(frozen=True, slots=True, kw_only=True)
class OutlineFold:
    """A fold on one edge of a finished outline."""

    width: float
    toward: Side
    bend: Bend

    @property
    def allowance(self) -> float:
        """Blank edge outside the finished edge."""
        return self.bend.allowance(self.width)

    @property
    def depth(self) -> float:
        """Fold line to raw edge on the flat."""
        return self.allowance - self.bend.fold_line


@dataclass(frozen=True, slots=True, kw_only=True)
class Edge:
    """One edge with its frame: `along` unit vector, `out` unit outward."""

    start: Point
    end: Point
    along: Point
    out: Point
    length: float
    fold: OutlineFold | None

    def at(self, s: float, u: float) -> Point:
        """Point s along the edge from its start and u outward."""
        return (
            self.start[0] + s * self.along[0] + u * self.out[0],
            self.start[1] + s * self.along[1] + u * self.out[1],
        )

    def local(self, p: Point) -> tuple[float, float]:
        """(s, u) of a point."""
        x, y = p[0] - self.start[0], p[1] - self.start[1]
        return x * self.along[0] + y * self.along[1], x * self.out[0] + y * self.out[1]

    @property
    def fold_line(self) -> float:
        return self.fold.bend.fold_line if self.fold else 0.0

    @property
    def allowance(self) -> float:
        return self.fold.allowance if self.fold else 0.0


def edges_of(points: Sequence[Point], folds: Mapping[int, OutlineFold]) -> tuple[Edge, ...]:
    """Edges of a counter-clockwise outline with their folds by number from 1."""
    out = []
    for i, a in enumerate(points):
        b = points[(i + 1) % len(points)]
        length = math.dist(a, b)
        along = ((b[0] - a[0]) / length, (b[1] - a[1]) / length)
        out.append(Edge(start=a, end=b, along=along, out=(along[1], -along[0]), length=length, fold=folds.get(i + 1)))
    return tuple(out)


def inside_angle(before: Edge, after: Edge) -> float:
    """Inside angle of the corner between two edges, degrees (reflex above 180)."""
    turn = math.atan2(
        before.along[0] * after.along[1] - before.along[1] * after.along[0],
        before.along[0] * after.along[0] + before.along[1] * after.along[1],
    )
    return 180.0 - math.degrees(turn)


def meet(before: Edge, after: Edge, u_before: float, u_after: float) -> list[Point]:
    """Where the two edge lines, moved outward, meet; two points when the edges run straight on."""
    cross = before.along[0] * after.along[1] - before.along[1] * after.along[0]
    if abs(cross) < 1e-9:
        a, b = before.at(before.length, u_before), after.at(0, u_after)
        return [a] if math.dist(a, b) < NEAR else [a, b]
    dot = before.along[0] * after.along[0] + before.along[1] * after.along[1]
    # distance along `after` from the corner: u_before = s sin(turn) - ... solved for the common point
    s = (u_after * dot - u_before) / cross
    return [after.at(s, u_after)]


def corner_slope(fold: OutlineFold, neighbour: OutlineFold | None, phi: float) -> float:
    """k of the cut at one end of a flap: it may use ``s >= k g`` from the fold-line crossing."""
    half = math.radians(phi) / 2
    cos = math.cos(math.radians(fold.bend.turned))
    limits = [-1 / math.tan(half)] if neighbour else []
    if phi < 180 - 1e-7:
        limits.append(-cos / math.tan(2 * half))
    if neighbour and neighbour.toward == fold.toward:
        if abs(neighbour.bend.turned - fold.bend.turned) < 1e-9:
            limits.append(-cos / math.tan(half))
        else:
            limits += _common_line(fold.bend.turned, neighbour.bend.turned, phi)
    return max(limits, default=0.0)


def _common_line(turned: float, other: float, phi: float) -> list[float]:
    """Slope, in the flap's own plane, of the line where two flap planes meet; none when they only meet behind."""
    p = math.radians(phi)
    e, f = (1.0, 0.0, 0.0), (math.cos(p), math.sin(p), 0.0)  # the two edges, away from the corner

    def flap(angle: float, out: Point) -> tuple[float, float, float]:
        a = math.radians(angle)
        return (math.cos(a) * out[0], math.cos(a) * out[1], math.sin(a))

    u, v = flap(turned, (0.0, -1.0)), flap(other, (-math.sin(p), math.cos(p)))
    d = _cross(_cross(e, u), _cross(f, v))
    du, dv = _dot(d, u), _dot(d, v)
    if du < 0:
        d, du, dv = (-d[0], -d[1], -d[2]), -du, -dv
    return [_dot(d, e) / du] if du > 1e-9 and dv > 1e-9 else []


def _cross(a: tuple[float, ...], b: tuple[float, ...]) -> tuple[float, float, float]:
    return (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])


def _dot(a: tuple[float, ...], b: tuple[float, ...]) -> float:
    return math.fsum(x * y for x, y in zip(a, b, strict=True))


@dataclass(frozen=True, slots=True, kw_only=True)
class Corner:
    """One corner: the edges that end and start there, and its inside angle in degrees."""

    before: Edge
    after: Edge
    phi: float

    @property
    def at(self) -> Point:
        return self.after.start

    @property
    def both(self) -> bool:
        """Whether both its edges are folded."""
        return self.before.fold is not None and self.after.fold is not None

    @property
    def stepped(self) -> bool:
        """Nearly straight, with two edges that take different metal."""
        same = (
            abs(self.before.allowance - self.after.allowance) < NEAR
            and abs(self.before.fold_line - self.after.fold_line) < NEAR
        )
        return abs(self.phi - 180) < STEPPED and not same

    @property
    def drawn_in(self) -> bool:
        """Whether the blank follows the ends of the flaps here, not the crossing of its edge lines."""
        return self.stepped or (self.phi > 180 + 1e-7 and bool(self.before.fold or self.after.fold))

    @property
    def step_slope(self) -> float:
        """k of both cuts at a stepped corner."""
        return max(-1 / math.tan(math.radians(self.phi) / 2), 0.0) if self.both else 0.0

    def _step(self, u: float) -> float:
        """Where a line u outside its edge ends at a stepped corner; two lines inside their edges share the halving."""
        if u >= 0:
            return self.step_slope * u
        return -u / math.tan(math.radians(self.phi) / 2) if self.both else 0.0

    def offset(self, u_before: float, u_after: float) -> tuple[Point, Point]:
        """End of the earlier edge's line and start of the later one's, moved outward: one point unless stepped."""
        if self.stepped:
            return (
                self.before.at(self.before.length - self._step(u_before), u_before),
                self.after.at(self._step(u_after), u_after),
            )
        points = meet(self.before, self.after, u_before, u_after)
        return points[0], points[-1]

    @property
    def crossing(self) -> tuple[Point, Point]:
        """End of the earlier fold line, start of the later one."""
        return self.offset(self.before.fold_line, self.after.fold_line)

    def cut(self, *, starts: bool) -> float:
        """Where the cut reaches the raw edge of the flap of the edge that starts (or ends) here.

        Measured along that edge from this corner.
        """
        edge, other = (self.after, self.before) if starts else (self.before, self.after)
        fold = edge.fold
        assert fold is not None
        if self.stepped:
            return self.step_slope * fold.allowance
        s_f, u_f = edge.local(self.crossing[1 if starts else 0])
        s_f = s_f if starts else edge.length - s_f
        s = s_f + corner_slope(fold, other.fold, self.phi) * (fold.allowance - u_f)
        if fold.bend.turned > 90 and self.phi < 180 - 1e-7:
            lands = -fold.width * math.cos(math.radians(fold.bend.turned))
            s = max(s, lands / math.tan(math.radians(self.phi)))
        return s

    def blank(self) -> list[Point]:
        """Points of the blank here, from the edge that ends to the edge that starts."""
        before, after = self.before, self.after
        if not self.drawn_in:
            return meet(before, after, before.allowance, after.allowance)
        first = before.at(before.length - self.cut(starts=False), before.allowance) if before.fold else self.at
        last = after.at(self.cut(starts=True), after.allowance) if after.fold else self.at
        end, start = self.crossing
        if self.stepped and not self.both:  # a fold line inside the finished edge is no part of the blank's border
            end, start = self.offset(max(before.fold_line, 0.0), max(after.fold_line, 0.0))
        path = [first, last] if self.one_ray(first, last) else [first, end, start, last]
        if not (self.both or self.stepped) and max(before.fold_line, after.fold_line) > 0:
            # the fold line starts on the other edge itself, short of the corner
            path.remove(self.at)
        return [p for k, p in enumerate(path) if k == 0 or math.dist(p, path[k - 1]) > NEAR]

    def one_ray(self, first: Point, last: Point) -> bool:
        """Whether both cuts run along one line from the corner: a slit."""
        origin = self.at if self.stepped else self.crossing[1]
        x, y = (first[0] - origin[0], first[1] - origin[1]), (last[0] - origin[0], last[1] - origin[1])
        turn, dot = x[0] * y[1] - x[1] * y[0], x[0] * y[0] + x[1] * y[1]
        return self.both and dot > 0 and abs(turn) < 1e-9 * dot


def corners_of(edges: Sequence[Edge]) -> tuple[Corner, ...]:
    """Corners of an outline; corner n starts edge n."""
    return tuple(Corner(before=edges[i - 1], after=e, phi=inside_angle(edges[i - 1], e)) for i, e in enumerate(edges))
