"""What the numbers of a result are.

The unit stands beside the type of a field, ``stop: Inches``, so that a plan file is written, read and described from
the result types alone. Inside, geometry is in inches and degrees and cut plans are in whole graduations; on file
everything is in the job's units.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING, Annotated, Literal


@dataclass(frozen=True, slots=True)
class Unit:
    """What a number measures; a length in whole nanometres is ``nanometres``, on the shop's grid ``graduations``."""

    name: Literal[
        "length",
        "area",
        "weight",
        "degrees",
        "share",
        "number",
        "nanometres",
        "graduations",
        "square graduations",
        "cost",
        "money",
        "seconds",
    ]


@dataclass(frozen=True, slots=True)
class Key:
    """Name of a field on file, where it is not the field's own."""

    name: str


@dataclass(frozen=True, slots=True)
class Fields:
    """A short tuple that is written as a table: a name for each place."""

    names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Written:
    """How a field is written: pairs as one table by name, or not at all (it has a default and follows from the job)."""

    how: Literal["by name", "not kept"]


BY_NAME = Written("by name")
NOT_KEPT = Written("not kept")

Inches = Annotated[float, Unit("length")]
SquareInches = Annotated[float, Unit("area")]
Pounds = Annotated[float, Unit("weight")]
Degrees = Annotated[float, Unit("degrees")]
Share = Annotated[float, Unit("share")]
Seconds = Annotated[float, Unit("seconds")]
Number = Annotated[float, Unit("number")]
Nanometres = Annotated[int, Unit("nanometres")]
Steps = Annotated[int, Unit("graduations")]
FineSteps = Annotated[float, Unit("graduations")]
SquareSteps = Annotated[float, Unit("square graduations")]
Cost = Annotated[Fraction, Unit("cost")]
Money = Annotated[Decimal, Unit("money")]

if TYPE_CHECKING:
    stated = property
else:

    class stated(property):  # noqa: N801
        """A property that is written beside the fields it follows from; it is not read back."""
