"""Polygon overlays on a fixed grid: shapes that share a border to within rounding can otherwise overlay wrongly."""

from __future__ import annotations

from typing import Any

import shapely

GRID = 1e-9  # inches


def intersection(a: Any, b: Any) -> Any:
    """Common part of two shapes (or arrays of shapes)."""
    return shapely.intersection(a, b, grid_size=GRID)


def difference(a: Any, b: Any) -> Any:
    """First shape (or array of shapes) without the second."""
    return shapely.difference(a, b, grid_size=GRID)
