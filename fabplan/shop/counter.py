"""The rack as the person at the counter types and reads it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter, ValidationError

from fabplan.errors import JobError
from fabplan.job.metals import load_metal
from fabplan.job.values import Size
from fabplan.shop.rack import RackPiece, add
from fabplan.units import NM_PER_INCH, NM_PER_MM, Nm, Show, parse_length

RACK_COLUMNS = ("id", "metal", "width", "length", "grain", "note", "since (UTC)")
FINE = {"in": NM_PER_INCH // 32, "mm": NM_PER_MM // 2}


def add_piece(rack: Path, *, metal: str, size: str, count: int, grain: str, note: str) -> tuple[int, ...]:
    """Add what was typed: the metal must be a known profile, the size a width and a length with units."""
    if grain not in ("along", "across"):
        raise JobError("the grain runs along or across the length", key="--grain", value=grain, write="along or across")
    profile = load_metal(metal)
    try:
        width, length = TypeAdapter(Size).validate_python(size, context={"units": "in"})
    except ValidationError:
        raise JobError(
            "the size of an offcut is its width and its length",
            key="SIZE",
            value=size,
            write='for example "8 x 30-1/2 in"',
        ) from None
    return add(
        rack,
        metal=metal,
        thickness=profile.thickness,
        width=width,
        length=length,
        grain="along" if grain == "along" else "across",
        count=count,
        note=note,
    )


def rack_rows(there: Sequence[RackPiece], units: str = "in") -> list[tuple[str, ...]]:
    """Table rows of the rack."""
    show = Show(units, FINE[units])
    return [(str(p.id), p.metal, show.length(p.width), show.length(p.length), p.grain, p.note, p.added) for p in there]


def rack_data(there: Sequence[RackPiece]) -> dict[str, Any]:
    """The rack as data, sizes in inches."""
    return {
        "units": "in",
        "offcuts": [
            {
                "id": p.id,
                "metal": p.metal,
                "width": round(p.width / NM_PER_INCH, 6),
                "length": round(p.length / NM_PER_INCH, 6),
                "grain": p.grain,
                "note": p.note,
                "added": p.added,
            }
            for p in there
        ],
    }


def typed_length(text: str | None, units: str, option: str) -> Nm | None:
    """A length typed as an option; a bare number takes the job's units."""
    if text is None:
        return None
    try:
        length = parse_length(text, units)
    except ValueError as fault:
        raise JobError("this is not a length", key=option, value=text, write="for example 9-1/2 in") from fault
    if length <= 0:
        raise JobError("a length must be above 0", key=option, value=text)
    return length
