"""Blank drawing: what is sheared, what is snipped off, where it is folded, and the number of every edge.

Seen from the face. Fold lines are narrow continuous lines (bending lines on blanks, ISO 128-2); metal to be snipped off
is hatched, its sheared border drawn as an outline before forming.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise
from math import atan2, degrees
from typing import Literal

from fabplan import plane
from fabplan.blanks.model import FlatPattern, Fold
from fabplan.plotter.blank.snips import SNIP_SIZE, draw_snips
from fabplan.plotter.blank.strip import draw_strip
from fabplan.plotter.blank.strip_ends import draw_strip_ends
from fabplan.plotter.board import geometry, labels
from fabplan.plotter.board.draft import Draft, spread
from fabplan.plotter.board.measure import cap_height, extent, fit, width
from fabplan.plotter.board.rolling import rolled_arrow
from fabplan.plotter.model import Drawing, Point, Text
from fabplan.units import NM_PER_INCH, Show

EDGE_SIZE = 13.0
NOTE_SIZE = 8.5
MARGIN_LEFT, MARGIN_BOTTOM, MARGIN_RIGHT, MARGIN_TOP = 24.0, 20.0, 14.0, 12.0


def draw_blank(
    pattern: FlatPattern,
    *,
    show: Show,
    name: str = "",
    width_mm: float = 160.0,
    height_mm: float = 110.0,
    rolled: Sequence[float] = (),
) -> Drawing:
    """Picture of the flat blank of a piece, with sizes, snips, fold lines and edge numbers; an arrow for each rolling
    direction in `rolled`, degrees from the level."""
    name = name or f"blank-{pattern.mark}"
    if pattern.ends:
        return draw_strip_ends(pattern, show=show, name=name, width_mm=width_mm, height_mm=height_mm)
    if pattern.section is not None:
        return draw_strip(pattern, show=show, name=name, width_mm=width_mm, height_mm=height_mm, rolled=rolled)
    draft = Draft()
    x0, y0, x1, y1 = plane.bounds(pattern.outline)
    chained = not _plain(pattern)
    left, bottom = (MARGIN_LEFT + 12.0, MARGIN_BOTTOM + 7.0) if chained else (MARGIN_LEFT, MARGIN_BOTTOM)
    right = MARGIN_RIGHT + (12.0 if chained or pattern.notches else 0.0)
    scale = min((width_mm - left - right) / (x1 - x0), (height_mm - bottom - MARGIN_TOP) / (y1 - y0), 25.4)
    left += (width_mm - left - right - (x1 - x0) * scale) / 2

    def at(p: Point) -> Point:
        return left + (p[0] - x0) * scale, bottom + (p[1] - y0) * scale

    outline = tuple(at(p) for p in pattern.outline)
    snipped = tuple(at(p) for p in pattern.snipped)
    for notch in pattern.notches:
        if notch.removed:
            draft.polygon((at(p) for p in notch.removed), "former", "hatch")
    for fold in pattern.folds:
        draft.line((at(fold.line[0]), at(fold.line[1])), "fold")
        draft.take(geometry.strip_box(at(fold.line[0]), at(fold.line[1]), 0.3))
    for crease in pattern.creases:
        draft.line((at(crease.line[0]), at(crease.line[1])), "fold")
    if pattern.round:
        draft.polygon(outline, "former")
        draft.line((outline[0], outline[2]), "centre")
        draft.line((outline[1], outline[3]), "centre")
    draft.polygon(snipped, "outline")
    for a, b in zip(snipped, snipped[1:] + snipped[:1], strict=True):
        draft.take(geometry.strip_box(a, b, 0.5))
    if _rhombus(pattern):
        _rhombus_sizes(draft, pattern, outline, show)
    else:
        _box_sizes(draft, pattern, outline, scale, show, chained, width_mm)
    draw_snips(draft, pattern, at, scale, show)
    if not pattern.round:
        _edge_numbers(draft, pattern, at)
    for fold in pattern.folds:
        _fold_note(draft, fold, at, show)
    _name(draft, pattern, snipped)
    for way in rolled:
        rolled_arrow(draft, snipped, way, outside=True, word=True)
    title = f"Blank {pattern.mark}, seen from the face"
    return draft.trimmed(name, title, width_mm, 25.4 / scale)


def _plain(pattern: FlatPattern) -> bool:
    return pattern.rectangular or _rhombus(pattern)


def _rhombus(pattern: FlatPattern) -> bool:
    """Whether the sheared blank is a slanted strip's rhombus: sized by strip height and side."""
    return pattern.kind == "diamond" and not pattern.rectangular


