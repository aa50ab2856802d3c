"""A layout takes one sheet, two short ones share one; the estimate of their room is never too small."""

from __future__ import annotations

from dataclasses import replace

import packet_sample
import pytest
from kiosk import planned
from page_reader import sheets, text

from fabplan.packet.model import Column, Page, Paper, Picture, Shot, Shots, Table, flat
from fabplan.packet.pages.build import build_packet
from fabplan.packet.pages.cut_shots import in_rows
from fabplan.packet.setting.fit import fitted
from fabplan.packet.setting.page_estimate import body, lines, mm, points, shots_height, table_height
from fabplan.packet.setting.typeset import sheets_of, typeset
from fabplan.plan.model import Plan
from fabplan.plotter.model import Drawing

MOST_SHOTS = 6  # small pictures for which one sheet has room beside a crowded layout
STOCK = """
[[stock]]
name = "coil 24"
form = "coil"
width = "24 in"
longest_cut_off = "60 in"
"""


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    return planned(STOCK, tmp_path_factory.mktemp("kiosk"), 0.05)


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_short_layouts_share_a_sheet(paper: Paper) -> None:
    packet = build_packet(packet_sample.plan(), paper=paper)
    pages = tuple(page for page in packet.pages if page.kind == "shear")
    short = replace(pages[0], blocks=pages[0].blocks[:2])
    pages = (*pages, replace(short, key="one"), replace(short, key="two", joins=True))
    found = text(typeset(replace(packet, pages=pages)))
    runs = sheets_of(pages)
    assert len(found) == len(runs)
    for run, said in zip(runs, found, strict=True):
        assert all(page.title in said for page in run)


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_a_crowded_layout_takes_a_sheet_with_its_small_pictures(plan: Plan, paper: Paper) -> None:
    packet = build_packet(plan, paper=paper)
    pages = [page for page in packet.pages if page.kind == "shear"]
    assert any(isinstance(b, Shots) for page in pages for b in flat(page.blocks))
    few = [page for page in pages if sum(len(b.shots) for b in flat(page.blocks) if isinstance(b, Shots)) <= MOST_SHOTS]
    assert few
    assert len(sheets(typeset(replace(packet, pages=tuple(few))))) == len(sheets_of(few))


@pytest.mark.parametrize("paper", ["letter", "a4"])
@pytest.mark.parametrize("landscape", [True, False])
def test_a_table_is_no_higher_than_reckoned(paper: Paper, landscape: bool) -> None:
    columns = (
        Column(title="Back gauge", align="right", size=16, strong=True),
        Column(title="What comes off", share=1),
        Column(title="Left on the table", share=2),
    )
    row = (
        "mark 14 31⁄32",
        "12 × piece with 4 A, 1 C",
        "12 15⁄32 × 48 1⁄8 each: piece with 5 B, 1 E and 14 C, more in it",
    )
    wide, high = body(paper, landscape=landscape, banner=False)
    fits = 1
    while mm(table_height(Table(name="t", columns=columns, rows=(row,) * (fits + 1)), points(wide))) < high - 14.0:
        fits += 1
    table = Table(name="t", columns=columns, rows=(row,) * fits)
    base = build_packet(packet_sample.plan(), paper=paper)
    page = Page(key="k", kind="shear", title="t", blocks=(table,), landscape=landscape, caution="Caution: hands clear.")
    assert len(sheets(typeset(replace(base, pages=(page,))))) == 1


def test_lines_are_broken_between_words() -> None:
    assert lines("one two three", 10.0, False, 1000.0) == 1
    assert lines("one two three", 10.0, False, 30.0) == 3
    assert lines("M" * 40, 10.0, False, 100.0) > 3


def test_no_picture_is_higher_than_its_page() -> None:
    for page in build_packet(packet_sample.plan()).pages:
        if page.kind == "shear":
            _, high = body("letter", landscape=page.landscape, banner=False)
            assert all(b.drawing.height < high for b in flat(page.blocks) if isinstance(b, Picture))


@pytest.mark.parametrize("paper", ["letter", "a4"])
@pytest.mark.parametrize("landscape", [True, False])
def test_rows_stand_closer_where_that_spares_a_nearly_empty_sheet(paper: Paper, landscape: bool) -> None:
    base = build_packet(packet_sample.plan(), paper=paper)
    columns = (
        Column(title="Kit", strong=True),
        Column(title="What is in it", share=1),
        Column(title="Done", tick=True),
    )

    def page(rows: int) -> Page:
        table = Table(name="t", columns=columns, rows=(("3 of 7", "12 whole", ""),) * rows)
        return Page(key="k", kind="roof", title="t", blocks=(table,), landscape=landscape, caution="Caution: falls.")

    def close(page: Page) -> bool:
        return any(isinstance(b, Table) and b.close for b in page.blocks)

    def taken(page: Page) -> int:
        return len(sheets(typeset(replace(base, pages=(page,)))))

    rows = next(n for n in range(20, 80) if taken(page(n)) == 2)
    assert not close(fitted(page(rows * 3 // 4), paper, banner=False))
    spared = fitted(page(rows), paper, banner=False)
    assert close(spared) and taken(spared) == 1
    assert not close(fitted(page(rows * 3 // 2), paper, banner=False))  # a well-filled second sheet


def test_small_pictures_stand_in_the_lowest_rows_that_hold_them() -> None:
    """Lower than columns of one width, and never over the sheet's edge."""
    drawing = Drawing(name="d", title="d", width=24.0, height=18.0, marks=())

    def shot(n: int, says: str) -> Shot:
        picture = Picture(drawing=drawing, alt=".")
        return Shot(title=str(n), sets="3 1⁄32   45°\u00a0R", says=says, picture=picture)

    long = "drops of 46, 48, 50, 52, 54 and rests of 57, 59, 61, 63, 65, 11 5⁄16 × 15 9⁄16"
    shots = [shot(n, long if n in (2, 5) else "rest of 3") for n in range(1, 8)]
    width = 190.0
    rows = in_rows(shots, width)
    assert all(sum(row) + 3.0 * (len(row) - 1) <= width + 1e-6 for row in rows)
    found = shots_height(Shots(name="s", shots=tuple(shots), rows=rows))
    each = (width - 4 * 3.0) / 5
    equal = Shots(name="s", shots=tuple(shots), rows=((each,) * 5, (each,) * 2))
    assert found < shots_height(equal)
    page = Page(key="k", kind="shear", title="t", blocks=(Shots(name="s", shots=tuple(shots), rows=rows),))
    said = text(typeset(replace(build_packet(packet_sample.plan()), pages=(page,))))
    assert len(said) == 1 and said[0].count("45°") == len(shots)


def test_a_small_picture_without_a_place_is_refused() -> None:
    with pytest.raises(ValueError, match="places"):
        Shots(name="s", shots=(), rows=((30.0,),))
