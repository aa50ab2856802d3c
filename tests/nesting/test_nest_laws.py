"""Laws every cut plan obeys, on random jobs."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from nesting_jobs import METALS, make_job, polygon, rect, stock

from fabplan.nesting.check.whole import check_plan
from fabplan.nesting.nest import nest
from fabplan.nesting.problem import NoRoomError

SHAPES = [
    [(0, 0), (12, 0), (16, 10), (4, 10)],
    [(0, 0), (10, 0), (10, 6), (5, 11), (0, 6)],
    [(0, 0), (14, 0), (7, 7)],
    [(3, 0), (10, 0), (10, 5), (6, 9), (0, 4)],
    [(0, 0), (9, 0), (9, 9), (6, 9), (6, 6), (0, 6)],
]


@st.composite
def blanks(draw: st.DrawFn, *, slanted: bool = True) -> list[Any]:
    out = []
    for n in range(draw(st.integers(1, 4))):
        grain = draw(st.sampled_from(["any", "any", "along", "across"]))
        count = draw(st.integers(1, 12))
        if slanted and draw(st.integers(0, 2)) == 0:
            out.append(polygon(f"P{n}", draw(st.sampled_from(SHAPES)), count, grain=grain))
        else:
            size = draw(st.integers(40, 500)), draw(st.integers(40, 900))
            out.append(rect(f"P{n}", *size, count, grain=grain))
    return out


@st.composite
def jobs(draw: st.DrawFn) -> Any:
    stocks = []
    priced = draw(st.booleans())
    for n in range(draw(st.integers(1, 3))):
        form = draw(st.sampled_from(["coil", "sheet", "offcut"])) if n else draw(st.sampled_from(["coil", "sheet"]))
        more: dict[str, Any] = {"trim": draw(st.sampled_from(["0", "0", "1/8"]))}
        if form == "coil":
            more["on_hand"] = draw(st.sampled_from([None, 150, 600]))
            more["longest_cut_off"] = draw(st.sampled_from([None, 48]))
            more["price"] = ("9.40", draw(st.sampled_from(["lb", "kg", "foot", "meter"]))) if priced else None
            more["width"] = draw(st.sampled_from([20, 24, 36]))
        else:
            more["width"] = draw(st.sampled_from([12, 24, 36]))
            more["length"] = draw(st.sampled_from([40, 96, 120]))
            more["grain"] = draw(st.sampled_from(["along", "along", "across"]))
            if form == "sheet":
                more["on_hand"] = draw(st.sampled_from([None, 2, 20]))
                more["price"] = ("77.5", draw(st.sampled_from(["sheet", "lb"]))) if priced else None
        stocks.append(stock(f"s{n}", form, **more))
    return make_job(
        stocks,
        effort=0.02,
        kerf=draw(st.sampled_from(["0", "0", "1/16"])),
        longest_cut=draw(st.sampled_from([120, 120, 52, 37])),
        reach=draw(st.sampled_from([48, 24, 120])),
        least_held=draw(st.sampled_from([0, 1, 2])),
        coil_cut_off=draw(st.sampled_from(["scribed", "scribed", "gauge"])),
        cutting=draw(st.sampled_from(["strips", "stacked-strips"])),
        keep=draw(st.sampled_from([None, (6, 12)])),
        open_stacks=draw(st.sampled_from([None, 4, 9])),
        angle_stop=draw(st.sampled_from([(30.0, 150.0), (45.0, 135.0), (60.0, 120.0)])),
    )


def planned(pieces: list[Any], job: Any) -> Any:
    try:
        return nest(pieces, job, METALS)
    except NoRoomError as e:
        assert e.marks
        return None


def proved(pieces: list[Any], job: Any) -> None:
    plan = planned(pieces, job)
    if plan is None:
        return
    assert check_plan(plan, pieces, job, METALS) == []
    assert plan.bound <= plan.total
    if plan.short:
        assert plan.status == "short"
    else:
        assert all(r.total is None or plan.total <= r.total for r in plan.rivals)
    metal = plan.stock_area
    assert abs((plan.scrap_share + plan.kept_share) * metal + plan.blanks_area - metal) < 1e-6 * (1 + metal)


QUIET = {"deadline": None, "suppress_health_check": list(HealthCheck)}


@settings(max_examples=8, **QUIET)
@given(blanks(), jobs())
def test_every_plan_is_proved_and_never_worse_than_its_rivals(pieces: list[Any], job: Any) -> None:
    proved(pieces, job)


@pytest.mark.slow
@settings(max_examples=500, **QUIET)
@given(blanks(), jobs())
def test_every_plan_is_proved_many(pieces: list[Any], job: Any) -> None:
    proved(pieces, job)


@settings(max_examples=2, **QUIET)
@given(blanks(), jobs())
def test_same_job_same_plan(pieces: list[Any], job: Any) -> None:
    assert planned(pieces, job) == planned(pieces, job)


@settings(max_examples=6, **QUIET)
@given(st.integers(2, 9), st.integers(40, 300), st.integers(40, 300), st.sampled_from(["0", "1/16"]))
def test_counts_a_whole_multiple_of_the_panel_are_proven(rows: int, width: int, length: int, kerf: str) -> None:
    """A coil cut to fit: the engine cannot miss the plan a pencil finds, and the bound must meet it."""
    gap = 0 if kerf == "0" else 2
    across = Fraction(3 * width + 2 * gap, 32)
    job = make_job([stock("coil", "coil", across)], kerf=kerf, least_held=0)
    plan = nest([rect("A", width, length, 3 * rows, grain="along")], job, METALS)
    if gap == 0:
        assert (plan.status, plan.total) == ("proven", 3 * width * rows * length)
    assert plan.scrap_share < 0.1
