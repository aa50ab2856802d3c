"""The printed numbers are read back and held against the plan; a wrong one is caught."""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction

import packet_sample
import pytest

from fabplan.errors import ProofError
from fabplan.packet.check import check_packet, read_length, read_numbers, read_size
from fabplan.packet.model import Band, Block, Cards, Packet, Page, Para, Split, Table, flat
from fabplan.packet.output import write
from fabplan.packet.pages.build import build_packet
from fabplan.plan.model import Plan


@pytest.mark.parametrize(
    ("text", "unit", "nanometres"),
    [
        ("14 1⁄32", "in", Fraction(449, 32) * 25_400_000),
        ("3⁄4", "in", Fraction(3, 4) * 25_400_000),
        ("48", "in", 48 * 25_400_000),
        ("356.5", "mm", 356_500_000),
    ],
)
def test_lengths_are_read_back(text: str, unit: str, nanometres: Fraction) -> None:
    assert read_length(text, unit) == nanometres


def test_sizes_and_ranges_are_read_back() -> None:
    assert read_size("14 1⁄2 × 96 in", "in") == (368_300_000, 2_438_400_000)
    assert read_numbers("1, 4–7, 9") == [1, 4, 5, 6, 7, 9]


@pytest.mark.parametrize("short", [False, True])
def test_a_right_packet_has_no_faults(short: bool) -> None:
    plan = packet_sample.plan(short=short)
    assert check_packet(build_packet(plan), plan) == []


def test_millimetres_have_no_faults() -> None:
    plan = packet_sample.plan(units="mm", round_to=500_000)
    patterns = tuple(replace(p, grid=500_000) for p in plan.patterns)
    plan = replace(plan, patterns=patterns, cut_plan=replace(plan.cut_plan, grid=500_000))  # type: ignore[type-var]
    assert check_packet(build_packet(plan), plan) == []


def with_page(packet: Packet, page: Page, new: Page) -> Packet:
    return replace(packet, pages=tuple(new if p is page else p for p in packet.pages))


CHECKED = {
    "cut-list": ("Mark", "Make", "Sheared size"),
    "shear": ("Cut", "Gauge"),
}


def spoilt(packet: Packet, rng: random.Random) -> tuple[Packet, str] | None:
    """The packet with one figure of one checked cell or band changed, and what was changed."""
    page = rng.choice([p for p in packet.pages if p.kind in (*CHECKED, "piece")])
    block = rng.choice([b for b in flat(page.blocks) if not isinstance(b, (Split, Cards))])
    if isinstance(block, Band):
        figures = [n for n, c in enumerate(block.check_size) if c.isdigit()]
        n = rng.choice(figures)
        other = rng.choice([d for d in "123456789" if d != block.check_size[n]])
        new: Block = replace(block, check_size=block.check_size[:n] + other + block.check_size[n + 1 :])
        size = block.check_size[:n] + other + block.check_size[n + 1 :]
        same = Fraction(_value(size)) == Fraction(_value(block.check_size))
        what = f"{page.title}: {block.check_size} -> {size}"
    elif isinstance(block, Table) and page.kind in CHECKED and block.columns[0].title == CHECKED[page.kind][0]:
        titles = [c.title for c in block.columns]
        column = titles.index(rng.choice(CHECKED[page.kind]))
        row = rng.randrange(len(block.rows) - block.total)
        cell = block.rows[row][column]
        figures = [n for n, c in enumerate(cell) if c.isdigit()]
        if not figures:
            return None
        n = rng.choice(figures)
        other = rng.choice([d for d in "123456789" if d != cell[n]])
        rows = [list(r) for r in block.rows]
        rows[row][column] = cell[:n] + other + cell[n + 1 :]
        new = replace(block, rows=tuple(tuple(r) for r in rows))
        same = False
        what = f"{page.title}, {titles[column]}: {cell} -> {rows[row][column]}"
    else:
        return None
    if same:
        return None
    return with_page(packet, page, replace(page, blocks=put(page.blocks, block, new))), what


