"""A blank whose slanted sides no stop gives leaves as its box; its page must tell to snip them, or it is no blank."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from nesting_jobs import METALS, make_job, polygon, rect, stock

from fabplan.job.load import load_job
from fabplan.nesting.check.whole import check_plan
from fabplan.nesting.model import CutPlan
from fabplan.nesting.nest import nest
from fabplan.nesting.remarks import Snipped
from fabplan.packet.check import check_packet
from fabplan.packet.model import Packet, Para, Table
from fabplan.packet.pages.build import build_packet
from fabplan.plan.make import make_plan

HALF = [polygon("R", [(0, 5), (5, 0), (10, 5)], 3), rect("S", 100, 100, 2)]
NARROW = make_job([stock("s", "sheet", 36, 96)], angle_stop=(60.0, 120.0), effort=0)


def with_boxed(plan: CutPlan, mark: str, boxed: bool) -> CutPlan:
    layouts = tuple(
        replace(y, blanks=tuple(replace(b, boxed=boxed) if b.mark == mark else b for b in y.blanks))
        for y in plan.layouts
    )
    return replace(plan, layouts=layouts)


def test_a_bare_box_is_not_the_blank() -> None:
    plan = nest(HALF, NARROW, METALS)
    assert {(b.mark, b.boxed) for y in plan.layouts for b in y.blanks} == {("R", True), ("S", False)}
    assert Snipped(marks=("R",)) in plan.notes
    assert check_plan(plan, HALF, NARROW, METALS) == []
    faults = check_plan(with_boxed(plan, "R", boxed=False), HALF, NARROW, METALS)
    assert sum("the cuts do not free R" in f for f in faults) == 3


def test_a_rectangle_is_no_box_of_anything() -> None:
    plan = nest(HALF, NARROW, METALS)
    assert check_plan(with_boxed(plan, "S", boxed=True), HALF, NARROW, METALS)


def test_slanted_sides_are_cut_where_the_stop_reaches() -> None:
    job = make_job([stock("s", "sheet", 36, 96)], effort=0)
    plan = nest(HALF, job, METALS)
    assert not any(b.boxed for y in plan.layouts for b in y.blanks)
    assert check_plan(with_boxed(plan, "R", boxed=True), HALF, job, METALS)


def test_sides_made_by_hand_take_time() -> None:
    plan = nest(HALF, NARROW, METALS)
    done = {s.what: s.times for s in plan.spent}
    assert done["snip"] == 6  # two sides of three halves


JOB = """
[job]
name = "slant"
number = "T1"
[metal]
use = "copper-16oz"
[[piece]]
mark = "A"
kind = "diamond"
count = 4
side = "10 in"
hem = "3/4 in"
[[piece]]
mark = "R"
kind = "ridge-half"
for = "A"
count = 4
[[stock]]
name = "s"
form = "sheet"
width = "36 in"
length = "96 in"
[shear]
angle_stop = [60, 120]
[nest]
search_effort = 0
"""


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> tuple[Packet, object]:
    file = Path(tmp_path_factory.mktemp("job")) / "job.toml"
    file.write_text(JOB)
    plan = make_plan(load_job(file))
    return build_packet(plan), plan


def test_the_page_of_the_piece_tells_where_to_scribe(told: tuple[Packet, object]) -> None:
    packet, plan = told
    assert check_packet(packet, plan) == []  # type: ignore[arg-type]
    (page,) = [p for p in packet.pages if p.title.startswith("R:")]
    words = " ".join(b.text for b in page.blocks if isinstance(b, Para))
    assert "as a box of 12 15⁄16 × 8 9⁄16 in" in words and "snip" in words
    shear = " ".join(b.text for p in packet.pages if p.kind == "shear" for b in p.blocks if isinstance(b, Para))
    assert "R leaves the shear as a box" in shear


def test_a_packet_that_does_not_tell_it_is_faulted(told: tuple[Packet, object]) -> None:
    packet, plan = told
    (page,) = [p for p in packet.pages if p.title.startswith("R:")]
    (table,) = [b for b in page.blocks if isinstance(b, Table) and b.columns[0].title == "Corner of edges"]
    wrong = replace(table, rows=(table.rows[1], table.rows[0], *table.rows[2:]))
    for blocks in (
        tuple(b for b in page.blocks if b is not table),
        tuple(wrong if b is table else b for b in page.blocks),
    ):
        other = replace(packet, pages=tuple(replace(p, blocks=blocks) if p is page else p for p in packet.pages))
        assert check_packet(other, plan)  # type: ignore[arg-type]
