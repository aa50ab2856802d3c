"""Bend order of sections: known pieces, agreement with trying every order, reversed and mirrored descriptions."""

from __future__ import annotations

import random

import pytest
from bend_sections import (
    brake,
    job_of,
    metals,
    negated_section,
    random_folded,
    random_section,
    reversed_section,
    section,
    zoo,
)

from fabplan.bending.brake.bend_order import bend_order
from fabplan.bending.brake.section import BendStrip
from fabplan.bending.brake.strokes import Strokes
from fabplan.bending.schedule import schedule_bends
from fabplan.blanks.model import FlatPattern

Cost = tuple[int, ...]


def cost_of(pattern: FlatPattern, extra: str = "") -> Cost | None:
    _, found = bend_order(BendStrip(pattern), brake(extra), 2.0)
    assert found.proven
    return found.cost


def every_order(pattern: FlatPattern) -> Cost | None:
    """Least cost by plain recursion over all orders, ends and ways of closing hems; only the strokes are shared."""
    strip = BendStrip(pattern)
    strokes = Strokes(strip, brake(), 2.0)
    best: list[Cost | None] = [None]

    def turning(before: tuple[str, str] | None, after: tuple[str, str]) -> tuple[int, int]:
        if before is None or before == after:
            return 0, 0
        face, end = before[0] != after[0], before[1] != after[1]
        return {(True, True): (1, 0), (True, False): (1, 1), (False, True): (0, 1)}[face, end]

    def go(made: frozenset[int], lie: tuple[str, str] | None, cost: Cost) -> None:
        if len(made) == strip.n:
            if best[0] is None or cost < best[0]:
                best[0] = cost
            return
        if best[0] is not None and cost >= best[0]:
            return
        mask = sum(1 << j for j in made)
        for k in range(strip.n):
            if k in made:
                continue
            up = "face" if strip.bends[k] > 0 else "back"
            for end in ("start", "finish"):
                if strokes.first_problem(k, end == "finish", mask) is not None:
                    continue
                over, swap = turning(lie, (up, end))
                behind = strip.path(k, end == "finish", mask)
                heights = [y for _, y in behind.points]
                from_end = int(max(heights) - min(heights) > brake().jaw)
                held = strip.width - strip.marks[k] if end == "finish" else strip.marks[k]
                wide = int(held < strip.width / 2)
                swung = strip.width - held
                small = (1 + int(swung > 12)) if held < 4 and held < swung - 1 / 16 else 0
                off = int(strokes.bar_off(k, end == "finish", mask))
                nose = brake().setback + brake().land
                shim = int(behind.hem_open and behind.run - behind.hem_width < nose - 1e-9)
                poor = int(all(strip.path(k, high, mask).end[0] == "bend" for high in (False, True)))
                if not strokes.twice[k]:
                    step = (over, small, swap, from_end, off, shim, poor, 0, wide)
                    go(made | {k}, (up, end), tuple(a + b for a, b in zip(cost, step, strict=True)))
                    continue
                if not strip.end_hems[k]:  # folded flat back between legs, or pressed past where the leaf goes
                    other = "start" if end == "finish" else "finish"
                    for pushed_in in (True, False) if strip.hems[k] else (False,):
                        if strokes.closing(k, end == "finish", pushed_in, mask) is None:
                            after = (up, end if pushed_in else other)
                            step = (over, small, swap + int(not pushed_in), from_end, off, shim, poor, 0, wide)
                            go(made | {k}, after, tuple(a + b for a, b in zip(cost, step, strict=True)))
                    continue
                late = int(any(not strip.hems[j] for j in made))
                own = "start" if strip.hem_at_start[k] else "finish"
                for pushed_in in (True, False):
                    if (pushed_in and end == own) or strokes.closing(
                        k, strip.hem_at_start[k], pushed_in, mask
                    ) is not None:
                        continue
                    after = (up, end) if pushed_in else (up, own)
                    more = turning((up, end), after)[1]
                    step = (over, small, swap + more, from_end, off, shim, 0, late, wide)
                    go(made | {k}, after, tuple(a + b for a, b in zip(cost, step, strict=True)))

    go(frozenset(), None, (0,) * 9)
    return best[0]


