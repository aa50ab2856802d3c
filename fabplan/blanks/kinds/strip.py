"""A section's legs and bends, hems counted in."""

from __future__ import annotations

from dataclasses import dataclass

from fabplan.blanks.flat.bend import Bend, straights
from fabplan.blanks.piece_rules import PieceRules
from fabplan.job import defaults
from fabplan.job.kinds.section import EndHem
from fabplan.job.model import SectionPiece
from fabplan.units import inches


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
