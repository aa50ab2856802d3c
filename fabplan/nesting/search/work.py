"""What the work of a set of layouts costs, counted from their cuts: how plans of every origin are compared."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from fabplan.nesting import minutes
from fabplan.nesting.cuts.program import settings_of
from fabplan.nesting.model import Layout
from fabplan.nesting.problem import Group


def work_seconds(group: Group, made: Sequence[Layout]) -> Fraction:
    """Seconds the layouts take at the shear, their settings shared."""
    settings = minutes.seconds_of(minutes.settings_work(*settings_of(made), group.labour))
    return settings + sum((own_seconds(group, y) for y in made), Fraction(0))


def work_cost(group: Group, made: Sequence[Layout]) -> Fraction:
    """Cost of the time the layouts take at the shear, their settings shared."""
    if not group.second or not made:
        return Fraction(0)
    return work_seconds(group, made) * group.second


def own_seconds(group: Group, layout: Layout) -> Fraction:
    """Seconds of one layout, all its repeats, without settings."""
    line = group.line(layout.stock)
    pounds = line.pounds / (line.width * (1 if line.form == "coil" else line.length))
    return minutes.seconds_of(minutes.layout_work(layout, group.labour, pounds))


def least_work(group: Group) -> Fraction:
    """What the work costs at least: a stroke a blank but for one of each sheet, and one layout read.

    A piece of stock parted into n blanks takes n - 1 strokes, and a sheet is fetched or a coil pulled for it, which
    takes no less than the stroke it saves unless the shop says so.
    """
    t = group.labour
    blanks = sum(b.count for b in group.blanks)
    saves = max(0.0, t.stroke - min(t.sheet, t.offcut))
    seconds = (t.stroke - saves) * blanks + t.layout if blanks else 0.0
    return Fraction(str(max(0.0, round(seconds, 2)))) * group.second
