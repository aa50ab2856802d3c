"""Top angles at which the cuts along the hips repeat, so that few templates do: counted by a layout, not guessed."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from fabplan.blanks.kinds.diamond import make_lattice
from fabplan.blanks.model import FlatPattern, Lattice
from fabplan.errors import FabplanError
from fabplan.roof.lay.hips import repeating_angles
from fabplan.roof.lay.lattice import blank_rhombus
from fabplan.roof.model import SlopeLayout
from fabplan.roof.remarks import Choice

ALIKE = 0.05  # degrees: two hips this nearly alike cut the same shapes
TRIED = 4  # angles laid out, those nearest the one asked for
FEWER = 0.75  # an angle is offered when it takes no more than this share of the cut shapes
_STEP = 100  # angles are offered to 1/100 degree

Count = Callable[[str, Lattice, FlatPattern], tuple[int, int]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """A top angle with its cut shapes and blanks, beside those of the angle asked for."""

    angle: float
    every: int
    shapes: int
    shapes_now: int
    blanks: int
    blanks_now: int


def hip_angle(layout: SlopeLayout) -> float | None:
    """Angle of a slope's two hips to its eave, degrees; None when they are not alike."""
    angles = [
        math.degrees(math.atan2(abs(e.end[1] - e.start[1]), abs(e.end[0] - e.start[0])))
        for e in layout.slope.edges
        if e.kind == "hip"
    ]
    return sum(angles) / 2 if len(angles) == 2 and abs(angles[0] - angles[1]) <= ALIKE else None


def repeat_offers(layout: SlopeLayout, pattern: FlatPattern, now: tuple[int, int], count: Count) -> list[Offer]:
    """Angles worth offering for a slope: the nearest with clearly fewer cut shapes, and the one with fewest.

    Parameters
    ----------
    layout : SlopeLayout
        As laid out with the angle asked for.
    pattern : FlatPattern
        Its diamond.
    now : (cut shapes, blanks)
        Of everything laid with that diamond.
    count : callable
        The same for another lattice.
    """
    lattice, base = pattern.lattice, hip_angle(layout)
    courses = max((c.course for c in layout.courses), default=0)
    if lattice is None or base is None or courses < 2:
        return []
    angles = [(every, angle) for every, angle in repeating_angles(base) if 2 * every <= courses]
    angles.sort(key=lambda x: (round(abs(x[1] - lattice.top_angle), 6), x[0]))
    found = []
    for every, exact in angles[:TRIED]:
        angle = round(exact * _STEP) / _STEP
        if abs(angle - lattice.top_angle) < 1.5 / _STEP:
            continue
        other = _turned(lattice, angle)
        try:
            shapes, blanks = count(pattern.mark, other, replace(pattern, lattice=other, outline=blank_rhombus(other)))
        except FabplanError:
            continue  # this roof can not be laid so
        if shapes <= FEWER * now[0]:
            offer = Offer(angle=angle, every=every, shapes=shapes, shapes_now=now[0], blanks=blanks, blanks_now=now[1])
            found.append(offer)
    if not found:
        return []
    least = min(found, key=lambda o: (o.shapes, o.blanks))
    return [found[0]] if least is found[0] or least.shapes == found[0].shapes else [found[0], least]


def _turned(lattice: Lattice, angle: float) -> Lattice:
    return make_lattice(
        side=lattice.side,
        top_angle=angle,
        hems=(lattice.upper_hem, lattice.lower_hem),
        allowances=(lattice.upper_allowance, lattice.lower_allowance),
        thickness=lattice.thickness,
        slack=lattice.slack,
        joint=lattice.joint,
    )


def choices(offers: Mapping[str, Sequence[Offer]]) -> list[Choice]:
    """The choices, by the name of the slope."""
    return [
        Choice(
            slope=name,
            angle=o.angle,
            every=o.every,
            shapes=o.shapes,
            shapes_now=o.shapes_now,
            blanks=o.blanks,
            blanks_now=o.blanks_now,
        )
        for name, some in offers.items()
        for o in some
    ]
