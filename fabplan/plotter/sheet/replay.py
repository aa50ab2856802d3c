"""A layout's cuts made one after another: which part each cut drops behind the blade, and which edge lies on the gauge.

The cut plan gives lines and settings. The picture must also say which edge goes to the back gauge, so the cuts are
replayed here. Units are the layout's graduations, in its own frame.
"""

from __future__ import annotations

import re
from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import hypot

from fabplan.nesting.model import Cut, Layout, Placed
from fabplan.plotter.board import geometry
from fabplan.plotter.model import Point

TOLERANCE = 1e-6
BARE = ("scrap", "dust", "offcut to keep")  # words for a part without a blank


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeCut:
    """One cut as made.

    `outline` is the metal it is made on; `pull` is how much of the coil a cut-off takes, None for all other cuts.
    `normal` is the unit vector from the line to the part that drops (None when the cut is to a mark); `edge` the edge
    of that part that lies against the back gauge (None when it is a corner); `series` numbers the cuts that follow one
    another through the same piece in the same direction, from 0. `falls` is the unit vector to the part that drops, of
    cuts to a mark too: there the plan's words tell the two parts apart, and where they do not the smaller one drops.
    `parts` are what falls and what stays, where the cut makes two; `blanks` lie in the outline, `held` in each part.
    """

    cut: Cut
    normal: Point | None
    edge: tuple[Point, Point] | None
    series: int
    pull: float | None = None
    outline: tuple[Point, ...] = ()
    falls: Point | None = None
    parts: tuple[tuple[Point, ...], ...] = ()
    blanks: tuple[Placed, ...] = ()
    held: tuple[tuple[Placed, ...], ...] = ()


@dataclass(slots=True)
class _Piece:
    outline: tuple[Point, ...]
    blanks: list[tuple[Placed, Point]]  # each with its middle
    series: int | None = None
    normal: Point | None = None


