"""Which limit of the shear is in the way of a blank, and what it would take: worked out by hand for each limit."""

from __future__ import annotations

from typing import Any

import pytest
from nesting_jobs import GRID, METALS, make_job, rect, stock

from fabplan.blanks.model import FlatPattern
from fabplan.nesting.problem import build_groups
from fabplan.nesting.refused import uncut_words
from fabplan.nesting.search.limits import uncut, what_cannot_be_cut

INCH = 32


@pytest.mark.parametrize(
    ("blank", "shear", "key", "needs"),
    [
        # 20 x 40 in of a 24 in coil: the trim of 4 in runs 40 in
        (rect("A", 20 * INCH, 40 * INCH, 1), {"longest_cut": 30}, "longest_cut", 40 * INCH),
        # a trim of 1/32 in is thinner than the tolerance; none may be relied on below it
        (rect("A", 24 * INCH - 3, 24 * INCH - 3, 1), {"width_tolerance": 0.25, "least_gauge": 0.5}, "least_gauge", 3),
        (
            rect("A", 24 * INCH - 6, 24 * INCH - 6, 1),
            {"width_tolerance": 0.25, "least_gauge": 0.5},
            "width_tolerance",
            6,
        ),
    ],
)
def test_the_limit_in_the_way_is_named(blank: FlatPattern, shear: dict[str, Any], key: str, needs: int) -> None:
    job = make_job([stock("coil", "coil", 24)], **shear)
    (group,) = build_groups([blank], job, METALS)
    found = uncut(group.blanks[0], group)
    assert found is not None and found.fits
    ways = {w.key: w.needs for w in found.ways}
    assert ways.get(key) == needs * GRID, ways
    assert key in uncut_words(found, job)[0]


def test_a_blank_that_fits_nowhere_is_said_to() -> None:
    job = make_job([stock("coil", "coil", 24)])
    big, small = rect("A", 30 * INCH, 40 * INCH, 1), rect("B", 100, 100, 1)
    (lost,) = what_cannot_be_cut([big, small], job, METALS)
    assert lost.mark == "A" and not lost.fits and lost.ways == ()
    assert what_cannot_be_cut([big], job, METALS) == ()  # nothing else to plan: the nest refuses the job
