"""A bent strip in section: where the metal runs when some bends are made and others are still flat.

The metal is a line through the bend marks: straight between marks, turned at the mark of every finished bend (in
short chords when the inside radius is large). A finished hem is a doubled edge: the line ends at its fold.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from fabplan.blanks.model import FlatPattern, Point
from fabplan.units import NM_PER_INCH

LARGE_RADIUS = 1.0  # thicknesses: above this a finished bend is drawn in chords
CHORD = 30.0  # degrees
HEM = 180.0 - 1e-6
LEAST_BEND = 1e-6  # degrees: a bend left whole to the hands


@dataclass(frozen=True, slots=True)
class Path:
    """One side of the strip seen from a bend: from the bend at (0, 0) along +x, up = the side that faces up.

    `names[i]` is the bend (index) at point i, -1 for a raw edge; `flat` the outside length of the flat next to the
    bend, `end` what ends it: ("edge" | "hem" | "bend", index), and `run` the same length from the bend's mark.
    `hem_width` is the width of a finished hem lying back over that flat (0 if none), open or not.
    """

    points: tuple[Point, ...]
    names: tuple[int, ...]
    unmade: tuple[Point, ...]
    flat: float
    run: float
    end: tuple[str, int]
    hem_width: float
    hem_open: bool


class Strip:
    """A section's flat strip with its bends, inches and degrees; built from a flat pattern.

    Parameters
    ----------
    pattern : FlatPattern
    by_hand : mapping, optional
        Degrees left to the hands at some bends, by number from 1: the brake turns those by so much less, and leaves
        those flat that are left whole (`skipped`, a bit set). The marks stay where the full angles put them.

    Attributes
    ----------
    n : int
        Bends, hems included.
    bends : tuple of float
        Degrees turned, + toward the face.
    marks : tuple of float
        Middle of each bend zone from the start edge.
    width : float
        Sheared width of the strip.
    hems : tuple of bool
    slack : float
        How far a size may fall short of a limit: what rounding the blank took.
    """

    def __init__(self, pattern: FlatPattern, by_hand: Mapping[int, float] | None = None) -> None:
        shape = pattern.section
        if shape is None:
            raise ValueError(f"{pattern.mark} is not a section")
        self.n = len(shape.bends)
        left = {k - 1: degrees for k, degrees in (by_hand or {}).items()}
        self.bends = tuple(math.copysign(abs(b) - left.get(k, 0.0), b) for k, b in enumerate(shape.bends))
        self.marks = shape.marks
        self.skipped = sum(1 << k for k, b in enumerate(self.bends) if abs(b) < LEAST_BEND)
        self.legs, self.gaps, self.radii = shape.legs, shape.gaps, shape.radii
        self.thickness = shape.thickness
        self.width = shape.developed + pattern.rounding
        self.slack = abs(pattern.rounding) + 1e-9  # a size typed at a limit is not refused for the blank's rounding
        self.length = pattern.length_units * pattern.grid / NM_PER_INCH
        self.hems = tuple(abs(b) >= HEM for b in self.bends)
        # a lone hem is the shorter leg
        self.hem_at_start = tuple(k == 0 and (self.n > 1 or self.legs[0] < self.legs[1]) for k in range(self.n))
        folds = sorted(pattern.folds, key=lambda f: f.edge)
        shares = [abs(b) / f.turned for b, f in zip(self.bends, folds, strict=True)]
        self.allowances = tuple(f.bend_allowance * s for f, s in zip(folds, shares, strict=True))
        self.setbacks = tuple(
            f.setback if s == 1 else (f.radius + self.thickness) * math.tan(math.radians(min(abs(b), 90.0)) / 2)
            for b, f, s in zip(self.bends, folds, shares, strict=True)
        )
        self._paths: dict[tuple[int, bool, int], Path] = {}
        self._low = [(1 << k) - 1 for k in range(self.n)]

    def hem_width(self, k: int) -> float:
        """Finished width of hem k: the leg beyond it."""
        return self.legs[0] if self.hem_at_start[k] else self.legs[-1]

    def side_mask(self, k: int, high: bool, mask: int) -> int:
        """The finished bends on one side of bend k."""
        return mask >> (k + 1) << (k + 1) if high else mask & self._low[k]

    def path(self, k: int, high: bool, mask: int) -> Path:
        """The metal from bend k toward the finish edge (`high`) or the start edge, with the bends of `mask` made."""
        key = (k, high, self.side_mask(k, high, mask))
        if key not in self._paths:
            self._paths[key] = self._walk(*key)
        return self._paths[key]

    def outer(self, k: int) -> float:
        """From the mark of bend k to its outside (mold line, or outermost tangent)."""
        return self.setbacks[k] - self.allowances[k] / 2

    def _walk(self, k: int, high: bool, mask: int) -> Path:
        up = 1 if self.bends[k] > 0 else -1
        order = range(k + 1, self.n) if high else range(k - 1, -1, -1)
        x = y = heading = 0.0
        at = self.marks[k]
        points: list[Point] = [(0.0, 0.0)]
        names, unmade = [k], []
        first: tuple[float, tuple[str, int]] | None = None
        hem_width, hem_open = 0.0, False

        def go(to: float) -> None:
            nonlocal x, y, at
            step = abs(to - at)
            x += step * math.cos(heading)
            y += step * math.sin(heading)
            at = to

        ended = False
        for j in order:
            if not mask >> j & 1:
                here = at
                go(self.marks[j])
                unmade.append((x, y))
                x, y, at = points[-1][0], points[-1][1], here
                continue
            if self.hems[j]:
                go(self.marks[j])
                points.append((x, y))
                names.append(j)
                if first is None:
                    first = (abs(self.marks[j] - self.marks[k]), ("hem", j))
                    hem_width = self.hem_width(j)
                    hem_open = (self.gaps[j] or 0.0) > 0
                ended = True
                break
            if first is None:
                first = (abs(self.marks[j] - self.marks[k]), ("bend", j))
            chords = 1 if self.radii[j] <= LARGE_RADIUS * self.thickness else math.ceil(abs(self.bends[j]) / CHORD)
            sense = 1 if high else -1
            start = self.marks[j] - sense * self.allowances[j] / 2
            for c in range(chords):
                go(start + sense * self.allowances[j] * (c + 0.5) / chords)
                points.append((x, y))
                names.append(j)
                heading += math.radians(up * self.bends[j] / chords)
        if not ended:
            go(self.width if high else 0.0)
            points.append((x, y))
            names.append(-1)
        edge = self.width - self.marks[k] if high else self.marks[k]
        run, end = first if first is not None else (edge, ("edge", int(high)))
        flat = run + self.outer(k) + (self.outer(end[1]) if end[0] != "edge" else 0.0)
        return Path(tuple(points), tuple(names), tuple(unmade), flat, run, end, hem_width, hem_open)


def rotated(points: tuple[Point, ...], degrees: float) -> tuple[Point, ...]:
    """Points turned about the origin, counter-clockwise."""
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return tuple((c * x - s * y, s * x + c * y) for x, y in points)


def mirrored(points: tuple[Point, ...]) -> tuple[Point, ...]:
    """Points seen in a mirror standing at x = 0."""
    return tuple((-x, y) for x, y in points)
