"""Underlayment counted by the runs that are rolled out, never by area: on spires most of a roll is offcut."""

from __future__ import annotations

import math
from collections.abc import Sequence

import shapely

from fabplan.job.slopes import Roof
from fabplan.roof.clip import intersection
from fabplan.roof.model import Measured, SlopeLayout, Underlayment
from fabplan.units import inches


def rows_for(height: float, width: float, side_lap: float) -> int:
    """Rows of a roll that cover a height, each lapping the one below."""
    return max(1, 1 + math.ceil((height - width) / (width - side_lap) - 1e-9))


def underlay(layouts: Sequence[SlopeLayout], roof: Roof) -> tuple[Underlayment, ...]:
    """Runs and rolls of each slope; every end that stops at a hip laps over it."""
    return tuple(_underlay(layout.slope, roof) for layout in layouts)


def _underlay(slope: Measured, roof: Roof) -> Underlayment:
    width, side_lap = inches(roof.roll_width), inches(roof.roll_side_lap)
    roll, end_lap, over = inches(roof.roll_length), inches(roof.roll_end_lap), inches(roof.roll_hip_lap)
    outline = shapely.Polygon(slope.outline)
    _, low, _, high = outline.bounds
    rows = rows_for(high - low, width, side_lap)
    hips = [sorted((e.start[1], e.end[1])) for e in slope.edges if e.kind == "hip"]
    runs = []
    for row in range(rows):
        y0 = low + row * (width - side_lap)
        y1 = min(y0 + width, high)
        band = shapely.box(outline.bounds[0] - 1, y0, outline.bounds[2] + 1, y1)
        x0, _, x1, _ = intersection(outline, band).bounds
        ends = sum(1 for bottom, top in hips if bottom < y1 - 1e-6 and top > y0 + 1e-6)
        runs.append(x1 - x0 + over * min(ends, 2))
    total = math.fsum(runs) * slope.times
    return Underlayment(
        slope=slope.name,
        times=slope.times,
        rows=rows,
        runs=tuple(runs),
        total=total,
        rolls=total / (roll - end_lap),
        rolls_by_area=slope.area * slope.times / ((width - side_lap) * (roll - end_lap)),
    )
