"""Results of the manager's room."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from fabplan.plan.model import Amount
from fabplan.quantities import Money, Pounds, Seconds, SquareInches


@dataclass(frozen=True, slots=True, kw_only=True)
class QuoteMetal:
    """Metal of one stock line; `price` is None where the line has none. Metal at hand is priced as bought metal is."""

    stock: str
    metal: str
    form: Literal["coil", "sheet", "offcut"]
    taken: Amount
    price: Money | None


@dataclass(frozen=True, slots=True, kw_only=True)
class QuoteWork:
    """Hours at one station; `price` is None where an hour has none in money."""

    station: str
    seconds: Seconds
    price: Money | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Quote:
    """A quote.

    Attributes
    ----------
    metal, work : tuples
    rate : Decimal or None
        Money an hour.
    spare_pieces, spare_pounds, spare_price
        Spare pieces within the figures above, the weight of their blanks, and their share of the metal's price.
    scrap_pounds, scrap_price
        Metal for the scrap dealer, and what he pays; None without `scrap_price` in the job.
    total : Decimal
        Of everything that has a price.
    whole : bool
        Whether everything has one.
    area : float
        Roof covered, square inches; 0 where the job does not tell.
    per_square : Decimal or None
        The total for 100 sq ft, or for one square metre in a metric job.
    """

    metal: tuple[QuoteMetal, ...]
    work: tuple[QuoteWork, ...]
    rate: Money | None
    spare_pieces: int
    spare_pounds: Pounds
    spare_price: Money | None
    scrap_pounds: Pounds
    scrap_price: Money | None
    total: Money
    whole: bool
    area: SquareInches
    per_square: Money | None
