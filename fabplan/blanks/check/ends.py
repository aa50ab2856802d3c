"""Proves the turned ends of a section: the blank is folded in space, and corners, tabs and heights are measured there.

Frame of one end: x across the strip, v out of the finished end, z to the side the end is turned to, from the inside
face of the leg that is turned.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from fabplan.blanks import clip
from fabplan.blanks.check.bend import EXACT, NEAR, Wanted, check_fold
from fabplan.blanks.check.shape import PieceFolds
from fabplan.blanks.model import EndTurn, FlatPattern, Fold, Point
from fabplan.check_plane import signed_area
from fabplan.job.kinds import ends as asked
from fabplan.job.model import SectionPiece
from fabplan.units import NM_PER_INCH, NM_PER_MM

LAP = 0.25  # inches a tab goes over the dam past an open corner
Floats = NDArray[np.float64]
Ask = tuple[Literal["end dam", "return"], asked.TurnedEnd]


@dataclass(frozen=True, slots=True, kw_only=True)
class EndStrip:
    """The section as worked out again: outside legs, wanted bends, marks, hems at its start."""

    legs: list[float]
    bends: list[Wanted]
    marks: list[float]
    first: int
    width: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BesideLeg:
    """What is beside a turned leg: its bend, mark, and which way it lies."""

    bend: Wanted | None
    mark: float
    sense: int
    hem: bool
    same: bool

    def u(self, x: float) -> float:
        return (x - self.mark) * self.sense

    def leg(self, u: float, v: float) -> Floats:
        """The inside face of the leg, at a place of the blank beyond the bend."""
        assert self.bend is not None
        turned, r = math.radians(self.bend.turned), self.bend.radius
        d = u - _half(self.bend)
        out = -_half(self.bend) + r * math.sin(turned) + d * math.cos(turned)
        return np.array([self.mark + self.sense * out, v, r * (1 - math.cos(turned)) + d * math.sin(turned)])

    @property
    def normal(self) -> Floats:
        """Square to the leg's inside face, into the strip."""
        assert self.bend is not None
        turned = math.radians(self.bend.turned)
        return np.array([-self.sense * math.sin(turned), 0.0, math.cos(turned)])


def _half(bend: Wanted) -> float:
    return (2 * bend.setback - bend.deduction) / 2


def blank_length(p: FlatPattern, piece: SectionPiece, shop: PieceFolds) -> tuple[list[str], int, tuple[float, float]]:
    """Faults, graduations of the blank's length, and where the finished ends lie on it, from what its turns take."""
    finished = piece.length / NM_PER_INCH
    low, high = _between(p, finished)
    h, faults = p.length_units * shop.step, []
    for at, reach in (("A", low), ("B", h - high)):
        taken = [_taken(shop, spec) for _, spec in _all(piece) if at in spec.ends]
        border = [_v(p, at, y, finished) for _, y in _border(p, at)]
        if abs(max(border) - reach) > NEAR or reach < max(taken, default=0.0) - shop.step / 2 - NEAR:
            faults.append(f"end {at} of the blank is not where what is turned ends")
        if not taken and abs(reach) > NEAR:
            faults.append(f"the blank goes on beyond the plain end {at}")
    if p.parts != 1:
        faults.append("a strip with turned ends is made in one")
    return faults, p.length_units, (low, high)


def _between(p: FlatPattern, finished: float) -> tuple[float, float]:
    """Finished ends on the blank, told by the fold lines of what is turned."""
    for end in p.ends:
        y = end.fold.line[0][1]
        if end.at == "A":
            low = y - end.fold.deduction / 2
            return low, low + finished
        return y + end.fold.deduction / 2 - finished, y + end.fold.deduction / 2
    return 0.0, finished


def _v(p: FlatPattern, at: str, y: float, finished: float) -> float:
    low, high = _between(p, finished)
    return low - y if at == "A" else y - high