def put(blocks: tuple[Block, ...], old: Block, new: Block) -> tuple[Block, ...]:
    """The blocks with one of them, maybe inside columns or cards, changed."""
    out: list[Block] = []
    for block in blocks:
        if block is old:
            out.append(new)
        elif isinstance(block, Split):
            out.append(replace(block, left=put(block.left, old, new), right=put(block.right, old, new)))
        elif isinstance(block, Cards):
            out.append(replace(block, bands=put(block.bands, old, new)))
        else:
            out.append(block)
    return tuple(out)


def _value(text: str) -> str:
    whole, _, part = text.rpartition(" ")
    if "⁄" not in part:
        return part
    over, under = part.split("⁄")
    return str(Fraction(int(whole or 0)) + Fraction(int(over), int(under)))


def test_a_wrong_figure_is_caught() -> None:
    plan = packet_sample.plan()
    packet = build_packet(plan)
    rng = random.Random(7)
    tried, missed = 0, []
    while tried < 300:
        made = spoilt(packet, rng)
        if made is None:
            continue
        tried += 1
        if not check_packet(made[0], plan):
            missed.append(made[1])
    assert missed == []


def test_wrong_sides_heads_and_batches_are_caught() -> None:
    plan = packet_sample.plan()
    packet = build_packet(plan)
    bend = next(p for p in packet.pages if p.kind == "piece")
    at = next(n for n, b in enumerate(bend.blocks) if isinstance(b, Cards))
    cards = bend.blocks[at]
    assert isinstance(cards, Cards)
    band = cards.bands[0]
    for wrong in (
        replace(band, side="BACK UP"),
        replace(band, reversed_=True),
        replace(band, number="9"),
        replace(band, check_size="x"),
        replace(band, ticks=replace(band.ticks, labels=band.ticks.labels[1:])),
    ):
        spoilt_cards = replace(cards, bands=(wrong, *cards.bands[1:]))
        blocks = (*bend.blocks[:at], spoilt_cards, *bend.blocks[at + 1 :])
        assert check_packet(with_page(packet, bend, replace(bend, blocks=blocks)), plan)
    shear = next(p for p in packet.pages if p.kind == "shear")
    head = shear.blocks[0]
    assert isinstance(head, Para)
    blocks = (replace(head, text=head.text.replace("23", "24")), *shear.blocks[1:])
    assert check_packet(with_page(packet, shear, replace(shear, blocks=blocks)), plan)
    for kind in ("shear", "piece", "cut-list"):
        page = next(p for p in packet.pages if p.kind == kind)
        assert check_packet(replace(packet, pages=tuple(p for p in packet.pages if p is not page)), plan)
        assert check_packet(with_page(packet, page, replace(page, blocks=())), plan)


def test_a_missing_short_banner_is_caught() -> None:
    plan = packet_sample.plan(short=True)
    assert check_packet(replace(build_packet(plan), banner=""), plan)


def test_a_packet_with_a_fault_is_never_written(monkeypatch: pytest.MonkeyPatch, plan: Plan) -> None:
    monkeypatch.setattr(write, "check_packet", lambda *_: ["cut list, A: 3 printed, 4 planned"])
    with pytest.raises(ProofError, match=r"packet did not pass its check.*3 printed"):
        write.packet_files(plan)


def test_sheets_stand_by_station_and_are_checked_in_the_jobs_order() -> None:
    """A strip for the brake that the job names before a piece of the bench."""
    plan = packet_sample.plan()
    plan = replace(plan, patterns=plan.patterns[::-1], schedules=plan.schedules[::-1])
    packet = build_packet(plan)
    assert [p.title.split(":")[0] for p in packet.pages if p.kind == "piece"] == ["A", "D"]
    assert not [fault for fault in check_packet(packet, plan) if "stroke" in fault or "step" in fault]
