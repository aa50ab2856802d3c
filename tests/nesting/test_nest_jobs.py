"""Whole cut plans of small jobs."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest
from nesting_jobs import GRID, METALS, make_job, polygon, rect, stock

from fabplan.nesting.check.whole import check_plan
from fabplan.nesting.cuts.layouts import LayoutDraft, finish
from fabplan.nesting.cuts.panels import joined
from fabplan.nesting.model import CutPlan
from fabplan.nesting.nest import _require_few, nest
from fabplan.nesting.problem import NoRoomError, build_groups
from fabplan.nesting.remarks import Credit, FewerSetups, NearlyAlike, Paired, TooWide
from fabplan.nesting.search.pieces import rectangle
from fabplan.units import NM_PER_MM, Nm, Show


def planned(blanks: list[Any], stocks: list[Any], **more: Any) -> CutPlan:
    return nest(blanks, make_job(stocks, **more), METALS)


def used(plan: CutPlan) -> dict[str, int]:
    return {u.name: u.used_count if u.used_count is not None else u.used_length or 0 for u in plan.stock}


MIXED = [rect("A", 300, 410, 20), rect("B", 200, 350, 31), rect("C", 96, 640, 12)]


def test_perfect_fit_is_proven_without_scrap() -> None:
    plan = planned([rect("A", 384, 480, 16)], [stock("coil", "coil", 24)])
    assert (plan.status, plan.scrap_share, plan.above_bound) == ("proven", 0.0, 0.0)
    assert used(plan) == {"coil": 8 * 480}


def test_same_job_same_plan() -> None:
    stocks = [stock("coil", "coil", 24), stock("sheet", "sheet", 36, 96)]
    assert planned(MIXED, stocks) == planned(MIXED, stocks)


def test_inch_job_and_millimetre_job_make_the_same_plan() -> None:
    inch = planned(MIXED, [stock("coil", "coil", 24)], keep=(6, 12))
    grid = NM_PER_MM // 2
    blanks = [rect(b.mark, b.width_units, b.length_units, b.count, grid=grid) for b in MIXED]
    scaled = Fraction(grid, GRID)
    coil = stock("coil", "coil", 24 * scaled, longest_cut_off=120 * scaled)
    metric = nest(
        blanks,
        make_job(
            [coil],
            units="mm",
            grid=grid,
            longest_cut=120 * scaled,
            reach=48 * scaled,
            least_held=scaled,
            keep=(6 * scaled, 12 * scaled),
        ),
        METALS,
    )
    assert [replace(y, spent=()) for y in metric.layouts] == [replace(y, spent=()) for y in inch.layouts]
    assert (metric.total, metric.bound, metric.status) == (inch.total, inch.bound, inch.status)


def test_kerf_costs_metal_and_spaces_the_blanks() -> None:
    blanks = [rect("A", 384, 480, 16)]
    plan = planned(blanks, [stock("coil", "coil", 24)], kerf="1/8")
    assert used(plan)["coil"] > 8 * 480
    for y in plan.layouts:
        for a in y.blanks:
            for b in y.blanks:
                if b.x >= a.x + a.width:
                    assert b.x - (a.x + a.width) >= 4


def test_grain_locks_the_blank_on_either_roll() -> None:
    blanks = [rect("A", 300, 700, 10, grain="along"), rect("B", 300, 700, 10, grain="across")]
    plan = planned(blanks, [stock("coil", "coil", 36)])
    assert {(b.mark, b.turned) for y in plan.layouts for b in y.blanks} == {("A", False), ("B", True)}
    rolled = planned(blanks, [stock("sheet", "sheet", 36, 48, grain="across")])
    assert {(b.mark, b.turned) for y in rolled.layouts for b in y.blanks} == {("A", True), ("B", False)}


def test_plain_blank_that_may_not_turn() -> None:
    blanks = [rect("A", 300, 740, 10)]
    free = planned(blanks, [stock("coil", "coil", 24)])
    kept = planned(blanks, [stock("coil", "coil", 24)], may_not_turn=["A"])
    assert not any(b.turned for y in kept.layouts for b in y.blanks)
    assert any(b.turned for y in free.layouts for b in y.blanks)
    assert free.total < kept.total


def test_offcuts_go_first() -> None:
    blanks = [rect("A", 200, 300, 4)]
    plan = planned(blanks, [stock("coil", "coil", 24), stock("drop", "offcut", 13, 20)])
    assert used(plan) == {"drop": 1}
    assert (plan.total, plan.status) == (0, "proven")
    assert plan.above_bound is None


def test_rack_offcuts_join_the_stock() -> None:
    job = make_job([stock("coil", "coil", 24)])
    rack = [stock("rack 7", "offcut", 13, 20)]
    plan = nest([rect("A", 200, 300, 4)], job, METALS, rack=rack)
    assert used(plan) == {"rack 7": 1}
    assert check_plan(plan, [rect("A", 200, 300, 4)], job, METALS)  # without the rack it proves nothing


def test_prices_choose_the_stock() -> None:
    blanks = [rect("A", 384, 480, 16)]
    cheap = [stock("coil", "coil", 24, price=("9", "lb")), stock("sheet", "sheet", 36, 90, price=("150", "sheet"))]
    dear = [stock("coil", "coil", 24, price=("9", "lb")), stock("sheet", "sheet", 36, 90, price=("260", "sheet"))]
    assert set(used(planned(blanks, cheap))) == {"sheet"}
    plan = planned(blanks, dear)
    assert set(used(plan)) == {"coil"}
    # 16 blanks two across, 8 x 15 in of 24 in coil at 2 lb a foot and 9.00 a pound
    assert (plan.objective, plan.total) == ("money", Fraction(180))


def test_limited_stock_is_respected_and_the_rest_comes_from_elsewhere() -> None:
    blanks = [rect("A", 384, 480, 16)]
    plan = planned(blanks, [stock("few", "coil", 24, on_hand=60), stock("coil", "coil", 36)])
    assert used(plan)["few"] <= 60 * 32
    assert plan.short == ()


def test_stock_that_runs_out_is_said() -> None:
    blanks = [rect("A", 384, 480, 16)]
    job = make_job([stock("coil", "coil", 24, on_hand=60)])
    plan = nest(blanks, job, METALS)
    assert (plan.status, plan.short) == ("short", (("A", 8),))
    assert check_plan(plan, blanks, job, METALS) == []


def test_nothing_on_hand() -> None:
    plan = planned([rect("A", 100, 200, 3)], [stock("sheet", "sheet", 24, 48, on_hand=0)])
    assert (plan.status, plan.short, plan.layouts) == ("short", (("A", 3),), ())


def test_metals_are_nested_apart() -> None:
    blanks = [rect("A", 300, 410, 5), rect("Z", 300, 410, 5, material="zinc-0.7mm")]
    plan = planned(blanks, [stock("c", "coil", 24), stock("z", "coil", 24, material="zinc-0.7mm")])
    assert {(y.metal, b.mark) for y in plan.layouts for b in y.blanks} == {("copper-16oz", "A"), ("zinc-0.7mm", "Z")}


def test_blank_larger_than_all_stock() -> None:
    with pytest.raises(NoRoomError, match=r'Blank "A" \(30 x 40 in\) fits on no stock of copper-16oz') as e:
        planned([rect("A", 960, 1280, 1), rect("B", 10, 10, 1)], [stock("coil", "coil", 24)])
    assert e.value.marks == ("A",) and e.value.exit_code == 1


def test_grain_can_leave_no_room() -> None:
    planned([rect("A", 800, 600, 1)], [stock("coil", "coil", 24)])
    with pytest.raises(NoRoomError, match="fits on no stock"):
        planned([rect("A", 800, 600, 1, grain="along")], [stock("coil", "coil", 24)])


def test_shear_too_short_for_the_coil() -> None:
    with pytest.raises(NoRoomError, match="this shear cannot cut it out"):
        planned([rect("A", 300, 400, 1)], [stock("coil", "coil", 36)], longest_cut=30)


def test_every_cut_within_a_small_shear() -> None:
    stocks = [stock("coil", "coil", 24), stock("sheet", "sheet", 36, 96)]
    plan = planned(MIXED, stocks, longest_cut=37, reach=24, least_held=2, coil_cut_off="gauge")
    cuts = [c for y in plan.layouts for c in y.cuts]
    assert all(c.back_gauge is not None and c.back_gauge <= 24 * 32 for c in cuts)
    assert all(abs(c.start[0] - c.end[0]) + abs(c.start[1] - c.end[1]) <= 37 * 32 for c in cuts)


@pytest.mark.slow
def test_three_stages_are_never_worse_than_two() -> None:
    blanks = [rect("A", 300, 410, 9), rect("B", 150, 200, 25), rect("C", 90, 110, 30)]
    two = planned(blanks, [stock("coil", "coil", 24)], effort=0.2)
    three = planned(blanks, [stock("coil", "coil", 24)], effort=0.2, cutting="stacked-strips")
    assert three.total <= two.total


def test_interrupt_returns_the_best_plan_so_far() -> None:
    job = make_job([stock("coil", "coil", 24), stock("sheet", "sheet", 36, 96)])
    plan = nest(MIXED, job, METALS, effort=5, should_stop=lambda: True)
    assert plan.stopped_early
    assert plan.short == ()
    assert check_plan(plan, MIXED, job, METALS) == []


def test_keyboard_interrupt_in_the_search_is_not_a_plan() -> None:
    def progress(cost: Any, bound: Any, gap: Any) -> None:
        raise KeyboardInterrupt

    job = make_job([stock("coil", "coil", 24)], good_enough=Fraction(0))
    with pytest.raises(KeyboardInterrupt):
        nest(MIXED, job, METALS, progress=progress)


def test_progress_tells_cost_bound_and_gap() -> None:
    seen: list[Any] = []
    job = make_job([stock("coil", "coil", 24)])
    nest(MIXED, job, METALS, progress=lambda *now: seen.append(now))
    assert seen
    cost, bound, gap = seen[-1]
    assert cost is None or bound <= cost
    assert gap is None or gap >= 0
    costs = [cost for cost, _, _ in seen]
    assert costs[0] is not None and costs[0] >= costs[-1]  # the plan by hand comes first


def test_fewer_setups_stay_within_the_metal_allowed() -> None:
    blanks = [*MIXED, rect("D", 150, 222, 17)]
    cheap = planned(blanks, [stock("coil", "coil", 24)], effort=0.05)
    plan = planned(blanks, [stock("coil", "coil", 24)], effort=0.05, fewer_setups=Fraction(1, 50))
    assert cheap.program is not None and plan.program is not None
    assert plan.total <= cheap.total * Fraction(51, 50)
    assert plan.program.settings <= cheap.program.settings
    assert any(isinstance(n, FewerSetups) for n in plan.notes)


def test_pairing_saves_and_says_so() -> None:
    halves = [polygon("L", [(0, 0), (14, 0), (7, 7)], 24)]
    stocks = [stock("coil", "coil", 24, price=("9.40", "lb"))]
    paired = planned(halves, stocks, effort=0.2, currency="CAD")
    apart = planned(halves, stocks, effort=0.2, pair=False)
    assert paired.total < Fraction(7, 10) * apart.total
    (note,) = (n for n in paired.notes if isinstance(n, Paired))
    assert (note.how, note.marks) == ("head_to_tail", ("L",)) and note.saved is not None
    # What pairing saves is the dearer of the two plans less the cheaper.
    assert note.saved == pytest.approx(float(apart.total - paired.total)) and 0.3 < note.share < 1
    assert [n.how for n in apart.notes if isinstance(n, Paired)] == ["not_asked"]
    slanted = [c for y in paired.layouts for c in y.cuts if c.angle != 90]
    assert slanted and all(b.outline is not None for y in paired.layouts for b in y.blanks)


def test_unlike_single_blanks_share_a_strip() -> None:
    blanks = [polygon("L", [(0, 0), (12, 0), (0, 9)], 1), polygon("M", [(0, 0), (11, 0), (0, 9)], 1)]
    plan = planned(blanks, [stock("coil", "coil", 13)], effort=0.2)
    alone = planned(blanks, [stock("coil", "coil", 13)], effort=0.2, pair=False)
    assert plan.total <= Fraction(8, 10) * alone.total


def test_blank_with_a_hollow_is_cut_to_its_hull() -> None:
    blanks = [polygon("V", [(0, 0), (12, 0), (8, 4), (12, 10), (0, 10)], 5)]
    job = make_job([stock("coil", "coil", 24)])
    plan = nest(blanks, job, METALS)
    assert check_plan(plan, blanks, job, METALS) == []
    assert {len(b.outline or ()) for y in plan.layouts for b in y.blanks} == {5}


def test_offcut_credit_and_labels() -> None:
    blanks = [rect("A", 300, 410, 7)]
    plan = planned(blanks, [stock("sheet", "sheet", 36, 96)], keep=(6, 12), offcut_credit=Fraction(1, 2))
    kept = [o for y in plan.layouts for o in y.offcuts if o.keep]
    assert kept and [o.number for o in kept] == list(range(1, len(kept) + 1))
    assert plan.kept_share > 0
    assert any(isinstance(n, Credit) and n.amount > 0 for n in plan.notes)
    assert plan.total == sum(u.cost for u in plan.stock)


def test_second_look_names_the_near_miss() -> None:
    plan = planned([rect("A", 260, 410, 30)], [stock("coil", "coil", 24)], effort=0.05)
    assert TooWide(mark="A", over=4, across=3, stock="coil", fits=256) in plan.notes
    close = [rect("A", 256, 410, 9), rect("B", 257, 300, 9)]
    assert any(isinstance(n, NearlyAlike) and n.differ == 1 for n in planned(close, [stock("coil", "coil", 24)]).notes)


def test_plan_without_blanks() -> None:
    plan = planned([], [stock("coil", "coil", 24)])
    assert (plan.layouts, plan.total, plan.status, plan.program) == ((), 0, "proven", None)
    assert replace(plan, total=Fraction(1)) != plan


def test_short_panels_are_cut_off_together() -> None:
    """One panel of two blanks, twenty times, becomes five of eight: as long as the shear can rip."""
    blanks = [rect("A", 384, 384, 40)]
    group = build_groups(blanks, make_job([stock("coil", "coil", 24)], longest_cut=52), METALS)[0]
    piece = rectangle(group.blanks[0])
    draft = LayoutDraft(stock="coil", length=384, cells=(piece.make(0, 0, False), piece.make(384, 0, False)), repeat=20)
    made = joined(group, [finish(draft, group)])
    assert [(y.length, y.repeat, len(y.blanks)) for y in made] == [(4 * 384, 5, 8)]
    assert [c.back_gauge for c in made[0].cuts] == [None] + [384] * 7


def test_a_pattern_nobody_can_follow_is_refused_before_the_search() -> None:
    with pytest.raises(NoRoomError, match='More than 10,000 blanks would lie on one piece of "s"') as caught:
        planned([rect("A", 8, 8, 1_000_000), rect("B", 640, 640, 2)], [stock("s", "sheet", 36, 120)])
    assert caught.value.marks == ("A",)


def test_a_coil_too_long_to_follow_is_told_how_long_it_may_be() -> None:
    """10,000 squares of 1/4 in are 625 sq in: 17.361 in of a 36 in coil."""
    lines = [stock("c", "coil", 36)]
    with pytest.raises(NoRoomError, match="More than 10,000 blanks") as caught:
        planned([rect("A", 8, 8, 10_001)], lines)
    assert 'longest_cut_off = "17-11/32 in"' in caught.value.help
    job = make_job([lines[0].model_copy(update={"longest_cut_off": Nm(17 * 32 * GRID + 11 * GRID)})])
    (group,) = build_groups([rect("A", 8, 8, 10_001)], job, METALS)
    _require_few(group, Show("in", GRID))
