"""Metal that is there and metal to buy in one line of stock."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from real_runs import HEAD

from fabplan.errors import JobError
from fabplan.job.load import load_job
from fabplan.plan.check_buy import check_buy
from fabplan.plan.coils import fullest, off_coils
from fabplan.plan.file import plan_json
from fabplan.plan.make import make_plan
from fabplan.plan.model import Plan
from fabplan.plan.prove import prove
from fabplan.units import NM_PER_INCH

JOB = (
    HEAD
    + """[[piece]]
mark = "K"
kind = "rectangle"
count = 30
width = "24 in"
length = "10 in"
may_turn = false
[[stock]]
name = "coil 24"
form = "coil"
width = "24 in"
longest_cut_off = "40 in"
price = "2 per foot"
"""
)


def planned(folder: Path, more: str, text: str = JOB) -> Plan:
    path = folder / "job.toml"
    path.write_text(text + more)
    return make_plan(load_job(path), effort=0)


def test_what_is_there_is_pulled_and_the_rest_bought(tmp_path: Path) -> None:
    plan = planned(tmp_path, 'on_hand = "125 in"\nbuy = true\n')
    assert plan.cut_plan is not None
    assert plan.cut_plan.short == ()
    (line,) = plan.buy
    assert line.need.length == 300 * NM_PER_INCH
    assert line.pull.length is not None
    assert line.buy.length == 300 * NM_PER_INCH - line.pull.length
    # Whole panels only: no panel runs over the end of the coil that is there.
    lengths = {y.length * plan.cut_plan.grid: y.repeat for y in plan.cut_plan.layouts}
    sums = {
        sum(n * length for n, length in zip(times, lengths, strict=True))
        for times in product(*(range(r + 1) for r in lengths.values()))
    }
    assert line.pull.length == max(s for s in sums if s <= 125 * NM_PER_INCH)
    assert line.left is not None
    assert line.price == pytest.approx(2 * line.buy.length / NM_PER_INCH / 12, abs=0.01)  # type: ignore[comparison-overlap]
    assert prove(plan_json(plan), plan.job).ok


def test_on_hand_alone_is_the_limit_as_before(tmp_path: Path) -> None:
    plan = planned(tmp_path, 'on_hand = "125 in"\n')
    assert plan.cut_plan is not None
    assert plan.cut_plan.short


def test_enough_on_hand_buys_nothing(tmp_path: Path) -> None:
    (line,) = planned(tmp_path, 'on_hand = "40 ft"\nbuy = true\n').buy
    assert (line.buy.length, line.price) == (0, None)


def test_sheets_too(tmp_path: Path) -> None:
    sheet = JOB.replace('form = "coil"', 'form = "sheet"\nlength = "40 in"').replace('longest_cut_off = "40 in"\n', "")
    (line,) = planned(tmp_path, "on_hand = 3\nbuy = true\n", sheet.replace("per foot", "per sheet")).buy
    assert (line.pull.count, line.buy.count) == (3, line.need.count - 3 if line.need.count else None)


def test_the_checker_finds_a_panel_cut_across_the_end(tmp_path: Path) -> None:
    plan = planned(tmp_path, 'on_hand = "125 in"\nbuy = true\n')
    (line,) = plan.buy
    inch = replace(line.pull, length=125 * NM_PER_INCH, pounds=line.need.pounds * 125 / 300)
    rest = replace(line.buy, length=175 * NM_PER_INCH, pounds=line.need.pounds * 175 / 300)
    assert check_buy([replace(line, pull=inch, buy=rest, left=None)], plan.cut_plan, plan.job, plan.metals)
    assert check_buy(plan.buy, plan.cut_plan, plan.job, plan.metals) == []


def test_buy_needs_something_on_hand(tmp_path: Path) -> None:
    with pytest.raises(JobError, match="bought anyway"):
        planned(tmp_path, "buy = true\n")


@given(st.dictionaries(st.integers(1, 60), st.integers(1, 4), min_size=1, max_size=4), st.integers(0, 200))
def test_whole_panels_is_the_greatest_sum_there_is(panels: dict[int, int], most: int) -> None:
    sums = [
        sum(n * length for n, length in zip(times, panels, strict=True))
        for times in product(*(range(r + 1) for r in panels.values()))
    ]
    taken = fullest([(n, length, times) for n, (length, times) in enumerate(panels.items())], most)
    assert sum(list(panels)[n] * times for n, times in taken) == max(s for s in sums if s <= most)


@given(
    st.dictionaries(st.integers(1, 60), st.integers(1, 4), min_size=1, max_size=4),
    st.lists(st.integers(0, 200), min_size=1, max_size=4),
)
def test_panels_come_off_as_few_coils_as_hold_them(panels: dict[int, int], coils: list[int]) -> None:
    some = [(n, length, times) for n, (length, times) in enumerate(panels.items())]
    got = off_coils(some, coils)
    used = [sum(some[n][1] * times for n, times in taken) for taken in got]
    assert all(n <= room for n, room in zip(used, coils, strict=True))
    cut = [sum(dict(taken).get(n, 0) for taken in got) for n in range(len(some))]
    assert all(n <= times for n, (_, _, times) in zip(cut, some, strict=True))
    total = sum(length * times for _, length, times in some)
    one = [room for room in coils if room >= total]
    if one:  # the smallest coil that holds it all, and nothing of the others
        assert [room for n, room in zip(used, coils, strict=True) if n] == [min(one)]
    waiting = [length for n, (_, length, times) in enumerate(some) if cut[n] < times]
    if waiting:  # no coil has room for another panel
        assert max(room - n for n, room in zip(used, coils, strict=True)) < min(waiting)
