"""The leaf brake in section: bending edge at the origin, operator at +x, metal on y = 0."""

from __future__ import annotations

import math
from dataclasses import dataclass

from fabplan.bending.model import BrakeSection
from fabplan.bending.tools import reach_of, underside_slope
from fabplan.blanks.model import Point
from fabplan.job.model import Brake
from fabplan.units import inches

TOUCH = 1 / 128  # tools stand this far off the metal: resting on them, or grazing them by less, is no collision
FAR = 200.0
GIVE = 2.0  # thicknesses: a leg as wide as the apron bar hangs past it, the sheet giving by so much
DRAWN, DRAWN_HIGH = 9.0, 3.0  # inches of the beam that pictures show, back and above the jaw
BEAM = 12.0  # the nose bar's beam above the jaw; metal behind it is out of the way


@dataclass(frozen=True, slots=True)
class BrakeShape:
    """Sizes in inches, and the outlines that the metal must not enter; `reach` is how far any flange can be turned.

    `narrow` is the leaf's edge with its bar taken off, empty when the bar stays on;
    `drawn` is the nose as pictures show it.
    """

    largest_angle: float
    reach: float
    longest_bend: float
    least_flange: float
    least_clamp: float
    land: float
    setback: float
    jaw: float
    throat: float
    apron_bar: float
    apron_hang: float
    deepest_hem: float
    bed: tuple[Point, ...]
    nose: tuple[Point, ...]
    apron: tuple[Point, ...]
    narrow: tuple[Point, ...] = ()
    drawn: tuple[Point, ...] = ()
    bed_depth: float = FAR
    beam_depth: float = FAR

    def drawing(self) -> BrakeSection:
        """Outlines cut down to a size that can be drawn."""
        deep = max(self.apron_hang, 2.0)
        back = min(self.throat, 8.0) + 1.0
        flat = tuple((x, 0.0 if abs(y) <= TOUCH else y) for x, y in self.drawn or self.nose)
        bed = min(back, self.bed_depth)
        return BrakeSection(
            bed=((0.0, 0.0), (-bed, 0.0), (-bed, -deep), (0.0, -deep)),
            nose=flat,
            apron=((0.0, 0.0), (0.0, -self.apron_hang), (self.apron_bar, -self.apron_hang), (self.apron_bar, 0.0)),
            narrow=self.narrow and tuple((x, 0.0 if abs(y) <= TOUCH else y) for x, y in self.narrow),
        )


def brake_shape(brake: Brake, thickness: float) -> BrakeShape:
    """The brake of the job with metal of one thickness in it."""
    setback, land, jaw = brake.nose_setback * thickness, inches(brake.nose_land), inches(brake.jaw)
    throat = inches(brake.throat)
    beam, bed = min(inches(brake.beam_depth), throat), inches(brake.bed_depth)
    bar, off, hang = inches(brake.apron_bar), inches(brake.apron_bar_off), inches(brake.apron_hang)
    return BrakeShape(
        largest_angle=brake.largest_angle,
        reach=reach_of(brake),
        longest_bend=inches(brake.longest_bend),
        least_flange=inches(brake.least_flange),
        least_clamp=inches(brake.least_clamp),
        land=land,
        setback=setback,
        jaw=jaw,
        throat=throat,
        apron_bar=bar,
        apron_hang=hang,
        deepest_hem=inches(brake.deepest_flattened_hem),
        bed=((-TOUCH, -TOUCH), (-bed, -TOUCH), (-bed, -FAR), (-TOUCH, -FAR)),
        nose=_nose(brake, setback, beam),
        apron=_leaf(bar, hang, thickness),
        drawn=_nose(brake, setback, min(beam, DRAWN), DRAWN_HIGH),
        narrow=_leaf(off, hang, thickness) if 0 < off < bar else (),
        bed_depth=bed,
        beam_depth=beam,
    )


def _leaf(bar: float, hang: float, thickness: float) -> tuple[Point, ...]:
    edge = max(bar / 2, bar - GIVE * thickness)
    return ((0.0, -TOUCH), (0.0, -hang), (edge, -hang), (edge, -TOUCH))


def _nose(brake: Brake, setback: float, deep: float, above: float = BEAM) -> tuple[Point, ...]:
    """Nose bar and clamping beam: land, underside rising to the jaw, back of the beam, front face leaning back."""
    land, jaw = inches(brake.nose_land), inches(brake.jaw)
    rise = math.tan(math.radians(underside_slope(brake.nose_angle)))
    under: list[Point] = [(-setback, TOUCH), (-setback - land, TOUCH)]
    if setback + land + jaw / rise < deep:
        under += [(-setback - land - jaw / rise, jaw), (-deep, jaw)]
    else:
        under += [(-deep, TOUCH + max(0.0, deep - setback - land) * rise)]
    top = jaw + above
    lean = 0.0 if brake.nose_angle >= 90 else 1 / math.tan(math.radians(brake.nose_angle))
    if lean:
        top = max(under[-1][1] + 0.1, min(top, (deep - setback) / lean))
    return (*under, (-deep, top), (-setback - lean * top, top))
