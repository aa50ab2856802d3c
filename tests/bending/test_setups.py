"""The set-up sheet: every stroke once, each piece's order kept, alike settings made together."""

from __future__ import annotations

import random
from dataclasses import replace
from itertools import pairwise

from bend_pieces import diamond
from bend_sections import job_of, metals, random_section, section

from fabplan.bending.errors import BendError
from fabplan.bending.model import BendSchedule
from fabplan.bending.schedule import schedule_bends
from fabplan.bending.setups import set_up_sheet, setting_of

RULE = 1 / 32


def schedules(seed: int) -> list[BendSchedule]:
    rng = random.Random(seed)
    made = [schedule_bends(replace(diamond(), mark="A"), job_of(), metals())]
    while len(made) < 5:
        pattern = replace(random_section(rng, rng.randint(1, 3)), mark=f"S{len(made)}")
        try:
            made.append(schedule_bends(pattern, job_of(), metals()))
        except BendError:
            continue
    return made


def test_every_stroke_stands_once_at_its_own_setting_in_its_own_order() -> None:
    for seed in range(4):
        made = schedules(seed)
        steps = {(s.mark, step.step): step for s in made for step in s.steps}
        sheet = set_up_sheet(made, RULE)
        told = [stroke for one in sheet for stroke in one.strokes]
        assert sorted(told) == sorted(steps)
        for mark in {m for m, _ in told}:
            own = [n for m, n in told if m == mark]
            assert own == sorted(own)
        for one in sheet:
            assert len({setting_of(steps[key], RULE) for key in one.strokes}) == 1
        alone = sum(len(set_up_sheet([s], RULE)) for s in made)
        assert len(sheet) <= alone


def test_pieces_of_one_depth_share_a_setting() -> None:
    pieces = [replace(section([2, leg], [90]), mark=f"L{leg}") for leg in (4, 5, 6)]
    sheet = set_up_sheet([schedule_bends(p, job_of(), metals()) for p in pieces], RULE)
    assert [(s.tool, s.set_deg, len(s.strokes)) for s in sheet] == [("leaf brake", 92.0, 1)] * 3
    hems = [replace(diamond(side), mark=f"D{side:g}") for side in (9.0, 12.0)]
    (one,) = set_up_sheet([schedule_bends(p, job_of(), metals()) for p in hems], RULE)
    assert len(one.strokes) == 8


def test_of_as_few_settings_the_work_changes_tools_least() -> None:
    """A section at the brake and a diamond at the bench have nothing in common: one tool, then the other."""
    for seed in range(3):
        sheet = set_up_sheet(schedules(seed), RULE)
        tools = [one.tool for one in sheet]
        changes = sum(a != b for a, b in pairwise(tools))
        assert changes == len(set(tools)) - 1


def test_a_setting_waits_for_the_piece_that_shares_it() -> None:
    """Kicks alike on two pieces of unlike hems: the first waits until the second is as far."""
    coping = section([0.75, 4, 12], [-45, 90], start_hem=(0.5, "face", 0.0))
    drip = section([3, 2, 0.75], [-90, 45], end_hem=(0.5, "back", 0.0))
    made = [schedule_bends(replace(p, mark=m), job_of(), metals()) for m, p in (("C", coping), ("D", drip))]
    alone = sum(len(set_up_sheet([s], RULE)) for s in made)
    settings = [{setting_of(step, RULE) for step in s.steps} for s in made]
    assert len(set_up_sheet(made, RULE)) < alone or not settings[0] & settings[1]
