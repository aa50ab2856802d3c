"""Proves a flat piece: its outline, fold lines, flaps and corner cuts against what the job asks for.

The corner cuts are worked out again in space: a flap's outer corner, as folded, must stay on its own side of the
neighbour's edge and of the neighbour's flap, and as flat on its own side of the line between the two flaps; and
nothing more than that may be snipped away.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence

from shapely.geometry import Point as Spot
from shapely.geometry import Polygon as Shape
from shapely.geometry.base import BaseGeometry

from fabplan.blanks import clip
from fabplan.blanks.check.bend import NEAR, Wanted
from fabplan.blanks.check.shape import Expected, Line
from fabplan.blanks.model import FlatPattern, Notch, Point, Polygon
from fabplan.check_plane import signed_area

AREA = 1e-6  # square inches


def to_complex(points: Sequence[Point]) -> list[complex]:
    """Points as complex numbers."""
    return [complex(x, y) for x, y in points]


def dot(a: complex, b: complex) -> float:
    """Scalar product of two vectors."""
    return (a.conjugate() * b).real


def cross(a: complex, b: complex) -> float:
    """Turn from one vector to another: |a||b| sin."""
    return (a.conjugate() * b).imag


class Corners:
    """A finished outline in the blank's frame with the folds asked for."""

    def __init__(self, corners: list[complex], expect: Expected) -> None:
        self.at = corners
        self.n = len(corners)
        self.way = [(corners[(i + 1) % self.n] - c) / abs(corners[(i + 1) % self.n] - c) for i, c in enumerate(corners)]
        self.out = [w * -1j for w in self.way]
        self.fold: list[Wanted | None] = [expect.folds.get(i + 1) for i in range(self.n)]

    def moved(self, i: int, j: int, by_i: float, by_j: float) -> complex | None:
        """Crossing of the lines of edges i and j moved outward; None when they run straight on."""
        turn = cross(self.way[i], self.way[j])
        if abs(turn) < 1e-9:
            return None
        a, b = self.at[i] + by_i * self.out[i], self.at[j] + by_j * self.out[j]
        return a + cross(b - a, self.way[j]) / turn * self.way[i]

    def line(self, i: int) -> float:
        fold = self.fold[i]
        return fold.line if fold else 0.0

    def allowance(self, i: int) -> float:
        fold = self.fold[i]
        return fold.allowance if fold else 0.0

    def stepped(self, corner: int) -> bool:
        """Within 25 degrees of straight, with edges that take different metal: each flap ends square to its edge."""
        i, j = corner - 1, corner
        differ = abs(self.allowance(i) - self.allowance(j)) > 1e-7 or abs(self.line(i) - self.line(j)) > 1e-7
        return differ and abs(self.inside_angle(corner) - math.pi) < math.radians(25)

    def drawn_in(self, corner: int) -> bool:
        """Whether the blank follows the ends of the flaps at this corner."""
        folded = self.fold[corner - 1] is not None or self.fold[corner] is not None
        return self.stepped(corner) or (folded and self.inside_angle(corner) > math.pi + 1e-9)

    def halving(self, i: int, corner: int, u: float) -> complex:
        """Point u outside edge i, square to it at a stepped corner, or on the line that halves a drawn-in one."""
        here = self.at[corner] + u * self.out[i]
        both = self.fold[corner - 1] is not None and self.fold[corner] is not None
        phi = self.inside_angle(corner)
        away = self.way[i] if corner == i else -self.way[i]
        if both and (u < 0 or phi > math.pi):
            return here + u * math.tan((phi - math.pi) / 2) * away
        return here

    def moved_at(self, i: int, j: int, corner: int, by_i: float, by_j: float) -> complex:
        """Where edge i's line, moved outward, ends at the corner it shares with edge j."""
        if self.stepped(corner):
            return self.halving(i, corner, by_i)
        met = self.moved(i, j, by_i, by_j)
        return met if met is not None else self.at[corner] + by_i * self.out[i]

    def crossing(self, i: int, j: int, corner: int) -> complex:
        """Where edge i's fold line ends at the corner it shares with edge j: on j's fold line, unless stepped."""
        return self.moved_at(i, j, corner, self.line(i), self.line(j))

    def inside_angle(self, corner: int) -> float:
        turn = cmath.phase(self.way[corner] / self.way[corner - 1])
        return math.pi - turn

    def cut(self, i: int, j: int, corner: int) -> complex:
        """Outer corner of edge i's flap at a corner it shares with edge j: the least that must be snipped."""
        fold, other = self.fold[i], self.fold[j]
        assert fold is not None
        if self.stepped(corner):
            return self.halving(i, corner, fold.allowance)
        start = self.crossing(i, j, corner)
        away = self.way[i] if corner == i else -self.way[i]
        g = fold.allowance - fold.line
        a = math.radians(fold.turned)
        phi = self.inside_angle(corner)
        limits = []
        if other is not None:
            limits.append(-g * math.cos(phi / 2) / math.sin(phi / 2))  # flat: the line between the two flaps
        into = -self.out[j]
        if phi < math.pi - 1e-9:
            # folded: start + s away + g cos(a) out must stay on the inner side of the neighbour's fold line ...
            reach = g * math.cos(a)
            limits.append(-reach * dot(self.out[i], into) / dot(away, into))
            if fold.turned > 90:
                # ... and of its finished edge
                lands = self.at[corner] + fold.width * math.cos(a) * self.out[i]
                limits.append(
                    -dot(lands - self.at[corner], into) / dot(away, into) - dot(start - self.at[corner], away)
                )
        if other is not None and other.toward == fold.toward:
            limits += self._mitre(i, j, away, g, other)
        s = max(limits, default=0.0)
        return start + s * away + g * self.out[i]

    def _mitre(self, i: int, j: int, away: complex, g: float, other: Wanted) -> list[float]:
        fold = self.fold[i]
        assert fold is not None
        a, b = math.radians(fold.turned), math.radians(other.turned)
        along = self.way[j] if self.at_start(j, i) else -self.way[j]
        if abs(fold.turned - other.turned) < 1e-9:
            # by symmetry the flaps meet over the line that halves the corner
            half = away + along
            if abs(half) < 1e-9:
                return [0.0]
            reach = g * math.cos(a)
            across = half * 1j / abs(half)
            return [-reach * dot(self.out[i], across) / dot(away, across)] if abs(dot(away, across)) > 1e-9 else []
        # the neighbour's flap plane: normal = its edge x its flap direction
        ej, fj = along, self.out[j]
        flap_j = (fj.real * math.cos(b), fj.imag * math.cos(b), math.sin(b))
        normal = (ej.imag * flap_j[2], -ej.real * flap_j[2], ej.real * flap_j[1] - ej.imag * flap_j[0])
        oi = self.out[i]
        flap_i = (oi.real * math.cos(a), oi.imag * math.cos(a), math.sin(a))
        bottom = away.real * normal[0] + away.imag * normal[1]
        if abs(bottom) < 1e-9:
            return []
        s = -g * sum(x * y for x, y in zip(flap_i, normal, strict=True)) / bottom
        point = (s * away.real + g * flap_i[0], s * away.imag + g * flap_i[1], g * flap_i[2])
        # only where it lies on the neighbour's flap itself, not behind its fold line
        rise = point[0] * flap_j[0] + point[1] * flap_j[1] + point[2] * flap_j[2]
        return [s] if rise > 1e-9 * g else []

    def at_start(self, j: int, i: int) -> bool:
        """Whether edge j starts at the corner it shares with edge i."""
        return (i + 1) % self.n == j


