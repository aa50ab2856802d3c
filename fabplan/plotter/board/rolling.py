"""The rolling direction as a double arrow on a blank, where it runs over nothing else."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import cos, hypot, radians, sin

from fabplan import plane
from fabplan.plotter.board import geometry
from fabplan.plotter.board.draft import Draft
from fabplan.plotter.board.measure import extent
from fabplan.plotter.model import Point, Text

LONG, LEAST = 11.0, 3.6  # mm of the arrow
CLEAR = 0.6  # mm round it
STEPS = 15  # places tried along each side
WORD = Text(at=(0.0, 0.0), text="rolled", size=8.0)


def rolled_arrow(
    draft: Draft, ring: Sequence[Point], angle: float, *, outside: bool = False, word: bool = False
) -> bool:
    """Draw the arrow at `angle` degrees inside a ring, or beside it when `outside` and there is no room; whether it
    was drawn. With `word` it is named where the name has room."""
    x0, y0, x1, y1 = plane.bounds(ring)
    most = min(LONG, 0.7 * hypot(x1 - x0, y1 - y0))
    for long in (most, 0.6 * most, LEAST):
        if long >= LEAST and any(_drawn(draft, at, angle, long, ring, word) for at in _inside(x0, y0, x1, y1)):
            return True
    beside = ((x1 + out, y0 + (y1 - y0) * k / 6) for out in (6.0, 10.0, 15.0, 21.0) for k in range(7))
    return outside and any(_drawn(draft, at, angle, 0.6 * LONG, None, word) for at in beside)


def _inside(x0: float, y0: float, x1: float, y1: float) -> Iterator[Point]:
    """Places in a box, those at the lower left first, the middle left to the name."""
    places = [
        (x0 + (x1 - x0) * i / (STEPS + 1), y0 + (y1 - y0) * j / (STEPS + 1))
        for i in range(1, STEPS + 1)
        for j in range(1, STEPS + 1)
    ]
    return iter(sorted(places, key=lambda p: (round(p[1] - y0 + p[0] - x0, 6), p)))


def _drawn(draft: Draft, at: Point, angle: float, long: float, ring: Sequence[Point] | None, word: bool) -> bool:
    dx, dy = cos(radians(angle)) * long / 2, sin(radians(angle)) * long / 2
    a, b = (at[0] - dx, at[1] - dy), (at[0] + dx, at[1] + dy)
    box = geometry.strip_box(a, b, CLEAR)
    if not draft.free(box) or (ring is not None and not all(plane.contains(ring, p) for p in box)):
        return False
    draft.line((a, b), "edge", "both")
    draft.take(box)
    if word:
        up = -90.0 < angle <= 45.0
        off = (0.0, 2.6) if up else (2.6, 0.0)
        for side in (1.0, -1.0):
            text = Text(
                at=(at[0] + side * off[0], at[1] + side * off[1]), text=WORD.text, size=WORD.size,
                turned=0.0 if up else 90.0,
            )  # fmt: skip
            inside = ring is None or all(plane.contains(ring, p) for p in extent(text, 0.2))
            if inside and draft.place([text], 0.2) is not None:
                break
    return True
