"""Turned ends of a section on its blank: what is left on beyond the end, what is notched off, tabs and their folds.

Frame of one end: x across the strip as everywhere, v out of the finished end (v = 0: outside of what is turned).
Beside a turned leg, u runs from the mark of the bend between them, away from it. The rules are the trade's (common
practice, no source): nothing that stays on beyond the end crosses the line of a long bend, so that the brake bends the
strip as if its ends were plain; a leg beside a dam runs on to the dam's outside, and its tab is folded round it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from fabplan.blanks.flat.bend import Bend
from fabplan.blanks.flat.corner import NEAR
from fabplan.blanks.kinds.ends_clear import TurnAsked, clear_of_all
from fabplan.blanks.kinds.strip import SectionStrip
from fabplan.blanks.model import EndTurn, Fold, Point, Polygon, Side
from fabplan.blanks.piece_rules import PieceRules
from fabplan.job import defaults
from fabplan.job.kinds import ends as keys
from fabplan.job.model import SectionPiece
from fabplan.units import inches

MOST_BESIDE = 150.0  # degrees: a leg turned further lies over the one whose end is turned
TAB_LAP = 0.25  # inches a tab lies on the dam beyond a corner that stays open (common practice, no source)
SQUARE_END = 1 / 8  # inches of a tab's raw edge that its slanted side leaves at least
RIVETS_APART = 1.5  # inches (common practice, no source)
SEALED_METALS = ("aluminum",)  # not soldered in a roofing shop
Beside = Literal["edge", "hem", "same", "other"]


@dataclass(frozen=True, slots=True, kw_only=True)
class EndCorner:
    """One side of a turned leg: what is beside it, and where its flap begins (`root`, in u)."""

    beside: Beside
    mark: float
    sense: int  # x = mark + sense * u
    bend: Bend | None = None
    root: float = 0.0
    far: float = 0.0  # in u, how far the leg beside it is its own
    whole: bool = False  # whether that is a raw edge
    shared: bool = False  # whether the leg beyond that is turned too, and this one serves both

    def x(self, u: float) -> float:
        """Place across the strip."""
        return self.mark + self.sense * u


@dataclass(frozen=True, slots=True, kw_only=True)
class EndTab:
    """A tab of the leg at a corner: its two ends in u, its bend, and its line and raw edge as offsets."""

    outer: float
    inner: float
    bend: Bend
    wide: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidEnd:
    """One end of a strip: its border from the start edge to the finish edge, (x, v), and its turns in that frame."""

    border: Polygon = ()
    turns: tuple[EndTurn, ...] = ()

    @property
    def reach(self) -> float:
        """How far the blank goes beyond the finished end."""
        return max((v for _, v in self.border), default=0.0)


@dataclass(slots=True)
class _Row:
    """The border as it grows, from the start edge on."""

    points: list[Point] = field(default_factory=list)

    def add(self, *points: Point) -> None:
        for p in points:
            if not self.points or math.dist(self.points[-1], p) > NEAR:
                self.points.append(p)


def turned_ends(
    bench: PieceRules, strip: SectionStrip, marks: tuple[float, ...], width: float
) -> tuple[LaidEnd, LaidEnd]:
    """Ends A and B of a section; a plain end has no turns.

    Raises
    ------
    JobError
        What cannot be closed, runs into other metal, or names no side.
    """
    ends: dict[str, LaidEnd] = {}
    for at in ("A", "B"):
        wanted = [_wanted(bench, strip, *asked) for asked in _asked(bench) if at in asked[2].ends]
        ends[at] = _lay(bench, strip, marks, width, sorted(wanted, key=lambda w: w.index), at)
    return ends["A"], ends["B"]


def _asked(bench: PieceRules) -> Iterable[tuple[str, Literal["end dam", "return"], keys.TurnedEnd]]:
    piece = bench.piece
    assert isinstance(piece, SectionPiece)
    for n, dam in enumerate(piece.end_dams, 1):
        yield f"end_dams[{n}]", "end dam", dam
    for n, turn in enumerate(piece.returns, 1):
        yield f"returns[{n}]", "return", turn


def _wanted(
    bench: PieceRules, strip: SectionStrip, key: str, what: Literal["end dam", "return"], spec: keys.TurnedEnd
) -> TurnAsked:
    index = spec.leg - 1 + strip.at_start
    sides = {
        strip.signs[k]
        for k in (index - 1, index)
        if 0 <= k < len(strip.bends) and strip.bends[k].turned < 180
    }  # fmt: skip
    if spec.toward is None and len(sides) != 1:
        raise bench.fault(
            f"{key} > toward", "needed where the legs beside it do not stand to one side", write='"face" or "back"'
        )
    up = next(iter(sides)) if spec.toward is None else 1 if spec.toward == "face" else -1
    return TurnAsked(key=key, what=what, spec=spec, index=index, up=up, bend=bench.bend(spec.turned))


def _lay(
    bench: PieceRules, strip: SectionStrip, marks: tuple[float, ...], width: float, wanted: list[TurnAsked], at: str
) -> LaidEnd:
    """The border of one end and what is turned there."""
    if not wanted:
        return LaidEnd(border=((0.0, 0.0), (width, 0.0)))
    row = _Row()
    turns: list[EndTurn] = []
    taken = {w.index for w in wanted}
    for w in wanted:
        left, right = (_corner(bench, strip, marks, width, w, side, taken) for side in (-1, 1))
        if w.spec.tabs and not any(c.beside == "same" for c in (left, right)):
            raise bench.fault(
                f"{w.key} > tabs", "no leg beside it stands to that side: nothing can be a tab",
                value=bench.show.exact(w.spec.tabs), write="leave it out",
            )  # fmt: skip
        flap = _flap(bench, w, left, right)
        tabs = {c.sense: _tab(bench, w, c, flap) for c in (left, right)}
        if not row.points and left.beside != "edge":
            row.add((0.0, _cut_back(bench, w) if left.beside == "hem" else 0.0))
        row.add(*(((left.x(u), v) for u, v in _beside(bench, w, left, tabs[-1]))))
        row.add(*flap)
        row.add(*((right.x(u), v) for u, v in reversed(_beside(bench, w, right, tabs[1]))))
        if right.beside == "hem":
            row.add((width, _cut_back(bench, w)))
        turns.append(_turn(bench, w, at, (left, right), flap, tabs))
    if not row.points or row.points[-1][0] < width - NEAR:
        row.add((width, 0.0))
    clear_of_all(bench, strip, marks, wanted, turns)
    return LaidEnd(border=tuple(row.points), turns=tuple(turns))


def _corner(
    bench: PieceRules,
    strip: SectionStrip,
    marks: tuple[float, ...],
    width: float,
    w: TurnAsked,
    sense: int,
    taken: set[int],
) -> EndCorner:
    """What is beside a turned leg, toward the start (`sense` -1) or the finish edge."""
    k = w.index - 1 if sense < 0 else w.index
    if not 0 <= k < len(strip.bends):
        return EndCorner(beside="edge", mark=0.0 if sense < 0 else width, sense=sense)
    bend, i = strip.bends[k], w.index + sense
    far_bend = k + sense
    raw = not 0 <= far_bend < len(strip.bends)
    far = abs((marks[far_bend] if not raw else 0.0 if sense < 0 else width) - marks[k])
    shared = i + sense in taken
    far = far / 2 if shared else far - (0.0 if raw else strip.bends[far_bend].bend_allowance / 2)
    half = bend.bend_allowance / 2
    if bend.turned >= 180:
        hem = i < strip.at_start or i - strip.at_start >= len(bench.piece.legs)  # type: ignore[union-attr]
        if not hem:
            raise bench.fault(
                w.key, "beside a fold of 180 degrees between legs no end is turned", value=f"leg {w.spec.leg}"
            )
        return EndCorner(beside="hem", mark=marks[k], sense=sense, bend=bend, root=-half, far=far, whole=raw)
    same = strip.signs[k] == w.up
    if same and bend.turned > MOST_BESIDE:
        raise bench.fault(
            w.key, f"a leg turned more than {MOST_BESIDE:g} degrees lies over the end beside it",
            value=f"bend {k + 1 - strip.at_start} turned {bend.turned:g}", write="the end of another leg",
        )  # fmt: skip
    clear = inches(defaults.END_CLEAR[bench.job.info.units]) if same else 0.0
    return EndCorner(
        beside="same" if same else "other",
        mark=marks[k],
        sense=sense,
        bend=bend,
        root=-half - clear,
        far=far,
        whole=raw,
        shared=shared,
    )


def _cut_back(bench: PieceRules, w: TurnAsked) -> float:
    """Where a hem on a turned leg ends: clear of the bend."""
    return -w.bend.setback - inches(defaults.END_CLEAR[bench.job.info.units])


def _rises(w: TurnAsked) -> float:
    """How far the raw edge of what is turned stands over the inside of its leg."""
    return (inches(w.spec.size) - w.bend.setback) * math.sin(math.radians(w.spec.turned))


def _inside(c: EndCorner) -> float:
    """In u, where the insides of two legs meet at a corner."""
    assert c.bend is not None
    return c.bend.bend_allowance / 2 - c.bend.radius * math.tan(math.radians(c.bend.turned) / 2)


def _mitre(bench: PieceRules, w: TurnAsked, c: EndCorner, u: float) -> float:
    """Where a leg beside what is turned ends, in v: on its outside plane, as far up as that goes."""
    if abs(w.spec.turned - 90) < NEAR:
        return 0.0
    assert c.bend is not None
    phi, theta = math.radians(w.spec.turned), math.radians(c.bend.turned)
    up = min((u - _inside(c)) * math.sin(theta), _rises(w))
    return bench.metal.thickness / math.sin(phi) - w.bend.setback + up / math.tan(phi)


def _flap(bench: PieceRules, w: TurnAsked, left: EndCorner, right: EndCorner) -> Polygon:
    """What is left on of the leg itself, from its root at the left over its raw edge to its root at the right."""
    top = w.bend.allowance(inches(w.spec.size))
    low, high = [], []
    for c in (left, right):
        lean = 0.0
        if c.beside == "same" and c.bend is not None and c.bend.turned > 90:
            lean = _rises(w) / -math.tan(math.radians(c.bend.turned))
        foot = _cut_back(bench, w) if c.beside == "hem" else 0.0
        low.append((c.x(c.root), foot))
        high.append((c.x(c.root - lean), top))
    least = inches(defaults.LEAST_END[bench.job.info.units])
    if high[1][0] - high[0][0] < least - NEAR:
        raise bench.fault(
            w.key, f"between the legs beside it less than {bench.show.length(least)} of its raw edge is left",
            value=bench.show.length(max(0.0, high[1][0] - high[0][0])), write="a lower one, or the end of a wider leg",
        )  # fmt: skip
    return (low[0], high[0], high[1], low[1])


def _opens(bench: PieceRules, w: TurnAsked, c: EndCorner) -> float:
    """How wide a corner stays open, square to the leg's end: at the top where that leans out, else by its radius."""
    assert c.bend is not None
    theta, phi = math.radians(c.bend.turned), math.radians(w.spec.turned)
    slope = 0.0 if abs(c.bend.turned - 90) < NEAR else 1 / math.tan(theta)
    square = math.hypot(1, 1 / math.tan(phi)) / math.hypot(1, slope, 1 / math.tan(phi))
    # from the flap's root to where the insides of both legs would meet, across the leg that is turned
    foot = c.bend.radius * math.tan(theta / 2) - c.root - c.bend.bend_allowance / 2
    if slope > 0:
        return (min(_rises(w), c.far * math.sin(theta)) * slope + foot) * square
    return foot * square if c.bend.radius > bench.metal.thickness else 0.0


