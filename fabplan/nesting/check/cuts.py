"""Carry out a layout's cuts on the table and see what is left."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import chain

import numpy as np
import numpy.typing as npt
import shapely

from fabplan.job.model import Job
from fabplan.nesting.model import Cut, Layout, Placed
from fabplan.units import NM_PER_INCH, to_grid

XY = tuple[float, float]
Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]
ON = 1e-4  # graduations
_ONE = 1.0 - 1e-4
_EIGHTH = NM_PER_INCH // 8  # no thinner trim is cut to a line: common practice, no source


@dataclass(frozen=True, slots=True)
class CheckedLimits:
    """The shear's limits in graduations."""

    longest_cut: int
    reach: int
    to_mark: bool
    least_held: int
    angles: tuple[float, float]
    kerf: int
    least_gauge: int = 1
    least_scribed: int = 1
    least_pull: int = 0

    @classmethod
    def of(cls, job: Job, grid: int) -> CheckedLimits:
        """Read from the job: lengths rounded down, least held and kerf up."""
        s = job.shear
        return cls(
            to_grid(s.longest_cut, grid, "down"),
            to_grid(s.back_gauge_reach, grid, "down"),
            s.coil_cut_off == "scribed",
            to_grid(s.least_held, grid, "up"),
            s.angle_stop,
            to_grid(s.kerf, grid, "up"),
            max(1, to_grid(s.least_gauge, grid, "up")),
            max(1, to_grid(min(s.least_gauge, max(_EIGHTH, s.width_tolerance)), grid, "up")),
            to_grid(s.least_pull, grid, "up"),
        )


def hull(ring: Sequence[XY]) -> shapely.Polygon:
    """Convex hull of an outline: what straight cuts can make of it."""
    out = shapely.convex_hull(shapely.Polygon(ring))
    assert isinstance(out, shapely.Polygon)
    return out


def same_ring(a: Sequence[XY], b: Sequence[XY]) -> bool:
    """Whether two convex rings have the same corners, in any order."""
    return _every_near(a, b) and _every_near(b, a)


def _every_near(a: Sequence[XY], b: Sequence[XY]) -> bool:
    return all(any(abs(x - u) <= ON and abs(y - v) <= ON for u, v in b) for x, y in a)


@dataclass(frozen=True, slots=True)
class Parted:
    """One cut made: the piece it parts, what is left of it, and the cut that freed the piece."""

    on: list[XY]
    left: tuple[list[XY], ...]
    after: int | None


