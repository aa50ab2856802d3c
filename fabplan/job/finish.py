"""Finish and direction: which pieces have a face to keep, and which way their blanks lie to the rolling direction."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

from fabplan.errors import JobError, quoted
from fabplan.job.metals import MetalProfile

if TYPE_CHECKING:
    from fabplan.job.consistency import Read
    from fabplan.job.model import MetalUse

Pieces = tuple[Any, ...]


def finished(pieces: Pieces, metal: MetalUse | None, profiles: Mapping[str, MetalProfile]) -> Pieces:
    """The pieces with their finish settled, and those that have one with their grain: all of them lie one way.

    A piece's own finish goes before that of ``[metal]`` (for pieces of that metal), that before the metal profile's.
    The way is the one somebody typed for a piece of the same metal and finish, else along.
    """
    settled = [p.model_copy(update={"finish": f}) if (f := _finish(p, metal, profiles)) else p for p in pieces]
    typed: dict[tuple[str | None, str], str] = {}
    for p in settled:
        if p.grain != "any":
            typed.setdefault((p.metal, p.finish), p.grain)
    return tuple(
        p.model_copy(update={"grain": typed.get((p.metal, p.finish), "along")}) if faced(p) and p.grain == "any" else p
        for p in settled
    )


def faced(piece: Any) -> bool:
    """Whether a piece has a face to keep."""
    return piece.finish not in (None, "bare")


def _finish(piece: Any, metal: MetalUse | None, profiles: Mapping[str, MetalProfile]) -> str | None:
    """Finish of a piece, None where nobody says."""
    own = piece.metal is None or (metal is not None and piece.metal == metal.use)
    if piece.finish is not None:
        return str(piece.finish)
    if own and metal is not None and metal.finish is not None:
        return metal.finish
    profile = profiles.get(metal.use if own and metal is not None else piece.metal or "")
    return profile.finish if profile is not None and profile.finish != "bare" else None


def finish_faults(read: Read, pieces: Pieces) -> Iterator[JobError]:
    """Pieces whose finish and other keys exclude each other: two ways of one finish, a part unlike its diamond, a face
    that may be turned over."""
    settled = {p.mark: p for p in pieces}
    ways: dict[tuple[str | None, str], tuple[str, str]] = {}
    for (entry, _), p in zip(read.pieces, pieces, strict=True):
        diamond = settled.get(getattr(p, "for_", ""))
        if diamond is not None and (diamond.finish or "bare") != (p.finish or "bare"):
            yield entry.fault(
                ("finish",), f"is a part of {diamond.mark}, which is {diamond.finish or 'bare'}: both lie in one roof",
                value=quoted(p.finish or "bare"), write=f"{quoted(diamond.finish or 'bare')}, or no finish here",
            )  # fmt: skip
            continue
        if not faced(p):
            continue
        first, way = ways.setdefault((p.metal, p.finish), (p.mark, p.grain))
        if p.grain != way:
            yield entry.fault(
                ("grain",), f"contradicts finish = {quoted(p.finish)}: its pieces all lie one way to the rolling "
                f"direction, and {first} lies {way}", value=quoted(p.grain), write=quoted(way),
            )  # fmt: skip
    roof = read.roof
    laid = [s.piece for _, s in read.slopes if s.piece in settled and faced(settled[s.piece])]
    if roof is not None and not roof.good_side and laid:
        finish = settled[laid[0]].finish
        yield read.merged.tables["roof"].fault(
            ("good_side",), f"contradicts finish = {quoted(finish)} of {laid[0]}: its face is the good side",
            value="false", write="good_side = true, or a bare metal",
        )  # fmt: skip
