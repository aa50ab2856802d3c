"""Field types of the job file: the readers of `fabplan.job.readers` as types of a model's fields.

Bare numbers take the job's units, handed down as the validation context ``{"units": "in" | "mm"}``.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Annotated, Any

from pydantic import BeforeValidator, ValidationInfo

from fabplan.errors import BadValueError, quoted
from fabplan.job import readers
from fabplan.job.readers import HourRate, OnHand, Price, PricePer, Spare, label, word
from fabplan.units import NM_PER_FOOT, NM_PER_MM, Nm, parse_length

__all__ = [
    "Allowance",
    "Angle",
    "Days",
    "HandBends",
    "HourRate",
    "HourRateRule",
    "Label",
    "Length",
    "Lengths",
    "MetalName",
    "Note",
    "OnHand",
    "OnHandRule",
    "PieceLength",
    "Pounds",
    "Price",
    "PricePer",
    "PriceRule",
    "ScrapPriceRule",
    "Share",
    "SignedLength",
    "Size",
    "Spare",
    "SpareRule",
    "StockLength",
    "Thicknesses",
    "Time",
    "angle_within",
    "label",
    "length_within",
    "real_within",
    "says",
    "whole_within",
    "word",
]  # fmt: skip

_SAYS: dict[Callable[..., Any], str] = {}


def says(check: object) -> str:
    """What a validator of this file reads, in words; "" for any other."""
    return _SAYS.get(check, "") if callable(check) else ""


def _units(info: ValidationInfo) -> str:
    return str((info.context or {}).get("units", "in"))


def _reads(words: str, read: Callable[[Any], Any]) -> BeforeValidator:
    _SAYS[read] = words
    return BeforeValidator(read)


def _measures(words: str, read: Callable[[Any, str], Any]) -> BeforeValidator:
    """Validator that hands the job's units to a reader."""

    def check(value: Any, info: ValidationInfo) -> Any:
        return read(value, _units(info))

    _SAYS[check] = words
    return BeforeValidator(check)


def length_within(longest: Nm, *, zero: bool = False) -> BeforeValidator:
    """Validator of a length above 0 (or from 0) and at most `longest`, a whole number of metres."""
    lowest = readers.read_length if zero else readers.read_positive_length

    def check(value: Any, info: ValidationInfo) -> Nm:
        length = lowest(value, _units(info))
        if length > longest:
            metres = longest // (1000 * NM_PER_MM)
            most = f"{metres} m ({longest // NM_PER_FOOT} ft)"
            raise BadValueError(f"may be {most} at most", value=quoted(value), write="a shorter length")
        return length

    _SAYS[check] = "length"
    return BeforeValidator(check)


def angle_within(least: float, most: float) -> BeforeValidator:
    """Validator of an angle from `least` to `most` degrees."""

    def check(value: Any) -> float:
        angle = readers.read_angle(value)
        if not least <= angle <= most:
            raise BadValueError(
                f"must be {least:g} to {most:g} degrees",
                value=quoted(value),
                write=f"a number from {least:g} to {most:g}",
            )
        return angle

    _SAYS[check] = f"degrees, {least:g} to {most:g}"
    return BeforeValidator(check)


def whole_within(least: int, most: int) -> BeforeValidator:
    """Validator of a whole number from `least` to `most`."""

    def check(value: Any) -> int:
        number = readers.read_whole(value)
        if not least <= number <= most:
            rule = f"must be {least:,} to {most:,}"
            raise BadValueError(rule, value=quoted(value), write=f"a whole number from {least} to {most}")
        return number

    _SAYS[check] = f"whole number, {least:,} to {most:,}"
    return BeforeValidator(check)


def real_within(least: float, most: float) -> BeforeValidator:
    """Validator of a finite number from `least` to `most`."""

    def check(value: Any) -> float:
        number = readers.read_real(value)
        if not least <= number <= most:
            rule = f"must be {least:g} to {most:g}"
            raise BadValueError(rule, value=quoted(value), write=f"a number from {least:g} to {most:g}")
        return number

    _SAYS[check] = f"number, {least:g} to {most:g}"
    return BeforeValidator(check)


_METRE = 1000 * NM_PER_MM
Length = Annotated[Nm, _measures("length", readers.read_length)]
"""A length of 0 or more."""
SignedLength = Annotated[Nm, _measures("length, may be negative", parse_length)]
"""A length of either sign: a coordinate, an allowance."""
PieceLength = Annotated[Nm, length_within(Nm(10 * _METRE))]
"""A size of a piece or tool: above 0, 10 m at most."""
Allowance = Annotated[Nm, length_within(Nm(10 * _METRE), zero=True)]
"""A width, gap or trim: from 0 to 10 m."""
StockLength = Annotated[Nm, length_within(Nm(100 * _METRE))]
"""A size of stock or a run on the roof: above 0, 100 m at most."""
Lengths = Annotated[Nm | tuple[Nm, ...], _measures("length, or a list of them", readers.read_lengths)]
"""One length, or a list of them."""
Angle = Annotated[float, _reads("degrees", readers.read_angle)]
"""Degrees, finite."""
HandBends = Annotated[
    tuple[tuple[int, float], ...], _reads("[bend, degrees], or a list of such pairs", readers.read_hand_bends)
]
"""Bends or edges by number, with the degrees left to the hands."""
Thicknesses = Annotated[float, _reads('thicknesses, "2 t"', readers.read_setback)]
"""A multiple of the metal's thickness."""
Share = Annotated[Fraction, _reads('share, "5 %"', readers.read_share)]
"""A share of 1, written in percent."""
SpareRule = Annotated[Spare, _reads('share or pieces, "5 %" or "10 pieces"', readers.read_spare)]
OnHandRule = Annotated[OnHand, _measures('"250 ft", "310 lb" or a count', readers.read_on_hand)]
PriceRule = Annotated[Price, _reads('price, "9.40 per lb"', readers.read_price)]
ScrapPriceRule = Annotated[Price, _reads('price by weight, "3.10 per lb"', readers.read_scrap_price)]
Pounds = Annotated[float, _measures('weight, "310 lb" or "140 kg"', readers.read_pounds)]
"""A weight, pounds."""
Time = Annotated[float, _reads('time, "40 s" or "1.5 min"', readers.read_time)]
"""A time, seconds."""
Days = Annotated[int, _reads('"10 days" or "2 weeks"', readers.read_days)]
"""Days."""
HourRateRule = Annotated[HourRate, _measures('money an hour, or "6 lb" of metal', readers.read_rate)]
"""What an hour weighs."""
Size = Annotated[tuple[Nm, Nm], _measures('size, "6 x 12 in"', readers.read_size)]
"""Width and length."""
Label = Annotated[str, _reads("text", label)]
"""A mark or name."""
MetalName = Annotated[str, _reads("text", readers.read_metal_name)]
"""A metal profile: a shipped one by name, in its plain form, or a path to a file."""
Note = Annotated[str, _reads("text", readers.read_note)]
"""Free text of one line."""