def check_flat(p: FlatPattern, expect: Expected) -> list[str]:
    """Faults of a flat piece's geometry."""
    faults: list[str] = []
    corners = to_complex(p.finished.outline)
    if len(corners) != len(expect.corners):
        return [f"the finished outline has {len(corners)} corners, not {len(expect.corners)}"]
    shift = corners[0] - expect.corners[0]
    for i, (got, want) in enumerate(zip(corners, expect.corners, strict=True), 1):
        if abs(got - want - shift) > NEAR:
            faults.append(f"finished corner {i} is out of place by {abs(got - want - shift):.6f} in")
    if [f.edge for f in p.folds] != sorted(expect.folds):
        return [*faults, f"edges {[f.edge for f in p.folds]} are folded, not {sorted(expect.folds)}"]
    outline = _valid(p.outline, "sheared outline", faults)
    snipped = _valid(p.snipped, "snipped outline", faults)
    flaps = {f.edge: _valid(f.flap, f"flap {f.edge}", faults) for f in p.folds}
    if faults:
        return faults
    here = Corners([c + shift for c in expect.corners], expect)
    sheared = [(q + shift, n) for q, n in expect.sheared]
    snips = {k: (q + shift, n) for k, (q, n) in expect.snips.items()}
    faults += _outline(p, here, sheared)
    if faults:
        return faults
    over = clip.ring(_points(_panel(here, above=True)))
    panel = clip.ring(_points(_panel(here, above=False)))
    for line in snips.values():
        half = _half(line)
        panel, over = clip.largest(clip.intersection(panel, half)), clip.largest(clip.intersection(over, half))
    panel = clip.largest(clip.intersection(panel, outline))
    want_flaps = _flaps(p, here, outline, list(snips.values()), over)
    for f in p.folds:
        faults += _fold_line(p, here, f.edge)
        if clip.difference(flaps[f.edge], want_flaps[f.edge]).area > AREA:
            faults.append(f"flap {f.edge} takes metal its neighbours or the piece need")
        if clip.difference(want_flaps[f.edge], flaps[f.edge]).area > AREA:
            faults.append(f"flap {f.edge} is snipped more than it must be")
        if clip.overlap(flaps[f.edge], panel) > AREA:
            faults.append(f"flap {f.edge} shares metal with the panel")
        if f.turned == 180 and clip.difference(_mirrored(f.flap, f.line), _roomy(over)).area > AREA:
            faults.append(f"hem {f.edge} reaches past the panel when folded")
    faults += _pairs(p)
    total = panel.area + sum(s.area for s in flaps.values())
    if abs(snipped.area - total) > AREA * 10:
        faults.append("area of the blank after snipping is not the panel and its flaps")
    parts = clip.join([panel, *flaps.values()])
    if clip.apart(parts, snipped) > AREA * 10:
        faults.append("the snipped outline is not the panel and its flaps")
    faults += _notches(p, here, snips)
    return faults


