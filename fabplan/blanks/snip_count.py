"""How many cuts of the snips a notch or a length takes."""

from __future__ import annotations

import math
from collections.abc import Sequence

from fabplan.blanks.model import Notch, Point

BITE = 2.5  # inches one cut of hand snips goes at most (common practice, no source): the deepest corners take one
_SAME = 1e-6  # inches


def snips_of(notch: Notch, outline: Sequence[Point]) -> int:
    """Straight cuts of the snips that take a notch off: its sides that do not lie on the edge of the blank."""
    if not notch.removed:
        return 1  # a slit
    return max(1, len(_inside(notch, outline)))


def long_snips(notch: Notch, outline: Sequence[Point]) -> int:
    """The same for metal cut off along a side longer than one cut of the snips goes."""
    return max(1, sum(cuts_along(math.dist(p, q)) for p, q in _inside(notch, outline)))


def cuts_along(length: float) -> int:
    """Cuts of the snips along a line, inches."""
    return max(1, math.ceil(length / BITE - _SAME))


def _inside(notch: Notch, outline: Sequence[Point]) -> list[tuple[Point, Point]]:
    sides = zip(notch.removed, (*notch.removed[1:], notch.removed[0]), strict=True)
    edges = list(zip(outline, (*outline[1:], outline[0]), strict=True))
    return [
        (p, q)
        for p, q in sides
        if math.dist(p, q) > _SAME and not any(_on(((p[0] + q[0]) / 2, (p[1] + q[1]) / 2), *edge) for edge in edges)
    ]


def _on(at: Point, p: Point, q: Point) -> bool:
    return abs(math.dist(p, at) + math.dist(at, q) - math.dist(p, q)) <= _SAME
