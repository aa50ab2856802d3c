"""Whether a flap, swung up about its fold line, strikes a flange that stands already: polygons crossing in space."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from fabplan.bending.flat.footprint import SLIVER, FoldFrame
from fabplan.blanks.model import Fold, Point
from fabplan.plane import contains, to_stretch

STEP = 3.0  # degrees between positions of the swinging flap
Place = tuple[float, float, float]


class Standing:
    """A flap turned so far: its corners in space and its own plane, up = the side it is folded to."""

    def __init__(self, fold: Fold, frame: FoldFrame, turned: float) -> None:
        self.frame = frame
        self.c, self.s = math.cos(math.radians(turned)), math.sin(math.radians(turned))
        self.flap = [frame.local(p) for p in fold.flap] or _plain(fold, frame)
        self.corners: list[Place] = [(*frame.place(s, u * self.c), u * self.s) for s, u in self.flap]

    def local(self, p: Place) -> tuple[float, float, float]:
        """(along the fold, up the flap, off its plane) of a place."""
        s, u = self.frame.local((p[0], p[1]))
        return s, u * self.c + p[2] * self.s, p[2] * self.c - u * self.s

    def pierced_by(self, other: Standing) -> bool:
        """Whether an edge of the other flap goes through this one, by more than hand work varies."""
        places = [self.local(p) for p in other.corners]
        for (s0, w0, d0), (s1, w1, d1) in pairwise([*places, places[0]]):
            if (d0 > 0) == (d1 > 0) or abs(d0 - d1) < 1e-9:
                continue
            share = d0 / (d0 - d1)
            if _well_inside((s0 + (s1 - s0) * share, w0 + (w1 - w0) * share), self.flap):
                return True
        return False


def strikes(moving: Fold, frame: FoldFrame, turned: float, other: Standing) -> bool:
    """Whether the flap strikes the other on its way from flat to so many degrees."""
    steps = max(1, math.ceil(turned / STEP))
    for k in range(1, steps + 1):
        flap = Standing(moving, frame, turned * k / steps)
        if other.pierced_by(flap) or flap.pierced_by(other):
            return True
    return False


def _plain(fold: Fold, frame: FoldFrame) -> list[Point]:
    return [(0.0, 0.0), (frame.length, 0.0), (frame.length, fold.width), (0.0, fold.width)]


def _well_inside(p: Point, outline: Sequence[Point]) -> bool:
    near = min(to_stretch(a, b, p) for a, b in pairwise([*outline, outline[0]]))
    return near > 2 * SLIVER and contains(outline, p)
