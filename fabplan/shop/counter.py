"""The rack as the person at the counter types and reads it."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter, ValidationError

from fabplan.errors import JobError
from fabplan.job.metals import load_metal
from fabplan.job.values import Size
from fabplan.shop.lots import Lot, Taking, add_lot, lot_amount
from fabplan.shop.rack import LONGEST_NOTE, RackPiece, Units, add, pieces
from fabplan.units import NM_PER_INCH, NM_PER_MM, Nm, Show, parse_length

RACK_COLUMNS = ("id", "piece", "metal", "width", "length", "grain", "note", "since (UTC)", "set aside for")
LOT_COLUMNS = ("lot", "form", "metal", "width", "length", "there", "set aside", "free", "grain", "note")
TAKEN_COLUMNS = ("job", "what", "amount", "state", "when (UTC)")
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


def rack_rows(there: Sequence[RackPiece], held: Mapping[str, str] | None = None) -> list[tuple[str, ...]]:
    """Table rows of the rack; `held` is the job each piece is set aside for."""
    held = held or {}
    return [
        (str(p.id), p.piece, p.metal, *shown_size(p), p.grain, p.note, p.added, held.get(p.piece, "")) for p in there
    ]


def lot_rows(stock: Sequence[Lot]) -> list[tuple[str, ...]]:
    """Table rows of coils and sheets."""
    return [
        (
            str(x.id), x.form, x.metal, Show(x.units, 1).exact(x.width),
            Show(x.units, 1).exact(x.length) if x.length else "", lot_amount(x, x.there),
            lot_amount(x, x.reserved) if x.reserved else "", lot_amount(x, x.free), x.grain, x.note,
        )
        for x in stock
    ]  # fmt: skip


def taken_rows(taken: Sequence[Taking], stock: Sequence[Lot], there: Sequence[RackPiece]) -> list[tuple[str, ...]]:
    """Table rows of what is set aside and used; a lot or offcut that is gone is named by its identity."""
    lots = {x.piece: x for x in stock}
    offcuts = {p.piece: f"offcut {p.id}" for p in there}
    rows: list[tuple[str, ...]] = []
    for t in taken:
        lot = lots.get(t.piece)
        amount = lot_amount(lot, t.amount) if lot else "" if t.piece in offcuts or t.amount == 1 else "all of it"
        what = f"lot {lot.id}" if lot else offcuts.get(t.piece, t.piece)
        rows.append((t.job, what, amount, "set aside" if t.state == "reserved" else "used", t.at))
    return rows


def stock_data(stock: Sequence[Lot], taken: Sequence[Taking]) -> dict[str, Any]:
    """Coils and sheets as data, each in the units it was measured in; lengths of coils in them, sheets by count."""

    def size(x: Lot, n: int) -> float:
        return round(n / (NM_PER_MM if x.units == "mm" else NM_PER_INCH), 6)

    def much(x: Lot, n: int) -> float:
        return size(x, n) if x.form == "coil" else n

    return {
        "lots": [
            {
                "id": x.id, "piece": x.piece, "form": x.form, "metal": x.metal, "units": x.units,
                "width": size(x, x.width), "length": size(x, x.length) or None, "there": much(x, x.there),
                "reserved": much(x, x.reserved), "free": much(x, x.free), "grain": x.grain, "note": x.note,
            }
            for x in stock
        ],
        "takings": [{"job": t.job, "piece": t.piece, "state": t.state, "at": t.at} for t in taken],
    }  # fmt: skip


def add_stock(
    rack: Path, *, form: str, metal: str, size: str, there: str, count: int, grain: str, note: str,
    units: str | None = None,
) -> int:  # fmt: skip
    """Put a coil (SIZE is its width, `there` its length), or `count` sheets of a size, into stock; the lot's number."""
    if grain not in ("along", "across"):
        raise JobError("the grain runs along or across the length", key="--grain", value=grain, write="along or across")
    if len(note) > LONGEST_NOTE:
        raise JobError(f"a note may have {LONGEST_NOTE} characters at most", key="--note", value=f"{len(note)}")
    profile = load_metal(metal)
    own = units or _units_of(rack)
    common: dict[str, Any] = {"metal": metal, "thickness": profile.thickness, "grain": grain, "note": note}
    if form == "coil":
        width = typed_length(size, own, "SIZE")
        long = typed_length(there or None, own, "--there")
        if width is None or long is None:
            raise JobError("say how much of the coil there is", key="--there", write='for example --there "120 ft"')
        return add_lot(rack, form="coil", width=width, length=0, there=long, units=_typed_in(size, own), **common)
    if there:
        raise JobError("is for a coil", key="--there", value=there, write="--count for sheets")
    try:
        (width, length), found = typed_size(size, own)
    except ValidationError:
        raise JobError(
            "the size of a sheet is its width and its length", key="SIZE", value=size, write='for example "36 x 96 in"'
        ) from None
    return add_lot(rack, form="sheet", width=width, length=length, there=count, units=found, **common)


def _typed_in(text: str, units: str) -> Units:
    """The units a length was typed in."""
    metric = bool(re.search(r"\d\s*(?:mm|cm|m)\b", text, re.I))
    inch = bool(re.search(r"\d\s*(?:in|ft|\"|')", text, re.I))
    return "mm" if metric or (units == "mm" and not inch) else "in"


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
