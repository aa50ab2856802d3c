"""The diamond lattice on a slope: where pieces sit, and the shapes every piece repeats."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from fabplan.blanks.model import Lattice
from fabplan.roof.model import Point

Alignment = Literal["point", "joint"]
Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """Placed lattice: course k is widest at `base + k * course`; odd courses are half a spacing from even ones.

    `alignment` says whether the bottom point of a course 1 piece or a joint stands on the centre line.
    """

    spacing: float
    course: float
    centre_x: float
    base: float
    alignment: Alignment

    def shift(self, course: int) -> float:
        """Offset of a course's pieces from the centre line, in spacings: 0 or 1/2."""
        half = ((course + 1) % 2) / 2
        return half if self.alignment == "point" else (half + 0.5) % 1.0

    def centre(self, course: int, column: int) -> Point:
        """Middle of a piece's visible rhombus."""
        return (
            self.centre_x + (column + self.shift(course)) * self.spacing,
            self.base + course * self.course,
        )

    def places(
        self, xmin: float, ymin: float, xmax: float, ymax: float
    ) -> tuple[NDArray[np.int64], NDArray[np.int64], Array]:
        """Every (course, column) whose rhombus can touch a box, and the centres (n, 2)."""
        courses, columns = [], []
        low = math.floor((ymin - self.base) / self.course) - 1
        high = math.ceil((ymax - self.base) / self.course) + 1
        for k in range(low, high + 1):
            offset = self.centre_x + self.shift(k) * self.spacing
            first = math.floor((xmin - offset) / self.spacing - 0.5)
            last = math.ceil((xmax - offset) / self.spacing + 0.5)
            columns.append(np.arange(first, last + 1))
            courses.append(np.full(last - first + 1, k))
        k_all, i_all = np.concatenate(courses), np.concatenate(columns)
        shift = np.where(k_all % 2 == 1, self.shift(1), self.shift(0))
        centres = np.stack([self.centre_x + (i_all + shift) * self.spacing, self.base + k_all * self.course], axis=1)
        return k_all, i_all, centres

    @property
    def rhombus(self) -> tuple[Point, Point, Point, Point]:
        """Visible shape about its middle: bottom, right, top, left."""
        p, c = self.spacing / 2, self.course
        return (0.0, -c), (p, 0.0), (0.0, c), (-p, 0.0)


def rise(lattice: Lattice) -> float:
    """How far the finished outline's middle stands above the visible rhombus' middle at the full course height."""
    return lattice.lap / (2 * math.sin(math.radians(lattice.top_angle) / 2))


def finished_outline(lattice: Lattice) -> tuple[Point, ...]:
    """Finished outline with its side tips snipped, about the middle of the visible rhombus (full course height)."""
    half = math.radians(lattice.top_angle) / 2
    w, h, up = lattice.side * math.sin(half), lattice.side * math.cos(half), rise(lattice)
    x = lattice.spacing / 2 - lattice.joint / 2
    y = h * (1 - x / w)
    return ((0, up - h), (x, up - y), (x, up + y), (0, up + h), (-x, up + y), (-x, up - y))


def blank_centre(lattice: Lattice) -> float:
    """How far the flat blank's middle stands above the visible rhombus' middle (full course height)."""
    half = math.radians(lattice.top_angle) / 2
    return rise(lattice) + (lattice.upper_allowance - lattice.lower_allowance) / (2 * math.sin(half))


def blank_rhombus(lattice: Lattice) -> tuple[Point, ...]:
    """Flat blank before snips about its own middle: bottom, right, top, left."""
    alpha = math.radians(lattice.top_angle)
    side = lattice.side + (lattice.upper_allowance + lattice.lower_allowance) / math.sin(alpha)
    w, h = side * math.sin(alpha / 2), side * math.cos(alpha / 2)
    return (0.0, -h), (w, 0.0), (0.0, h), (-w, 0.0)
