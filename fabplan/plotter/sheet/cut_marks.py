"""Where both ends of a cut lie on the border of its metal, as they are laid off: from which corner, how far.

A cut that comes within a graduation or so of a corner is made through it: so short a size cannot be laid off. Its other
end then moves along its side, so that the cut keeps its direction. Units are graduations, in any frame.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fabplan import plane
from fabplan.plotter.model import Point

AT_TIP = 1e-2  # graduations
AT_CORNER = 1.5  # graduations


@dataclass(frozen=True, slots=True)
class BorderMark:
    """One end of a cut: the corner it is measured from, where it lies, and the number of its side of the border.

    At a corner the two points are the same.
    """

    corner: Point
    at: Point
    side: int

    @property
    def size(self) -> float:
        """Distance from the corner, 0 at the corner itself."""
        return plane.distance(self.corner, self.at)


def border_marks(
    outline: Sequence[Point], start: Point, end: Point, *, laid_off: bool = True
) -> tuple[BorderMark, ...]:
    """Both ends of a cut across a convex outline, `start` first; an end that lies on no side is left out.

    The corner is the nearer one of the side the end lies on. Where the marks are not `laid_off`, but only tell where
    the cut comes out, they lie where the plan has them.
    """
    found = [_mark(outline, tip) for tip in (start, end)]
    if laid_off:
        short = [k for k, mark in enumerate(found) if mark is not None and mark.size < AT_CORNER]
        way = (end[0] - start[0], end[1] - start[1])
        for k in short:
            mark, far = found[k], found[1 - k]
            assert mark is not None
            found[k] = BorderMark(mark.corner, mark.corner, mark.side)
            moved = _across(outline, far.side, mark.corner, way) if far is not None and len(short) == 1 else None
            if far is not None and moved is not None:
                found[1 - k] = BorderMark(far.corner, moved, far.side)
    return tuple(mark for mark in found if mark is not None)


def _mark(outline: Sequence[Point], tip: Point) -> BorderMark | None:
    sides = list(zip(outline, (*outline[1:], outline[0]), strict=True))
    for k, corner in enumerate(outline):
        if plane.distance(corner, tip) < AT_TIP:
            return BorderMark(corner, corner, k)
    for k, (a, b) in enumerate(sides):
        if plane.on_stretch(a, b, tip, AT_TIP):
            first = plane.distance(a, tip) <= plane.distance(b, tip)
            return BorderMark(a if first else b, tip, k)
    return None


def _across(outline: Sequence[Point], side: int, through: Point, way: Point) -> Point | None:
    """Where a line through a point meets the line of a side."""
    a, b = outline[side], outline[(side + 1) % len(outline)]
    ux, uy = b[0] - a[0], b[1] - a[1]
    d = ux * way[1] - uy * way[0]
    if abs(d) < 1e-9:
        return None
    t = ((through[0] - a[0]) * way[1] - (through[1] - a[1]) * way[0]) / d
    return a[0] + t * ux, a[1] + t * uy
