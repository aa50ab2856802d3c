"""Paint marks as SVG, for the packet and the HTML: same marks, same bytes.

The few elements a drawing needs are written directly: a packet holds hundreds of drawings, and matplotlib takes 40 to
200 ms for each where this takes under 1 ms (measured in docs/drawings.md).
"""

from __future__ import annotations

from collections.abc import Sequence
from math import cos, radians, sin
from xml.sax.saxutils import escape, quoteattr

from fabplan.plotter.board import geometry
from fabplan.plotter.board.measure import CAP, MM_PER_POINT, extent, missing, runs
from fabplan.plotter.board.pens import HATCH_ANGLE, HATCH_SPACING, HATCH_WIDTH, PENS
from fabplan.plotter.model import Circle, Drawing, Fill, Line, Pen, Point, Shape, Text

FAMILY = "DejaVu Sans, Verdana, sans-serif"
BOX_PAD = 0.5  # mm of white (or black) around a boxed text


class GlyphError(ValueError):
    """A text holds characters the font has no glyph for; the caller must refuse or replace them."""

    def __init__(self, text: str, lacking: str) -> None:
        self.text, self.lacking = text, lacking
        super().__init__(f"no glyph in DejaVu Sans for {', '.join(f'U+{ord(c):04X}' for c in lacking)} in {text!r}")


def _n(value: float) -> str:
    """A number as short as 0.001 mm allows."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _c(value: float) -> str:
    """A coordinate: 0.01 mm is ten times finer than a template must be."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def arrow_length(pen: Pen) -> float:
    """Length in mm of the arrowhead on a line drawn with `pen`."""
    return 2.0 + 0.9 * PENS[pen].width


def line_parts(line: Line) -> tuple[tuple[Point, ...], list[tuple[Point, Point, Point]]]:
    """The polyline shortened under its arrowheads, and the arrowheads."""
    points = list(line.points)
    heads = []
    size = arrow_length(line.pen)
    if line.arrow:
        heads.append(geometry.arrow_head(points[-1], points[-2], size))
        points[-1] = geometry.toward(points[-1], points[-2], 0.8 * size)
    if line.arrow == "both":
        heads.append(geometry.arrow_head(points[0], points[1], size))
        points[0] = geometry.toward(points[0], points[1], 0.8 * size)
    return tuple(points), heads


def hatch_paths(points: Sequence[Point], fill: Fill) -> list[geometry.Segment]:
    """The lines of a hatched polygon."""
    return geometry.hatch_lines(points, HATCH_ANGLE[fill], HATCH_SPACING)


class _Svg:
    """Collects elements; turns y up into y down."""

    def __init__(self, height: float) -> None:
        self.height = height
        self.parts: list[str] = []

    def path(self, points: Sequence[Point], closed: bool = False) -> str:
        body = "L".join(f"{_c(x)} {_c(self.height - y)}" for x, y in points)
        return f"M{body}" + ("Z" if closed else "")

    def stroke(self, pen: Pen) -> str:
        s = PENS[pen]
        dashes = f' stroke-dasharray="{",".join(_n(d) for d in s.dashes)}"' if s.dashes else ""
        return f'stroke="#000" stroke-width="{_n(s.width * MM_PER_POINT)}"{dashes}'

    def fill(self, points: Sequence[Point], fill: Fill) -> None:
        if fill in ("white", "black"):
            self.parts.append(f'<path d="{self.path(points, True)}" fill="{"#fff" if fill == "white" else "#000"}"/>')
        elif fill in HATCH_ANGLE:
            body = "".join(self.path(line) for line in hatch_paths(points, fill))
            if body:
                wide = _n(HATCH_WIDTH * MM_PER_POINT)
                self.parts.append(f'<path d="{body}" fill="none" stroke="#000" stroke-width="{wide}"/>')

    def line(self, mark: Line) -> None:
        points, heads = line_parts(mark)
        self.parts.append(f'<path d="{self.path(points)}" fill="none" {self.stroke(mark.pen)}/>')
        for head in heads:
            self.parts.append(f'<path d="{self.path(head, True)}"/>')

    def shape(self, mark: Shape) -> None:
        self.fill(mark.points, mark.fill)
        if mark.pen:
            self.parts.append(f'<path d="{self.path(mark.points, True)}" fill="none" {self.stroke(mark.pen)}/>')

    def circle(self, mark: Circle) -> None:
        ink = {"white": "#fff", "black": "#000"}.get(mark.fill, "none")
        x, y = mark.centre
        self.parts.append(
            f'<circle cx="{_c(x)}" cy="{_c(self.height - y)}" r="{_c(mark.radius)}" '
            f'fill="{ink}" {self.stroke(mark.pen)}/>'
        )

    def text(self, mark: Text) -> None:
        if mark.boxed or mark.white_on_black:
            self.fill(extent(mark, BOX_PAD), "black" if mark.white_on_black else "white")
        size = mark.size * MM_PER_POINT
        drop = CAP * size / 2
        x, y = mark.at
        at_x = x + drop * sin(radians(mark.turned))
        at_y = self.height - (y - drop * cos(radians(mark.turned)))
        anchor = {"left": "", "centre": ' text-anchor="middle"', "right": ' text-anchor="end"'}[mark.anchor]
        turn = f' transform="rotate({_n(-mark.turned)} {_c(at_x)} {_c(at_y)})"' if mark.turned else ""
        weight = ' font-weight="bold"' if mark.bold else ""
        ink = ' fill="#fff"' if mark.white_on_black else ""
        self.parts.append(
            f'<text x="{_c(at_x)}" y="{_c(at_y)}" font-size="{_n(size)}"{weight}{anchor}{ink}{turn}>'
            f"{self._spans(mark.text, size)}</text>"
        )

    @staticmethod
    def _spans(text: str, size: float) -> str:
        parts, lift = [], 0.0
        for string, factor, raised in runs(text):
            step = raised - lift
            lift = raised
            if factor == 1.0 and not step:
                parts.append(escape(string))
                continue
            dy = f' dy="{_n(-step * size)}"' if step else ""
            small = f' font-size="{_n(factor * size)}"' if factor != 1.0 else ""
            parts.append(f"<tspan{small}{dy}>{escape(string)}</tspan>")
        return "".join(parts)


def svg(drawing: Drawing) -> str:
    """The drawing as one SVG string: true size in mm, text as text, no scripts, styles or identifiers.

    Raises
    ------
    GlyphError
        When a text holds a character DejaVu Sans lacks (it would print as an empty box without warning).
    """
    canvas = _Svg(drawing.height)
    for mark in drawing.marks:
        match mark:
            case Line():
                canvas.line(mark)
            case Shape():
                canvas.shape(mark)
            case Circle():
                canvas.circle(mark)
            case Text():
                if lacking := missing(mark.text):
                    raise GlyphError(mark.text, lacking)
                canvas.text(mark)
    w, h = _n(drawing.width), _n(drawing.height)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{w}mm" height="{h}mm" viewBox="0 0 {w} {h}" role="img" '
        f'aria-label={quoteattr(drawing.title)} font-family="{FAMILY}" xml:space="preserve">'
        f"<title>{escape(drawing.title)}</title>" + "\n".join(canvas.parts) + "</svg>\n"
    )
