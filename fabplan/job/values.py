"""Field types of the job file: each parses what people write into one exact value.

Bare numbers take the job's units, handed down as the validation context ``{"units": "in" | "mm"}``.
A parser raises `BadValueError`; `fabplan.job.load` adds file, line and key.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, ValidationInfo

from fabplan.errors import BadValueError, is_hidden, quoted
from fabplan.units import NM_PER_FOOT, NM_PER_MM, POUNDS_TO_KG, Nm, exact_number, parse_length, plain

PricePer = Literal["lb", "kg", "foot", "meter", "sheet", "piece"]

_SHORT = 60
_DECIMAL = r"(\d+(?:\.\d+)?|\.\d+)"
_PER = {
    **dict.fromkeys(("lb", "lbs", "lb.", "pound", "pounds"), "lb"),
    **dict.fromkeys(("kg", "kilogram", "kilograms", "kilo"), "kg"),
    **dict.fromkeys(("foot", "feet", "ft", "ft."), "foot"),
    **dict.fromkeys(("meter", "meters", "metre", "metres", "m"), "meter"),
    **dict.fromkeys(("sheet", "sheets"), "sheet"),
    **dict.fromkeys(("piece", "pieces", "each", "offcut"), "piece"),
}
_WEIGHT = re.compile(rf"{_DECIMAL}\s*(lbs?\.?|pounds?|kg|kilograms?|oz\.?|ounces?)", re.I | re.A)
_COUNTED = re.compile(r"(\d+)\s*(pieces?|sheets?|pcs?\.?|offcuts?)", re.I | re.A)


@dataclass(frozen=True, slots=True, kw_only=True)
class Price:
    """Money per sold unit; `amount` is exact."""

    amount: Decimal
    per: PricePer


@dataclass(frozen=True, slots=True, kw_only=True)
class Spare:
    """Extra pieces: a share of the count, or a number of pieces."""

    share: Fraction = Fraction(0)
    pieces: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class OnHand:
    """Stock on hand: a coil's length or weight, or a count of sheets."""

    length: Nm | None = None
    pounds: float | None = None
    count: int | None = None


_SAYS: dict[Callable[..., Any], str] = {}


def says(check: object) -> str:
    """What a validator of this file reads, in words; "" for any other."""
    return _SAYS.get(check, "") if callable(check) else ""


def _units(info: ValidationInfo) -> str:
    return str((info.context or {}).get("units", "in"))


def _text(value: Any, rule: str, write: str) -> str:
    if not isinstance(value, str) or len(value) > _SHORT:
        raise BadValueError(rule, value=quoted(value), write=write)
    return plain(value)


def _signed_length(value: Any, info: ValidationInfo) -> Nm:
    return parse_length(value, _units(info))


def _length(value: Any, info: ValidationInfo) -> Nm:
    length = parse_length(value, _units(info))
    if length < 0:
        raise BadValueError("must not be negative", value=quoted(value), write="a length of 0 or more")
    return length


def _positive_length(value: Any, info: ValidationInfo) -> Nm:
    length = parse_length(value, _units(info))
    if length <= 0:
        raise BadValueError("must be more than 0", value=quoted(value), write="a length above 0")
    return length


def length_within(longest: Nm, *, zero: bool = False) -> BeforeValidator:
    """Validator of a length above 0 (or from 0) and at most `longest`, a whole number of metres."""
    lowest = _length if zero else _positive_length

    def check(value: Any, info: ValidationInfo) -> Nm:
        length = lowest(value, info)
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
        angle = _angle(value)
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
        number = _whole(value)
        if not least <= number <= most:
            rule = f"must be {least:,} to {most:,}"
            raise BadValueError(rule, value=quoted(value), write=f"a whole number from {least} to {most}")
        return number

    _SAYS[check] = f"whole number, {least:,} to {most:,}"
    return BeforeValidator(check)


