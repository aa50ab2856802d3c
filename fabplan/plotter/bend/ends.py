"""A turned end of a section in space: seen from beyond its end, before and after one stroke at the bench.

Every leg, flap and tab is a flat face; they are painted from the farthest to the nearest. Thickness is left out.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import cos, hypot, radians, sin

import numpy as np
from numpy.typing import NDArray

from fabplan.bending.model import BendSchedule, Step
from fabplan.blanks import clip
from fabplan.blanks.model import EndTurn, FlatPattern, Fold, Point
from fabplan.plotter.bend.progress import progress
from fabplan.plotter.board.draft import Draft
from fabplan.plotter.board.measure import width
from fabplan.plotter.model import Drawing, Text
from fabplan.units import NM_PER_INCH

Vector = NDArray[np.float64]
SHOWN = 1.1  # of the strip's width, how much of its length is drawn
FROM_RIGHT, FROM_ABOVE = 28.0, 28.0  # degrees, where one stands
SLIVER = 1e-4  # square inches


@dataclass(frozen=True, slots=True)
class _Leg:
    """A leg in space: where x = `start` of the blank lies, its way across, and the way its face looks."""

    start: float
    end: float
    origin: Vector
    along: Vector
    face: Vector

    def at(self, p: Point) -> Vector:
        spot: Vector = self.origin + (p[0] - self.start) * self.along + np.array([0.0, p[1], 0.0])
        return spot


def end_of(pattern: FlatPattern, step: Step) -> tuple[EndTurn, Fold]:
    """The turned end that a stroke belongs to, and its fold."""
    return next((e, f) for e in pattern.ends for f in (e.fold, *e.tabs) if f.edge == step.edge)


def draw_end(
    pattern: FlatPattern, schedule: BendSchedule, step: Step, when: str, *, width_mm: float, height_mm: float
) -> Drawing:
    """The end of the piece in space, `when` = "before" or "after" the stroke; what is turned is hatched."""
    end, fold = end_of(pattern, step)
    turned = dict(progress(schedule, step).turned)
    if when == "after":
        turned[step.edge] = step.turned_deg
    faces = _faces(pattern, end, turned)
    words = f"end {end.at}" if when == "before" else f"turned {step.turned_deg:.4g}°"
    name = f"bend-{pattern.mark}-{step.step}-{when}"
    title = f"Step {step.step}, end {end.at} in space {when} the stroke"
    return _draw(pattern, end, faces, fold.edge, (when, words), name, title, (width_mm, height_mm))


def draw_finished_end(pattern: FlatPattern, at: str, name: str, *, width_mm: float, height_mm: float) -> Drawing:
    """One end of the finished piece in space."""
    end = next(e for e in pattern.ends if e.at == at)
    faces = _faces(pattern, end, {f.edge: f.turned for f in pattern.end_folds})
    title = f"Section {pattern.mark} finished, end {at} in space"
    return _draw(pattern, end, faces, 0, ("", f"end {at}"), name, title, (width_mm, height_mm))


def _draw(
    pattern: FlatPattern,
    end: EndTurn,
    faces: list[tuple[int, list[Vector]]],
    active: int,
    words: tuple[str, str],
    name: str,
    title: str,
    size: tuple[float, float],
) -> Drawing:
    """Faces seen from beyond an end, those of fold `active` hatched; words above and below."""
    width_mm, height_mm = size
    up, out = _stand(pattern, end)
    turn, right = radians(FROM_RIGHT), np.cross(-out, up)
    level, side = -out * cos(turn) - right * sin(turn), right * cos(turn) - out * sin(turn)
    ahead = level * cos(radians(FROM_ABOVE)) - up * sin(radians(FROM_ABOVE))
    above = np.cross(side, ahead)
    depths = {number: _depth(ring, ahead) for number, ring in faces if number}
    for tabs, own in ((e.tabs, depths[e.fold.edge]) for e in pattern.ends if e.fold.edge in depths):
        depths |= {tab.edge: min(depths[tab.edge], own - 1e-3) for tab in tabs}  # a tab lies on the outside
    flat = [
        (number, [(float(q @ side), float(q @ above)) for q in ring], depths.get(number, _depth(ring, ahead)))
        for number, ring in faces
    ]
    xs, ys = [x for _, ring, _ in flat for x, _ in ring], [y for _, ring, _ in flat for _, y in ring]
    low, high = 5.0, height_mm - 5.0
    scale = min((width_mm - 2.0) / (max(xs) - min(xs)), (high - low) / (max(ys) - min(ys)))
    left = (width_mm - (max(xs) - min(xs)) * scale) / 2 - min(xs) * scale
    base = low + ((high - low) - (max(ys) - min(ys)) * scale) / 2 - min(ys) * scale
    draft = Draft()
    for number, ring, _ in sorted(flat, key=lambda f: -f[2]):
        on_paper = [(left + x * scale, base + y * scale) for x, y in ring]
        draft.polygon(on_paper, "edge", "white")
        if active and number == active:
            draft.polygon(on_paper, "edge", "hatch")
    if words[0]:
        draft.text(Text(at=(width_mm / 2, height_mm - 2.3), text=words[0], size=8.5))
    if width(words[1], 8.5, True) < width_mm:
        draft.text(Text(at=(width_mm / 2, 2.0), text=words[1], size=8.5, bold=True))
    return draft.done(name, title, width_mm, height_mm, 25.4 / scale)


def _depth(ring: list[Vector], ahead: Vector) -> float:
    """How far away a face lies: its middle, a little less for small ones, which lie on others."""
    middle = sum(ring) / len(ring)
    long = max(hypot(*(a - b)[:2]) for a in ring for b in ring)
    return float(middle @ ahead) + 1e-3 * long


def _stand(pattern: FlatPattern, end: EndTurn) -> tuple[Vector, Vector]:
    """Up, the side the end is turned to, and out of the end."""
    legs = _legs(pattern)
    leg = _leg_of(legs, _middle(end.fold))
    up = leg.face if end.fold.toward == "face" else -leg.face
    return up, np.array([0.0, -1.0 if end.at == "A" else 1.0, 0.0])


def _middle(fold: Fold) -> float:
    return (fold.line[0][0] + fold.line[1][0]) / 2


def _leg_of(legs: list[_Leg], x: float) -> _Leg:
    return next((leg for leg in legs if leg.start <= x <= leg.end), legs[-1])


def _legs(pattern: FlatPattern) -> list[_Leg]:
    """The legs of the bent strip through its bend marks, layers folded flat a little apart."""
    shape = pattern.section
    assert shape is not None
    stops = [0.0, *shape.marks, pattern.width_units * pattern.grid / NM_PER_INCH]
    origin, heading, out = np.zeros(3), 0.0, []
    for k, (start, stop) in enumerate(pairwise(stops)):
        c, s = cos(radians(heading)), sin(radians(heading))
        along, face = np.array([c, 0.0, s]), np.array([-s, 0.0, c])
        out.append(_Leg(start, stop, origin, along, face))
        origin = origin + (stop - start) * along
        if k < len(shape.bends):
            bend = shape.bends[k]
            if abs(bend) > 179:
                origin = origin + face * (0.06 if bend > 0 else -0.06)
            heading += bend
    return out


def _faces(pattern: FlatPattern, end: EndTurn, turned: dict[int, float]) -> list[tuple[int, list[Vector]]]:
    """Faces near one end: (number of the fold, 0 for a leg; corners in space)."""
    legs = _legs(pattern)
    across, along = legs[-1].end, max(y for _, y in pattern.outline)
    near = SHOWN * across
    low, high = (0.0, min(near, along / 2)) if end.at == "A" else (max(along - near, along / 2), along)
    folds = [f for e in pattern.ends if e.at == end.at for f in (e.fold, *e.tabs)]
    metal = clip.difference(clip.shape(pattern.snipped), clip.join([clip.shape(fold.flap) for fold in folds]))
    out: list[tuple[int, list[Vector]]] = []
    for leg in legs:
        window = clip.shape(((leg.start, low), (leg.end, low), (leg.end, high), (leg.start, high)))
        for piece in clip.pieces(clip.intersection(metal, window)):
            if piece.area > SLIVER:
                out.append((0, [leg.at(p) for p in clip.corners(piece)]))
    for fold in folds:
        leg = _leg_of(legs, _middle(fold))
        a, b = (leg.at(p) for p in fold.line)
        axis = (b - a) / np.linalg.norm(b - a)
        angle = radians(turned.get(fold.edge, 0.0))
        up = leg.face if fold.toward == "face" else -leg.face
        beyond = leg.at(fold.flap[2]) - a
        beyond -= (beyond @ axis) * axis
        if np.cross(axis, beyond) @ up < 0:
            axis = -axis
        out.append((fold.edge, [_turned(leg.at(p), a, axis, angle) for p in fold.flap]))
    return out


def _turned(p: Vector, through: Vector, axis: Vector, angle: float) -> Vector:
    """A point turned about a line (Rodrigues)."""
    r = p - through
    turned: Vector = r * cos(angle) + np.cross(axis, r) * sin(angle) + axis * (axis @ r) * (1 - cos(angle))
    return through + turned
