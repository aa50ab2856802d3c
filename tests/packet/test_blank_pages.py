"""The page of a blank: its snips name the edges of its picture, which is as large as the words leave room for."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from kiosk import planned
from page_reader import sheets

from fabplan.packet.model import Packet, Page, Paper, Table, flat
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


def piece_pages(packet: Packet) -> dict[str, Page]:
    return {p.title.split(":")[0]: p for p in packet.pages if p.kind == "piece"}


@pytest.mark.parametrize("mark", MARKS)
def test_a_snip_is_named_by_the_edges_it_lies_between(plan: Plan, mark: str) -> None:
    page = piece_pages(build_packet(plan))[mark]
    table = next(b for b in flat(page.blocks) if isinstance(b, Table) and b.columns[0].title == "Corner")
    notches = plan.pattern(mark).notches
    named = {corner: row for row in table.rows for corner in row[0].split(", ")}
    assert len(named) == len(notches) > 0
    edges = len(plan.pattern(mark).finished.outline or plan.pattern(mark).outline)
    for notch in notches:
        first = (notch.corner - 2) % edges + 1
        row = named[f"{first}-{notch.corner}"]
        told = [int(n) for n in re.findall(r"edge (\d+)", notch.says)]
        assert told in ([first, notch.corner], [first], [notch.corner], []), notch.says
        assert row[1] == notch.kind


@pytest.mark.parametrize("mark", MARKS)
def test_alike_folds_and_snips_share_a_row_and_none_is_lost(plan: Plan, mark: str) -> None:
    page, pattern = piece_pages(build_packet(plan))[mark], plan.pattern(mark)
    table = next(b for b in flat(page.blocks) if isinstance(b, Table) and b.columns[0].title == "Edge")
    edges = sorted(int(edge) for row in table.rows for edge in row[0].split(", "))
    assert edges == sorted(f.edge for f in pattern.folds)
    for row in table.rows:
        for fold in pattern.folds:
            if str(fold.edge) in row[0].split(", "):
                assert f"to the {fold.toward}" in row[2]


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_a_piece_of_up_to_four_strokes_takes_one_sheet(plan: Plan, paper: Paper) -> None:
    packet = build_packet(plan, paper=paper)
    pages = piece_pages(packet)
    assert set(pages) == set(MARKS)
    sheets_of = {mark: len(sheets(typeset(replace(packet, pages=(page,))))) for mark, page in pages.items()}
    assert all(n <= 2 for n in sheets_of.values()), sheets_of
    assert sheets_of["A"] == sheets_of["S"] == 1
