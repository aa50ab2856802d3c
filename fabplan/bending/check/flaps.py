"""A flat piece as far as a replay has folded it: its flaps, sampled where they lie."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from fabplan.bending.check.common import Floats, inside_by
from fabplan.blanks.model import FlatPattern, Fold
from fabplan.job.metals import MetalProfile
from fabplan.job.model import Brake, HemTool

SAMPLE = 1 / 40  # inches between sampled points of a flap
CLEAR = 1 / 64  # points nearer than this to a border do not count
WALL = 1 / 16  # least thickness of a standing flange in plan
BRAKE = "leaf brake"


@dataclass(frozen=True, slots=True)
class FoldPlace:
    """A fold on the blank: point on the line, unit vector along it, unit vector out of the piece."""

    at: Floats
    along: Floats
    out: Floats
    length: float

    def local(self, points: Floats) -> Floats:
        """(along, outward) of points."""
        d = points - self.at
        return np.column_stack((d @ self.along, d @ self.out))

    @property
    def bearing(self) -> float:
        return math.degrees(math.atan2(self.out[1], self.out[0]))


@dataclass(slots=True)
class FlapReplay:
    """Degrees every fold is turned so far, and how the piece lies."""

    pattern: FlatPattern
    folds: tuple[Fold, ...]
    places: tuple[FoldPlace, ...]
    turned: list[float]
    tools: dict[str, HemTool]
    brake: Brake
    metal: MetalProfile
    at_tool: int = -1
    side_up: str = ""
    tool: str = ""


def place_of(fold: Fold) -> FoldPlace:
    """Where a fold is, outward found from the far corner of its flap."""
    a, b = np.array(fold.line[0]), np.array(fold.line[1])
    length = float(np.hypot(*(b - a)))
    along = (b - a) / length
    out = np.array((along[1], -along[0]))
    reach = [float((np.array(p) - a) @ out) for p in fold.flap] or [1.0]
    if max(reach, key=abs) < 0:
        out = -out
    return FoldPlace(a, along, out, length)


def depth_of(fold: Fold, place: FoldPlace) -> float:
    """Fold line to raw edge on the blank."""
    if not fold.flap:
        return fold.width - fold.setback + fold.bend_allowance / 2
    return float(place.local(np.array(fold.flap))[:, 1].max())


def _flap_points(fold: Fold, place: FoldPlace) -> Floats:
    """Points inside the flap in its own frame, none within `CLEAR` of its border."""
    flap = place.local(np.array(fold.flap)) if fold.flap else box(place.length, fold.width)
    lo, hi = flap.min(axis=0), flap.max(axis=0)
    s, u = np.meshgrid(np.arange(lo[0], hi[0], SAMPLE), np.arange(lo[1], hi[1], SAMPLE))
    grid = np.column_stack((s.ravel(), u.ravel()))
    return grid[inside_by(grid, flap) >= CLEAR]


def box(length: float, width: float) -> Floats:
    return np.array([(0.0, 0.0), (length, 0.0), (length, width), (0.0, width)])


def lying(replay: FlapReplay, j: int, turned: float, *, wall: bool = True) -> Floats:
    """Sampled points of flap j in plan, turned so far, on the blank."""
    fold, place = replay.folds[j], replay.places[j]
    points = _flap_points(fold, place) * (1.0, math.cos(math.radians(turned)))
    if turned < 180 and wall:
        s = np.arange(CLEAR, place.length - CLEAR, SAMPLE)
        inner = np.linspace(-WALL + CLEAR, -CLEAR, 3)
        points = np.vstack((points, np.column_stack((np.tile(s, 3), np.repeat(inner, len(s))))))
    return place.at + points[:, :1] * place.along + points[:, 1:] * place.out
