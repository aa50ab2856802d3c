"""The cells layouts are made of: a plain blank, or one to many slanted blanks in a row, each with the work inside it.

Rows are priced whole: their length, their ends, every cut that frees their blanks and every setting it needs.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from fabplan.nesting.cuts import slant
from fabplan.nesting.priced.charges import Charges, Setting
from fabplan.nesting.problem import Blank, Group
from fabplan.nesting.search.pieces import can_cut, own_poses, rectangle, strip_piece
from fabplan.nesting.search.rivals import Piece

MOST = 12  # cells offered for one slanted blank
TOGETHER = 40  # and for all of them, but for a few of each
FEW = 4
NEAR_HEIGHT = 1.12  # rows as high as another blank is wide or long share its setting, where they are nearly as low
NEARLY = 1.25  # those dearer a blank than this against the best are left out


@dataclass(frozen=True, slots=True, kw_only=True)
class Bit:
    """A rectangle that yields `count` of blank number `row`; `work` and `settings` are of the cuts inside it.

    With `spare` it only takes the place of a larger one that would make too many.
    """

    row: int
    count: int
    piece: Piece
    work: int
    settings: frozenset[Setting]
    spare: bool = False


Rated = tuple[float, float, int, Bit]  # rough cost a blank, hand, place


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
    shared = {side for b in group.blanks if b.outline is None for side in (b.width, b.length)} if pair else set()
    rated: list[Rated] = []
    poses = slant.poses(blank) if pair else own_poses(blank, group)
    for number, pose in enumerate(poses):
        near = sorted(h for h in shared if pose.height < h <= NEAR_HEIGHT * pose.height)
        for height in (pose.height, *near):
            own: dict[int, Bit] = {}
            for n in _counts(pose, blank, group) if pair else (1,):
                strip = slant.head_to_tail(pose, n, group.limits, height)
                if strip is None:
                    continue
                piece = strip_piece(strip, blank.count, blank.lie, f"{blank.mark} x{n} edge {number}")
                bit = _bit(row, n, piece, charges)
                if _joined(own, bit, charges) or not can_cut(piece, group)[1]:
                    continue
                own[n] = bit
                settings = len(bit.settings) + (height not in shared)
                work = tick * (bit.work + once * settings * n / blank.count)
                rated.append(((strip.height * strip.length * rate + work) / n, _hands(bit), len(rated), bit))
    rated += _from_squares(row, blank, group, charges, len(rated)) if pair else []
    if not rated:
        return [Bit(row=row, count=1, piece=rectangle(blank), work=0, settings=frozenset())]
    rated.sort(key=lambda r: r[:3])
    best = rated[0][0]
    kept: list[Bit] = []
    for score, *_, bit in rated:
        if score > NEARLY * best or len(kept) >= max(1, most):
            break
        if not any(_same(bit, k) for k in kept):
            kept.append(bit)
    squares = [bit for score, *_, bit in rated if score == math.inf]
    alone = next(r[-1] for r in rated if r[-1].count == min(q[-1].count for q in rated))
    # Where a whole blank of another mark gives the odd one, its settings are there already.
    alone = replace(alone, spare=bool(squares) and alone not in kept)
    return [*kept, *(b for b in (alone, *squares) if not any(_same(b, k) for k in kept))]


def _hands(bit: Bit) -> float:
    """Of rows alike but for the hand the one whose cuts are all of one hand, the stop leaning one way."""
    return sum(angle for _, angle in bit.settings)


def _from_squares(row: int, blank: Blank, group: Group, charges: Charges, first: int) -> list[Rated]:
    """The blank alone from a square blank of another mark: the square's settings serve it, too."""
    out: list[Rated] = []
    sides = {b.width for b in group.blanks if b.outline is None and b.width == b.length}
    for side in sorted(sides):
        best: Bit | None = None
        for pose in slant.poses(blank):
            if not pose.height <= side <= NEAR_HEIGHT * pose.height or pose.width > side:
                continue
            strip = slant.row([(pose, False)], group.limits, side, side)
            if strip is None or strip.length != side:
                continue
            piece = strip_piece(strip, blank.count, blank.lie, f"{blank.mark} from a whole one")
            bit = _bit(row, 1, piece, charges)
            if can_cut(piece, group)[1] and (best is None or _effort(bit, charges) < _effort(best, charges)):
                best = bit
        if best is not None:
            out.append((math.inf, 0.0, first + len(out), best))
    return out


def _effort(bit: Bit, charges: Charges) -> int:
    return bit.work + charges.set_gauge * len(bit.settings)


def _same(a: Bit, b: Bit) -> bool:
    return (a.piece.width, a.piece.length, a.count) == (b.piece.width, b.piece.length, b.count)


def _joined(own: dict[int, Bit], bit: Bit, charges: Charges) -> bool:
    """Whether shorter rows as high, end to end, are no longer than this one and as little work: it adds nothing."""
    least: dict[int, tuple[int, int]] = {0: (0, 0)}
    for n in range(1, bit.count + 1):
        ways = [
            (least[n - k][0] + b.piece.length, least[n - k][1] + b.work + charges.stroke)
            for k, b in own.items()
            if n - k in least
        ]
        if ways:
            least[n] = min(ways)
    if bit.count not in least:
        return False
    length, work = least[bit.count]
    return length <= bit.piece.length and work <= bit.work + charges.stroke


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
