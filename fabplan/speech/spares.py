"""What spares cost, where they alone open a sheet or a pull."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction

from fabplan.nesting.model import CutPlan, Layout
from fabplan.plan.model import Plan
from fabplan.speech.format import count, listed
from fabplan.speech.worth import amount

NOUN = {"coil": ("pull of", "pulls of"), "sheet": ("", ""), "offcut": ("", "")}


def spare_notes(plan: Plan) -> tuple[str, ...]:
    """``8 spare pieces (A and C) open 1 more of sheet 36 x 96: USD 310.00.``; nothing where spares fill room over.

    A repeat of a pattern is opened by spares when the job has all it needs without it.
    """
    cut = plan.cut_plan
    if cut is None:
        return ()
    over = Counter({p.mark: p.spare for p in plan.patterns if p.spare})
    made = Counter(b.mark for y in cut.layouts for b in y.blanks for _ in range(y.repeat))
    for p in plan.patterns:  # blanks made beyond the count are over, too
        over[p.mark] += max(0, made[p.mark] - p.count)
    notes = []
    for layout in sorted(cut.layouts, key=lambda y: -_cost(cut, y)):
        holds = Counter(b.mark for b in layout.blanks)
        times = min(layout.repeat, *(over[mark] // n for mark, n in holds.items())) if holds else 0
        if times <= 0:
            continue
        for mark, n in holds.items():
            over[mark] -= times * n
        one, many = NOUN[layout.form]
        what = f"{times} more {one if times == 1 else many} {layout.stock}".replace("  ", " ")
        cost = times * _cost(cut, layout)
        price = f": {amount(cost, cut, plan.job)}" if cost else ""
        pieces = count(times * sum(holds.values()), "spare piece")
        notes.append(f"{pieces} ({listed(holds)}) open {what}{price}.")
    return tuple(notes)


def _cost(cut: CutPlan, layout: Layout) -> Fraction:
    """What one repeat of a layout takes of its stock."""
    use = next((u for u in cut.stock if u.name == layout.stock), None)
    if use is None:
        return Fraction(0)
    share = Fraction(layout.length, use.used_length) if use.used_length else Fraction(1, use.used_count or 1)
    return use.cost * share
