"""Order of cuts: gauge settings, metal held, limits."""

from __future__ import annotations

from typing import Any

import pytest

from fabplan.nesting.cuts.order import Cell, NotCuttableError, order_cuts
from fabplan.nesting.model import Placed
from fabplan.nesting.problem import ShearLimits


def limits(**more: Any) -> ShearLimits:
    base: dict[str, Any] = {
        "longest_cut": 4000,
        "reach": 1536,
        "cut_off_to_mark": True,
        "least_held": 32,
        "angle_stop": (30.0, 150.0),
        "stages": 2,
        "kerf": 0,
    }
    return ShearLimits(**base | more)


def cells(*boxes: tuple[int, int, int, int]) -> list[Cell]:
    return [
        Cell(x=x, y=y, width=w, length=h, blanks=(Placed(mark=f"B{n}", x=x, y=y, width=w, length=h, turned=False),))
        for n, (x, y, w, h) in enumerate(boxes)
    ]


def never(width: int, length: int) -> bool:
    return False


def test_coil_is_cut_off_first_to_a_mark() -> None:
    cuts, offcuts = order_cuts("coil", 768, 500, cells((0, 0, 768, 500)), limits(), never)
    assert [(c.back_gauge, c.stage) for c in cuts] == [(None, 0)]
    assert offcuts == ()


def test_gauged_cut_off() -> None:
    cuts, _ = order_cuts("coil", 768, 500, cells((0, 0, 768, 500)), limits(cut_off_to_mark=False), never)
    assert cuts[0].back_gauge == 500
    with pytest.raises(NotCuttableError):
        order_cuts("coil", 768, 1600, cells((0, 0, 768, 1600)), limits(cut_off_to_mark=False), never)


def test_wanted_strip_drops_while_the_rest_can_be_held() -> None:
    cuts, _ = order_cuts("sheet", 768, 500, cells((0, 0, 300, 500)), limits(), never)
    assert [(c.back_gauge, c.held) for c in cuts] == [(300, 468)]
    cuts, _ = order_cuts("sheet", 600, 500, cells((0, 0, 300, 500), (300, 0, 300, 500)), limits(), never)
    assert [(c.back_gauge, c.held) for c in cuts] == [(300, 300)]


def test_trim_too_narrow_to_hold_is_the_gauged_drop() -> None:
    cuts, _ = order_cuts("sheet", 310, 500, cells((0, 0, 300, 500)), limits(), never)
    assert [(c.back_gauge, c.held) for c in cuts] == [(10, 300)]


def test_narrow_blank_is_held_by_its_own_width() -> None:
    cuts, _ = order_cuts("sheet", 60, 500, cells((0, 0, 31, 500)), limits(), never)
    assert [(c.back_gauge, c.held) for c in cuts] == [(29, 31)]


@pytest.mark.parametrize(
    ("width", "gauge", "held"),
    [
        (316, 16, 300),  # gauged from the least gauge on
        (315, None, 300),  # thinner: to a line, the wide piece on the table
        (304, None, 300),
    ],
)
def test_thin_trims(width: int, gauge: int | None, held: int) -> None:
    hands = limits(least_gauge=16, least_scribed=4, least_held=64)
    cuts, _ = order_cuts("sheet", width, 500, cells((0, 0, 300, 500)), hands, never)
    assert [(c.back_gauge, c.held) for c in cuts] == [(gauge, held)]


def test_a_trim_thinner_than_a_line_can_be_cut_is_refused() -> None:
    with pytest.raises(NotCuttableError):
        order_cuts("sheet", 303, 500, cells((0, 0, 300, 500)), limits(least_gauge=16, least_scribed=4), never)


def test_reach_makes_the_other_side_drop() -> None:
    cuts, _ = order_cuts("sheet", 768, 3000, cells((0, 0, 768, 1600), (0, 1600, 768, 1400)), limits(reach=1450), never)
    assert [(c.back_gauge, c.held) for c in cuts] == [(1400, 1600)]


def test_deep_scrap_comes_off_in_slices() -> None:
    cuts, offcuts = order_cuts("sheet", 768, 3000, cells((0, 0, 768, 1000)), limits(reach=900), never)
    assert all(c.back_gauge is not None and c.back_gauge <= 900 for c in cuts)
    assert sum(o.length for o in offcuts) == 2000


def test_short_shear_crosscuts_first() -> None:
    four = cells((0, 0, 300, 800), (300, 0, 300, 800), (0, 800, 300, 800), (300, 800, 300, 800))
    cuts, _ = order_cuts("sheet", 600, 1600, four, limits(longest_cut=1000), never)
    assert cuts[0].start[1] == cuts[0].end[1] == 800
    with pytest.raises(NotCuttableError):
        order_cuts("sheet", 600, 1600, four, limits(longest_cut=500), never)


def test_pinwheel_has_no_straight_cuts() -> None:
    pinwheel = cells((0, 0, 200, 100), (200, 0, 100, 200), (100, 200, 200, 100), (0, 100, 100, 200))
    with pytest.raises(NotCuttableError):
        order_cuts("sheet", 300, 300, pinwheel, limits(), never)


def test_offcut_worth_keeping_is_left_whole() -> None:
    def keeps(width: int, length: int) -> bool:
        return min(width, length) >= 200

    cuts, offcuts = order_cuts(
        "sheet", 1000, 2000, cells((0, 0, 300, 400), (300, 0, 300, 350)), limits(reach=2000), keeps
    )
    assert (offcuts[0].width, offcuts[0].length, offcuts[0].keep) == (1000, 1600, True)
    assert "keep" in (cuts[0].falls.use, cuts[0].stays.use)


def test_saw_takes_its_kerf() -> None:
    cuts, offcuts = order_cuts("sheet", 410, 500, cells((0, 0, 200, 500), (204, 0, 200, 500)), limits(kerf=4), never)
    assert [c.start[0] for c in cuts] == [200, 404]
    assert [(o.x, o.width) for o in offcuts] == [(408, 2)]


def test_saw_turns_a_hair_of_trim_to_dust() -> None:
    cuts, offcuts = order_cuts("sheet", 203, 500, cells((0, 0, 200, 500)), limits(kerf=4), never)
    assert [(c.start[0], c.back_gauge, c.falls.use, c.stays.use) for c in cuts] == [(200, 200, "dust", "blank")]
    assert offcuts == ()


def test_leading_hair_of_trim_is_sawn_from_its_own_side() -> None:
    cuts, _ = order_cuts("sheet", 203, 500, cells((3, 0, 200, 500)), limits(kerf=4), never)
    assert [(c.start, c.end, c.back_gauge) for c in cuts] == [((3.0, 500.0), (3.0, 0.0), 200)]