def _border(p: FlatPattern, at: str) -> list[Point]:
    """The corners of the snipped blank at one end: those in the half toward it."""
    middle = max(y for _, y in p.snipped) / 2
    return [q for q in p.snipped if (q[1] < middle) == (at == "A")]


def _taken(shop: PieceFolds, spec: asked.TurnedEnd) -> float:
    size = spec.size / NM_PER_INCH
    return size - shop.fold(size, "face", spec.turned).deduction


def _all(piece: SectionPiece) -> list[Ask]:
    return [*(("end dam", d) for d in piece.end_dams), *(("return", r) for r in piece.returns)]


def check_ends(p: FlatPattern, shop: PieceFolds, piece: SectionPiece, strip: EndStrip) -> list[str]:
    """Faults of the turned ends of a section."""
    wanted = [
        (what, at, spec)
        for at in ("A", "B")
        for what, spec in sorted((ask for ask in _all(piece) if at in ask[1].ends), key=lambda a: a[1].leg)
    ]
    if [(e.what, e.at, e.leg) for e in p.ends] != [(what, at, spec.leg) for what, at, spec in wanted]:
        return ["the turned ends are not those asked for"]
    if [f.edge for f in p.end_folds] != list(range(len(strip.bends) + 1, len(strip.bends) + 1 + len(p.end_folds))):
        return ["the folds of the ends are not numbered on from the bends"]
    faults = []
    for end, (_, _, spec) in zip(p.ends, wanted, strict=True):
        name = f"{end.what} of leg {end.leg} at end {end.at}"
        faults += [f"{name}: {fault}" for fault in _One(p, shop, piece, strip, end, spec).faults()]
    return faults + _metal(p, shop, piece, strip)


