"""The cut table of one pattern: which piece goes in, what drops, what stays, gathered by setting.

The layout's cuts are replayed so that every row can say which piece to take and how big the rest is.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace

from fabplan.nesting.model import Cut, Layout, Placed
from fabplan.packet.say import listed, spans
from fabplan.plotter.model import Point
from fabplan.plotter.sheet.cut_lie import by_marks, slanted, stop_hand
from fabplan.plotter.sheet.replay import BARE, MadeCut, is_rectangle, likeness, replay

STOCK_WORD = {"coil": "panel", "sheet": "sheet", "offcut": "offcut"}


@dataclass(frozen=True, slots=True, kw_only=True)
class CutRow:
    """Cuts made one after another at one setting.

    `takes` names the pieces they are made on, `each` how many cuts a piece gets; `back_gauge` is None for cuts to
    marks; `rest` is the width and length (graduations) of the box round what stays on the table after the last cut on a
    piece, None when it is the coil or has no size; `rest_square` whether it fills that box, `on_square` whether the
    metal that is put in is a rectangle, `stop` on which hand of it the angle stop lies at a slanted cut; `held` is what
    the last cut leaves before the blade, square to it; `marked` whether both ends of the cut are marked.
    """

    steps: tuple[int, ...]
    back_gauge: int | None
    angle: float
    takes: tuple[str, ...]
    each: int
    comes_off: tuple[str, ...]
    left: str
    rest: tuple[float, float] | None
    rest_square: bool
    on_square: bool = True
    stop: str = ""
    held: int = 0
    marked: bool = False


@dataclass(slots=True)
class _Piece:
    name: str
    outline: tuple[Point, ...]


@dataclass(slots=True)
class _Done:
    """One cut made: on which piece, and the two it made of it."""

    made: MadeCut
    take: str
    drop: _Piece | None = None
    stay: _Piece | None = None
    comes_off: str = ""
    left: str = ""


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
    done = _made(layout, kerf)
    taken = {d.take for d in done}
    groups: list[list[_Done]] = []
    for d in done:
        falling, staying = d.made.held or ((), d.made.blanks)
        d.comes_off = _words(d.made.cut.comes_off, d.drop, falling, taken)
        d.left = _words(d.made.cut.left, d.stay, staying, taken)
        if groups and _goes_on(groups[-1][-1], d):
            groups[-1].append(d)
        else:
            groups.append([d])
    return _gather(groups)


def _made(layout: Layout, kerf: int) -> list[_Done]:
    """Every cut with the piece it is made on and those it makes."""
    w, h = float(layout.width), float(layout.length)
    pieces = [_Piece(f"the {STOCK_WORD[layout.form]}", ((0.0, 0.0), (w, 0.0), (w, h), (0.0, h)))]
    done: list[_Done] = []
    for made in replay(layout):
        cut = made.cut
        if layout.form == "coil" and cut.stage == 0:
            done.append(_Done(made, "the coil"))
            continue
        centre = ((cut.start[0] + cut.end[0]) / 2, (cut.start[1] + cut.end[1]) / 2)
        piece = next((p for p in pieces if _holds(p.outline, centre)), None)
        if piece is None:
            done.append(_Done(made, ""))
            continue
        pieces.remove(piece)
        one = _Done(made, piece.name)
        normal = made.falls or (cut.end[1] - cut.start[1], cut.start[0] - cut.end[0])
        other = (-normal[0], -normal[1])
        drop = _side(piece.outline, _past_kerf(cut, normal, kerf), normal)
        stay = _side(piece.outline, _past_kerf(cut, other, kerf), other)
        if len(drop) > 2:
            one.drop = _Piece(f"drop of {cut.step}", drop)
            pieces.append(one.drop)
        if len(stay) > 2:
            one.stay = _Piece(f"rest of {cut.step}", stay)
            pieces.append(one.stay)
        done.append(one)
    return done


def _words(words: str, piece: _Piece | None, blanks: Sequence[Placed], taken: set[str]) -> str:
    """A part in the table's words: its blanks by mark; one that is cut again is said to be trimmed yet."""
    if piece is None or words in BARE or words.startswith(("piece with ", "panel with ")):
        return words
    marks = Counter(placed.mark for placed in blanks)
    if marks.total() > 1:
        return "piece with " + ", ".join(f"{n} {mark}" for mark, n in marks.items())
    (mark,) = marks or (words.removesuffix(" to trim"),)
    return f"{mark} to trim" if piece.name in taken else mark


