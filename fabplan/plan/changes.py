"""What changed for the shop between two saved plans: pieces, blanks, folds, layouts, stock, money, hours."""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable
from dataclasses import dataclass
from typing import Annotated

from fabplan.blanks.model import FlatPattern
from fabplan.errors import JobError
from fabplan.nesting.model import CutPlan, Layout
from fabplan.plan.file import PlanFile
from fabplan.plan.model import BuyLine
from fabplan.quantities import Fields, Nanometres, Number, Seconds, SquareInches

Size = Annotated[tuple[Nanometres, Nanometres], Fields(("width", "length"))]


@dataclass(frozen=True, slots=True, kw_only=True)
class CountChange:
    """Pieces of one mark, before and after; 0 where a plan does not have the mark."""

    mark: str
    old: int
    new: int


@dataclass(frozen=True, slots=True, kw_only=True)
class BlankChange:
    """One mark whose blank is another: by its size (nanometres), or by outline, metal or snips alone."""

    mark: str
    old: Size
    new: Size


@dataclass(frozen=True, slots=True, kw_only=True)
class LayoutChange:
    """Layouts that are in both plans, in the new one alone, in the old one alone, and cut another number of times."""

    same: int
    new: int
    gone: int
    other_times: int


@dataclass(frozen=True, slots=True, kw_only=True)
class StockChange:
    """What is taken of one line of stock, before and after; None where it takes none."""

    old: BuyLine | None
    new: BuyLine | None


@dataclass(frozen=True, slots=True, kw_only=True)
class HoursChange:
    """Seconds of work at one station."""

    station: str
    old: Seconds
    new: Seconds


@dataclass(frozen=True, slots=True, kw_only=True)
class Changes:
    """Everything that is another in a new plan.

    `still_good` are the marks of both plans whose blank and folds are the same: pieces made by the old pages can be
    used. `money` or `metal`, old and new, is what the metal comes to, by what the plans were made for.
    """

    counts: tuple[CountChange, ...]
    blanks: tuple[BlankChange, ...]
    folds: tuple[str, ...]
    still_good: tuple[str, ...]
    layouts: LayoutChange | None
    stock: tuple[StockChange, ...]
    money: tuple[Number, Number] | None
    metal: tuple[SquareInches, SquareInches] | None
    missing: tuple[int, int]
    hours: tuple[HoursChange, ...]


def changes(old: PlanFile, new: PlanFile) -> Changes:
    """Compare two saved plans.

    Raises
    ------
    JobError
        They are in different units, or on different graduations.
    """
    if (old.units, old.round_to) != (new.units, new.round_to):
        raise JobError(
            "the two plans are in different units or on different graduations", write="two plans of one shop"
        )
    before = {p.mark: p for p in old.blanks}
    after = {p.mark: p for p in new.blanks}
    both = [mark for mark in after if mark in before]
    blanks = tuple(
        BlankChange(mark=m, old=_size(before[m]), new=_size(after[m]))
        for m in both
        if not same_blank(before[m], after[m])
    )
    other_blank = {change.mark for change in blanks}
    bends = {s.mark: s for s in old.bending}, {s.mark: s for s in new.bending}
    told = [m for m in both if m in bends[0] and m in bends[1]]  # of what is not made any more nothing is told
    folds = tuple(m for m in both if before[m].folds != after[m].folds or (m in told and bends[0][m] != bends[1][m]))
    return Changes(
        counts=tuple(
            CountChange(mark=m, old=_count(before, m), new=_count(after, m))
            for m in dict.fromkeys([*before, *after])
            if _count(before, m) != _count(after, m)
        ),
        blanks=blanks,
        folds=tuple(m for m in folds if m not in other_blank),
        still_good=tuple(m for m in both if m not in other_blank and m not in folds),
        layouts=_layouts(old.nesting, new.nesting),
        stock=_stock(old, new),
        money=_totals(old.nesting, new.nesting, "money"),
        metal=_totals(old.nesting, new.nesting, "area"),
        missing=(_missing(old.nesting), _missing(new.nesting)),
        hours=_hours(old, new),
    )


def _count(patterns: dict[str, FlatPattern], mark: str) -> int:
    return patterns[mark].count if mark in patterns else 0


def _size(p: FlatPattern) -> tuple[int, int]:
    return p.width_units * p.grid, p.length_units * p.grid


def same_blank(one: FlatPattern, other: FlatPattern) -> bool:
    """Whether a blank cut for one does for the other: metal, size, outline, snips."""
    return _blank(one) == _blank(other)


def same_folds(one: FlatPattern, other: FlatPattern) -> bool:
    """Whether a piece folded for one does for the other."""
    return (one.folds, one.section, one.ends) == (other.folds, other.section, other.ends)


def _blank(p: FlatPattern) -> Hashable:
    return (p.metal, p.thickness, p.grain, _size(p), p.outline, p.snipped, p.notches)


def _layout(lay: Layout) -> Hashable:
    return (lay.stock, lay.width, lay.length, tuple(sorted((b.mark, b.x, b.y, b.width, b.length) for b in lay.blanks)))


def _layouts(old: CutPlan | None, new: CutPlan | None) -> LayoutChange | None:
    if old is None or new is None:
        return None
    times: list[Counter[Hashable]] = []
    for plan in (old, new):
        got: Counter[Hashable] = Counter()
        for lay in plan.layouts:
            got[_layout(lay)] += lay.repeat
        times.append(got)
    before, after = times
    kept = [lay for lay in after if lay in before]
    return LayoutChange(
        same=sum(before[lay] == after[lay] for lay in kept),
        new=len(after) - len(kept),
        gone=len(before) - len(kept),
        other_times=sum(before[lay] != after[lay] for lay in kept),
    )


def _stock(old: PlanFile, new: PlanFile) -> tuple[StockChange, ...]:
    before = {line.stock: line for line in old.buy}
    after = {line.stock: line for line in new.buy}
    return tuple(
        StockChange(old=before.get(name), new=after.get(name))
        for name in dict.fromkeys([*after, *before])
        if before.get(name) != after.get(name)
    )


def _totals(old: CutPlan | None, new: CutPlan | None, kind: str) -> tuple[float, float] | None:
    """What the metal comes to in both, money or square inches, when they are of this kind and not the same."""
    if old is None or new is None or not old.objective == new.objective == kind or old.metal_total == new.metal_total:
        return None
    square = 1.0 if old.objective == "money" else (old.grid / 25_400_000) ** 2
    return float(old.metal_total) * square, float(new.metal_total) * square


def _missing(plan: CutPlan | None) -> int:
    return 0 if plan is None else sum(n for _, n in plan.short)


def _hours(old: PlanFile, new: PlanFile) -> tuple[HoursChange, ...]:
    before = {h.station: h.seconds for h in old.hours}
    after = {h.station: h.seconds for h in new.hours}
    stations = dict.fromkeys([*after, *before])
    return tuple(HoursChange(station=s, old=before.get(s, 0.0), new=after.get(s, 0.0)) for s in stations)
