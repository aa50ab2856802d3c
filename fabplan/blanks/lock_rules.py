"""Do pieces that hook each other fit? Errors where they cannot, warnings where practice says otherwise."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final

from fabplan.blanks.flat.bend import Bend
from fabplan.blanks.flat.corner import OutlineFold
from fabplan.blanks.kinds.diamond import DiamondSizes
from fabplan.blanks.kinds.parts import cut_fold
from fabplan.blanks.kinds.strip import strip_of
from fabplan.blanks.piece_rules import PieceRules
from fabplan.errors import JobError
from fabplan.job.model import CutPiece, DiamondPiece, FlatSeamPiece, SectionPiece
from fabplan.units import Show, inches

LEAST_HOOKED = 0.375  # inches: common practice, no source
WIDEST_HEM_GAP = 0.25  # inches: a wider one is no doubled edge any more; describe it as two bends
CLOSE = 1e-6
USUAL_HOOKED: Final = {"in": "3/8 in", "mm": "9.5 mm"}
HANDBOOK_SIDES: Final = {"in": "8 to 12 in", "mm": "203 to 305 mm"}  # the same sizes, said in the units of the job
CUT_FOLD: Final = {
    "in": 'cut_fold = {width = "1 in", toward = "back", turned = 180, gap = "1/16 in"}',
    "mm": 'cut_fold = {width = "25 mm", toward = "back", turned = 180, gap = "1.5 mm"}',
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Hook:
    """One end of a section as something to hook: how thick it is, how much straight flat stands behind it."""

    end: str
    thick: float
    flat: float
    edge: str


def check_lock(bench: PieceRules, sizes: DiamondSizes) -> tuple[str, ...]:
    """Warnings of a diamond's own locks.

    Raises
    ------
    JobError
        Hems that cannot hook each other, or leave nothing of the side exposed.
    """
    piece, lattice, show = bench.piece, sizes.lattice, bench.show
    assert isinstance(piece, DiamondPiece)
    if not 60 <= piece.top_angle <= 120:
        raise bench.fault(
            "top_angle",
            "a diamond's top angle is from 60 to 120 degrees",
            value=f"{piece.top_angle:g}",
            write="top_angle = 90",
        )
    own = "hem_gap" if piece.hem_gap is not None else "lower_gap"
    for key, fold in (("upper_gap", sizes.upper), ("lower_gap", sizes.lower)):
        named = getattr(piece, key) is not None
        _pocket(bench, key if named else own if own == "hem_gap" else key, fold)
    if lattice.hooked <= CLOSE:
        narrow = "upper_hem" if lattice.upper_hem <= lattice.lower_hem else "lower_hem"
        key = narrow if getattr(piece, narrow) is not None else "hem"
        raise bench.fault(
            key,
            f"hems {show.fine(lattice.upper_hem)} and {show.fine(lattice.lower_hem)} wide lap {show.fine(lattice.lap)} "
            "and cannot hook each other",
            value=show.fine(min(lattice.upper_hem, lattice.lower_hem)),
            write='a wider hem, for example "3/4 in"' if show.unit == "in" else 'a wider hem, for example "20 mm"',
        )
    if lattice.exposed <= CLOSE or lattice.spacing <= lattice.joint + CLOSE:
        raise bench.fault(
            "side" if piece.side is not None else "blank",
            f"the locks take {show.fine(lattice.side - lattice.exposed)} of the finished side of "
            f"{show.fine(max(lattice.side, 0.0))}, so nothing would show",
            write="a longer side or narrower hems",
        )
    notes = [
        f"Locked and pulled up tight the edges lap {show.length(lattice.lap)} fold to fold and "
        f"{show.length(lattice.hooked)} is hooked; {show.length(lattice.exposed)} of the side shows."
    ]
    if abs(sizes.rounding) >= 5e-5:
        more = "more" if sizes.rounding > 0 else "less"
        notes.append(
            f"Rounded to the graduation, the sheared side is {show.fine(abs(sizes.rounding))} {more} than computed: "
            "snap the course lines, do not step them off the pieces."
        )
    if lattice.hooked < LEAST_HOOKED - CLOSE:
        notes.append(
            f"Warning: only {show.length(lattice.hooked)} is hooked; {USUAL_HOOKED[show.unit]} is the usual least "
            "(common practice, no source)."
        )
    if not 8 - CLOSE <= sizes.sheared <= 12 + CLOSE:
        notes.append(
            f"Warning: the blank's side, {show.length(sizes.sheared)}, is outside the {HANDBOOK_SIDES[show.unit]} of "
            "the Copper Development Association's Copper in Architecture handbook, section 12.6."
        )
    if bench.metal.family == "copper" and bench.metal.weight < 1.0 - 1e-6:
        notes.append(
            "Warning: the Copper Development Association's Copper in Architecture handbook, section 12.6, asks for "
            "16 oz copper or heavier in diagonal panels."
        )
    if piece.snip_past:
        notes.append(
            "snip_past is left out at every corner of a diamond: at the bottom tip it would open the joint the tip "
            "covers, and the side snips take the side corners away. It is used where a part's folds meet on opposite "
            "sides."
        )
    return (*notes, *radius_notes(bench, (sizes.upper.bend, sizes.lower.bend)))


def _pocket(bench: PieceRules, key: str, fold: OutlineFold) -> None:
    least = bench.metal.thickness
    if fold.bend.gap < least - CLOSE:
        raise bench.fault(
            key,
            f"a hem that must hook needs a gap of at least the metal's thickness, {bench.show.fine(least)}",
            value=bench.show.fine(fold.bend.gap),
            write='hem_gap = "1/16 in"' if bench.job.info.units == "in" else 'hem_gap = "1.5 mm"',
        )


def check_pan(bench: PieceRules, lap: float) -> tuple[str, ...]:
    """Warnings of a flat-lock pan's locks (all four hems alike)."""
    piece, show = bench.piece, bench.show
    assert isinstance(piece, FlatSeamPiece)
    fold = bench.fold(inches(piece.hem), "face", gap=None if piece.hem_gap is None else inches(piece.hem_gap))
    _pocket(bench, "hem_gap", fold)
    hooked = 2 * fold.width - lap
    if hooked <= CLOSE:
        raise bench.fault(
            "hem", "hems this narrow cannot hook each other", value=show.fine(fold.width), write="a wider hem"
        )
    for key in ("width", "length"):
        if inches(getattr(piece, key)) - lap <= CLOSE:
            raise bench.fault(
                key, f"the locks take {show.fine(lap)} of it, so nothing would show", write="a larger size"
            )
    notes: list[str] = []
    to_face = set((1, 2) if piece.face_edges is None else piece.face_edges)
    for one, other in ((1, 3), (2, 4)):
        if (one in to_face) == (other in to_face):
            notes.append(
                f"Warning: edges {one} and {other} are folded to the same side, so two of these pans cannot hook there."
            )
    if hooked < LEAST_HOOKED - CLOSE:
        notes.append(
            f"Warning: only {show.length(hooked)} is hooked; {USUAL_HOOKED[show.unit]} is the usual least "
            "(common practice, no source)."
        )
    return (*notes, *radius_notes(bench, (fold.bend,)))


