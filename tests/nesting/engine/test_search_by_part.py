"""Each part of the engine's search by itself, on a job small enough to know its answer: three full sheets."""

from __future__ import annotations

from fractions import Fraction
from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fabplan.nesting.engine import (
    bound,
    bounded,
    columns,
    dive,
    exact,
    generate,
    improve,
    lp,
    panels,
    part_tables,
    pricing,
    setups,
    squeeze,
    tables,
)
from fabplan.nesting.engine import parts as every_part
from fabplan.nesting.engine.frame import HUGE, Frame, build
from fabplan.nesting.engine.problem import Item, Limits, Options, Problem, StockSize, leaves
from fabplan.nesting.engine.singles import singles
from fabplan.nesting.engine.state import SearchState

SHEET = Fraction(100)


def job(**limits: object) -> Problem:
    """Eight squares of a quarter sheet and two of half a sheet: three sheets, with nothing left."""
    return Problem(
        items=(Item(key="A", width=5, length=5, count=8), Item(key="B", width=10, length=5, count=2)),
        stock=(StockSize(key="sheet", form="sheet", width=10, length=10, cost=SHEET),),
        limits=Limits(**limits),  # type: ignore[arg-type]
    )


@pytest.fixture
def frame() -> Frame:
    return build(job())


@pytest.fixture
def state(frame: Frame) -> SearchState:
    made = SearchState(frame, Options())
    made.pool.extend(singles(frame))
    return made


def scaled(frame: Frame, cost: float) -> Fraction:
    return Fraction(cost).limit_denominator(10**6) * frame.cost_scale


# the linear and the integer master ----------------------------------------------------------------------------------

COVER = (np.array([[2, 0], [0, 3]]), np.array([5.0, 6.0]))
FREE = (np.zeros(2, dtype=np.int64), np.ones(2), np.array([HUGE]))


def test_a_cover_in_fractions_and_its_prices() -> None:
    a, cost = COVER
    found = lp.solve_lp(a, cost, np.array([5, 3]), *FREE, np.array([1e3, 1e3]))
    assert found.x[:2] == pytest.approx([2.5, 1.0])
    assert found.cost == pytest.approx(2.5 * 5 + 6)
    assert found.pi == pytest.approx([2.5, 2.0])  # what one more of each would cost


def test_a_cover_in_whole_patterns() -> None:
    a, cost = COVER
    x, closed, _ = lp.solve_mip(a, cost, np.array([5, 3]), *FREE, nodes=100, seconds=None)
    assert x is not None and list(x) == [3, 1] and closed


def test_stock_on_hand_bounds_a_cover() -> None:
    a, cost = COVER
    stock, use, _ = FREE
    x, _, _ = lp.solve_mip(a, cost, np.array([5, 3]), stock, use, np.array([3]), nodes=100, seconds=None)
    assert x is None  # four sheets are needed, three are there


@given(st.lists(st.floats(1e-3, 1e4), min_size=1, max_size=6), st.integers(1, 1000))
def test_sums_of_prices_are_exact(prices: list[float], most: int) -> None:
    grid = lp.summable(np.array(prices), most)
    assert sum(Fraction(float(p)) for p in grid) == Fraction(float(np.sum(grid)))
    assert np.allclose(grid, prices, rtol=1e-6, atol=1e-6 * max(prices, default=0) + 1e-12)


# tables ---------------------------------------------------------------------------------------------------------------


