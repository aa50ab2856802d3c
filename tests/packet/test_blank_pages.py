"""The page of a blank: its snips name the edges of its picture, which is as large as the words leave room for."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from kiosk import planned
from page_reader import sheets

from fabplan.packet.model import Packet, Page, Paper, Picture, Table
from fabplan.packet.pages.build import build_packet
from fabplan.packet.setting.typeset import typeset
from fabplan.plan.model import Plan

MORE = """
[[piece]]
mark = "RR"
kind = "rake-right"
for = "A"
count = 2
[[piece]]
mark = "P"
kind = "flat-seam"
count = 2
width = "18 in"
length = "24 in"
hem = "3/4 in"
"""
MARKS = ("A", "S", "RL", "RR", "RH", "P")


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    return planned(MORE, tmp_path_factory.mktemp("kiosk"), 0)


def blank_pages(packet: Packet) -> dict[str, Page]:
    return {p.title.split()[1].rstrip(":"): p for p in packet.pages if p.kind == "blank"}


@pytest.mark.parametrize("mark", MARKS)
def test_a_snip_is_named_by_the_edges_it_lies_between(plan: Plan, mark: str) -> None:
    page = blank_pages(build_packet(plan))[mark]
    table = next(b for b in page.blocks if isinstance(b, Table) and b.columns[0].title == "Between edges")
    notches = plan.pattern(mark).notches
    assert len(table.rows) == len(notches) > 0
    for row, notch in zip(table.rows, notches, strict=True):
        first, second = (int(edge) for edge in row[0].split(" and "))
        told = [int(n) for n in re.findall(r"edge (\d+)", notch.says)]
        assert told in ([first, second], [first], [second], []), notch.says
        assert second == notch.corner
        edges = len(plan.pattern(mark).finished.outline or plan.pattern(mark).outline)
        assert 1 <= first <= edges and second == first % edges + 1


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_a_blank_takes_one_sheet_and_its_picture_what_the_words_leave(plan: Plan, paper: Paper) -> None:
    packet = build_packet(plan, paper=paper)
    pages = blank_pages(packet)
    assert set(pages) == set(MARKS)
    for page in pages.values():
        assert len(sheets(typeset(replace(packet, pages=(page,))))) == 1, page.title
    few, many = (
        next(b for b in pages[mark].blocks if isinstance(b, Picture)).drawing.height for mark in ("RH", "A")
    )  # one corner to snip, and four
    assert few > 1.15 * many
