"""Many overlays at once, on the grid and by the area law of `fabplan.blanks.clip`."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely

from fabplan.blanks.clip import GRID, difference, intersection, union

__all__ = ["difference", "intersection", "split", "union"]


def split(shapes: Any, by: Any) -> tuple[Any, Any]:
    """Parts of an array of shapes inside and outside of one shape.

    Raises
    ------
    ArithmeticError
        When inside and outside do not add up to the shape: an overlay went wrong.
    """
    inside = shapely.intersection(shapes, by, grid_size=GRID)
    outside = shapely.difference(shapes, by, grid_size=GRID)
    off = np.abs(shapely.area(inside) + shapely.area(outside) - shapely.area(shapes))
    allowed = 1e-7 + 4 * GRID * shapely.length(shapes)
    if bool(np.any(off > allowed)):
        worst = int(np.argmax(off - allowed))
        raise ArithmeticError(f"overlay lost {off[worst]!r} square inches of shape {worst}")
    return inside, outside
