"""Things the proof of a cut plan asks about: one wrong plan each, and the words it is refused with."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from functools import cache
from typing import Any

import pytest
from cut_facts import NOTHING
from nesting_jobs import METALS, make_job, rect, stock

from fabplan.nesting.check.whole import check_plan
from fabplan.nesting.model import CutPlan
from fabplan.nesting.nest import nest
from fabplan.plan.prove_cuts import bound_faults, label_faults, program_faults, rival_faults

BLANKS = [rect("A", 300, 410, 9, grain="along"), rect("B", 200, 350, 7)]


@cache
def made() -> tuple[CutPlan, Any]:
    job = make_job([stock("coil", "coil", 24), stock("sheet", "sheet", 36, 96, on_hand=2)], keep=(6, 12))
    plan = nest(BLANKS, job, METALS)
    assert check_plan(plan, BLANKS, job, METALS) == []
    return plan, job


def layout(plan: CutPlan, **changes: Any) -> CutPlan:
    return replace(plan, layouts=(replace(plan.layouts[0], **changes), *plan.layouts[1:]))


def blank_turned(plan: CutPlan) -> CutPlan:
    """The first blank locked to the grain, given a quarter turn with its sides changed over."""
    at, b = next((k, b) for k, b in enumerate(plan.layouts[0].blanks) if b.mark == "A")
    new = replace(b, turned=not b.turned, width=b.length, length=b.width)
    blanks = plan.layouts[0].blanks
    return layout(plan, blanks=(*blanks[:at], new, *blanks[at + 1 :]))


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda p: replace(p, grid=p.grid * 2), "the plan is not on the blanks' grid"),
        (lambda p: replace(p, short=(("A", 1),)), "blanks are short and the status does not say so"),
        (lambda p: layout(p, stock="tin"), "there is no stock 'tin'"),
        (lambda p: layout(p, metal="zinc-0.7mm"), "is coil of copper-16oz"),
        (lambda p: layout(p, length=121 * 32), "longer than the longest cut-off"),
        (blank_turned, "A at"),
        (lambda p: replace(p, total=p.total + 1), "the total is not the cost of the stock taken"),
        (lambda p: replace(p, bound=p.total + 1), "the bound is above the total"),
    ],
)
def test_a_wrong_cut_plan_is_refused_with_its_words(change: Callable[[CutPlan], CutPlan], says: str) -> None:
    plan, job = made()
    assert plan.layouts[0].form == "coil"
    assert any(says in fault for fault in check_plan(change(plan), BLANKS, job, METALS))


def rival(plan: CutPlan, total: Fraction) -> CutPlan:
    return replace(plan, rivals=(replace(plan.rivals[0], total=total), *plan.rivals[1:]))


def test_no_other_way_of_cutting_costs_less() -> None:
    plan, job = made()
    assert rival_faults(plan, job) == []
    assert "costs less than the proven least" in rival_faults(rival(plan, plan.bound / 2), job)[0]
    dearer = replace(plan, total=plan.total * 2)
    assert any("costs less than the plan" in f for f in rival_faults(dearer, job))
    weighed = job.model_copy(update={"nest": job.nest.model_copy(update={"fewer_setups": Fraction(1, 10)})})
    assert rival_faults(dearer, weighed) == []  # fewer settings may cost metal


def test_a_least_above_what_the_job_gives_is_not_proven() -> None:
    plan, _ = made()
    assert bound_faults(plan, plan.bound) == []
    assert bound_faults(replace(plan, bound=plan.bound / 2), plan.bound) == []
    assert bound_faults(plan, plan.bound / 2)


def test_the_program_is_the_one_the_layouts_give() -> None:
    plan, job = made()
    assert plan.program is not None
    assert program_faults(plan, job) == []
    assert program_faults(replace(plan, program=None), job) == ["a shear program too many or too few"]
    fewer = replace(plan.program, steps=plan.program.steps[:-1])
    assert any(
        f"the program has {len(fewer.steps)} steps" in f for f in program_faults(replace(plan, program=fewer), job)
    )
    more = replace(plan.program, settings=plan.program.settings + 1)
    assert any("settings is" in f for f in program_faults(replace(plan, program=more), job))


def test_offcuts_to_keep_are_numbered_in_order() -> None:
    plan, job = made()
    assert label_faults(plan, job) == []
    at = next(k for k, y in enumerate(plan.layouts) if y.offcuts)
    y = plan.layouts[at]
    named = replace(y, offcuts=(replace(y.offcuts[0], number=99), *y.offcuts[1:]))
    wrong = replace(plan, layouts=(*plan.layouts[:at], named, *plan.layouts[at + 1 :]))
    assert label_faults(wrong, job) == [f"layout {at + 1}: a leftover has the number 99"]


@pytest.mark.parametrize(
    ("number", "changes", "says"),
    [
        (0, {"falls": NOTHING}, "does not say that the panel is cut off the coil"),
        (0, {"held": 999}, "the metal held is not the shop's least"),
        (1, {"stage": 0}, "its stage is 0"),
        (1, {"after": None}, "its metal is freed by cut 1, not None"),
        (1, {"on": NOTHING}, "is not made on the metal it names"),
        (1, {"stays": None}, "does not name the parts it makes"),
        (1, {"falls": NOTHING}, "are not what it parts"),
        (1, {"held": 1}, "leaves too little metal held"),
    ],
)
def test_a_cut_tells_what_it_parts(number: int, changes: dict[str, Any], says: str) -> None:
    plan, job = made()
    cuts = plan.layouts[0].cuts
    wrong = layout(plan, cuts=(*cuts[:number], replace(cuts[number], **changes), *cuts[number + 1 :]))
    assert any(says in fault for fault in check_plan(wrong, BLANKS, job, METALS))
