"""Marks of forty letters and more: short in pictures and cut tables, in full in titles and at the head of a pattern."""

from __future__ import annotations

from dataclasses import replace

import packet_sample
from hypothesis import given
from hypothesis import strategies as st
from packet_sample import plan as sample
from page_reader import off_page, sheets

from fabplan.packet.model import Para, Picture, Table
from fabplan.packet.pages.build import build_packet
from fabplan.packet.setting.short_names import short_layout, short_marks
from fabplan.packet.setting.typeset import typeset
from fabplan.plan.model import Plan
from fabplan.plotter.board.labels import LONGEST_MARK
from fabplan.plotter.model import Text

LONG = "Diamond shingle of the upper turret on the lake side"


def long_plan() -> Plan:
    """The hand-made plan with its shingle under a long mark."""
    made = sample()
    assert made.cut_plan is not None
    layouts = tuple(
        replace(
            layout,
            blanks=tuple(replace(b, mark=LONG) if b.mark == "A" else b for b in layout.blanks),
        )
        for layout in made.cut_plan.layouts
    )
    return replace(
        made,
        patterns=tuple(replace(p, mark=LONG) if p.mark == "A" else p for p in made.patterns),
        schedules=tuple(replace(s, mark=LONG) if s.mark == "A" else s for s in made.schedules),
        cut_plan=replace(made.cut_plan, layouts=layouts),
    )


def test_pictures_and_cut_tables_carry_the_short_mark_and_heads_the_full_one() -> None:
    packet = build_packet(long_plan())
    pages = [page for page in packet.pages if page.kind in ("shear", "piece")]
    named = [page for page in pages if any(isinstance(b, Para) and LONG in b.text for b in page.blocks)]
    assert len(named) >= 2
    assert any(page.title.startswith(f"{LONG}:") for page in pages)
    short = short_marks([LONG])[LONG]
    for page in pages:
        for block in page.blocks:
            if isinstance(block, Picture):
                words = [m.text for m in block.drawing.marks if isinstance(m, Text)]
                assert not any(LONG in text for text in words)
            if isinstance(block, Table) and block.columns[0].title == "Cut":
                assert not any(LONG in cell for row in block.rows for cell in row)
    first = next(page for page in named if page.kind == "shear")
    assert f"{LONG} ({short})" in "".join(b.text for b in first.blocks if isinstance(b, Para))


def test_nothing_leaves_the_paper_with_long_marks() -> None:
    packet = build_packet(long_plan())
    pages = tuple(page for page in packet.pages if page.kind in ("cover", "cut-list", "piece", "shear"))
    for sheet in sheets(typeset(replace(packet, pages=pages))):
        assert off_page(sheet) == []


def test_a_pattern_without_long_marks_is_left_as_it_is() -> None:
    made = packet_sample.plan()
    assert made.cut_plan is not None
    layout = made.cut_plan.layouts[0]
    assert short_layout(layout, short_marks(["A", LONG])) is layout


@given(st.lists(st.text(alphabet="Drip edg", min_size=1, max_size=40), max_size=60, unique=True))
def test_no_two_short_marks_are_alike_and_all_are_short(marks: list[str]) -> None:
    short = short_marks(marks)
    shown = [short.get(mark, mark) for mark in marks]
    assert len(set(shown)) == len(marks)
    assert all(len(mark) <= LONGEST_MARK for mark in shown)
