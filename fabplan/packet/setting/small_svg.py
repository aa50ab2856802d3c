"""Drawings painted small for the screen version: straight from their marks, looks as classes, whole numbers.

What comes out is for HTML, not a file of its own. A drawing has its own unit, 1/10 or 1/20 mm, so that places are
whole numbers; lines run from point to point. Black ink may be laid down in any order, so lines of one look between
two white areas become one path; words that come again and again in a drawing are written once.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from html import escape
from math import cos, radians, sin

from fabplan import plane
from fabplan.plotter.board.measure import CAP, MM_PER_POINT, extent, runs
from fabplan.plotter.board.paint import BOX_PAD, hatch_paths, line_parts
from fabplan.plotter.board.pens import HATCH_ANGLE, HATCH_WIDTH, PENS
from fabplan.plotter.model import Circle, Drawing, Fill, Line, Mark, Pen, Point, Shape, Text

WIDE_MM = 150.0  # from this width a drawing fills the screen, where a tenth of a millimetre is under half a pixel
OFTEN = 3  # times a text stands in a drawing before it is written once and used
SMALL = "h"  # class of the figures of a fraction
_RAISE = f"{0.24 / 0.82:.3f}em".replace("0.", ".")
_ANCHOR = {"left": "", "centre": "text-anchor:middle;", "right": "text-anchor:end;"}
_INK: dict[Fill, str] = {"white": "#fff", "black": "#000"}


class Looks:
    """Names the looks of drawings in the order they are met, and writes them as one style.

    `lead` begins every name: drawings of two styles on one page need two.
    """

    def __init__(self, lead: str = "") -> None:
        self._lead = lead
        self._names: dict[str, str] = {}
        self._used = 0

    def name(self, look: str) -> str:
        """The class of a look."""
        return self._names.setdefault(look, f"{self._lead}k{len(self._names)}")

    def label(self) -> str:
        """A name no other element of the file has."""
        self._used += 1
        return f"{self._lead}t{self._used}"

    def paint(self, drawing: Drawing) -> str:
        """The drawing's elements, to stand inside an ``svg`` with `view_box`."""
        return _Painter(self, drawing).paint()

    def style(self) -> str:
        """The style rules of all looks met so far."""
        small = f".{SMALL}{{font-size:.82em}}"
        return "\n".join([small, *(f".{name}{{{look.rstrip(';')}}}" for look, name in self._names.items())])


def units(drawing: Drawing) -> int:
    """Units in a millimetre of a drawing on the screen."""
    return 10 if drawing.width > WIDE_MM else 20


def view_box(drawing: Drawing) -> str:
    """The drawing's size in its own units."""
    per_mm = units(drawing)
    return f"0 0 {drawing.width * per_mm:.0f} {drawing.height * per_mm:.0f}"


