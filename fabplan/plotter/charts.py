"""Charts in black and white: metal and scrap by stock option, metal against finished size, pieces per course.

Decided as marks like every drawing (so they are measured, tested and painted alike); matplotlib's tick locator picks
the steps of the axes. Series are told apart by line and by name at their end, never by colour or grey.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import isfinite

from fabplan.plotter.board.draft import Draft, spread
from fabplan.plotter.board.measure import shorten, width
from fabplan.plotter.model import Circle, Drawing, Fill, Pen, Point, Shape, Text

LABEL = 9.0
SMALL = 8.0
ROW = 9.0  # mm


@dataclass(frozen=True, slots=True, kw_only=True)
class StockBar:
    """One stock option: how much is bought, split into shares (of 1), and what is printed at the end of its bar.

    `amount` sets the bar's length (money or weight or area, the same for all bars); `amount` None: `says` only, for
    an option that does not hold the job. `best` marks the one chosen.
    """

    name: str
    amount: float | None
    blanks: float = 0.0
    kept: float = 0.0
    scrap: float = 0.0
    says: str = ""
    best: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """A named line: (x, y) points in order of x; a y that is not finite breaks the line. `strong` draws it heavy."""

    name: str
    points: tuple[Point, ...]
    strong: bool = False
    marked: tuple[int, ...] = ()


def ticks(low: float, high: float, most: int = 6) -> list[float]:
    """Round numbers between two values, at most `most` + 1."""
    from matplotlib.ticker import MaxNLocator

    found = MaxNLocator(nbins=most, steps=[1, 2, 2.5, 5, 10]).tick_values(low, high)
    slack = 1e-9 * max(1.0, abs(high - low))
    return [float(round(t, 10)) for t in found if low - slack <= t <= high + slack]


def draw_stock_bars(
    bars: Sequence[StockBar],
    *,
    name: str = "stock-options",
    title: str,
    width_mm: float = 180.0,
    parts: tuple[str, str, str] = ("in blanks", "back on the rack", "scrap bin"),
) -> Drawing:
    """Horizontal bars as given: `parts` are what its white, dashed and hatched parts are, "" for one not used."""
    draft = Draft()
    names = max((width(b.name, LABEL, True) for b in bars), default=0.0)
    left = min(names, width_mm * 0.3) + 5.0
    says = max((width(b.says, LABEL, True) for b in bars if b.amount is not None), default=0.0)
    right = width_mm - says - 5.0
    longest = max((b.amount for b in bars if b.amount is not None), default=1.0) or 1.0
    high = ROW * len(bars) + 9.0
    for i, bar in enumerate(bars):
        y = high - 2.0 - ROW * (i + 0.5)
        label = shorten(bar.name, left - 5.0, LABEL, True)
        draft.text(Text(at=(left - 3.0, y), text=label, size=LABEL, bold=bar.best, anchor="right"))
        if bar.amount is None:
            text = shorten(bar.says, width_mm - left - 4.0, LABEL)
            draft.text(Text(at=(left + 2.0, y), text=text, size=LABEL, anchor="left"))
            continue
        x = left
        long = (right - left) * bar.amount / longest
        for share, fill in ((bar.blanks, "white"), (bar.kept, "hatch-other"), (bar.scrap, "hatch")):
            wide = long * share
            if wide > 0.05:
                draft.add(_box(x, y, wide, fill))  # type: ignore[arg-type]
            x += wide
        outline = ((left, y - 2.6), (left + long, y - 2.6), (left + long, y + 2.6), (left, y + 2.6))
        draft.add(Shape(points=outline, pen="outline" if bar.best else "edge"))
        draft.text(Text(at=(left + long + 2.0, y), text=bar.says, size=LABEL, bold=bar.best, anchor="left"))
    draft.line(((left, high - 2.0), (left, 8.0)), "edge")
    x = left
    fills: tuple[tuple[str, Fill], ...] = (
        (parts[0], "white"),
        (parts[1], "hatch-other"),
        (parts[2], "hatch"),
    )
    for words, fill in fills:
        if not words:
            continue
        draft.add(Shape(points=((x, 1.6), (x + 7, 1.6), (x + 7, 5.2), (x, 5.2)), pen="edge", fill=fill))
        draft.text(Text(at=(x + 9.0, 3.4), text=words, size=SMALL, anchor="left"))
        x += 9.0 + width(words, SMALL) + 8.0
    return draft.done(name, title, width_mm, high)


def _box(x: float, y: float, wide: float, fill: Fill) -> Shape:
    return Shape(points=((x, y - 2.6), (x + wide, y - 2.6), (x + wide, y + 2.6), (x, y + 2.6)), pen="edge", fill=fill)


LINE_PENS: tuple[Pen, ...] = ("edge", "hidden", "fold-later", "centre", "former", "snap")


@dataclass(frozen=True, slots=True)
class _Axes:
    """From values to paper."""

    x0: float
    x1: float
    y0: float
    y1: float
    left: float
    bottom: float
    right: float
    top: float

    def point(self, p: Point) -> Point:
        return (
            self.left + (p[0] - self.x0) / (self.x1 - self.x0) * (self.right - self.left),
            self.bottom + (p[1] - self.y0) / (self.y1 - self.y0) * (self.top - self.bottom),
        )


def draw_size_curve(
    series: Sequence[Series],
    *,
    x_name: str,
    y_name: str,
    x_text: Callable[[float], str],
    y_text: Callable[[float], str],
    title: str,
    name: str = "size-against-metal",
    asked: float | None = None,
    width_mm: float = 180.0,
    height_mm: float = 90.0,
) -> Drawing:
    """Lines of metal against finished size, named at their right end; ringed points are the sizes worth choosing.

    Parameters
    ----------
    series : sequence of Series
    x_name, y_name : str
        What the axes count, with the unit.
    x_text, y_text : callable
        Printed form of an axis value.
    title : str
    name : str
        File stem.
    asked : float, optional
        The size the job asks for, marked with an upright line.
    width_mm, height_mm : float
    """
    draft = Draft()
    values = [p for s in series for p in s.points if isfinite(p[1])]
    if not values:
        raise ValueError("nothing to draw: no finite point in any series")
    x0, x1 = min(p[0] for p in values), max(p[0] for p in values)
    low, high = min(p[1] for p in values), _clipped_top([p[1] for p in values])
    pad = 0.06 * (high - low) or 0.05 * abs(high) or 1.0
    y_ticks = ticks(max(0.0, low - pad), high + pad)
    names = max(width(s.name, LABEL, True) for s in series)
    widest = max(width(y_text(t), SMALL) for t in y_ticks)
    axes = _Axes(
        x0,
        x1 if x1 > x0 else x0 + 1.0,
        max(0.0, low - pad),
        high + pad,
        widest + 9.0,
        13.0,
        width_mm - names - 7.0,
        height_mm - 4.0,
    )
    _frame(draft, axes, y_ticks, x_name, y_name, x_text, y_text)
    if asked is not None and x0 <= asked <= x1:
        x, _ = axes.point((asked, axes.y0))
        draft.line(((x, axes.bottom), (x, axes.top)), "former")
        draft.place([Text(at=(x + 1.5, axes.top - 2.5), text="asked for", size=SMALL, anchor="left", boxed=True)])
    ends = []
    for i, one in enumerate(series):
        pen: Pen = "outline" if one.strong else LINE_PENS[i % len(LINE_PENS)]
        for run in _runs(one.points, axes.y1):
            draft.line([axes.point(p) for p in run], pen)
        for k in one.marked:
            if isfinite(one.points[k][1]) and one.points[k][1] <= axes.y1:
                draft.add(Circle(centre=axes.point(one.points[k]), radius=1.2, pen="edge"))
        last = next((p for p in reversed(one.points) if isfinite(p[1]) and p[1] <= axes.y1), None)
        if last is not None:
            ends.append((axes.point(last), one))
    ends.sort(key=lambda e: e[0][1])
    at = spread([e[0][1] for e in ends], [2.2] * len(ends), axes.bottom - 4, axes.top + 3)
    for ((x, y), one), level in zip(ends, at or [e[0][1] for e in ends], strict=True):
        draft.line(((x + 0.6, y), (axes.right + 2.0, level)), "dimension")
        draft.text(Text(at=(axes.right + 3.0, level), text=one.name, size=LABEL, bold=one.strong, anchor="left"))
    return draft.done(name, title, width_mm, height_mm)


def _clipped_top(values: list[float]) -> float:
    """Highest value worth showing: a few sizes that barely fit would flatten all the rest."""
    ordered = sorted(values)
    usual = ordered[int(0.9 * (len(ordered) - 1))]
    return min(ordered[-1], 1.6 * usual)


def _runs(points: Sequence[Point], top: float) -> list[list[Point]]:
    """Stretches of a line whose values are finite and in the frame."""
    runs: list[list[Point]] = [[]]
    for p in points:
        if isfinite(p[1]) and p[1] <= top:
            runs[-1].append(p)
        elif runs[-1]:
            runs.append([])
    return [r for r in runs if len(r) > 1]


def _frame(
    draft: Draft,
    axes: _Axes,
    y_ticks: list[float],
    x_name: str,
    y_name: str,
    x_text: Callable[[float], str],
    y_text: Callable[[float], str],
) -> None:
    draft.line(((axes.left, axes.top), (axes.left, axes.bottom), (axes.right, axes.bottom)), "edge")
    for t in y_ticks:
        _, y = axes.point((axes.x0, t))
        draft.line(((axes.left - 1.2, y), (axes.left, y)), "dimension")
        draft.text(Text(at=(axes.left - 2.0, y), text=y_text(t), size=SMALL, anchor="right"))
    shown = ticks(axes.x0, axes.x1, 8)
    half = max(width(x_text(t), SMALL) for t in shown) / 2 + 1.0 if shown else 0.0
    every = 1
    if len(shown) > 1:
        apart = min(axes.point((b, 0))[0] - axes.point((a, 0))[0] for a, b in pairwise(shown))
        while every * apart < 2 * half:
            every += 1
    for i, t in enumerate(shown):
        x, _ = axes.point((t, axes.y0))
        draft.line(((x, axes.bottom - 1.2), (x, axes.bottom)), "dimension")
        if i % every == 0:
            draft.text(Text(at=(x, axes.bottom - 3.4), text=x_text(t), size=SMALL))
    draft.text(Text(at=((axes.left + axes.right) / 2, 3.0), text=x_name, size=LABEL))
    draft.text(Text(at=(2.6, (axes.bottom + axes.top) / 2), text=y_name, size=LABEL, turned=90.0))