def _valid(points: Polygon, what: str, faults: list[str]) -> Shape:
    if len(points) < 3:
        faults.append(f"the {what} has fewer than three corners")
        return Shape()
    shape = clip.shape(points)
    if not shape.is_valid or signed_area(points) <= 0:
        faults.append(f"the {what} crosses itself or runs clockwise")
    return shape


def _points(corners: Sequence[complex]) -> Polygon:
    return tuple((c.real, c.imag) for c in corners)


def _roomy(over: Shape) -> Shape:
    """What a hem may lie over, and 1/64 in round it: less is not worth a snip."""
    return over.buffer(1 / 64, join_style="mitre", mitre_limit=100)


def _point(c: complex) -> Point:
    return (c.real, c.imag)


def _half(line: Line) -> Shape:
    return clip.half_plane((line[0].real, line[0].imag), (line[1].real, line[1].imag), 1e4)


def _panel(here: Corners, *, above: bool) -> list[complex]:
    """Corners of the panel inside the fold lines; `above`: what a hem may lie over (finished edges count too)."""
    out: list[complex] = []
    for i in range(here.n):
        j = (i - 1) % here.n
        by = [max(here.line(k), 0.0) if above else here.line(k) for k in (j, i)]
        ends = here.moved_at(j, i, i, by[0], by[1]), here.moved_at(i, j, i, by[1], by[0])
        out += ends if abs(ends[0] - ends[1]) > 1e-9 else ends[:1]
    return out


def _outline(p: FlatPattern, here: Corners, sheared: Sequence[Line]) -> list[str]:
    """The sheared outline is the blank that the folds ask for, less what the piece is sheared along besides."""
    faults = []
    points: list[complex] = []
    for i in range(here.n):
        j = (i - 1) % here.n
        if here.drawn_in(i):
            points.append(here.cut(j, i, i) if here.fold[j] else here.at[i])
            if here.stepped(i) and here.fold[j] and here.fold[i]:
                points += [here.crossing(j, i, i), here.crossing(i, j, i)]
            elif here.stepped(i):
                points += [here.halving(j, i, max(here.line(j), 0.0)), here.halving(i, i, max(here.line(i), 0.0))]
            else:
                points.append(here.crossing(i, j, i))
            points.append(here.cut(i, j, i) if here.fold[i] else here.at[i])
            continue
        met = here.moved(j, i, here.allowance(j), here.allowance(i))
        if met is not None:
            points.append(met)
        else:
            points += [here.at[i] + here.allowance(k) * here.out[k] for k in (j, i)]
    # a slit, walked in and out again, encloses nothing
    blank: BaseGeometry = clip.largest(clip.shape(_points(points)).buffer(0))
    for line in sheared:
        blank = clip.intersection(blank, _half(line))
    own = clip.shape(p.outline)
    if clip.apart(own, blank) > AREA:
        faults.append("the sheared outline is not the blank the folds ask for")
    border = blank.boundary
    if any(border.distance(Spot(x, y)) > NEAR for x, y in p.outline):
        faults.append("a corner of the sheared outline is out of place")
    low = (min(x for x, _ in p.outline), min(y for _, y in p.outline))
    if max(abs(low[0]), abs(low[1])) > NEAR:
        faults.append("the blank does not start at (0, 0)")
    return faults


