"""A run for several jobs costs no more than the same jobs planned one after the other on the same stock."""

from __future__ import annotations

import random
from fractions import Fraction
from pathlib import Path

import pytest

from fabplan.job.load import load_job
from fabplan.plan.check_shares import check_shares
from fabplan.plan.make import make_plan
from fabplan.plan.together import plan_together

SHOP = """[[stock]]
name = "coil 20"
form = "coil"
width = "20 in"
longest_cut_off = "{longest} in"
price = "9.40 per lb"
[[stock]]
name = "sheet"
form = "sheet"
width = "24 in"
length = "36 in"
price = "{sheet} per sheet"
"""


def jobs_of(folder: Path, rng: random.Random, hand: str = "") -> list[Path]:
    """Two or three small jobs that share a shop file."""
    (folder / "shop.toml").write_text(SHOP.format(longest=rng.choice([36, 60]), sheet=rng.choice([40, 55, 70])) + hand)
    out = []
    for n in range(rng.choice([2, 2, 3])):
        text = f'shop = "shop.toml"\n[job]\nname = "J"\nnumber = "{n + 1}"\n[metal]\nuse = "copper-16oz"\n'
        for mark in "AB"[: rng.randint(1, 2)]:
            width, length, count = rng.randint(2, 9), rng.randint(3, 17), rng.randint(1, 6)
            text += f'[[piece]]\nmark = "{mark}"\nkind = "rectangle"\ncount = {count}\n'
            text += f'width = "{width} in"\nlength = "{length}-1/2 in"\n' + rng.choice(["", "may_turn = false\n"])
        if rng.random() < 0.3:
            text += '[[piece]]\nmark = "D"\nkind = "diamond"\ncount = 4\nside = "8 in"\nhem = "3/4 in"\n'
        out.append(folder / f"{n}.toml")
        out[-1].write_text(text)
    return out


def costs_no_more(folder: Path, seed: int, *, soon: bool) -> None:
    rng = random.Random(seed)
    jobs = [load_job(p) for p in jobs_of(folder, rng)]
    stop = (lambda: True) if soon else None
    apart = Fraction(0)
    for job in jobs:
        cut = make_plan(job, effort=0, should_stop=stop).cut_plan
        assert cut is not None
        assert not cut.short
        apart += cut.total
    found = plan_together(jobs, effort=0, should_stop=stop)
    assert found.run.cut_plan is not None
    assert found.run.cut_plan.total <= apart
    assert sum(found.apart) == apart
    assert check_shares(found.run.shares, found.run.cut_plan, tuple(j.info.number for j in jobs)) == []


@pytest.mark.parametrize("seed", range(3))
def test_a_run_costs_no_more_than_its_jobs(seed: int, tmp_path: Path) -> None:
    costs_no_more(tmp_path, seed, soon=True)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(100, 140))
def test_a_run_costs_no_more_than_its_jobs_many(seed: int, tmp_path: Path) -> None:
    costs_no_more(tmp_path, seed, soon=seed % 2 > 0)


def test_what_one_job_takes_the_next_does_not_find(tmp_path: Path) -> None:
    """One cheap offcut is there: the jobs one by one take it once, and so does the run."""
    hand = '[[stock]]\nname = "left"\nform = "offcut"\nwidth = "20 in"\nlength = "30 in"\n'
    jobs = [load_job(p) for p in jobs_of(tmp_path, random.Random(5), hand)]
    found = plan_together(jobs, effort=0, should_stop=lambda: True)
    cut = found.run.cut_plan
    assert cut is not None
    assert found.apart
    assert cut.total <= sum(found.apart)
    assert [u.used_count for u in cut.stock if u.name == "left"] in ([], [1])


def test_a_sheet_for_both_is_not_there_for_each(tmp_path: Path) -> None:
    """One sheet holds four squares of one job and two of the other, and there is no second sheet."""
    stock = '[[stock]]\nname = "sheet"\nform = "sheet"\nwidth = "24 in"\nlength = "36 in"\non_hand = 1\n'
    (tmp_path / "shop.toml").write_text(stock)
    jobs = []
    for n, count in enumerate((4, 2), 1):
        text = f'shop = "shop.toml"\n[job]\nname = "J"\nnumber = "{n}"\n[metal]\nuse = "copper-16oz"\n'
        text += f'[[piece]]\nmark = "A"\nkind = "rectangle"\ncount = {count}\nwidth = "12 in"\nlength = "12 in"\n'
        (tmp_path / f"{n}.toml").write_text(text)
        jobs.append(load_job(tmp_path / f"{n}.toml"))
    found = plan_together(jobs, effort=0)
    assert found.run.cut_plan is not None
    assert not found.run.cut_plan.short
    assert found.apart == ()