def real_within(least: float, most: float) -> BeforeValidator:
    """Validator of a finite number from `least` to `most`."""

    def check(value: Any) -> float:
        number = _real(value)
        if not least <= number <= most:
            rule = f"must be {least:g} to {most:g}"
            raise BadValueError(rule, value=quoted(value), write=f"a number from {least:g} to {most:g}")
        return number

    _SAYS[check] = f"number, {least:g} to {most:g}"
    return BeforeValidator(check)


def _lengths(value: Any, info: ValidationInfo) -> Nm | tuple[Nm, ...]:
    """One length, or a list of them."""
    if isinstance(value, (list, tuple)):
        return tuple(_length(item, info) for item in value)
    return _length(value, info)


def _angle(value: Any) -> float:
    write = "degrees as a number, for example 90"
    if isinstance(value, str):
        match = re.fullmatch(
            rf"(-?)\s*{_DECIMAL}\s*(°|deg\.?|degrees?)?", _text(value, "must be an angle", write), re.I | re.A
        )
        if match is None:
            raise BadValueError("must be an angle", value=quoted(value), write=write)
        value = Decimal(match[1] + match[2])
    return float(exact_number(value, "must be an angle", write))


def _real(value: Any) -> float:
    return float(exact_number(value, "must be a number", "a number without quotes"))


def _setback(value: Any) -> float:
    """A multiple of the metal's thickness: ``"2 t"`` or ``2``."""
    write = '"2 t" (times the metal\'s thickness)'
    if isinstance(value, str):
        match = re.fullmatch(rf"{_DECIMAL}\s*t?", _text(value, "must be a number of thicknesses", write), re.I | re.A)
        if match is None:
            raise BadValueError("must be a number of thicknesses", value=quoted(value), write=write)
        value = Decimal(match[1])
    number = float(exact_number(value, "must be a number of thicknesses", write))
    if not 0 <= number <= 20:
        raise BadValueError("must be 0 to 20 thicknesses", value=quoted(value), write=write)
    return number


def _whole(value: Any) -> int:
    rule, write = "must be a whole number", "a whole number without quotes"
    number = exact_number(value, rule, write)
    if number.denominator != 1:
        raise BadValueError(rule, value=quoted(value), write=write)
    return int(number)


def _share(value: Any) -> Fraction:
    rule, write = "must be a share in percent", '"5 %"'
    if isinstance(value, (int, Decimal, float)) and not isinstance(value, bool) and value == 0:
        return Fraction(0)
    match = re.fullmatch(rf"{_DECIMAL}\s*(%|percent|per cent)", _text(value, rule, write), re.I | re.A)
    if match is None:
        raise BadValueError(rule, value=quoted(value), write=write)
    share = Fraction(match[1]) / 100
    if share > 1:
        raise BadValueError("must be 100 % at most", value=quoted(value), write=write)
    return share


def _spare(value: Any) -> Spare:
    rule, write = "must be a share or a number of pieces", '"5 %" or "10 pieces"'
    if isinstance(value, Spare):
        return value
    if isinstance(value, (int, Decimal, float)) and not isinstance(value, bool) and value == 0:
        return Spare()
    text = _text(value, rule, write)
    if "%" in text or "cent" in text.lower():
        return Spare(share=_share(value))
    match = _COUNTED.fullmatch(text)
    if match is None:
        raise BadValueError(rule, value=quoted(value), write=write)
    pieces = int(match[1])
    if pieces > 1_000_000:
        raise BadValueError("may be 1,000,000 pieces at most", value=quoted(value), write=write)
    return Spare(pieces=pieces)