@given(st.integers(1, 6), st.integers(1, 9), st.lists(st.integers(0, 30), min_size=1, max_size=25))
def test_an_item_repeated_any_number_of_times(size: int, value: int, start: list[int]) -> None:
    f = np.array(start, dtype=np.int64)
    tables.repeat_item(f, size, value)
    for c in range(len(start)):
        assert f[c] == max(start[c - k * size] + k * value for k in range(c // size + 1))


@given(st.integers(0, 40))
def test_doubled_parts_add_up_to_every_number(n: int) -> None:
    parts = panels.doubling(n)
    sums = {
        sum(p for p, taken in zip(parts, pick, strict=True) if taken) for pick in product((0, 1), repeat=len(parts))
    }
    assert sums == set(range(n + 1))


def test_strips_and_panels_of_most_value(frame: Frame) -> None:
    view = frame.views[0]
    t = frame.tables[view.table]
    value = np.where(np.isin(t.item, [0]), 3, 5).astype(np.int64)  # an A is worth 3, a B 5
    found = tables.strips(t, value, view.Y, view.X)
    full = int(found.best[-1, view.Y])
    wide = {int(w): int(b) for w, b in zip(found.width, found.best[:, view.Y], strict=True)}
    assert full == max(wide.values())
    panel = panels.panels(found, np.array([view.Y]), view.X)
    assert int(panel.best[view.X, 0]) == 12  # four A; two B are 10, a B and two A 11
    length, strips = panel.open(view.X, 0)
    assert length <= view.Y
    made = sum(c * int(value[o]) for _, sections in strips for _, pieces in sections for o, c in pieces)
    assert made == 12


def test_strips_that_hold_no_more_than_is_wanted(frame: Frame) -> None:
    view = frame.views[0]
    t = frame.tables[view.table]
    value = np.where(t.item == 0, 3, 5).astype(np.int64)
    free = tables.strips(t, value, view.Y, view.X)
    one = bounded.bounded_strips(t, value, np.ones(t.size, dtype=np.int64), view.Y, view.X)
    assert (one.best[:, : view.Y + 1] <= free.best[:, : view.Y + 1]).all()
    for row in range(one.width.size):
        _, sections = one.open(row, view.Y)
        taken = [o for _, pieces in sections for o, c in pieces for _ in range(c)]
        assert len(taken) == len(set(taken))


# every part of a small demand -----------------------------------------------------------------------------------------


def test_parts_of_a_demand_and_the_cheapest_way_to_split_them() -> None:
    demand = np.array([2, 1])
    parts = every_part.Parts(demand)
    assert parts.size == every_part.states(demand) == 6
    assert len(parts.all()[-1]) == 5
    cost = np.array([0, 4, 6, 5, 7, 20])  # of each part by itself
    counts = [tuple(int(n) for n in row) for row in parts.counts]
    best = parts.split(cost)
    for m, part in enumerate(counts):
        ways = [
            sum(int(cost[counts.index(p)]) for p in split)
            for n in range(1, 4)
            for split in product(counts[1:], repeat=n)
            if tuple(map(sum, zip(*split, strict=True))) == part
        ]
        assert best[m] == min(ways, default=0), part


def test_a_small_job_is_solved_to_the_end(frame: Frame) -> None:
    program = exact.ExactProgram(frame, frame.demand)
    plan = program.solve(frame.available)
    assert plan is not None and program.proof
    assert sum(frame.unit_cost[c.stock] * c.use * k for c, k in plan) == 3 * SHEET
    made = sum(c.counts * k for c, k in plan)
    assert (made >= frame.demand).all()
    table = program.tables[frame.views[0].table]
    assert isinstance(table, part_tables.PartTable)
    lengths = table.sheet_length(frame.views[0])
    assert (lengths[1:] > 0).all() and lengths[0] == 0


# columns and prices ---------------------------------------------------------------------------------------------------


def test_a_pattern_survives_the_way_to_a_column_and_back(frame: Frame) -> None:
    col = singles(frame)[0]
    tree = columns.pattern(frame, col, 1)
    again = columns.given_column(frame, tree)
    assert (again.counts == col.counts).all() and again.use == col.use
    assert columns.exact_cost(frame, again) == SHEET
    assert columns.holdable(frame, col)
    assert len(list(leaves(tree.root))) == int(col.counts.sum())


def test_a_pattern_is_cut_back_to_what_is_wanted_and_its_gaps_filled(frame: Frame) -> None:
    pricer = pricing.PatternPricer(frame)
    full = pricer.price(np.array([25.0, 1.0]), np.zeros(1), None, 4, True).columns
    four = max(full, key=lambda c: int(c.counts[0]))
    assert four.counts[0] == 4
    less = bounded.cut_back(frame, four, np.array([2, 1]), np.array([25, 50]))
    assert less is not None and list(less.counts) == [2, 1]


def test_no_sheet_is_worth_more_than_its_area_under_prices_of_area(frame: Frame) -> None:
    pricer = pricing.PatternPricer(frame)
    found = pricer.price(frame.area.astype(float), np.zeros(1), None, 4, True)
    assert found.worth is not None
    assert found.worth[0] == pytest.approx(float(frame.area @ frame.demand) / 3)


# bounds and plans -----------------------------------------------------------------------------------------------------


def test_the_area_bounds_a_plan_and_whole_sheets_more(frame: Frame) -> None:
    mix = bound.StockMix(frame)
    mix.add_areas()
    assert mix.exact() == 3 * SHEET
    more = build(Problem(items=(Item(key="A", width=5, length=5, count=9),), stock=job().stock))
    mix = bound.StockMix(more)
    mix.add_areas()
    assert mix.exact() == 3 * SHEET  # two sheets and a quarter: nobody sells a quarter


def test_columns_are_made_until_the_master_is_closed(state: SearchState) -> None:
    master = generate.column_generation(state, 50, 1e6)
    assert state.closed
    assert scaled(state.frame, master.cost) == 3 * SHEET
    assert state.mix.exact() == 3 * SHEET
    reduced = improve.reduced_costs(state, master.pi, master.mu)
    assert (reduced > -1e-7).all() and np.isclose(reduced, 0).any()
    picks = np.arange(len(state.pool))
    assert improve.program(state, picks, state.frame.demand, state.frame.available, 100)
    assert state.cost == 3 * SHEET


def test_greedy_and_dives_make_whole_plans(state: SearchState) -> None:
    plan, missing = dive.greedy(state)
    assert not missing.any() and state.covers(plan)
    master = generate.column_generation(state, 50, 1e6)
    plan, missing = dive.dive(state, master.x, 0.0, 1)
    assert not missing.any() and state.plan_cost(plan) == 3 * SHEET
    end = dive.finish(state, np.array([4, 0]), state.frame.available)
    assert end is not None and sum(c.use * k for c, k in end) == 1


def test_fewer_patterns_for_a_little_more_metal(state: SearchState) -> None:
    generate.column_generation(state, 50, 1e6)
    many, _ = dive.greedy(state)
    assert state.offer(many) and state.cost is not None
    few = setups.fewer_patterns(state, Fraction(1))
    assert few is not None and state.covers(few)
    assert len(few) <= len(many) and state.plan_cost(few) <= 2 * state.cost


def test_given_sheets_are_filled_one_after_another(state: SearchState) -> None:
    left, made = squeeze.refill(state, [0, 0, 0], state.frame.demand.copy(), state.frame.area.astype(float))
    assert not left.any()
    assert sum(c.counts for c in made if c is not None).tolist() == state.frame.demand.tolist()
    left, made = squeeze.refill(state, [0], state.frame.demand.copy(), state.frame.area.astype(float))
    assert float(state.frame.area @ left) == pytest.approx(200 / 300 * float(state.frame.area @ state.frame.demand))
