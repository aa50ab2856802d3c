"""Metal profiles: one metal a TOML file in ``stock_profiles/``, each number with its source."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from fabplan.units import Nm


@dataclass(frozen=True, slots=True, kw_only=True)
class MetalProfile:
    """One sheet metal at one thickness.

    Attributes
    ----------
    name : str
        File stem, e.g. ``copper-16oz``.
    title : str
        Printed name.
    family : str
        ``copper``, ``zinc``, ``steel``, ``stainless``, ``aluminum``; decides dissimilar-metal cautions.
    thickness : float
        Nominal thickness, inches.
    thickness_minimum : float or None
        Least allowed thickness, inches.
    weight : float
        Pounds per square foot.
    density : float
        Pounds per cubic inch.
    expansion : float
        Per degree F; `expansion_range` holds the published spread.
    bend_factor : float
        K: distance of the neutral axis from the inside face, in thicknesses.
    least_inside_radius : float
        Inches.
    yield_ksi, modulus_ksi : float
        Yield strength range and modulus, for springback.
    coil_widths, sheets : tuple
        Sizes sold, nanometres.
    sources : dict
        Key -> source text, or "from memory".
    """

    name: str
    title: str
    family: str
    temper: str
    thickness: float
    thickness_minimum: float | None
    weight: float
    density: float
    expansion: float
    expansion_range: tuple[float, float]
    bend_factor: float
    least_inside_radius: float
    yield_ksi: tuple[float, float]
    modulus_ksi: float
    coil_widths: tuple[Nm, ...]
    sheets: tuple[tuple[Nm, Nm], ...]
    sources: dict[str, str] = field(default_factory=dict)
    cautions: tuple[str, ...] = ()


def load_metal(name: str, *, base: Path | None = None) -> MetalProfile:
    """Read a shipped profile by name, or a profile file by path (relative to `base`)."""
    raise NotImplementedError
