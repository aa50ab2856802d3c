"""The cut table of one pattern: which piece goes in, what drops, what stays, gathered by setting."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace

from fabplan.nesting.model import Layout
from fabplan.plane import bounds
from fabplan.plotter.model import Point
from fabplan.plotter.sheet.cut_lie import by_marks, slanted, stop_hand
from fabplan.plotter.sheet.replay import MadeCut, is_rectangle, likeness, replay
from fabplan.speech.cuts import MetalPart, Take, lot_of, take_of

STRAIGHT = 0.9999  # cosine from which a turn is one by whole quarters


@dataclass(frozen=True, slots=True, kw_only=True)
class CutRow:
    """Cuts made one after another at one setting.

    `takes` are the pieces they are made on, `each` how many cuts a piece gets; `back_gauge` is None for cuts to
    marks; `comes_off` is what drops at every cut, `left` what stays after the last on a piece (None: the coil); `rest`
    is the width and length (graduations) of the box round that, None when it is the coil; `rest_square` whether it
    fills that box, `on_square` whether the metal that is put in is a rectangle, `stop` on which hand of it the angle
    stop lies at a slanted cut; `held` is what the last cut leaves before the blade, square to it; `marked` whether
    both ends of the cut are marked; `turned` by how many quarters, to the left, the rest of a cut is turned before the
    first (2: half round; 0 also where another piece is put in).
    """

    steps: tuple[int, ...]
    back_gauge: int | None
    angle: float
    takes: tuple[Take, ...]
    each: int
    comes_off: tuple[MetalPart, ...]
    left: MetalPart | None
    rest: tuple[float, float] | None
    rest_square: bool
    on_square: bool = True
    stop: str = ""
    held: int = 0
    marked: bool = False
    turned: int = 0


@dataclass(frozen=True, slots=True)
class _Done:
    """One cut made: on which piece, and what falls and stays."""

    made: MadeCut
    take: Take
    falls: MetalPart
    stays: MetalPart | None
    turned: int = 0


def cut_rows(layout: Layout) -> tuple[CutRow, ...]:
    """Rows of the cut table of a layout, in shop order."""
    groups: list[list[_Done]] = []
    by_step: dict[int, MadeCut] = {}
    for made in replay(layout):
        cut = made.cut
        by_step[cut.step] = made
        done = _Done(
            made,
            take_of(layout, cut),
            lot_of(layout, cut.falls, panel=cut.on is None),
            None if cut.stays is None else lot_of(layout, cut.stays),
        )
        if done.take.source == "rest":
            done = replace(done, turned=quarters(by_step[done.take.step].falls, made.falls))
        if groups and _goes_on(groups[-1][-1], done):
            groups[-1].append(done)
        else:
            groups.append([done])
    return _gather(groups)


def quarters(before: Point | None, after: Point | None) -> int:
    """Quarters to the left by which metal is turned so that what falls next lies where the last fell; 0 if slanted."""
    if before is None or after is None:
        return 0
    along = before[0] * after[0] + before[1] * after[1]
    left = after[0] * before[1] - after[1] * before[0]
    if max(abs(along), abs(left)) < STRAIGHT:
        return 0
    if abs(along) > abs(left):
        return 0 if along > 0 else 2
    return 1 if left > 0 else -1


def _goes_on(last: _Done, new: _Done) -> bool:
    """Whether a cut repeats the one before on what that left on the table."""
    a, b = last.made.cut, new.made.cut
    same = (a.back_gauge, a.angle, last.falls) == (b.back_gauge, b.angle, new.falls)
    return same and a.back_gauge is not None and a.stays is not None and new.take == Take("rest", a.step)


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
        ready = made_in.get(take.step, 0) + 1 if take.step else 0
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
    cut, stays = first.made.cut, last.made.cut.stays
    return CutRow(
        steps=tuple(d.made.cut.step for d in group),
        back_gauge=cut.back_gauge,
        angle=cut.angle,
        takes=(first.take,),
        each=len(group),
        comes_off=tuple(d.falls for d in group),
        left=last.stays,
        rest=None if stays is None else _size(stays.outline),
        rest_square=stays is not None and is_rectangle(stays.outline),
        held=last.made.cut.held,
        marked=by_marks(first.made),
        turned=first.turned,
        stop=stop_hand(first.made) if cut.back_gauge is not None and slanted(first.made) else "",
        on_square=is_rectangle(first.made.outline),
    )


def _size(outline: Sequence[tuple[float, float]]) -> tuple[float, float]:
    x0, y0, x1, y1 = bounds(outline)
    return x1 - x0, y1 - y0


def _alike(a: CutRow, b: CutRow) -> bool:
    one, other = ((r.back_gauge, r.angle, r.stop, r.each, r.left, r.on_square, r.turned) for r in (a, b))
    if one != other:
        return False
    if set(a.comes_off) != set(b.comes_off) or (a.rest is None) != (b.rest is None):
        return False
    return a.rest is None or b.rest is None or all(abs(x - y) < 1e-6 for x, y in zip(a.rest, b.rest, strict=True))
