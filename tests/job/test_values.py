"""Shares, spares, sizes, prices, weights: every way people write them, and what is refused."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Annotated, Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import TypeAdapter, ValidationError

from fabplan.errors import BadValueError, is_hidden
from fabplan.job import values
from fabplan.job.values import OnHand, Price, Spare
from fabplan.units import NM_PER_INCH, NM_PER_MM

IN, MM = NM_PER_INCH, NM_PER_MM
COUNT = Annotated[int, values.whole_within(0, 10**9)]
FACTOR = Annotated[float, values.real_within(-1e9, 1e9)]


def read(kind: Any, typed: object, units: str = "in") -> Any:
    return TypeAdapter(kind).validate_python(typed, context={"units": units})


@pytest.mark.parametrize(
    ("kind", "typed", "value"),
    [
        (values.Share, "5 %", Fraction(1, 20)),
        (values.Share, "0.1%", Fraction(1, 1000)),
        (values.Share, "2.5 percent", Fraction(1, 40)),
        (values.Share, "100 %", Fraction(1)),
        (values.Share, 0, Fraction(0)),
        (values.SpareRule, "5 %", Spare(share=Fraction(1, 20))),
        (values.SpareRule, "10 pieces", Spare(pieces=10)),
        (values.SpareRule, "1 piece", Spare(pieces=1)),
        (values.SpareRule, "0 %", Spare()),
        (values.SpareRule, 0, Spare()),
        (values.OnHandRule, "250 ft", OnHand(length=3000 * IN)),
        (values.OnHandRule, "76.2 m", OnHand(length=3000 * IN)),
        (values.OnHandRule, "310 lb", OnHand(pounds=310.0)),
        (values.OnHandRule, 12, OnHand(count=12)),
        (values.OnHandRule, "12", OnHand(count=12)),
        (values.OnHandRule, "12 sheets", OnHand(count=12)),
        (values.OnHandRule, 0, OnHand(count=0)),
        (values.PriceRule, "9.40 per lb", Price(amount=Decimal("9.40"), per="lb")),
        (values.PriceRule, "9.40/lb", Price(amount=Decimal("9.40"), per="lb")),
        (values.PriceRule, "$9.40 per pound", Price(amount=Decimal("9.40"), per="lb")),
        (values.PriceRule, "12 € per Meter", Price(amount=Decimal(12), per="meter")),
        (values.PriceRule, "0.5 per ft", Price(amount=Decimal("0.5"), per="foot")),
        (values.PriceRule, "228 per sheet", Price(amount=Decimal(228), per="sheet")),
        (values.PriceRule, "20 each", None),
        (values.Size, "6 x 12 in", (6 * IN, 12 * IN)),
        (values.Size, "6 × 12 in", (6 * IN, 12 * IN)),
        (values.Size, "6 in x 1 ft", (6 * IN, 12 * IN)),
        (values.Size, "6-1/2 by 12 in", (13 * IN // 2, 12 * IN)),
        (values.Size, "150 x 300 mm", (150 * MM, 300 * MM)),
        (values.Size, '6" x 12"', (6 * IN, 12 * IN)),
        (values.Size, "6 x 12", (6 * IN, 12 * IN)),
        (values.Size, ["6 in", 12], (6 * IN, 12 * IN)),
        (values.Angle, 90, 90.0),
        (values.Angle, Decimal("33.5"), 33.5),
        (values.Angle, "90°", 90.0),
        (values.Angle, "-45 deg", -45.0),
        (values.Angle, "–45 degrees", -45.0),
        (values.Thicknesses, "2 t", 2.0),
        (values.Thicknesses, "1.5t", 1.5),
        (values.Thicknesses, 3, 3.0),
        (values.Pounds, "310 lb", 310.0),
        (values.Pounds, "8 oz", 0.5),
        (values.Pounds, 40, 40.0),
        (values.Lengths, "1/16 in", IN // 16),
        (values.Lengths, ["1/16 in", 0], (IN // 16, 0)),
        (values.SignedLength, "-1/2 in", -IN // 2),
        (values.Label, "  coil 24 ", "coil 24"),
        (values.Label, 1042, "1042"),
        (values.Note, "", ""),
    ],
)
def test_read(kind: Any, typed: object, value: object) -> None:
    if value is None:
        with pytest.raises(ValidationError):
            read(kind, typed)
    else:
        assert read(kind, typed) == value


def test_bare_numbers_take_the_units_of_the_job() -> None:
    assert read(values.Length, 12, "mm") == 12 * MM
    assert read(values.Size, "150 x 300", "mm") == (150 * MM, 300 * MM)
    assert read(values.Pounds, 140, "mm") == pytest.approx(140 / 0.45359237)
    assert read(values.Pounds, "140 kg", "in") == pytest.approx(140 / 0.45359237)
    assert read(values.OnHandRule, "140 kg").pounds == pytest.approx(140 / 0.45359237)


def test_money_stays_exact() -> None:
    price = read(values.PriceRule, "0.10 per lb")
    assert price.amount * 3 == Decimal("0.30")


@pytest.mark.parametrize(
    ("kind", "typed", "rule"),
    [
        (values.Share, 5, "must be a share in percent"),
        (values.Share, "5", "must be a share in percent"),
        (values.Share, "-5 %", "must be a share in percent"),
        (values.Share, "101 %", "must be 100 % at most"),
        (values.Share, Decimal("NaN"), "must be a share in percent"),
        (values.Share, Decimal("sNaN"), "must be a share in percent"),
        (values.SpareRule, "10", "must be a share or a number of pieces"),
        (values.SpareRule, "9999999 pieces", "may be 1,000,000 pieces at most"),
        (values.OnHandRule, -1, "a count must be a whole number from 0 to 1,000,000"),
        (values.OnHandRule, Decimal("1.5"), "a count must be a whole number from 0 to 1,000,000"),
        (values.OnHandRule, "some", "must say how much is on hand"),
        (values.OnHandRule, "-250 ft", "must say how much is on hand"),
        (values.PriceRule, "9,40 per lb", "must be a price per sold unit"),
        (values.PriceRule, "lots per lb", "must be a price per sold unit"),
        (values.PriceRule, "9 per hundredweight", 'unknown sold unit "hundredweight"'),
        (values.PriceRule, "9999999999 per lb", "a price may be 1,000,000 at most"),
        (values.Size, "6 x 12 x 3 in", "must be a width and a length"),
        (values.Size, "x", "must be a width and a length"),
        (values.Size, "0 x 12 in", "must be a width and a length: must be more than 0"),
        (values.Size, "6 x 12 furlongs", 'must be a width and a length: unknown unit "furlongs"'),
        (values.Angle, "square", "must be an angle"),
        (values.Angle, Decimal("Infinity"), "must be a finite number"),
        (values.Thicknesses, "2 mm", "must be a number of thicknesses"),
        (values.Thicknesses, 21, "must be 0 to 20 thicknesses"),
        (values.Pounds, "heavy", "must be a weight"),
        (values.Pounds, 0, "must be more than 0 and at most 10,000,000"),
        (values.Length, "-1 in", "must not be negative"),
        (values.StockLength, 0, "must be more than 0"),
        (values.PieceLength, "11 m", "may be 10 m (32 ft) at most"),
        (COUNT, "3", "must be a whole number"),
        (COUNT, Decimal("3.5"), "must be a whole number"),
        (COUNT, True, "must be a whole number"),
        (FACTOR, "3", "must be a number"),
        (values.Label, 2.5, "must be text"),
        (values.Label, "a\nb", "must be one line without hidden characters"),
        (values.Label, "a\u202eb", "must be one line without hidden characters"),
        (values.Note, "x" * 201, "may be 200 characters at most"),
        (values.Note, [1], "must be text"),
    ],
)
def test_refused(kind: Any, typed: object, rule: str) -> None:
    with pytest.raises(ValidationError) as caught:
        read(kind, typed)
    error = caught.value.errors()[0]["ctx"]["error"]
    assert isinstance(error, BadValueError)
    assert error.rule == rule
    assert error.write


@pytest.mark.parametrize("typed", ["Flat-Seam", "flat_seam", "FLAT SEAM", " flat–seam "])
def test_hyphen_underscore_and_capitals_do_not_matter(typed: str) -> None:
    assert values.word(typed) == "flat-seam"


KINDS = [
    values.Share, values.SpareRule, values.OnHandRule, values.PriceRule, values.Size, values.Angle, values.Thicknesses,
    values.Pounds, values.Length, values.SignedLength, values.PieceLength, values.Lengths, COUNT, FACTOR,
    values.Label, values.Note,
]  # fmt: skip
ANYTHING = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.decimals() | st.text(max_size=30),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=5,
)


@given(st.sampled_from(KINDS), ANYTHING, st.sampled_from(["in", "mm"]))
def test_anything_is_a_value_or_a_named_fault(kind: Any, typed: object, units: str) -> None:
    try:
        read(kind, typed, units)
    except ValidationError as problem:
        for fault in problem.errors():
            error = fault["ctx"]["error"]
            assert isinstance(error, BadValueError)
            assert error.rule
            assert not any(is_hidden(char) for char in str(error))