class _Painter:
    def __init__(self, looks: Looks, drawing: Drawing) -> None:
        self.looks, self.drawing = looks, drawing
        self.per_mm = units(drawing)
        self.out: list[str] = []
        # lines and areas not yet written, by look
        self.ink: dict[str, list[tuple[list[tuple[int, int]], bool]]] = {}
        self.areas: list[tuple[float, float, float, float]] = []  # white areas now being gathered
        words = Counter(_key(m) for m in drawing.marks if isinstance(m, Text))
        self.often = {key: "" for key, times in words.items() if times >= OFTEN}

    def paint(self) -> str:
        for mark in self.drawing.marks:
            self.mark(mark)
        self.flush()
        return "".join(self.out)

    def mark(self, mark: Mark) -> None:
        match mark:
            case Line():
                points, heads = line_parts(mark)
                self.add(self.stroke(mark.pen), points)
                for head in heads:
                    self.add("", head, closed=True)
            case Shape():
                self.shape(mark)
            case Circle():
                self.circle(mark)
            case Text():
                self.text(mark)

    # ink ------------------------------------------------------------------------------------------------------------

    def add(self, look: str, points: Iterable[Point], closed: bool = False) -> None:
        self.ink.setdefault(look, []).append(([self.place(p) for p in points], closed))

    def flush(self) -> None:
        for look, lines in self.ink.items():
            name = f" class={self.looks.name(look)}" if look else ""
            self.out.append(f'<path{name} d="{relative(lines)}"/>')
        self.ink.clear()
        self.areas.clear()

    def stroke(self, pen: Pen) -> str:
        s = PENS[pen]
        dashes = f"stroke-dasharray:{','.join(self.number(d) for d in s.dashes)};" if s.dashes else ""
        return f"fill:none;stroke:#000;stroke-width:{self.number(s.width * MM_PER_POINT)};{dashes}"

    def number(self, mm: float) -> str:
        return f"{mm * self.per_mm:.2f}".rstrip("0").rstrip(".")

    def place(self, p: Point) -> tuple[int, int]:
        return round(p[0] * self.per_mm), round((self.drawing.height - p[1]) * self.per_mm)

    # marks ----------------------------------------------------------------------------------------------------------

    def shape(self, mark: Shape) -> None:
        if mark.fill in HATCH_ANGLE:
            look = f"fill:none;stroke:#000;stroke-width:{self.number(HATCH_WIDTH * MM_PER_POINT)};"
            for line in hatch_paths(mark.points, mark.fill):
                self.add(look, line)
        stroke = self.stroke(mark.pen) if mark.pen else ""
        if mark.fill == "white":
            self.white(stroke.replace("fill:none", "fill:#fff") or "fill:#fff;", mark.points)
            return
        if mark.fill == "black":
            self.add("", mark.points, closed=True)
        if stroke:
            self.add(stroke, mark.points, closed=True)

    def white(self, look: str, points: Sequence[Point]) -> None:
        """A white area covers what is there already; areas of one look side by side share a path."""
        x0, y0, x1, y1 = bounds = plane.bounds(points)
        slack = 0.02
        apart = all(
            x1 < a0 + slack or a1 < x0 + slack or y1 < b0 + slack or b1 < y0 + slack for a0, b0, a1, b1 in self.areas
        )
        if set(self.ink) - {look} or not self.areas or not apart:
            self.flush()
        self.add(look, points, closed=True)
        self.areas.append(bounds)

    def circle(self, mark: Circle) -> None:
        look = self.stroke(mark.pen).replace("fill:none", f"fill:{_INK.get(mark.fill, 'none')}")
        x, y = self.place(mark.centre)
        radius = round(mark.radius * self.per_mm)
        if mark.fill == "white" or self.areas:
            self.flush()
        self.out.append(f"<circle class={self.looks.name(look)} cx={x} cy={y} r={radius} />")

    def text(self, mark: Text) -> None:
        if mark.boxed or mark.white_on_black:
            self.flush()
            self.add("" if mark.white_on_black else "fill:#fff;", extent(mark, BOX_PAD), closed=True)
            self.flush()
        elif self.areas:
            self.flush()  # what is white already lies under the text
        size = mark.size * MM_PER_POINT
        drop = CAP * size / 2
        turn = radians(mark.turned)
        x, y = self.place((mark.at[0] + drop * sin(turn), mark.at[1] - drop * cos(turn)))
        turned = f' transform="rotate({-mark.turned:g} {x} {y})"' if mark.turned else ""
        if mark.boxed or mark.white_on_black or _key(mark) not in self.often:
            self.out.append(f"<text {self.face(mark)} x={x} y={y}{turned}>{spans(mark.text)}</text>")
            return
        name = self.often[_key(mark)]
        if not name:
            name = self.often[_key(mark)] = self.looks.label()
            # the text itself has no place: every use of it says where
            self.out.append(f"<defs><text {self.face(mark)} id={name}>{spans(mark.text)}</text></defs>")
        self.out.append(f'<use href="#{name}" x={x} y={y}{turned} />')

    def face(self, mark: Text) -> str:
        """Class of a text's size, weight, colour and anchor."""
        bold = "font-weight:bold;" if mark.bold else ""
        ink = "fill:#fff;" if mark.white_on_black else ""
        size = self.number(mark.size * MM_PER_POINT)
        return f"class={self.looks.name(f'font-size:{size}px;{bold}{_ANCHOR[mark.anchor]}{ink}')}"


def _key(mark: Text) -> tuple[str, float, bool, str]:
    return (mark.text, mark.size, mark.bold, mark.anchor)


def spans(text: str) -> str:
    """A line of text with its fractions set small: numerator raised, denominator back on the line."""
    out: list[str] = []
    found = runs(text)
    gap = ""
    for string, factor, lift in found:
        words = escape(string, quote=False)
        if factor == 1.0:
            out.append(words)
        elif lift:
            out.append(f"<tspan class={SMALL} dy=-{_RAISE}>{gap}{words}")
            gap = ""
        elif string == " ":
            gap = " "  # the narrow space before a fraction stands in the numerator's own run
        else:
            out.append(f"<tspan dy={_RAISE}>{words}</tspan></tspan>")
    return "".join(out)


def relative(lines: Iterable[tuple[Sequence[tuple[int, int]], bool]]) -> str:
    """Lines through whole points (closed or not) as one path, written from point to point.

    >>> relative([([(1, 2), (4, 2), (4, 9), (1, 5)], True), ([(3, 2), (3, 9)], False)])
    'M1 2h3v7l-3-4zm2 0v7'
    """
    out: list[str] = []
    x = y = 0
    for points, closed in lines:
        (start_x, start_y), *rest = points
        move = f"m{_pair(start_x - x, start_y - y)}"
        there = f"M{_pair(start_x, start_y)}"
        out.append(there if not out or len(there) < len(move) else move)
        x, y = start_x, start_y
        letter = ""
        for to_x, to_y in rest:
            dx, dy = to_x - x, to_y - y
            x, y = to_x, to_y
            if dx == 0 or dy == 0:
                if dx or dy or len(rest) == 1:
                    letter = "v" if dy else "h"
                    out.append(f"{letter}{dy or dx}")
                continue
            out.append(f"{'l' if letter != 'l' else '' if dx < 0 else ' '}{_pair(dx, dy)}")
            letter = "l"
        if closed:
            out.append("z")
            x, y = start_x, start_y
    return "".join(out)


def _pair(x: int, y: int) -> str:
    return f"{x}{y}" if y < 0 else f"{x} {y}"
