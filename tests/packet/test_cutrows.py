"""The cut table: what goes in, what drops, what stays."""

from __future__ import annotations

import packet_sample
import pytest

from fabplan.packet.cutrows import comes_off_words, cut_rows
from fabplan.packet.totals import pieces_cut, where_it_goes


def test_rows_of_a_ripped_panel() -> None:
    layout = packet_sample.plan().cut_plan.layouts[0]  # type: ignore[union-attr]
    rows = cut_rows(layout)
    assert [r.steps for r in rows] == [(1,), (2, 3), (4, 5, 6, 7, 8, 9)]
    assert [r.back_gauge for r in rows] == [None, 449, 449]
    assert rows[0].takes == ("the coil",)
    assert rows[1].takes == ("the panel",)
    assert rows[1].rest == pytest.approx((960 - 898, 1540))
    assert rows[2].takes == ("drop of 2", "drop of 3")
    assert rows[2].each == 3
    assert rows[2].rest == pytest.approx((449, 1540 - 3 * 449))
    assert comes_off_words(rows[2]) == "6 × A"


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
