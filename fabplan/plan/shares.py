"""What each job pays of a shear run cut for several: metal by the area of its blanks in every layout, work by their
number.

A layout's stock is shared over the blanks in it, scrap and kept offcuts with them; a layout of one job alone is that
job's. The time of a layout is shared by the blanks it gives; settings that layouts share follow the time of the
layouts. The shares are exact, and add up to the run.
"""

from __future__ import annotations

from collections import Counter
from fractions import Fraction

from fabplan import plane
from fabplan.nesting.minutes import seconds_of
from fabplan.nesting.model import CutPlan, Layout, Placed
from fabplan.plan.model import JobShare

PART = " "
"""Between the job's number and the mark in a run."""


def run_mark(number: str, mark: str) -> str:
    """A mark as it is chalked in a run of several jobs: ``1042 A``."""
    return f"{number}{PART}{mark}"


def shares_of(cut: CutPlan, numbers: tuple[str, ...], owner: dict[str, str]) -> tuple[JobShare, ...]:
    """The share of every job of a run.

    Parameters
    ----------
    cut : CutPlan
    numbers : tuple of str
        The jobs, in their order.
    owner : dict
        Whose each mark is.
    """
    metal: dict[str, Fraction] = dict.fromkeys(numbers, Fraction(0))
    pounds, time = dict(metal), dict(metal)
    blanks = Counter[str]()
    where: dict[str, list[int]] = {number: [] for number in numbers}
    uses = {u.name: u for u in cut.stock}
    for n, y in enumerate(cut.layouts, 1):
        use = uses[y.stock]
        part = _part(y, cut)
        area, count = Counter[str](), Counter[str]()
        for b in y.blanks:
            area[owner[b.mark]] += _area(b)
            count[owner[b.mark]] += 1
        for number, k in count.items():
            share = Fraction(area[number], area.total())
            metal[number] += use.cost * part * share
            pounds[number] += Fraction(use.pounds) * part * share
            time[number] += seconds_of(y.spent) * Fraction(k, len(y.blanks))
            blanks[number] += k * y.repeat
            where[number].append(n)
    whole = sum(time.values(), Fraction(0))
    spent = seconds_of(cut.spent)
    return tuple(
        JobShare(
            number=number,
            blanks=blanks[number],
            layouts=tuple(where[number]),
            metal=metal[number],
            labour=cut.labour_total * (time[number] / whole if whole else Fraction(1, len(numbers))),
            seconds=float(spent * time[number] / whole) if whole else 0.0,
            pounds=float(pounds[number]),
        )
        for number in numbers
    )


def _part(y: Layout, cut: CutPlan) -> Fraction:
    """What part of the stock taken of its line a layout is: by length of coil, or by sheets."""
    mine = [o for o in cut.layouts if o.stock == y.stock]
    if y.form == "coil":
        return Fraction(y.repeat * y.length, sum(o.repeat * o.length for o in mine))
    return Fraction(y.repeat, sum(o.repeat for o in mine))


def _area(b: Placed) -> int:
    """Thousandths of a square graduation: fine enough to share by, and whole, so that the shares stay short."""
    if b.outline is None:
        return 1000 * b.width * b.length
    return round(1000 * abs(plane.area(b.outline)))