def _flaps(p: FlatPattern, here: Corners, outline: Shape, snips: Sequence[Line], over: Shape) -> dict[int, Shape]:
    """Flaps as they must be: from the fold line out, cut at both corners, inside the sheared outline and the snips.

    What a hem would reach over is the piece itself, mirrored outward about the fold line.
    """
    out = {}
    for f in p.folds:
        i, j = f.edge - 1, f.edge % here.n
        quad = [
            here.crossing(i, i - 1, i),
            here.cut(i, (i - 1) % here.n, i),
            here.cut(i, j, j),
            here.crossing(i, j, j),
        ]
        shape = clip.intersection(clip.shape(_points(quad)), outline)
        for line in snips:
            shape = clip.intersection(shape, _half(line))
        if f.turned == 180 and not shape.is_empty:
            foot = (_point(here.crossing(i, i - 1, i)), _point(here.crossing(i, j, j)))
            if clip.difference(_mirrored(clip.corners(clip.largest(shape)), foot), _roomy(over)).area > 1e-7:
                shape = clip.intersection(shape, _mirrored(clip.corners(over), foot))
        out[f.edge] = clip.largest(shape)
    return out


def _fold_line(p: FlatPattern, here: Corners, edge: int) -> list[str]:
    fold = next(f for f in p.folds if f.edge == edge)
    i = edge - 1
    faults = []
    ends = to_complex(fold.line)
    if any(abs(dot(e - here.at[i], here.out[i]) - here.line(i)) > NEAR for e in ends):
        faults.append(f"the fold line of edge {edge} is out of place")
    if dot(ends[1] - ends[0], here.way[i]) <= 0:
        faults.append(f"the fold line of edge {edge} runs backward")
    base = [
        dot(c - here.at[i], here.way[i])
        for c in to_complex(fold.flap)
        if abs(dot(c - here.at[i], here.out[i]) - here.line(i)) < NEAR
    ]
    run = [dot(e - here.at[i], here.way[i]) for e in ends]
    if not base or abs(min(base) - run[0]) > NEAR or abs(max(base) - run[1]) > NEAR:
        faults.append(f"the fold line of edge {edge} is not the foot of its flap")
    return faults


def _mirrored(flap: Polygon, line: tuple[Point, Point]) -> Shape:
    a, b = to_complex(line)
    unit = (b - a) / abs(b - a)
    return clip.shape(_points([a + ((c - a) / unit).conjugate() * unit for c in to_complex(flap)]))


def _pairs(p: FlatPattern) -> list[str]:
    faults = []
    for k, f in enumerate(p.folds):
        for g in p.folds[k + 1 :]:
            if clip.overlap(clip.shape(f.flap), clip.shape(g.flap)) > AREA:
                faults.append(f"flaps {f.edge} and {g.edge} share metal")
            if f.turned == g.turned == 180 and f.toward == g.toward:
                both = clip.overlap(_mirrored(f.flap, f.line), _mirrored(g.flap, g.line))
                if both > AREA:
                    faults.append(f"hems {f.edge} and {g.edge} lie on each other when folded")
    return faults


