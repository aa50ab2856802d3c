"""Tools of flat pieces by the minute: a bar folder or the brake against the bites of a hand seamer."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from bend_pieces import BAR, LEAF, MALLET, SEAMER, diamond, random_piece
from bend_sections import job_of, metals

from fabplan.bending.check.whole import check_schedule
from fabplan.bending.flat.fold_order import FlatProblem, fold_order
from fabplan.bending.schedule import schedule_bends
from fabplan.bending.search import Cost, search
from fabplan.bending.tools import Pace
from fabplan.labour import Labour

FOLDER = """
[[hem_tool]]
name = "hand seamer"
largest_angle = 180
least_fold = "1/4 in"
greatest_fold = "1-1/2 in"
longest_fold = "3-1/2 in"
in_bites = true
press_strip = "1/2 in"
closes_hems = true
[[hem_tool]]
name = "bar folder"
largest_angle = 180
least_fold = "1/8 in"
greatest_fold = "1 in"
longest_fold = "30 in"
press_strip = "0 in"
closes_hems = true
"""


def tools(extra: str, count: int = 300) -> set[str]:
    pattern = replace(diamond(), count=count)
    schedule = schedule_bends(pattern, job_of(extra), metals())
    assert check_schedule(schedule, pattern, job_of(extra), metals()) == []
    return {s.tool for s in schedule.steps}


def test_three_hundred_diamonds_go_through_a_bar_folder_where_there_is_one() -> None:
    assert tools("") == {"hand seamer"}
    assert tools(FOLDER) == {"bar folder"}


def test_a_folder_that_takes_longer_than_the_bites_is_left_alone() -> None:
    assert tools(FOLDER + '[labour]\nbar_fold = "60 s"\n') == {"hand seamer"}


def test_setting_a_tool_counts_once_a_batch() -> None:
    """One tool change costs a minute: worth it for many pieces, not for one."""
    pace = Pace(labour=Labour(), pieces=25)
    assert pace.stroke(SEAMER, 12.0) == 10 * 6 * 4 * 25
    assert pace.stroke(BAR, 12.0) == 10 * 10 * 25
    assert pace.stroke(LEAF, 96.0) == 10 * 24 * 25  # twice the length a stroke is reckoned for
    assert pace.stroke(MALLET, 24.0) == 10 * 60 * 25
    assert pace.setting == 600


class Plain(FlatProblem):
    """The same problem searched without an estimate."""

    def estimate(self, state: object) -> Cost:
        return (0,) * 5


@pytest.mark.parametrize("seed", range(12))
def test_the_estimate_of_time_changes_no_answer(seed: int) -> None:
    rng = random.Random(seed)
    pattern = random_piece(rng)
    pace = Pace(labour=Labour(), pieces=rng.choice((1, 10, 25)))
    _, found = fold_order(pattern.folds, (SEAMER, LEAF, BAR, MALLET), pattern.thickness, pace=pace)
    plain = search(Plain(pattern.folds, (SEAMER, LEAF, BAR, MALLET), pattern.thickness, None, (), pace))
    assert found.cost == plain.cost