def check_part(bench: PieceRules, sizes: DiamondSizes, sections: Mapping[str, PieceRules]) -> tuple[str, ...]:
    """Warnings of a part's own fold, and of the section it hooks.

    Raises
    ------
    JobError
        `hooks` names no section, or its fold cannot go round either edge of that section.
    """
    piece, show = bench.piece, bench.show
    assert isinstance(piece, CutPiece)
    fold = cut_fold(bench, sizes)
    notes: tuple[str, ...] = radius_notes(bench, (fold.bend,)) if fold else ()
    notes += _direction(bench)
    for key in (sizes.upper, sizes.lower):
        _pocket(bench, "metal", key)
    if piece.hooks is None:
        return notes
    if piece.hooks not in sections:
        known = ", ".join(f'"{m}"' for m in sections)
        raise bench.fault(
            "hooks",
            "must be the mark of a section",
            value=f'"{piece.hooks}"',
            write=f"one of {known}" if known else "",
        )
    if fold is None or not fold.bend.hem:
        raise bench.fault(
            "cut_fold",
            f'to hook section "{piece.hooks}" the cut edge must be hemmed',
            write=CUT_FOLD[show.unit],
        )
    ends = hooks_of(sections[piece.hooks])
    fits = [h for h in ends if fold.bend.gap >= h.thick - CLOSE and h.flat > CLOSE]
    if not fits:
        least = min(ends, key=lambda h: h.thick)
        raise bench.fault(
            "cut_fold > gap",
            f'the hem cannot go round either edge of section "{piece.hooks}": its {least.end} edge is '
            f"{show.fine(least.thick)} thick",
            value=show.fine(fold.bend.gap),
            write=f"a gap of {_round_up(bench, least.thick)} or more",
        )
    best = max(fits, key=lambda h: (min(h.flat, fold.width), -h.thick))
    depth = fold.width - fold.bend.setback
    notes = (
        *notes,
        f'Its hem goes over the {best.end} edge of "{piece.hooks}" ({best.edge}, {show.fine(best.thick)} thick).',
    )
    if depth > best.flat + CLOSE:
        notes = (
            *notes,
            f"Warning: the hem is {show.length(depth)} deep inside and the flat of that edge only "
            f"{show.length(best.flat)}: it will stop against the bend.",
        )
    return notes


