"""A job with no stock to cut from still gets its blanks, folds and lists; rare shapes are drawn and told."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from page_reader import clashes, off_page, sheets, text

from fabplan.job.load import load_job
from fabplan.packet.check import check_packet
from fabplan.packet.model import Packet, Page, Para, Picture, Table, flat
from fabplan.packet.output.html import html_file
from fabplan.packet.pages.build import build_packet
from fabplan.packet.pages.pictures import layout_drawing, stock_chart
from fabplan.packet.setting.typeset import typeset
from fabplan.plan.make import make_plan
from fabplan.plan.model import Plan
from fabplan.plotter.model import Line

JOB = """
[job]
name = "Porch"
number = "P-2"
round_to = "1/16 in"
[metal]
use = "copper-16oz"
[[piece]]
mark = "L"
kind = "outline"
count = 2
points = [["0 in","0 in"],["8 in","0 in"],["8 in","3 in"],["4 in","3 in"],["4 in","6 in"],["0 in","6 in"]]
folds = [
  {edge = 3, width = "1/2 in", toward = "face", turned = 90},
  {edge = 4, width = "1/2 in", toward = "back", turned = 90},
]
[[piece]]
mark = "G"
kind = "section"
count = 2
length = "200 in"
legs = ["1-3/16 in", "4-1/16 in"]
bends = [90]
grain = "along"
lap = "2 in"
[[piece]]
mark = "K"
kind = "rectangle"
count = 5
width = "2 in"
length = "5 in"
"""


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    path: Path = tmp_path_factory.mktemp("porch") / "job.toml"
    path.write_text(JOB, encoding="utf-8")
    return make_plan(load_job(path), effort=0, should_stop=lambda: True)


@pytest.fixture(scope="module")
def packet(plan: Plan) -> Packet:
    return build_packet(plan)


def page(packet: Packet, start: str) -> Page:
    return next(p for p in packet.pages if p.title.startswith(start))


def test_it_has_no_cutting_pages_and_passes_its_check(plan: Plan, packet: Packet) -> None:
    assert not [p for p in packet.pages if p.kind == "shear"]
    assert check_packet(packet, plan) == []
    pdf = typeset(packet)
    for sheet in sheets(pdf):
        assert not clashes(sheet) and not off_page(sheet)
    assert "Porch" in text(pdf)[0]
    assert b"G: section" in html_file(packet)


def test_a_plan_without_cuts_has_no_pattern_and_no_chart(plan: Plan) -> None:
    assert stock_chart(plan) is None
    with pytest.raises(ValueError, match="no cut plan"):
        layout_drawing(plan, None, 1, 100.0, 80.0)  # type: ignore[arg-type]


def test_strips_and_grain_are_said_on_the_blank_page(packet: Packet) -> None:
    words = " ".join(b.text for b in page(packet, "G: section").blocks if isinstance(b, Para))
    assert "4 to each piece, lapped" in words
    assert "rolling direction along the length" in words


def test_a_slit_is_drawn_from_the_corner_to_the_crossing(plan: Plan, packet: Packet) -> None:
    blank = page(packet, "L: shaped piece")
    table = next(b for b in flat(blank.blocks) if isinstance(b, Table) and b.columns[0].title == "Corner")
    assert ("3-4", "slit") in [row[:2] for row in table.rows]
    drawing = next(b for b in flat(blank.blocks) if isinstance(b, Picture)).drawing
    slits = [m for m in drawing.marks if isinstance(m, Line) and m.pen == "outline" and len(m.points) == 2]
    assert len(slits) == 1


@pytest.mark.parametrize("change", [{"patterns": ()}, {"schedules": ()}], ids=["no blanks", "no folds"])
def test_a_packet_of_another_plan_is_refused(plan: Plan, packet: Packet, change: dict[str, tuple[()]]) -> None:
    assert check_packet(packet, replace(plan, **change))
