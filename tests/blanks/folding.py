"""Folding a flat pattern, and flattening it again.

The metal is a plate without thickness turned about its fold lines; the fold line is the middle of the bend zone, so a
hem's raw edge lands exactly where its finished width puts it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from fabplan.blanks import clip
from fabplan.blanks.model import FlatPattern, Point, Polygon, Side

Space = tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class FoldedFlap:
    """A flap after folding: `space` has z up from the face; `plan` is the same seen straight down on the face."""

    edge: int
    toward: Side
    turned: float
    line: tuple[Point, Point]
    space: tuple[Space, ...]

    @property
    def plan(self) -> Polygon:
        """Footprint seen from the face (not wound in any set direction)."""
        return tuple((x, y) for x, y, _ in self.space)


@dataclass(frozen=True, slots=True, kw_only=True)
class FoldedPiece:
    """The finished piece: what stays flat, and its folded flaps."""

    panel: Polygon
    flaps: tuple[FoldedFlap, ...]


def panel_of(pattern: FlatPattern) -> Polygon:
    """The part of a flat piece inside its fold lines, snips taken off."""
    left = clip.shape(pattern.snipped)
    for f in pattern.folds:
        left = clip.largest(clip.difference(left, clip.shape(f.flap)))
    return clip.corners(left)


def fold(pattern: FlatPattern) -> FoldedPiece:
    """Fold every flap of a flat piece (not a section) as far as it is turned."""
    return FoldedPiece(
        panel=panel_of(pattern),
        flaps=tuple(
            FoldedFlap(
                edge=f.edge,
                toward=f.toward,
                turned=f.turned,
                line=f.line,
                space=tuple(_turn((x, y, 0.0), f.line, f.turned, f.toward) for x, y in f.flap),
            )
            for f in pattern.folds
        ),
    )


def unfold(piece: FoldedPiece) -> tuple[Polygon, dict[int, Polygon]]:
    """Flatten a folded piece: (its outline, its flaps by edge)."""
    flat = {
        f.edge: tuple((x, y) for x, y, _ in (_turn(p, f.line, -f.turned, f.toward) for p in f.space))
        for f in piece.flaps
    }
    shapes = [clip.shape(piece.panel), *(clip.shape(p) for p in flat.values())]
    return clip.corners(clip.largest(clip.join(shapes))), flat


def _turn(p: Space, line: tuple[Point, Point], turned: float, toward: Side) -> Space:
    """Point turned about a fold line; the flap lies on the right of the line, looking from its start to its end."""
    (x0, y0), (x1, y1) = line
    run = math.hypot(x1 - x0, y1 - y0)
    along = ((x1 - x0) / run, (y1 - y0) / run)
    out = (along[1], -along[0])
    s = (p[0] - x0) * along[0] + (p[1] - y0) * along[1]
    u = (p[0] - x0) * out[0] + (p[1] - y0) * out[1]
    up = p[2] if toward == "face" else -p[2]
    a = math.radians(turned)
    cos, sin = (-1.0, 0.0) if abs(turned) == 180 else (math.cos(a), math.sin(a))
    u, up = u * cos - up * sin, u * sin + up * cos
    z = up if toward == "face" else -up
    return (x0 + s * along[0] + u * out[0], y0 + s * along[1] + u * out[1], z + 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class BentLine:
    """Neutral axis of a bent strip: straight parts, and between them arcs of (signed degrees, arc length)."""

    straights: tuple[float, ...]
    arcs: tuple[tuple[float, float], ...]

    def points(self, steps: int = 12) -> list[Point]:
        """The axis as points, starting at (0, 0) along +x, the face on its left; `steps` chords an arc."""
        x = y = heading = 0.0
        out: list[Point] = [(x, y)]
        for i, straight in enumerate(self.straights):
            x, y = x + straight * math.cos(heading), y + straight * math.sin(heading)
            out.append((x, y))
            if i == len(self.arcs):
                break
            turned, arc = self.arcs[i]
            a = math.radians(turned)
            radius = arc / abs(a)
            for _ in range(steps):
                chord = 2 * radius * math.sin(abs(a) / steps / 2)
                heading += a / steps / 2
                x, y = x + chord * math.cos(heading), y + chord * math.sin(heading)
                heading += a / steps / 2
                out.append((x, y))
        return out


def fold_section(pattern: FlatPattern) -> BentLine:
    """Bend a section's strip: its neutral axis, hems included (as developed, before rounding)."""
    shape = pattern.section
    if shape is None:
        raise ValueError(f"{pattern.mark} is not a section")
    backs = [0.0, *(f.setback for f in pattern.folds), 0.0]
    return BentLine(
        straights=tuple(leg - backs[i] - backs[i + 1] for i, leg in enumerate(shape.legs)),
        arcs=tuple((b, f.bend_allowance) for b, f in zip(shape.bends, pattern.folds, strict=True)),
    )


def unfold_section(line: BentLine) -> tuple[float, tuple[float, ...]]:
    """Flatten a bent strip: (developed length, middle of every bend from the start edge)."""
    marks, run = [], 0.0
    for straight, (_, arc) in zip(line.straights, line.arcs, strict=False):
        marks.append(run + straight + arc / 2)
        run += straight + arc
    return run + line.straights[-1], tuple(marks)
