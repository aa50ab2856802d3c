"""Which blanks show the rolling direction, and how it runs on them as the plan cuts them."""

from __future__ import annotations

from math import atan2, degrees, dist

from fabplan.blanks.model import FlatPattern
from fabplan.nesting.model import Layout, Placed
from fabplan.plan.model import Plan
from fabplan.units import NM_PER_INCH

PUT_ON_GRID = 1.5  # graduations: slanted outlines are put on the grid
ALONG = 90.0  # degrees: a blank's length, and a layout's, run up its own picture


def shows_rolling(plan: Plan, p: FlatPattern) -> bool:
    """Whether the direction is drawn: the metal's profile asks for it, or the face has a finish."""
    return p.finish != "bare" or plan.metals[p.metal].mark_rolling


def marked(plan: Plan, layout: Layout) -> frozenset[str]:
    """Marks of the blanks of a layout that show the direction."""
    return frozenset(p.mark for p in plan.patterns if p.metal == layout.metal and shows_rolling(plan, p))


def layout_way(plan: Plan, layout: Layout) -> float:
    """Degrees of the rolling direction in a layout's own frame."""
    uses = plan.cut_plan.stock if plan.cut_plan is not None else ()
    across = any(u.name == layout.stock and u.grain == "across" for u in uses)
    return 0.0 if across else ALONG


def rolled_ways(plan: Plan, p: FlatPattern) -> tuple[float, ...]:
    """Degrees of the rolling direction on a blank's picture, one for each way it is cut; none where nothing is asked
    or known."""
    if not shows_rolling(plan, p):
        return ()
    if p.grain != "any":
        return (ALONG if p.grain == "along" else 0.0,)
    ways = set()
    for layout in plan.cut_plan.layouts if plan.cut_plan is not None else ():
        for placed in layout.blanks:
            turn = _turn(p, placed) if placed.mark == p.mark else None
            if turn is not None:
                ways.add(round(layout_way(plan, layout) - turn, 1) % 180)
    return tuple(sorted(ways))


def _turn(p: FlatPattern, placed: Placed) -> float | None:
    """Degrees a blank is turned as it lies, half turns apart; None where its outline is not found again."""
    if placed.outline is None:
        return 90.0 if placed.turned else 0.0
    scale = NM_PER_INCH / p.grid
    own = [(x * scale, y * scale) for x, y in p.outline]
    there = list(placed.outline)
    if len(own) != len(there):
        return None
    n = len(own)
    sides = [dist(own[i], own[(i + 1) % n]) for i in range(n)]
    lying = [dist(there[i], there[(i + 1) % n]) for i in range(n)]
    spans = [dist(own[i], own[(i + 2) % n]) for i in range(n)]
    for k in range(n):
        other = [dist(there[(i + k) % n], there[(i + k + 2) % n]) for i in range(n)]
        fits = all(abs(sides[i] - lying[(i + k) % n]) < PUT_ON_GRID for i in range(n))
        if fits and all(abs(a - b) < PUT_ON_GRID for a, b in zip(spans, other, strict=True)):
            return _angle(there[k], there[(k + 1) % n]) - _angle(own[0], own[1])
    return None


def _angle(a: tuple[float, float], b: tuple[float, float]) -> float:
    return degrees(atan2(b[1] - a[1], b[0] - a[0]))
