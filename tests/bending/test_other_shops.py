"""A schedule made for one shop does not pass for a shop whose tools cannot make it."""

from __future__ import annotations

from dataclasses import replace

import pytest
from bend_pieces import diamond
from bend_sections import job_of, metals, section

from fabplan.bending.check.whole import check_schedule, check_schedules
from fabplan.bending.model import BendSchedule
from fabplan.bending.schedule import schedule_all
from fabplan.blanks.model import FlatPattern


def seamer(name: str = "hand seamer", **changes: str) -> str:
    """A shop's only hem tool, as usual but for the changes."""
    usual = {
        "largest_angle": "180",
        "least_fold": '"1/4 in"',
        "greatest_fold": '"1-1/2 in"',
        "longest_fold": '"3-1/2 in"',
        "in_bites": "true",
        "press_strip": '"1/2 in"',
        "closes_hems": "true",
    }
    keys = "".join(f"{key} = {value}\n" for key, value in {**usual, **changes}.items())
    return f'[[hem_tool]]\nname = "{name}"\n{keys}'


PIECES: dict[str, FlatPattern] = {
    "diamond": diamond(9.0, 0.75, 0.75),
    "drip edge": section([0.75, 2.5, 3.0], [90.0, -45.0], end_hem=(0.5, "back", 0.0625)),
}
SHOPS: dict[str, tuple[str, str, str]] = {
    "a seamer that wants a wider fold": ("diamond", seamer(least_fold='"1 in"'), "does not take a fold"),
    "a seamer for narrow folds": ("diamond", seamer(greatest_fold='"1/2 in"'), "does not take a fold"),
    "a short seamer that makes no bites": (
        "diamond",
        seamer(in_bites="false", longest_fold='"2 in"'),
        "the fold is longer than the hand seamer",
    ),
    "a seamer with a deep slot": (
        "diamond",
        seamer(slot_depth='"1-1/4 in"'),
        "the slot of the hand seamer",
    ),
    "a seamer that turns a right angle": ("diamond", seamer(largest_angle="90"), "turns only 90 degrees"),
    "no seamer": ("diamond", seamer("bending iron"), "there is no hand seamer"),
    "a short brake": ("drip edge", '[brake]\nlongest_bend = "40 in"', "longer than the brake"),
    "a leaf that wants a wide flange": ("drip edge", '[brake]\nleast_flange = "4 in"', "too short for the leaf"),
    "a nose that clamps wide": ("drip edge", '[brake]\nleast_clamp = "6 in"', "of flat to clamp"),
    "a shallow throat": ("drip edge", '[brake]\nthroat = "1-1/2 in"', "reaches past the throat"),
    "a leaf that stops early": ("drip edge", "[brake]\nlargest_angle = 60", "the leaf swings only 60 degrees"),
    "a brake for shallow hems": ("drip edge", '[brake]\ndeepest_flattened_hem = "1/4 in"', "too deep for the brake"),
    "a jaw that hardly opens": ("drip edge", '[brake]\njaw = "1/4 in"', "it goes in from the end"),
}


def schedule(name: str) -> BendSchedule:
    (made,) = schedule_all([PIECES[name]], job_of(), metals()).schedules
    assert check_schedule(made, PIECES[name], job_of(), metals()) == []
    return made


@pytest.mark.parametrize("shop", SHOPS)
def test_a_schedule_does_not_pass_where_the_tools_cannot_make_it(shop: str) -> None:
    name, extra, says = SHOPS[shop]
    found = check_schedule(schedule(name), PIECES[name], job_of(extra), metals())
    assert any(says in fault for fault in found), found


def test_a_schedule_of_another_piece_or_kind_does_not_pass() -> None:
    made = schedule("diamond")
    faults = check_schedules([replace(made, mark="Z")], [PIECES["diamond"]], job_of(), metals())
    assert any("there is no piece of that mark with folds" in f for f in faults)
    assert any("0 schedules instead of one" in f for f in faults)
    assert check_schedule(made, PIECES["drip edge"], job_of(), metals()) == [
        "its schedule is for a flat piece, it is a section one"
    ]
