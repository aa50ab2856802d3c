"""Full-scale templates: the blank at true size, cut into windows that fit Letter and A4, with marks to join them.

Every tile shows a 7 x 9 in window of the blank between four registration marks. Tiles are named by row (from the top)
and column; a map shows where the tile belongs, and two bars prove the printer's scale both ways.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import ceil

from fabplan import plane
from fabplan.blanks import clip
from fabplan.blanks.model import FlatPattern
from fabplan.plotter.blank.blank import EDGE_SIZE, edge_count, edge_number_spot, fold_words, on_border, reading_angle
from fabplan.plotter.board import geometry, labels
from fabplan.plotter.board.draft import Draft
from fabplan.plotter.board.measure import extent, shorten, width
from fabplan.plotter.model import Circle, Drawing, Pen, Point, Shape, Text
from fabplan.units import NM_PER_INCH, Show

INCH = 25.4
WINDOW = (7 * INCH, 9 * INCH)
LEFT, BOTTOM = 8.0, 17.0  # paper left of and below the window, mm
RIGHT, TOP = 8.0, 14.0
WIDTH, HEIGHT = LEFT + WINDOW[0] + RIGHT, BOTTOM + WINDOW[1] + TOP
CHECK = "CHECK: this bar must measure {along} and the upright one {up}. Print at 100 %, never “fit to page”."
EDGE_ROOM = 0.45  # inches round the blank, so that its border and numbers never lie on a window's border


@dataclass(frozen=True, slots=True, kw_only=True)
class TemplateTile:
    """One page of a template: its place, and the window's lower left corner in the blank's frame (inches)."""

    row: int
    column: int
    rows: int
    columns: int
    corner: Point
    drawing: Drawing


def windows(pattern: FlatPattern) -> tuple[int, int, Point]:
    """Rows, columns and the lower left corner (inches) of the grid of 7 x 9 in windows that covers the blank."""
    x0, y0, x1, y1 = plane.bounds(pattern.outline)
    columns = ceil((x1 - x0 + 2 * EDGE_ROOM) / 7 - 1e-9)
    rows = ceil((y1 - y0 + 2 * EDGE_ROOM) / 9 - 1e-9)
    return rows, columns, ((x0 + x1 - 7 * columns) / 2, (y0 + y1 - 9 * rows) / 2)


def draw_template(pattern: FlatPattern, *, show: Show, job: str = "") -> tuple[TemplateTile, ...]:
    """All tiles of a full-scale template, row by row from the top.

    Parameters
    ----------
    pattern : FlatPattern
    show : Show
    job : str
        Job number and revision, printed on every tile.
    """
    rows, columns, base = windows(pattern)
    blank = clip.shape(pattern.outline)
    used = set()
    for row in range(1, rows + 1):
        for column in range(1, columns + 1):
            x, y = base[0] + 7 * (column - 1), base[1] + 9 * (rows - row)
            if clip.overlap(blank, clip.shape(((x, y), (x + 7, y), (x + 7, y + 9), (x, y + 9)))) > 0:
                used.add((row, column))
    tiles = []
    for row in range(1, rows + 1):
        for column in range(1, columns + 1):
            if (row, column) not in used:
                continue  # no metal in this window
            corner = (base[0] + 7 * (column - 1), base[1] + 9 * (rows - row))
            drawing = _tile(pattern, show, job, (row, column), (rows, columns), corner, used)
            tiles.append(
                TemplateTile(row=row, column=column, rows=rows, columns=columns, corner=corner, drawing=drawing)
            )
    return tuple(tiles)


def _tile(
    pattern: FlatPattern,
    show: Show,
    job: str,
    place: tuple[int, int],
    of: tuple[int, int],
    corner: Point,
    used: set[tuple[int, int]],
) -> Drawing:
    """One sheet of a template, at row and column `place` of so many: what falls on it, how it joins its neighbours."""
    (row, column), (rows, columns) = place, of
    draft = Draft()
    frame = (LEFT, BOTTOM, LEFT + WINDOW[0], BOTTOM + WINDOW[1])

    def at(p: Point) -> Point:
        return LEFT + (p[0] - corner[0]) * INCH, BOTTOM + (p[1] - corner[1]) * INCH

    _border(draft, frame, row, column, used)
    for notch in pattern.notches:
        if notch.removed:
            _scrap(draft, tuple(at(p) for p in notch.removed), frame)
    _path(draft, pattern.outline, "former", at, frame)
    for fold in pattern.folds:
        line = geometry.clip_to_window((at(fold.line[0]), at(fold.line[1])), frame)
        if line and plane.distance(*line) > 0.1:
            draft.line(line, "fold")
            draft.take(geometry.strip_box(line[0], line[1], 0.4))
    _path(draft, pattern.snipped, "edge", at, frame)
    _bars(draft, frame, metric=show.unit == "mm")
    _heading(draft, pattern, show, job, row, column, rows, columns)
    for edge in range(1, edge_count(pattern) + 1):
        spot, out = edge_number_spot(pattern, edge)
        if not on_border(pattern, spot):
            continue
        x, y = at(spot)
        _inside(
            draft,
            [
                Text(at=(x - out[0] * d, y - out[1] * d), text=str(edge), size=EDGE_SIZE, bold=True)
                for d in (4.5, 6.0, 9.0)
            ],
            frame,
        )
    for fold in pattern.folds:
        _fold_words(draft, f"edge {fold.edge}: {fold_words(fold, show)}", at(fold.line[0]), at(fold.line[1]), frame)
    title = f"Template {pattern.mark}, row {row} column {column} of {rows} by {columns}, full size"
    return draft.done(f"template-{pattern.mark}-{row}-{column}", title, WIDTH, HEIGHT, 1.0)


def _path(draft: Draft, outline, pen: Pen, at, frame) -> None:  # type: ignore[no-untyped-def]
    """The part of a closed outline inside the window, joined where it runs on."""
    runs: list[list[Point]] = []
    for a, b in zip(outline, outline[1:] + outline[:1], strict=True):
        part = geometry.clip_to_window((at(a), at(b)), frame)
        if part is None or plane.distance(*part) < 1e-6:
            continue
        if runs and plane.distance(runs[-1][-1], part[0]) < 1e-6:
            runs[-1].append(part[1])
        else:
            runs.append(list(part))
    if len(runs) > 1 and plane.distance(runs[-1][-1], runs[0][0]) < 1e-6:
        first = runs.pop(0)
        runs[-1] += first[1:]
    for run in runs:
        draft.line(run, pen)
        for a, b in pairwise(run):
            draft.take(geometry.strip_box(a, b, 0.6))


def _scrap(draft: Draft, removed: tuple[Point, ...], frame: tuple[float, float, float, float]) -> None:
    x0, y0, x1, y1 = frame
    window = clip.shape(((x0, y0), (x1, y0), (x1, y1), (x0, y1)))
    for piece in clip.pieces(clip.intersection(clip.shape(removed), window)):
        draft.polygon(clip.corners(piece), None, "hatch")


def _border(
    draft: Draft, frame: tuple[float, float, float, float], row: int, column: int, used: set[tuple[int, int]]
) -> None:
    """Window lines, registration marks at its corners, and the neighbours' names outside it."""
    x0, y0, x1, y1 = frame
    for a, b in (((x0, y0), (x1, y0)), ((x1, y0), (x1, y1)), ((x1, y1), (x0, y1)), ((x0, y1), (x0, y0))):
        draft.line((a, b), "fold-later")
    for x in (x0, x1):
        for y in (y0, y1):
            draft.line(((x - 5, y), (x + 5, y)), "dimension")
            draft.line(((x, y - 5), (x, y + 5)), "dimension")
            draft.add(Circle(centre=(x, y), radius=2.5, pen="dimension", fill="none"))
            draft.take(((x - 5, y - 5), (x + 5, y - 5), (x + 5, y + 5), (x - 5, y + 5)))
    cx, cy = (x0 + x1) / 2, (y0 + y1) / 2
    for there, at, turned in (
        ((row - 1, column), (cx + 40.0, y1 + 2.4), 0.0),
        ((row + 1, column), (cx + 40.0, y0 - 2.4), 0.0),
        ((row, column - 1), (x0 - 3.0, cy), 90.0),
        ((row, column + 1), (x1 + 3.0, cy), 90.0),
    ):
        if there in used:
            words = f"joins row {there[0]} column {there[1]}"
            draft.text(Text(at=at, text=words, size=8.0, turned=turned))


