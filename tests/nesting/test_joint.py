"""Jobs of two metals, and with few piles allowed: the plan never costs more than simple ways of cutting it all."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

import pytest
from nesting_jobs import METALS, make_job, rect, stock

from fabplan.job.model import Job
from fabplan.labour import NO_LABOUR, Labour
from fabplan.nesting import minutes
from fabplan.nesting.cuts.program import shear_program
from fabplan.nesting.model import CutPlan
from fabplan.nesting.nest import nest
from fabplan.nesting.problem import build_groups
from fabplan.nesting.search.work import own_seconds
from fabplan.plan.prove_cuts import rival_faults

SHOP = Labour(rate_pounds=6.0)
ZINC = "zinc-0.7mm"


def two_metals(rng: random.Random, kinds: int) -> tuple[list, Job]:  # type: ignore[type-arg]
    sizes = [(rng.randint(60, 400), rng.randint(60, 400)) for _ in range(kinds)]
    blanks = []
    for n, (w, h) in enumerate(sizes):
        blanks.append(rect(f"C{n}", w, h, rng.randint(1, 12)))
        if rng.random() < 0.7:  # a size in both metals: its settings are shared
            blanks.append(rect(f"Z{n}", w, h, rng.randint(1, 12), material=ZINC))
    blanks.append(rect("Z9", 150, 200, 3, material=ZINC))
    lines = [stock("c", "coil", 24), stock("z", "coil", 20, material=ZINC), stock("zs", "sheet", 30, 60, material=ZINC)]
    job = make_job(lines, effort=0, open_stacks=rng.choice([None, 2, 5])).model_copy(update={"labour": SHOP})
    return blanks, job


def counted_at(plan: CutPlan, blanks: Sequence, job: Job) -> Fraction:  # type: ignore[type-arg]
    """Metal and work of a plan's layouts at the job's own times, its program made anew."""
    groups = {g.metal: g for g in build_groups(blanks, job, METALS)}
    own = sum((own_seconds(groups[y.metal], y) * groups[y.metal].second for y in plan.layouts), Fraction(0))
    program = shear_program(plan.layouts, job.nest.open_stacks, job.labour)
    settings = minutes.seconds_of(minutes.program_work(program, job.labour))
    return plan.metal_total + own + settings * max(g.second for g in groups.values())


def check(seed: int, kinds: int) -> None:
    blanks, job = two_metals(random.Random(seed), kinds)
    plan = nest(blanks, job, METALS)
    assert plan.bound <= plan.total
    assert rival_faults(plan, job) == []
    assert {r.total is None for r in plan.rivals} == {False}
    dear = replace(plan, total=min(r.total for r in plan.rivals if r.total is not None) * Fraction(101, 100))
    assert rival_faults(dear, job), "a dearer plan of two metals is a fault"
    if kinds < 3:
        return
    least = nest(blanks, job.model_copy(update={"labour": NO_LABOUR}), METALS)
    assert plan.total <= counted_at(least, blanks, job), seed


@pytest.mark.parametrize("seed", range(2))
def test_the_whole_is_no_dearer_than_simple_ways(seed: int) -> None:
    check(seed, 1)


@pytest.mark.slow
@pytest.mark.parametrize("first", range(100, 160, 10))
def test_the_whole_is_no_dearer_on_many_jobs(first: int) -> None:
    for seed in range(first, first + 10):
        check(seed, 3)
