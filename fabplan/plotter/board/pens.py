"""Pens and hatches: how wide, how broken, how close. One table for every painter and for the key.

Line types follow ISO 128-2 where it has one (wide continuous: visible outlines; narrow continuous: dimension,
extension and leader lines, hatching, bending lines on blanks; narrow dashed: hidden outlines; narrow long-dashed
dotted: centre lines; narrow long-dashed double-dotted: outlines before forming; clause numbers not quoted, from
memory). The active, later and kept lines are this packet's own and stand in its key. Widths are points, wide to narrow
at least 2 : 1, so that they stay apart on a one-bit printer; nothing is grey.
"""

from __future__ import annotations

from dataclasses import dataclass

from fabplan.plotter.model import Fill, Pen


@dataclass(frozen=True, slots=True, kw_only=True)
class PenStroke:
    """Width in points and dashes in mm (empty: continuous)."""

    width: float
    dashes: tuple[float, ...] = ()


PENS: dict[Pen, PenStroke] = {
    "outline": PenStroke(width=2.0),
    "cut": PenStroke(width=1.6),
    "edge": PenStroke(width=0.8),
    "dimension": PenStroke(width=0.5),
    "rule": PenStroke(width=0.5),
    "fold": PenStroke(width=0.7),
    "fold-active": PenStroke(width=2.2, dashes=(3.0, 1.3)),
    "fold-later": PenStroke(width=0.9, dashes=(0.5, 1.1)),
    "hidden": PenStroke(width=0.8, dashes=(1.9, 1.0)),
    "centre": PenStroke(width=0.5, dashes=(6.0, 1.0, 0.6, 1.0)),
    "snap": PenStroke(width=1.0, dashes=(6.0, 1.5)),
    "hem": PenStroke(width=0.8),
    "keep": PenStroke(width=0.8, dashes=(2.2, 1.2)),
    "former": PenStroke(width=0.5, dashes=(5.0, 0.9, 0.6, 0.9, 0.6, 0.9)),
    "metal": PenStroke(width=2.6),
}
HATCH_SPACING = 1.8  # mm between hatch lines
HATCH_WIDTH = 0.4  # points
HATCH_ANGLE: dict[Fill, float] = {"hatch": 45.0, "hatch-other": 135.0}
