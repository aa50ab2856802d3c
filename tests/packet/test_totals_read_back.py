"""Totals on the office and roof pages: every figure is held against a second count; any other figure is found."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest

from fabplan.job.load import load_job
from fabplan.packet.check import check_packet
from fabplan.packet.model import Facts, Packet, Para, Table
from fabplan.packet.pages.build import build_packet
from fabplan.plan.make import make_plan
from fabplan.plan.model import Plan

SHED = """
[job]
name = "Pump house"
number = "P-9"
{units}
spare = "3 %"
keep_at_least = "6 x 12 in"
[metal]
use = "copper-16oz"
[[piece]]
mark = "Z"
kind = "diamond"
side = "11-3/4 in"
hem = "3/4 in"
[[piece]]
mark = "ZS"
kind = "starter"
for = "Z"
[[slope]]
name = "north"
shape = "trapezoid"
piece = "Z"
bottom = "77 in"
top = "55 in"
height = "48 in"
[[stock]]
name = "coil 24"
form = "coil"
width = "24 in"
longest_cut_off = "60 in"
{hand}
[[stock]]
name = "sheet"
form = "sheet"
width = "36 in"
length = "48 in"
on_hand = 1
{price}
[handling]
carry_count = 12
"""
INCH = {"units": "", "hand": 'on_hand = "60 ft"\nprice = "9.40 per lb"', "price": 'price = "50 per sheet"'}
METRIC = {"units": 'units = "mm"', "hand": "", "price": ""}
Pair = tuple[Plan, Packet]


@pytest.fixture(scope="module", params=["inches", "millimetres"])
def pair(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Pair:
    path = tmp_path_factory.mktemp("shed") / "job.toml"
    path.write_text(SHED.format(**(INCH if request.param == "inches" else METRIC)), encoding="utf-8")
    plan = make_plan(load_job(path), effort=0, should_stop=lambda: True)
    return plan, build_packet(plan)


def test_a_right_packet_is_passed(pair: Pair) -> None:
    plan, packet = pair
    assert check_packet(packet, plan) == []


CHECKED = {
    "Stock to pull and to buy": {"Needed", "Pull", "Buy", "Weight", "To pay", "Left over"},
    "Where the metal goes": {"Weight", "Area", "Share"},
    "Kits": {"Pieces", "Weight"},
    "Edges by length": {"Times", "Length", "Pieces"},
}


def damaged(text: str) -> Iterator[str]:
    """The words with one digit another."""
    for m in re.finditer(r"\d", text):
        yield text[: m.start()] + str((int(m[0]) + 3) % 10) + text[m.end() :]


def spoilt(block: Any) -> Iterator[tuple[str, Any]]:
    if isinstance(block, Table) and block.name in CHECKED:
        for r, row in enumerate(block.rows):
            for c, column in enumerate(block.columns):
                if column.title in CHECKED[block.name]:
                    for text in damaged(row[c]):
                        new = (*row[:c], text, *row[c + 1 :])
                        where = f"{block.name}, {row[0]}, {column.title}: {row[c]} -> {text}"
                        yield where, replace(block, rows=(*block.rows[:r], new, *block.rows[r + 1 :]))
    elif isinstance(block, Facts):
        for r, (name, said) in enumerate(block.rows):
            for text in damaged(said) if name == "To make" else ():
                yield text, replace(block, rows=(*block.rows[:r], (name, text), *block.rows[r + 1 :]))
    elif isinstance(block, Para) and block.text.startswith("Metal "):
        # The share above the least and what is to pay follow from the figures around them.
        head = block.text.split(". ")[0].split("(")[0]
        for text in damaged(head):
            yield text, replace(block, text=text + block.text[len(head) :])


def test_any_other_figure_is_found(pair: Pair) -> None:
    plan, packet = pair
    tried, passed = 0, []
    for p, page in enumerate(packet.pages):
        if page.kind not in ("cover", "buy", "roof"):
            continue
        for b, block in enumerate(page.blocks):
            for what, other in spoilt(block):
                blocks = (*page.blocks[:b], other, *page.blocks[b + 1 :])
                wrong = (*packet.pages[:p], replace(page, blocks=blocks), *packet.pages[p + 1 :])
                tried += 1
                if not check_packet(replace(packet, pages=wrong), plan):
                    passed.append(what)
    assert tried > 100
    assert passed == []
