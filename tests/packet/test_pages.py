"""The printed pages, read back from the PDF."""

from __future__ import annotations

import io
import re
from dataclasses import replace

import packet_sample
import pdfplumber
import pikepdf
import pytest
from packet_sample import thinned
from page_reader import clashes, off_page, sheets, text

from fabplan.errors import JobError
from fabplan.packet.model import Column, Packet, Page, Para, Table
from fabplan.packet.pages import cautions
from fabplan.packet.pages.build import build_packet
from fabplan.packet.setting.page_estimate import PAPER_SIZE
from fabplan.packet.setting.typeset import typeset


def small(*blocks: Para | Table, **changes: object) -> Packet:
    """A packet of one page."""
    page = Page(key="p", kind="cover", title="Title", blocks=blocks)
    said: dict[str, object] = {
        "number": "J-1",
        "name": "Name",
        "revision": "",
        "date": "",
        "paper": "letter",
        "pages": (page,),
    }
    return Packet(**(said | changes))  # type: ignore[arg-type]


def test_nothing_stands_on_anything_or_leaves_the_paper(pdf: bytes) -> None:
    for number, sheet in enumerate(sheets(pdf), 1):
        assert off_page(sheet) == [], number
        assert clashes(sheet) == [], number


def test_paper_sizes(pdf: bytes) -> None:
    sizes = {
        (round(min(s.width, s.height) / 72 * 25.4, 1), round(max(s.width, s.height) / 72 * 25.4, 1))
        for s in sheets(pdf)
    }
    assert len(sizes) == 1
    assert sizes <= {(round(w, 1), round(h, 1)) for w, h in PAPER_SIZE.values()}


def test_job_and_page_number_on_every_page(pdf: bytes) -> None:
    pages = text(pdf)
    for number, page in enumerate(pages, 1):
        assert "LP-07" in page
        assert "Lakeside pavilion" in page
        assert "rev 2" in page
        assert f"page {number} of {len(pages)}" in page


def test_fractions_come_out_of_the_text_as_written(pdf: bytes) -> None:
    everything = " ".join(text(pdf))
    assert "14 1⁄32 × 14 1⁄32 in" in everything
    assert "48 1⁄8 off the coil" in everything
    assert "6 9⁄16" in everything
    assert "141⁄32" not in everything


def test_fonts_are_embedded_and_only_ours(pdf: bytes) -> None:
    names = set()
    with pikepdf.open(io.BytesIO(pdf)) as document:
        for item in document.objects:
            if isinstance(item, pikepdf.Dictionary) and item.get("/Type") == "/FontDescriptor":
                names.add(str(item.FontName))
                assert any(key in item for key in ("/FontFile", "/FontFile2", "/FontFile3"))
    assert names
    assert all(re.fullmatch(r"/[A-Z]{6}\+DejaVuSans(-Bold)?", name) for name in names), names


def test_tagged_titled_and_never_scaled(pdf: bytes) -> None:
    # PDF/UA-1 (ISO 14289-1): tagged, a title shown, a language, an identifier in the metadata.
    with pikepdf.open(io.BytesIO(pdf)) as document:
        root = document.Root
        assert root.MarkInfo.Marked
        assert root.ViewerPreferences.DisplayDocTitle
        assert root.ViewerPreferences.PrintScaling == "/None"
        assert str(root.Lang) == "en"
        assert "/StructTreeRoot" in root
        assert b"pdfuaid:part" in root.Metadata.read_bytes()
        figures = [o for o in document.objects if isinstance(o, pikepdf.Dictionary) and o.get("/S") == "/Figure"]
        assert figures
        assert all(str(f.Alt).strip() for f in figures)
        assert "/CreationDate" not in document.docinfo or "1970" in str(document.docinfo["/CreationDate"])


def test_same_packet_same_bytes(letter: bytes) -> None:
    assert letter == typeset(build_packet(packet_sample.plan()))


def test_cautions_stand_where_the_work_hurts(letter: bytes) -> None:
    pages = text(letter)
    assert cautions.FIRST in pages[0]
    told = next(p for p in pages if "Cautions: read" in p).replace("- ", "-")
    for rule in (
        "29 CFR 1910.138(a)",
        "29 CFR 1910.212(a)(3)(ii)",
        "CPL 02-01-025",
        "29 CFR 1926.501(b)(11)",
        "29 CFR 1926.501(b)(10)",
        "29 CFR 1926.501(b)(1)",
        "29 CFR 1926.502(d)(15)",
        "29 CFR 1926.453(b)(2)(v)",
        "29 CFR 1926.453(b)(2)(i)",
        "29 CFR 1926.62",
        "29 CFR 1910.1025",
        "section 1536",
    ):
        assert rule in told
    at_work = [p for p in pages if re.search(r"Cutting layout \d of|[AD]: ", p)]
    assert len(at_work) >= 5
    for page in at_work:
        assert "gloves" in page
        assert cautions.LAST in page