def _bars(draft: Draft, frame: tuple[float, float, float, float], *, metric: bool) -> None:
    """Check bars along the foot and up the middle of the emptier side: 6 in and 4 in, or 150 mm and 100 mm."""
    x0, y0, x1, y1 = frame
    ticks, each, lengths = (15, 10.0, ("150 mm", "100 mm")) if metric else (24, INCH / 4, ("6 in", "4 in"))
    numbered, rungs, rung = (range(0, 16, 5), 10, 10.0) if metric else (range(0, 25, 4), 4, INCH)
    base = (x0 + x1) / 2 - ticks * each / 2
    level = y0 - 11.3
    draft.line(((base, level), (base + ticks * each, level)), "edge")
    for k in range(ticks + 1):
        tall = 3.2 if k in numbered else 2.0 if not metric and k % 2 == 0 else 1.3
        draft.line(((base + k * each, level), (base + k * each, level + tall)), "dimension")
    for k in numbered:
        draft.text(Text(at=(base + k * each, level + 5.0), text=str(k * 10 if metric else k // 4), size=8.0))
    draft.text(
        Text(
            at=((x0 + x1) / 2, level - 3.4),
            text=CHECK.format(along=lengths[0], up=lengths[1]),
            size=8.5,
            bold=True,
        )
    )
    low, high = y1 - 1.2 * INCH - rungs * rung, y1 - 1.2 * INCH
    spots = (x1 - 9.0, x0 + 9.0, (x0 + x1) / 2, x1 - 40.0, x0 + 40.0, x1 - 70.0, x0 + 70.0)
    options = [(x, drop) for drop in (0.0, 25.0, 50.0, 80.0) for x in spots]
    best = next(
        (
            (x, d)
            for x, d in options
            if draft.free(((x - 6, low - d - 2), (x + 3, low - d - 2), (x + 3, high - d + 2), (x - 6, high - d + 2)))
        ),
        options[0],
    )
    x, drop = best
    low, high = low - drop, high - drop
    draft.line(((x, low), (x, high)), "edge")
    for k in range(rungs + 1):
        draft.line(((x - 2.2, low + k * rung), (x + 2.2, low + k * rung)), "dimension")
    draft.text(Text(at=(x - 3.6, (low + high) / 2), text=f"check: {lengths[1]}", size=8.0, turned=90.0))
    draft.take(((x - 6, low - 2), (x + 3, low - 2), (x + 3, high + 2), (x - 6, high + 2)))


def _heading(
    draft: Draft, pattern: FlatPattern, show: Show, job: str, row: int, column: int, rows: int, columns: int
) -> None:
    top = BOTTOM + WINDOW[1] + 10.6
    inch = pattern.grid / NM_PER_INCH
    size = labels.pair(show, pattern.width_units * inch, pattern.length_units * inch)
    place = f"row {row} column {column}"
    room = WINDOW[0] - 30.0
    name = shorten(f"Template {pattern.mark}", room - width(f", {place}", 12.0, True), 12.0, True)
    draft.text(Text(at=(LEFT, top), text=f"{name}, {place}", size=12.0, bold=True, anchor="left"))
    # the map: the tile's own square is black
    cell = min(4.5, 12.0 / rows, 26.0 / columns)
    left, base = WIDTH - RIGHT - cell * columns, HEIGHT - 1.0 - cell * rows
    for r in range(rows):
        for c in range(columns):
            x, y = left + c * cell, base + (rows - 1 - r) * cell
            square = ((x, y), (x + cell, y), (x + cell, y + cell), (x, y + cell))
            here = (r + 1, c + 1) == (row, column)
            draft.add(Shape(points=square, pen="dimension", fill="black" if here else "white"))
    words = f"blank {size} {show.unit}, full size, face up"
    if job:
        words += f"   {job}"
    draft.text(Text(at=(LEFT, top - 4.9), text=shorten(words, room, 8.5), size=8.5, anchor="left"))


def _inside(draft: Draft, choices: list[Text], frame: tuple[float, float, float, float]) -> None:
    x0, y0, x1, y1 = frame
    fits = [t for t in choices if all(x0 + 1 < x < x1 - 1 and y0 + 1 < y < y1 - 1 for x, y in extent(t, 0.5))]
    draft.place(fits, 0.5)


def _fold_words(draft: Draft, words: str, a: Point, b: Point, frame: tuple[float, float, float, float]) -> None:
    """What the fold line is, beside the part of it this tile shows."""
    line = geometry.clip_to_window((a, b), frame)
    if line is None or plane.distance(*line) < 45:
        return
    turned = reading_angle(a, b)
    long = plane.distance(a, b)
    nx, ny = -(b[1] - a[1]) / long, (b[0] - a[0]) / long
    choices = []
    for share in (0.5, 0.35, 0.65, 0.2, 0.8):
        for side in (1.0, -1.0):
            x, y = geometry.between(*line, share)
            choices.append(Text(at=(x + nx * 2.6 * side, y + ny * 2.6 * side), text=words, size=8.5, turned=turned))
    _inside(draft, choices, frame)
