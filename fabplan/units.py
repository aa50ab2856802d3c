"""Lengths as people write them, exact inside.

A length is an integer number of nanometres (`Nm`): 1/64 in = 396 875 nm and 0.001 mm = 1 000 nm are both exact.
Read with `parse_length`, printed with `Show`, handed to plan files with `number`; nowhere else.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from numbers import Integral
from typing import Literal, NewType

from fabplan.errors import BadValueError, quoted

Nm = NewType("Nm", int)
Units = Literal["in", "mm"]
NM_PER_INCH = 25_400_000  # the international inch, 25.4 mm exactly (NIST Handbook 44, appendix C)
NM_PER_MM = 1_000_000
NM_PER_FOOT = 12 * NM_PER_INCH
POUNDS_TO_KG = Fraction(45_359_237, 100_000_000)  # avoirdupois pound (NIST SP 811, appendix B)
SQ_IN_PER_SQ_FT = 144
MM2_PER_SQ_IN = Fraction(64_516, 100)
LONGEST = 10_000_000 * NM_PER_MM  # 10 km: anything longer is a slip, not sheet metal

_LONGEST_TEXT = 60
_UNITS: dict[str, int] = {
    **dict.fromkeys(("in", "in.", "inch", "inches", '"', "''"), NM_PER_INCH),
    **dict.fromkeys(("ft", "ft.", "foot", "feet", "'"), NM_PER_FOOT),
    **dict.fromkeys(("mm", "mm.", "millimeter", "millimeters", "millimetre", "millimetres"), NM_PER_MM),
    **dict.fromkeys(("cm", "cm.", "centimeter", "centimeters", "centimetre", "centimetres"), 10 * NM_PER_MM),
    **dict.fromkeys(("m", "m.", "meter", "meters", "metre", "metres"), 1000 * NM_PER_MM),
}
# Vulgar fractions are spelled out by hand: compatibility folding would turn 14½ into 141/2.
_VULGAR = {
    "½": "1/2", "⅓": "1/3", "⅔": "2/3", "¼": "1/4", "¾": "3/4", "⅕": "1/5", "⅖": "2/5", "⅗": "3/5", "⅘": "4/5",
    "⅙": "1/6", "⅚": "5/6", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8", "⅒": "1/10",
}  # fmt: skip
_PLAIN = str.maketrans(
    {
        **dict.fromkeys("\u00a0\u2000\u2001\u2002\u2003\u2004\u2005\u2006\u2007\u2008\u2009\u200a\u202f\u205f\t", " "),
        **dict.fromkeys("\u2010\u2011\u2012\u2013\u2014\u2015\u2212\ufe63\uff0d", "-"),
        **dict.fromkeys("\u2033\u201c\u201d\u201e\u201f\u02ba\uff02", '"'),
        **dict.fromkeys("\u2032\u2018\u2019\u201a\u201b\u02b9\u00b4\u0060\uff07", "'"),
        **dict.fromkeys("\u2044\u2215\uff0f", "/"),
        **dict.fromkeys("\u00d7\u2715\u2a09", "x"),
        "\uff05": "%",
        **{sign: f" {text} " for sign, text in _VULGAR.items()},
    }
)
_NUMBER = r"(?:(?P<{0}whole>\d+)\s*[- ]\s*)?(?P<{0}over>\d+)\s*/\s*(?P<{0}under>\d+)|(?P<{0}dec>\d+(?:\.\d*)?|\.\d+)"
_FOOT = r"(?:ft\.?|foot|feet|'(?!'))"
_FEET_INCHES = re.compile(
    rf"(?P<sign>-)?\s*(?P<feet>\d+)\s*{_FOOT}\s*-?\s*(?:{_NUMBER.format('i')})\s*(?:in\.?|inch|inches|\"|'')?",
    re.I | re.A,
)
_ONE_UNIT = re.compile(rf"(?P<sign>-)?\s*(?:{_NUMBER.format('n')})\s*(?P<unit>[a-z]+\.?|\"|'')?", re.I | re.A)
_ONE_FOOT_MARK = re.compile(rf"(?P<sign>-)?\s*(?:{_NUMBER.format('n')})\s*(?P<unit>')", re.I | re.A)
HOW = 'for example "14-1/2 in", "1 ft 2-1/2 in" or "368.3 mm"'


def plain(text: str) -> str:
    """Typed text with its look-alike characters made plain.

    Curly quotes, primes, long dashes, fraction slashes, hard spaces, ``×`` and ``½`` become what a typewriter has.
    """
    return " ".join(text.translate(_PLAIN).split())


def inches(length: int) -> float:
    """Length in inches as a float, for geometry."""
    return length / NM_PER_INCH


def from_inches(value: float) -> Nm:
    """Nearest whole nanometre to a computed length in inches."""
    return Nm(round(value * NM_PER_INCH))


def to_grid(length: float | Fraction, grid: int, how: str = "nearest") -> int:
    """Number of graduations in a length of nanometres.

    Parameters
    ----------
    length : number
        Nanometres.
    grid : int
        Nanometres in one graduation, > 0.
    how : {"nearest", "up", "down"}
    """
    exact = Fraction(length) / grid
    if how == "up":
        return -((-exact.numerator) // exact.denominator)
    if how == "down":
        return exact.numerator // exact.denominator
    return int((exact + Fraction(1, 2)).__floor__())


def exact_number(value: object, what: str, write: str) -> Fraction:
    """Exact value of a bare number from a file; refuses true/false, NaN, infinity and endless sizes."""
    if isinstance(value, bool) or not isinstance(value, (int, float, Decimal)):
        raise BadValueError(what, value=quoted(value), write=write)
    if isinstance(value, int):
        if value.bit_length() > 200:
            raise BadValueError("the number is too large", value="a number of more than 60 digits", write=write)
        return Fraction(value)
    number = value if isinstance(value, Decimal) else Decimal(repr(value))
    if not number.is_finite():
        raise BadValueError("must be a finite number", value=str(number).lower(), write=write)
    if (number and not -60 < number.adjusted() < 60) or len(number.as_tuple().digits) > 60:
        raise BadValueError("the number is out of range", value=quoted(value), write=write)
    return Fraction(number)


def parse_length(value: object, unit: str = "in") -> Nm:
    """Exact length of what a person wrote.

    Parameters
    ----------
    value : str or number
        ``14-1/2 in``, ``14 1/2"``, ``14½ in``, ``1 ft 2-1/2 in``, ``1'-2"``, ``368.3 mm``, ``36.8 cm``, ``1.2 m``;
        a bare number (or text without a unit) takes `unit`.
    unit : {"in", "mm"}
        Unit of a bare number.

    Returns
    -------
    Nm
        Whole nanometres, rounded to the nearest where a fraction such as 1/3 in does not come out whole.

    Raises
    ------
    BadValueError
        When it is not a length, or longer than 10 km.
    """
    per_unit = NM_PER_MM if unit == "mm" else NM_PER_INCH
    if isinstance(value, str):
        exact = _typed_length(value, per_unit)
    else:
        exact = exact_number(value, "must be a length", HOW) * per_unit
    if abs(exact) > LONGEST:
        raise BadValueError("a length may be 10 km at most", value=quoted(value), write="a shorter length")
    return Nm(to_grid(exact, 1))


def _typed_length(typed: str, per_unit: int) -> Fraction:
    if len(typed) > _LONGEST_TEXT:
        raise BadValueError("must be a length", value=f"{len(typed)} characters", write=HOW)
    text = plain(typed)
    if match := _FEET_INCHES.fullmatch(text):
        inch_part = _fraction(match, "i", typed)
        if inch_part >= 12:
            raise BadValueError(
                "inches after feet must be less than 12", value=quoted(typed), write="the whole length in inches"
            )
        total = int(match["feet"]) * NM_PER_FOOT + inch_part * NM_PER_INCH
        return -total if match["sign"] else total
    match = _ONE_FOOT_MARK.fullmatch(text) or _ONE_UNIT.fullmatch(text)
    if not text or match is None:
        raise BadValueError(*_not_a_length(text), value=quoted(typed), write=HOW)
    name = match["unit"]
    if name is not None:
        if name.lower() not in _UNITS:
            raise BadValueError(f"unknown unit {quoted(name)}", value=quoted(typed), write=HOW)
        per_unit = _UNITS[name.lower()]
    total = _fraction(match, "n", typed) * per_unit
    return -total if match["sign"] else total


def _not_a_length(text: str) -> tuple[str]:
    if re.fullmatch(r"-?\s*\d+,\d+\s*[a-z\"']*", text, re.I):
        return ("decimals take a point, not a comma",)
    return ("must be a length",)


def _fraction(match: re.Match[str], which: str, typed: str) -> Fraction:
    """Value of a matched decimal, fraction or mixed number."""
    if match[f"{which}dec"] is not None:
        return Fraction(match[f"{which}dec"].rstrip(".") or "0")
    over, under = int(match[f"{which}over"]), int(match[f"{which}under"])
    if under == 0:
        raise BadValueError("a fraction cannot be over 0", value=quoted(typed), write=HOW)
    whole = match[f"{which}whole"]
    if whole is None and over >= under and len(str(over)) > len(str(under)):
        raise BadValueError(  # 11/8 may be 1-1/8 with the space lost
            "this fraction can be read two ways", value=quoted(typed), write="a mixed number, for example 1-3/8 in"
        )
    if whole is not None and over >= under:
        raise BadValueError(
            "the fraction of a mixed number must be less than 1", value=quoted(typed), write="for example 14-1/2 in"
        )
    return int(whole or 0) + Fraction(over, under)


@dataclass(frozen=True, slots=True)
class Show:
    """Prints sizes in a job's units, rounded to its smallest graduation.

    A whole number is nanometres (`Nm`), a float is inches: the two forms lengths take inside.

    Parameters
    ----------
    unit : {"in", "mm"}
    grid : int
        The job's ``round_to``, nanometres.
    """

    unit: str
    grid: int

    def bare(self, length: float) -> str:
        """Length on the grid without its unit: ``14-1/32`` or ``356.5``."""
        return self._text(to_grid(_nm(length), self.grid) * self.grid)

    def length(self, length: float) -> str:
        """Length on the grid: ``14-1/32 in`` or ``356.5 mm``."""
        return f"{self.bare(length)} {self.unit}"

    def exact(self, length: int) -> str:
        """A typed length as it is, on the grid or off it: ``1/16 in``, ``0.06 in``, ``1.2 mm``."""
        if self.unit == "in":
            if (64 * length) % NM_PER_INCH == 0:
                return f"{_inch_fraction(length)} in"
            return f"{_decimals(Fraction(length, NM_PER_INCH), 4)} in"
        return f"{_decimals(Fraction(length, NM_PER_MM), 3)} mm"

    def fine(self, length: float) -> str:
        """A small computed or listed size: ``0.0216 in`` (4 decimals) or ``0.549 mm`` (3)."""
        exact = Fraction(_nm(length))
        if self.unit == "in":
            return f"{_decimals(exact / NM_PER_INCH, 4)} in"
        return f"{_decimals(exact / NM_PER_MM, 3)} mm"

    def size(self, width: float, length: float) -> str:
        """Two lengths: ``24 x 42-3/32 in``."""
        return f"{self.bare(width)} x {self.bare(length)} {self.unit}"

    def run(self, length: float) -> str:
        """A long run to one decimal: ``42.1 ft`` or ``12.8 m``."""
        exact = Fraction(_nm(length))
        if self.unit == "in":
            return f"{_decimals(exact / NM_PER_FOOT, 1)} ft"
        return f"{_decimals(exact / (1000 * NM_PER_MM), 1)} m"

    def area(self, square_inches: float) -> str:
        """Area to one decimal of a square foot, or two of a square metre."""
        if self.unit == "in":
            return f"{_decimals(_finite(square_inches) / SQ_IN_PER_SQ_FT, 1)} sq ft"
        return f"{_decimals(_finite(square_inches) * MM2_PER_SQ_IN / 1_000_000, 2)} m²"

    def weight(self, pounds: float) -> str:
        """Weight to one decimal, or three figures below one: ``310.5 lb``, ``0.137 kg``."""
        value = _finite(pounds)
        name = "lb"
        if self.unit == "mm":
            value, name = value * POUNDS_TO_KG, "kg"
        places = 1 if abs(value) >= 10 else 2 if abs(value) >= 1 else 3
        return f"{_decimals(value, places)} {name}"

    def number(self, value: float, places: int = 2) -> str:
        """A plain number with at most `places` decimals, thousands apart: ``12,480.5``."""
        return _decimals(_finite(value), places, group=True)

    def degrees(self, value: float) -> str:
        """An angle to one decimal: ``45°``, ``33.7°``."""
        return f"{_decimals(_finite(value), 1)}°"

    def percent(self, share: float, places: int = 1) -> str:
        """A share of 1 as ``12.5 %``."""
        return f"{_decimals(_finite(share) * 100, places)} %"

    def _text(self, length: int) -> str:
        per_unit = NM_PER_INCH if self.unit == "in" else NM_PER_MM
        if self.unit == "in" and (64 * self.grid) % NM_PER_INCH == 0:
            return _inch_fraction(length)
        return _decimals(Fraction(length, per_unit), _places(Fraction(self.grid, per_unit)))


def number(length: float, units: str) -> float:
    """Plan-file number of a length: the job's units, at most 6 decimals.

    A whole number is nanometres, a float is inches.
    """
    exact = Fraction(_nm(length)) if isinstance(length, Integral) else _finite(length) * NM_PER_INCH
    return _tidy(exact / (NM_PER_MM if units == "mm" else NM_PER_INCH))


def area_number(square_inches: float, units: str) -> float:
    """Plan-file number of an area: in² or mm², at most 6 decimals."""
    return _tidy(_finite(square_inches) * (MM2_PER_SQ_IN if units == "mm" else 1))


def weight_number(pounds: float, units: str) -> float:
    """Plan-file number of a weight: lb or kg, at most 6 decimals."""
    return _tidy(_finite(pounds) * (POUNDS_TO_KG if units == "mm" else 1))


def _tidy(value: Fraction) -> float:
    return float(round(value, 6)) + 0.0  # + 0.0: never write -0.0


def _finite(value: float) -> Fraction:
    if not math.isfinite(value):
        raise ValueError(f"not a finite number: {value}")
    return Fraction(value)


def _nm(length: float) -> int:
    if isinstance(length, Integral):
        return int(length)
    return to_grid(_finite(float(length)) * NM_PER_INCH, 1)


def _places(step: Fraction) -> int:
    """Decimals that write every multiple of `step`: exactly when six do, else enough to tell them apart."""
    for places in range(7):
        if (step * 10**places).denominator == 1 and places <= 3:
            return places
    places = 0
    while Fraction(1, 10**places) * 10 > step:
        places += 1
    return places


def _decimals(value: Fraction, places: int, *, group: bool = False) -> str:
    """Decimal text, rounded half away from zero, without trailing zeros."""
    scaled = to_grid(abs(value) * 10**places, 1)
    whole, part = divmod(scaled, 10**places)
    text = f"{whole:,}" if group else str(whole)
    if places and part:
        text += "." + str(part).rjust(places, "0").rstrip("0")
    return f"-{text}" if value < 0 and scaled else text


def _inch_fraction(length: int) -> str:
    """``14-1/32``, ``3/8``, ``-1/2``, ``0``."""
    whole, rest = divmod(abs(length), NM_PER_INCH)
    sign = "-" if length < 0 else ""
    if not rest:
        return f"{sign}{whole}"
    part = Fraction(rest, NM_PER_INCH)
    return f"{sign}{whole}-{part}" if whole else f"{sign}{part}"