class _One:
    """One turned end, folded in space."""

    def __init__(
        self,
        p: FlatPattern,
        shop: PieceFolds,
        piece: SectionPiece,
        strip: EndStrip,
        end: EndTurn,
        spec: asked.TurnedEnd,
    ) -> None:
        self.p, self.shop, self.piece, self.strip, self.end, self.spec = p, shop, piece, strip, end, spec
        self.size, self.t = spec.size / NM_PER_INCH, shop.metal.thickness
        self.clear = 1 / 32 if shop.job.info.units == "in" else NM_PER_MM / NM_PER_INCH
        self.index = spec.leg - 1 + strip.first
        self.fold = shop.fold(self.size, end.fold.toward, spec.turned)
        self.sides = [self._side(-1), self._side(1)]
        phi = math.radians(spec.turned)
        self.along = np.array([0.0, math.cos(phi), math.sin(phi)])
        self.out = np.array([0.0, math.sin(phi), -math.cos(phi)])

    def _side(self, sense: int) -> BesideLeg:
        k = self.index - 1 if sense < 0 else self.index
        if not 0 <= k < len(self.strip.bends):
            return BesideLeg(bend=None, mark=0.0 if sense < 0 else self.strip.width, sense=sense, hem=False, same=False)
        bend = self.strip.bends[k]
        hem, toward = bend.turned == 180, self.end.fold.toward
        return BesideLeg(
            bend=bend, mark=self.strip.marks[k], sense=sense, hem=hem, same=bend.toward == toward and not hem
        )  # fmt: skip

    def at(self, q: Point) -> Point:
        """A point of the blank in the frame of the end."""
        return q[0], _v(self.p, self.end.at, q[1], self.piece.length / NM_PER_INCH)

    def stands(self, q: Point) -> Floats:
        """Where a point of the flap comes to lie, on its inside face."""
        x, v = self.at(q)
        s = v + self.fold.deduction / 2 - _half(self.fold)
        return np.array([x, -self.fold.setback, 0.0]) + s * self.along

    def faults(self) -> list[str]:
        end, faults = self.end, []
        sides = {s.bend.toward for s in self.sides if s.bend is not None and not s.hem}
        if self.spec.toward is None and sides != {end.fold.toward}:
            faults.append("it is turned to another side than the legs beside it stand to")
        if self.spec.toward is not None and end.fold.toward != self.spec.toward:
            faults.append("it is turned to the other side")
        faults += check_fold(end.fold, self.fold, section=False)
        faults += self._flap()
        expected = [s for s in self.sides if s.same]
        tabs = list(end.tabs)
        if tabs and len(tabs) != len(expected):
            return [*faults, f"{len(tabs)} tabs at {len(expected)} corners"]
        typed = self.spec.tabs
        if bool(tabs) != bool(expected and (typed if typed is not None else end.what == "end dam")):
            faults.append("its tabs are not as asked for")
        for n, side in enumerate(expected):
            faults += self._corner(side, tabs[n] if tabs else None)
        return faults + self._joint(expected)

    def _flap(self) -> list[str]:
        """Its raw edge is as far from its fold as asked for, level, and each side clear of what is beside it."""
        low_left, low_right, high_right, high_left = self.end.fold.flap
        faults = []
        most = self.shop.step / 2 + NEAR
        for q in (high_left, high_right):
            long = float((self.stands(q) - self.stands(low_left)) @ self.along)
            if abs(long - self._straight()) > most:
                faults.append(f"it comes out {long - self._straight():+.4f} in higher than asked for")
        if any(abs(self.at(q)[1] + self.fold.deduction / 2) > NEAR for q in (low_left, low_right)):
            faults.append("its fold line is not at the finished end")
        for side, foot, top in ((self.sides[0], low_left, high_left), (self.sides[1], low_right, high_right)):
            if side.bend is None:
                if any(abs(q[0] - side.mark) > NEAR for q in (foot, top)):
                    faults.append("it does not reach the raw edge beside it")
                continue
            root = side.u(foot[0])
            clear = self.clear if side.same else 0.0
            if abs(root + _half(side.bend) + clear) > NEAR:
                faults.append(f"its flap begins {root:.4f} in from the bend beside it")
            if side.same:
                faults += self._gap(side, top)
            elif abs(side.u(top[0]) - root) > NEAR:
                faults.append("its side is not square to the fold")
        return faults

    def _straight(self) -> float:
        """From the fold line to the raw edge, on the flap's inside, as `stands` measures it."""
        return self.size - self.fold.setback + _half(self.fold)

    def _gap(self, side: BesideLeg, top: Point) -> list[str]:
        """The raw corner's clearance of the leg beside it: kept where that leans in, and never under it."""
        assert side.bend is not None
        away = float((self.stands(top) - side.leg(_half(side.bend), 0.0)) @ side.normal)
        faults = []
        turned = math.radians(side.bend.turned)
        rounded = self.shop.step / 2 * max(0.0, -math.cos(turned))  # of the raw edge, which leans in with the leg
        if away < self.clear * math.sin(turned) - rounded - NEAR:
            faults.append(f"its corner comes within {away:.4f} in of the leg beside it")
        # the flap begins where the bend ends, and its sides are straight
        most = self.clear + side.bend.radius * math.tan(turned / 2) * math.sin(turned) + self.shop.step
        if side.bend.turned >= 90 and away > most:
            faults.append(f"its corner stays {away:.4f} in off the leg beside it")
        return faults

    def _corner(self, side: BesideLeg, tab: Fold | None) -> list[str]:
        """The leg beside it ends on its outside, and the tab lies on it."""
        assert side.bend is not None
        faults = []
        outside = self.stands(self.end.fold.flap[0]) + self.t * self.out
        rise = (self.size - self.fold.setback) * math.sin(math.radians(self.spec.turned))
        tab_us = [side.u(q[0]) for q in tab.flap] if tab is not None else []
        for q in _border(self.p, self.end.at):
            x, v = self.at(q)
            u = side.u(x)
            leg = side.leg(u, v)
            if not _half(side.bend) - NEAR <= u <= self._far(side) - NEAR or leg[2] > rise + NEAR:
                continue
            if tab is not None and min(tab_us) - NEAR <= u <= max(tab_us) + NEAR:
                continue
            if abs(float((leg - outside) @ self.out)) > NEAR:
                faults.append("the leg beside it does not end on its outside")
        return faults + (self._tab(side, tab, outside) if tab is not None else [])

    def _far(self, side: BesideLeg) -> float:
        """How far the leg beside it goes, in u."""
        assert side.bend is not None
        k = self.strip.marks.index(side.mark) + side.sense
        if not 0 <= k < len(self.strip.marks):
            return side.u(0.0 if side.sense < 0 else self.strip.width)
        both = any(e.at == self.end.at and e.leg == self.end.leg + 2 * side.sense for e in self.p.ends)
        far = side.u(self.strip.marks[k])
        return far / 2 if both else far - _half(self.strip.bends[k])

    def _tab(self, side: BesideLeg, tab: Fold, outside: Floats) -> list[str]:
        assert side.bend is not None
        faults = []
        wide = tab.width
        if self.spec.tabs is not None and abs(wide - self.spec.tabs / NM_PER_INCH) > EXACT:
            faults.append("a tab is not as wide as asked for")
        want = self.shop.fold(wide, self.end.fold.toward, tab.turned)
        faults += check_fold(tab, want, section=False)
        (x0, v0), (x1, v1), (x2, v2), (x3, v3) = (self.at(q) for q in tab.flap)
        # the line where its bend begins lies on the outside of what is turned
        line = np.array([x1 - x0, v1 - v0])
        square = np.array([-line[1], line[0]]) / math.hypot(*line)
        square = square if square[1] > 0 else -square
        starts = [np.array(q) - _half(want) * square for q in ((x0, v0), (x1, v1))]
        on = [side.leg(side.u(float(x)), float(v)) for x, v in starts]
        if any(abs(float((place - outside) @ self.out)) > NEAR for place in on):
            faults.append("a tab's bend does not begin on the outside of what it lies on")
        raws = [float((np.array(q) - starts[0]) @ square) for q in ((x2, v2), (x3, v3))]
        if any(abs(raw - (wide - want.setback + 2 * _half(want))) > self.shop.step / 2 + NEAR for raw in raws):
            faults.append("a tab does not come out as wide as asked for")
        # turned so far that it lies on it: from the leg, square to the corner, to the face of what is turned
        edge = (on[1] - on[0]) / np.linalg.norm(on[1] - on[0])
        leaves = np.cross(edge, side.normal)
        lies = np.cross(edge, self.out)
        leaves = leaves if leaves[1] > 0 else -leaves
        lies = lies if lies[0] * side.sense < 0 else -lies
        turned = math.degrees(math.acos(float(np.clip(leaves @ lies, -1.0, 1.0))))
        if abs(turned - tab.turned) > 1e-4:
            faults.append(f"a tab is turned {tab.turned:.3f} degrees, not {turned:.3f}")
        if side.bend.turned < 90 and self.end.what == "end dam":
            faults += self._covered(side, tab, on, lies, want)
        top = float(max(on, key=lambda q: float(q[2]))[2])
        if top > (self.size - self.fold.setback) * float(self.along[2]) + _half(want) + NEAR:
            faults.append("a tab stands over what it lies on")
        return faults

    def _covered(self, side: BesideLeg, tab: Fold, on: list[Floats], lies: Floats, want: Wanted) -> list[str]:
        """The open corner beside a leg that leans out lies under the tab."""
        assert side.bend is not None
        high = max(float(q[2]) for q in on)
        foot, top = (self.stands(self.end.fold.flap[k]) for k in ((0, 3) if side.sense < 0 else (1, 2)))
        share = min(1.0, (high - foot[2]) / (top[2] - foot[2]))
        open_ = float((foot + share * (top - foot) - on[0]) @ lies)
        reaches = tab.width - want.setback
        return [] if reaches >= open_ + LAP - self.t - 2 * NEAR else ["a tab does not cover the open corner"]

    def _joint(self, corners: Sequence[BesideLeg]) -> list[str]:
        end, faults = self.end, []
        joined = self.spec.joined
        if joined is None:
            bare = end.what == "return" and not end.tabs
            cold = self.shop.metal.family == "aluminum" or self.p.finish != "bare"
            joined = "open" if bare else "sealed" if cold else "soldered"
        if end.joined != joined:
            faults.append(f"its corners are {end.joined}, not {joined}")
        longest = max((math.dist(*f.line) for f in end.tabs), default=0.0)
        rivets = math.ceil(longest / 1.5 - NEAR) if longest and joined != "open" else 0
        if end.rivets != rivets:
            faults.append(f"{end.rivets} rivets a tab, not {rivets}")
        rise = (self.size - self.fold.setback) * float(self.along[2])
        seam = sum(
            min(rise / math.sin(math.radians(s.bend.turned)), self._far(s)) for s in corners if s.bend is not None
        )
        if abs(end.seam - (0.0 if joined == "open" else seam)) > NEAR:
            faults.append(f"its corners are {end.seam:.4f} in long together, not {seam:.4f}")
        tight = self.sides[0].same and self.sides[1].same
        flap = end.fold.flap
        room = min(flap[1][0] - flap[0][0], flap[2][0] - flap[3][0]) if tight else 0.0
        if abs(end.between - room) > NEAR:
            faults.append("the room between the legs beside it is told wrongly")
        return faults


