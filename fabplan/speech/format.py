"""Lengths, money, counts and lists as they stand on paper: real fractions, a true sign of multiplication."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from fabplan.job.model import Job
from fabplan.units import Show, from_inches

FRACTION_SLASH = "\u2044"
_WHOLE_AND_PART = re.compile(r"(?<![\w./-])(-?)(\d+)-(\d+)/(2|4|8|16|32|64)(?![\w/])")
_PART = re.compile(r"(?<![\w./])(-?)(\d+)/(2|4|8|16|32|64)(?![\w/])")
_BY = re.compile(r"(?<=[\d°]) x (?=\d)")


def paper(text: str) -> str:
    """`text` with typed fractions (``14-1/32``, ``3/8``) and ``24 x 42`` as they are set on paper.

    For words fabplan made; what the job's author typed is printed as typed.

    >>> paper("strip 14-1/2 x 96 in")
    'strip 14 1⁄2 × 96 in'
    """
    text = _WHOLE_AND_PART.sub(rf"\1\2 \3{FRACTION_SLASH}\4", text)
    return _BY.sub(" × ", _PART.sub(rf"\1\2{FRACTION_SLASH}\3", text))


def count(n: int, one: str, many: str = "") -> str:
    """``1 sheet``, ``12 sheets``, ``1,240 pieces``."""
    return f"{n:,} {one if n == 1 else many or one + 's'}"


def listed(items: Iterable[str]) -> str:
    """``A``, ``A and B``, ``A, B and C``."""
    got = list(items)
    if len(got) < 2:
        return "".join(got)
    return f"{', '.join(got[:-1])} and {got[-1]}"


def spans(numbers: Iterable[int]) -> str:
    """Whole numbers as ranges: ``1, 4–7, 9``."""
    out: list[list[int]] = []
    for n in numbers:
        if out and n == out[-1][1] + 1:
            out[-1][1] = n
        else:
            out.append([n, n])
    return ", ".join(f"{a}" if a == b else f"{a}, {b}" if b == a + 1 else f"{a}–{b}" for a, b in out)


@dataclass(frozen=True, slots=True)
class Say:
    """Formats in one job's units. Whole numbers are nanometres, floats inches, as in `fabplan.units.Show`."""

    show: Show
    currency: str = ""

    @classmethod
    def of(cls, job: Job) -> Say:
        """The formats of a job."""
        return cls(Show(job.info.units, job.info.round_to), job.info.currency)

    @property
    def units(self) -> str:
        """``inches`` or ``millimetres``."""
        return "inches" if self.show.unit == "in" else "millimetres"

    def bare(self, length: float) -> str:
        """``14 1⁄2``."""
        return paper(self.show.bare(length))

    def length(self, length: float) -> str:
        """``14 1⁄2 in``."""
        return paper(self.show.length(length))

    def exact(self, length: int) -> str:
        """A typed length as it is."""
        return paper(self.show.exact(length))

    def exact_near(self, length: float) -> str:
        """A typed length kept as inches, as it was typed: ``1⁄16 in``."""
        return self.exact(from_inches(length))

    def fine(self, length: float) -> str:
        """``0.0216 in``."""
        return self.show.fine(length)

    def size(self, width: float, length: float) -> str:
        """``14 1⁄2 × 96 in``."""
        return f"{self.bare(width)} × {self.bare(length)} {self.show.unit}"

    def run(self, length: float) -> str:
        """``42.1 ft``."""
        return self.show.run(length)

    def area(self, square_inches: float) -> str:
        """``12.5 sq ft``."""
        return self.show.area(square_inches)

    def weight(self, pounds: float) -> str:
        """``310.5 lb``."""
        return self.show.weight(pounds)

    def percent(self, share: float, places: int = 1) -> str:
        """``12.5 %``."""
        return self.show.percent(share, places)

    def degrees(self, value: float) -> str:
        """``45°``."""
        return self.show.degrees(value)

    def money(self, amount: Decimal | Fraction | float) -> str:
        """``1,204.50`` with the job's currency when it names one."""
        value = Decimal(amount.numerator) / Decimal(amount.denominator) if isinstance(amount, Fraction) else amount
        return f"{self.currency} {value:,.2f}".strip()