# Rule numbers not confirmed against a published copy stay off the pages.
@pytest.mark.parametrize("rule", ["1910.212(a)(3)(iv)", "1910.217", "1910.1000", "1910.252"])
def test_unconfirmed_rules_are_not_printed(letter: bytes, rule: str) -> None:
    assert rule not in " ".join(text(letter))


def test_short_is_said_on_every_page() -> None:
    pages = text(typeset(thinned(build_packet(packet_sample.plan(short=True)))))
    assert all("SHORT: this plan does not make 12 of A" in page for page in pages)


def test_stopped_early_is_said_on_the_cover(letter: bytes) -> None:
    made = build_packet(packet_sample.plan(stopped=True))
    assert "Stopped early" in text(typeset(replace(made, pages=made.pages[:1])))[0]
    assert "Stopped early" not in text(letter)[0]


def test_a_clock_somebody_set_is_said_on_the_cover(letter: bytes) -> None:
    plan = packet_sample.plan()
    assert plan.cut_plan is not None
    made = build_packet(replace(plan, cut_plan=replace(plan.cut_plan, time_limit=5.0)))
    assert "The search had 5 s (--seconds) and ended before." in text(typeset(replace(made, pages=made.pages[:1])))[0]
    assert "--seconds" not in text(letter)[0]


def test_header_row_is_repeated() -> None:
    columns = (
        Column(title="Cut", align="centre"),
        Column(title="Back gauge", size=16, strong=True),
        Column(title="Comes off", share=1),
    )
    table = Table(name="t", columns=columns, rows=tuple((str(n), "14 1⁄2", "A") for n in range(120)))
    pages = text(typeset(small(table)))
    assert len(pages) > 2
    for n, page in enumerate(pages):
        assert "Back gauge" in page
        assert ("continued" in page) == (n > 0)


def test_pages_named_in_the_cut_list_are_right(pdf: bytes) -> None:
    pages = text(pdf)
    cut_list = next(p for p in pages if "Cut list" in p and "Sheared size" in p)
    for mark in ("A", "D"):
        at = next(n for n, p in enumerate(pages, 1) if re.search(rf"\b{mark}: (diamond|section)", p))
        assert re.search(rf"\b{at}\b", cut_list)


@pytest.mark.parametrize(
    "name",
    [
        "$5 and $6",
        "#let x = [1]",
        "<script>alert(1)</script>",
        "a & b \\ *c* _d_ `e` @f",
        "“smart” – ½ ⅝ 😀",
        "W" * 200,
        "גג מתכת",
    ],
)
def test_text_is_printed_as_typed(name: str) -> None:
    packet = small(Para(text=name), number="N-1", name=name)
    pdf = typeset(packet)
    for sheet in sheets(pdf):
        assert off_page(sheet) == []
        assert clashes(sheet) == []
    printed = "".join(g.text for s in sheets(pdf) for g in s.glyphs)
    if not any("֐" <= c <= "׿" for c in name):  # a right-to-left line comes out of the file in its drawn order
        assert printed.count(name.replace(" ", "")) >= (2 if len(name) < 60 else 1)


def test_a_character_without_a_shape_stops_the_packet() -> None:
    with pytest.raises(JobError, match=r"U\+5C4B"):
        typeset(small(Para(text="屋根")))


def test_words_too_wide_for_a_column_break() -> None:
    long = packet_sample.plain("M" * 40, 6.0, 4.0, 3)
    made = packet_sample.plan()
    made = replace(made, patterns=(*made.patterns, long))
    lists = [page for page in build_packet(made).pages if page.kind in ("cover", "cut-list")]
    for sheet in sheets(typeset(replace(build_packet(made), pages=tuple(lists)))):
        assert off_page(sheet) == []


def test_black_and_white_only(a4: bytes) -> None:
    with pdfplumber.open(io.BytesIO(a4)) as document:
        for page in document.pages:
            for item in (*page.chars, *page.lines, *page.rects, *page.curves):
                for ink in (item.get("stroking_color"), item.get("non_stroking_color")):
                    values = ink if isinstance(ink, (tuple, list)) else (ink,)
                    assert all(v is None or v in (0, 1) for v in values if not isinstance(v, str)), item["object_type"]
