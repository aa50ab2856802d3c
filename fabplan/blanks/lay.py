"""A flat piece laid out: finished outline and folds to blank, flaps and corner cuts.

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
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from shapely.geometry import Polygon as Shape

from fabplan.blanks import clip
from fabplan.blanks.bend import Bend
from fabplan.blanks.model import Point, Polygon, Side

NEAR = 1e-7  # inches or square inches: less is rounding


class TooWideError(ValueError):
    """A fold does not fit its edge or its neighbours; `edges` are the edge numbers."""

    def __init__(self, what: str, edges: tuple[int, ...]) -> None:
        self.what, self.edges = what, edges
        super().__init__(what)


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgeFold:
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
class Snip:
    """A straight cut through everything at a corner (number): what lies beyond ``through`` along ``normal`` goes."""

    corner: int
    through: Point
    normal: Point


@dataclass(frozen=True, slots=True, kw_only=True)
class Edge:
    """One edge with its frame: `along` unit vector, `out` unit outward."""

    start: Point
    end: Point
    along: Point
    out: Point
    length: float
    fold: EdgeFold | None

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


@dataclass(frozen=True, slots=True, kw_only=True)
class Laid:
    """A laid-out flat piece. `flaps` by edge number; `crossings[n - 1]` is the fold-line crossing at corner n."""

    edges: tuple[Edge, ...]
    angles: tuple[float, ...]
    blank: Polygon
    crossings: Polygon
    panel: Polygon
    flaps: Mapping[int, Polygon]
    snipped: Polygon
    removed: tuple[tuple[int, Polygon], ...]
    snips: tuple[Snip, ...]


def edges_of(points: Sequence[Point], folds: Mapping[int, EdgeFold]) -> tuple[Edge, ...]:
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


def corner_slope(fold: EdgeFold, neighbour: EdgeFold | None, phi: float) -> float:
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


def cut_start(edge: Edge, neighbour: Edge, phi: float, crossing: Point, *, at_end: bool) -> float:
    """Where a corner cut reaches the blank edge: s along the edge, from the corner."""
    fold = edge.fold
    assert fold is not None
    s_f, u_f = edge.local(crossing)
    s_f = edge.length - s_f if at_end else s_f
    s = s_f + corner_slope(fold, neighbour.fold, phi) * (edge.allowance - u_f)
    if fold.bend.turned > 90 and phi < 180 - 1e-7:
        p, turned = math.radians(phi), math.radians(fold.bend.turned)
        s = max(s, -fold.width * math.cos(turned) / math.tan(p))
    return s


def lay_flat(
    points: Sequence[Point],
    folds: Mapping[int, EdgeFold],
    *,
    sheared: Sequence[tuple[Point, Point]] = (),
    snips: Sequence[Snip] = (),
) -> Laid:
    """Blank, flaps and corner cuts of a finished outline.

    Parameters
    ----------
    points : sequence of points
        Finished outline, counter-clockwise seen from the face, inches.
    folds : mapping
        Edge number (from 1) to its fold.
    sheared : sequence of (through, outward normal)
        Further straight sides of the sheared blank.
    snips : sequence of Snip
        Straight cuts made after shearing.

    Raises
    ------
    TooWideError
        A fold does not fit its edge, or two folds run into each other.
    """
    edges = edges_of(points, folds)
    n = len(edges)
    angles = tuple(inside_angle(edges[i - 1], edges[i]) for i in range(n))
    reach = 4 * (sum(e.length for e in edges) + sum(e.allowance for e in edges))

    outline: list[Point] = []
    crossings: list[Point] = []  # where the fold line of the edge leaving the corner starts
    ends: list[Point] = []  # where the fold line of the edge arriving ends: another point only on a straight run
    panel_points: list[Point] = []
    for i in range(n):
        before, after = edges[i - 1], edges[i]
        outline += meet(before, after, before.allowance, after.allowance)
        at_fold = meet(before, after, before.fold_line, after.fold_line)
        panel_points += at_fold
        crossings.append(at_fold[-1])
        ends.append(at_fold[0])
    blank = _whole(outline, edges)
    for through, normal in sheared:
        blank = clip.largest(clip.intersection(blank, clip.half_plane(through, normal, reach)))

    keep: list[Shape] = [clip.half_plane(s.through, s.normal, reach) for s in snips]
    panel = clip.shape(panel_points)
    flaps: dict[int, Shape] = {}
    for i, edge in enumerate(edges):
        if edge.fold is None:
            continue
        start, end = crossings[i], ends[(i + 1) % n]
        s0 = cut_start(edge, edges[i - 1], angles[i], start, at_end=False)
        s1 = edge.length - cut_start(edge, edges[(i + 1) % n], angles[(i + 1) % n], end, at_end=True)
        base = edge.local(end)[0] - edge.local(start)[0]
        if s1 - s0 <= NEAR or base <= NEAR:
            raise TooWideError(
                f"the fold on edge {i + 1} is wider than the edge allows: the corner cuts meet before its full width",
                (i + 1,),
            )
        quad = clip.shape([start, edge.at(s0, edge.allowance), edge.at(s1, edge.allowance), end])
        flaps[i + 1] = clip.largest(clip.intersection(quad, blank))
    for half in keep:
        panel = clip.largest(clip.intersection(panel, half))
        flaps = {k: clip.largest(clip.intersection(f, half)) for k, f in flaps.items()}
    panel = clip.largest(clip.intersection(panel, blank))
    _must_fit(edges, panel, flaps, points, keep)

    snipped = clip.largest(clip.union_all([panel, *flaps.values()]))
    removed = tuple(
        (_corner_of(piece, crossings), clip.corners(piece))
        for piece in clip.pieces(clip.difference(blank, snipped))
        if piece.area > NEAR
    )
    straight = not sheared and _simple(outline)
    return Laid(
        edges=edges,
        angles=angles,
        blank=tuple(outline) if straight else clip.corners(blank),
        crossings=tuple(crossings),
        panel=clip.corners(panel),
        flaps={k: clip.corners(f) for k, f in flaps.items()},
        snipped=clip.corners(snipped),
        removed=tuple(sorted(removed)),
        snips=tuple(snips),
    )


def _simple(points: Sequence[Point]) -> bool:
    return bool(clip.shape(points).is_valid) and clip.area_of(points) > 0


def _whole(outline: Sequence[Point], edges: Sequence[Edge]) -> Shape:
    blank = clip.shape(outline)
    if not _simple(outline):
        raise TooWideError(
            "the folds run into each other on the flat", tuple(i + 1 for i, e in enumerate(edges) if e.fold)
        )
    return blank


def _must_fit(
    edges: Sequence[Edge], panel: Shape, flaps: Mapping[int, Shape], points: Sequence[Point], keep: Sequence[Shape]
) -> None:
    numbers = sorted(flaps)
    over = over_panel(edges)
    for half in keep:
        over = clip.largest(clip.intersection(over, half))
    turned: dict[int, Shape] = {}
    for i in numbers:
        fold = edges[i - 1].fold
        assert fold is not None
        depth = max((edges[i - 1].local(p)[1] for p in clip.corners(flaps[i])), default=0.0)
        if abs(depth - fold.allowance) > 1e-6:
            raise TooWideError(f"the fold on edge {i} is cut away by its neighbours before its full width", (i,))
        if clip.overlap(flaps[i], panel) > NEAR:
            raise TooWideError(f"the fold on edge {i} runs into the panel on the flat", (i,))
        if fold.bend.hem:
            turned[i] = folded_over(edges[i - 1], flaps[i])
            if clip.difference(turned[i], over).area > NEAR:
                raise TooWideError(f"the hem on edge {i} is wider than the piece behind it", (i,))
    for a, i in enumerate(numbers):
        for j in numbers[a + 1 :]:
            if clip.overlap(flaps[i], flaps[j]) > NEAR:
                raise TooWideError(f"the folds on edges {i} and {j} need the same metal", (i, j))
            one, two = edges[i - 1].fold, edges[j - 1].fold
            both = i in turned and j in turned and one and two and one.toward == two.toward
            if both and clip.overlap(turned[i], turned[j]) > NEAR:
                raise TooWideError(f"the hems on edges {i} and {j} lie on each other when folded", (i, j))


def over_panel(edges: Sequence[Edge]) -> Shape:
    """What a hem may lie over: the finished outline, or the fold lines where the flat's fold line is outside it."""
    points: list[Point] = []
    for i in range(len(edges)):
        points += meet(edges[i - 1], edges[i], max(edges[i - 1].fold_line, 0.0), max(edges[i].fold_line, 0.0))
    return clip.shape(points)


def folded_over(edge: Edge, flap: Shape) -> Shape:
    """A flap turned right over about its fold line, seen in plan."""
    f = edge.fold_line
    return clip.shape([edge.at(s, 2 * f - u) for s, u in (edge.local(p) for p in clip.corners(flap))])


def _corner_of(piece: Shape, crossings: Sequence[Point]) -> int:
    centre = piece.centroid
    return 1 + min(range(len(crossings)), key=lambda i: math.dist(crossings[i], (centre.x, centre.y)))
