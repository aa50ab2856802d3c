"""A plan that costs less than the proven least: a fault of the bound, or a plan of a kind the bound is not for.

The engine's bound is for plans cut in strips: panels, strips, sections, and a trim or a stack in each. A rectangle
packer may nest deeper. When such a plan costs less than the bound, what is proved of every plan is only the area bound;
when a plan cut in strips does, the bound is wrong and nothing may be printed.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction

from fabplan.errors import ProofError
from fabplan.nesting.cuts.order import Axis
from fabplan.nesting.model import Layout, Placed
from fabplan.nesting.problem import Group, ShearLimits
from fabplan.nesting.search.bound import area_bound

Costed = tuple[Fraction, Sequence[Layout]]
FLOAT = Fraction(1, 10**9)  # bounds are worked out in floats


def bound_that_holds(group: Group, bound: Fraction, plans: Iterable[Costed]) -> Fraction:
    """The bound, or the area bound when one of the plans of the whole job, cut deeper than in strips, costs less.

    Parameters
    ----------
    group : Group
    bound : Fraction
        What the search holds to be the least cost of every plan cut in strips.
    plans : iterable of (cost, layouts)
        Complete plans within the stock, of whatever origin.

    Raises
    ------
    ProofError
        A plan cut in strips costs less than the bound.
    """
    below = [(cost, made) for cost, made in plans if cost < bound * (1 - FLOAT)]
    if not below:
        return bound
    slanted = any(b.outline is not None for b in group.blanks)
    for cost, made in below:
        if not slanted and all(in_strips(y, group.limits) for y in made):
            raise ProofError(
                "cut plan", [f"a plan cut in strips costs {float(cost):g}, less than the proven least {float(bound):g}"]
            )
    return min(area_bound(group), *(cost for cost, _ in below))


def in_strips(layout: Layout, limits: ShearLimits) -> bool:
    """Whether a layout of rectangles is surely one the bound counts: in strips, all well within reach."""
    axes: tuple[Axis, ...] = ("y",) if layout.form == "coil" else ("y", "x")
    return any(_panels(layout, axis, limits) for axis in axes)


def _panels(layout: Layout, first: Axis, limits: ShearLimits) -> bool:
    other: Axis = "x" if first == "y" else "y"
    across = layout.width if first == "y" else layout.length
    if across > limits.longest_cut:
        return False
    panels = _parted(layout.blanks, first, limits.kerf)
    if any(not limits.least_held <= _deep(p, first) <= min(limits.longest_cut, limits.reach) for p in panels):
        return False
    strips = [s for p in panels for s in _parted(p, other, limits.kerf)]
    sections = [t for s in strips for t in _parted(s, first, limits.kerf)]
    stacks = [u for t in sections for u in _parted(t, other, limits.kerf)] if limits.stages == 3 else sections
    sized = ((strips, other), (sections, first), (stacks, other))
    held = all(limits.least_held <= _deep(part, axis) <= limits.reach for parts, axis in sized for part in parts)
    return held and all(len(stack) == 1 for stack in stacks)


def _span(b: Placed, axis: Axis) -> tuple[int, int]:
    return (b.x, b.x + b.width) if axis == "x" else (b.y, b.y + b.length)


def _deep(part: Sequence[Placed], axis: Axis) -> int:
    spans = [_span(b, axis) for b in part]
    return max(high for _, high in spans) - min(low for low, _ in spans)


def _parted(blanks: Sequence[Placed], axis: Axis, kerf: int) -> list[list[Placed]]:
    """Blanks between the cuts that cross none of them, low to high."""
    out: list[list[Placed]] = []
    reach = 0
    for b in sorted(blanks, key=lambda b: _span(b, axis)):
        low, high = _span(b, axis)
        if out and low < reach + kerf:
            out[-1].append(b)
        else:
            out.append([b])
        reach = max(reach, high)
    return out
