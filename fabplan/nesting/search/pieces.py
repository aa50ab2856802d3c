"""The rectangles given to the engine and the packers: blanks as they are, and strips of slanted blanks.

For a blank that is not a rectangle there is a choice: which edge it stands on and how many make up one strip. A long
strip loses less metal at its slanted ends; a short one fits more places. `strip_options` lists the choices worth
trying, the likeliest first.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import partial

from fabplan.nesting.cuts import slant
from fabplan.nesting.cuts.layouts import LayoutDraft, finish
from fabplan.nesting.cuts.order import Cell, NotCuttableError
from fabplan.nesting.model import Placed
from fabplan.nesting.problem import NEAR, Blank, Group, StockLine
from fabplan.nesting.search.rivals import Piece


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """One way to supply a blank's count: pieces for the nest, and what it is called on the page.

    `strip` is the blanks in the longest strip (1 = each from its own rectangle); `score` a rough cost a blank.
    """

    mark: str
    strip: int
    pieces: tuple[Piece, ...]
    score: float


def rectangle(blank: Blank, count: int | None = None) -> Piece:
    """A blank cut from its own rectangle (a blank that is not one is snipped from it by hand)."""
    return Piece(
        key=blank.mark,
        width=blank.width,
        length=blank.length,
        count=blank.count if count is None else count,
        ways=blank.ways,
        make=partial(_laid, blank),
    )


def _laid(blank: Blank, x: int, y: int, turned: bool) -> Cell:
    w, h = (blank.length, blank.width) if turned else (blank.width, blank.length)
    outline = None
    if blank.drawn is not None:
        points = blank.drawn
        if turned:  # a quarter turn keeps the face up
            points = tuple((blank.length - py, px) for px, py in points)
        outline = tuple((x + px, y + py) for px, py in points)
    boxed = blank.outline is not None
    placed = Placed(mark=blank.mark, x=x, y=y, width=w, length=h, turned=turned, outline=outline, boxed=boxed)
    return Cell(x=x, y=y, width=w, length=h, blanks=(placed,))


def strip_piece(strip: slant.SlantStrip, count: int, lie: str, key: str) -> Piece:
    """A strip of slanted blanks as one rectangle."""
    return Piece(
        key=key,
        width=strip.height,
        length=strip.length,
        count=count,
        ways=partial(strip_ways, strip.seats[0].pose.angle, lie),
        make=partial(slant.cell, strip),
    )


def strip_ways(angle: float, lie: str, line: StockLine) -> tuple[bool, ...]:
    return slant.ways(angle, lie, line.grain_across)


def strip_options(blank: Blank, group: Group, *, pair: bool, most: int = 5) -> list[Option]:
    """Choices for a blank that is not a rectangle, the likeliest cheapest first; the last is one blank a rectangle."""
    singles: list[Option] = []
    rows: list[Option] = []
    for number, pose in enumerate(own_poses(blank, group)):
        alone = slant.head_to_tail(pose, 1, group.limits)
        if alone is None:
            continue
        singles.append(_option(blank, group, {1: (alone, blank.count)}, number))
        if not pair:
            continue
        for k in _counts(pose, blank, group):
            full, rest = divmod(blank.count, k)
            strips = {n: (slant.head_to_tail(pose, n, group.limits), times) for n, times in ((k, full), (rest, 1)) if n}
            whole = {n: (s, times) for n, (s, times) in strips.items() if s is not None}
            option = _option(blank, group, whole, number)
            if len(whole) == len(strips) and all(can_cut(p, group)[1] for p in option.pieces):
                rows.append(option)
    if not singles:
        piece = rectangle(blank)
        return [Option(mark=blank.mark, strip=0, pieces=(piece,), score=math.inf)]
    rows.sort(key=lambda o: (o.score, -o.strip))
    return [*rows[:most], min(singles, key=lambda o: o.score)]


def own_poses(blank: Blank, group: Group) -> list[slant.Pose]:
    """Stands worth trying that this shear can cut: those within a twentieth of the closest, four at most.

    A stand too high or too long for every stock does not count, unless nothing else is left.
    """
    rated: list[tuple[bool, float, int, slant.Pose]] = []
    for pose in slant.poses(blank):
        single = slant.head_to_tail(pose, 1, group.limits)
        if single is None:
            continue
        up, down = (pose, False), (pose, True)
        straight, there, back = (slant.spacing(a, b, group.limits) for a, b in ((up, up), (up, down), (down, up)))
        gap = min(
            [g for g in (straight,) if g is not None] + ([(there + back) / 2] if there and back else [pose.width])
        )
        rated.append((not _fits(single, blank, group), pose.height * gap, pose.height, pose))
    if not rated:
        return []
    rated.sort(key=lambda r: r[:3])
    least = rated[0]
    return [r[3] for r in rated if r[0] == least[0] and r[1] <= 1.05 * least[1]][:4]


def _fits(strip: slant.SlantStrip, blank: Blank, group: Group) -> bool:
    """Whether a strip lies within some stock."""
    for line in group.stock:
        for turned in slant.ways(strip.seats[0].pose.angle, blank.lie, line.grain_across):
            w, h = (strip.length, strip.height) if turned else (strip.height, strip.length)
            if w <= line.usable_width and h <= line.usable_length:
                return True
    return False


def _counts(pose: slant.Pose, blank: Blank, group: Group) -> list[int]:
    """Blanks a strip: as many as fit along and across every stock, half as many, and two."""
    three = slant.head_to_tail(pose, 3, group.limits)
    if three is None:
        return []
    first, second = three.seats[1].at, three.seats[2].at - three.seats[1].at

    def most(room: int) -> int:
        n = 0
        while n < blank.count and n * (first + second) / 2 + pose.width <= room + first:
            if (n // 2) * (first + second) + (n % 2) * first + pose.width > room + NEAR:
                break
            n += 1
        return n

    found = {2}
    for line in group.stock:
        along = min(line.usable_length, group.limits.longest_cut)
        for room in (along, line.usable_width):
            k = most(room)
            found |= {k, k // 2, k - 1}
        across = max(1, line.usable_width // pose.height)
        panels = -(-blank.count // max(1, most(along) * across))
        found.add(min(most(along), -(-blank.count // (across * panels))))  # strips that fill the width evenly
    return sorted(k for k in found if 2 <= k <= blank.count)


def _option(blank: Blank, group: Group, strips: dict[int, tuple[slant.SlantStrip, int]], number: int) -> Option:
    pieces = tuple(
        strip_piece(strip, times, blank.lie, f"{blank.mark} x{n} edge {number}")
        for n, (strip, times) in strips.items()
        if times
    )
    score = sum(_rough(group, p) for p in pieces) / max(1, blank.count)
    return Option(mark=blank.mark, strip=max(strips, default=0), pieces=pieces, score=score)


def can_cut(piece: Piece, group: Group) -> tuple[bool, bool]:
    """Whether a piece lies within some stock, and whether this shear can also cut it out."""
    fits = False
    for line in group.stock:
        for turned in piece.ways(line):
            w, h = (piece.length, piece.width) if turned else (piece.width, piece.length)
            if w > line.usable_width or h > line.usable_length:
                continue
            fits = True
            end = 0 if line.form == "coil" else line.trim
            length = h if line.form == "coil" else line.length
            try:
                cells = (piece.make(line.trim, end, turned),)
                finish(LayoutDraft(stock=line.name, length=length, cells=cells), group)
            except NotCuttableError:
                continue
            return True, True
    return fits, False


def _rough(group: Group, piece: Piece) -> float:
    """Rough cost of a piece's count: half its bare metal, half panels of nothing else."""
    best = math.inf
    for line in group.stock:
        rate = line.cost_per_area or Fraction(1, 10**6)
        for turned in piece.ways(line):
            w, h = (piece.length, piece.width) if turned else (piece.width, piece.length)
            across, along = line.usable_width // w, line.usable_length // h
            if across and along:
                if line.form == "coil":
                    panels = line.usable_width * h * -(-piece.count // across)
                else:
                    panels = line.usable_width * line.usable_length * -(-piece.count // (across * along))
                best = min(best, float(rate) * (w * h * piece.count + panels) / 2)
    return best


def matched(blanks: Sequence[Blank], group: Group) -> list[Piece]:
    """Blanks of few each, matched two by two into short strips where that saves most, the rest alone.

    Greedy on metal saved against both in their own rectangles.
    """
    left = {b.mark: b.count for b in blanks}
    by_mark = {b.mark: b for b in blanks}
    stands = {b.mark: own_poses(b, group)[:3] for b in blanks}
    alone = {
        m: min((p.height * math.ceil(p.width - NEAR) for p in ps), default=by_mark[m].width * by_mark[m].length)
        for m, ps in stands.items()
    }
    pairs: list[tuple[int, str, str, slant.Pose, slant.Pose, bool]] = []
    marks = sorted(stands)
    for i, a in enumerate(marks):
        for b in marks[i:]:
            if by_mark[a].lie != by_mark[b].lie:
                continue
            found = _pair(stands[a], stands[b], group, by_mark[a].lie != "any")
            if found is not None and alone[a] + alone[b] - found[0] > 0:
                pairs.append((found[0] - alone[a] - alone[b], a, b, *found[1:]))
    pieces: list[Piece] = []
    for _, a, b, pose_a, pose_b, flip in sorted(pairs, key=lambda p: p[:3]):
        n = left[a] // 2 if a == b else min(left[a], left[b])
        strip = slant.row([(pose_a, False), (pose_b, flip)], group.limits) if n else None
        if strip is None:
            continue
        left[a] -= n
        left[b] -= n
        pieces.append(strip_piece(strip, n, by_mark[a].lie, f"{a} + {b}"))
    for m in marks:
        if not left[m]:
            continue
        if not stands[m]:
            pieces.append(rectangle(by_mark[m], left[m]))
            continue
        pose = min(stands[m], key=lambda p: p.height * p.width)
        strip = slant.head_to_tail(pose, 1, group.limits)
        if strip is not None:
            pieces.append(strip_piece(strip, left[m], by_mark[m].lie, f"{m} alone"))
    return pieces


def _pair(
    first: Sequence[slant.Pose], second: Sequence[slant.Pose], group: Group, locked: bool
) -> tuple[int, slant.Pose, slant.Pose, bool] | None:
    best: tuple[int, slant.Pose, slant.Pose, bool] | None = None
    for p in first:
        for q in second:
            if locked and round(p.angle / 90) % 2 != round(q.angle / 90) % 2:
                continue
            for flip in (False, True):
                gap = slant.spacing((p, False), (q, flip), group.limits)
                if gap is None or gap < 0:
                    continue
                size = max(p.height, q.height) * math.ceil(max(p.width, gap + q.width) - NEAR)
                if best is None or size < best[0]:
                    best = (size, p, q, flip)
    return best
