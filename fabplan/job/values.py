"""Field types of the job file: each parses what people write into one exact value.

Bare numbers take the job's units, handed down as the validation context ``{"units": "in" | "mm"}``.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, ValidationInfo

from fabplan.units import Nm, parse_length

PricePer = Literal["lb", "kg", "foot", "meter", "sheet", "piece"]


def _units(info: ValidationInfo) -> str:
    return (info.context or {}).get("units", "in")


def _length(value: Any, info: ValidationInfo) -> Nm:
    return parse_length(value, _units(info))


def _size(value: Any, info: ValidationInfo) -> tuple[Nm, Nm]:
    raise NotImplementedError


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


Length = Annotated[Nm, BeforeValidator(_length)]
Angle = Annotated[float, BeforeValidator(lambda v: v)]
Share = Annotated[Fraction, BeforeValidator(lambda v: v)]
Pounds = Annotated[float, BeforeValidator(lambda v: v)]
Size = Annotated[tuple[Nm, Nm], BeforeValidator(_size)]
