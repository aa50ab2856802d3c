"""A bent strip: developed width, bend marks, end hems, and strips lapped where the brake is too short."""

from __future__ import annotations

import math
from dataclasses import dataclass

from fabplan.blanks.flat.bend import Bend, bend_marks, developed_length, straights
from fabplan.blanks.model import Finished, FlatPattern, Fold, SectionShape, Side
from fabplan.blanks.piece_rules import DEFAULT_LAP, PieceRules
from fabplan.job import defaults
from fabplan.job.kinds.section import EndHem
from fabplan.job.model import Job, SectionPiece
from fabplan.units import inches

MOST_LEAN = 10.0  # degrees: a deduction along the strip's end is then 1.5 % more than square to the line


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionStrip:
    """A section with its hems counted in: `bends` and signs (+1 toward the face), one more leg than bends.

    `at_start` folds belong to the start hem: none, one, or the two of a double hem.
    """

    legs: tuple[float, ...]
    bends: tuple[Bend, ...]
    signs: tuple[int, ...]
    start_hem: bool
    end_hem: bool
    at_start: int = 0


def strip_of(bench: PieceRules, *, far: bool = False) -> SectionStrip:
    """Legs and bends of the bench's section, hems included; `far` at the other end of a tapered one.

    Raises
    ------
    JobError
        Counts that do not fit, a bend of 0 degrees, or a leg shorter than its bends.
    """
    piece = bench.piece
    assert isinstance(piece, SectionPiece)
    if len(piece.bends) != len(piece.legs) - 1:
        raise bench.fault(
            "bends",
            f"{len(piece.legs)} legs are joined by {len(piece.legs) - 1} bends",
            value=f"{len(piece.bends)} bends",
        )
    given = piece.inside_radius
    radii = list(given) if isinstance(given, tuple) else [given] * len(piece.bends)
    if len(radii) != len(piece.bends):
        raise bench.fault(
            "inside_radius", f"one radius, or one for each of the {len(piece.bends)} bends", value=f"{len(radii)} radii"
        )
    legs = [inches(leg) for leg in (piece.taper_to if far else piece.legs)]
    bends: list[Bend] = []
    signs: list[int] = []
    for k, (turned, radius) in enumerate(zip(piece.bends, radii, strict=True), 1):
        if not 0 < abs(turned) <= 180:
            raise bench.fault(
                f"bends[{k}]",
                "a bend between legs is turned more than 0 and up to 180 degrees",
                value=f"{turned:g}",
            )
        gap = 2 * inches(radius) if abs(turned) >= 180 else None
        bends.append(bench.bend(abs(turned), radius=inches(radius), gap=gap))
        signs.append(1 if turned > 0 else -1)
    for spec, at_start in ((piece.start_hem, True), (piece.end_hem, False)):
        if spec is None:
            continue
        flaps, folded, sign = _end_folds(bench, spec)
        if at_start:
            legs, bends, signs = [*reversed(flaps), *legs], [*reversed(folded), *bends], [sign] * len(folded) + signs
        else:
            legs, bends, signs = [*legs, *flaps], [*bends, *folded], signs + [sign] * len(folded)
    first = 0 if piece.start_hem is None else 2 if piece.start_hem.double else 1
    _long_enough(bench, legs, bends, first, "taper_to" if far else "legs")
    return SectionStrip(
        legs=tuple(legs),
        bends=tuple(bends),
        signs=tuple(signs),
        start_hem=piece.start_hem is not None,
        end_hem=piece.end_hem is not None,
        at_start=first,
    )


def _end_folds(bench: PieceRules, spec: EndHem) -> tuple[list[float], list[Bend], int]:
    """Widths and folds of a hem from its leg outward, and its sign. A double hem closes on the layer inside it."""
    fold, width, sign = bench.fold_of(spec), inches(spec.width), 1 if spec.toward == "face" else -1
    if not spec.double:
        return [width], [fold.bend], sign
    inner = width - inches(defaults.DOUBLE_SHORT[bench.job.info.units])
    around = bench.bend(180.0, gap=bench.metal.thickness)
    return [width, inner], [around, bench.bend(180.0, gap=0.0)], sign


def _long_enough(bench: PieceRules, legs: list[float], bends: list[Bend], first: int, name: str) -> None:
    for i, flat in enumerate(straights(legs, bends)):
        if flat > 1e-9:
            continue
        taken = legs[i] - flat
        number = i + 1 - first
        if number < 1:
            key, what = "start_hem > width", "the hem"
        elif number > len(bench.piece.legs):  # type: ignore[union-attr]
            key, what = "end_hem > width", "the hem"
        else:
            key, what = f"{name}[{number}]", f"leg {number}"
        raise bench.fault(
            key,
            f"{what} must be longer than its bends take from it, {bench.show.fine(taken)}",
            value=bench.show.fine(legs[i]),
        )


def reach(job: Job, bent: bool) -> tuple[float, str]:
    """Longest strip the shop can make, inches, and the tool that limits it."""
    brake, shear = inches(job.brake.longest_bend), inches(job.shear.longest_cut)
    return (brake, "brake") if bent and brake <= shear else (shear, "shear")


