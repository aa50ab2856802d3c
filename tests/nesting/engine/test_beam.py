"""Sheets filled from exactly the pieces left: jobs made by cutting up whole sheets, so that the least is known."""

from __future__ import annotations

import random
from fractions import Fraction

import numpy as np
import pytest
from engine_problems import prove

from fabplan.nesting.engine import beam
from fabplan.nesting.engine.frame import build
from fabplan.nesting.engine.problem import Item, Limits, Options, Problem, StockSize
from fabplan.nesting.engine.solve import _answer, solve
from fabplan.nesting.engine.state import SearchState


def parts(rng: random.Random, whole: int, least: int) -> list[int]:
    """Whole parted into two or three."""
    cuts = sorted(rng.sample(range(least, whole - least), rng.choice((1, 2))))
    sizes = [b - a for a, b in zip([0, *cuts], [*cuts, whole], strict=True)]
    return sizes if min(sizes) >= least else [whole]


def cut_up(seed: int, sheets: int, *, gauge: int | None = None) -> Problem:
    """Pieces of so many sheets cut in panels, strips and pieces without waste."""
    rng = random.Random(seed)
    sizes = [
        (width, length)
        for _ in range(sheets)
        for panel in parts(rng, 120, 20)
        for width in parts(rng, 48, 8)
        for length in parts(rng, panel, 10)
    ]
    items = tuple(Item(key=i, width=w, length=n, count=1, may_turn=True) for i, (w, n) in enumerate(sizes))
    stock = (StockSize(key="s", form="sheet", width=48, length=120, cost=Fraction(1)),)
    return Problem(items=items, stock=stock, limits=Limits(back_gauge=gauge))


@pytest.mark.parametrize("seed", range(4))
def test_sheets_cut_up_go_together_again(seed: int) -> None:
    problem = cut_up(seed, 2)
    answer = solve(problem, Options(effort=0.2))
    prove(problem, answer)
    assert answer.cost == answer.bound == 2


def test_fillings_hold_what_is_left_and_no_more_and_can_be_cut() -> None:
    problem = cut_up(7, 3, gauge=100)
    frame = build(problem)
    state = SearchState(frame, Options())
    left = frame.demand.copy()
    left[::3] = 0
    for view in range(len(frame.views)):
        found = beam.fill(state, beam.Room(frame, view), left, frame.area / frame.area.sum(), 16, 0.1)
        assert found
        held = [float(frame.area @ c.counts) for c in found]
        assert held == sorted(held, reverse=True)
        assert all((c.counts <= left).all() and c.counts.any() for c in found)
    beam.corrected(state, 3, 8)
    assert state.plan is not None and state.worth is not None
    prove(problem, _answer(frame, state, None))


def test_a_wider_search_fills_no_less() -> None:
    frame = build(cut_up(5, 3))
    worth = frame.area / frame.area.sum()
    room = beam.Room(frame, 0)
    held = [
        max(
            float(worth @ c.counts) for c in beam.fill(SearchState(frame, Options()), room, frame.demand, worth, n, 0.1)
        )
        for n in (1, 256)
    ]
    assert held[0] <= held[1] <= 1 / 3 + 1e-9
    assert np.isclose(held[1], 1 / 3, rtol=0.05)
