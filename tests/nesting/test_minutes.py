"""The minutes of a plan: counted by hand on small layouts, and counted twice on every other."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

import pytest

from fabplan.job.model import Job
from fabplan.labour import Labour, Spent
from fabplan.nesting.check.whole import check_plan
from fabplan.nesting.minutes import labour_cost, program_work, seconds_of, together
from fabplan.nesting.model import CutPlan, ProgramStep, ShearProgram
from fabplan.nesting.nest import nest
from fabplan.nesting.problem import build_groups
from fabplan.nesting.remarks import LeastMetal
from fabplan.nesting.search.work import work_cost
from fabplan.speech.nest import notes
from tests.nesting.nesting_jobs import GRID, METALS, make_job, polygon, rect, stock

INCH = 25_400_000 // GRID
SHOP = Labour(rate=75.0)


def work(found: tuple[Spent, ...]) -> dict[str, tuple[int, float]]:
    return {s.what: (s.times, s.seconds) for s in found}


def with_labour(job: Job, labour: Labour) -> Job:
    return job.model_copy(update={"labour": labour})


def test_a_strip_of_squares_from_a_coil() -> None:
    """Twelve 10 in squares from a 20 in coil, six pulls of two: a cut-off and one cut down the middle each."""
    job = with_labour(make_job([stock("coil", "coil", 20, price=("9.00", "lb"), longest_cut_off=10)]), SHOP)
    plan = nest([rect("A", 10 * INCH, 10 * INCH, 12)], job, METALS)
    assert work(plan.spent) == {
        "stroke": (12, 120.0), "pull": (6, 240.0), "layout": (1, 180.0), "set_gauge": (1, 45.0),
    }  # fmt: skip
    assert work(plan.layouts[0].spent) == {"stroke": (12, 120.0), "pull": (6, 240.0), "layout": (1, 180.0)}
    assert plan.labour_total == Fraction(585, 3600) * 75
    assert plan.metal_total == Fraction(20 * 60, 144) * 9


def test_a_heavy_sheet_takes_longer_strokes() -> None:
    """A 36 x 96 in sheet of 1 lb per sq ft weighs 24 lb. Two halves, 12 lb each, halved again: 24 + 2 x 12 s."""
    job = with_labour(make_job([stock("sheet", "sheet", 36, 96)]), SHOP)
    plan = nest([rect("A", 36 * INCH, 24 * INCH, 4)], job, METALS)
    (layout,) = plan.layouts
    strokes = work(layout.spent)["stroke"]
    weights = {48: 24 + 12 + 12, 24: 24 + 18 + 12, 72: 24 + 18 + 12}  # where the first cut falls, in inches
    first = layout.cuts[0]
    assert strokes == (3, pytest.approx(weights[round(first.start[1] / INCH)]))


def test_scribed_cuts_and_the_angle_stop() -> None:
    """A lone kite has slanted sides: what cannot be gauged is scribed, and each gauged slant needs the stop."""
    job = with_labour(make_job([stock("sheet", "sheet", 20, 20)], least_gauge=11), SHOP)
    plan = nest([polygon("K", [(5, 0), (10, 7), (5, 12), (0, 7)], 1)], job, METALS)
    (layout,) = plan.layouts
    to_marks = sum(c.back_gauge is None for c in layout.cuts)
    assert to_marks
    assert work(layout.spent)["scribe"] == (to_marks, 75.0 * to_marks)
    slants = {c.angle for c in layout.cuts if c.back_gauge is not None and c.angle != 90}
    assert work(plan.spent).get("set_stop", (0, 0))[0] >= len(slants)


def step(gauge: int | None, angle: float = 90.0) -> ProgramStep:
    return ProgramStep(step=1, back_gauge=gauge, angle=angle, items=((1, (1,), 1),))


@pytest.mark.parametrize(
    ("steps", "gauges", "stops"),
    [
        ([step(10), step(10), step(12)], 2, 0),
        ([step(10), step(None), step(10)], 1, 0),  # a cut to marks leaves the gauge where it is
        ([step(10), step(12), step(10)], 3, 0),
        ([step(10, 45.0), step(10), step(10, 45.0)], 1, 1),  # a square cut needs no stop: it stays where it was
        ([step(10, 45.0), step(12, 60.0), step(12, 45.0)], 2, 3),
        ([step(None, 33.0)], 0, 0),
    ],
)
def test_settings_of_a_program(steps: list[ProgramStep], gauges: int, stops: int) -> None:
    program = ShearProgram(
        steps=tuple(steps), settings=0, settings_layout_by_layout=0, most_open_stacks=9, least_settings=0
    )
    found = work(program_work(program, SHOP))
    assert found.get("set_gauge", (0, 0.0)) == (gauges, 45.0 * gauges)
    assert found.get("set_stop", (0, 0.0)) == (stops, 60.0 * stops)
    assert found["stack"] == (3, 60.0)


def test_seconds_add_up_exactly() -> None:
    tenth = [Spent(what="stroke", times=1, seconds=0.1)] * 30
    (all_of_it,) = together(tenth)
    assert (all_of_it.times, all_of_it.seconds) == (30, 3.0)
    assert seconds_of(tenth) == 3
    assert labour_cost([], tenth, {}) == 0


def spoiled(plan: CutPlan, at: int, **change: object) -> CutPlan:
    return replace(plan, spent=tuple(replace(s, **change) if k == at else s for k, s in enumerate(plan.spent)))  # type: ignore[arg-type]


def layout_spoiled(plan: CutPlan, **change: object) -> CutPlan:
    first = plan.layouts[0]
    work = (replace(first.spent[0], **change), *first.spent[1:])  # type: ignore[arg-type]
    return replace(plan, layouts=(replace(first, spent=work), *plan.layouts[1:]))


SPOIL: dict[str, Callable[[CutPlan], CutPlan]] = {
    "a setting more": lambda p: spoiled(p, -1 % len(p.spent), times=p.spent[-1].times + 1),
    "a stroke fewer": lambda p: spoiled(p, 0, times=p.spent[0].times - 1),
    "a minute less": lambda p: spoiled(p, 0, seconds=p.spent[0].seconds - 60),
    "a layout's stroke fewer": lambda p: layout_spoiled(p, times=p.layouts[0].spent[0].times - 1),
    "a layout a minute less": lambda p: layout_spoiled(p, seconds=p.layouts[0].spent[0].seconds - 60),
    "no minutes at all": lambda p: replace(p, spent=()),
    "no minutes of a layout": lambda p: replace(p, layouts=(replace(p.layouts[0], spent=()), *p.layouts[1:])),
    "a cent less": lambda p: replace(p, labour_total=p.labour_total - Fraction(1, 100)),
    "cheaper metal": lambda p: replace(p, metal_total=p.metal_total - 1),
    "a metal bound above the metal": lambda p: replace(p, metal_bound=p.metal_total + 1),
}


@pytest.fixture(scope="module")
def planned() -> tuple[CutPlan, Job, list[object]]:
    stocks = [stock("coil", "coil", 24, price=("9.40", "lb")), stock("sheet", "sheet", 36, 96, price=("240", "sheet"))]
    job = with_labour(make_job(stocks), SHOP)
    blanks = [
        rect("A", 11 * INCH, 14 * INCH, 12),
        rect("B", 5 * INCH, 30 * INCH, 5),
        polygon("T", [(0, 0), (9, 0), (9, 9)], 6),
    ]
    return nest(blanks, job, METALS), job, blanks  # type: ignore[return-value]


def test_counted_twice(planned: tuple[CutPlan, Job, list[object]]) -> None:
    plan, job, blanks = planned
    assert check_plan(plan, blanks, job, METALS) == []  # type: ignore[arg-type]
    assert plan.labour_total > 0
    assert sum(s.times for s in plan.spent if s.what == "stroke") == sum(y.repeat * len(y.cuts) for y in plan.layouts)


@pytest.mark.parametrize("what", SPOIL)
def test_wrong_minutes_are_found(planned: tuple[CutPlan, Job, list[object]], what: str) -> None:
    plan, job, blanks = planned
    assert check_plan(SPOIL[what](plan), blanks, job, METALS)  # type: ignore[arg-type]


def test_a_faster_shop_is_another_plan_to_prove(planned: tuple[CutPlan, Job, list[object]]) -> None:
    plan, job, blanks = planned
    assert check_plan(plan, blanks, with_labour(job, replace(SHOP, stroke=5.0)), METALS)  # type: ignore[arg-type]
    assert check_plan(plan, blanks, with_labour(job, replace(SHOP, rate=76.0)), METALS)  # type: ignore[arg-type]


@pytest.mark.parametrize("labour", [Labour(), Labour(rate_pounds=2.0), Labour(rate=75.0)])
def test_without_prices_an_hour_counts_as_metal(labour: Labour) -> None:
    """Money cannot be set against metal without prices; six pounds of copper an hour by its profile."""
    job = with_labour(make_job([stock("coil", "coil", 20, longest_cut_off=10)]), labour)
    plan = nest([rect("A", 10 * INCH, 10 * INCH, 12)], job, METALS)
    pounds = labour.rate_pounds or METALS["copper-16oz"].hour_weighs
    assert float(plan.labour_total) == pytest.approx(585 / 3600 * pounds * 144 * INCH**2)


@pytest.mark.parametrize("rate", [75.0, 5000.0])
def test_what_counting_work_changed_is_told(rate: float) -> None:
    """The dearer the hour, the more metal is given for less work; the plan says how much, against the least metal."""
    blanks = [
        rect(mark, w * INCH, h * INCH, n) for mark, w, h, n in (("A", 11, 14, 7), ("B", 5, 17, 9), ("C", 3, 8, 11))
    ]
    stocks = [stock("coil", "coil", 24, price=("9.40", "lb"))]
    plan = nest(blanks, with_labour(make_job(stocks), Labour(rate=rate)), METALS)
    (note,) = [n for n in plan.notes if isinstance(n, LeastMetal)]
    metal = plan.metal_total - note.saves
    assert metal >= plan.metal_bound
    assert (note.saves > 0) == (note.more > 0)
    if note.saves:
        assert metal + plan.labour_total + Fraction(note.more) * Fraction(rate) / 3600 >= plan.total
    (said,) = [
        s
        for s in notes(plan, with_labour(make_job(stocks), SHOP))
        if ("metal" in s and "work" in s) or "least metal" in s
    ]
    assert said
    free = nest(blanks, make_job(stocks), METALS)
    assert not [n for n in free.notes if isinstance(n, LeastMetal)]
    assert free.total == free.metal_total <= plan.metal_total


def test_work_is_priced_with_no_limit_of_stacks() -> None:
    """What plans are compared by is what is counted of the plan in the end."""
    job = with_labour(make_job([stock("coil", "coil", 24, price=("9.40", "lb"))]), SHOP)
    blanks = [
        rect(mark, w * INCH, h * INCH, n) for mark, w, h, n in (("A", 11, 14, 7), ("B", 5, 17, 9), ("C", 3, 8, 11))
    ]
    plan = nest(blanks, job, METALS)
    (group,) = build_groups(blanks, job, METALS)
    assert work_cost(group, plan.layouts) == plan.labour_total
