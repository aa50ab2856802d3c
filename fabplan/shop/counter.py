"""The rack as the person at the counter types and reads it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter, ValidationError

from fabplan.errors import JobError
from fabplan.job.metals import load_metal
from fabplan.job.values import Size
from fabplan.shop.rack import LONGEST_NOTE, RackPiece, Units, add, pieces
from fabplan.units import NM_PER_INCH, NM_PER_MM, Nm, Show, parse_length

RACK_COLUMNS = ("id", "piece", "metal", "width", "length", "grain", "note", "since (UTC)")
LEAST = {"in": NM_PER_INCH // 4, "mm": 6 * NM_PER_MM}
"""Narrower is swarf, and a slip of the keyboard more often than an offcut."""


def add_piece(
    rack: Path, *, metal: str, size: str, count: int, grain: str, note: str, units: str | None = None
) -> tuple[int, ...]:
    """Add what was typed: the metal must be a known profile, the size a width and a length.

    A bare number takes `units`, or those of the piece put on this rack last, or inches.
    """
    if grain not in ("along", "across"):
        raise JobError("the grain runs along or across the length", key="--grain", value=grain, write="along or across")
    if len(note) > LONGEST_NOTE:
        raise JobError(f"a note may have {LONGEST_NOTE} characters at most", key="--note", value=f"{len(note)}")
    profile = load_metal(metal)
    try:
        (width, length), units = typed_size(size, units or _units_of(rack))
    except ValidationError:
        raise JobError(
            "the size of an offcut is its width and its length",
            key="SIZE",
            value=size,
            write='for example "8 x 30-1/2 in"',
        ) from None
    if min(width, length) < LEAST[units]:
        raise JobError(
            "nothing is cut from an offcut this small",
            key="SIZE",
            value=size,
            write=f"a width and a length of {Show(units, 1).exact(LEAST[units])} or more",
        )
    return add(
        rack,
        metal=metal,
        thickness=profile.thickness,
        width=width,
        length=length,
        grain="along" if grain == "along" else "across",
        units=units,
        count=count,
        note=note,
    )


def typed_size(size: str, units: str) -> tuple[tuple[Nm, Nm], Units]:
    """A size as typed and the units it was typed in; `units` are those of a bare number.

    Raises
    ------
    ValidationError
        Not a size.
    """
    read = TypeAdapter(Size)
    both = [read.validate_python(size, context={"units": u}) for u in ("in", "mm")]
    if both[0] != both[1]:  # bare
        return (both[1], "mm") if units == "mm" else (both[0], "in")
    return both[0], "mm" if re.search(r"\d\s*(?:mm|cm|m)\b", size, re.I) else "in"


def _units_of(rack: Path) -> str:
    there = pieces(rack) if rack.suffix == ".db" and rack.is_file() and rack.stat().st_size else ()
    return there[-1].units if there else "in"


def shown_size(p: RackPiece) -> tuple[str, str]:
    """Width and length of a piece, exactly, in the units it was measured in."""
    show = Show(p.units, 1)
    return show.exact(p.width), show.exact(p.length)


def rack_rows(there: Sequence[RackPiece]) -> list[tuple[str, ...]]:
    """Table rows of the rack."""
    return [(str(p.id), p.piece, p.metal, *shown_size(p), p.grain, p.note, p.added) for p in there]


def rack_data(there: Sequence[RackPiece]) -> dict[str, Any]:
    """The rack as data, in millimetres when every piece was measured so, else in inches."""
    units = "mm" if there and all(p.units == "mm" for p in there) else "in"
    nm = NM_PER_MM if units == "mm" else NM_PER_INCH
    return {
        "units": units,
        "offcuts": [
            {
                "id": p.id,
                "piece": p.piece,
                "metal": p.metal,
                "width": round(p.width / nm, 6),
                "length": round(p.length / nm, 6),
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