def _tab(bench: PieceRules, w: TurnAsked, c: EndCorner, flap: Polygon) -> EndTab | None:
    """The tab of the leg at a corner, None where it has none."""
    if c.beside != "same" or c.bend is None:
        return None
    show, grid = bench.show, bench.inches(1)
    opens = _opens(bench, w, c)
    least = opens + TAB_LAP if opens > 0 else 0.0
    if w.spec.tabs is None:
        plain = inches(defaults.END_TAB[bench.job.info.units])
        wide = 0.0 if w.what == "return" else max(plain, _up(least, grid))
    else:
        wide = inches(w.spec.tabs)
    if wide <= 0:
        if opens > 0 and w.what == "end dam":
            raise bench.fault(
                f"{w.key} > tabs", f"a leg turned {c.bend.turned:g} degrees leaves the corner open, a tab closes it",
                value="0",
                write=f"{show.length(_up(least, grid))} or more, or leave it out: each corner has what it needs",
            )  # fmt: skip
        return None
    if w.what == "end dam" and wide < least - NEAR:
        raise bench.fault(
            f"{w.key} > tabs", f"beside a leg turned {c.bend.turned:g} degrees a tab must reach over the open corner",
            value=show.exact(w.spec.tabs) if w.spec.tabs else None,
            write=f"{show.length(_up(least, grid))} or more, or leave it out: each corner has what it needs",
        )  # fmt: skip
    turned = _round_corner(c.bend.turned, w.spec.turned)
    bend = bench.bend(turned)
    slant = _slant(w, c)
    raw = (bend.setback + bend.allowance(wide)) * slant
    clear = 0.0 if c.whole else inches(defaults.END_CLEAR[bench.job.info.units])
    outer = min(c.far - clear, _inside(c) + _rises(w) / math.sin(math.radians(c.bend.turned)))
    inner = c.root + raw
    room = flap[2][0] - flap[1][0]
    if inner > outer - SQUARE_END + NEAR:
        most = wide - (inner - outer + SQUARE_END) / slant
        raise bench.fault(
            f"{w.key} > tabs", "a tab is narrower than its corner is long, its lower end cut off at 45 degrees",
            value=show.length(wide), write=_narrower(bench, most, least),
        )  # fmt: skip
    if wide > room / 2 + NEAR:
        raise bench.fault(
            f"{w.key} > tabs", "two tabs must not lie over one another", value=show.length(wide),
            write=_narrower(bench, room / 2, least),
        )  # fmt: skip
    return EndTab(outer=outer, inner=inner, bend=bend, wide=wide)


