"""Each part of the search by price, and of one metal's nest, on a job that two full sheets hold."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import product
from typing import Any

import numpy as np
import pytest
from nesting_jobs import METALS, make_job, rect, stock

from fabplan.labour import Labour
from fabplan.nesting.check import minutes, parts
from fabplan.nesting.check.cuts import CheckedLimits
from fabplan.nesting.cuts import sequence
from fabplan.nesting.nest import nest
from fabplan.nesting.notes import plan_notes
from fabplan.nesting.priced import cells, columns, dues, filling, master, pricing, tables
from fabplan.nesting.priced.charges import Charges
from fabplan.nesting.problem import Group, build_groups
from fabplan.nesting.search import joint, one_size
from fabplan.nesting.search.found import BestOfMetal, Run, missing
from fabplan.nesting.search.pieces import rectangle
from fabplan.nesting.search.search import nest_group, quick_cost

INCH = 32
SHOP = Labour(rate_pounds=6.0)
BLANKS = [rect("A", 10 * INCH, 10 * INCH, 4), rect("B", 20 * INCH, 10 * INCH, 2)]
JOB = make_job([stock("sheet", "sheet", 20, 20)], effort=0)


@pytest.fixture(scope="module")
def group() -> Group:
    return build_groups(BLANKS, JOB, METALS)[0]


@pytest.fixture(scope="module")
def charges(group: Group) -> Charges:
    return Charges.of(group)


@pytest.fixture(scope="module")
def bits(group: Group, charges: Charges) -> list[cells.Bit]:
    return cells.bits_of(group, charges, pair=True)


@pytest.fixture(scope="module")
def pricer(group: Group, bits: list[cells.Bit], charges: Charges) -> pricing.LayoutPricer:
    return pricing.LayoutPricer(group, bits, charges)


def run() -> Run:
    return Run(effort=0.0, seed=0, margin=Fraction(0), fewer_setups=Fraction(0), offcut_credit=Fraction(0), pair=True)


def area(group: Group) -> Any:
    return np.array([float(b.area) for b in group.blanks])


def test_every_blank_is_a_cell_and_says_which(group: Group, bits: list[cells.Bit]) -> None:
    assert list(cells.marks(group)) == ["A", "B"]
    assert {bit.row for bit in bits} == {0, 1}
    whole = {(bit.row, bit.count) for bit in bits}
    assert (0, 1) in whole and (1, 1) in whole
    assert all(bit.work == 0 and not bit.settings for bit in bits if bit.count == 1)  # a plain blank has no cut inside
    assert columns.size(next(b for b in bits if b.row == 1), False, False) == (20 * INCH, 10 * INCH)
    assert columns.size(next(b for b in bits if b.row == 1), True, False) == (10 * INCH, 20 * INCH)


@pytest.mark.parametrize("seed", range(4))
def test_a_filling_with_a_price_on_what_is_left(seed: int) -> None:
    rng = np.random.default_rng(seed)
    wastes = tables.Wastes(stroke=3, thin=(0, None, 8, 8, 8, 8, 8, 8, 8))
    assert [wastes.price(n) for n in (0, 1, 2, 8, 9)] == [0, None, 8, 8, 3]  # thin ones are scribed
    f = np.full(41, tables.NEVER, dtype=np.int64)
    f[0] = 0
    items = [(int(s), int(v)) for s, v in zip(rng.integers(3, 15, 3), rng.integers(1, 40, 3), strict=True)]
    for one, value in items:
        tables.fill(f, one, value)
    for y in range(41):
        ways = [
            sum(n * v for n, (_, v) in zip(pick, items, strict=True))
            for pick in product(*(range(y // s + 1) for s, _ in items))
            if sum(n * s for n, (s, _) in zip(pick, items, strict=True)) == y
        ]
        assert (f[y] == max(ways)) if ways else (f[y] <= tables.NEVER // 2)
    ended = wastes.ended(f)
    for y in range(41):
        ends = [
            int(f[z]) - p for z in range(y + 1) if (p := wastes.price(y - z)) is not None and f[z] > tables.NEVER // 2
        ]
        if ends:
            assert ended[y] == max(ends)


def test_the_best_layouts_under_prices_of_the_area_are_full(
    group: Group, bits: list[cells.Bit], pricer: pricing.LayoutPricer
) -> None:
    assert pricing.complete(group, bits)
    assert pricing.views(group, bits)
    found = pricer.price(area(group) * 100.0, np.zeros(1), full=True)
    assert found.columns and found.worth is not None
    best = max(found.columns, key=lambda c: float(area(group) @ c.counts))
    assert float(area(group) @ best.counts) == float(400 * INCH * INCH)
    assert found.total == pytest.approx(100.0 * float(area(group) @ np.array([4, 2])))


def test_a_column_is_cut_back_laid_out_and_built_again(
    group: Group, bits: list[cells.Bit], charges: Charges, pricer: pricing.LayoutPricer
) -> None:
    found = pricer.price(np.array([200.0, 1.0]) * 100 * INCH * INCH, np.zeros(1), full=True)
    four = max(found.columns, key=lambda c: int(c.counts[0]))
    assert four.counts[0] == 4
    less = columns.cut_back(group, bits, charges, four, np.array([3, 0]))
    assert less is not None and less.counts.tolist() == [3, 0]
    laid = columns.draft(group, bits, four, 2)
    assert laid.repeat == 2 and len(laid.cells) == 4
    again = columns.build(group, bits, charges, four.stock, not four.across_width, four.panels)
    other = columns.build(group, bits, charges, four.stock, four.across_width, four.panels)
    assert any(c is not None and c.key() == four.key() for c in (again, other))


def test_the_last_layout_holds_no_more_than_is_wanted(group: Group, pricer: pricing.LayoutPricer) -> None:
    view = pricer.views[0]
    want = np.array([1, 1])
    col = filling.filled(pricer, view, view.along, want, area(group) * 100.0)
    assert col is not None and (col.counts <= want).all() and col.counts.sum() == 2


def test_the_master_covers_the_demand_and_pays_each_charge_once(
    group: Group, charges: Charges, pricer: pricing.LayoutPricer
) -> None:
    demand, on_hand = np.array([4, 2]), np.array([master.FREE])
    made = [*pricer.price(area(group) * 100.0, np.zeros(1), full=True).columns]
    made += pricer.price(np.array([200.0, 1.0]) * 100 * INCH * INCH, np.zeros(1), full=True).columns
    table = master.ColumnArrays.of(made, 2)
    lp = master.linear(table, demand, on_hand, area(group) * 1e4)
    assert (table.a[:, : lp.x.size] @ lp.x[: len(made)] >= demand - 1e-6).all()
    assert lp.cost == pytest.approx(float(lp.pi @ demand), rel=1e-6)  # strong duality, no stock is short
    assert (master.most_times(table, demand) >= 1).all()
    plan, cost, proven = master.whole(made, demand, on_hand, charges)
    assert plan is not None and proven
    assert (sum(made[j].counts * k for j, k in plan) >= demand).all()
    assert cost >= lp.cost - 1e-6


# one metal's nest -----------------------------------------------------------------------------------------------------


def test_the_nest_of_one_metal(group: Group) -> None:
    found = nest_group(group, run())
    assert found.total == found.bound == 2 * group.stock[0].cost
    assert missing(group, found.layouts) == ()
    assert missing(group, ()) == (("A", 4), ("B", 2))
    rough = quick_cost(group, run())
    assert rough is not None and rough >= found.bound
    pencil = one_size.pencil_plan(group, [rectangle(b) for b in group.blanks])
    assert pencil.total is not None and pencil.total >= found.total
    assert not found.offer(found.layouts, run())  # nothing better


def test_layouts_of_several_metals_stand_in_order_and_share_settings(group: Group) -> None:
    found = nest_group(group, run())
    ordered = joint.in_order(group, found.layouts)
    assert sorted(map(id, ordered)) == sorted(map(id, found.layouts))
    alone = joint.together_cost([group], [found.layouts], None)
    twice = joint.together_cost([group, group], [found.layouts, found.layouts], None)
    assert alone <= twice <= 2 * alone
    two = [BestOfMetal(group=group, layouts=found.layouts, total=found.total) for _ in range(2)]
    joint.choose_together(two, run(), None)
    assert [t.total for t in two] == [found.total] * 2


def test_settings_are_taken_in_the_order_that_needs_fewest() -> None:
    a, b = (100, 90.0), (200, 90.0)
    trees = sequence.Trees()

    @dataclass
    class Node:
        setting: tuple[int, float]
        after: list[int]

    # two sheets: each is cut to 100 and what is freed to 200; a third the other way round
    nodes = [Node(a, [1]), Node(b, [])]
    other = [Node(b, [1]), Node(a, [])]
    ready = trees.add(nodes, [0]) | trees.add(nodes, [0])
    assert sequence.fewest(trees, ready)[0] == 2
    ready = ready | trees.add(other, [0])
    needed, orders = sequence.fewest(trees, ready)
    assert needed == 3 and orders


def test_the_checkers_of_parts_and_minutes_find_what_is_changed() -> None:
    job = make_job([stock("coil", "coil", 20)], effort=0).model_copy(update={"labour": SHOP})
    plan = nest(BLANKS, job, METALS, should_stop=lambda: True)
    assert [type(n).__name__ for n in plan_notes(plan, (), job, run())] == []
    shop = CheckedLimits.of(job, plan.grid)
    for layout in plan.layouts:
        assert parts.part_faults(layout, shop, None) == []
        cut = next(c for c in layout.cuts if c.stays is not None)
        at = layout.cuts.index(cut)
        cuts = (*layout.cuts[:at], replace(cut, falls=cut.stays, stays=cut.falls), *layout.cuts[at + 1 :])
        assert parts.part_faults(replace(layout, cuts=cuts), shop, None)
    per_pound = {"copper-16oz": Fraction(144 * INCH * INCH)}  # 1 lb a square foot
    assert minutes.minutes_faults(plan, job, METALS, shop, per_pound) == []
    layout = plan.layouts[0]
    slow = replace(layout, spent=tuple(replace(w, seconds=w.seconds + 60) for w in layout.spent))
    assert minutes.minutes_faults(replace(plan, layouts=(slow, *plan.layouts[1:])), job, METALS, shop, per_pound)


def test_a_setting_costs_its_price_over_all_its_uses(group: Group, bits: list[cells.Bit], charges: Charges) -> None:
    used = {(10 * INCH, 90.0): 4.0, (5, 45.0): 2.0}
    found, price = dues.dues_of(bits, charges, used, 20 * INCH, unused=8.0)
    gauge, stop = float(charges.money(charges.set_gauge)), float(charges.money(charges.set_stop))
    assert found.size[10 * INCH] == pytest.approx(gauge / 4) and found.size[9 * INCH] == pytest.approx(gauge / 8)
    assert price[5, 45.0] == pytest.approx(gauge / 2 + stop / 2)  # the angle stop besides
    assert found.size[0] == 0.0
