"""The cut table of one pattern: which piece goes in, what drops, what stays, gathered by setting.

The layout's cuts are replayed so that every row can say which piece to take and how big the rest is.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from fabplan.nesting.model import Cut, Layout
from fabplan.packet.totals import polygon_area
from fabplan.plotter.model import Point
from fabplan.plotter.replay import replay

STOCK_WORD = {"coil": "panel", "sheet": "sheet", "offcut": "offcut"}


@dataclass(frozen=True, slots=True, kw_only=True)
class CutRow:
    """Cuts made one after another at one setting.

    `takes` names the pieces they are made on, `each` how many cuts a piece gets; `mark_at` is where the mark of a cut
    without a gauge setting lies along the edge from its corner, None when nobody knows; `rest` is the width and length
    (graduations) of what stays on the table after the last cut on a piece, None when it is the coil or has no size.
    """

    steps: tuple[int, ...]
    back_gauge: int | None
    mark_at: float | None
    angle: float
    takes: tuple[str, ...]
    each: int
    comes_off: tuple[str, ...]
    left: str
    rest: tuple[float, float] | None


@dataclass(slots=True)
class _Piece:
    name: str
    outline: tuple[Point, ...]


@dataclass(slots=True)
class _Group:
    cuts: list[Cut] = field(default_factory=list)
    take: str = ""
    mark_at: float | None = None
    rest: tuple[float, float] | None = None
    rest_name: str = ""


def _side(outline: Sequence[Point], at: Point, normal: Point) -> tuple[Point, ...]:
    """The part of a convex outline on the side of a line its normal points to."""

    def depth(p: Point) -> float:
        return (p[0] - at[0]) * normal[0] + (p[1] - at[1]) * normal[1]

    out: list[Point] = []
    for p, q in zip(outline, (*outline[1:], outline[0]), strict=True):
        dp, dq = depth(p), depth(q)
        if dp >= 0:
            out.append(p)
        if dp * dq < 0:
            share = dp / (dp - dq)
            out.append((p[0] + (q[0] - p[0]) * share, p[1] + (q[1] - p[1]) * share))
    return tuple(out)


def _holds(outline: Sequence[Point], p: Point) -> bool:
    """Whether a convex counter-clockwise outline holds a point (its border counts)."""
    around = zip(outline, (*outline[1:], outline[0]), strict=True)
    return all((b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]) >= -1e-6 for a, b in around)


def _size(outline: Sequence[Point]) -> tuple[float, float]:
    xs, ys = [p[0] for p in outline], [p[1] for p in outline]
    return max(xs) - min(xs), max(ys) - min(ys)


def cut_rows(layout: Layout, kerf: int = 0) -> tuple[CutRow, ...]:
    """Rows of the cut table of a layout, in shop order; `kerf` is what a saw takes, in graduations.

    The kerf lies to the right of a cut from its start to its end, as the cut plan has it.
    """
    w, h = float(layout.width), float(layout.length)
    whole = STOCK_WORD[layout.form]
    pieces = [_Piece(f"the {whole}", ((0.0, 0.0), (w, 0.0), (w, h), (0.0, h)))]
    groups: list[_Group] = []
    for made in replay(layout):
        cut = made.cut
        if layout.form == "coil" and cut.stage == 0:
            groups.append(_Group(cuts=[cut], take="the coil"))
            continue
        centre = ((cut.start[0] + cut.end[0]) / 2, (cut.start[1] + cut.end[1]) / 2)
        piece = next((p for p in pieces if _holds(p.outline, centre)), None)
        take, rest = "", None
        rest_name = f"rest of {cut.step}"
        if piece is not None:
            take = piece.name
            normal = made.normal or _to_smaller(piece.outline, cut)
            other = (-normal[0], -normal[1])
            drop = _side(piece.outline, _past_kerf(cut, normal, kerf), normal)
            stay = _side(piece.outline, _past_kerf(cut, other, kerf), other)
            pieces.remove(piece)
            if len(drop) > 2:
                pieces.append(_Piece(f"drop of {cut.step}", drop))
            if len(stay) > 2:
                rest = _size(stay)
                pieces.append(_Piece(rest_name, stay))
        last = groups[-1] if groups else None
        if last is not None and last.cuts and _goes_on(last, cut, take):
            last.cuts.append(cut)
            last.rest, last.rest_name = rest, rest_name
        else:
            mark_at = math.dist(*made.marks[0]) if made.marks else None
            groups.append(_Group(cuts=[cut], take=take, mark_at=mark_at, rest=rest, rest_name=rest_name))
    return _gather(groups)


def _past_kerf(cut: Cut, normal: Point, kerf: int) -> Point:
    """A point of the line where the metal begins on the side a normal points to."""
    (x0, y0), (x1, y1) = cut.start, cut.end
    long = math.dist(cut.start, cut.end) or 1.0
    right = ((y1 - y0) / long, (x0 - x1) / long)
    if right[0] * normal[0] + right[1] * normal[1] <= 0:
        return cut.start
    return x0 + right[0] * kerf, y0 + right[1] * kerf


def _to_smaller(outline: Sequence[Point], cut: Cut) -> Point:
    """Across a cut to a mark, from its line to the smaller part: that is the part that drops."""
    left = (-(cut.end[1] - cut.start[1]), cut.end[0] - cut.start[0])
    right = (-left[0], -left[1])
    return min((left, right), key=lambda n: polygon_area(_side(outline, cut.start, n)))


def _goes_on(group: _Group, cut: Cut, take: str) -> bool:
    """Whether a cut repeats the group's last one on what that left on the table."""
    last = group.cuts[-1]
    same = (last.back_gauge, last.angle, last.comes_off) == (cut.back_gauge, cut.angle, cut.comes_off)
    return same and last.back_gauge is not None and take == group.rest_name


