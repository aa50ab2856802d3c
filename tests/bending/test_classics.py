"""Twelve profiles every roofing shop bends, in the order the trade teaches them: common practice, no source.

Bends and hems are numbered from the start edge, hems counted in. A rule "a before b" is what an apprentice is told;
what the trade leaves open is left open here.
"""

from __future__ import annotations

from itertools import pairwise, product

import pytest
from bend_sections import job_of, metals, section

from fabplan.bending.check.whole import check_schedule
from fabplan.bending.schedule import schedule_bends
from fabplan.blanks.model import FlatPattern

CLOSED, OPEN = 0.0, 1 / 16
Order = tuple[tuple[int, ...], ...]  # groups: every bend of one before every bend of the next

CLASSICS: dict[str, tuple[FlatPattern, list[Order], int]] = {
    # the hem while the strip is flat, then the bends
    "drip edge": (section([3, 2, 0.75], [-90, 45], end_hem=(0.5, "back", CLOSED)), [((3,), (1, 2))], 1),
    # one bend, turn over, the other
    "Z": (section([3, 1.5, 3], [90, -90]), [], 1),
    # both hems, the ridge last
    "hip cap": (
        section([4, 4], [-60], start_hem=(0.5, "back", CLOSED), end_hem=(0.5, "back", CLOSED)),
        [((1, 3), (2,))],
        0,
    ),
    # the centre of the rib first, then its shoulders
    "W valley": (
        section([7, 1, 1, 7], [45, -90, 45], start_hem=(0.5, "face", OPEN), end_hem=(0.5, "face", OPEN)),
        [((3,), (2, 4))],
        1,
    ),
    # the kick, then the square bend
    "cleat": (section([2, 1, 0.5], [-90, 45]), [((2,), (1,))], 1),
    # hem and lips to one side, then turn over for the bottom
    "box gutter": (
        section([4, 4, 5, 4, 1], [-90, 90, 90, -90], end_hem=(0.5, "back", CLOSED)),
        [((5,), (4,)), ((1, 4, 5), (2, 3))],
        1,
    ),
    # hem, kick, reglet
    "counterflashing": (section([1, 4, 0.5], [90, -30], end_hem=(0.5, "back", CLOSED)), [((3,), (2,), (1,))], 1),
    # the pan clamped, one side up, then the other
    "seam pan": (section([1.25, 18, 1.5], [90, 90]), [], 0),
    # hems, kicks, faces
    "coping": (
        section(
            [0.75, 4, 12, 4, 0.75],
            [-45, 90, 90, -45],
            start_hem=(0.5, "face", CLOSED),
            end_hem=(0.5, "face", CLOSED),
        ),
        [((1, 6), (2, 5), (3, 4))],
        2,
    ),
    # the feet, turn over, the crown
    "hat": (section([1.5, 1, 2.5, 1, 1.5], [90, -90, -90, 90]), [((1, 4), (2, 3))], 1),
    # hem before kick, the stop's sharp bend last
    "gravel stop": (
        section([4, 1, 4, 0.75], [45, -135, 45], end_hem=(0.5, "face", CLOSED)),
        [((4,), (3,)), ((1, 3, 4), (2,))],
        1,
    ),
    # one fold on its shim, turn over, the other with the first shim kept in
    "S-cleat": (section([1], [], start_hem=(1, "face", OPEN), end_hem=(1, "back", OPEN)), [], 1),
}


@pytest.mark.parametrize("name", CLASSICS)
def test_the_order_the_trade_teaches(name: str) -> None:
    pattern, orders, turn_overs = CLASSICS[name]
    schedule = schedule_bends(pattern, job_of(), metals())
    assert check_schedule(schedule, pattern, job_of(), metals()) == []
    at = {step.edge: step.step for step in schedule.steps}
    for groups in orders:
        for early, late in pairwise(groups):
            assert all(at[a] < at[b] for a, b in product(early, late)), (name, at)
    assert schedule.turn_overs == turn_overs
    assert sorted(at) == list(range(1, len(pattern.folds) + 1))


@pytest.mark.parametrize("name", ["drip edge", "hip cap", "seam pan", "coping", "counterflashing"])
def test_the_body_is_clamped_and_the_hem_or_flange_is_swung(name: str) -> None:
    pattern = CLASSICS[name][0]
    hems = {f.edge for f in pattern.folds if f.hem} or {1, 2}
    steps = schedule_bends(pattern, job_of(), metals()).steps
    assert not any(s.hold.wide_swings for s in steps if s.edge in hems and s.action != "close")


def test_the_s_cleat_keeps_its_first_shim() -> None:
    steps = schedule_bends(CLASSICS["S-cleat"][0], job_of(), metals()).steps
    assert [s.hold.shims_in for s in steps] == [(), (), (1,), (1,)]
