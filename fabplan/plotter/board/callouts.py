"""Balloons, and callouts set in the margins round a picture with leaders that do not cross."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from itertools import pairwise
from math import cos, pi, sin

from fabplan.plotter.board import geometry
from fabplan.plotter.board.draft import Draft, spread
from fabplan.plotter.board.measure import width
from fabplan.plotter.model import Circle, Point, Shape, Text

RADIUS = 2.9  # of a balloon, mm
NUMBER_SIZE = 8.5
TEXT_SIZE = 9.0
REACH = 8.5  # from the picture to the middle of a margin balloon
POINTER = 1.7
MOST_ROWS = 3  # of callouts above or below the picture


@dataclass(frozen=True, slots=True)
class Margins:
    """Paper needed round a picture, mm."""

    left: float = 18.0
    right: float = 4.0
    top: float = 8.0
    bottom: float = 10.0

    def within(self, other: Margins) -> bool:
        """Whether these margins are no wider than others."""
        return all(getattr(self, f.name) <= getattr(other, f.name) + 0.011 for f in fields(self))

    def widened(self, other: Margins, spare: float = 0.0) -> Margins:
        """On every side the wider of two; a side that grows gets `spare` mm more, so that it need not grow again."""
        pairs = [(getattr(self, f.name), getattr(other, f.name)) for f in fields(self)]
        return Margins(*(mine if theirs <= mine + 0.011 else theirs + spare for mine, theirs in pairs))

    def rounded(self) -> Margins:
        """To 0.01 mm."""
        return Margins(*(round(getattr(self, f.name), 2) for f in fields(self)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Callout:
    """A label in the margin: optional balloon number, text, and the point its leader runs to.

    `more` are further points the leader goes on to (a dot in each). `on_line`: the anchor lies on the picture's border
    (no dot). `side` is "right", "top", "bottom" or "" for the nearest.
    """

    anchor: Point
    more: tuple[Point, ...] = ()
    text: str = ""
    number: str = ""
    pointer: Point | None = None
    bold: bool = False
    side: str = ""
    on_line: bool = False
    cuts: int = 0  # how many cuts an inner callout stands for; such callouts may be left to the table


@dataclass(frozen=True, slots=True)
class Balloon:
    """A number in a circle (or a pill, for a range) with a black point toward the back gauge."""

    at: Point
    number: str
    pointer: Point | None = None

    @property
    def half(self) -> float:
        """Half the width."""
        return max(RADIUS, width(self.number, NUMBER_SIZE, True) / 2 + 1.0)

    def box(self, pad: float = 0.0) -> tuple[Point, ...]:
        """Box round the balloon, its point left out."""
        x, y = self.at
        w, h = self.half + pad, RADIUS + pad
        return (x - w, y - h), (x + w, y - h), (x + w, y + h), (x - w, y + h)

    def draw(self, draft: Draft, keep: bool = False) -> None:
        x, y = self.at
        if self.pointer:
            px, py = self.pointer
            out = self.half if abs(px) > abs(py) else RADIUS
            base = out - 0.5
            tip = (x + px * (out + POINTER), y + py * (out + POINTER))
            point = (
                tip,
                (x + px * base - py * POINTER, y + py * base + px * POINTER),
                (x + px * base + py * POINTER, y + py * base - px * POINTER),
            )
            draft.polygon(point, None, "black")
            if keep:
                draft.take(point)
        if self.half <= RADIUS + 0.45:
            draft.add(Circle(centre=self.at, radius=self.half, pen="edge"))
        else:
            flat = self.half - RADIUS
            arc = [pi / 2 - k * pi / 8 for k in range(9)]
            outline = [(x + flat + RADIUS * cos(a), y + RADIUS * sin(a)) for a in arc]
            outline += [(x - flat - RADIUS * cos(a), y - RADIUS * sin(a)) for a in arc]
            draft.add(Shape(points=tuple(outline), pen="edge", fill="white"))
        text = Text(at=self.at, text=self.number, size=NUMBER_SIZE, bold=True)
        draft.add(text)
        if keep:
            draft.take(self.box())


def _wide(callout: Callout) -> float:
    total = width(callout.text, TEXT_SIZE, callout.bold) if callout.text else 0.0
    if callout.number:
        total += 2 * Balloon((0, 0), callout.number).half + (1.6 if callout.text else 0.0)
    return total


def _point(callout: Callout) -> tuple[float, float]:
    """How far a balloon's point sticks out at its left and right."""
    if not (callout.number and callout.pointer) or abs(callout.pointer[0]) <= abs(callout.pointer[1]):
        return 0.0, 0.0
    return (POINTER, 0.0) if callout.pointer[0] < 0 else (0.0, POINTER)


def _standing(callout: Callout) -> float:
    """How far a balloon's point sticks out above or below it."""
    return POINTER if callout.number and callout.pointer and not any(_point(callout)) else 0.0


def _draw(draft: Draft, callout: Callout, left: float, y: float) -> None:
    """The callout with its left end at `left`, centred on `y`."""
    x = left
    if callout.number:
        half = Balloon((0, 0), callout.number).half
        Balloon((x + half, y), callout.number, callout.pointer).draw(draft, keep=True)
        x += 2 * half + 1.6
        x += _point(callout)[1]
    if callout.text:
        draft.text(Text(at=(x, y), text=callout.text, size=TEXT_SIZE, bold=callout.bold, anchor="left", boxed=True))


def _lead(draft: Draft, callout: Callout, start: tuple[Point, ...]) -> None:
    """Leader from the label to the anchor and on through `more`, kept clear of later labels."""
    points = [*start, callout.anchor, *callout.more]
    draft.line(points, "dimension")
    if not callout.on_line:
        for p in points[len(start) :]:
            draft.add(Circle(centre=p, radius=0.55, pen="dimension", fill="black"))
    for a, b in pairwise(points):
        draft.cross(geometry.strip_box(a, b, 0.3))


