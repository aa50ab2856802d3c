"""Parts of a diamond: starter, ridge half, rake halves. All hang on the diamond's own lattice.

Upright frame, origin at the middle of the finished diamond, y up the slope, seen from the face. The line of the joint
ends Q is ``y_e = -lap / (2 sin(alpha / 2))``: the eave for a starter, the cut for a ridge half. The straight sides of
a starter and of a ridge half stand half a joint inside the spacing, as the side snips of the whole piece do.
A rake half is sheared from the diamond's own blank: only the cut is moved out by the metal of its fold.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from fabplan.blanks.flat.corner import OutlineFold
from fabplan.blanks.flat.lay import FlatPiece, Snip, lay_flat
from fabplan.blanks.flat.pattern import flat_pattern
from fabplan.blanks.kinds.diamond import DiamondSizes
from fabplan.blanks.model import Finished, FlatPattern, Point
from fabplan.blanks.piece_rules import DEFAULT_CUT_FOLD, PieceRules
from fabplan.job.model import CutPiece
from fabplan.units import inches


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidPart:
    """A laid-out part with its finished size, and the sheared sizes that are put on the grid (None: not on it)."""

    laid: FlatPiece
    fold: OutlineFold | None
    width: float
    length: float
    width_units: int | None
    length_units: int | None
    rounding: float


def cut_fold(bench: PieceRules, sizes: DiamondSizes) -> OutlineFold | None:
    """Fold on the cut edge: as given, or the kind's default."""
    piece = bench.piece
    assert isinstance(piece, CutPiece)
    if piece.cut_fold == "none":
        return None
    if piece.cut_fold is not None:
        return bench.fold_of(piece.cut_fold)
    if piece.kind == "starter":
        return bench.fold(sizes.lower.width, "back", gap=sizes.lower.bend.gap)
    return bench.fold(inches(DEFAULT_CUT_FOLD), "face", 90.0)


def eave_line(sizes: DiamondSizes) -> float:
    """Level of the joint ends below the middle of the finished diamond (negative), inches."""
    return -sizes.lattice.lap / (2 * math.sin(sizes.angle / 2))


def _half_width(sizes: DiamondSizes) -> float:
    lattice = sizes.lattice
    exposed = sizes.made - lattice.lap / math.sin(sizes.angle)
    return exposed * math.sin(sizes.angle / 2) - lattice.joint / 2


def _room(bench: PieceRules, ok: bool) -> None:
    """Refuse a part whose diamond is so small, or its cut so rounded, that no shape is left."""
    if not ok:
        raise bench.fault(
            "for",
            "the diamond is too small beside its locks and the graduation for this part",
            write="a larger diamond",
        )


def starter(bench: PieceRules, sizes: DiamondSizes) -> LaidPart:
    """House shape: whole top, straight sides, base on the eave line."""
    fold = cut_fold(bench, sizes)
    half = sizes.angle / 2
    allowance = fold.allowance if fold else 0.0
    top = sizes.made * math.cos(half)
    width_units = bench.units(2 * _half_width(sizes))
    x = bench.inches(width_units) / 2
    tip = top + sizes.upper.allowance / math.sin(half)
    height = tip - eave_line(sizes) + allowance
    units = bench.units(height)
    base = tip - bench.inches(units) + allowance
    shoulder = top - x / math.tan(half)
    _room(bench, x > 1e-3 and shoulder - base > 1e-3)
    points: list[Point] = [(0.0, top), (-x, shoulder), (-x, base), (x, base), (x, shoulder)]
    folds = {1: sizes.upper, 5: sizes.upper} | ({3: fold} if fold else {})
    return LaidPart(
        laid=lay_flat(points, folds),
        fold=fold,
        width=2 * x,
        length=top - base,
        width_units=width_units,
        length_units=units,
        rounding=bench.inches(units) - height,
    )


def ridge_half(bench: PieceRules, sizes: DiamondSizes) -> LaidPart:
    """Lower half, cut on the widest line of what shows."""
    fold = cut_fold(bench, sizes)
    half = sizes.angle / 2
    allowance = fold.allowance if fold else 0.0
    bottom = -sizes.made * math.cos(half)
    tip = bottom - sizes.lower.allowance / math.sin(half)
    height = eave_line(sizes) + allowance - tip
    units = bench.units(height)
    cut = tip + bench.inches(units) - allowance
    if fold is not None and sizes.lattice.joint <= 0:
        raise bench.fault(
            "for",
            "with joint = 0 on the diamond a ridge half has no straight sides, and the fold on its cut meets the hems",
            value=f'"{getattr(bench.piece, "for_", "")}"',
            write='joint = "1/16 in" or more on the diamond, or cut_fold = "none" here',
        )
    # the straight sides must keep some length above the lower edges, so their distance is rounded down
    widest = (cut - bottom) * math.tan(half)
    width_units = bench.units(2 * min(_half_width(sizes), widest), "down")
    if bench.inches(width_units) / 2 > widest - 1e-6:
        width_units -= 1
    x = bench.inches(width_units) / 2
    shoulder = bottom + x / math.tan(half)
    _room(bench, x > 1e-3 and cut - shoulder > 1e-6)
    points: list[Point] = [(-x, cut), (-x, shoulder), (0.0, bottom), (x, shoulder), (x, cut)]
    folds = {2: sizes.lower, 3: sizes.lower} | ({5: fold} if fold else {})
    return LaidPart(
        laid=lay_flat(points, folds),
        fold=fold,
        width=2 * x,
        length=cut - bottom,
        width_units=width_units,
        length_units=units,
        rounding=bench.inches(units) - height,
    )