def _direction(bench: PieceRules) -> tuple[str, ...]:
    """A part made as a piece of its own lies straight up its blank, and its diamond askew."""
    piece = bench.piece
    assert isinstance(piece, CutPiece)
    if piece.finish in (None, "bare"):
        return ()
    way = "straight up" if piece.grain == "along" else "level across"
    return (
        f"Warning: its rolling direction runs {way} the roof, that of {piece.for_} at an angle. Where that shows on a "
        f"{piece.finish} face, leave this piece out of the job: it is then cut from a whole {piece.for_}.",
    )


def hooks_of(bench: PieceRules) -> tuple[Hook, ...]:
    """Both ends of a section as something to hook over."""
    strip = strip_of(bench)
    t = bench.metal.thickness
    out = []
    for name, hemmed, step in (("start", strip.start_hem, 1), ("finish", strip.end_hem, -1)):
        bends = strip.bends[::step]
        legs = strip.legs[::step]
        if hemmed and bends[0].hem:
            hem = bends[0]
            back = bends[1].setback if len(bends) > 1 else 0.0
            kind = "closed hem" if hem.gap <= CLOSE else "open hem"
            out.append(Hook(end=name, thick=2 * t + hem.gap, flat=legs[1] - back, edge=kind))
        else:
            back = bends[0].setback if bends else 0.0
            out.append(Hook(end=name, thick=t, flat=legs[0] - back, edge="raw edge"))
    return tuple(out)


def check_section(bench: PieceRules) -> tuple[str, ...]:
    """Warnings of a section's bends."""
    strip, show = strip_of(bench), bench.show
    piece = bench.piece
    assert isinstance(piece, SectionPiece)
    notes = []
    for name, present, k, leg in (("start", strip.start_hem, 0, 1), ("end", strip.end_hem, -1, -2)):
        if not present or not strip.bends[k].hem:
            continue
        hem, width = strip.bends[k], strip.legs[0 if k == 0 else -1]
        if hem.gap > WIDEST_HEM_GAP + CLOSE:
            notes.append(
                f"Warning: the {name} hem opens {show.fine(hem.gap)}; above {show.exact(6_350_000)} describe it as "
                "two bends."
            )
        if width > strip.legs[leg] + CLOSE:
            notes.append(f"Warning: the {name} hem is wider than the leg it lies on.")
    measured = sum(b.how == "measured" for b in strip.bends)
    if measured:
        notes.append(f"{measured} of {len(strip.bends)} bends use the shop's measured deduction.")
    return (*notes, *radius_notes(bench, strip.bends))


def radius_notes(bench: PieceRules, bends: tuple[Bend, ...]) -> tuple[str, ...]:
    """A warning where a bend is tighter than the metal's least inside radius.

    Hems are left out unless the metal's least radius is above its own thickness: roofing metals in the tempers sold for
    it take a hem flat (copper R220 and R240 strip up to 0.5 mm, 90 and 180 degrees: radius 0, mill data).
    """
    least, t = bench.metal.least_inside_radius, bench.metal.thickness
    tight = [b for b in bends if b.radius < least - CLOSE and (not b.hem or least > t + CLOSE)]
    if not tight:
        return hem_notes(bench, bends)
    worst = min(b.radius for b in tight)
    show = bench.show
    return (
        f"Warning: bent to {show.fine(worst)} inside; the least radius of {bench.metal.title} is {show.fine(least)}.",
        *hem_notes(bench, bends),
    )


def hem_notes(bench: PieceRules, bends: Iterable[Bend]) -> tuple[str, ...]:
    """A warning where a hem is closed farther than its metal takes, or than the coat on its outside takes."""
    closed = [b.gap for b in bends if b.hem]
    if not closed:
        return ()
    show, metal, finish = bench.show, bench.metal, bench.piece.finish
    why = [(metal.least_hem_gap, metal.title, "folds")]
    if finish not in (None, "bare"):
        why.append((metal.thickness, f"a {finish} face", "may crack on the outside of a hem"))
    least, what, does = max(why)
    if min(closed) >= least - CLOSE:
        return ()
    how = "closed flat" if min(closed) <= CLOSE else f"closed to {show.fine(min(closed))}"
    rule = f"{what} is folded with" if does == "folds" else f"{what} {does}: leave"
    return (f"Warning: a hem is {how}; {rule} {show.fine(least)} open or more (from memory, no source).",)


def _round_up(bench: PieceRules, length: float) -> str:
    steps = bench.units(length, "up")
    return Show(bench.job.info.units, bench.grid).length(bench.inches(steps))


def named_error(bench: PieceRules, what: str, edges: tuple[int, ...]) -> JobError:
    """A fold that does not fit, said of the key it comes from."""
    piece = bench.piece
    key = "hem"
    if isinstance(piece, CutPiece):
        key = "cut_fold"
    elif getattr(piece, "folds", None):
        key = "folds"
    elif isinstance(piece, DiamondPiece) and piece.hem is None:
        key = "upper_hem" if set(edges) <= {1, 4} else "lower_hem"
    return bench.fault(key, what, write="a narrower fold, or a larger piece")
