"""The drawing board: collects marks, draws dimensions and leaders, and keeps labels apart.

Dimensions follow ISO 129-1 (from memory): narrow extension and dimension lines, filled arrowheads, the value above its
line near the middle, read from the bottom or from the right of the drawing.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from math import atan2, degrees, hypot

from fabplan import plane
from fabplan.plotter.board import geometry
from fabplan.plotter.board.measure import cap_height, extent, width
from fabplan.plotter.board.paint import arrow_length
from fabplan.plotter.model import Circle, Drawing, Line, Mark, Pen, Point, Shape, Text

Box = tuple[Point, ...]
Bounds = tuple[float, float, float, float]
Kept = tuple[Bounds, bool, Box]  # a box with its bounds, and whether it fills them
DIMENSION_SIZE = 9.0
SQUARE = 10.0  # mm, of paper by which taken boxes are kept
PAST = 1.2  # mm an extension line runs past its dimension line
OFF = 0.8  # mm between the object and its extension line


class Boxes:
    """Convex boxes that may be asked what they touch; kept by squares of paper, so that few are looked at."""

    def __init__(self) -> None:
        self.squares: dict[tuple[int, int], list[Kept]] = {}

    def add(self, box: Sequence[Point]) -> None:
        bounds = plane.bounds(box)
        kept = (bounds, _upright(box), tuple(box))
        for square in _squares(bounds):
            self.squares.setdefault(square, []).append(kept)

    def touches(self, box: Sequence[Point], slack: float = 0.0) -> bool:
        """Whether a box overlaps any of these by more than `slack` mm."""
        bounds = plane.bounds(box)
        x0, y0, x1, y1 = bounds
        plain = slack == 0.0 and _upright(box)
        for square in _squares(bounds):
            for (a0, b0, a1, b1), upright, other in self.squares.get(square, ()):
                if not (x0 < a1 and a0 < x1 and y0 < b1 and b0 < y1):
                    continue
                if (plain and upright) or geometry.boxes_touch(box, other, slack):
                    return True
        return False

    def near(self, box: Sequence[Point]) -> list[Kept]:
        """What lies in the bounds of a box, for `hit`: for asking many times about one place."""
        x0, y0, x1, y1 = bounds = plane.bounds(box)
        found = {
            id(kept): kept
            for square in _squares(bounds)
            for kept in self.squares.get(square, ())
            if x0 < kept[0][2] and kept[0][0] < x1 and y0 < kept[0][3] and kept[0][1] < y1
        }
        return list(found.values())


def hit(near: Iterable[Kept], bounds: Bounds) -> bool:
    """Whether an upright rectangle overlaps any of these."""
    x0, y0, x1, y1 = bounds
    for (a0, b0, a1, b1), upright, other in near:
        if not (x0 < a1 and a0 < x1 and y0 < b1 and b0 < y1):
            continue
        if upright or geometry.boxes_touch(geometry.corners(bounds), other):
            return True
    return False


def _squares(bounds: Bounds) -> list[tuple[int, int]]:
    """Squares of paper that an upright rectangle lies on."""
    x0, y0, x1, y1 = bounds
    columns, rows = range(int(x0 // SQUARE), int(x1 // SQUARE) + 1), range(int(y0 // SQUARE), int(y1 // SQUARE) + 1)
    return [(x, y) for x in columns for y in rows]


class Draft:
    """A drawing in the making. `taken` holds the boxes no label may touch, `crossed` those of lines a label may cover
    with its own white when there is no other room (leaders)."""

    def __init__(self) -> None:
        self.marks: list[Mark] = []
        self.taken = Boxes()
        self.crossed = Boxes()

    # marks ------------------------------------------------------------------------------------------------------

    def add(self, *marks: Mark) -> None:
        self.marks.extend(marks)

    def line(self, points: Iterable[Point], pen: Pen, arrow: str = "") -> None:
        self.add(Line(points=tuple(points), pen=pen, arrow=arrow))  # type: ignore[arg-type]

    def text(self, text: Text) -> None:
        """Add a text and keep its box."""
        self.add(text)
        self.take(extent(text))

    # room -------------------------------------------------------------------------------------------------------

    def free(self, box: Sequence[Point], slack: float = 0.0, *, over_leaders: bool = False) -> bool:
        """Whether a box touches nothing taken (`slack` mm of overlap allowed)."""
        if self.taken.touches(box, slack):
            return False
        return over_leaders or not self.crossed.touches(box, slack)

    def take(self, box: Sequence[Point]) -> None:
        """Keep labels off a box."""
        self.taken.add(box)

    def cross(self, box: Sequence[Point]) -> None:
        """Keep labels off a box unless there is no other room for them."""
        self.crossed.add(box)

    def place(self, candidates: Iterable[Text], pad: float = 0.3) -> Text | None:
        """Add the first candidate text whose box is free; None when there is none."""
        for text in candidates:
            if self.free(extent(text, pad)):
                self.text(text)
                return text
        return None

    # dimensions -------------------------------------------------------------------------------------------------

    def dimension(
        self,
        start: Point,
        end: Point,
        offset: float,
        label: str,
        *,
        size: float = DIMENSION_SIZE,
        bold: bool = False,
        extend: bool = True,
        only_clear: bool = False,
    ) -> bool:
        """Dimension the distance from `start` to `end`, its line `offset` mm to the left of that direction.

        Returns whether there was room for the value; without it nothing is drawn when `only_clear`.
        """
        dx, dy = end[0] - start[0], end[1] - start[1]
        long = hypot(dx, dy)
        ux, uy = dx / long, dy / long
        nx, ny = -uy, ux
        side = 1.0 if offset >= 0 else -1.0

        def off(p: Point, by: float) -> Point:
            return p[0] + nx * by, p[1] + ny * by

        a, b = off(start, offset), off(end, offset)
        arrow = arrow_length("dimension")
        tight = long < 2 * arrow + 1.0
        texts = _values(a, b, long, label, size, bold=bold, tight=tight)
        clear = next((text for text in texts if self.free(extent(text, 0.2))), None)
        if clear is None and only_clear:
            return False
        if extend:
            for foot, _tip in ((start, a), (end, b)):
                self.line((off(foot, side * OFF), off(foot, offset + side * PAST)), "dimension")
        if tight:
            self.line((off((start[0] - ux * 2 * arrow, start[1] - uy * 2 * arrow), offset), a), "dimension", "end")
            self.line((off((end[0] + ux * 2 * arrow, end[1] + uy * 2 * arrow), offset), b), "dimension", "end")
            self.line((a, b), "dimension")
        else:
            self.line((a, b), "dimension", "both")
        self.text(clear or texts[0])
        inks = [(a, b)] + ([(start, off(start, offset)), (end, off(end, offset))] if extend else [])
        for p, q in inks:
            self.take(geometry.strip_box(p, q, 0.25))
        return clear is not None

    def leader(self, points: Sequence[Point], dot: bool = True) -> None:
        """A leader line ending in a dot inside what it points at (last point), or an arrow on its border."""
        if dot:
            self.line(points, "dimension")
            self.add(Circle(centre=points[-1], radius=0.55, pen="dimension", fill="black"))
        else:
            self.line(points, "dimension", "end")

    def polygon(self, points: Iterable[Point], pen: Pen | None, fill: str = "none") -> None:
        self.add(Shape(points=tuple(points), pen=pen, fill=fill))  # type: ignore[arg-type]

    def done(self, name: str, title: str, width_mm: float, height_mm: float, scale: float = 1.0) -> Drawing:
        """The finished drawing."""
        return Drawing(name=name, title=title, width=width_mm, height=height_mm, marks=tuple(self.marks), scale=scale)

    def trimmed(self, name: str, title: str, width_mm: float, scale: float = 1.0, *, sides: bool = False) -> Drawing:
        """The finished drawing, just high enough for its marks; just as wide, too, with `sides`."""
        points = [p for mark in self.marks for p in _points(mark)]
        low, high = min(p[1] for p in points) - 1.0, max(p[1] for p in points) + 1.0
        left, right = 0.0, width_mm
        if sides:
            left = min(p[0] for p in points) - 0.4
            right = max(p[0] for p in points) + 0.4
        marks = tuple(_moved(mark, -left, -low) for mark in self.marks)
        return Drawing(name=name, title=title, width=right - left, height=high - low, marks=marks, scale=scale)


def _values(a: Point, b: Point, long: float, label: str, size: float, *, bold: bool, tight: bool) -> list[Text]:
    """Where the value of a dimension line may stand: above its middle, or past one of its ends when it is too short."""
    ux, uy = (b[0] - a[0]) / long, (b[1] - a[1]) / long
    wide = width(label, size, bold)
    angle = degrees(atan2(uy, ux))
    reading = round((angle + 90 + 1e-6) % 180 - 90 - 1e-6, 6) + 0.0 if abs(abs(angle) - 90) > 1e-6 else 90.0
    lift = cap_height(size) / 2 + 0.9
    up = (-uy, ux) if (-uy, ux)[1] > 1e-9 or (abs(ux) < 1e-9 and -uy < 0) else (uy, -ux)
    choices = [(geometry.between(a, b, 0.5), lift)]
    if tight or wide > long - 0.5:  # no room above the line: past one of its ends
        past = (2 * arrow_length("dimension") if tight else 0.0) + wide / 2 + 1.0
        lift = 0.0 if tight else lift
        choices = []
        for further, by in ((0.0, lift), (3.0, lift), (0.0, lift + 3.5), (0.0, -lift - 3.5), (6.0, lift)):
            reach = past + further
            choices += [((b[0] + ux * reach, b[1] + uy * reach), by), ((a[0] - ux * reach, a[1] - uy * reach), by)]
    return [
        Text(at=(c[0] + up[0] * by, c[1] + up[1] * by), text=label, size=size, bold=bold, turned=reading)
        for c, by in choices
    ]


def _upright(box: Sequence[Point]) -> bool:
    """Whether a box is a rectangle with its sides along the paper's."""
    if len(box) != 4:
        return False
    (ax, ay), (bx, by), (cx, cy), (dx, dy) = box
    if ay == by:
        return bx == cx and cy == dy and dx == ax
    return ax == bx and by == cy and cx == dx and dy == ay


def _points(mark: Mark) -> Sequence[Point]:
    match mark:
        case Text():
            return extent(mark)
        case Circle(centre=(x, y), radius=r):
            return ((x - r, y - r), (x + r, y + r))
        case _:
            return mark.points


def _moved(mark: Mark, right: float, up: float) -> Mark:
    match mark:
        case Text(at=(x, y)):
            return replace(mark, at=(x + right, y + up))
        case Circle(centre=(x, y)):
            return replace(mark, centre=(x + right, y + up))
        case _:
            return replace(mark, points=tuple((x + right, y + up) for x, y in mark.points))


def spread(wanted: Sequence[float], room: Sequence[float], low: float, high: float) -> list[float] | None:
    """Positions near `wanted` (ascending) so that neighbours with these half-sizes do not touch, within low..high.

    None when they do not fit.
    """
    if sum(2 * r for r in room) > high - low + 1e-9:
        return None
    at = list(wanted)
    for _ in range(2):
        floor = low
        for i, r in enumerate(room):
            at[i] = max(at[i], floor + r)
            floor = at[i] + r
        ceiling = high
        for i in range(len(room) - 1, -1, -1):
            at[i] = min(at[i], ceiling - room[i])
            ceiling = at[i] - room[i]
    return at