def split(bench: PieceRules, bent: bool) -> tuple[int, float, float]:
    """(strips, exact length of one, lap): one strip unless the brake or the shear is too short for the piece.

    The strip's long edges are sheared in one cut each, so the shear's longest cut limits it as the brake does.
    """
    piece = bench.piece
    assert isinstance(piece, SectionPiece)
    length = inches(piece.length)
    most, tool = reach(bench.job, bent)
    if piece.taper_to and length > most:
        raise bench.fault("length", f"a tapered strip is made in one, and the {tool} takes {bench.show.length(most)}")
    lap = inches(DEFAULT_LAP[bench.job.info.units] if piece.lap is None else piece.lap)
    if length <= most:
        return 1, length, lap
    if lap >= most:
        raise bench.fault("lap", f"the lap must be shorter than the {tool}, {bench.show.length(most)}")
    strips = 1 + math.ceil((length - most) / (most - lap) - 1e-9)
    return strips, (length + (strips - 1) * lap) / strips, lap


def section_pattern(bench: PieceRules, *, count: int, spare: int, notes: tuple[str, ...]) -> FlatPattern:
    """Flat strip of a section. `count` is of pieces; a piece made in several strips counts each strip."""
    piece, show = bench.piece, bench.show
    assert isinstance(piece, SectionPiece)
    strip = strip_of(bench)
    shape = _shape(bench, strip)
    developed, marks = shape.developed, shape.marks
    width_units = bench.units(developed) if strip.bends else bench.units(piece.legs[0], "up")
    parts, exact, lap = split(bench, bool(strip.bends))
    length_units = bench.units(piece.length if parts == 1 else exact, "up")
    width, length = bench.inches(width_units), bench.inches(length_units)
    far, far_marks, far_units = None, marks, width_units
    if piece.taper_to:
        other = strip_of(bench, far=True)
        far = _shape(bench, other)
        far_marks = far.marks
        aside = max((abs(a - b) for a, b in zip(marks, far_marks, strict=True)), default=0.0)
        lean = math.degrees(math.atan(aside / length))
        if lean > MOST_LEAN:
            raise bench.fault(
                "taper_to", f"bend lines may lean {MOST_LEAN:g} degrees at most: sizes are those square to them",
                value=f"{lean:.1f}", write="a longer piece, or sizes nearer to one another",
            )  # fmt: skip
        far_units = bench.units(far.developed) if strip.bends else bench.units(piece.taper_to[0], "up")
    far_width = bench.inches(far_units)
    if parts > 1:
        notes = (
            *notes,
            f"Longer than the {reach(bench.job, bool(strip.bends))[1]}: each piece is {parts} strips of "
            f"{show.length(length)}, lapped {show.length(lap)}.",
        )
    folds = tuple(
        Fold(
            edge=k,
            line=((mark, 0.0), (far_marks[k - 1], length)),
            toward=_side(sign),
            turned=bend.turned,
            width=_beyond(strip, k),
            gap=bend.gap,
            radius=bend.radius,
            bend_allowance=bend.bend_allowance,
            setback=bend.setback,
            deduction=bend.deduction,
            allowance=bend.allowance(_beyond(strip, k)),
            slot_depth=bend.slot_depth(_beyond(strip, k)) if bend.hem else 0.0,
            hem=bend.hem,
        )
        for k, (mark, bend, sign) in enumerate(zip(marks, strip.bends, strip.signs, strict=True), 1)
    )
    outline = ((far_width, length), (0.0, length), (0.0, 0.0), (width, 0.0))
    return FlatPattern(
        mark=piece.mark,
        kind=piece.kind,
        metal=bench.name,
        count=count * parts,
        spare=spare * parts,
        width_units=max(width_units, far_units),
        length_units=length_units,
        grid=bench.grid,
        outline=outline,
        snipped=outline,
        folds=folds,
        grain=piece.grain,
        finish=piece.finish or "bare",
        weight=(width + far_width) / 2 * length / 144 * bench.metal.weight,
        rounding=width - developed,
        thickness=bench.metal.thickness,
        finished=Finished(length=inches(piece.length)),
        section=shape,
        far=far,
        notes=notes,
        parts=parts,
    )


def _shape(bench: PieceRules, strip: SectionStrip) -> SectionShape:
    return SectionShape(
        legs=strip.legs,
        bends=tuple(s * b.turned for s, b in zip(strip.signs, strip.bends, strict=True)),
        radii=tuple(b.radius for b in strip.bends),
        gaps=tuple(b.gap if b.hem else None for b in strip.bends),
        marks=tuple(bend_marks(strip.legs, strip.bends)),
        developed=developed_length(strip.legs, strip.bends),
        thickness=bench.metal.thickness,
    )


def _beyond(strip: SectionStrip, k: int) -> float:
    """The leg beyond bend k (from 1): of a hem at the start toward that edge."""
    return strip.legs[k - 1 if k <= strip.at_start else k]


def _side(sign: int) -> Side:
    return "face" if sign > 0 else "back"