def _metal(p: FlatPattern, shop: PieceFolds, piece: SectionPiece, strip: EndStrip) -> list[str]:
    """The blank is the strip, what is turned and its tabs; nothing beyond an end crosses the line of a long bend."""
    faults = []
    sheared, snipped = clip.shape(p.outline), clip.shape(p.snipped)
    if clip.difference(snipped, sheared).area > NEAR:
        faults.append("it is snipped to more than is sheared")
    gone = sum(abs(signed_area(n.removed)) for n in p.notches)
    if abs(gone - (sheared.area - snipped.area)) > 1e-4:
        faults.append("the notches are not what is snipped off")
    low, high = _between(p, piece.length / NM_PER_INCH)
    for fold in p.end_folds:
        flap = clip.shape(fold.flap)
        if clip.difference(flap, snipped).area > 1e-4:
            faults.append(f"the flap of fold {fold.edge} is not on the blank")
    clear = 1 / 32 if shop.job.info.units == "in" else NM_PER_MM / NM_PER_INCH
    turned = [f for e in p.ends for f in (e.fold, *e.tabs)]
    kept = clip.join([clip.shape(f.flap) for f in turned])
    for mark, bend in zip(strip.marks, strip.bends, strict=True):
        near = 2 * (_half(bend) + clear) + NEAR
        for a, b in ((0.0, low - near), (high + near, max(y for _, y in p.outline))):
            if b - a < NEAR:
                continue
            line = clip.shape(((mark - 1e-4, a), (mark + 1e-4, a), (mark + 1e-4, b), (mark - 1e-4, b)))
            if clip.intersection(line, snipped).area > 1e-9:
                faults.append("metal beyond an end crosses the line of a bend")
    body = clip.shape(((0.0, low), (strip.width, low), (strip.width, high), (0.0, high)))
    square = all(abs(spec.turned - 90) < EXACT for _, spec in _all(piece))
    if square:
        beyond = clip.difference(clip.difference(snipped, body), kept)
        slivers = 2 * sum((_half(b) + clear) * 2 for b in strip.bends) + 2 * shop.step * strip.width
        if beyond.area > slivers:
            faults.append("metal is left on beyond an end that is neither turned nor a tab")
        lost = clip.difference(body, snipped).area
        hems = sum(b.width + 1.0 for b in strip.bends if b.turned == 180) * 2
        if lost > hems * max((f.setback for f in turned), default=0.0) + hems * clear + NEAR:
            faults.append("metal is notched away within the finished ends")
    return faults