def _sided(callout: Callout, left: float, bottom: float, right: float, top: float) -> str:
    if callout.side:
        return callout.side
    x, y = callout.anchor
    away = {"right": right - x, "top": top - y, "bottom": y - bottom}
    return min(away, key=lambda s: (round(away[s], 3), s))


def draw_callouts(
    draft: Draft,
    callouts: Sequence[Callout],
    left: float,
    bottom: float,
    right: float,
    top: float,
    width_mm: float,
    height_mm: float,
) -> Margins:
    """Draw the callouts round a picture with these borders; returns the margins they need."""
    by_side: dict[str, list[Callout]] = {"right": [], "top": [], "bottom": []}
    for callout in callouts:
        by_side[_sided(callout, left, bottom, right, top)].append(callout)
    tall = max(height_mm, 1.1 * (top - bottom))
    by_side["right"] = _thinned(by_side["right"], int(tall / (2 * RADIUS + 1.0)) - 2, (right - 3.0, bottom))
    for side in ("top", "bottom"):
        most = int(
            MOST_ROWS * max(right - left + 24, 0.64 * width_mm) / max([_wide(c) + 3.2 for c in by_side[side]] or [10.0])
        )
        by_side[side] = _thinned(by_side[side], most, (left + 3.0, top if side == "top" else bottom))
    over_top, over_bottom, over_right = 3.0, 0.0, 3.0
    lowest = bottom
    placed: list[tuple[Callout, float, float]] = []  # labels are set after all leaders, on white
    column = sorted(by_side["right"], key=lambda c: (c.anchor[1], c.anchor[0]))
    if column:
        room = [(RADIUS + 0.5 if c.number else 2.5) + _standing(c) for c in column]
        high = max(2 * sum(room), top - bottom + 4.0)  # more of them hang below: the top is for the row above
        at = spread([c.anchor[1] for c in column], room, top + 2.0 - high, top + 2.0)
        assert at is not None
        for callout, y in zip(column, at, strict=True):
            _lead(draft, callout, ((right + REACH - RADIUS, y), (right + REACH - RADIUS - 1.0, y)))
            placed.append((callout, right + REACH - RADIUS, y))
        over_right = REACH - RADIUS + max(_wide(c) for c in column) + POINTER + 1.0
        over_top = max(over_top, max(at) + max(room) - top)
        lowest = min(y - r for y, r in zip(at, room, strict=True))
        over_bottom = max(over_bottom, bottom - min(at) + max(room))
    for side in ("top", "bottom"):
        row = sorted(by_side[side], key=lambda c: (c.anchor[0], c.anchor[1]))
        if not row:
            continue
        low, high = _reach(left, right, width_mm)
        if side == "top":
            over_top = max(over_top, _row(draft, row, low, high, top, 1, placed))
        else:
            if lowest < bottom - REACH + 2 * RADIUS:  # the column hangs down beside the row, which stops short of it
                high = right + REACH - RADIUS - POINTER - 1.0
            over_bottom = max(over_bottom, _row(draft, row, low, high, bottom, -1, placed))
    for callout, start, y in placed:
        _draw(draft, callout, start, y)
    return Margins(left=3.0, right=over_right, top=over_top, bottom=over_bottom).rounded()


def _thinned(callouts: list[Callout], most: int, anchor: Point) -> list[Callout]:
    """No more callouts than there is room for: the smallest crowds of cuts are left to the table, and that is said."""
    if len(callouts) <= most:
        return callouts
    spare = sorted((c for c in callouts if c.cuts), key=lambda c: (c.cuts, c.number))
    dropped = spare[: len(callouts) - most + 1]
    if not dropped:
        return callouts
    count = sum(c.cuts for c in dropped)
    words = f"{count} more cut{'s' if count > 1 else ''}: see the table"
    kept = [c for c in callouts if c not in dropped]
    return [*kept, Callout(anchor=anchor, text=words)]


def _reach(left: float, right: float, width_mm: float) -> tuple[float, float]:
    """How far to the left and right the rows above and below a picture may go."""
    low, high = left - 16.0, right + 16.0
    more = max(0.0, 0.7 * width_mm - (high - low)) / 2
    return max(1.0, low - more), min(width_mm - 1.0, high + more)


def _row(
    draft: Draft,
    row: list[Callout],
    low: float,
    high: float,
    border: float,
    up: int,
    placed: list[tuple[Callout, float, float]],
) -> float:
    """Callouts above or below the picture, in as many rows as they need; returns the height they take."""
    room = [(_wide(c) + sum(_point(c))) / 2 + 1.6 for c in row]
    low = min(low, high - 2 * max(room))  # the widest must fit
    for rows in range(1, len(row) + 1):
        lanes = [list(range(k, len(row), rows)) for k in range(rows)]
        found = [spread([row[i].anchor[0] for i in lane], [room[i] for i in lane], low, high) for lane in lanes]
        spots = [at for at in found if at is not None]
        if len(spots) == rows:
            break
    deepest = 0.0
    for k in reversed(range(rows)):
        y = border + up * (REACH + k * 7.5)
        for i, x in zip(lanes[k], spots[k], strict=True):
            callout = row[i]
            start = x - room[i] + 1.6 + _point(callout)[0]
            half = Balloon((0, 0), callout.number).half if callout.number else 0.0
            foot_x = start + half if callout.number else x
            foot = (foot_x, y - up * (RADIUS if callout.number else 2.0))
            _lead(draft, callout, (foot,))
            placed.append((callout, start, y))
        deepest = max(deepest, abs(y - border) + RADIUS + 0.8)
    return deepest
