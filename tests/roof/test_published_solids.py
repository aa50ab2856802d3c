"""Polygon, frustum, spire and hip sizes that somebody else published."""

from __future__ import annotations

import math

import pytest
import roof_jobs as rj

from fabplan.roof.measure.shapes import RegularSpire, polygon_side, regular_spire
from fabplan.roof.measure.tape import measure_slopes

NAVY = "US Navy Builder training text 14044 (NAVEDTRA)"
MENSURATION = "19th-century mensuration text, Google Books ud82AAAAMAAJ"
FOOT = 12.0
SQ_FOOT = 144.0
CUBIC_YARD = 27.0


def lateral(**keys: object) -> float:
    """Square feet of all slopes of a regular spire, through the job file's own keys."""
    found, _ = measure_slopes(rj.job_with(rj.slope(shape="regular-spire", **keys)), {})
    return sum(s.area * s.times for s in found) / SQ_FOOT


def volume(side: float, height: float) -> float:
    """Cubic feet of a regular eight-sided pyramid (feet), on the slant that the program gives its spire."""
    spire = regular_spire(8, side * FOOT, height=height * FOOT)
    return 8 * spire.side * apothem(spire) / 2 * spire.height / 3 / FOOT**3


def apothem(spire: RegularSpire) -> float:
    """From the middle of the eave polygon to an eave, inches."""
    return math.sqrt(spire.slant**2 - spire.height**2)


def hip_factor(rise_per_12: float) -> float:
    """Hip over run of equal pitches: a square spire is four of them."""
    return regular_spire(4, 24.0, height=rise_per_12).hip / 12


@pytest.mark.published(NAVY, 2)
def test_hip_of_equal_pitches_unit_run() -> None:
    # US Navy Builder training text 14044 (NAVEDTRA), hip rafters: unit run 16.97 in, rise 8 in -> 18.76 in
    assert hip_factor(0) * 12 == pytest.approx(16.97, abs=0.005)
    assert hip_factor(8) * 12 == pytest.approx(18.76, abs=0.005)


@pytest.mark.published(NAVY, 2)
def test_hip_rafter_of_a_roof() -> None:
    # same text: common run 15 ft, rise 10 ft -> hip run 21.21 ft, hip 23.45 ft
    assert 15 * hip_factor(0) == pytest.approx(21.21, abs=0.005)
    assert 15 * hip_factor(8) == pytest.approx(23.45, abs=0.005)


@pytest.mark.published("roofonline.com, hip and valley factor table")
@pytest.mark.parametrize(
    ("rise", "factor"), [(3, 1.4362), (6, 1.5000), (8, 1.5635), (12, 1.7321), (16, 1.9437), (20, 2.1858)]
)
def test_hip_factor_table(rise: int, factor: float) -> None:
    # roofonline.com, hip and valley factor table; its 3:12 is 1 off in the last digit
    assert hip_factor(rise) == pytest.approx(factor, abs=2e-4)


@pytest.mark.published(MENSURATION)
def test_heptagon_frustum() -> None:
    # 19th-century mensuration text (Google Books ud82AAAAMAAJ, p. 168, example 3): 2310 sq ft
    assert lateral(sides=7, side="8 ft", top_side="4 ft", slant="55 ft") == pytest.approx(2310, rel=1e-9)


@pytest.mark.published(MENSURATION)
def test_square_frustum() -> None:
    # same text, example 2: 3 ft 4 in, 2 ft 2 in, slant 10 ft -> 110 sq ft
    assert lateral(sides=4, side="3 ft 4 in", top_side="2 ft 2 in", slant="10 ft") == pytest.approx(110, rel=1e-9)


@pytest.mark.published("Mensuration text, Google Books DPo2AAAAMAAJ")
def test_pentagon_frustum_with_its_ends() -> None:
    # mensuration text (Google Books DPo2AAAAMAAJ, p. 185, example 3): 20 and 30 in, slant 140 in -> 137.0598 sq ft
    ends = sum(5 * s**2 / (4 * math.tan(math.pi / 5)) for s in (20.0, 30.0)) / SQ_FOOT
    both = lateral(sides=5, side="30 in", top_side="20 in", slant="140 in") + ends
    assert both == pytest.approx(137.0598, abs=1e-3)


@pytest.mark.published(MENSURATION)
def test_octagonal_church_spire() -> None:
    # first text, example 8: side 5 ft 10 in, 45 ft high, hollow 4 ft 11 in, 41 ft high -> 32.197353 cu yd of stone
    stone = (volume(5 + 10 / 12, 45) - volume(4 + 11 / 12, 41)) / CUBIC_YARD
    assert stone == pytest.approx(32.197353, abs=1e-4)


def test_slopes_of_the_church_spire() -> None:
    # worked by us from the sizes of that example: slant 45.5476 ft, 1062.78 sq ft
    spire = regular_spire(8, 70.0, height=45 * FOOT)
    assert spire.slant / FOOT == pytest.approx(45.5476, abs=1e-4)
    assert lateral(sides=8, side="5 ft 10 in", height="45 ft") == pytest.approx(1062.78, abs=0.01)


@pytest.mark.published("Problem page 1705137436697605", 2)
def test_hexagon_frustum_from_its_area() -> None:
    # problem page 1705137436697605: edges 16 and 28 ft, 1716 sq ft -> slant 13, altitude 7.8 ft (its method is
    # printed wrong, its answer is right)
    spire = regular_spire(6, 28 * FOOT, top_side=16 * FOOT, slant=13 * FOOT)
    assert lateral(sides=6, side="28 ft", top_side="16 ft", slant="13 ft") == pytest.approx(1716, rel=1e-12)
    assert spire.height / FOOT == pytest.approx(7.81, abs=0.01)


@pytest.mark.published("Math Forum, 29 August 1997")
def test_octagon_across_corners() -> None:
    # Math Forum (Dr. Rob, 29 August 1997): 130 ft across corners -> side 49.7488462 ft
    assert polygon_side(8, across_corners=130.0) == pytest.approx(49.7488462, abs=1e-6)


@pytest.mark.published("Alexander and Koeberlein, 9.2")
def test_square_steeple_from_its_hip() -> None:
    # Alexander and Koeberlein, Elementary Geometry for College Students, 7th ed., 9.2, exercises 29-30:
    # base 16 ft, lateral edge 17 ft -> slant 15 ft; area 480 sq ft follows
    found, hips = measure_slopes(rj.job_with(rj.slope(shape="regular-spire", sides=4, side="16 ft", hip="17 ft")), {})
    assert max(y for _, y in found[0].outline) / FOOT == pytest.approx(15, rel=1e-12)
    assert sum(s.area * s.times for s in found) / SQ_FOOT == pytest.approx(480, rel=1e-12)
    assert len(hips) == 4
    assert hips[0].length / FOOT == pytest.approx(17, rel=1e-12)


def test_octagon_across_flats() -> None:
    # not printed anywhere: 10 ft across flats, 24 ft high, from the same formulas: side 4.1421, slant 24.5153 ft
    spire = regular_spire(8, polygon_side(8, across_flats=10 * FOOT), height=24 * FOOT)
    assert spire.side / FOOT == pytest.approx(10 * (math.sqrt(2) - 1), rel=1e-12)
    assert spire.slant / FOOT == pytest.approx(math.hypot(24, 5), rel=1e-12)
    assert lateral(sides=8, across_flats="10 ft", height="24 ft") == pytest.approx(406.18, abs=0.01)
