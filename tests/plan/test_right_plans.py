"""Right plans are proved, whatever the shop: no false alarm for saws, short shears, offcuts, slants, two metals."""

from __future__ import annotations

import json
import random
from pathlib import Path

import pytest

from fabplan.errors import PlanError
from fabplan.job.load import load_job
from fabplan.plan.file import plan_json
from fabplan.plan.make import make_plan
from fabplan.plan.prove import prove

SHEARS = (
    "",
    'longest_cut = "52 in"\nback_gauge_reach = "30 in"\nleast_held = "1 in"\n',
    'longest_cut = "120 in"\nback_gauge_reach = "100 in"\nkerf = "1/8 in"\n',
    'longest_cut = "52 in"\ncoil_cut_off = "gauge"\nback_gauge_reach = "52 in"\n',
    'least_held = "3 in"\ncutting = "stacked-strips"\n',
)
STOCKS = (
    '[[stock]]\nname = "coil"\nform = "coil"\nwidth = "24 in"\nlongest_cut_off = "60 in"\n',
    '[[stock]]\nname = "coil"\nform = "coil"\nwidth = "20 in"\ntrim_each_edge = "1/8 in"\n',
    '[[stock]]\nname = "sheet"\nform = "sheet"\nwidth = "36 in"\nlength = "96 in"\n',
    '[[stock]]\nname = "coil"\nform = "coil"\nwidth = "24 in"\ngrain = "across"\n',
)
MORE = '[[stock]]\nname = "drop"\nform = "offcut"\nwidth = "17 in"\nlength = "41 in"\non_hand = 2\n'
ZINC = '[[stock]]\nname = "zinc"\nform = "sheet"\nwidth = "1 m"\nlength = "2 m"\nmetal = "zinc-0.7mm"\n'


def job_text(rng: random.Random) -> str:
    """A small shop and a few pieces of every sort, taken at random."""
    text = '[job]\nname = "Shed"\nnumber = "S-1"\n'
    text += rng.choice(["", 'keep_at_least = "6 x 12 in"\n', 'units = "mm"\n'])
    text += '[metal]\nuse = "copper-16oz"\n'
    for mark in "ABC"[: rng.randint(1, 3)]:
        text += f'[[piece]]\nmark = "{mark}"\nkind = "rectangle"\ncount = {rng.randint(1, 30)}\n'
        text += f'width = "{rng.randint(20, 300)}/16 in"\nlength = "{rng.randint(40, 400)}/16 in"\n'.replace(
            "/16 in", " mm"
        )
        text += rng.choice(["", 'grain = "along"\n', 'grain = "across"\n'])
    if rng.random() < 0.6:
        angle = rng.choice([75, 90, 100])
        text += f'[[piece]]\nmark = "D"\nkind = "diamond"\ncount = {rng.randint(2, 24)}\nside = "9 in"\n'
        text += f'top_angle = {angle}\nhem = "3/4 in"\n'
        text += f'[[piece]]\nmark = "DS"\nkind = "{rng.choice(["starter", "rake-left", "ridge-half"])}"\nfor = "D"\n'
        text += f"count = {rng.randint(1, 6)}\n"
    with_zinc = rng.random() < 0.3
    if with_zinc:
        text += '[[piece]]\nmark = "Z"\nkind = "rectangle"\ncount = 5\nwidth = "9 in"\nlength = "11 in"\n'
        text += 'metal = "zinc-0.7mm"\n'
    text += "".join(dict.fromkeys(rng.choices(STOCKS, k=1))) + (MORE if rng.random() < 0.4 else "")
    text += (ZINC if with_zinc else "") + "[shear]\n" + rng.choice(SHEARS)
    return text + rng.choice(["", '[nest]\nfewer_setups = "5 %"\n', "[nest]\nopen_stacks = 3\n"])


def proved(seed: int, folder: Path, effort: float, *, soon: bool = False) -> bool:
    """Plan a job and prove the plan as saved; False when the job has no plan. `soon`: the first plan found."""
    path = folder / "job.toml"
    path.write_text(job_text(random.Random(seed)), encoding="utf-8")
    job = load_job(path)
    try:
        plan = make_plan(job, effort=effort, seconds=20, should_stop=(lambda: True) if soon else None)
    except PlanError:
        return False
    proof = prove(json.loads(json.dumps(plan_json(plan))), job)
    assert proof.ok, (seed, proof.lines())
    return True


def test_right_plans_of_many_shops_are_proved(tmp_path: Path) -> None:
    assert sum(proved(seed, tmp_path, 0, soon=True) for seed in (0, 1, 2, 36, 88)) >= 4


@pytest.mark.slow
def test_right_plans_of_very_many_shops_are_proved(tmp_path: Path) -> None:
    assert sum(proved(seed, tmp_path, 0) for seed in range(3, 80)) >= 60
    assert sum(proved(seed, tmp_path, 0.3) for seed in range(80, 110)) >= 24