def _up(length: float, grid: float) -> float:
    return math.ceil(length / grid - NEAR) * grid


def _narrower(bench: PieceRules, most: float, least: float) -> str:
    most = math.floor(most / bench.inches(1) + NEAR) * bench.inches(1)
    if most <= max(least, 0.0):
        return "another height, or an end piece of its own" if least > 0 else "0, or an end piece of its own"
    return f"{bench.show.length(most)} or less, or 0"


def _round_corner(theta: float, phi: float) -> float:
    """Degrees a tab turns to lie on what is turned, from the normals of both planes."""
    a, b = math.radians(theta), math.radians(phi)
    leg = np.array([math.sin(a), 0.0, math.cos(a)])
    dam = np.array([0.0, math.sin(b), math.cos(b)])
    return math.degrees(math.acos(float(np.clip(leg @ dam, -1.0, 1.0))))


def _slant(w: TurnAsked, c: EndCorner) -> float:
    """How much longer a distance square to the leg's mitred end is along the strip."""
    assert c.bend is not None
    if abs(w.spec.turned - 90) < NEAR:
        return 1.0
    return math.hypot(1.0, math.sin(math.radians(c.bend.turned)) / math.tan(math.radians(w.spec.turned)))


def _beside(bench: PieceRules, w: TurnAsked, c: EndCorner, tab: EndTab | None) -> list[Point]:
    """Border of the leg at a corner from its far side to the flap's root, (u, v)."""
    if c.beside != "same":
        return []
    assert c.bend is not None
    half = c.bend.bend_allowance / 2
    out: list[Point] = []
    ends = [(c.far, _mitre(bench, w, c, c.far)), (half, _mitre(bench, w, c, half))]
    if any(abs(v) > NEAR for _, v in ends):
        top = _inside(c) + _rises(w) / math.sin(math.radians(c.bend.turned))
        knee = [(top, _mitre(bench, w, c, top))] if half + NEAR < top < c.far - NEAR else []
        out = [*([] if c.shared else [(c.far, 0.0)]), ends[0], *knee, ends[1]]
    if tab is not None:
        raw = (tab.bend.setback + tab.bend.allowance(tab.wide)) * _slant(w, c)
        low, high = _mitre(bench, w, c, tab.inner), _mitre(bench, w, c, tab.outer)
        out = [p for p in out if p[0] > tab.outer - NEAR]
        out += [(tab.outer, high), (tab.outer, high + raw), (tab.inner, low + raw)]
    return [*out, (c.root, 0.0)]


