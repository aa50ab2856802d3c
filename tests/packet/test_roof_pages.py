"""Pages for the roof, from a small measured roof."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from page_reader import clashes, off_page, sheets, text

from fabplan.job.load import load_job
from fabplan.packet.model import Packet
from fabplan.packet.output.html import html_file
from fabplan.packet.pages import cautions
from fabplan.packet.pages.build import build_packet
from fabplan.packet.pages.pictures import slope_picture
from fabplan.packet.pages.roof import not_in_kits
from fabplan.packet.pages.roof_slopes import NO_LINE, LikeSlopes, course_columns, groups, marks_words
from fabplan.packet.setting.typeset import typeset
from fabplan.plan.make import make_pieces
from fabplan.plan.model import Plan
from fabplan.plotter.model import Shape
from fabplan.speech.format import Say
from fabplan.speech.roof_tables import count_table, kit_table

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


STARTER = """
[[piece]]
mark = "AS"
kind = "starter"
for = "A"
"""


def uncut(path: Path, text: str) -> Plan:
    """A plan of a job without its cutting."""
    path.write_text(text, encoding="utf-8")
    job = load_job(path)
    pieces = make_pieces(job)
    return Plan(job=job, metals=pieces.metals, patterns=pieces.patterns, cut_plan=None, schedules=(), roof=pieces.roof)


@pytest.fixture(scope="module")
def roof_packet(tmp_path_factory: pytest.TempPathFactory) -> Packet:
    return build_packet(uncut(tmp_path_factory.mktemp("roof") / "job.toml", JOB))


@pytest.fixture(scope="module")
def roof_with_starters(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    return uncut(tmp_path_factory.mktemp("starters") / "job.toml", JOB.replace("[[slope]]", STARTER + "\n[[slope]]"))


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


def test_the_slopes_sheet_tells_starters_from_what_is_trimmed(roof_with_starters: Plan) -> None:
    """Starters of their own mark are whole; what is trimmed beside them is of the slope's mark."""
    plan, say = roof_with_starters, Say.of(roof_with_starters.job)
    assert plan.roof is not None
    (layout,) = plan.roof.slopes
    drawing = slope_picture(plan, 1, 180.0, 120.0)
    hatched = [m for m in drawing.marks if isinstance(m, Shape) and m.fill == "hatch"]
    own = [p for p in layout.pieces if p.mark == "AS"]
    others = [p for p in layout.pieces if p.mark == "A" and p.kind != "whole" and not p.under_cap]
    assert own and len(hatched) == len(others)
    said = " ".join(marks_words(plan.roof.slopes, "trimmed"))
    assert "Starter: AS" in said and "those trimmed in course 0 too: A" in said
    (alike,) = groups(plan)
    table = course_columns(plan, alike, say)
    titles = [c.title for c in table.columns]
    line = titles.index("Line, in")
    lower = replace(layout, lines=layout.lines[:-1])  # its last line lies above the slope
    for one in (layout, lower):
        rows = course_columns(plan, LikeSlopes(layouts=(one,), variants=((one,),)), say).rows
        assert [row[line] for row in rows].count(NO_LINE) == len(one.courses) - len(one.lines)
    assert count_table(plan.roof, plan.job).rows[0][1] == "A, AS"
    (every,) = plan.roof.variation
    assert every.largest_per_lock in [i.courses for i in every.intervals]  # "snap every so many" has its row
    assert not_in_kits(plan) == []
    (told,) = not_in_kits(replace(plan, patterns=(*plan.patterns, replace(plan.patterns[0], mark="E", count=7))))
    assert told.text.endswith(": E (7).")
    kits = [row[3] for row in kit_table(plan.roof, plan.job).rows]
    assert any("trimmed left" in kit for kit in kits) and not any("cut left" in kit for kit in kits)
