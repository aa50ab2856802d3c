"""Proves a disc: the square holds its circle, the circle is the one asked for."""

from __future__ import annotations

import math
from itertools import pairwise

from fabplan.blanks.check.bend import NEAR
from fabplan.blanks.check.shape import PieceFolds
from fabplan.blanks.model import FlatPattern
from fabplan.job.kinds.disc import DiscPiece
from fabplan.units import NM_PER_INCH

FLAT = 2e-4  # share of the radius a chord may run inside the circle


def check_disc(p: FlatPattern, shop: PieceFolds, piece: DiscPiece) -> list[str]:
    """Faults of a disc's pattern."""
    faults = []
    across = piece.diameter / NM_PER_INCH
    side = shop.upward(across)
    if (p.width_units, p.length_units) != (side, side):
        faults.append(f"the square is {p.width_units} x {p.length_units} steps, not {side}")
    reach = side * shop.step
    square = ((reach, reach), (0.0, reach), (0.0, 0.0), (reach, 0.0))
    for what, outline in (("sheared", p.outline), ("finished", p.finished.outline)):
        if len(outline) != 4 or any(math.dist(a, b) > NEAR for a, b in zip(outline, square, strict=True)):
            faults.append(f"the {what} outline is not the square")
    middle = complex(side * shop.step / 2, side * shop.step / 2)
    radii = [abs(complex(*point) - middle) for point in p.snipped]
    if len(radii) < 3 or any(abs(r - across / 2) > NEAR for r in radii):
        faults.append("the circle is not round, not of its diameter, or not in the middle")
    ring = [*p.snipped, *p.snipped[:1]]
    for a, b in pairwise(ring):
        if abs((complex(*a) + complex(*b)) / 2 - middle) < across / 2 * (1 - FLAT):
            faults.append("the circle is drawn with too few corners")
            break
    if p.folds or p.notches or p.section is not None or p.parts != 1 or p.lattice is not None:
        faults.append("a disc has no folds, corner snips, section or lattice")
    done = p.finished
    if max(abs(done.width - across), abs(done.length - across), done.side, done.exposed_side) > NEAR:
        faults.append("finished sizes are not the diameter")
    if abs(done.covers_area - math.pi * across**2 / 4) > NEAR:
        faults.append("the area covered is not that of the circle")
    if abs(p.rounding - (side * shop.step - across)) > NEAR:
        faults.append(f"the rounding is {p.rounding:.6f}")
    return faults
