"""Lengths: what people write, what is printed, and that nothing is lost between the two."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fabplan.errors import BadValueError, JobError
from fabplan.units import (
    NM_PER_INCH,
    NM_PER_MM,
    POUNDS_TO_KG,
    Show,
    area_number,
    from_inches,
    inches,
    number,
    parse_length,
    plain,
    to_grid,
    weight_number,
)

INCH_GRIDS = [NM_PER_INCH // n for n in (1, 2, 4, 8, 16, 32, 64, 10, 100)]
MM_GRIDS = [NM_PER_MM, NM_PER_MM // 2, NM_PER_MM // 10, NM_PER_MM // 4]
FOREIGN = [("mm", NM_PER_INCH // n) for n in (8, 16, 32, 64)] + [("in", NM_PER_MM), ("in", NM_PER_MM // 2)]


@pytest.mark.parametrize(
    "typed",
    [
        "14-1/2 in", "14 1/2 in", "14½ in", "14 ½ in", "14-½ in", '14 1/2"', '14-1/2"', "14.5 in",
        '14.5"', "14.50 inches", "14 - 1/2 in", "1 ft 2-1/2 in", "1 ft 2 1/2 in", "1 ft 2½ in",
        "1' 2-1/2\"", "1'-2 1/2\"", "1'2.5\"", "1' 2-1/2", "1 foot 2.5 inches", "1’ 2–1/2”", "1′ 2½″",
        "14–1/2 in", "14\u00a01/2\u00a0in", "14\u20091/2″", "14‑1/2 in", "14 1⁄2 in",
        "368.3 mm", "36.83 cm", "0.3683 m", ".3683 m", "368.3mm", "14.5IN", "14-1/2 In.", "14-1/2''",
        "  14.5  in ", "14-1/2", "14.5", 14.5, Decimal("14.5"),
    ],
)  # fmt: skip
def test_forms_of_one_length(typed: object) -> None:
    assert parse_length(typed, "in") == 368_300_000


@pytest.mark.parametrize(
    ("typed", "unit", "nanometres"),
    [
        ("⅝", "in", 15_875_000),
        ('0.5"', "in", 12_700_000),
        ("1/64 in", "mm", 396_875),
        ("0.001 mm", "in", 1_000),
        (12, "mm", 12_000_000),
        (12, "in", 304_800_000),
        (Decimal("0.1"), "mm", 100_000),
        (0.1, "mm", 100_000),
        ("-1/2 in", "in", -12_700_000),
        ("−3 mm", "in", -3_000_000),
        ("0 in", "in", 0),
        ("5/4 in", "in", 31_750_000),
        ("6 ft", "in", 1_828_800_000),
        ("6'", "mm", 1_828_800_000),
        ("2 feet", "in", 609_600_000),
        ("1.5 ft", "in", 457_200_000),
        ("1/3 in", "in", 8_466_667),
        ("5. in", "in", 127_000_000),
    ],
)
def test_exact_value(typed: object, unit: str, nanometres: int) -> None:
    assert parse_length(typed, unit) == nanometres


@pytest.mark.parametrize(
    ("typed", "rule"),
    [
        ("", "must be a length"),
        ("   ", "must be a length"),
        ("wide", "must be a length"),
        ("in", "must be a length"),
        ("--1 in", "must be a length"),
        ("12 in 3", "must be a length"),
        ("1 2 in", "must be a length"),
        ("1.5 ft 2 in", "must be a length"),
        ("1 ft 2 mm", "must be a length"),
        ("1_000 mm", "must be a length"),
        ("1e3 mm", "must be a length"),
        ("١٢ mm", "must be a length"),
        ("1" * 70, "must be a length"),
        ("12 furlongs", 'unknown unit "furlongs"'),
        ("14,5 mm", "decimals take a point, not a comma"),
        ("1/0 in", "a fraction cannot be over 0"),
        ("141/2 in", "this fraction can be read two ways"),
        ("11/8 in", "this fraction can be read two ways"),
        ("14-5/4 in", "the fraction of a mixed number must be less than 1"),
        ("1 ft 14 in", "inches after feet must be less than 12"),
        ("1 ft 12 in", "inches after feet must be less than 12"),
        ("99999999 m", "a length may be 10 km at most"),
        (True, "must be a length"),
        (None, "must be a length"),
        ([1], "must be a length"),
        (float("nan"), "must be a finite number"),
        (float("-inf"), "must be a finite number"),
        (Decimal("sNaN"), "must be a finite number"),
        (Decimal("1e999999999"), "the number is out of range"),
        (Decimal("1e-999999999"), "the number is out of range"),
        pytest.param(10**5000, "the number is too large", id="digits"),
        (10**30, "a length may be 10 km at most"),
    ],
)
def test_refused(typed: object, rule: str) -> None:
    with pytest.raises(BadValueError) as caught:
        parse_length(typed)
    assert caught.value.rule == rule
    assert isinstance(caught.value, (JobError, ValueError))


def test_refusal_names_value_and_shows_nothing_hidden() -> None:
    with pytest.raises(BadValueError) as caught:
        parse_length("\x1b[31m14 in\u202e")
    assert str(caught.value) == (
        'must be a length (found "\\x1b[31m14 in\\u202e"). '
        'Write for example "14-1/2 in", "1 ft 2-1/2 in" or "368.3 mm".'
    )


@given(st.text(max_size=40))
def test_any_text_is_a_length_or_a_named_fault(typed: str) -> None:
    try:
        assert isinstance(parse_length(typed), int)
    except BadValueError as fault:
        assert fault.write


@given(st.integers(-300_000, 300_000), st.sampled_from(INCH_GRIDS))
def test_print_then_parse_inches(steps: int, grid: int) -> None:
    assert parse_length(Show("in", grid).length(steps * grid)) == steps * grid
    assert parse_length(Show("in", grid).bare(steps * grid), "in") == steps * grid


@given(st.integers(-500_000, 500_000), st.sampled_from(MM_GRIDS))
def test_print_then_parse_millimetres(steps: int, grid: int) -> None:
    assert parse_length(Show("mm", grid).length(steps * grid)) == steps * grid
    assert parse_length(Show("mm", grid).bare(steps * grid), "mm") == steps * grid


@given(st.integers(-500_000, 500_000), st.sampled_from(FOREIGN))
def test_print_then_parse_finds_the_graduation_of_the_other_system(steps: int, case: tuple[str, int]) -> None:
    unit, grid = case
    assert to_grid(parse_length(Show(unit, grid).length(steps * grid)), grid) == steps


@given(st.integers(-(10**10), 10**10))
def test_typed_lengths_print_as_typed(sixty_fourths: int) -> None:
    length = sixty_fourths % 10**6 * 396_875
    assert parse_length(Show("in", NM_PER_INCH // 32).exact(length)) == length
    microns = sixty_fourths % 10**7 * 1000
    assert parse_length(Show("mm", NM_PER_MM // 2).exact(microns)) == microns


@given(st.floats(-4000, 4000))
def test_computed_length_prints_within_half_a_graduation(value: float) -> None:
    grid = NM_PER_INCH // 32
    printed = parse_length(Show("in", grid).length(value))
    assert abs(Fraction(printed) - Fraction(value) * NM_PER_INCH) <= Fraction(grid, 2) + 1


@pytest.mark.parametrize(
    ("unit", "grid", "length", "text"),
    [
        ("in", NM_PER_INCH // 32, 14.03, "14-1/32 in"),
        ("in", NM_PER_INCH // 32, 14.5, "14-1/2 in"),
        ("in", NM_PER_INCH // 32, 0.0, "0 in"),
        ("in", NM_PER_INCH // 32, -0.5, "-1/2 in"),
        ("in", NM_PER_INCH // 32, -0.001, "0 in"),
        ("in", NM_PER_INCH // 100, 14.0312, "14.03 in"),
        ("mm", NM_PER_MM // 2, 14.03125, "356.5 mm"),
        ("mm", NM_PER_MM, 14.03125, "356 mm"),
        ("mm", NM_PER_INCH // 32, 14.03125, "356.39 mm"),
        ("in", NM_PER_MM // 2, 10.0, "10 in"),
    ],
)
def test_printed_without_false_precision(unit: str, grid: int, length: float, text: str) -> None:
    assert Show(unit, grid).length(length) == text


def test_other_quantities() -> None:
    shop, metric = Show("in", NM_PER_INCH // 32), Show("mm", NM_PER_MM // 2)
    assert (shop.exact(1_524_000), metric.exact(1_587_500)) == ("0.06 in", "1.588 mm")
    assert (shop.fine(0.0216), metric.fine(0.0216)) == ("0.0216 in", "0.549 mm")
    assert shop.size(24.0, 42.1) == "24 x 42-3/32 in"
    assert (shop.run(500.0), metric.run(500.0)) == ("41.7 ft", "12.7 m")
    assert (shop.area(3456.0), metric.area(3456.0)) == ("24 sq ft", "2.23 m²")
    assert (shop.weight(1.3671), shop.weight(0.1), metric.weight(100.0)) == ("1.37 lb", "0.1 lb", "45.4 kg")
    assert (shop.number(12480.456), shop.degrees(33.66), shop.percent(0.1234)) == ("12,480.46", "33.7°", "12.3 %")


def test_plan_numbers() -> None:
    assert number(from_inches(14.03125), "in") == 14.03125
    assert number(14.03125, "mm") == 356.39375
    assert number(1 / 3, "in") == 0.333333
    assert str(number(-1e-9, "in")) == "0.0"
    assert area_number(1.0, "mm") == 645.16
    assert weight_number(1.0, "mm") == 0.453592


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_nothing_prints_a_number_that_is_none(value: float) -> None:
    with pytest.raises(ValueError, match="finite"):
        Show("in", 1).length(value)


@pytest.mark.published("NIST Special Publication 811; IRC 2018 SI note", 3)
def test_published_factors() -> None:
    """NIST Special Publication 811, appendix B: inch, pound and ounce; IRC 2018 SI note: 1 oz/ft² = 0.305 kg/m²."""
    assert parse_length("1 in") == parse_length("25.4 mm")
    foot = inches(parse_length("1 ft")) * 25.4 / 1000
    assert foot**2 == pytest.approx(0.09290304, rel=1e-12)
    assert float(POUNDS_TO_KG) / 16 / foot**2 == pytest.approx(0.30515, abs=1e-5)


def test_plain_leaves_ordinary_text_alone() -> None:
    assert plain("9.40 per lb") == "9.40 per lb"
    assert plain("6 × 12½ in") == "6 x 12 1/2 in"


@given(st.integers(-(10**9), 10**9), st.integers(1, 10**8))
def test_grid_directions(length: int, grid: int) -> None:
    down, near, up = (to_grid(length, grid, how) for how in ("down", "nearest", "up"))
    assert down * grid <= length <= up * grid
    assert up - down <= 1
    assert near in (down, up)
    assert abs(near * grid - length) * 2 <= grid
