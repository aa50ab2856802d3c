"""Cut shapes as flat patterns: what is left of the diamond's blank, with the hems and snips left of its own."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

from shapely.geometry import Polygon as Shape

from fabplan import plane
from fabplan.blanks import clip
from fabplan.blanks.model import FlatPattern, Fold, Notch, Polygon
from fabplan.blanks.snip_count import long_snips, snips_of
from fabplan.roof.model import CutShape, RoofPlan

LEAST_FLAP = 1 / 64  # square inches: less of a hem is nothing to fold
LEAST_SNIP = 1 / 256  # square inches


def shape_mark(shape: CutShape) -> str:
    """Name of a cut shape on its page and template: the diamond's mark and its number."""
    return f"{shape.mark}/{shape.number}"


def shape_patterns(plan: RoofPlan, patterns: Sequence[FlatPattern]) -> tuple[FlatPattern, ...]:
    """Every cut shape of a roof on its diamond's sheared blank, seen from the face; none of pieces cut on the roof.

    `count` is how many are made of a shape, its mirror images among them; `weight` is one's after cutting. They are not
    cut from stock on their own: their blanks are those of the diamond and its part blanks.
    """
    by_mark: Mapping[str, FlatPattern] = {p.mark: p for p in patterns}
    return tuple(_pattern(shape, by_mark[shape.mark]) for shape in plan.shapes)


def with_work(shapes: Sequence[CutShape], patterns: Mapping[str, FlatPattern]) -> tuple[CutShape, ...]:
    """The shapes with the hems left on each and the cuts of the snips that free it."""
    out = []
    for shape in shapes:
        p = _pattern(shape, patterns[shape.mark])
        snips = sum(long_snips(n, p.outline) if n.kind == "cut off" else snips_of(n, p.outline) for n in p.notches)
        out.append(replace(shape, folds=len(p.folds), snips=snips))
    return tuple(out)


def _pattern(shape: CutShape, diamond: FlatPattern) -> FlatPattern:
    metal = clip.shape(_in_blank(shape, diamond.outline))
    left = clip.largest(clip.intersection(clip.shape(diamond.snipped), metal))
    folds = []
    for fold in diamond.folds:
        rest, gone = _left_of(fold, left)
        folds += [rest] if rest is not None else []
        if gone is not None:
            left = clip.largest(clip.difference(left, gone))
    whole = clip.shape(diamond.outline)
    off = [p for p in clip.pieces(clip.difference(whole, metal)) if p.area > LEAST_SNIP]
    cuts = tuple(_cut_off(clip.corners(p), diamond.outline) for p in off)
    own = []
    for n in diamond.notches:
        if not n.removed:
            own.append(n)
            continue
        kept = [p for p in clip.pieces(clip.intersection(clip.shape(n.removed), metal)) if p.area > LEAST_SNIP]
        own += [replace(n, removed=clip.corners(p)) for p in kept]
    return replace(
        diamond,
        mark=shape_mark(shape),
        count=shape.same + shape.mirrored,
        spare=0,
        snipped=clip.corners(left),
        notches=(*own, *cuts),
        folds=tuple(folds),
        weight=diamond.weight * left.area / plane.area(diamond.snipped),
        notes=(),
    )


def _cut_off(ring: Polygon, outline: Polygon) -> Notch:
    """Metal cut off the blank, named by the corner that goes with it or is nearest."""
    corner = 1 + min(range(len(outline)), key=lambda k: min(math.dist(outline[k], p) for p in ring))
    return Notch(corner=corner, kind="cut off", removed=ring, legs=(0.0, 0.0), depth=0.0, says="")


def _in_blank(shape: CutShape, outline: Polygon) -> Polygon:
    """A shape about its blank's middle, top tip straight up, as it lies in the sheared blank's own frame.

    The sheared blank is the exact one rounded, so that the sides the shape keeps are its sides.
    """
    middle = sum(complex(*p) for p in outline) / len(outline)
    up = complex(*outline[0]) - middle
    top = max(y for _, y in shape.blank)
    turn = up / abs(up) / 1j * (abs(up) / top)
    points = [complex(*p) * turn + middle for p in shape.metal]
    return tuple((p.real, p.imag) for p in points)


def _left_of(fold: Fold, left: Shape) -> tuple[Fold | None, Shape | None]:
    """The part of a fold that is left, or the metal of it to cut off because it is shorter than it is wide."""
    flaps = [p for p in clip.pieces(clip.intersection(clip.shape(fold.flap), left)) if p.area > LEAST_FLAP]
    if not flaps:
        return None, None
    flap = max(flaps, key=lambda p: p.area)
    (ax, ay), (bx, by) = fold.line
    long = math.hypot(bx - ax, by - ay)
    along = [((x - ax) * (bx - ax) + (y - ay) * (by - ay)) / long for x, y in clip.corners(flap)]
    low, high = (min(max(t, 0.0), long) for t in (min(along), max(along)))
    if high - low < fold.width:
        return None, flap
    start, end = ((ax + (bx - ax) * t / long, ay + (by - ay) * t / long) for t in (low, high))
    return replace(fold, line=(start, end), flap=clip.corners(flap)), None
