"""How far a bend opens when it is let go, from the metal's yield and modulus.

Formula for pure bending: Ri / Rf = 4 X^3 - 3 X + 1 with X = Y Ri / (E T), where Ri is the radius under load, Rf the
radius let go, Y yield strength, E modulus, T thickness. It is taught in sheet-metal courses and commonly credited to
Boothroyd, and to Marciniak & Duncan, "Mechanics of Sheet Metal Forming". The turned angle shrinks by the same ratio.

A shop's own springback is more than this: play and give of the brake come on top, and they do not grow with the angle.
So what the shop overbends a square bend is split: the metal's own part at a square, sharp bend, and the rest, which is
play. A setting is the play and the metal's part at that bend's own angle and radius, to the half degree.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from fabplan.bending.brake.section import BendStrip
from fabplan.job.metals import MetalProfile

HALF = 0.5  # degrees: no finer is set on a hand brake
MOST = 90.0  # degrees: more than any leaf can overbend


def springback_ratio(radius: float, thickness: float, yield_ksi: float, modulus_ksi: float) -> float:
    """Radius under load over radius let go (1 = none), for lengths in one unit and stresses in one unit.

    Raises
    ------
    ValueError
        If a number is not above 0 (the radius may be 0).
    """
    if thickness <= 0 or modulus_ksi <= 0 or yield_ksi <= 0 or radius < 0:
        raise ValueError("thickness, yield and modulus must be above 0, the radius at least 0")
    x = yield_ksi * radius / (modulus_ksi * thickness)
    if x >= 0.5:  # the whole thickness stays elastic: the sheet springs flat
        return 0.0
    return 4 * x**3 - 3 * x + 1


def overbend(turned: float, radius: float, thickness: float, yield_ksi: float, modulus_ksi: float) -> float:
    """Degrees to bend past `turned` so that the metal alone comes back to it."""
    ratio = springback_ratio(radius, thickness, yield_ksi, modulus_ksi)
    return turned / ratio - turned if ratio > 0 else math.inf


def metal_springback(
    metal: MetalProfile, turned: float, radius: float, *, pick: Callable[[tuple[float, float]], float] = max
) -> float:
    """The metal's own springback at one bend, degrees, at the upper end of its yield range.

    A bend drawn sharp is taken at an inside radius of one thickness: no hand brake makes a truly sharp one
    (common practice, no source).
    """
    t = metal.thickness
    return overbend(turned, max(radius, t), t, pick(metal.yield_ksi), metal.modulus_ksi)


def overbend_set(metal: MetalProfile, turned: float, radius: float, shop: float) -> float:
    """Degrees to swing past the angle wanted: the shop's play and the metal's middle part, to the half degree.

    `shop` is what the shop overbends a square, sharp bend.
    """

    def own(angle: float, r: float) -> float:
        parts = [metal_springback(metal, angle, r, pick=pick) for pick in (min, max)]
        return sum(min(p, MOST) for p in parts) / 2

    play = max(0.0, shop - own(90.0, 0.0))
    if shop <= 0:
        return 0.0  # the shop says its angles are those it sets
    return min(MOST, math.floor((play + own(turned, radius)) / HALF + 0.5) * HALF)


def overbends(strip: BendStrip, metal: MetalProfile, shop: float) -> Sequence[float]:
    """The same for every bend of a strip."""
    return [overbend_set(metal, abs(b), r, shop) for b, r in zip(strip.bends, strip.radii, strict=True)]


def nose_radius(thickness: float, setback: float) -> float:
    """Largest inside radius a nose set back so far forms, inches: the metal wraps round the room it is left.

    Common practice, no source: a sharp nose set back two thicknesses makes about one thickness inside.
    """
    return max(thickness, setback)