@pytest.mark.parametrize("name", sorted(zoo()))
def test_common_sections_can_be_bent_on_the_usual_brake(name: str) -> None:
    cost = cost_of(zoo()[name])
    assert cost is not None
    pattern = zoo()[name]
    both_ways = len({f.toward for f in pattern.folds}) == 2
    assert cost[0] >= int(both_ways)


@pytest.mark.parametrize(
    ("name", "turns"),
    [
        ("drip edge", (1, 1)),
        ("Z", (1, 1)),
        ("channel", (0, 1)),
        ("eave strip", (0, 0)),
        ("cleat", (0, 0)),
        ("ridge cap", (1, 1)),
    ],
)
def test_turn_overs_and_swaps(name: str, turns: tuple[int, int]) -> None:
    cost = cost_of(zoo()[name])
    assert cost is not None
    assert (cost[0], cost[2]) == turns


@pytest.mark.parametrize("name", sorted(zoo()))
def test_reversed_and_mirrored_descriptions_cost_the_same(name: str) -> None:
    pattern = zoo()[name]
    assert cost_of(reversed_section(pattern)) == cost_of(pattern) == cost_of(negated_section(pattern))


def test_reversed_marks_are_mirrored() -> None:
    for pattern in zoo().values():
        here, there = pattern.section, reversed_section(pattern).section
        assert here is not None
        assert there is not None
        assert there.developed == pytest.approx(here.developed, abs=1e-12)
        assert there.marks == pytest.approx([here.developed - m for m in reversed(here.marks)], abs=1e-9)


def test_a_wide_apron_bar_makes_offsets_impossible() -> None:
    wide = '[brake]\napron_bar = "3 in"\napron_bar_off = "0 in"\n'
    offset = section([4, 1.5, 4], [90, -90])
    assert cost_of(offset) is not None
    assert cost_of(offset, wide) is None


def test_a_deep_box_is_impossible() -> None:
    assert cost_of(section([3, 3, 3, 3, 3], [90, 90, 90, 90])) is None


def test_an_angle_beyond_the_leaf_is_impossible() -> None:
    short = "[brake]\nlargest_angle = 80\n"
    assert cost_of(section([3, 3], [85]), short) is None
    assert cost_of(section([3, 3], [80]), short) is not None


def test_an_angle_beyond_the_leaf_is_pressed_to_after_the_stroke() -> None:
    steps = schedule_bends(section([3, 1.5], [150]), job_of(), metals()).steps
    assert [(s.action, s.turned_deg) for s in steps] == [("pre-bend", 135), ("close", 150)]
    assert steps[1].hold.way == "in front"


def test_beyond_twelve_bends_the_best_order_found_is_not_called_proven() -> None:
    rng = random.Random(5)
    pattern = section([rng.choice([2.0, 2.5]) for _ in range(15)], [(-1) ** i * 15.0 for i in range(14)])
    strip = BendStrip(pattern)
    _, cut_short = bend_order(strip, brake(), 2.0, most_states=50)
    assert cut_short.cost is None
    assert not cut_short.proven


def agree(seed: int, most: int) -> None:
    rng = random.Random(seed)
    pattern = random_section(rng, rng.randint(1, most)) if seed % 3 else random_folded(rng, rng.randint(1, most))
    if len(pattern.folds) > most + 1:
        return
    cost = cost_of(pattern)
    assert cost == every_order(pattern)
    assert cost == cost_of(reversed_section(pattern)) == cost_of(negated_section(pattern))


@pytest.mark.parametrize("seed", range(30))
def test_agrees_with_every_order(seed: int) -> None:
    agree(seed, 3)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(1000, 1160))
def test_agrees_with_every_order_at_length(seed: int) -> None:
    agree(seed, 4)