def _gather(groups: Sequence[_Group]) -> tuple[CutRow, ...]:
    """Groups that do the same to several pieces become one row, as early as all those pieces are there.

    Cutting each piece needs only the cut that freed it, so a row may take in later groups whose pieces lie ready.
    """
    rows: list[CutRow] = []
    made_in: dict[int, int] = {}  # row that holds a cut, by its step
    for group in groups:
        row = _row(group)
        ready = made_in.get(int(group.take.rsplit(" ", 1)[1]), 0) + 1 if " of " in group.take else 0
        at = next((n for n in range(ready, len(rows)) if _alike(rows[n], row)), None)
        if at is None:
            at = len(rows)
            rows.append(row)
        else:
            first = rows[at]
            rows[at] = replace(
                first,
                steps=(*first.steps, *row.steps),
                takes=(*first.takes, *row.takes),
                comes_off=(*first.comes_off, *row.comes_off),
            )
        made_in |= dict.fromkeys(row.steps, at)
    return tuple(rows)


def _row(group: _Group) -> CutRow:
    first, last = group.cuts[0], group.cuts[-1]
    return CutRow(
        steps=tuple(c.step for c in group.cuts),
        back_gauge=first.back_gauge,
        mark_at=group.mark_at,
        angle=first.angle,
        takes=(group.take,),
        each=len(group.cuts),
        comes_off=tuple(c.comes_off for c in group.cuts),
        left=last.left,
        rest=group.rest,
    )


def _alike(a: CutRow, b: CutRow) -> bool:
    if a.back_gauge is None or (a.back_gauge, a.angle, a.each, a.left) != (b.back_gauge, b.angle, b.each, b.left):
        return False
    if set(a.comes_off) != set(b.comes_off) or (a.rest is None) != (b.rest is None):
        return False
    return a.rest is None or b.rest is None or all(abs(x - y) < 1e-6 for x, y in zip(a.rest, b.rest, strict=True))


def comes_off_words(row: CutRow) -> str:
    """What drops, with how many: ``14 × A``, ``strip for 7 A``, ``scrap``."""
    kinds = Counter(row.comes_off)
    parts = [words if words in ("scrap", "dust") and n == 1 else f"{n} × {words}" for words, n in kinds.items()]
    if len(kinds) == 1 and sum(kinds.values()) == 1:
        return next(iter(kinds))
    return ", ".join(parts)
