"""The job-wide shear program."""

from __future__ import annotations

from itertools import permutations

import pytest
from cut_facts import line, told
from nesting_jobs import METALS, make_job, rect, stock

from fabplan.nesting.cuts.program import shear_program
from fabplan.nesting.model import Layout
from fabplan.nesting.nest import nest


def chain(number: int, gauges: list[int]) -> Layout:
    """A sheet peeled by these gauge settings one after another: every cut waits for the one before."""
    length = sum(gauges) + 10
    cuts, top = [], length
    for step, g in enumerate(gauges, start=1):
        top -= g
        ends = {"start": (100.0, float(top)), "end": (0.0, float(top))}
        cuts.append(line(step=step, **ends, back_gauge=g, held=top))
    sheet = Layout(
        stock=f"s{number}",
        form="sheet",
        metal="m",
        repeat=1,
        width=100,
        length=length,
        blanks=(),
        cuts=tuple(cuts),
        offcuts=(),
    )
    return told(sheet)


def least_supersequence(chains: list[list[int]]) -> int:
    """Fewest settings by trying every order (breadth first over positions)."""
    seen = {tuple(0 for _ in chains)}
    steps = 0
    while True:
        if any(all(i == len(c) for i, c in zip(state, chains, strict=True)) for state in seen):
            return steps
        nxt = set()
        for state in seen:
            for g in {c[i] for i, c in zip(state, chains, strict=True) if i < len(c)}:
                new = []
                for at, c in zip(state, chains, strict=True):
                    i = at
                    while i < len(c) and c[i] == g:
                        i += 1
                    new.append(i)
                nxt.add(tuple(new))
        seen, steps = nxt, steps + 1


@pytest.mark.parametrize(
    "chains",
    [
        [[30, 20, 10]],
        [[30, 20, 30]],
        [[30, 20], [20, 30]],
        [[10, 20, 30], [20, 30, 10], [30, 10, 20]],
        [[10, 20, 10, 20], [20, 10]],
        [[5, 6, 7, 8], [6, 8, 5], [7, 5]],
    ],
)
def test_settings_between_the_least_and_the_best_order(chains: list[list[int]]) -> None:
    program = shear_program([chain(n, c) for n, c in enumerate(chains)])
    assert program is not None
    best = least_supersequence(chains)
    assert program.least_settings <= best <= program.settings <= sum(map(len, chains))
    if len(chains) < 3:
        assert program.settings == best


def test_equal_settings_in_a_row_are_one() -> None:
    program = shear_program([chain(1, [40, 40, 40, 20])])
    assert program is not None
    assert program.settings == program.least_settings == 2


def test_order_of_layouts_does_not_matter_much() -> None:
    chains = [[30, 20], [20, 30], [10, 30]]
    counts = set()
    for order in permutations(chains):
        program = shear_program([chain(n, c) for n, c in enumerate(order)])
        assert program is not None
        counts.add(program.settings)
    assert counts == {least_supersequence(chains)}


@pytest.mark.parametrize("most", [3, 4, 6, 10])
def test_open_stacks_are_limited(most: int) -> None:
    blanks = [rect("A", 300, 410, 30), rect("B", 200, 350, 40), rect("C", 96, 640, 25), rect("D", 150, 222, 50)]
    plan = nest(blanks, make_job([stock("coil", "coil", 24)]), METALS)
    free = shear_program(plan.layouts)
    held = shear_program(plan.layouts, most)
    assert free is not None and held is not None
    assert held.most_open_stacks <= most
    assert free.settings <= held.settings
    assert free.settings < free.settings_layout_by_layout


def test_nothing_to_cut() -> None:
    assert shear_program([]) is None
