"""Readers of what people write in a job file: shares, spares, weights, prices, sizes, angles, names.

Each takes a value as it stands in the file, and the job's units where a bare number needs them, and raises
`BadValueError`; `fabplan.job.load` adds file, line and key.
"""

from __future__ import annotations

import datetime
import re
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any, Literal

from fabplan.errors import BadValueError, is_hidden, quoted
from fabplan.units import POUNDS_TO_KG, Nm, exact_number, parse_length, plain

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
_TIME_UNITS = {
    **dict.fromkeys(("s", "sec", "secs", "second", "seconds"), 1),
    **dict.fromkeys(("min", "mins", "minute", "minutes"), 60),
    **dict.fromkeys(("h", "hr", "hrs", "hour", "hours"), 3600),
}
_LONGEST_TIME = 10 * 3600  # seconds: a working day
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
class HourRate:
    """What an hour of work weighs: money, or pounds of metal; one of the two."""

    money: float | None = None
    pounds: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OnHand:
    """Stock on hand: a coil's length or weight, or a count of sheets."""

    length: Nm | None = None
    pounds: float | None = None
    count: int | None = None


def _text(value: Any, rule: str, write: str) -> str:
    if not isinstance(value, str) or len(value) > _SHORT:
        raise BadValueError(rule, value=quoted(value), write=write)
    return plain(value)


def read_length(value: Any, units: str) -> Nm:
    """A length of 0 or more."""
    length = parse_length(value, units)
    if length < 0:
        raise BadValueError("must not be negative", value=quoted(value), write="a length of 0 or more")
    return length


def read_positive_length(value: Any, units: str) -> Nm:
    """A length above 0."""
    length = parse_length(value, units)
    if length <= 0:
        raise BadValueError("must be more than 0", value=quoted(value), write="a length above 0")
    return length


def read_lengths(value: Any, units: str) -> Nm | tuple[Nm, ...]:
    """One length, or a list of them."""
    if isinstance(value, (list, tuple)):
        return tuple(read_length(item, units) for item in value)
    return read_length(value, units)


def read_hand_bends(value: Any) -> tuple[tuple[int, float], ...]:
    """``[4, 45]``, or a list of such pairs: number of a bend, degrees left to the hands."""
    write = "[bend number, degrees], for example [4, 45]"
    if not isinstance(value, (list, tuple)):
        raise BadValueError("must be a pair or a list of pairs", value=quoted(value), write=write)
    pairs = value if all(isinstance(v, (list, tuple)) for v in value) else [value]
    out: list[tuple[int, float]] = []
    for pair in pairs:
        if len(pair) != 2:
            raise BadValueError("must be a pair of bend and degrees", value=quoted(pair), write=write)
        number, degrees = read_whole(pair[0]), read_angle(pair[1])
        if number < 1 or not 0 < degrees <= 180:
            raise BadValueError("must name a bend from 1 and 0 to 180 degrees", value=quoted(pair), write=write)
        if any(n == number for n, _ in out):
            raise BadValueError("names a bend twice", value=str(number), write="every bend once")
        out.append((number, degrees))
    return tuple(out)


def read_angle(value: Any) -> float:
    """Degrees: ``90``, ``"90°"``."""
    write = "degrees as a number, for example 90"
    if isinstance(value, str):
        match = re.fullmatch(
            rf"(-?)\s*{_DECIMAL}\s*(°|deg\.?|degrees?)?", _text(value, "must be an angle", write), re.I | re.A
        )
        if match is None:
            raise BadValueError("must be an angle", value=quoted(value), write=write)
        value = Decimal(match[1] + match[2])
    return float(exact_number(value, "must be an angle", write))


def read_real(value: Any) -> float:
    """A finite number without a unit."""
    return float(exact_number(value, "must be a number", "a number without quotes"))


def read_setback(value: Any) -> float:
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


def read_whole(value: Any) -> int:
    """A whole number."""
    rule, write = "must be a whole number", "a whole number without quotes"
    number = exact_number(value, rule, write)
    if number.denominator != 1:
        raise BadValueError(rule, value=quoted(value), write=write)
    return int(number)


def _is_zero(value: Any) -> bool:
    """A bare 0, the one number that needs no unit."""
    if isinstance(value, Decimal):
        return value.is_zero()  # unlike ==, never trips over a signalling NaN
    return isinstance(value, (int, float)) and not isinstance(value, bool) and value == 0


def read_share(value: Any) -> Fraction:
    """A share of 1, written in percent: ``"5 %"``."""
    rule, write = "must be a share in percent", '"5 %"'
    if _is_zero(value):
        return Fraction(0)
    match = re.fullmatch(rf"{_DECIMAL}\s*(%|percent|per cent)", _text(value, rule, write), re.I | re.A)
    if match is None:
        raise BadValueError(rule, value=quoted(value), write=write)
    share = Fraction(match[1]) / 100
    if share > 1:
        raise BadValueError("must be 100 % at most", value=quoted(value), write=write)
    return share


def read_spare(value: Any) -> Spare:
    """``"5 %"`` or ``"10 pieces"``."""
    rule, write = "must be a share or a number of pieces", '"5 %" or "10 pieces"'
    if isinstance(value, Spare):
        return value
    if _is_zero(value):
        return Spare()
    text = _text(value, rule, write)
    if "%" in text or "cent" in text.lower():
        return Spare(share=read_share(value))
    match = _COUNTED.fullmatch(text)
    if match is None:
        raise BadValueError(rule, value=quoted(value), write=write)
    pieces = int(match[1])
    if pieces > 1_000_000:
        raise BadValueError("may be 1,000,000 pieces at most", value=quoted(value), write=write)
    return Spare(pieces=pieces)