def _turn(
    bench: PieceRules,
    w: TurnAsked,
    at: str,
    corners: tuple[EndCorner, EndCorner],
    flap: Polygon,
    tabs: Mapping[int, EndTab | None],
) -> EndTurn:
    """What is turned, in the end's own frame; folds are numbered later."""
    line = -w.bend.deduction / 2
    toward: Side = "face" if w.up > 0 else "back"
    low, high = flap[0], flap[-1]
    shape = ((low[0], line), (high[0], line), flap[2], flap[1])
    own = _fold(w.bend, ((low[0], line), (high[0], line)), toward, inches(w.spec.size), shape)
    folds, seam = [], 0.0
    for c in corners:
        if c.beside != "same":
            continue
        assert c.bend is not None
        tab = tabs[c.sense]
        tall = min(_rises(w) / math.sin(math.radians(c.bend.turned)), c.far)
        seam += tall
        if tab is None:
            continue
        slant, half = _slant(w, c), tab.bend.bend_allowance / 2
        raw = (tab.bend.setback + tab.bend.allowance(tab.wide)) * slant
        # where the tab's slanted side, from the root to its raw edge, crosses the line of its fold
        rise, at_root = (_mitre(bench, w, c, tab.inner) + raw) / raw, _mitre(bench, w, c, c.root)
        run = (_mitre(bench, w, c, tab.inner) - at_root) / raw
        start = c.root + max(0.0, at_root + half * slant) / (rise - run)
        at_line = [(u, _mitre(bench, w, c, u) + half * slant) for u in (start, tab.outer)]
        at_raw = [(u, _mitre(bench, w, c, u) + raw) for u in (tab.outer, tab.inner)]
        placed = [(c.x(u), v) for u, v in (*at_line, *at_raw)]
        folds.append(_fold(tab.bend, (placed[0], placed[1]), toward, tab.wide, tuple(placed)))
    joined = w.spec.joined
    if joined is None:
        open_ = w.what == "return" and not folds
        cold = bench.metal.family in SEALED_METALS or bench.piece.finish not in {None, "bare"}
        joined = "open" if open_ else "sealed" if cold else "soldered"
    riveted = folds and joined != "open"
    crossings = tuple(
        (c.mark - c.sense * c.bend.bend_allowance / 2, -w.bend.setback)
        for c in corners
        if c.bend is not None and c.beside in {"same", "other"}
    )
    return EndTurn(
        what=w.what,
        at="A" if at == "A" else "B",
        leg=w.spec.leg,
        fold=own,
        tabs=tuple(folds),
        between=min(flap[2][0] - flap[1][0], high[0] - low[0]) if all(c.beside == "same" for c in corners) else 0.0,
        crossings=crossings,
        joined=joined,
        rivets=max(1, math.ceil(max(math.dist(*f.line) for f in folds) / RIVETS_APART - NEAR)) if riveted else 0,
        seam=0.0 if joined == "open" else seam,
    )


