"""Finished pieces to flat metal: one `FlatPattern` for each piece of a job."""

from __future__ import annotations

from collections.abc import Mapping
from typing import assert_never

from fabplan.blanks import lock_rules
from fabplan.blanks.flat.lay import TooWideError
from fabplan.blanks.kinds.diamond import DiamondSizes, diamond_pattern, diamond_sizes
from fabplan.blanks.kinds.disc import disc_pattern
from fabplan.blanks.kinds.panes import flat_seam_pattern, outline_folds, outline_pattern, pan_lap, rectangle_pattern
from fabplan.blanks.kinds.parts import own_folds, part_pattern
from fabplan.blanks.kinds.section import section_pattern
from fabplan.blanks.model import FlatPattern
from fabplan.blanks.piece_rules import PieceRules, counted
from fabplan.errors import JobError, JobErrors
from fabplan.job.kinds.apex_cap import ApexCapPiece
from fabplan.job.kinds.disc import DiscPiece
from fabplan.job.kinds.opening_set import OpeningSetPiece
from fabplan.job.kinds.rake_cover import RakeCoverPiece
from fabplan.job.kinds.ridge_end import RidgeEndPiece
from fabplan.job.metals import MetalProfile
from fabplan.job.model import (
    CutPiece,
    DiamondPiece,
    FlatSeamPiece,
    Job,
    OutlinePiece,
    Piece,
    RectanglePiece,
    SectionPiece,
)
from fabplan.units import inches


def develop(
    job: Job, metals: Mapping[str, MetalProfile], counts: Mapping[str, int] | None = None
) -> tuple[FlatPattern, ...]:
    """Flat patterns of all pieces of a job, in its order.

    Parameters
    ----------
    job : Job
    metals : mapping
        Metal profile by the name the job uses for it.
    counts : mapping, optional
        Pieces counted on the roof, by mark, before spare; used for pieces without a count of their own. A piece with
        neither has a count of 0.

    Raises
    ------
    JobError
        Pieces that cannot be made as asked; `JobErrors` when there are several.
    """
    benches = {p.mark: _bench(job, p, metals) for p in job.pieces}
    sections = {mark: b for mark, b in benches.items() if isinstance(b.piece, SectionPiece)}
    sizes: dict[str, DiamondSizes] = {}
    made: dict[str, FlatPattern] = {}
    faults: list[JobError] = []
    spoilt: set[str] = set()  # diamonds that are faulted: their parts say nothing more
    for mark in sorted(benches, key=lambda m: not isinstance(benches[m].piece, DiamondPiece)):
        bench = benches[mark]
        if isinstance(bench.piece, CutPiece) and bench.piece.for_ in spoilt:
            continue
        try:
            if isinstance(bench.piece, DiamondPiece):
                sizes[mark] = diamond_sizes(bench)
            made[mark] = _one(bench, benches, sizes, sections, counts)
            continue
        except TooWideError as wide:
            faults.append(lock_rules.named_error(bench, wide.what, wide.edges))
        except JobError as fault:
            faults.append(fault)
        spoilt.add(mark)
    if len(faults) == 1:
        raise faults[0]
    if faults:
        order = {m: k for k, m in enumerate(benches)}
        raise JobErrors(sorted(faults, key=lambda e: order.get(e.key.split('"')[1], 0)))
    return tuple(made[m] for m in benches)


def _bench(job: Job, piece: Piece, metals: Mapping[str, MetalProfile]) -> PieceRules:
    name = piece.metal or job.metal.use
    return PieceRules(job=job, piece=piece, name=name, metal=metals[name])


def _one(
    bench: PieceRules,
    benches: Mapping[str, PieceRules],
    sizes: Mapping[str, DiamondSizes],
    sections: Mapping[str, PieceRules],
    counts: Mapping[str, int] | None,
) -> FlatPattern:
    piece = bench.piece
    count, spare = counted(bench.job, piece, counts)
    own = (piece.note,) if piece.note else ()
    match piece:
        case DiamondPiece():
            notes = lock_rules.check_lock(bench, sizes[piece.mark])
            return diamond_pattern(bench, sizes[piece.mark], count=count, spare=spare, notes=(*notes, *own))
        case CutPiece():
            diamond = _diamond_of(bench, benches, sizes)
            part = own_folds(bench, sizes[diamond.mark])
            notes = (*lock_rules.check_part(bench, part, sections), *own)
            past = inches(diamond.snip_past)
            return part_pattern(bench, part, count=count, spare=spare, notes=notes, snip_past=past)
        case FlatSeamPiece():
            notes = lock_rules.check_pan(bench, pan_lap(bench))
            return flat_seam_pattern(bench, count=count, spare=spare, notes=(*notes, *own))
        case RectanglePiece():
            return rectangle_pattern(bench, count=count, spare=spare, notes=own)
        case DiscPiece():
            return disc_pattern(bench, count=count, spare=spare, notes=own)
        case SectionPiece():
            notes = lock_rules.check_section(bench)
            return section_pattern(bench, count=count, spare=spare, notes=(*notes, *own))
        case OutlinePiece():
            hems = lock_rules.hem_notes(bench, [f.bend for f in outline_folds(bench).values()])
            return outline_pattern(bench, count=count, spare=spare, notes=(*hems, *own))
        case ApexCapPiece() | OpeningSetPiece() | RakeCoverPiece() | RidgeEndPiece():
            raise ValueError(f"{piece.mark} is made up of other pieces, which are developed")
        case _:
            assert_never(piece)


def _diamond_of(
    bench: PieceRules, benches: Mapping[str, PieceRules], sizes: Mapping[str, DiamondSizes]
) -> DiamondPiece:
    piece = bench.piece
    assert isinstance(piece, CutPiece)
    if piece.for_ not in sizes:
        marks = ", ".join(f'"{m}"' for m in sizes)
        raise bench.fault(
            "for",
            "must be the mark of a diamond",
            value=f'"{piece.for_}"',
            write=f"one of {marks}" if marks else "",
        )
    diamond = benches[piece.for_].piece
    assert isinstance(diamond, DiamondPiece)
    return diamond
