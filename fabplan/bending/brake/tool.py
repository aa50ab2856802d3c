"""The leaf brake in section: bending edge at the origin, operator at +x, metal on y = 0."""

from __future__ import annotations

import math
from dataclasses import dataclass

from fabplan.bending.model import BrakeSection
from fabplan.bending.tools import reach_of, underside_slope
from fabplan.blanks.model import Point
from fabplan.job.model import Brake
from fabplan.units import inches

TOUCH = 1e-4  # tools stand this far off the metal's line, so that resting on them is no collision
FAR = 200.0
GIVE = 2.0  # thicknesses: a leg as wide as the apron bar hangs past it, the sheet giving by so much
BEAM = 12.0  # the nose bar's beam above the jaw; metal behind it is out of the way


@dataclass(frozen=True, slots=True)
class BrakeShape:
    """Sizes in inches, and the outlines that the metal must not enter; `reach` is how far any flange can be turned."""

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

    def drawing(self) -> BrakeSection:
        """Outlines cut down to a size that can be drawn."""
        deep = max(self.apron_hang, 2.0)
        back = min(self.throat, 8.0) + 1.0
        top = max(y for _, y in self.nose)
        high = min(top, self.jaw + 3.0)
        face = [p for p in self.nose if p[1] <= high]
        front = self.nose[-1]
        lean = front[0] + self.setback
        face.append((max(-back, -self.setback + lean * high / front[1]), high))
        cut = [(max(-back, x), 0.0 if y == TOUCH else y) for x, y in face]
        if cut[-2][0] <= -back + 1e-9:
            cut.insert(len(cut) - 1, (-back, high))
        return BrakeSection(
            bed=((0.0, 0.0), (-back, 0.0), (-back, -deep), (0.0, -deep)),
            nose=tuple(cut),
            apron=((0.0, 0.0), (0.0, -self.apron_hang), (self.apron_bar, -self.apron_hang), (self.apron_bar, 0.0)),
        )


def brake_shape(brake: Brake, thickness: float) -> BrakeShape:
    """The brake of the job with metal of one thickness in it."""
    setback, land, jaw = brake.nose_setback * thickness, inches(brake.nose_land), inches(brake.jaw)
    throat = inches(brake.throat)
    rise = math.tan(math.radians(underside_slope(brake.nose_angle)))
    run = jaw / rise
    under: list[Point] = [(-setback, TOUCH), (-setback - land, TOUCH)]
    if setback + land + run < throat:
        under += [(-setback - land - run, jaw), (-throat, jaw)]
    else:
        under += [(-throat, TOUCH + max(0.0, throat - setback - land) * rise)]
    top = jaw + BEAM
    lean = 0.0 if brake.nose_angle >= 90 else 1 / math.tan(math.radians(brake.nose_angle))
    if lean:
        top = max(under[-1][1] + 0.1, min(top, (throat - setback) / lean))
    nose = (*under, (-throat, top), (-setback - lean * top, top))
    bar, hang = inches(brake.apron_bar), inches(brake.apron_hang)
    edge = max(bar / 2, bar - GIVE * thickness)
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
        bed=((0.0, -TOUCH), (-FAR, -TOUCH), (-FAR, -FAR), (0.0, -FAR)),
        nose=nose,
        apron=((0.0, -TOUCH), (0.0, -hang), (edge, -hang), (edge, -TOUCH)),
    )
