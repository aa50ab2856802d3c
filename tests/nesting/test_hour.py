"""What a second weighs against metal."""

from __future__ import annotations

from fractions import Fraction

import pytest

from fabplan.labour import Labour
from fabplan.nesting.hour import second_cost

PRICES = [Fraction("9.40"), Fraction("8.90"), Fraction(0)]


@pytest.mark.parametrize(
    ("labour", "money", "hour"),
    [
        (Labour(rate=75.0), True, Fraction(75)),
        (Labour(rate=0.0), True, Fraction(0)),
        (Labour(rate=0.0), False, Fraction(0)),
        (Labour(), True, 6 * Fraction("8.90")),  # metal at the cheapest price; what is paid for already has none
        (Labour(rate_pounds=2.5), True, Fraction("2.5") * Fraction("8.90")),
        (Labour(rate=75.0), False, 6 * Fraction("8.90")),  # money cannot be set against metal without prices
    ],
)
def test_an_hour(labour: Labour, money: bool, hour: Fraction) -> None:
    assert second_cost(labour, 6.0, PRICES, money=money) * 3600 == hour


def test_nothing_to_weigh_against() -> None:
    assert second_cost(Labour(), 6.0, [Fraction(0)], money=False) == 0