class PiecesOnTable:
    """The pieces on the table while one layout is cut, each under a number of its own.

    Where a cut says which cut freed its metal, that metal is looked at first and all the rest only when it is not
    there: what is found is proved by its edges all the same.
    """

    def __init__(self, layout: Layout, shop: CheckedLimits, keep: tuple[int, int] | None) -> None:
        self.layout, self.shop, self.keep = layout, shop, keep
        w, h = float(layout.width), float(layout.length)
        self.parents: list[int | None] = []
        self.pieces: dict[int, list[XY]] = {0: [(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)]}
        self.last: Parted | None = None
        self._freed_by: dict[int, int | None] = {0: None}
        self._of_cut: dict[int | None, list[int]] = {None: [0]}
        self._made = 1
        self._corners, self._middles = _shapes(layout.blanks)
        self._holds = {0: np.arange(len(layout.blanks))}  # blanks in each piece

    def cut_off(self, step: int) -> None:
        """The panel is cut off the coil: it lies on the table whole."""
        self.parents.append(None)
        self._freed_by, self._of_cut = {0: step}, {step: [0]}

    def faults(self, rectangular: Sequence[bool]) -> list[str]:
        """Faults of the cuts, the blanks they free and the leftovers; `rectangular` of each blank in order."""
        cuts = list(self.layout.cuts)
        out = []
        if [c.step for c in cuts] != list(range(1, len(cuts) + 1)):
            return ["the cuts are not numbered in order"]
        if self.layout.form == "coil":
            if not cuts:
                return ["the panel is never cut off"]
            out += self._cut_off(cuts.pop(0))
            self.cut_off(1)
        for cut in cuts:
            said = self.cut(cut)
            if said:
                out.append(f"cut {cut.step}: {said}")
                if len(out) > 5:
                    return out
        return out or self._left_over(rectangular)

    def _cut_off(self, cut: Cut) -> list[str]:
        w, h = float(self.layout.width), float(self.layout.length)
        out = []
        if not same_ring([cut.start, cut.end], [(0.0, h), (w, h)]) or cut.angle != 90:
            out.append("cut 1: the panel is not cut off square at its length")
        if w > self.shop.longest_cut:
            out.append("cut 1: longer than the shear cuts")
        if self.shop.to_mark:
            if cut.back_gauge is not None:
                out.append("cut 1: coil is cut off to a mark here")
        elif cut.back_gauge != self.layout.length or self.layout.length > self.shop.reach:
            out.append("cut 1: the back gauge is not at the panel's length, or does not reach")
        if cut.held < self.shop.least_held:
            out.append("cut 1: too little metal held")
        return out

    def cut(self, cut: Cut) -> str:
        """Make one cut; the fault, or nothing. `last` is then what it parted, None when it cannot be made."""
        self.last = None
        length = math.dist(cut.start, cut.end)
        if length <= ON:
            return "has no length"
        if length > self.shop.longest_cut + ON:
            return "longer than the shear cuts"
        number = self._piece_under(cut)
        if number is None:
            return "does not run from edge to edge of one piece"
        ring = self.pieces[number]
        n = ((cut.end[1] - cut.start[1]) / length, -(cut.end[0] - cut.start[0]) / length)
        c = n[0] * cut.start[0] + n[1] * cut.start[1]
        near = _half(ring, n, c)
        far = _half(ring, (-n[0], -n[1]), -(c + self.shop.kerf))
        below = max((c - n[0] * x - n[1] * y for x, y in near), default=0.0)
        above = max((n[0] * x + n[1] * y - c - self.shop.kerf for x, y in far), default=0.0)
        inside = [self._inside(part, self._holds[number]) for part in (near, far)]
        grips = self._grip(inside[0], n), self._grip(inside[1], n)
        said = self._gauge_fault(cut, (below, above), grips) or self._angle_fault(cut, ring)
        made = [
            part for part, deep in zip(((near, inside[0]), (far, inside[1])), (below, above), strict=True) if deep > ON
        ]
        self._part(number, cut.step, made)
        return said

    def _part(self, number: int, step: int, made: Sequence[tuple[list[XY], Ints]]) -> None:
        after = self._freed_by.pop(number)
        self.parents.append(after)
        self._of_cut[after].remove(number)
        self.last = Parted(self.pieces.pop(number), tuple(ring for ring, _ in made), after)
        del self._holds[number]
        for ring, holds in made:
            self.pieces[self._made], self._holds[self._made] = ring, holds
            self._freed_by[self._made] = step
            self._of_cut.setdefault(step, []).append(self._made)
            self._made += 1

    def _piece_under(self, cut: Cut) -> int | None:
        middle = ((cut.start[0] + cut.end[0]) / 2, (cut.start[1] + cut.end[1]) / 2)
        likely = self._of_cut.get(cut.after, [])
        rest = (k for k in self.pieces if k not in likely)
        for k in chain(likely, rest):
            ring = self.pieces[k]
            skim = self.shop.kerf > 0 and _depth(ring, middle) >= -ON
            if not (_depth(ring, middle) > ON or skim):
                continue
            if abs(_depth(ring, cut.start)) <= 10 * ON and abs(_depth(ring, cut.end)) <= 10 * ON:
                return k
        return None

    def _inside(self, ring: Sequence[XY], of: Ints) -> Ints:
        """Which of these blanks have the middle of their box in a convex counter-clockwise ring."""
        at, keep = self._middles[of], np.full(len(of), len(ring) > 2)
        for p, q in zip(ring, (*ring[1:], *ring[:1]), strict=True):
            if math.dist(p, q) > ON:
                keep &= (q[0] - p[0]) * (at[:, 1] - p[1]) - (q[1] - p[1]) * (at[:, 0] - p[0]) > 0
        held: Ints = of[keep]
        return held

    def _grip(self, blanks: Ints, n: XY) -> float:
        """Least width of a part that can be held: the shop's, or a narrow blank's own; scrap has no exemption."""
        least = float(self.shop.least_held)
        if not blanks.size:
            return least
        along = self._corners[blanks] @ np.array(n)
        return min(least, float((along.max(axis=1) - along.min(axis=1)).min()))

    def _gauge_fault(self, cut: Cut, sizes: tuple[float, float], grips: tuple[float, float]) -> str:
        shop = self.shop
        below, above = sizes
        sides = [(below, above, grips[1]), (above, below, grips[0])]
        if shop.kerf and min(below, above) <= ON:  # the saw turns the trim to dust: the piece lies on the gauge
            sides = [(max(below, above), max(below, above), float(shop.least_held))]
        can = [
            (drop, held)
            for drop, held, grip in sides
            if abs(drop - round(drop)) <= ON and shop.least_gauge <= round(drop) <= shop.reach and held >= grip - ON
        ]
        if cut.back_gauge is None:
            if can:
                return "is cut to a mark where the back gauge serves"
            grasped = any(
                size >= grip - ON and -ON <= size - cut.held < 1 for size, grip in zip(sizes, grips, strict=True)
            )
            if not grasped:
                return "leaves too little metal to hold"
            if ON < min(sizes) < shop.least_scribed - 1e-2:
                return "takes off less than can be cut to a line"
            return ""
        for drop, held in can:
            if round(drop) == cut.back_gauge and -ON <= held - cut.held < 1:
                return ""
        if cut.back_gauge > shop.reach:
            return "is beyond the back gauge's reach"
        if cut.back_gauge < shop.least_gauge:
            return "is nearer than the back gauge is set"
        return "has the wrong back-gauge setting or leaves too little metal held"

    def _angle_fault(self, cut: Cut, ring: Sequence[XY]) -> str:
        low, high = self.shop.angles
        if not low - ON <= cut.angle <= high + ON:
            return "is beyond the angle stop"
        run = math.degrees(math.atan2(cut.end[1] - cut.start[1], cut.end[0] - cut.start[0]))
        for p, q in zip(ring, (*ring[1:], ring[0]), strict=True):
            if math.dist(p, q) <= ON or min(_off(p, q, cut.start), _off(p, q, cut.end)) > 10 * ON:
                continue
            angle = (run - math.degrees(math.atan2(q[1] - p[1], q[0] - p[0]))) % 180
            if min(abs(angle - cut.angle), 180 - abs(angle - cut.angle)) <= 1e-3:
                return ""
        return "does not lie at its angle to the edge against the stop"

    def _left_over(self, rectangular: Sequence[bool]) -> list[str]:
        """What lies on the table at the end, against the blanks and leftovers listed."""
        out = []
        left = dict(self.pieces)
        at: dict[tuple[int, int], list[int]] = {}
        for k, ring in left.items():
            at.setdefault(_corner(ring), []).append(k)

        def take(x: int, y: int, is_it: Callable[[list[XY]], bool]) -> bool:
            """Take the piece with its lower left about there off the table."""
            near = (k for dx in (0, -1, 1) for dy in (0, -1, 1) for k in at.get((x + dx, y + dy), ()))
            k = next((k for k in near if k in left and is_it(left[k])), None)
            if k is not None:
                del left[k]
            return k is not None

        for b, plain in zip(self.layout.blanks, rectangular, strict=True):
            if not take(b.x, b.y, partial(_is_blank, b=b, plain=plain)):
                out.append(f"the cuts do not free {b.mark} at ({b.x}, {b.y})")
        for o in self.layout.offcuts:
            if not take(o.x, o.y, partial(same_ring, _rectangle(o.x, o.y, o.width, o.length))):
                out.append(f"no leftover of {o.width} x {o.length} lies at ({o.x}, {o.y})")
            if o.keep != self._worth_keeping(o.width, o.length):
                out.append(f"the leftover at ({o.x}, {o.y}) is kept or binned against the rule")
        for ring in left.values():
            xs, ys = [p[0] for p in ring], [p[1] for p in ring]
            box = [(min(xs), min(ys)), (max(xs), min(ys)), (max(xs), max(ys)), (min(xs), max(ys))]
            if same_ring(ring, box) and self._worth_keeping(max(xs) - min(xs), max(ys) - min(ys)):
                out.append(f"a leftover worth keeping at ({min(xs):g}, {min(ys):g}) is not listed")
        return out

    def _worth_keeping(self, width: float, length: float) -> bool:
        if self.keep is None:
            return False
        return min(width, length) >= self.keep[0] and max(width, length) >= self.keep[1]


