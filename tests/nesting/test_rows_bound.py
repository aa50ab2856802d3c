"""The least metal of slanted blanks in rows: against plans of many kinds, and where it can be worked out by hand."""

from __future__ import annotations

import random
from fractions import Fraction

import pytest
from nesting_jobs import METALS, make_job, polygon, rect, stock

from fabplan.nesting.nest import nest
from fabplan.nesting.problem import build_groups
from fabplan.nesting.search.bound import area_bound
from fabplan.nesting.search.rows import rows_bound
from fabplan.units import NM_PER_INCH


def bound_of(blanks: list, job: object) -> Fraction:  # type: ignore[type-arg]
    (group,) = build_groups(blanks, job, METALS)  # type: ignore[arg-type]
    found = rows_bound(group)
    assert found == 0 or found >= area_bound(group) * Fraction(99, 100)
    return found


def test_rhombs_that_fill_sheets_take_whole_sheets() -> None:
    """A rhomb of 10 in sides 5 in high: one row of five is 50 + 8.66 in long, a 60 x 5 in sheet holds one row."""
    rhomb = polygon("R", [(0, 0), (10, 0), (10 + 75**0.5, 5), (75**0.5, 5)], 11)
    job = make_job([stock("s", "sheet", 5, 60, price=("10", "sheet"))])
    assert bound_of([rhomb], job) == 30  # 11 of five a sheet


def check(seed: int) -> None:
    rng = random.Random(seed)
    w, h, lean = rng.randint(4, 12), rng.randint(3, 8), rng.choice([2, 3, 4])
    blanks = [polygon("R", [(0, 0), (w, 0), (w + lean, h), (lean, h)], rng.randint(4, 20))]
    if rng.random() < 0.5:
        blanks.append(polygon("T", [(0, 0), (w, 0), (w / 2, h)], rng.randint(4, 12)))
    if rng.random() < 0.5:
        blanks.append(rect("A", 200, 300, rng.randint(1, 6)))
    lines = [stock("c", "coil", 24, price=("9", "lb"))]
    if rng.random() < 0.5:
        lines = [stock("s", "sheet", 30, 40, price=("20", "sheet")), stock("t", "sheet", 36, 48, price=("27", "sheet"))]
    job = make_job(lines, effort=0, pair=rng.random() < 0.8, least_held=0, longest_cut=rng.choice([32, 38, 120]))
    bound = bound_of(blanks, job)
    assert bound > 0 or job.shear.longest_cut < 60 * NM_PER_INCH, seed
    assert bound <= nest(blanks, job, METALS).metal_total, seed


def test_no_plan_takes_less() -> None:
    for seed in range(2):
        check(seed)


@pytest.mark.slow
def test_no_plan_of_many_jobs_takes_less() -> None:
    for seed in range(100, 160):
        check(seed)