def reading_angle(a: Point, b: Point) -> float:
    """Turn of a text along a line so that it reads from the bottom or from the right, degrees in (-90, 90]."""
    angle = degrees(atan2(b[1] - a[1], b[0] - a[0]))
    angle = (angle + 90.0) % 180.0 - 90.0
    return 90.0 if angle <= -89.99 else angle


def edge_number_spot(pattern: FlatPattern, edge: int) -> tuple[Point, Point]:
    """Where an edge's number belongs on the flat blank: a point on its border and the unit vector outward, inches."""
    corners = pattern.finished.outline or pattern.outline
    a, b = corners[edge - 1], corners[edge % len(corners)]
    long = plane.distance(a, b)
    out = ((b[1] - a[1]) / long, -(b[0] - a[0]) / long)
    middle = geometry.between(a, b, 0.5)
    reach = 0.0
    for p, q in zip(pattern.snipped, pattern.snipped[1:] + pattern.snipped[:1], strict=True):
        # how far out the border lies straight out from the middle of the edge
        dp = ((p[0] - middle[0]) * -out[1] + (p[1] - middle[1]) * out[0]) * -1
        dq = ((q[0] - middle[0]) * -out[1] + (q[1] - middle[1]) * out[0]) * -1
        if dp * dq <= 0 and abs(dp - dq) > 1e-12:
            share = dp / (dp - dq)
            x, y = geometry.between(p, q, share)
            reach = max(reach, (x - middle[0]) * out[0] + (y - middle[1]) * out[1])
    return (middle[0] + out[0] * reach, middle[1] + out[1] * reach), out


def on_border(pattern: FlatPattern, spot: Point) -> bool:
    """Whether a point lies on the border of what is left of the blank after snipping."""
    ring = pattern.snipped
    for a, b in zip(ring, ring[1:] + ring[:1], strict=True):
        long = plane.distance(a, b)
        if abs(plane.distance(a, spot) + plane.distance(spot, b) - long) < 1e-6 * max(1.0, long):
            return True
    return False


def edge_count(pattern: FlatPattern) -> int:
    """Number of edges of the finished piece."""
    return len(pattern.finished.outline or pattern.outline)


def _edge_numbers(draft: Draft, pattern: FlatPattern, at, /) -> None:  # type: ignore[no-untyped-def]
    for edge in range(1, edge_count(pattern) + 1):
        spot, out = edge_number_spot(pattern, edge)
        if not on_border(pattern, spot):
            continue  # nothing of this edge is left
        corners = pattern.finished.outline or pattern.outline
        a, b = at(corners[edge - 1]), at(corners[edge % len(corners)])
        x, y = at(spot)
        reach = 3.2 + abs(out[0]) * width(str(edge), EDGE_SIZE, True) / 4
        choices = [
            Text(
                at=(
                    x + out[0] * (reach + more) + (b[0] - a[0]) * share,
                    y + out[1] * (reach + more) + (b[1] - a[1]) * share,
                ),
                text=str(edge),
                size=EDGE_SIZE,
                bold=True,
            )
            for more in (0.0, 3.0, 6.0, 9.0, 12.0)
            for share in (0.0, 0.06, -0.06, 0.12, -0.12, 0.2, -0.2, 0.3, -0.3)
        ]
        if not draft.place(choices, 0.3):
            draft.text(choices[0])


