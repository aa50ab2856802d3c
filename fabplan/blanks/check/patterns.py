"""Re-proves flat patterns against the job: every size, line, flap, notch and count worked out again.

Imports models only; nothing of how the patterns were made is used.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import fields

from fabplan.blanks import clip
from fabplan.blanks.check.bend import EXACT, NEAR, check_fold
from fabplan.blanks.check.disc import check_disc
from fabplan.blanks.check.flat import check_flat
from fabplan.blanks.check.section import check_section
from fabplan.blanks.check.shape import Expected, PieceFolds, expected
from fabplan.blanks.model import FlatPattern, Lattice
from fabplan.check_plane import signed_area
from fabplan.job.kinds.disc import DiscPiece
from fabplan.job.metals import MetalProfile
from fabplan.job.model import DiamondPiece, Job, OutlinePiece, Piece, RectanglePiece, SectionPiece


def check_patterns(
    patterns: Sequence[FlatPattern],
    job: Job,
    metals: Mapping[str, MetalProfile],
    counts: Mapping[str, int] | None = None,
) -> list[str]:
    """Faults of a job's flat patterns; an empty list means they are proven.

    Parameters
    ----------
    patterns : sequence of FlatPattern
        One a piece, in the job's order.
    job : Job
    metals : mapping of str to MetalProfile
    counts : mapping, optional
        Pieces counted on the roof by mark, to prove the counts of pieces that have none of their own.
    """
    asked = [p.mark for p in job.pieces]
    if [p.mark for p in patterns] != asked:
        return [f"patterns {[p.mark for p in patterns]} for pieces {asked}"]
    faults = []
    for pattern, piece in zip(patterns, job.pieces, strict=True):
        try:
            found = _one(pattern, PieceFolds(job, piece, metals), counts)
        except clip.OverlayError as tangled:
            found = [f"its shapes could not be compared: {tangled}"]
        faults += [f'piece "{piece.mark}": {what}' for what in found]
    return faults


def _one(p: FlatPattern, shop: PieceFolds, counts: Mapping[str, int] | None) -> list[str]:
    piece = shop.piece
    faults = _common(p, shop, counts)
    if isinstance(piece, SectionPiece):
        if any(
            (p.finished.side, p.finished.width, p.finished.exposed_side, p.finished.covers_area, p.finished.outline)
        ):
            faults.append("finished sizes a section does not have")
        return faults + _weight(p, shop) + check_section(p, shop) + (["a section has a lattice"] if p.lattice else [])
    if isinstance(piece, DiscPiece):
        return faults + _weight(p, shop) + check_disc(p, shop, piece)
    expect = expected(shop)
    faults += _sizes(p, shop, expect)
    faults += check_flat(p, expect)
    for f in p.folds:
        if f.edge in expect.folds:
            faults += check_fold(f, expect.folds[f.edge], section=False)
    faults += _creases(p, piece)
    if p.section is not None or p.parts != 1:
        faults.append("a flat piece has no section and is one blank")
    return faults + _weight(p, shop) + _lattice(p.lattice, expect.lattice)


def _creases(p: FlatPattern, piece: Piece) -> list[str]:
    """Every crease runs between the finished corners it names, and turns as asked."""
    asked = piece.creases if isinstance(piece, OutlinePiece) else ()
    if len(p.creases) != len(asked):
        return [f"{len(p.creases)} creases for {len(asked)}"]
    at = p.finished.outline
    return [
        f"the crease from corner {c.from_} to {c.to} is not as asked"
        for line, c in zip(p.creases, asked, strict=True)
        if (line.turned, line.toward) != (c.turned, c.toward)
        or math.dist(line.line[0], at[c.from_ - 1]) > NEAR
        or math.dist(line.line[1], at[c.to - 1]) > NEAR
    ]


def _common(p: FlatPattern, shop: PieceFolds, counts: Mapping[str, int] | None) -> list[str]:
    faults = []
    pairs = (
        ("kind", p.kind, shop.piece.kind),
        ("metal", p.metal, shop.name),
        ("graduation", p.grid, shop.job.info.round_to),
        ("grain", p.grain, shop.piece.grain),
        ("finish", p.finish, shop.piece.finish or "bare"),
    )
    faults += [f"the {what} is {got}, not {want}" for what, got, want in pairs if got != want]
    if p.finish != "bare" and p.grain == "any":
        faults.append("a face with a finish lies either way to the rolling direction")
    if abs(p.thickness - shop.metal.thickness) > EXACT:
        faults.append("the thickness is not the metal's")
    need = _needed(shop.piece, counts)
    if need is not None:
        own = shop.piece.spare
        extra = shop.job.info.spare if own is None else own
        spare = extra.pieces + math.ceil(need * extra.share) if need else 0
        blanks = (need + spare) * p.parts
        left = max(0, blanks - shop.job.done.pieces.get(p.mark, 0))
        if left < blanks:
            if (p.count, p.spare) != (left, min(spare * p.parts, left)):
                faults.append(f"{p.count} blanks of which {p.spare} spare, and {left} are still to cut")
        elif (p.count, p.spare) != (blanks, spare * p.parts):
            faults.append(f"{p.count} blanks of which {p.spare} spare, not {need + spare} and {spare} a strip")
    elif p.count < p.spare or p.spare < 0:
        faults.append("more spare than blanks")
    return faults


def _needed(piece: Piece, counts: Mapping[str, int] | None) -> int | None:
    if piece.count is not None:
        return piece.count
    return None if counts is None else counts.get(piece.mark, 0)


def _sizes(p: FlatPattern, shop: PieceFolds, expect: Expected) -> list[str]:
    faults = []
    box = (max((x for x, _ in p.outline), default=0.0), max((y for _, y in p.outline), default=0.0))
    own = (p.width_units, p.length_units)
    rhombic = p.kind == "diamond" and not p.rectangular
    for k, (name, want) in enumerate(zip(("width", "length"), expect.units, strict=True)):
        must = want if want is not None else shop.upward(box[k])
        if own[k] != must:
            faults.append(f"the {name} is {own[k]} steps, not {must}")
        if want is not None and not (rhombic and k == 1) and abs(box[k] - must * shop.step) > NEAR:
            faults.append(f"the outline's {name} is not the sheared one")
    got = (
        p.finished.side,
        p.finished.width,
        p.finished.length,
        p.finished.exposed_side,
        p.finished.covers_area,
    )
    if any(abs(a - b) > NEAR for a, b in zip(got, expect.finished, strict=True)):
        faults.append(f"finished sizes {got}, not {expect.finished}")
    if abs(p.rounding - expect.rounding) > EXACT * 10:
        faults.append(f"the rounding is {p.rounding:.6f}, not {expect.rounding:.6f}")
    typed = isinstance(shop.piece, RectanglePiece | OutlinePiece) or getattr(shop.piece, "blank", None)
    most = shop.step * (1.0 if typed else 0.5)
    if isinstance(shop.piece, DiamondPiece):
        most /= math.sin(math.radians(shop.piece.top_angle))
    if abs(p.rounding) > most + NEAR:
        faults.append("rounded by more than a graduation allows")
    return faults


def _weight(p: FlatPattern, shop: PieceFolds) -> list[str]:
    area = signed_area(p.snipped)
    want = area / 144 * shop.metal.weight
    return [] if abs(p.weight - want) < 1e-9 * max(1.0, want) else [f"weighs {p.weight:.6f} lb, not {want:.6f}"]


def _lattice(got: Lattice | None, want: Mapping[str, float] | None) -> list[str]:
    if got is None or want is None:
        return [] if got is None and want is None else ["a lattice too many or too few"]
    return [
        f"lattice {f.name} is {getattr(got, f.name):.6f}, not {want[f.name]:.6f}"
        for f in fields(got)
        if abs(getattr(got, f.name) - want[f.name]) > EXACT * 10
    ]
