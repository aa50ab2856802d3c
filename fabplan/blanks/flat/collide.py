"""Do two folded flaps run through each other in space?"""

from __future__ import annotations

import math
from collections.abc import Sequence

Space = tuple[float, float, float]
MARGIN = 1e-6  # inches: touching along a mitre is no collision


def pierce(one: Sequence[Space], other: Sequence[Space]) -> bool:
    """Whether a side of one flat polygon passes through the inside of the other (both convex)."""
    # a hair smaller, so that plates whose ends lie in one plane do not slip past each other
    return _sides_through(_smaller(one), other) or _sides_through(_smaller(other), one)


def _smaller(plate: Sequence[Space]) -> list[Space]:
    n = len(plate)
    x, y, z = (sum(p[k] for p in plate) / n for k in range(3))
    keep = 1 - 1e-3
    return [(x + keep * (p[0] - x), y + keep * (p[1] - y), z + keep * (p[2] - z)) for p in plate]


def _sides_through(sides: Sequence[Space], plate: Sequence[Space]) -> bool:
    normal = _normal(plate)
    for a, b in zip(sides, [*sides[1:], sides[0]], strict=True):
        da, db = _dot(_minus(a, plate[0]), normal), _dot(_minus(b, plate[0]), normal)
        if (da > MARGIN and db < -MARGIN) or (da < -MARGIN and db > MARGIN):
            t = da / (da - db)
            hit = (a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1]), a[2] + t * (b[2] - a[2]))
            if _inside(hit, plate, normal):
                return True
    return False


def _inside(p: Space, plate: Sequence[Space], normal: Space) -> bool:
    for a, b in zip(plate, [*plate[1:], plate[0]], strict=True):
        side = _minus(b, a)
        run = math.sqrt(_dot(side, side))
        if run > MARGIN and _dot(_cross(side, _minus(p, a)), normal) / run < MARGIN:
            return False
    return True


def _normal(plate: Sequence[Space]) -> Space:
    x = y = z = 0.0
    for a, b in zip(plate, [*plate[1:], plate[0]], strict=True):
        c = _cross(_minus(a, plate[0]), _minus(b, plate[0]))
        x, y, z = x + c[0], y + c[1], z + c[2]
    size = math.sqrt(x * x + y * y + z * z)
    return (x / size, y / size, z / size) if size else (0.0, 0.0, 0.0)


def _minus(a: Space, b: Space) -> Space:
    return (a[0] - b[0], a[1] - b[1], a[2] - b[2])


def _dot(a: Space, b: Space) -> float:
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def _cross(a: Space, b: Space) -> Space:
    return (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])