def rake_half(bench: PieceRules, sizes: DiamondSizes, *, right: bool) -> LaidPart:
    """Right or left half of the diamond, seen from the face, with its fold along the rake."""
    fold = cut_fold(bench, sizes)
    half = sizes.angle / 2
    sin, cos = math.sin(half), math.cos(half)
    allowance = fold.allowance if fold else 0.0
    top, side = sizes.made * cos, sizes.made * sin
    tip = side + (sizes.upper.allowance + sizes.lower.allowance) / (2 * cos)
    width = tip + allowance
    units = bench.units(width)
    x = tip - bench.inches(units) + allowance
    y = (side - x) / math.tan(half)
    _room(bench, side - sizes.lattice.side_snip - x > 1e-3)
    flip = 1.0 if right else -1.0

    def at(a: float, b: float) -> Point:
        return (flip * a, b)

    points: list[Point] = [at(x, y), at(x, -y), at(side, 0.0)]
    if not right:
        points = [points[0], points[2], points[1]]
    numbers = (1, 2, 3) if right else (3, 2, 1)  # cut, lower, upper
    folds = {numbers[1]: sizes.lower, numbers[2]: sizes.upper} | ({numbers[0]: fold} if fold else {})
    # the diamond's other two sheared edges end the strip left for the fold
    sheared = (
        (at(0.0, top + sizes.upper.allowance / sin), at(-cos, sin)),
        (at(0.0, -top - sizes.lower.allowance / sin), at(-cos, -sin)),
    )
    corner = 3 if right else 2
    snip = Snip(corner=corner, through=at(side - sizes.lattice.side_snip, 0.0), normal=at(1.0, 0.0))
    return LaidPart(
        laid=lay_flat(points, folds, sheared=sheared, snips=(snip,)),
        fold=fold,
        width=side - sizes.lattice.side_snip - x,
        length=2 * y,
        width_units=units,
        length_units=None,
        rounding=bench.inches(units) - width,
    )


def lay_part(bench: PieceRules, sizes: DiamondSizes) -> LaidPart:
    """The part the bench's piece asks for."""
    piece = bench.piece
    assert isinstance(piece, CutPiece)
    if piece.kind == "starter":
        return starter(bench, sizes)
    if piece.kind == "ridge-half":
        return ridge_half(bench, sizes)
    # seen facing the roof, the piece along the left rake is the right half of a diamond
    return rake_half(bench, sizes, right=piece.kind == "rake-left")


def own_folds(bench: PieceRules, sizes: DiamondSizes) -> DiamondSizes:
    """The diamond's sizes with its hems in this part's own metal and allowance rule."""
    return replace(
        sizes,
        upper=bench.fold(sizes.upper.width, "face", gap=sizes.upper.bend.gap),
        lower=bench.fold(sizes.lower.width, "back", gap=sizes.lower.bend.gap),
    )


def part_pattern(
    bench: PieceRules, sizes: DiamondSizes, *, count: int, spare: int, notes: tuple[str, ...], snip_past: float = 0.0
) -> FlatPattern:
    """Flat pattern of a part of a diamond."""
    piece = bench.piece
    part = lay_part(bench, sizes)
    notes = (*_notes(bench, sizes, part), *notes)
    return flat_pattern(
        bench,
        part.laid,
        finished=Finished(
            side=sizes.side,
            width=part.width,
            length=part.length,
            exposed_side=sizes.lattice.exposed,
            covers_area=sizes.lattice.cell / 2,
        ),
        width_units=part.width_units,
        length_units=part.length_units,
        snip_past=snip_past,
        count=count,
        spare=spare,
        grain=piece.grain,
        finish=piece.finish or "bare",
        rounding=part.rounding,
        lattice=sizes.lattice,
        notes=notes,
    )


def _notes(bench: PieceRules, sizes: DiamondSizes, part: LaidPart) -> tuple[str, ...]:
    piece, show = bench.piece, bench.show
    if piece.kind != "starter" or part.length_units is None:
        return ()
    half = sizes.angle / 2
    width = part.fold.width if part.fold else 0.0
    rule = sizes.sheared * math.cos(half) + width
    computed = bench.inches(part.length_units)
    return (
        f"Height of the blank {show.length(computed)}. The common rule, half the diamond's blank and one hem, gives "
        f"{show.length(rule)} (common practice, no source): "
        + (
            f"{show.length(computed - rule)} less than the lock needs. Use the computed size."
            if computed > rule
            else "that is enough too. Use the computed size."
        ),
    )
