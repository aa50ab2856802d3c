"""Small jobs built straight from the models, and a copper to make them of."""

from __future__ import annotations

from typing import Any

from pydantic import TypeAdapter

from fabplan.job.metals import MetalProfile
from fabplan.job.model import Brake, Job, JobInfo, MetalUse, Piece, Shear
from fabplan.job.values import Spare
from fabplan.units import NM_PER_INCH, NM_PER_MM, Nm, parse_length

COPPER = "copper-16oz"

PIECE: TypeAdapter[Any] = TypeAdapter(Piece)


def copper(**changes: Any) -> MetalProfile:
    """16 oz cold-rolled copper.

    Thickness and weight: Copper in Architecture Design Handbook (Copper Development Association), sec. 1.2; K from
    formula 33 of Machinery's Handbook 31st ed., p. 1421 (half-hard copper).
    """
    sizes: dict[str, Any] = {
        "name": COPPER,
        "title": "16 oz copper",
        "family": "copper",
        "temper": "H00",
        "thickness": 0.0216,
        "thickness_minimum": 0.0204,
        "weight": 1.0,
        "density": 0.322,
        "expansion": 9.3e-6,
        "expansion_range": (9.3e-6, 9.8e-6),
        "bend_factor": 0.407,
        "least_inside_radius": 0.0,
        "yield_ksi": (20.0, 28.0),
        "modulus_ksi": 17000.0,
        "coil_widths": (),
        "sheets": (),
    }
    return MetalProfile(**{**sizes, **changes})


def metals(**changes: Any) -> dict[str, MetalProfile]:
    return {COPPER: copper(**changes)}


def piece(units: str = "in", **keys: Any) -> Any:
    """One piece as a job file gives it."""
    return PIECE.validate_python({"mark": "A", "count": 10, **keys}, context={"units": units})


def job(
    *pieces: Any,
    units: str = "in",
    round_to: str | None = None,
    spare: Spare | None = None,
    longest_bend: str = "120 in",
    longest_cut: str = "120 in",
    measured: tuple[Any, ...] = (),
) -> Job:
    """A job of these pieces in 16 oz copper; the rooms that are not asked stay unset."""
    grid = Nm(NM_PER_INCH // 32) if units == "in" else Nm(NM_PER_MM // 2)
    if round_to is not None:
        grid = parse_length(round_to, units)
    info = JobInfo.model_construct(
        name="Lakeside pavilion", number="12", units=units, round_to=grid, spare=spare or Spare()
    )
    brake = Brake.model_construct(longest_bend=parse_length(longest_bend, units), measured_allowance=measured)
    return Job.model_construct(
        file="job.toml",
        info=info,
        metal=MetalUse.model_construct(use=COPPER),
        shear=Shear.model_construct(longest_cut=parse_length(longest_cut, units)),
        brake=brake,
        pieces=tuple(pieces),
    )
