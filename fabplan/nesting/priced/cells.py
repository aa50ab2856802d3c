"""The cells layouts are made of: a plain blank, or one to many slanted blanks in a row, each with the work inside it.

Rows are priced whole: their length, their ends, every cut that frees their blanks and every setting it needs.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from fabplan.nesting.cuts import slant
from fabplan.nesting.priced.charges import Charges, Setting
from fabplan.nesting.problem import Blank, Group
from fabplan.nesting.search.pieces import can_cut, own_poses, rectangle, strip_piece
from fabplan.nesting.search.rivals import Piece

MOST = 12  # cells offered for one slanted blank
TOGETHER = 40  # and for all of them, but for a few of each
FEW = 4
NEARLY = 1.25  # those dearer a blank than this against the best are left out


@dataclass(frozen=True, slots=True, kw_only=True)
class Bit:
    """A rectangle that yields `count` of blank number `row`; `work` and `settings` are of the cuts inside it."""

    row: int
    count: int
    piece: Piece
    work: int
    settings: frozenset[Setting]


def bits_of(group: Group, charges: Charges, *, pair: bool) -> list[Bit]:
    """Every cell worth offering."""
    out: list[Bit] = []
    slanted = sum(b.outline is not None for b in group.blanks)
    most = max(FEW, min(MOST, TOGETHER // max(1, slanted)))
    for row, blank in enumerate(group.blanks):
        if blank.outline is None:
            out.append(Bit(row=row, count=1, piece=rectangle(blank), work=0, settings=frozenset()))
        else:
            out += _slanted(row, blank, group, charges, most if pair else 0)
    return out


def _slanted(row: int, blank: Blank, group: Group, charges: Charges, most: int) -> list[Bit]:
    """Rows of one blank, the best few; with `most` 0 each blank alone."""
    pair = most > 0
    rates = [s.cost_per_area for s in group.stock if s.form != "offcut" and s.usable_width > 0]
    rate = float(min(rates, default=Fraction(0)))
    once, tick = charges.set_gauge, float(charges.tick)
    rated: list[tuple[float, int, Bit]] = []
    seen: set[tuple[int, int, int]] = set()
    poses = slant.poses(blank) if pair else own_poses(blank, group)
    for number, pose in enumerate(poses):
        for n in _counts(pose, blank, group) if pair else (1,):
            strip = slant.head_to_tail(pose, n, group.limits)
            if strip is None or (strip.height, strip.length, n) in seen:
                continue
            piece = strip_piece(strip, blank.count, blank.lie, f"{blank.mark} x{n} edge {number}")
            if not can_cut(piece, group)[1]:
                continue
            seen.add((strip.height, strip.length, n))
            bit = _bit(row, n, piece, charges)
            work = tick * (bit.work + once * len(bit.settings) * n / blank.count)
            rated.append(((strip.height * strip.length * rate + work) / n, len(rated), bit))
    if not rated:
        return [Bit(row=row, count=1, piece=rectangle(blank), work=0, settings=frozenset())]
    rated.sort(key=lambda r: r[:2])
    best = rated[0][0]
    kept = [b for score, _, b in rated if score <= NEARLY * best][: max(1, most)]
    alone = next(b for _, _, b in rated if b.count == min(r[2].count for r in rated))
    return kept if alone in kept else [*kept, alone]


def _bit(row: int, count: int, piece: Piece, charges: Charges) -> Bit:
    cell = piece.make(0, 0, False)
    cuts = cell.inside(1, 0) if cell.inside is not None else []
    scribed = sum(c.back_gauge is None for c in cuts)
    settings = frozenset((c.back_gauge, c.angle) for c in cuts if c.back_gauge is not None)
    return Bit(
        row=row, count=count, piece=piece, work=charges.stroke * len(cuts) + charges.scribe * scribed, settings=settings
    )


def _counts(pose: slant.Pose, blank: Blank, group: Group) -> list[int]:
    """How many of a blank in a row are worth trying: every count up to four, then what fills each stock."""
    room = max((max(min(s.usable_length, group.limits.longest_cut), s.usable_width) for s in group.stock), default=0)
    most = 1
    two, three = (slant.head_to_tail(pose, n, group.limits) for n in (2, 3))
    if two is not None:
        first = two.length - pose.width
        second = first if three is None else three.length - two.length
        pitch = max(1.0, (first + second) / 2)
        most = max(1, math.floor((room - pose.width) / pitch) + 2)
    most = min(most, blank.count)
    small: Iterable[int] = range(1, min(4, most) + 1)
    return sorted({*small, *(n for n in (6, 8, most - 1, most) if 1 <= n <= most)})


def marks(group: Group) -> Sequence[str]:
    """Names of the blanks, row by row."""
    return [b.mark for b in group.blanks]
