"""Layouts from placed blanks: the common form every way of nesting is brought to before it is compared."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from fabplan.nesting.cuts.order import Axis, Cell, order_cuts
from fabplan.nesting.model import Layout, StockUse
from fabplan.nesting.problem import Group, StockLine


@dataclass(frozen=True, slots=True, kw_only=True)
class LayoutDraft:
    """Cells on one piece of stock, before its cuts are ordered; `length` as in `Layout`."""

    stock: str
    length: int
    cells: tuple[Cell, ...]
    repeat: int = 1
    first: Axis | None = None
    trims_first: bool = False


def finish(draft: LayoutDraft, group: Group) -> Layout:
    """A layout with its cuts and leftovers (raises `NotCuttableError`)."""
    line = group.line(draft.stock)
    cuts, offcuts = order_cuts(
        line.form,
        line.width,
        draft.length,
        draft.cells,
        group.limits,
        group.keeps,
        first=draft.first,
        trims_first=draft.trims_first,
    )
    blanks = tuple(b for c in draft.cells for b in c.blanks)
    return Layout(
        stock=line.name,
        form=line.form,
        metal=line.metal,
        repeat=draft.repeat,
        width=line.width,
        length=draft.length,
        blanks=blanks,
        cuts=cuts,
        offcuts=offcuts,
    )


def merged(drafts: Sequence[LayoutDraft]) -> list[LayoutDraft]:
    """Equal drafts counted together, first seen first."""
    seen: dict[tuple[object, ...], LayoutDraft] = {}
    for d in drafts:
        key = (d.stock, d.length, tuple((c.x, c.y, c.width, c.length, c.blanks) for c in d.cells))
        old = seen.get(key)
        seen[key] = d if old is None else replace(old, repeat=old.repeat + d.repeat)
    return list(seen.values())


def least_pull(line: StockLine, group: Group) -> int:
    """Shortest length pulled off a coil, but for the last pull."""
    return min(group.limits.least_pull, line.length) if line.form == "coil" else 0


def pulled(drafts: Sequence[LayoutDraft], group: Group) -> list[LayoutDraft]:
    """Drafts with coil pulled no shorter than hands can hold; of every coil one short pull stays, the last."""
    out: list[LayoutDraft] = []
    for line in group.stock:
        least = least_pull(line, group)
        own = [d for d in drafts if d.stock == line.name]
        once = [d for d in own if d.length < least and d.repeat == 1]
        last = min(once, key=lambda d: d.length, default=None)
        out += [d if d is last or d.length >= least else replace(d, length=least) for d in own]
    return out


def pulls_held(made: Sequence[Layout], group: Group) -> bool:
    """Whether no more than the last pull of every coil is shorter than the least."""
    return all(
        sum(y.repeat for y in made if y.stock == line.name and y.length < least_pull(line, group)) <= 1
        for line in group.stock
    )


def amount(line: StockLine, drafts: Sequence[LayoutDraft] | Sequence[Layout], kerf: int) -> int:
    """Stock taken: graduations of coil (a kerf with every panel), or sheets."""
    used = [d for d in drafts if d.stock == line.name]
    if line.form == "coil":
        return sum(d.repeat * (d.length + kerf) for d in used)
    return sum(d.repeat for d in used)


def cost(group: Group, drafts: Sequence[LayoutDraft] | Sequence[Layout]) -> Fraction:
    """What the stock taken costs, exactly."""
    return sum((s.worth(amount(s, drafts, group.limits.kerf)) for s in group.stock), Fraction(0))


def within_stock(group: Group, drafts: Sequence[LayoutDraft] | Sequence[Layout]) -> bool:
    """Whether no line of stock is used beyond what is on hand."""
    return all(s.on_hand is None or amount(s, drafts, group.limits.kerf) <= s.on_hand for s in group.stock)


def stock_use(group: Group, layouts: Sequence[Layout]) -> tuple[StockUse, ...]:
    """Every stock line the layouts touch, with what it costs and weighs."""
    uses = []
    for line in group.stock:
        n = amount(line, layouts, group.limits.kerf)
        if not n:
            continue
        coil = line.form == "coil"
        uses.append(
            StockUse(
                name=line.name,
                form=line.form,
                metal=line.metal,
                width=line.width,
                length=None if coil else line.length,
                used_length=n if coil else None,
                used_count=None if coil else n,
                cost=line.worth(n),
                pounds=line.pounds * n,
                thickness=line.thickness,
                grain="across" if line.grain_across else "along",
                rack_pieces=line.rack_pieces,
            )
        )
    return tuple(uses)