def read_pounds(value: Any, units: str) -> float:
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


def read_time(value: Any) -> float:
    """Seconds of ``"40 s"``, ``"1.5 min"``, ``"0.1 h"`` or ``"1 min 30 s"``; a bare number only when it is 0."""
    rule, write = "must be a time", '"40 s", "1.5 min" or "0.1 h"'
    if _is_zero(value):
        return 0.0
    text = _text(value, rule, write)
    parts = re.findall(rf"{_DECIMAL}\s*([a-z]+)\.?\s*", text, re.I | re.A)
    if not parts or not re.fullmatch(rf"(?:{_DECIMAL}\s*[a-z]+\.?\s*)+", text, re.I | re.A):
        raise BadValueError(rule, value=quoted(value), write=write)
    total, last = Fraction(0), _LONGEST_TIME
    for amount, name in parts:
        unit = _TIME_UNITS.get(name.lower())
        if unit is None:
            raise BadValueError(f"unknown unit of time {quoted(name)}", value=quoted(value), write=write)
        if unit >= last:
            raise BadValueError(rule, value=quoted(value), write=write)
        total, last = total + Fraction(amount) * unit, unit
    if total > _LONGEST_TIME:
        raise BadValueError("may be 10 h at most", value=quoted(value), write="a shorter time")
    return float(total)


def read_days(value: Any) -> int:
    """Days of ``"10 days"`` or ``"2 weeks"``."""
    rule, write = "must be a number of days or weeks", '"10 days" or "2 weeks"'
    match = re.fullmatch(r"(\d{1,4})\s*(days?|weeks?)", _text(value, rule, write), re.I | re.A)
    if match is None:
        raise BadValueError(rule, value=quoted(value), write=write)
    days = int(match[1]) * (7 if match[2].lower().startswith("week") else 1)
    if days > 730:
        raise BadValueError("may be two years at most", value=quoted(value), write=write)
    return days


def read_rate(value: Any, units: str) -> HourRate:
    """What an hour weighs: ``75`` or ``"75 per hour"`` in the job's money, ``"6 lb"`` or ``"3 kg/h"`` of metal."""
    rule, write = "must be money an hour, or metal an hour", '75 (money an hour) or "6 lb" (metal an hour)'
    if isinstance(value, HourRate):
        return value
    if isinstance(value, str):
        text = re.sub(r"\s*(?:per|/|an|a)\s*(?:hour|hr|h)\.?$", "", _text(value, rule, write), flags=re.I)
        if _WEIGHT.fullmatch(text):
            return HourRate(pounds=read_pounds(text, units))
        match = re.fullmatch(rf"(?:[^\W\d_]{{1,5}}\.?|[$€£])?\s*{_DECIMAL}\s*(?:[^\W\d_]{{1,5}}\.?|[$€£])?", text)
        if match is None:
            raise BadValueError(rule, value=quoted(value), write=write)
        number = Fraction(match[1])
    else:
        number = exact_number(value, rule, write)
    if not 0 <= number <= 1_000_000:
        raise BadValueError("must be 0 to 1,000,000", value=quoted(value), write=write)
    return HourRate(money=float(number))


def read_on_hand(value: Any, units: str) -> OnHand:
    """``"250 ft"``, ``"310 lb"`` or a count."""
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
        return read_on_hand(int(match[1]), units)
    if _WEIGHT.fullmatch(text):
        return OnHand(pounds=read_pounds(text, units))
    try:
        return OnHand(length=read_length(text, units))
    except BadValueError:
        raise BadValueError(rule, value=quoted(value), write=write) from None


def read_price(value: Any) -> Price:
    """``"9.40 per lb"``."""
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


def read_scrap_price(value: Any) -> Price:
    """``"3.10 per lb"``: what the scrap dealer pays."""
    price = read_price(value)
    if price.per not in ("lb", "kg"):
        raise BadValueError("scrap is sold by weight", value=quoted(value), write='"3.10 per lb" or per kg')
    return price


def read_size(value: Any, units: str) -> tuple[Nm, Nm]:
    """Width and length: ``"6 x 12 in"``."""
    rule, write = "must be a width and a length", '"6 x 12 in"'
    if isinstance(value, (list, tuple)) and len(value) == 2:
        return read_positive_length(value[0], units), read_positive_length(value[1], units)
    parts = re.split(r"\s*(?:x|\bby\b)\s*", _text(value, rule, write), flags=re.I)
    if len(parts) != 2 or not all(parts):
        raise BadValueError(rule, value=quoted(value), write=write)
    unit = re.search(r"[a-z\"'.]+$", parts[1], re.I)
    if unit and re.fullmatch(r"[\d\s./-]+", parts[0]):
        parts[0] += " " + unit[0]
    try:
        return read_positive_length(parts[0], units), read_positive_length(parts[1], units)
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


def read_note(value: Any) -> str:
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


def read_metal_name(value: Any) -> str:
    """Name of a shipped profile in its plain form, so that two spellings are one metal; a path stays as typed."""
    text = label(value)
    return text if re.search(r"[/\\]|\.toml$", text, re.I) else str(word(text))


def word(value: Any) -> Any:
    """A choice as people type it: hyphen, underscore, spaces and capitals do not matter."""
    return re.sub(r"[\s_-]+", "-", plain(value)).lower() if isinstance(value, str) and len(value) <= _SHORT else value
