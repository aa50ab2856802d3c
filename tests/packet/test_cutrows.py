"""The cut table: what goes in, what drops, what stays."""

from __future__ import annotations

from dataclasses import replace

import packet_sample
import pytest
from cut_facts import line, told

from fabplan.nesting.model import Layout, Placed
from fabplan.packet.pages.cut_rows import cut_rows, quarters
from fabplan.packet.totals import pieces_cut, where_it_goes
from fabplan.speech.cuts import Take, drops_words, turn_words


def test_rows_of_a_ripped_panel() -> None:
    layout = packet_sample.plan().cut_plan.layouts[0]  # type: ignore[union-attr]
    rows = cut_rows(layout)
    assert [r.steps for r in rows] == [(1,), (2, 3), (4, 5, 6, 7, 8, 9)]
    assert [r.back_gauge for r in rows] == [None, 449, 449]
    assert rows[0].takes == (Take("coil"),)
    assert rows[1].takes == (Take("panel"),)
    assert rows[1].rest == pytest.approx((960 - 898, 1540))
    assert rows[2].takes == (Take("drop", 2), Take("drop", 3))
    assert rows[2].each == 3
    assert rows[2].held == 1540 - 3 * 449  # what the last of the three leaves before the blade
    assert rows[2].rest == pytest.approx((449, 1540 - 3 * 449))
    assert drops_words(rows[2].comes_off) == "6 × A"


def test_every_cut_stands_in_one_row() -> None:
    plan = packet_sample.plan()
    assert plan.cut_plan is not None
    for layout in plan.cut_plan.layouts:
        steps = [step for row in cut_rows(layout) for step in row.steps]
        assert sorted(steps) == [c.step for c in layout.cuts]


def test_where_the_metal_goes_adds_up() -> None:
    plan = packet_sample.plan()
    cut = plan.cut_plan
    assert cut is not None
    goes = where_it_goes(plan)
    assert goes.blanks.area + goes.kept.area + goes.scrap.area == pytest.approx(goes.stock.area)
    assert goes.scrap.area / goes.stock.area == pytest.approx(cut.scrap_share)
    assert goes.kept.area / goes.stock.area == pytest.approx(cut.kept_share)
    assert goes.stock.pounds == pytest.approx(cut.stock[0].pounds)
    assert pieces_cut(plan) == {"A": 6 * 23 + 2, "D": 24, "C": 96}


def test_a_saws_kerf_comes_off_what_stays_on_the_table() -> None:
    # By hand: 320 wide, two strips of 100, 4 lost in each cut; 320 - 104 = 216 stays, then 216 - 104 = 112.
    cuts = tuple(
        line(step=n, start=(x, 0.0), end=(x, 640.0), back_gauge=100, held=100) for n, x in ((1, 100.0), (2, 204.0))
    )
    blanks = tuple(Placed(mark="A", x=x, y=0, width=100, length=640, turned=False) for x in (0, 104))
    layout = Layout(
        stock="plate",
        form="sheet",
        metal="copper-16oz",
        repeat=1,
        width=320,
        length=640,
        blanks=blanks,
        cuts=cuts,
        offcuts=(),
    )
    (sawn,) = cut_rows(told(layout, kerf=4))
    assert sawn.rest == pytest.approx((112, 640))
    (first,) = cut_rows(told(replace(layout, cuts=cuts[:1]), kerf=4))
    assert first.rest == pytest.approx((216, 640))


def test_metal_is_turned_until_what_falls_next_lies_behind_the_blade() -> None:
    """Turned to the left, the right-hand edge comes to the top."""
    up, right, left, down = (0.0, 1.0), (1.0, 0.0), (-1.0, 0.0), (0.0, -1.0)
    assert [quarters(up, after) for after in (up, right, left, down)] == [0, 1, -1, 2]
    assert quarters(right, down) == 1
    assert quarters(up, (0.6, 0.8)) == 0  # slanted: the picture shows it
    assert turn_words(1).endswith("quarter left")
