"""A round flat patch: a square of its diameter, snipped to the circle."""

from __future__ import annotations

import math
from dataclasses import replace

from fabplan import plane
from fabplan.blanks.flat.lay import lay_flat
from fabplan.blanks.flat.pattern import flat_pattern
from fabplan.blanks.kinds.panes import box, sized
from fabplan.blanks.model import Finished, FlatPattern
from fabplan.blanks.piece_rules import PieceRules
from fabplan.job.kinds.disc import DiscPiece
from fabplan.units import inches

SIDES = 180  # of the polygon that stands for the circle: .02 % less metal, .0002 of the radius inside it


def disc_pattern(bench: PieceRules, *, count: int, spare: int, notes: tuple[str, ...]) -> FlatPattern:
    """Square blank of a disc, its circle on the centre of the square."""
    piece = bench.piece
    assert isinstance(piece, DiscPiece)
    wide = sized(bench, piece.diameter, 0.0, folded=False)
    across = inches(piece.diameter)
    middle, radius = wide.made / 2, across / 2
    angles = (2 * math.pi * k / SIDES for k in range(SIDES))
    circle = tuple((middle + radius * math.cos(a), middle + radius * math.sin(a)) for a in angles)
    square = flat_pattern(
        bench,
        lay_flat(box(wide.made, wide.made), {}),
        finished=Finished(width=across, length=across, covers_area=math.pi * radius**2),
        width_units=wide.units,
        length_units=wide.units,
        count=count,
        spare=spare,
        grain=piece.grain,
        finish=piece.finish or "bare",
        rounding=wide.rounding,
        notes=(f"Centre: where the diagonals cross. Scribe a circle of {bench.show.exact(piece.diameter)} across with "
               "dividers, snip to it.", *notes),
    )  # fmt: skip
    return replace(square, snipped=circle, weight=plane.area(circle) / 144 * bench.metal.weight)
