"""A layout's cuts as they are made: which part each drops behind the blade, and which edge lies on the back gauge.

The cut plan says what every cut is made on, what falls and what stays. What the picture and the table need beside it
is worked out here. Units are the layout's graduations, in its own frame.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from fabplan import plane
from fabplan.nesting.model import Cut, Layout, Part, Placed
from fabplan.plotter.board import geometry
from fabplan.plotter.model import Point


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeCut:
    """One cut as made.

    `outline` is the metal it is made on (of a coil's cut-off the panel); `pull` is how much of the coil a cut-off
    takes, None for all other cuts. `falls` is the unit vector from the line to the part that drops, None of a cut-off;
    `normal` the one to the part on the back gauge, None when the cut is to a mark; `edge` the edge of that part that
    lies against the gauge (None when it is a corner); `series` numbers the cuts that follow one another through the
    same piece in the same direction, from 0. `parts` are the outlines of what falls and what stays, none of a cut-off;
    `blanks` lie in the outline.
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


def _depth(outline: tuple[Point, ...], start: Point, normal: Point) -> float:
    return max((x - start[0]) * normal[0] + (y - start[1]) * normal[1] for x, y in outline)


def _far_edge(outline: tuple[Point, ...], start: Point, normal: Point) -> tuple[Point, Point] | None:
    depth = _depth(outline, start, normal)
    far = [
        p for p in outline if (p[0] - start[0]) * normal[0] + (p[1] - start[1]) * normal[1] > depth - 1e-3 * (1 + depth)
    ]
    if len(far) < 2:
        return None
    edge = max(((a, b) for a in far for b in far), key=lambda e: plane.distance(*e))
    return edge if plane.distance(*edge) > 1.0 else None


def _toward(cut: Cut, part: Part) -> Point:
    """The unit vector from a cut's line to a part beside it."""
    dx, dy = cut.end[0] - cut.start[0], cut.end[1] - cut.start[1]
    long = plane.distance(cut.start, cut.end) or 1.0
    x, y = plane.middle(part.outline)
    side = 1.0 if (x - cut.start[0]) * -dy + (y - cut.start[1]) * dx > 0 else -1.0
    return (side * -dy / long, side * dx / long)


@lru_cache(maxsize=64)  # picture, table, single cuts and shear program each ask for it
def replay(layout: Layout) -> tuple[MadeCut, ...]:
    """Each cut of the layout with the side that drops, in shop order."""
    made: list[MadeCut] = []
    series = 0
    for cut in layout.cuts:
        on = cut.on or cut.falls
        drops = _toward(cut, cut.falls)
        dust = cut.falls.use == "dust"  # then the piece that stays is pushed to the gauge
        gauged = cut.stays if dust and cut.stays is not None else cut.falls
        normal = None if cut.back_gauge is None else _toward(cut, gauged)
        before = made[cut.after - 1] if cut.after is not None else None
        number = series
        if before is not None and before.cut.stays == cut.on and before.normal and normal:
            same = before.normal[0] * normal[0] + before.normal[1] * normal[1] > 1 - 1e-6
            number = before.series if same else series
        if number == series:
            series += 1
        made.append(
            MadeCut(
                cut=cut,
                normal=normal,
                edge=None if normal is None else _far_edge(gauged.outline, cut.start, normal),
                series=number,
                pull=cut.start[1] if cut.on is None else None,
                outline=on.outline,
                falls=normal if cut.stays is None else drops,
                parts=() if cut.stays is None else (cut.falls.outline, cut.stays.outline),
                blanks=tuple(layout.blanks[n] for n in sorted(on.blanks)),
            )
        )
    return tuple(made)


def blank_outline(placed: Placed) -> tuple[Point, ...]:
    """A blank's outline in the layout's frame."""
    return placed.outline or geometry.corners((placed.x, placed.y, placed.x + placed.width, placed.y + placed.length))


def likeness(made: MadeCut) -> Hashable:
    """The same for two cuts that differ only in where on the stock their metal lies, blanks and all."""
    x0, y0, *_ = plane.bounds(made.outline)

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
    x0, y0, x1, y1 = plane.bounds(outline)
    return abs(abs(plane.area(outline)) - (x1 - x0) * (y1 - y0)) < 1.0
