"""One bend: metal it takes, setback, deduction, bend marks, hem allowance.

Finished sizes are outside to outside, the outside of a fold included. `t` is the metal's thickness, `K` its neutral
axis factor (distance of the neutral axis from the inside face, in thicknesses), `r` the inside radius, `turned` how
far the metal is turned in degrees (0 flat, 90 square, 180 hem).

Sources: bend allowance as an arc of the neutral axis, *Machinery's Handbook* 31st ed., p. 1421, formulas 32-34 (their
constants divided by pi/2 are K); setback and deduction, *Sheet Metal Workbook* 6th ed., and *Aviation Maintenance
Technician Handbook - Airframe* (FAA-H-8083-31) ch. 4. The extension of the allowance to 180 degrees and to a zero
inside radius, and the setback above 90 degrees (outermost tangent), are this program's own reading of them.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from fabplan.job.metals import MetalProfile
from fabplan.job.model import MeasuredAllowance
from fabplan.units import inches

How = Literal["computed", "plain", "measured"]


def bend_allowance(turned: float, radius: float, thickness: float, factor: float) -> float:
    """Metal in the bend: arc of the neutral axis, ``turned (r + K t)``, inches."""
    return math.radians(turned) * (radius + factor * thickness)


def setback(turned: float, radius: float, thickness: float) -> float:
    """Outside corner to tangent line, ``(r + t) tan(turned / 2)``, inches.

    Above 90 degrees the outermost tangent takes the place of the outside corner, so the setback stays at ``r + t``.
    """
    return (radius + thickness) * math.tan(math.radians(min(turned, 90.0)) / 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bend:
    """A bend of known size. ``deduction == 2 * setback - bend_allowance`` always.

    Attributes
    ----------
    turned : float
        Degrees, above 0 up to 180.
    radius, gap : float
        Inside radius; opening of a hem (twice the radius), 0 for other bends.
    bend_allowance, setback, deduction : float
        Inches. `bend_allowance` is what the deduction implies when that is measured or plain.
    how : {"computed", "plain", "measured"}
    """

    turned: float
    radius: float
    gap: float
    bend_allowance: float
    setback: float
    deduction: float
    how: How = "computed"

    def __post_init__(self) -> None:
        if not 0 < self.turned <= 180:
            raise ValueError(f"a bend is turned above 0 up to 180 degrees, not {self.turned}")
        if self.radius < 0 or self.gap < 0:
            raise ValueError("radius and gap cannot be negative")

    @property
    def hem(self) -> bool:
        """Whether the metal is folded right over."""
        return self.turned >= 180

    @property
    def fold_line(self) -> float:
        """Middle of the bend zone, measured outward from the finished edge on the flat."""
        return -self.deduction / 2

    def allowance(self, width: float) -> float:
        """Flat metal outside the finished edge for a fold of finished `width`."""
        return width - self.deduction

    def slot_depth(self, width: float) -> float:
        """Straight part of the flap: depth of the folding slot that makes this hem."""
        return width - self.setback


def make_bend(
    turned: float,
    metal: MetalProfile,
    *,
    radius: float = 0.0,
    gap: float | None = None,
    how: Literal["computed", "plain"] = "computed",
    measured: Iterable[MeasuredAllowance] = (),
) -> Bend:
    """The bend of a metal, by the job's rule.

    Parameters
    ----------
    turned : float
        Degrees.
    metal : MetalProfile
    radius : float
        Inside radius, inches; a hem takes it from its `gap`.
    gap : float, optional
        Opening of a hem, inches.
    how : {"computed", "plain"}
        "plain": a fold takes its width and nothing else, so the deduction is 0.
    measured : iterable of MeasuredAllowance
        The shop's own strips of this metal; one of the same angle and gap (inside width of the bend) replaces the
        computed deduction. "plain" is not touched by them.
    """
    if gap is not None:
        radius = gap / 2
    back = setback(turned, radius, metal.thickness)
    deduction = 2 * back - bend_allowance(turned, radius, metal.thickness, metal.bend_factor)
    rule: How = how
    if how == "plain":
        deduction = 0.0
    else:
        for m in measured:
            if abs(m.turned - turned) < 1e-6 and abs(inches(m.gap) - 2 * radius) < 1e-6:
                deduction, rule = inches(m.deduction), "measured"
    return Bend(
        turned=turned,
        radius=radius,
        gap=gap or 0.0,
        bend_allowance=2 * back - deduction,
        setback=back,
        deduction=deduction,
        how=rule,
    )


def straights(legs: Sequence[float], bends: Sequence[Bend]) -> list[float]:
    """Straight part of each leg: outside size less the setbacks of its bends."""
    _one_more(legs, bends)
    backs = [0.0, *(b.setback for b in bends), 0.0]
    return [leg - backs[i] - backs[i + 1] for i, leg in enumerate(legs)]


def developed_length(legs: Sequence[float], bends: Sequence[Bend]) -> float:
    """Flat length of a section: outside legs less one deduction a bend."""
    _one_more(legs, bends)
    return math.fsum([*legs, *(-b.deduction for b in bends)])


def bend_marks(legs: Sequence[float], bends: Sequence[Bend]) -> list[float]:
    """Middle of every bend zone, measured on the flat from the start edge."""
    _one_more(legs, bends)
    marks = []
    for k, b in enumerate(bends):
        marks.append(math.fsum([*legs[: k + 1], *(-c.deduction for c in bends[:k]), -b.deduction / 2]))
    return marks


def _one_more(legs: Sequence[float], bends: Sequence[Bend]) -> None:
    if len(legs) != len(bends) + 1:
        raise ValueError(f"{len(bends)} bends join {len(bends) + 1} legs, not {len(legs)}")