def pounds(value: Any, units: str) -> float:
    """Weight in pounds of ``"310 lb"``, ``"140 kg"``, ``"16 oz"`` or a bare number in lb or kg."""
    rule, write = "must be a weight", '"310 lb" or "140 kg"'
    if isinstance(value, str):
        match = _WEIGHT.fullmatch(_text(value, rule, write))
        if match is None:
            raise BadValueError(rule, value=quoted(value), write=write)
        amount, name = Fraction(match[1]), match[2].lower()[0]
    else:
        amount, name = exact_number(value, rule, write), "k" if units == "mm" else "l"
    if not 0 < amount <= 10_000_000:
        raise BadValueError("must be more than 0 and at most 10,000,000", value=quoted(value), write=write)
    per_unit = {"l": Fraction(1), "k": 1 / POUNDS_TO_KG, "o": Fraction(1, 16), "p": Fraction(1)}[name]
    return float(amount * per_unit)


def _pounds(value: Any, info: ValidationInfo) -> float:
    return pounds(value, _units(info))


def _on_hand(value: Any, info: ValidationInfo) -> OnHand:
    rule, write = "must say how much is on hand", '"250 ft" or "310 lb" for a coil, a count such as 12 for sheets'
    if isinstance(value, OnHand):
        return value
    if not isinstance(value, str):
        count = exact_number(value, rule, write)
        if count.denominator != 1 or not 0 <= count <= 1_000_000:
            raise BadValueError("a count must be a whole number from 0 to 1,000,000", value=quoted(value), write=write)
        return OnHand(count=int(count))
    text = _text(value, rule, write)
    if match := re.fullmatch(r"(\d+)", text, re.A) or _COUNTED.fullmatch(text):
        return _on_hand(int(match[1]), info)
    if _WEIGHT.fullmatch(text):
        return OnHand(pounds=pounds(text, _units(info)))
    try:
        return OnHand(length=_length(text, info))
    except BadValueError:
        raise BadValueError(rule, value=quoted(value), write=write) from None


def _price(value: Any) -> Price:
    rule, write = "must be a price per sold unit", '"9.40 per lb" (or per kg, foot, meter, sheet, piece)'
    if isinstance(value, Price):
        return value
    text = _text(value, rule, write)
    match = re.fullmatch(rf"[$€£]?\s*{_DECIMAL}\s*[$€£]?\s*(?:per|/|a)\s*([a-z.]+)", text, re.I | re.A)
    if match is None:
        raise BadValueError(rule, value=quoted(value), write=write)
    per = _PER.get(match[2].lower())
    if per is None:
        raise BadValueError(f"unknown sold unit {quoted(match[2])}", value=quoted(value), write=write)
    amount = Decimal(match[1])
    if amount > 1_000_000:
        raise BadValueError("a price may be 1,000,000 at most", value=quoted(value), write=write)
    return Price(amount=amount, per=per)  # type: ignore[arg-type]


def _size(value: Any, info: ValidationInfo) -> tuple[Nm, Nm]:
    rule, write = "must be a width and a length", '"6 x 12 in"'
    if isinstance(value, (list, tuple)) and len(value) == 2:
        return _positive_length(value[0], info), _positive_length(value[1], info)
    parts = re.split(r"\s*(?:x|\bby\b)\s*", _text(value, rule, write), flags=re.I)
    if len(parts) != 2 or not all(parts):
        raise BadValueError(rule, value=quoted(value), write=write)
    unit = re.search(r"[a-z\"'.]+$", parts[1], re.I)
    if unit and re.fullmatch(r"[\d\s./-]+", parts[0]):
        parts[0] += " " + unit[0]
    try:
        return _positive_length(parts[0], info), _positive_length(parts[1], info)
    except BadValueError as fault:
        raise BadValueError(f"{rule}: {fault.rule}", value=quoted(value), write=write) from None


def label(value: Any) -> str:
    """A mark or name: one line, 1 to 60 characters, nothing hidden."""
    if isinstance(value, int) and not isinstance(value, bool) and 0 <= value < 10**12:
        return str(value)
    if not isinstance(value, str):
        raise BadValueError("must be text", value=quoted(value), write="text in quotes")
    text = value.strip()
    if not text:
        raise BadValueError("must not be empty", value=quoted(value), write="a short name")
    if len(text) > _SHORT:
        raise BadValueError("may be 60 characters at most", value=quoted(value), write="a shorter name")
    if any(is_hidden(char) for char in text):
        raise BadValueError("must be one line without hidden characters", value=quoted(value), write="plain text")
    return text


