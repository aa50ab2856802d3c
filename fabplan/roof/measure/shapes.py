"""Plane shapes from tape readings, and regular spires: closed formulas only (inches, degrees)."""

from __future__ import annotations

import math
from dataclasses import dataclass

Point = tuple[float, float]


class DoesNotCloseError(ValueError):
    """Readings that make no shape; `short` is by how much (inches)."""

    def __init__(self, says: str, short: float) -> None:
        self.says, self.short = says, short
        super().__init__(says)


def triangle_area(a: float, b: float, c: float) -> float:
    """Area of a triangle from its sides, stable for slender ones.

    The sides are sorted and the brackets kept as written: W. Kahan, "Miscalculating area and angles of a needle-like
    triangle" (2000).

    Raises
    ------
    DoesNotCloseError
        When the two shorter sides do not sum to more than the longest.
    """
    z, y, x = sorted((a, b, c))
    if z <= 0 or z - (x - y) <= 0:
        raise DoesNotCloseError("the two shorter sides do not reach along the longest", max(x - y - z, 0.0))
    return 0.25 * math.sqrt((x + (y + z)) * (z - (x - y)) * (z + (x - y)) * (x + (y - z)))


def apex(base: float, left: float, right: float) -> Point:
    """Apex over a base from (0, 0) to (base, 0), from the two slants."""
    area = triangle_area(base, left, right)
    return (base + (left - right) * (left + right) / base) / 2, 2 * area / base


def over(a: Point, b: Point, from_a: float, from_b: float) -> Point:
    """Point on the left of the line a to b at the two distances."""
    length = math.dist(a, b)
    x, y = apex(length, from_a, from_b)
    ux, uy = (b[0] - a[0]) / length, (b[1] - a[1]) / length
    return a[0] + x * ux - y * uy, a[1] + x * uy + y * ux


def trapezoid(bottom: float, top: float, left: float, right: float) -> tuple[Point, ...]:
    """Corner points of a trapezoid with its top parallel to its bottom, from the left end of the bottom.

    Raises
    ------
    DoesNotCloseError
        When the slants do not meet, or top and bottom are equal (any lean then fits: a diagonal is needed).
    """
    if math.isclose(bottom, top, rel_tol=0, abs_tol=1e-9):
        raise DoesNotCloseError(
            "top and bottom are equal, so any lean fits: measure it as four-sided, with a diagonal", 0.0
        )
    if bottom > top:
        x, y = apex(bottom - top, left, right)
    else:
        x, y = apex(top - bottom, right, left)
        x -= top - bottom
    return (0.0, 0.0), (bottom, 0.0), (x + top, y), (x, y)


def four_sided(
    bottom: float,
    right: float,
    top: float,
    left: float,
    *,
    up_right: float | None = None,
    up_left: float | None = None,
) -> tuple[Point, ...]:
    """Corner points of a four-sided slope from four sides and one diagonal (`up_right` is used when both are given)."""
    bl, br = (0.0, 0.0), (bottom, 0.0)
    if up_right is not None:
        tr = over(bl, br, up_right, right)
        tl = over(bl, tr, left, top)
    elif up_left is not None:
        tl = over(bl, br, left, up_left)
        tr = over(tl, br, top, right)
        # over() gives the point on the left of tl -> br, which is the upper right corner
    else:
        raise DoesNotCloseError("four sides alone fix no shape", 0.0)
    return bl, br, tr, tl


@dataclass(frozen=True, slots=True, kw_only=True)
class RegularSpire:
    """A regular spire or frustum (inches, degrees).

    `pitch` is the slope of a face from level, `base_angle` its corner at the eave, `bend` how far a cap is turned along
    a hip.
    """

    sides: int
    side: float
    top_side: float
    height: float
    slant: float
    hip: float
    pitch: float
    base_angle: float
    bend: float

    @property
    def face(self) -> tuple[Point, ...]:
        """Corner points of one face, from the left end of the eave."""
        inset = (self.side - self.top_side) / 2
        if self.top_side == 0:
            return (0.0, 0.0), (self.side, 0.0), (inset, self.slant)
        return (0.0, 0.0), (self.side, 0.0), (self.side - inset, self.slant), (inset, self.slant)


def polygon_side(sides: int, *, across_flats: float | None = None, across_corners: float | None = None) -> float:
    """Side of a regular polygon. Across corners is the diameter of the circle through them; across flats twice the
    distance from the centre to a side."""
    if across_flats is not None:
        return across_flats * math.tan(math.pi / sides)
    if across_corners is not None:
        return across_corners * math.sin(math.pi / sides)
    raise ValueError("across_flats or across_corners")


def regular_spire(
    sides: int,
    side: float,
    *,
    top_side: float = 0.0,
    height: float | None = None,
    slant: float | None = None,
    hip: float | None = None,
) -> RegularSpire:
    """A regular spire (or frustum) from its eave side and one of plumb height, slant and hip length.

    Raises
    ------
    DoesNotCloseError
        When the slant or hip is too short for the run.
    """
    n, half = sides, math.pi / sides
    run = (side - top_side) / (2 * math.tan(half))
    inset = (side - top_side) / 2
    if hip is not None:
        if hip <= abs(inset):
            raise DoesNotCloseError("the hip is shorter than half the difference of the sides", abs(inset) - hip)
        slant = math.sqrt(hip * hip - inset * inset)
    if slant is not None:
        if slant <= abs(run):
            raise DoesNotCloseError("the slant does not reach up from the eave to the top", abs(run) - slant)
        height = math.sqrt(slant * slant - run * run)
    if height is None:
        raise ValueError("height, slant or hip")
    slant = math.hypot(height, run)
    pitch = math.atan2(height, run)
    bend = math.acos(max(-1.0, min(1.0, math.sin(pitch) ** 2 * math.cos(2 * half) + math.cos(pitch) ** 2)))
    return RegularSpire(
        sides=n,
        side=side,
        top_side=top_side,
        height=height,
        slant=slant,
        hip=math.hypot(slant, inset),
        pitch=math.degrees(pitch),
        base_angle=math.degrees(math.atan2(slant, inset)),
        bend=math.degrees(bend),
    )
