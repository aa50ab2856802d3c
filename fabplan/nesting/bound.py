"""The area bound: no plan can cost less than its blanks' own metal at the cheapest price a square graduation."""

from __future__ import annotations

from fractions import Fraction

from fabplan.nesting.problem import Group


def area_bound(group: Group) -> Fraction:
    """Least cost of the blanks' bare area, taking the cheapest metal first and no more than is on hand.

    Valid for every way of cutting: each stock line costs at least its usable area times its cost per usable area.
    """
    need = sum((Fraction(b.area).limit_denominator(10**6) * b.count for b in group.blanks), Fraction(0))
    need -= Fraction(sum(b.count for b in group.blanks), 10**5)  # outlines are floats: never claim a hair too much
    total = Fraction(0)
    for line in sorted(
        group.stock, key=lambda s: (s.cost_per_area, s.name) if s.usable_width > 0 else (Fraction(0), "")
    ):
        if need <= 0 or line.usable_width <= 0 or line.usable_length <= 0:
            continue
        each = line.usable_width * (1 if line.form == "coil" else line.usable_length)
        take = need if line.on_hand is None else min(need, Fraction(each * line.on_hand))
        total += take * line.cost_per_area
        need -= take
    return total