def _box_sizes(
    draft: Draft,
    pattern: FlatPattern,
    outline: tuple[Point, ...],
    scale: float,
    show: Show,
    chained: bool,
    width_mm: float,
) -> None:
    x0, y0, x1, y1 = plane.bounds(outline)
    below, beside = _running(draft, outline, scale, show, width_mm) if chained else (0.0, 0.0)
    below, beside = max(12.0, below + 5.5), max(12.0, beside + 6.0)
    inch = pattern.grid / NM_PER_INCH
    draft.dimension((x0, y0), (x1, y0), -below, labels.bare(show, pattern.width_units * inch), size=10.5, bold=True)
    draft.dimension((x0, y0), (x0, y1), beside, labels.bare(show, pattern.length_units * inch), size=10.5, bold=True)


def _running(
    draft: Draft, outline: tuple[Point, ...], scale: float, show: Show, width_mm: float
) -> tuple[float, float]:
    """Corners of the sheared blank from its lower left, as running sizes on the nearest sides.

    Returns the paper they take below and at the left, mm.
    """
    x0, y0, x1, y1 = plane.bounds(outline)
    sides: dict[str, list[float]] = {"bottom": [], "top": [], "left": [], "right": []}
    for x, y in outline:
        if min(x - x0, x1 - x) > 0.01:
            sides["bottom" if y - y0 < y1 - y else "top"].append(round(x, 7))
        if min(y - y0, y1 - y) > 0.01:
            sides["left" if x - x0 < x1 - x else "right"].append(round(y, 7))
    taken = {"bottom": 0.0, "left": 0.0}
    for x in (x0, x1):  # kept for the extension lines of the overall width
        draft.take(geometry.strip_box((x, y0), (x, y0 - 20.0), 0.3))
    for side, sign, base in (("bottom", -1.0, y0), ("top", 1.0, y1)):
        at = _distinct(sides[side], lambda x: labels.bare(show, round((x - x0) / scale, 6)))
        texts = [labels.bare(show, round((x - x0) / scale, 6)) for x in at]
        halves = [width(t, SNIP_SIZE) / 2 + 0.9 for t in texts]
        for x, text, spot in zip(at, texts, spread(at, halves, 2.0, width_mm - 2.0) or at, strict=True):
            level = base + sign * 10.5
            shifts = (0.0, 2.0, -2.0, 4.0, -4.0, 6.0, -6.0, 8.0, -8.0)
            spots = [Text(at=(spot + shift, level), text=text, size=SNIP_SIZE) for shift in shifts]
            value = draft.place(spots, 0.3)
            if value is None:
                value = spots[0]
                draft.text(value)
            line = ((x, base + sign * 0.8), (x, base + sign * 5.0), (value.at[0], level - sign * 2.0))
            draft.line(line, "dimension")
            for p, q in pairwise(line):
                draft.take(geometry.strip_box(p, q, 0.3))
            taken["bottom"] = max(taken["bottom"], 13.0 if side == "bottom" else 0.0)
    half = cap_height(SNIP_SIZE) / 2 + 0.9
    for side, sign, base in (("left", -1.0, x0), ("right", 1.0, x1)):
        at = _distinct(sides[side], lambda y: labels.bare(show, round((y - y0) / scale, 6)))
        levels = spread(at, [half] * len(at), y0 - 6, y1 + 6) or at
        for y, level in zip(at, levels, strict=True):
            text = labels.bare(show, round((y - y0) / scale, 6))
            line = ((base + sign * 0.8, y), (base + sign * 6.0, y), (base + sign * 9.0, level))
            draft.line(line, "dimension")
            draft.take(geometry.strip_box(line[0], line[1], 0.3))
            draft.take(geometry.strip_box(line[1], line[2], 0.3))
            anchor: Literal["left", "right"] = "left" if sign > 0 else "right"
            draft.text(Text(at=(base + sign * 9.6, level), text=text, size=SNIP_SIZE, anchor=anchor))
            if side == "left":
                taken["left"] = max(taken["left"], 10.0 + width(text, SNIP_SIZE))
    return taken["bottom"], taken["left"]


def _distinct(values: list[float], text: Callable[[float], str]) -> list[float]:
    """Values in order, those that print alike only once."""
    return sorted({text(v): v for v in sorted(values, reverse=True)}.values())


