"""Short panels cut off a coil one by one become long ones: a cut-off is made to a mark, a crosscut to the back gauge.

The metal is the same to the graduation. What changes is that a panel of several lengths is cut off once, ripped in one
stroke where the shear is long enough, and its blanks come off the back gauge instead of off a tape.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from itertools import combinations

from fabplan.nesting.cuts.layouts import LayoutDraft, finish, least_pull
from fabplan.nesting.cuts.order import Cell, NotCuttableError
from fabplan.nesting.model import Layout, Placed
from fabplan.nesting.problem import Group

MOST_BLANKS = 40  # blanks on a joined panel: beyond, its page is hard to read


def joined(group: Group, layouts: Sequence[Layout]) -> tuple[Layout, ...]:
    """The layouts with every coil panel of many repeats joined into panels as long as the shear can rip.

    A layout stays as it is where the join cannot be cut, or does not save strokes of the shear.
    """
    out: list[Layout] = []
    for layout in layouts:
        out += _joined(group, layout)
    return tuple(out)


def _joined(group: Group, layout: Layout) -> list[Layout]:
    line = group.line(layout.stock)
    kerf = group.limits.kerf
    slanted = any(b.outline is not None for b in layout.blanks)  # their strips are as long as they can be already
    if layout.form != "coil" or not group.limits.cut_off_to_mark or layout.repeat < 2 or slanted:
        return [layout]
    room = min(line.length, group.limits.longest_cut)
    most = min(layout.repeat, (room + kerf) // (layout.length + kerf))
    strokes = layout.repeat * len(layout.cuts)
    most = min(most, MOST_BLANKS // max(1, len(layout.blanks)))
    whole = [k for k in range(most, 1, -1) if layout.repeat % k == 0 and 2 * k > most]
    for k in dict.fromkeys((*whole, most)):
        if k < 2:
            continue
        times, rest = divmod(layout.repeat, k)
        try:
            made = [_stack(group, layout, k, times)] + ([_stack(group, layout, rest, 1)] if rest else [])
        except NotCuttableError:
            continue
        if sum(y.repeat * len(y.cuts) for y in made) <= strokes:
            return made
    return [layout]


def _stack(group: Group, layout: Layout, count: int, repeat: int) -> Layout:
    """`count` copies of a panel end to end, as one panel."""
    if count == 1:
        return replace(layout, repeat=repeat)
    step = layout.length + group.limits.kerf
    cells = tuple(_moved(b, n * step) for n in range(count) for b in layout.blanks)
    draft = LayoutDraft(
        stock=layout.stock, length=count * step - group.limits.kerf, cells=cells, repeat=repeat, first="x"
    )
    return finish(draft, group)


def short_stacked(group: Group, layouts: Sequence[Layout]) -> tuple[Layout, ...]:
    """Plans put together: of the panels of a coil too short to pull but as the last, two and two become one.

    The metal is the same to the graduation. What cannot be stacked stays as it is.
    """
    out = list(layouts)
    for line in group.stock:
        while True:
            short = [y for y in out if y.stock == line.name and y.length < least_pull(line, group) and y.repeat == 1]
            pair = next(
                (p for p in combinations(short, 2) if all(b.outline is None for y in p for b in y.blanks)), None
            )
            made = None if pair is None else _on_top(group, *pair)
            if pair is None or made is None:
                break
            out = [made if y is pair[0] else y for y in out if y is not pair[1]]
    return tuple(out)


def _on_top(group: Group, one: Layout, other: Layout) -> Layout | None:
    """Two panels end to end as one; None where that cannot be cut."""
    up = one.length + group.limits.kerf
    cells = (*(_moved(b, 0) for b in one.blanks), *(_moved(b, up) for b in other.blanks))
    for first in ("y", "x"):
        with suppress(NotCuttableError):
            return finish(LayoutDraft(stock=one.stock, length=up + other.length, cells=cells, first=first), group)
    return None


def _moved(blank: Placed, up: int) -> Cell:
    b = replace(blank, y=blank.y + up)
    return Cell(x=b.x, y=b.y, width=b.width, length=b.length, blanks=(b,))
