"""Where both ends of a cut lie that is slanted or that the back gauge cannot set: along which edge, from which.

An edge is named by the cut that made it, or by the side of the picture where the stock's own edge lies. Two marks fix
a cut; where one end of it starts at a corner, the corner is named.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fabplan import plane
from fabplan.nesting.model import Cut, Layout
from fabplan.plotter.board import geometry
from fabplan.plotter.model import Point
from fabplan.plotter.sheet.cut_marks import AT_CORNER, BorderMark, border_marks
from fabplan.plotter.sheet.replay import replay

NEAR = 1e-2  # graduations
SQUARE = 90.0  # degrees


@dataclass(frozen=True, slots=True, kw_only=True)
class Marking:
    """One end of a cut: `size` graduations along one edge from another, None at the corner of the two."""

    step: int
    size: float | None
    along: str
    start: str


def markings(layout: Layout) -> tuple[Marking, ...]:
    """Both ends of every cut to a mark and every slanted one, in shop order.

    A coil's cut-off, marked along the coil, is left out.
    """
    found: list[Marking] = []
    before: list[Cut] = []
    for made in replay(layout):
        cut = made.cut
        unset = cut.back_gauge is None or abs(cut.angle - SQUARE) > 0.05
        if unset and made.outline and made.pull is None:
            marks = border_marks(made.outline, cut.start, cut.end, laid_off=cut.back_gauge is None)
            found += [_end(layout, made.outline, mark, cut.step, before) for mark in marks]
        before.append(cut)
    return tuple(found)


def _end(layout: Layout, ring: Sequence[Point], mark: BorderMark, step: int, before: Sequence[Cut]) -> Marking:
    names = [_name(layout, a, b, before) for a, b in zip(ring, (*ring[1:], ring[0]), strict=True)]
    k = mark.side
    at_first = mark.corner == ring[k]
    start = names[k - 1] if at_first else names[(k + 1) % len(names)]
    return Marking(step=step, size=None if mark.size < AT_CORNER else mark.size, along=names[k], start=start)


def _name(layout: Layout, a: Point, b: Point, before: Sequence[Cut]) -> str:
    """What an edge of the metal is called."""
    w, h = float(layout.width), float(layout.length)
    turned = layout.length > layout.width
    sides = (
        (0, 0.0, "top" if turned else "left"),
        (0, w, "bottom" if turned else "right"),
        (1, 0.0, "left" if turned else "bottom"),
        (1, h, "right" if turned else "top"),
    )
    for axis, level, side in sides:
        if abs(a[axis] - level) < NEAR and abs(b[axis] - level) < NEAR:
            return f"the {side} edge"
    middle = geometry.between(a, b, 0.5)
    for cut in reversed(before):
        if plane.on_stretch(cut.start, cut.end, middle, NEAR):
            return f"cut {cut.step}"
    return "the edge"
