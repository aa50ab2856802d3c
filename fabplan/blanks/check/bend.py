"""Bends worked out again for the checker, straight from the definitions."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from fabplan.blanks.model import Fold
from fabplan.job.metals import MetalProfile
from fabplan.job.model import MeasuredAllowance
from fabplan.units import NM_PER_INCH

EXACT = 1e-9
NEAR = 1e-6  # inches


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """A fold as the job asks for it."""

    width: float
    toward: str
    turned: float
    radius: float
    gap: float
    setback: float
    deduction: float

    @property
    def allowance(self) -> float:
        return self.width - self.deduction

    @property
    def line(self) -> float:
        """Fold line outside the finished edge."""
        return -self.deduction / 2


def wanted(
    metal: MetalProfile,
    plain: bool,
    strips: Iterable[MeasuredAllowance],
    *,
    width: float,
    toward: str,
    turned: float,
    radius: float = 0.0,
    gap: float = 0.0,
) -> Wanted:
    """Setback and deduction of a fold, from the metal, the rule and the shop's own strips."""
    inside = gap / 2 if turned == 180 else radius
    leg = inside + metal.thickness
    back = leg if turned >= 90 else leg * math.tan(turned * math.pi / 360)
    taken = 2 * back - turned * math.pi / 180 * (inside + metal.bend_factor * metal.thickness)
    if plain:
        taken = 0.0
    else:
        for strip in strips:
            if abs(strip.turned - turned) < 1e-6 and abs(strip.gap / NM_PER_INCH - 2 * inside) < 1e-6:
                taken = strip.deduction / NM_PER_INCH
    return Wanted(
        width=width,
        toward=toward,
        turned=turned,
        radius=inside,
        gap=gap if turned == 180 else 0.0,
        setback=back,
        deduction=taken,
    )


def check_fold(fold: Fold, want: Wanted, *, section: bool) -> list[str]:
    """Faults of one fold's own numbers."""
    faults = []
    name = f"{'bend' if section else 'fold on edge'} {fold.edge}"
    if fold.toward != want.toward:
        faults.append(f"{name} goes to the {fold.toward}, not the {want.toward}")
    if fold.hem != (want.turned == 180):
        faults.append(f"{name} is wrongly marked as a hem or not")
    slot = want.width - want.setback if not section or want.turned == 180 else 0.0
    pairs = (
        ("turned", fold.turned, want.turned),
        ("width", fold.width, want.width),
        ("gap", fold.gap, want.gap),
        ("radius", fold.radius, want.radius),
        ("setback", fold.setback, want.setback),
        ("deduction", fold.deduction, want.deduction),
        ("bend allowance", fold.bend_allowance, 2 * want.setback - want.deduction),
        ("allowance", fold.allowance, want.allowance),
        ("slot depth", fold.slot_depth, slot),
    )
    faults += [f"{name}: {what} is {got:.6f}, not {must:.6f}" for what, got, must in pairs if abs(got - must) > EXACT]
    return faults