def _parts(outline: tuple[Point, ...], start: Point, end: Point) -> tuple[tuple[Point, ...], ...]:
    """The two parts of a convex outline on either side of the line, or fewer when the line only touches it."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    long = hypot(dx, dy) or 1.0
    off = [((x - start[0]) * dy - (y - start[1]) * dx) / long for x, y in outline]
    right: list[Point] = []
    left: list[Point] = []
    for k, p in enumerate(outline):
        a, b, q = off[k - 1], off[k], outline[k - 1]
        if min(a, b) < -TOLERANCE and max(a, b) > TOLERANCE:
            share = a / (a - b)
            crossing = (q[0] + (p[0] - q[0]) * share, q[1] + (p[1] - q[1]) * share)
            right.append(crossing)
            left.append(crossing)
        if b > -TOLERANCE:
            right.append(p)
        if b < TOLERANCE:
            left.append(p)
    return tuple(tuple(part) for part in (right, left) if len(part) > 2 and abs(geometry.area(part)) > TOLERANCE)


def _depth(outline: tuple[Point, ...], start: Point, normal: Point) -> float:
    return max((x - start[0]) * normal[0] + (y - start[1]) * normal[1] for x, y in outline)


def _on_side(outline: tuple[Point, ...], start: Point, normal: Point) -> bool:
    x, y = geometry.middle(outline)
    return (x - start[0]) * normal[0] + (y - start[1]) * normal[1] > TOLERANCE


def _far_edge(outline: tuple[Point, ...], start: Point, normal: Point) -> tuple[Point, Point] | None:
    depth = _depth(outline, start, normal)
    far = [
        p for p in outline if (p[0] - start[0]) * normal[0] + (p[1] - start[1]) * normal[1] > depth - 1e-3 * (1 + depth)
    ]
    if len(far) < 2:
        return None
    edge = max(((a, b) for a in far for b in far), key=lambda e: geometry.distance(*e))
    return edge if geometry.distance(*edge) > 1.0 else None


@lru_cache(maxsize=64)  # picture, table, single cuts and shear program each ask for it
def replay(layout: Layout) -> tuple[MadeCut, ...]:
    """Each cut of the layout with the side that drops, in shop order."""
    w, h = float(layout.width), float(layout.length)
    every = [(placed, geometry.middle(blank_outline(placed))) for placed in layout.blanks]
    pieces = [_Piece(((0.0, 0.0), (w, 0.0), (w, h), (0.0, h)), every)]
    made: list[MadeCut] = []
    series = 0
    for cut in sorted(layout.cuts, key=lambda c: c.step):
        centre = geometry.between(cut.start, cut.end, 0.5)
        index, parts = _find(pieces, cut, centre)
        piece = pieces[index] if index is not None else None
        dx, dy = cut.end[0] - cut.start[0], cut.end[1] - cut.start[1]
        long = hypot(dx, dy) or 1.0
        left = (-dy / long, dx / long)
        sides = {n: part for part in parts for n in (left, (-left[0], -left[1])) if _on_side(part, cut.start, n)}
        normal: Point | None = None
        edge = None
        if cut.back_gauge is not None and sides:
            depths = {n: _depth(part, cut.start, n) for n, part in sides.items()}
            gauge = cut.back_gauge
            normal = min(depths, key=lambda n: (round(abs(depths[n] - gauge), 3), n[0] + n[1] > 0, n))
            edge = _far_edge(sides[normal], cut.start, normal)
        number = series
        if piece is not None and piece.series is not None and piece.normal and normal:
            same = piece.normal[0] * normal[0] + piece.normal[1] * normal[1] > 1 - 1e-6
            number = piece.series if same else series
        if number == series:
            series += 1
        inside = piece.blanks if piece is not None else []
        held = {n: [blank for blank in inside if _beyond(blank[1], cut.start, n)] for n in sides}
        if index is not None and len(parts) == 2:
            del pieces[index]
            for n, part in sides.items():
                rest = normal is not None and n != normal
                pieces.append(_Piece(part, held[n], number if rest else None, normal if rest else None))
        pull = cut.start[1] if cut.stage == 0 and layout.form == "coil" else None
        outline = piece.outline if piece is not None else ()
        falls = normal or _falls(cut, sides, {n: len(found) for n, found in held.items()})
        two = [falls, *(n for n in sides if n != falls)] if falls and len(sides) == 2 else []
        made.append(
            MadeCut(
                cut=cut,
                normal=normal,
                edge=edge,
                series=number,
                pull=pull,
                outline=outline,
                falls=falls,
                parts=tuple(sides[n] for n in two),
                blanks=tuple(placed for placed, _ in inside),
                held=tuple(tuple(placed for placed, _ in held[n]) for n in two),
            )
        )
    return tuple(made)


def _beyond(p: Point, start: Point, normal: Point) -> bool:
    return (p[0] - start[0]) * normal[0] + (p[1] - start[1]) * normal[1] > 0.0


def blank_outline(placed: Placed) -> tuple[Point, ...]:
    """A blank's outline in the layout's frame."""
    return placed.outline or geometry.corners((placed.x, placed.y, placed.x + placed.width, placed.y + placed.length))


def likeness(made: MadeCut) -> Hashable:
    """The same for two cuts that differ only in where on the stock their metal lies, blanks and all."""
    if not made.outline:
        return made.cut.step
    x0, y0, *_ = geometry.bounds(made.outline)

    def moved(ring: Sequence[Point]) -> tuple[Point, ...]:
        return tuple(sorted((round(x - x0, 2) + 0.0, round(y - y0, 2) + 0.0) for x, y in ring))

    cut = made.cut
    blanks = sorted((placed.mark, moved(blank_outline(placed))) for placed in made.blanks)
    line = moved((cut.start, cut.end))
    falls = made.falls and (round(made.falls[0], 6) + 0.0, round(made.falls[1], 6) + 0.0)
    return cut.back_gauge, round(cut.angle, 6), moved(made.outline), line, falls, tuple(blanks)


def is_rectangle(outline: Sequence[Point]) -> bool:
    """Whether an outline is a rectangle along the stock's sides."""
    if len(outline) != 4:
        return False
    x0, y0, x1, y1 = geometry.bounds(outline)
    return abs(abs(geometry.area(outline)) - (x1 - x0) * (y1 - y0)) < 1.0


def _falls(cut: Cut, sides: dict[Point, tuple[Point, ...]], held: dict[Point, int]) -> Point | None:
    """To the part that drops at a cut to a mark: the one the plan's words are of, else the smaller."""
    if len(sides) < 2:
        return None
    off, left = _blanks_told(cut.comes_off), _blanks_told(cut.left)
    told = [n for n in sides if held[n] == off and all(held[m] == left for m in sides if m != n)]
    return min(told or sides, key=lambda n: abs(geometry.area(sides[n])))


def _blanks_told(words: str) -> int:
    """How many blanks a part holds, going by the plan's words for it: ``scrap``, ``A to trim``, ``piece with 2 A``."""
    if words in BARE:
        return 0
    start, _, listed = words.partition(" with ")
    if start in ("piece", "panel"):
        return sum(int(n) for n in re.findall(r"(?:^|, )(\d+) ", listed))
    found = re.fullmatch(r"strip with (\d+) blanks?|(\d+) more in the strip", words)
    return int(found[1] or found[2]) if found else 1


def _find(pieces: list[_Piece], cut: Cut, centre: Point) -> tuple[int | None, tuple[tuple[Point, ...], ...]]:
    """The piece the cut goes through and its parts; a cut along an edge has one part."""
    touching: tuple[int | None, tuple[tuple[Point, ...], ...]] = (None, ())
    for i, piece in enumerate(pieces):
        x0, y0, x1, y1 = geometry.bounds(piece.outline)
        slack = 1.0
        if not (x0 - slack <= centre[0] <= x1 + slack and y0 - slack <= centre[1] <= y1 + slack):
            continue
        if geometry.contains(piece.outline, centre):
            parts = _parts(piece.outline, cut.start, cut.end)
            if len(parts) == 2:
                return i, parts
        touching = (i, (piece.outline,)) if touching[0] is None else touching
    return touching
