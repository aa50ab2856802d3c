"""Several jobs cut one after the other from one stock: what a run for all of them may not cost more than."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

from fabplan.errors import PlanError
from fabplan.job.model import Job, RackStock, Stock
from fabplan.job.values import OnHand
from fabplan.nesting.model import CutPlan, Layout
from fabplan.plan.coils import off_coils, panels_of
from fabplan.plan.make import Pieces, make_nest
from fabplan.units import Nm, to_grid


@dataclass(frozen=True, slots=True, kw_only=True)
class Apart:
    """Jobs cut one by one: the layouts of all of them, and what each job's plan costs with its own settings."""

    layouts: tuple[Layout, ...]
    totals: tuple[Fraction, ...]
    objective: str


def one_by_one(runs: Sequence[tuple[Job, Pieces]], stock: Sequence[Stock], **nest_options: Any) -> Apart | None:
    """The plans of jobs cut one after the other; None where the stock does not hold them so.

    Parameters
    ----------
    runs : sequence of (Job, Pieces)
        Each job as a run of its own, its blanks marked as in the run of all.
    stock : sequence of Stock
        What the first finds; each leaves the next what it does not take. Offcuts it keeps are not among that.
    **nest_options
        As for `make_nest`.
    """
    layouts: list[Layout] = []
    totals = []
    for job, pieces in runs:
        if not pieces.patterns:
            totals.append(Fraction(0))
            continue
        mine = job.model_copy(update={"stock": tuple(stock)})
        try:
            cut = make_nest(mine, pieces, **nest_options)
        except PlanError:  # nothing is left that holds them
            return None
        if cut is None or cut.short:
            return None
        layouts += [_bare(y) for y in cut.layouts]
        totals.append(cut.total)
        objective = cut.objective
        stock = _left(mine, cut)
    return Apart(layouts=tuple(layouts), totals=tuple(totals), objective=objective) if layouts else None


def _bare(layout: Layout) -> Layout:
    """A layout as the search has it: its time not counted, its offcuts not numbered."""
    offcuts = tuple(replace(o, number=None) for o in layout.offcuts)
    return replace(layout, spent=(), offcuts=offcuts)


def _left(job: Job, cut: CutPlan) -> tuple[Stock, ...]:
    """The stock less what a plan takes of it."""
    uses = {u.name: u for u in cut.stock}
    kerf = to_grid(job.shear.kerf, cut.grid, "up")
    out: list[Stock] = []
    for line in job.stock:
        use = uses.get(line.name)
        length, count = (use.used_length or 0, use.used_count or 0) if use else (0, 0)
        hand = line.on_hand if line.on_hand or line.form != "offcut" else OnHand(count=1)
        if hand is None or not (length or count):
            out.append(line)
            continue
        if hand.length is not None:
            hand = OnHand(length=Nm(max(0, int(hand.length) - length * cut.grid)))
        elif hand.pounds is not None and use is not None:
            hand = OnHand(pounds=max(0.0, hand.pounds - use.pounds))
        else:
            hand = OnHand(count=max(0, (hand.count or 0) - count))
        less: dict[str, Any] = {"on_hand": hand}
        if isinstance(line, RackStock) and line.form == "offcut":
            less["pieces"] = line.pieces[count:]
        if isinstance(line, RackStock) and line.coils:
            panels = panels_of(cut, line.name, kerf)
            long = {n: one for n, one, _ in panels}
            got = off_coils(panels, [free // cut.grid for _, free in line.coils])
            less["coils"] = tuple(
                (lot, free - cut.grid * sum(long[n] * times for n, times in taken))
                for (lot, free), taken in zip(line.coils, got, strict=True)
            )
        out.append(line.model_copy(update=less))
    return tuple(out)
