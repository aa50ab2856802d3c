"""A bent strip in section: where the metal runs when some bends are made and others are still flat.

The metal is a line through the bend marks: straight between marks, turned at the mark of every finished bend (in
short chords when the inside radius is large). A finished hem is a doubled edge: the line ends at its fold. A fold
between legs is one too, and the line runs back along itself.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

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
    bend, `end` what ends it: ("edge" | "hem" | "fold" | "bend", index), and `run` the same length from the bend's mark.
    `hem_width` is the width of a finished hem lying back over that flat (0 if none), open or not; `past` is how far
    other layers of that flat reach over the bend itself.
    """

    points: tuple[Point, ...]
    names: tuple[int, ...]
    unmade: tuple[Point, ...]
    flat: float
    run: float
    end: tuple[str, int]
    hem_width: float
    hem_open: bool
    past: float = 0.0


class BendStrip:
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
        ends = [shape.hem_at(k) if self.hems[k] else "" for k in range(self.n)]
        self.end_hems = tuple(end != "" for end in ends)  # the others lie between legs
        self.hem_at_start = tuple(end == "start" for end in ends)
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
        """Finished width of the hem at an end, k: the leg beyond it."""
        return self.legs[0] if self.hem_at_start[k] else self.legs[-1]

    def side_mask(self, k: int, high: bool, mask: int) -> int:
        """The finished bends on one side of bend k."""
        return mask >> (k + 1) << (k + 1) if high else mask & self._low[k]

    def path(self, k: int, high: bool, mask: int) -> Path:
        """The metal from bend k toward the finish edge (`high`) or the start edge, with the bends of `mask` made."""
        key = (k, high, mask >> (k + 1) << (k + 1) if high else mask & self._low[k])
        found = self._paths.get(key)
        if found is None:
            found = self._paths[key] = self._walk(*key)
        return found

    def drawn(self, k: int, high: bool, mask: int) -> Path:
        """The same, the layers of a fold between legs set off by what lies between their middles."""
        return self._walk(k, high, self.side_mask(k, high, mask), lifted=True)

    def outer(self, k: int) -> float:
        """From the mark of bend k to its outside (mold line, or outermost tangent)."""
        return self.setbacks[k] - self.allowances[k] / 2

    def _walk(self, k: int, high: bool, mask: int, *, lifted: bool = False) -> Path:
        """Outward from bend `k` to one end of the strip, the bends of `mask` made: path, first fold met, marks."""
        order = range(k + 1, self.n) if high else range(k - 1, -1, -1)
        walk = _Walk(at=self.marks[k], names=[k])
        ended = False
        for j in order:
            if not mask >> j & 1:
                walk.mark(self.marks[j])
                continue
            if walk.first is None:
                kind = "hem" if self.end_hems[j] else "fold" if self.hems[j] else "bend"
                walk.first = (abs(self.marks[j] - self.marks[k]), (kind, j))
            turned = math.radians(self.bends[j] if self.bends[k] > 0 else -self.bends[j])
            if self.hems[j]:
                walk.go(self.marks[j], j)
                walk.layer(self.hem_width(j) if self.end_hems[j] else 0.0)
                if self.end_hems[j]:
                    ended = True
                    break
                walk.fold(turned, self.thickness + (self.gaps[j] or 0.0) if lifted else 0.0)
                continue
            chords = 1 if self.radii[j] <= LARGE_RADIUS * self.thickness else math.ceil(abs(self.bends[j]) / CHORD)
            sense = 1 if high else -1
            start = self.marks[j] - sense * self.allowances[j] / 2
            for c in range(chords):
                walk.go(start + sense * self.allowances[j] * (c + 0.5) / chords, j)
                walk.layer()
                walk.level = False
                walk.heading += turned / chords
        if not ended:
            walk.go(self.width if high else 0.0, -1)
            walk.layer()
        edge = self.width - self.marks[k] if high else self.marks[k]
        run, end = walk.first if walk.first is not None else (edge, ("edge", int(high)))
        hem = end[0] in {"hem", "fold"}
        return Path(
            points=tuple(walk.points),
            names=tuple(walk.names),
            unmade=tuple(walk.unmade),
            flat=run + self.outer(k) + (self.outer(end[1]) if end[0] != "edge" else 0.0),
            run=run,
            end=end,
            hem_width=walk.doubled if hem else 0.0,
            hem_open=hem and (self.gaps[end[1]] or 0.0) > 0,
            past=walk.past,
        )


@dataclass(slots=True)
class _Walk:
    """A walk along the metal away from a bend, `level` while it keeps to the flat beside that bend."""

    at: float
    names: list[int]
    points: list[Point] = field(default_factory=lambda: [(0.0, 0.0)])
    unmade: list[Point] = field(default_factory=list)
    heading: float = 0.0
    first: tuple[float, tuple[str, int]] | None = None
    level: bool = True
    doubled: float = 0.0
    past: float = 0.0

    def _there(self, to: float) -> Point:
        step, (x, y) = abs(to - self.at), self.points[-1]
        return x + step * math.cos(self.heading), y + step * math.sin(self.heading)

    def mark(self, at: float) -> None:
        """Pass the mark of a bend not made yet."""
        self.unmade.append(self._there(at))

    def go(self, to: float, name: int) -> None:
        """Straight on to a place on the strip."""
        self.points.append(self._there(to))
        self.names.append(name)
        self.at = to

    def layer(self, flap: float = 0.0) -> None:
        """Metal laid back over the flat beside the bend: how much of it, and how far past the bend itself."""
        if self.level and self.first is not None:
            x = self.points[-1][0]
            self.doubled = max(self.doubled, flap, self.first[0] - x)
            self.past = max(self.past, -x)

    def fold(self, turned: float, lift: float) -> None:
        """Right back; `lift` sets the new layer off from the old one, for pictures."""
        x, y = self.points[-1]
        if lift:
            side = math.copysign(lift, turned)
            self.points.append((x - side * math.sin(self.heading), y + side * math.cos(self.heading)))
            self.names.append(self.names[-1])
        self.heading += turned


def mirrored(points: tuple[Point, ...]) -> tuple[Point, ...]:
    """Points seen in a mirror standing at x = 0."""
    return tuple((-x, y) for x, y in points)