def parents(layout: Layout, shop: CheckedLimits) -> list[int | None]:
    """For each cut of a layout that holds, the cut that freed the piece it is made on (None = the stock itself)."""
    table = PiecesOnTable(layout, shop, None)
    for cut in layout.cuts:
        if layout.form == "coil" and cut.step == 1:
            table.cut_off(1)
        else:
            table.cut(cut)
    return table.parents


def _shapes(blanks: Sequence[Placed]) -> tuple[Floats, Floats]:
    """(blanks, corners, 2) of their outlines, the last corner said again where there are fewer; middles of boxes."""
    rings = [b.outline or _rectangle(b.x, b.y, b.width, b.length) for b in blanks]
    most = max((len(r) for r in rings), default=1)
    corners = np.array([[*r, *[r[-1]] * (most - len(r))] for r in rings], dtype=np.float64).reshape(-1, most, 2)
    middles = np.array([(b.x + b.width / 2, b.y + b.length / 2) for b in blanks], dtype=np.float64).reshape(-1, 2)
    return corners, middles


def _corner(ring: Sequence[XY]) -> tuple[int, int]:
    """Lower left of a piece's box, on the grid."""
    return math.floor(min(x for x, _ in ring) + ON), math.floor(min(y for _, y in ring) + ON)


def _rectangle(x: int, y: int, w: int, h: int) -> list[XY]:
    return [(float(x), float(y)), (float(x + w), float(y)), (float(x + w), float(y + h)), (float(x), float(y + h))]