def _fold(bend: Bend, line: tuple[Point, Point], toward: Side, wide: float, flap: Polygon) -> Fold:
    return Fold(
        edge=0,
        line=line,
        toward=toward,
        turned=bend.turned,
        width=wide,
        gap=0.0,
        radius=bend.radius,
        bend_allowance=bend.bend_allowance,
        setback=bend.setback,
        deduction=bend.deduction,
        allowance=bend.allowance(wide),
        slot_depth=bend.slot_depth(wide),
        flap=flap,
    )


def placed(end: LaidEnd, number: int, at: float, out: int, more: float) -> tuple[Polygon, tuple[EndTurn, ...], int]:
    """An end on the blank: its border and turns, folds numbered after `number`; the last number used.

    `at` is where v = 0 lies along the strip, `out` the way v runs, `more` what rounding adds to the raw edge.
    """
    reach = end.reach

    def put(p: Point) -> Point:
        return p[0], at + out * (p[1] + (more if p[1] > reach - NEAR else 0.0))

    turns = []
    for turn in end.turns:
        folds = []
        for fold in (turn.fold, *turn.tabs):
            number += 1
            line = (put(fold.line[0]), put(fold.line[1]))
            folds.append(replace(fold, edge=number, line=line, flap=tuple(map(put, fold.flap))))
        crossings = tuple(map(put, turn.crossings))
        turns.append(replace(turn, fold=folds[0], tabs=tuple(folds[1:]), crossings=crossings))
    return tuple(map(put, end.border)), tuple(turns), number
