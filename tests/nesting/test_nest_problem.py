"""Stock, prices and limits on the grid."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest
from nesting_jobs import GRID, METALS, make_job, polygon, rect, stock

from fabplan import plane
from fabplan.errors import JobError
from fabplan.job.values import OnHand, Price
from fabplan.nesting.problem import NoRoomError, build_groups
from fabplan.units import NM_PER_MM


def group_of(stocks: list[Any], blanks: list[Any] | None = None, **more: Any) -> Any:
    return build_groups(blanks or [rect("A", 100, 200, 1)], make_job(stocks, **more), METALS)[0]


# Copper sheet is sold by its weight a square foot: 16 oz is 1 lb per sq ft (ASTM B370, the unit of the trade), so a
# 24 in coil weighs 2 lb a foot. The other figures are exact unit conversions (1 ft = 0.3048 m, 1 lb = 0.45359237 kg).
@pytest.mark.parametrize(
    ("price", "per_foot"),
    [
        (("9.40", "lb"), Fraction("18.80")),
        (("20", "kg"), Fraction(40) * Fraction("0.45359237")),
        (("7.25", "foot"), Fraction("7.25")),
        (("10", "meter"), Fraction("3.048")),
    ],
)
def test_coil_price_per_foot(price: tuple[str, str], per_foot: Fraction) -> None:
    line = group_of([stock("coil", "coil", 24, price=price)]).stock[0]
    assert line.cost * 12 * 32 == per_foot


@pytest.mark.parametrize(
    ("price", "each"),
    [
        (("9.40", "lb"), Fraction("225.6")),  # 3 x 8 ft at 1 lb
        (("210", "sheet"), Fraction(210)),
        (("210", "piece"), Fraction(210)),
        (("30", "foot"), Fraction(240)),
    ],
)
def test_sheet_price(price: tuple[str, str], each: Fraction) -> None:
    line = group_of([stock("sheet", "sheet", 36, 96, price=price)]).stock[0]
    assert line.cost == each
    assert line.pounds == pytest.approx(24)


def test_weight_on_hand_becomes_length() -> None:
    line = group_of([stock("coil", "coil", 24, on_hand=("lb", 310))]).stock[0]
    assert line.on_hand == 155 * 12 * 32


def test_stock_rounds_down_and_trim_up() -> None:
    line = group_of([stock("sheet", "sheet", "24.03", "36.02", trim="0.26")]).stock[0]
    assert (line.width, line.length, line.trim) == (768, 1152, 9)
    assert (line.usable_width, line.usable_length) == (750, 1134)


def test_cut_off_defaults_by_units() -> None:
    assert group_of([stock("coil", "coil", 24)]).stock[0].length == 120 * 32
    metric = make_job([stock("coil", "coil", 24)], units="mm", grid=NM_PER_MM // 2)
    blank = rect("A", 100, 200, 1, grid=NM_PER_MM // 2)
    assert build_groups([blank], metric, METALS)[0].stock[0].length == 6000


def test_gauged_cut_off_is_held_to_the_reach() -> None:
    line = group_of([stock("coil", "coil", 24)], coil_cut_off="gauge", reach=40).stock[0]
    assert line.length == 40 * 32


def test_objective() -> None:
    priced = stock("a", "coil", 24, price=("9", "lb"))
    bare = stock("b", "coil", 20)
    drop = stock("c", "offcut", 12, 30)
    assert group_of([priced, drop]).objective == "money"
    assert group_of([priced, bare]).objective == "area"
    assert group_of([bare, drop]).objective == "area"
    area = group_of([bare, drop])
    assert [s.cost for s in area.stock] == [20 * 32, 0]  # an offcut is paid for


def test_price_of_other_metals_does_not_matter() -> None:
    other = stock("z", "coil", 20, material="zinc-0.7mm")
    assert group_of([stock("a", "coil", 24, price=("9", "lb")), other]).objective == "money"


@pytest.mark.parametrize(
    ("line", "key"),
    [
        (stock("c", "coil", 24).model_copy(update={"price": Price(amount=1, per="sheet")}), "price"),  # type: ignore[arg-type]
        (stock("c", "coil", 24).model_copy(update={"on_hand": OnHand(count=3)}), "on_hand"),
        (stock("s", "sheet", 24, 48).model_copy(update={"on_hand": OnHand(pounds=30)}), "on_hand"),
        (stock("s", "sheet", 24), "length"),
    ],
)
def test_unsuited_stock_is_refused(line: Any, key: str) -> None:
    with pytest.raises(JobError) as e:
        group_of([line])
    assert key in str(e.value) and line.name in str(e.value)


def test_metal_without_stock() -> None:
    with pytest.raises(NoRoomError, match=r"No stock of zinc-0\.7mm is listed, and Z must be cut from it") as e:
        group_of([stock("c", "coil", 24)], [rect("Z", 10, 10, 1, material="zinc-0.7mm")])
    assert e.value.exit_code == 1


def test_blanks_of_no_pieces_are_left_out() -> None:
    groups = build_groups([rect("A", 10, 10, 0), rect("B", 10, 10, 2)], make_job([stock("c", "coil", 24)]), METALS)
    assert [b.mark for b in groups[0].blanks] == ["B"]


def test_notched_rectangle_is_sheared_as_its_rectangle() -> None:
    blank = group_of(
        [stock("c", "coil", 24)], [polygon("A", [(1, 0), (9, 0), (9, 1), (10, 1), (10, 8), (0, 8), (0, 1), (1, 1)], 1)]
    ).blanks[0]
    assert blank.outline is not None and blank.drawn is not None  # the corners are gone: the hull is an octagon
    notch = group_of([stock("c", "coil", 24)], [polygon("A", [(0, 0), (10, 0), (10, 8), (6, 8), (6, 4), (0, 4)], 1)])
    assert len(notch.blanks[0].outline) == 5
    slot = group_of(
        [stock("c", "coil", 24)], [polygon("A", [(0, 0), (10, 0), (10, 8), (6, 8), (6, 4), (4, 4), (4, 8), (0, 8)], 1)]
    )
    assert slot.blanks[0].outline is None and slot.blanks[0].drawn is not None


def test_hull_and_area() -> None:
    ring = plane.hull([(0, 0), (4, 0), (4, 4), (2, 1), (0, 4), (2, 0)])
    assert sorted(ring) == [(0, 0), (0, 4), (4, 0), (4, 4)]
    assert plane.area(ring) == 16


def test_grid_is_the_shops() -> None:
    assert group_of([stock("c", "coil", 24)]).grid == GRID


def test_a_saw_that_leaves_nothing_of_a_blank_is_refused() -> None:
    blanks = [rect("A", 8, 100, 3)]
    with pytest.raises(JobError, match='half the narrower side of blank "A"'):
        build_groups(blanks, make_job([stock("c", "coil", 24)], kerf=Fraction(1, 8)), METALS)
    assert build_groups(blanks, make_job([stock("c", "coil", 24)], kerf=Fraction(3, 32)), METALS)
