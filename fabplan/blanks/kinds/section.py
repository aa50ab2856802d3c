"""A bent strip: developed width, bend marks, end hems, and strips lapped where the brake is too short."""

from __future__ import annotations

import math
from dataclasses import dataclass

from fabplan import plane
from fabplan.blanks import clip
from fabplan.blanks.flat.bend import bend_marks, developed_length
from fabplan.blanks.kinds.ends import placed, turned_ends
from fabplan.blanks.kinds.strip import SectionStrip, strip_of
from fabplan.blanks.model import EndTurn, Finished, FlatPattern, Fold, Notch, Polygon, SectionShape, Side
from fabplan.blanks.piece_rules import DEFAULT_LAP, PieceRules
from fabplan.job.model import Job, SectionPiece
from fabplan.units import inches

MOST_LEAN = 10.0  # degrees: a deduction along the strip's end is then 1.5 % more than square to the line


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


@dataclass(frozen=True, slots=True, kw_only=True)
class _Ends:
    """The strip's blank with its turned ends: graduations of its length, where its long bends begin and end."""

    length_units: int
    between: tuple[float, float]
    snipped: Polygon
    turns: tuple[EndTurn, ...]


def section_pattern(bench: PieceRules, *, count: int, spare: int, notes: tuple[str, ...]) -> FlatPattern:
    """Flat strip of a section. `count` is of pieces; a piece made in several strips counts each strip."""
    piece, show = bench.piece, bench.show
    assert isinstance(piece, SectionPiece)
    strip = strip_of(bench)
    shape = _shape(bench, strip)
    developed, marks = shape.developed, shape.marks
    width_units = bench.units(developed) if strip.bends else bench.units(piece.legs[0], "up")
    parts, exact, lap = split(bench, bool(strip.bends))
    width = bench.inches(width_units)
    if piece.end_dams or piece.returns:
        ends = _with_ends(bench, strip, marks, width, parts)
        length_units = ends.length_units
    else:
        length_units = bench.units(piece.length if parts == 1 else exact, "up")
        ends = None
    length = bench.inches(length_units)
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
    outline = ((far_width, length), (0.0, length), (0.0, 0.0), (width, 0.0))
    snipped = outline if ends is None else ends.snipped
    low, high = (0.0, length) if ends is None else ends.between
    area = (width + far_width) / 2 * length if ends is None else abs(plane.area(snipped))
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
        snipped=snipped,
        folds=_folds(strip, marks, far_marks, low, high),
        notches=() if ends is None else _notches(outline, snipped),
        grain=piece.grain,
        finish=piece.finish or "bare",
        weight=area / 144 * bench.metal.weight,
        rounding=width - developed,
        thickness=bench.metal.thickness,
        finished=Finished(length=inches(piece.length)),
        section=shape,
        far=far,
        notes=notes,
        parts=parts,
        ends=() if ends is None else ends.turns,
    )


def _folds(
    strip: SectionStrip, marks: tuple[float, ...], far_marks: tuple[float, ...], low: float, high: float
) -> tuple[Fold, ...]:
    """The bends of a strip along its length, from `low` to `high`."""
    return tuple(
        Fold(
            edge=k,
            line=((mark, low), (far_marks[k - 1], high)),
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


def _with_ends(bench: PieceRules, strip: SectionStrip, marks: tuple[float, ...], width: float, parts: int) -> _Ends:
    """The blank of a strip with turned ends: longer by what is turned, notched at its ends.

    The length is put on the shop's graduation once; what that adds or takes is at the raw edges of the turned ends.
    """
    piece, job = bench.piece, bench.job
    assert isinstance(piece, SectionPiece)
    key = "end_dams" if piece.end_dams else "returns"
    near, other = turned_ends(bench, strip, marks, width)
    finished = inches(piece.length)
    exact = finished + near.reach + other.reach
    most, tool = reach(job, bool(strip.bends))
    if parts > 1 or exact > most + 1e-9:
        longest = bench.show.length(math.floor((most - exact + finished) / bench.inches(1)) * bench.inches(1))
        raise bench.fault(
            key, f"a strip with turned ends is made in one, and the {tool} takes {bench.show.length(most)}",
            value=f"a blank of {bench.show.length(exact)}",
            write=f"a length of {longest} or less, or end pieces of their own, lapped on a plain strip",
        )  # fmt: skip
    leaning = sum(
        inches(turn.size) * max(0.0, -math.cos(math.radians(turn.turned))) * len(turn.ends)
        for turn in (*piece.end_dams, *piece.returns)
    )
    if leaning >= finished:
        raise bench.fault(key, "the ends lean in over one another", value=piece.mark, write="a longer piece")
    units = bench.units(exact)
    more = bench.inches(units) - exact
    at_a = (0.0 if not near.turns else 0.5 if other.turns else 1.0) * more
    low = near.reach + at_a
    bottom, turns, last = placed(near, len(strip.bends), low, -1, at_a)
    top, far_turns, _ = placed(other, last, low + finished, 1, more - at_a)
    return _Ends(
        length_units=units,
        between=(low, low + finished),
        snipped=(*reversed(top), *bottom),
        turns=(*turns, *far_turns),
    )


def _notches(outline: Polygon, snipped: Polygon) -> tuple[Notch, ...]:
    """What is cut away at the ends, a notch a piece; corner 0 lies between two corners of the blank."""
    out = []
    for piece in clip.pieces(clip.difference(clip.shape(outline), clip.shape(snipped))):
        removed = clip.corners(piece)
        xs, ys = [x for x, _ in removed], [y for _, y in removed]
        corner = next(
            (n for n, p in enumerate(outline, 1) if any(math.dist(p, q) < 1e-6 for q in removed)), 0
        )  # fmt: skip
        legs = (max(xs) - min(xs), max(ys) - min(ys))
        kind = "square" if len(removed) == 4 else "notch"
        out.append(Notch(corner=corner, kind=kind, removed=removed, legs=legs, depth=0.0, says=""))
    return tuple(sorted(out, key=lambda n: (min(y for _, y in n.removed) > 0, min(x for x, _ in n.removed))))


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