def _rhombus_sizes(draft: Draft, pattern: FlatPattern, outline: tuple[Point, ...], show: Show) -> None:
    """Strip height across and side along the strip: the shear's two settings."""
    x0, y0, x1, _ = plane.bounds(outline)
    inch = pattern.grid / NM_PER_INCH
    draft.dimension((x0, y0), (x1, y0), -12.0, labels.bare(show, pattern.width_units * inch), size=10.5, bold=True)
    side = [p for p in outline if abs(p[0] - x0) < 1e-6]
    low, high = min(side, key=lambda p: p[1]), max(side, key=lambda p: p[1])
    real = pattern.outline
    on_left = sorted(p[1] for p in real if abs(p[0] - min(q[0] for q in real)) < 1e-9)
    draft.dimension(low, high, 12.0, labels.bare(show, on_left[-1] - on_left[0]), size=10.5, bold=True)


def fold_words(fold: Fold, show: Show) -> str:
    """A fold in few words: ``hem 1 to the face`` or ``90° to the back, 3⁄4 wide``."""
    if fold.hem:
        kind = "open hem" if fold.gap > 0 else "closed hem"
        return f"{kind} {labels.bare(show, fold.width)} to the {fold.toward}"
    size = f", {labels.bare(show, fold.width)} wide" if fold.width > 0 else ""
    return f"{labels.degrees(fold.turned)} to the {fold.toward}{size}"


def _fold_note(draft: Draft, fold: Fold, at, show: Show) -> None:  # type: ignore[no-untyped-def]
    a, b = at(fold.line[0]), at(fold.line[1])
    long = plane.distance(a, b)
    short = f"{labels.bare(show, fold.width)} to the {fold.toward}"
    for text in (fold_words(fold, show), short):
        size = fit(text, long - 4.0, NOTE_SIZE, 8.0)
        if size is not None:
            break
    else:
        return
    turned = reading_angle(a, b)
    inward = (-(b[1] - a[1]) / long, (b[0] - a[0]) / long)
    if fold.flap:
        fx, fy = at(plane.middle(fold.flap))
        if (fx - a[0]) * inward[0] + (fy - a[1]) * inward[1] > 0:
            inward = (-inward[0], -inward[1])
    off = cap_height(size) / 2 + 1.4
    choices = []
    for share in (0.5, 0.4, 0.6, 0.3, 0.7):
        x, y = geometry.between(a, b, share)
        choices.append(Text(at=(x + inward[0] * off, y + inward[1] * off), text=text, size=size, turned=turned))
    draft.place(choices, 0.2)


def _name(draft: Draft, pattern: FlatPattern, snipped: tuple[Point, ...]) -> None:
    """Piece mark and the side that is seen, in the middle."""
    cx, cy = plane.middle(snipped)
    _, y0, x1, y1 = plane.bounds(snipped)
    for size in (26.0, 20.0, 15.0, 11.0, 9.0):
        small = max(8.0, size * 0.45)
        gap = cap_height(size) / 2 + cap_height(small) / 2 + 2.0
        for up in (0.0, 0.12, -0.12, 0.22, -0.22):
            y = cy + up * (y1 - y0) + gap / 3
            texts = [
                Text(at=(cx, y), text=labels.clipped(pattern.mark), size=size, bold=True),
                Text(at=(cx, y - gap), text="FACE", size=small, bold=True),
            ]
            boxes = [extent(t, 0.8) for t in texts]
            inside = all(plane.contains(snipped, p) for box in boxes for p in box)
            if inside and all(draft.free(b) for b in boxes):
                for text in texts:
                    draft.text(text)
                return
    beside = Text(at=(x1, y0), text=f"{labels.clipped(pattern.mark)}, FACE", size=9.0, bold=True, anchor="left")
    draft.place(
        [
            replace(beside, at=(x1 + out, y0 + (y1 - y0) * k / 8))
            for out in (3.0, 8.0, 14.0, 20.0)
            for k in (6, 2, 8, 0, 7, 1, 5, 3)
        ]
    )