def _past_kerf(cut: Cut, normal: Point, kerf: int) -> Point:
    """A point of the line where the metal begins on the side a normal points to."""
    (x0, y0), (x1, y1) = cut.start, cut.end
    long = math.dist(cut.start, cut.end) or 1.0
    right = ((y1 - y0) / long, (x0 - x1) / long)
    if right[0] * normal[0] + right[1] * normal[1] <= 0:
        return cut.start
    return x0 + right[0] * kerf, y0 + right[1] * kerf


def _goes_on(last: _Done, new: _Done) -> bool:
    """Whether a cut repeats the one before on what that left on the table."""
    a, b = last.made.cut, new.made.cut
    same = (a.back_gauge, a.angle, last.comes_off) == (b.back_gauge, b.angle, new.comes_off)
    return same and a.back_gauge is not None and last.stay is not None and new.take == last.stay.name


def _gather(groups: Sequence[Sequence[_Done]]) -> tuple[CutRow, ...]:
    """Groups that do the same to several pieces become one row, as early as all those pieces are there.

    Cutting each piece needs only the cut that freed it, so a row may take in later groups whose pieces lie ready.
    Cuts to marks do the same when their pieces, marks and blanks are alike.
    """
    rows: list[CutRow] = []
    shapes: list[Hashable] = []
    made_in: dict[int, int] = {}  # row that holds a cut, by its step
    for group in groups:
        row = _row(group)
        shape = likeness(group[0].made) if row.back_gauge is None else None
        take = group[0].take
        ready = made_in.get(int(take.rsplit(" ", 1)[1]), 0) + 1 if " of " in take else 0
        found = (n for n in range(ready, len(rows)) if shapes[n] == shape and _alike(rows[n], row))
        at = next(found, None)
        if at is None:
            at = len(rows)
            rows.append(row)
            shapes.append(shape)
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


def _row(group: Sequence[_Done]) -> CutRow:
    first, last = group[0], group[-1]
    rest = last.stay.outline if last.stay is not None else ()
    return CutRow(
        steps=tuple(d.made.cut.step for d in group),
        back_gauge=first.made.cut.back_gauge,
        angle=first.made.cut.angle,
        takes=(first.take,),
        each=len(group),
        comes_off=tuple(d.comes_off for d in group),
        left=last.left,
        rest=_size(rest) if rest else None,
        rest_square=bool(rest) and is_rectangle(rest),
        held=last.made.cut.held,
        marked=bool(first.made.outline) and by_marks(first.made),
        stop=stop_hand(first.made) if first.made.cut.back_gauge is not None and slanted(first.made) else "",
        on_square=not first.made.outline or is_rectangle(first.made.outline),
    )


def _alike(a: CutRow, b: CutRow) -> bool:
    one, other = ((r.back_gauge, r.angle, r.stop, r.each, r.left, r.on_square) for r in (a, b))
    if one != other:
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


def takes_words(takes: Sequence[str]) -> str:
    """``the panel``, ``drops of 1, 2``."""
    if len(takes) == 1:
        return takes[0]
    out = []
    for word in ("drop", "rest"):
        steps = [int(t.rsplit(" ", 1)[1]) for t in takes if t.startswith(f"{word} of ")]
        if steps:
            out.append(f"{word}{'s' if len(steps) > 1 else ''} of {spans(steps)}")
    out += [t for t in takes if not t.startswith(("drop of ", "rest of "))]
    return listed(out)
