"""Pages for the roof, from a small measured roof."""

from __future__ import annotations

from pathlib import Path

import pytest
from page_reader import clashes, off_page, sheets, text

from fabplan.job.load import load_job
from fabplan.packet.model import Packet
from fabplan.packet.output.html import html_file
from fabplan.packet.pages import cautions
from fabplan.packet.pages.build import build_packet
from fabplan.packet.setting.typeset import typeset
from fabplan.plan.make import make_pieces
from fabplan.plan.model import Plan

JOB = """
[job]
name = "Turret"
number = "T-9"

[metal]
use = "copper-16oz"

[[piece]]
mark = "A"
kind = "diamond"
side = "10 in"
hem = "3/4 in"

[[slope]]
name = "turret"
shape = "regular-spire"
piece = "A"
sides = 4
side = "5 ft"
slant = "7 ft"

[shear]
longest_cut = "52 in"
back_gauge_reach = "48 in"
least_held = "1 in"
"""


@pytest.fixture(scope="module")
def roof_packet(tmp_path_factory: pytest.TempPathFactory) -> Packet:
    path: Path = tmp_path_factory.mktemp("roof") / "job.toml"
    path.write_text(JOB, encoding="utf-8")
    job = load_job(path)
    pieces = make_pieces(job)
    plan = Plan(job=job, metals=pieces.metals, patterns=pieces.patterns, cut_plan=None, schedules=(), roof=pieces.roof)
    return build_packet(plan)


def test_a_plan_without_stock_still_prints(roof_packet: Packet) -> None:
    kinds = [page.kind for page in roof_packet.pages]
    assert kinds[:4] == ["cover", "cut-list", "cautions", "reading"]
    assert "shear" not in kinds
    assert "buy" not in kinds
    assert "roof" in kinds


def test_roof_pages_say_lines_counts_and_cautions(roof_packet: Packet) -> None:
    pdf = typeset(roof_packet)
    pages = text(pdf)
    slope = next(p for p in pages if "Slope turret (each of 4)" in p)
    everything = " ".join(pages)
    assert "each of 4" in everything
    assert "Line, in" in everything
    assert "Kits" in everything
    assert cautions.LAST in slope
    assert "fall arrest" in slope
    for sheet in sheets(pdf):
        assert off_page(sheet) == []
        assert clashes(sheet) == []


def test_roof_stands_in_the_screen_version(roof_packet: Packet) -> None:
    page = html_file(roof_packet).decode()
    assert "Courses of turret" in page
    assert page.count("<svg") >= 4