def _notches(p: FlatPattern, here: Corners, snips: dict[int, Line]) -> list[str]:
    faults: list[str] = []
    off = clip.difference(clip.shape(p.outline), clip.shape(p.snipped))
    if any(n.removed and (len(n.removed) < 3 or signed_area(n.removed) <= 0) for n in p.notches):
        return ["a notch has no area or runs clockwise"]
    shapes = [clip.shape(n.removed) for n in p.notches if n.removed]
    if any(not s.is_valid for s in shapes):
        return ["a notch crosses itself"]
    if [n.corner for n in p.notches] != sorted(n.corner for n in p.notches):
        faults.append("the notches are not in order of corner")
    told = clip.join(shapes)
    if abs(sum(s.area for s in shapes) - told.area) > AREA:
        faults.append("two notches take the same metal")
    if clip.apart(told, off) > AREA * 10:
        faults.append("the notches are not what is missing from the sheared outline")
    if clip.difference(clip.shape(p.snipped), clip.shape(p.outline)).area > AREA:
        faults.append("the snipped outline reaches past the sheared one")
    for n in p.notches:
        if not 1 <= n.corner <= here.n:
            faults.append(f"there is no corner {n.corner}")
            continue
        faults += _notch(p, here, n, snips.get(n.corner))
    outline = clip.shape(p.outline)
    bare = [
        c
        for c in range(1, here.n + 1)
        if _parts_on_a_line(here, c - 1, outline)
        if c not in snips and not any(n.corner == c and n.removed for n in p.notches)
    ]
    slits = [n.corner for n in p.notches if not n.removed]
    if slits != bare:
        faults.append(f"slits at corners {slits}, not {bare}")
    return faults


def _parts_on_a_line(here: Corners, corner: int, outline: Shape) -> bool:
    """Whether a corner where nothing falls off needs a slit between two flaps, from the crossing of the fold lines."""
    j = (corner - 1) % here.n
    if here.fold[j] is None or here.fold[corner] is None:
        return False
    if not here.drawn_in(corner):
        return bool(outline.contains(Spot(_point(here.crossing(corner, j, corner)))))
    start = here.at[corner] if here.stepped(corner) else here.crossing(corner, j, corner)
    one, other = here.cut(j, corner, corner) - start, here.cut(corner, j, corner) - start
    return abs(cross(one, other)) < 1e-8 * abs(one) * abs(other) and dot(one, other) > 0


def _notch(p: FlatPattern, here: Corners, n: Notch, snip: Line | None) -> list[str]:
    faults = []
    c = n.corner - 1
    crossing = here.crossing(c, c - 1, c)
    before, after = c - 1, c
    tips = []
    legs = []
    for i in (before, after):
        q = here.at[i] + here.allowance(i) * here.out[i]
        side = [v for v in to_complex(p.outline) if abs(dot(v - q, here.out[i])) < NEAR]
        run = [dot(v - here.at[i], here.way[i]) for v in side]
        ahead = max if i == before else min
        tip = side[run.index(ahead(run))] if side else crossing
        tips.append(tip)
        reach = [abs(v - tip) for v in to_complex(n.removed) if abs(dot(v - q, here.out[i])) < NEAR]
        legs.append(max(reach, default=0.0))
    if snip is not None:
        depth = max((dot(v - snip[0], snip[1]) for v in to_complex(n.removed)), default=0.0)
    else:
        depth = max(abs(t - crossing) for t in tips)
    if abs(depth - n.depth) > NEAR:
        faults.append(f"notch {n.corner} is {n.depth:.6f} deep, not {depth:.6f}")
    if max(abs(n.legs[0] - legs[0]), abs(n.legs[1] - legs[1])) > NEAR:
        faults.append(f"legs of notch {n.corner} are {n.legs}, not {tuple(legs)}")
    if n.removed:
        middle = clip.shape(n.removed).centroid
        nearest = min(range(here.n), key=lambda k: abs(here.crossing(k, k - 1, k) - complex(middle.x, middle.y)))
        if nearest != c:
            faults.append(f"notch {n.corner} lies at corner {nearest + 1}")
    kind = _kind(here, n, crossing, snip)
    if n.kind != kind:
        faults.append(f"notch {n.corner} is a {kind}, not a {n.kind}")
    return faults


def _kind(here: Corners, n: Notch, crossing: complex, snip: Line | None) -> str:
    """Kind of a notch by how much of a full turn round the crossing it takes."""
    if snip is not None:
        return "side snip"
    if not n.removed:
        return "slit"
    if not (here.fold[n.corner - 2] and here.fold[n.corner - 1]):
        return "slant"
    disc = clip.shape(_points([crossing + 1e-3 * cmath.exp(2j * math.pi * k / 240) for k in range(240)]))
    share = clip.overlap(disc, clip.shape(n.removed)) / disc.area * 360
    square = abs(math.degrees(here.inside_angle(n.corner - 1)) - 90) < 0.5
    if abs(share - 180) < 1.0:
        return "45-degree" if square else "straight snip"
    if share > 180:
        return "point"
    return "square" if square and abs(share - 90) < 3 else "V"
