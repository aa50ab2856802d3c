"""Many overlays at once, on the grid and by the area law of `fabplan.blanks.clip`."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely

from fabplan.blanks.clip import GRID, difference, intersection, union

__all__ = ["GRID", "common_areas", "difference", "inside_and_missing", "intersection", "split", "union"]


def split(shapes: Any, by: Any) -> tuple[Any, Any]:
    """Parts of an array of shapes inside and outside of one shape.

    Raises
    ------
    ArithmeticError
        When inside and outside do not add up to the shape: an overlay went wrong.
    """
    inside = shapely.intersection(shapes, by, grid_size=GRID)
    outside = shapely.difference(shapes, by, grid_size=GRID)
    off = _lost(shapes, inside, outside)
    if bool(np.any(off > 0)):
        worst = int(np.argmax(off))
        raise ArithmeticError(f"overlay lost {off[worst]!r} square inches of shape {worst}")
    return inside, outside


def inside_and_missing(shapes: Any, by: Any) -> tuple[Any, Any]:
    """As `split`, four times as fast for what is outside: made without the grid where the area law still holds.

    Fit for asking how thin what is missing is, not for cutting it further.
    """
    inside = shapely.intersection(shapes, by, grid_size=GRID)
    outside = np.asarray(shapely.difference(shapes, by))
    bad = _lost(shapes, inside, outside) > 0
    if bool(np.any(bad)):
        inside[bad], outside[bad] = split(shapes[bad], by)
    return inside, outside


def common_areas(shapes: Any, by: Any) -> Any:
    """Areas that an array of shapes has in common with one shape, made without the grid where the area law holds."""
    out = np.zeros(len(shapes))
    shapely.prepare(by)
    touching = shapely.intersects(by, shapes)
    within = touching & shapely.covers(by, shapes)
    out[within] = shapely.area(shapes[within])
    crossing = np.flatnonzero(touching & ~within)
    if len(crossing):
        parts = shapes[crossing]
        inside, outside = np.asarray(shapely.intersection(parts, by)), np.asarray(shapely.difference(parts, by))
        bad = _lost(parts, inside, outside) > 0
        if bool(np.any(bad)):
            inside[bad] = split(parts[bad], by)[0]
        out[crossing] = shapely.area(inside)
    return out


def _lost(shapes: Any, inside: Any, outside: Any) -> Any:
    """Area by which inside and outside do not add up, past what the grid explains."""
    off = np.abs(shapely.area(inside) + shapely.area(outside) - shapely.area(shapes))
    return off - (1e-7 + 4 * GRID * shapely.length(shapes))
