"""What the pages say when the job is different: slanted cuts, many batches, several metals, no prices, millimetres."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from types import SimpleNamespace
from typing import Any

import packet_sample
import pytest
from cut_facts import line, told
from page_reader import sheets

from fabplan.errors import FabplanError, JobError
from fabplan.nesting.model import Layout, Offcut, Placed
from fabplan.nesting.remarks import Outcome
from fabplan.packet.model import STATIONS, Band, Beside, Heading, Packet, Page, Para, Shots, Station, Table, flat
from fabplan.packet.pages.build import build_packet
from fabplan.packet.pages.cut_rows import cut_rows
from fabplan.packet.setting import typeset as setting
from fabplan.packet.setting.fonts import check_job
from fabplan.packet.setting.keys import piece_key
from fabplan.packet.setting.typeset import at_full_size, sheets_of, typeset
from fabplan.packet.totals import where_it_goes
from fabplan.plan.model import Amount, BuyLine, Plan
from fabplan.plotter.model import Text
from fabplan.speech.cuts import MetalPart, Take, drops_words
from fabplan.speech.format import Say

A = MetalPart("blank", (("A", 1),))
ZINC = replace(
    packet_sample.COPPER, name="zinc-0.7mm", title="Zinc 0.7 mm", family="zinc", cautions=("No acid flux on zinc.",)
)


def page_of(packet: Packet, kind: str, n: int = 0) -> Page:
    return [page for page in packet.pages if page.kind == kind][n]


def tables(page: Page) -> list[Table]:
    return [block for block in page.blocks if isinstance(block, Table)]


def words(page: Page) -> str:
    said = []
    for block in page.blocks:
        if isinstance(block, (Para, Heading)):
            said.append(block.text)
        elif isinstance(block, Beside):
            said += block.says
    return " ".join(said)


def slanted() -> Layout:
    """A 10 x 10 in sheet: a corner cut off to a mark at 45 degrees, then a strip by the back gauge."""
    sheet = Layout(
        stock="sheet 10",
        form="sheet",
        metal=packet_sample.COPPER.name,
        repeat=2,
        width=320,
        length=320,
        blanks=(Placed(mark="C", x=160, y=0, width=160, length=160, turned=True),),
        cuts=(
            line(step=1, start=(0.0, 32.0), end=(32.0, 0.0), back_gauge=None, held=100, angle=45.0),
            line(step=2, start=(0.0, 160.0), end=(320.0, 160.0), back_gauge=160, held=160),
        ),
        offcuts=(
            Offcut(x=0, y=160, width=320, length=160, keep=True, number=1),
            Offcut(x=0, y=0, width=160, length=160, keep=True, number=2),
        ),
    )
    return told(sheet, keep=(150, 150))


def with_layouts(*layouts: Layout, **changes: Any) -> Plan:
    plan = packet_sample.plan()
    assert plan.cut_plan is not None
    # the sample's shear program is of its own layouts
    return replace(plan, cut_plan=replace(plan.cut_plan, layouts=layouts, **{"program": None, **changes}))


def test_slanted_cuts_have_an_angle_stop_and_a_mark() -> None:
    page = page_of(build_packet(with_layouts(slanted())), "shear")
    cuts, kept = [b for b in flat(page.blocks) if isinstance(b, Table)]
    (shots,) = [b for b in flat(page.blocks) if isinstance(b, Shots)]
    shot, gauged = shots.shots
    assert (gauged.title, gauged.sets) == ("2", "5   90°\u00a0R")
    assert gauged.says == "rest of 1. Falls: offcut to keep. Stays: C."
    assert (shot.title, shot.sets) == ("1", "scribed points")
    assert shot.says == "the sheet, 10 × 10. Falls: scrap. Stays: C to trim."
    assert "Falls: scrap. Stays: C to trim." in shot.picture.alt
    said = [mark.text for mark in shot.picture.drawing.marks if isinstance(mark, Text) and mark.bold]
    assert [words for words in said if words[0].isdigit()] == ["1", "1"]
    assert "1 along the left edge from the bottom edge and 1 along the bottom edge from the left" in shot.picture.alt
    assert [row[:3] for row in cuts.rows] == [("1, 2", "", "see the pictures, by number")]
    assert [row[:3] for row in kept.rows] == [("K1", "10 × 5 in", "2 pieces"), ("K2", "5 × 5 in", "2 pieces")]


def test_the_smaller_part_falls_at_a_cut_to_a_mark() -> None:
    first, second = cut_rows(slanted())
    assert first.rest == (320.0, 320.0)
    assert second.takes == (Take("rest", 1),)
    assert drops_words(first.comes_off) == "scrap"


def test_rows_of_unlike_cuts_stay_apart() -> None:
    layout = slanted()
    assert len(cut_rows(replace(layout, cuts=layout.cuts[:1]))) == 1
    mixed = replace(cut_rows(layout)[0], comes_off=(A, A, MetalPart("scrap")))
    assert drops_words(mixed.comes_off) == "2 × A, scrap"


def test_many_labels_are_shortened() -> None:
    layout = slanted()
    kept = tuple(Offcut(x=0, y=n, width=320, length=160, keep=True, number=n) for n in range(1, 7))
    page = page_of(build_packet(with_layouts(replace(layout, offcuts=kept))), "shear")
    assert tables(page)[-1].rows[0][:3] == ("K1 to K6", "10 × 5 in", "12 pieces")


def cards_of(page: Page) -> list[Band]:
    return [block for block in flat(page.blocks) if isinstance(block, Band)]


def test_every_stroke_has_a_box_for_every_batch() -> None:
    plan = packet_sample.plan()
    many = packet_sample.diamond(count=333)
    plan = replace(plan, patterns=(many, *plan.patterns[1:]))
    for band in cards_of(page_of(build_packet(plan), "piece")):
        assert band.ticks.name == "25 at a time"
        assert band.ticks.labels[:2] == ("1–25", "26–50")
        assert band.ticks.labels[-1] == "326–333"
        assert len(band.ticks.labels) == 14


def test_a_card_says_what_is_set_and_what_is_checked() -> None:
    bands = cards_of(page_of(build_packet(packet_sample.plan()), "piece", 1))
    assert [band.ticks.labels for band in bands] == [("1–24",)] * 4
    assert bands[0].says[0] == "Finish end in."
    assert ("Stop from start edge:", "1 1⁄2") in bands[0].settings
    assert ("Set", "92°") in bands[2].settings
    assert ("Reads", "90°") in bands[2].settings
    assert bands[1].title == "Bend 1: closed hem, close"
    assert bands[2].title == "Bend 2: fold up 90°"
    assert bands[2].first == "Turn over end for end (the same end goes in)."


def test_words_that_an_earlier_stroke_has_told_are_not_told_again() -> None:
    bands = cards_of(page_of(build_packet(packet_sample.plan()), "piece"))
    alike = [band for band in bands if band.says[0].startswith("As stroke ")]
    for band in alike:
        first = next(b for b in bands if f"As stroke {b.number}." in band.says[0])
        assert int(first.number) < int(band.number)
        assert not first.says[0].startswith("As stroke ")


def test_two_metals_and_two_stocks() -> None:
    plan = packet_sample.plan()
    zinc = replace(packet_sample.plain("Z", 5.0, 3.0, 4), metal=ZINC.name, grain="along", parts=2)
    one, none = Amount(count=1, pounds=10.0), Amount(count=0, pounds=0.0)
    left = Amount(count=2, pounds=20.0)
    line = BuyLine(stock="sheet", metal=ZINC.name, form="sheet", need=one, pull=one, buy=none, left=left)
    plan = replace(
        plan, metals={**plan.metals, ZINC.name: ZINC}, patterns=(*plan.patterns, zinc), buy=(*plan.buy, line)
    )
    packet = build_packet(plan)
    stock = tables(page_of(packet, "cover"))[0]
    assert [c.title for c in stock.columns][:2] == ["Stock", "Metal"]
    assert stock.total
    assert stock.rows[-1][0] == "All"
    assert "USD 1,204.50" in stock.rows[-1]
    assert stock.rows[1][3:5] == ("1 sheet", "–")
    cut_list = tables(page_of(packet, "cut-list"))[0]
    assert "Metal" in [c.title for c in cut_list.columns]
    cautions = page_of(packet, "cautions").blocks[0]
    assert "No acid flux on zinc." in cautions.items  # type: ignore[union-attr]


def test_by_area_when_the_job_gives_no_prices() -> None:
    plan = packet_sample.plan()
    cut = plan.cut_plan
    assert cut is not None
    area = cut.stock[0].area
    cheap = replace(
        cut,
        objective="area",
        total=Fraction(area),
        metal_total=Fraction(area),
        bound=Fraction(area),
        status="proven",
        rivals=(replace(cut.rivals[0], total=None, outcomes=(Outcome(what="no_strip", mark="A"),)),),
    )
    plan = replace(plan, cut_plan=cheap, buy=tuple(replace(line, price=None) for line in plan.buy))
    packet = build_packet(plan)
    assert "No plan cut in strips can cost less" in words(page_of(packet, "cover"))
    assert "Metal taken: 313.5 sq ft." in words(page_of(packet, "cover"))
    buying = page_of(packet, "buy")
    assert "Proven least: 313.5 sq ft." in words(buying)
    assert "To pay" not in [c.title for t in tables(buying) for c in t.columns]
    assert tables(buying)[1].rows[1] == (
        "one size per strip",
        "–",
        "has no strip for A with the stock on hand and this shear",
    )


def test_short_marks_the_missing_pieces() -> None:
    packet = build_packet(packet_sample.plan(short=True))
    table = tables(page_of(packet, "cut-list"))[0]
    at = [c.title for c in table.columns].index("Missing")
    assert [row[at] for row in table.rows] == ["12", "–", "–", ""]
    assert not any("Proven least: " in words(page) for page in packet.pages)


def test_millimetres() -> None:
    plan = packet_sample.plan(units="mm", round_to=500_000)
    packet = build_packet(plan)
    assert packet.units == "mm"
    say = Say.of(plan.job)
    assert say.units == "millimetres"
    assert say.run(1000.0) == "25.4 m"
    blank = page_of(packet, "piece")
    assert "356.5 × 356.5 mm" in words(blank)


def test_a_solder_caution_on_flat_seam_pages() -> None:
    plan = packet_sample.plan()
    done = replace(plan.patterns[0].finished, side=0.0, width=9.0, length=9.0)
    pan = replace(plan.patterns[0], kind="flat-seam", finished=done)
    page = page_of(build_packet(replace(plan, patterns=(pan, *plan.patterns[1:]))), "piece")
    assert "If soldered" in page.caution


def test_a_rhombic_blank_says_strip_and_side() -> None:
    a = packet_sample.diamond()
    lattice = SimpleNamespace()
    outline = ((0.0, 10.0), (0.0, 0.0), (10.0, 4.0), (10.0, 14.0))
    leaning = replace(a, lattice=lattice, outline=outline, rounding=-0.01)  # type: ignore[arg-type]
    plan = packet_sample.plan()
    page = page_of(build_packet(replace(plan, patterns=(leaning, *plan.patterns[1:]), schedules=())), "piece")
    assert "a slanted blank, 14 1⁄32 in across" in words(page)
    assert "corners of 68.2° and 111.8°" in words(page)  # atan(10 / 4) by hand


def test_keys_and_sums_refuse_what_is_not_there() -> None:
    plan = packet_sample.plan()
    with pytest.raises(KeyError):
        piece_key(plan, "piece", "nobody")
    with pytest.raises(ValueError, match="no cut plan"):
        where_it_goes(replace(plan, cut_plan=None))
    with pytest.raises(ValueError, match="share a key"):
        page = Page(key="a", kind="cover", title="t", blocks=())
        Packet(number="", name="", revision="", date="", paper="a4", pages=(page, page))
    with pytest.raises(ValueError, match="1 cells for 0 columns"):
        Table(name="t", columns=(), rows=(("x",),))


@pytest.mark.parametrize(
    ("field", "value", "key"),
    [
        ("pieces", (SimpleNamespace(mark="A", note="屋"),), 'piece "A" > note'),
        ("stock", (SimpleNamespace(name="屋"),), 'stock "屋" > name'),
        ("hem_tools", (SimpleNamespace(name="屋"),), 'hem_tool "屋" > name'),
        ("slopes", (SimpleNamespace(name="屋"),), 'slope "屋" > name'),
    ],
)
def test_the_key_of_a_bad_character_is_named(field: str, value: object, key: str) -> None:
    job = packet_sample.job().model_copy(update={field: value})
    with pytest.raises(JobError) as caught:
        check_job(job)
    assert caught.value.key == key


def test_a_pdf_that_cannot_be_updated_is_a_bug() -> None:
    with pytest.raises(RuntimeError, match="no plain trailer"):
        at_full_size(b"%PDF-1.7\ntrailer\nnothing\n")
    with pytest.raises(RuntimeError, match="no viewer preferences"):
        at_full_size(b"x\n1 0 obj\n<</Type/Catalog>>\nendobj\ntrailer\n<</Root 1 0 R>>\nstartxref\n9\n%%EOF")


def test_a_font_the_setter_does_not_find_is_told(monkeypatch: pytest.MonkeyPatch, tmp_path: Any) -> None:
    monkeypatch.setattr(setting, "font_folder", lambda: tmp_path)
    packet = Packet(
        number="1",
        name="n",
        revision="",
        date="",
        paper="letter",
        pages=(Page(key="a", kind="cover", title="t", blocks=(Para(text="x"),)),),
    )
    with pytest.raises(FabplanError, match="cannot be printed"):
        typeset(packet)


def test_the_parts_of_the_brake_are_named_once_for_all_sheets(plan: Plan) -> None:
    packet = build_packet(plan)
    named = [p.kind for p in packet.pages if any(isinstance(b, Beside) and "Nose bar" in b.says[1] for b in p.blocks)]
    assert named == ["reading"]


@pytest.mark.parametrize(
    ("stations", "kinds"),
    [
        (("shear",), {"cautions", "reading", "shear"}),
        (("bench",), {"cautions", "reading", "setup", "piece"}),
        (("office",), {"cover", "cautions", "reading", "buy", "cut-list"}),
    ],
)
def test_a_stations_stack_stands_alone(plan: Plan, stations: tuple[Station, ...], kinds: set[str]) -> None:
    packet = build_packet(plan, stations=stations)
    assert {p.kind for p in packet.pages} == kinds
    assert len(sheets(typeset(packet))) >= len(sheets_of(packet.pages))


def test_every_sheet_belongs_to_one_station(plan: Plan) -> None:
    whole = build_packet(plan)
    own = [p.key for p in whole.pages if p.kind not in ("cautions", "reading")]
    told = [
        p.key
        for station in STATIONS
        for p in build_packet(plan, stations=(station,)).pages
        if p.kind not in ("cautions", "reading")
    ]
    assert sorted(told) == sorted(own)