def _is_blank(ring: Sequence[XY], b: Placed, plain: bool) -> bool:
    """Whether a piece on the table is this blank; slanted edges may stand proud by less than one graduation.

    Its box is the blank only where the plan says that the sides are snipped at the bench.
    """
    if plain or b.boxed:
        return same_ring(ring, _rectangle(b.x, b.y, b.width, b.length))
    assert b.outline is not None
    shape = [(x, y) for x, y in list(hull(b.outline).exterior.coords)[:-1]]
    if shapely.Polygon(shape).exterior.is_ccw is False:
        shape.reverse()
    if any(_depth(ring, (x, y)) < -10 * ON for x, y in shape):
        return False
    return all(
        _off_line(p, q, corner) < _ONE + 1e-2
        for p, q in zip(shape, (*shape[1:], shape[0]), strict=True)
        for corner in ring
    )


def _off_line(p: XY, q: XY, at: XY) -> float:
    """How far a point lies outside the line p to q of a counter-clockwise outline (negative inside)."""
    span = math.dist(p, q)
    if span <= ON:
        return 0.0
    return ((q[1] - p[1]) * (at[0] - p[0]) - (q[0] - p[0]) * (at[1] - p[1])) / span


def _depth(ring: Sequence[XY], at: XY) -> float:
    """How deep a point lies inside a convex counter-clockwise ring (negative outside)."""
    return min(-_off_line(p, q, at) for p, q in zip(ring, (*ring[1:], ring[0]), strict=True) if math.dist(p, q) > ON)


def _off(p: XY, q: XY, at: XY) -> float:
    """Distance of a point from a segment."""
    span = math.dist(p, q)
    along = ((at[0] - p[0]) * (q[0] - p[0]) + (at[1] - p[1]) * (q[1] - p[1])) / span
    along = min(max(along, 0.0), span)
    return math.dist(at, (p[0] + along * (q[0] - p[0]) / span, p[1] + along * (q[1] - p[1]) / span))


def _half(ring: Sequence[XY], n: XY, c: float) -> list[XY]:
    """The part of a convex ring where `n . p <= c`."""
    out: list[XY] = []
    for p, q in zip(ring, (*ring[1:], ring[0]), strict=True):
        a, b = n[0] * p[0] + n[1] * p[1] - c, n[0] * q[0] + n[1] * q[1] - c
        if a <= ON:
            out.append(p)
        if (a < -ON and b > ON) or (a > ON and b < -ON):
            out.append((p[0] + a / (a - b) * (q[0] - p[0]), p[1] + a / (a - b) * (q[1] - p[1])))
    return out