def _note(value: Any) -> str:
    """Free text of one line, may be empty; a date or number is taken as written."""
    if isinstance(value, datetime.date):
        return value.isoformat()
    if isinstance(value, (int, Decimal)) and not isinstance(value, bool):
        value = quoted(value)
    if not isinstance(value, str):
        raise BadValueError("must be text", value=quoted(value), write="text in quotes")
    if len(value) > 200:
        raise BadValueError("may be 200 characters at most", value=quoted(value), write="a shorter text")
    if any(is_hidden(char) for char in value):
        raise BadValueError("must be one line without hidden characters", value=quoted(value), write="plain text")
    return value.strip()


def word(value: Any) -> Any:
    """A choice as people type it: hyphen, underscore, spaces and capitals do not matter."""
    return re.sub(r"[\s_-]+", "-", plain(value)).lower() if isinstance(value, str) and len(value) <= _SHORT else value


_SAYS |= {
    _length: "length",
    _positive_length: "length",
    _signed_length: "length, may be negative",
    _lengths: "length, or a list of them",
    _angle: "degrees",
    _real: "number",
    _setback: 'thicknesses, "2 t"',
    _whole: "whole number",
    _share: 'share, "5 %"',
    _spare: 'share or pieces, "5 %" or "10 pieces"',
    _on_hand: '"250 ft", "310 lb" or a count',
    _price: 'price, "9.40 per lb"',
    _pounds: 'weight, "310 lb" or "140 kg"',
    _size: 'size, "6 x 12 in"',
    label: "text",
    _note: "text",
}
_METRE = 1000 * NM_PER_MM
Length = Annotated[Nm, BeforeValidator(_length)]
"""A length of 0 or more."""
PositiveLength = Annotated[Nm, BeforeValidator(_positive_length)]
"""A length above 0."""
SignedLength = Annotated[Nm, BeforeValidator(_signed_length)]
"""A length of either sign: a coordinate, an allowance."""
PieceLength = Annotated[Nm, length_within(Nm(10 * _METRE))]
"""A size of a piece or tool: above 0, 10 m at most."""
Allowance = Annotated[Nm, length_within(Nm(10 * _METRE), zero=True)]
"""A width, gap or trim: from 0 to 10 m."""
StockLength = Annotated[Nm, length_within(Nm(100 * _METRE))]
"""A size of stock or a run on the roof: above 0, 100 m at most."""
Lengths = Annotated[Nm | tuple[Nm, ...], BeforeValidator(_lengths)]
"""One length, or a list of them."""
Angle = Annotated[float, BeforeValidator(_angle)]
"""Degrees, finite."""
Real = Annotated[float, BeforeValidator(_real)]
"""A finite number without a unit."""
Thicknesses = Annotated[float, BeforeValidator(_setback)]
"""A multiple of the metal's thickness."""
Whole = Annotated[int, BeforeValidator(_whole)]
"""A whole number."""
Share = Annotated[Fraction, BeforeValidator(_share)]
"""A share of 1, written in percent."""
SpareRule = Annotated[Spare, BeforeValidator(_spare)]
OnHandRule = Annotated[OnHand, BeforeValidator(_on_hand)]
PriceRule = Annotated[Price, BeforeValidator(_price)]
Pounds = Annotated[float, BeforeValidator(_pounds)]
"""A weight, pounds."""
Size = Annotated[tuple[Nm, Nm], BeforeValidator(_size)]
"""Width and length."""
Label = Annotated[str, BeforeValidator(label)]
"""A mark or name."""
Note = Annotated[str, BeforeValidator(_note)]
"""Free text of one line."""
