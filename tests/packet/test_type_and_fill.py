"""Type no smaller than the bench can read, sheets that are filled, nothing over anything: read off the PDF."""

from __future__ import annotations

import re
from collections.abc import Iterable

import pytest
from page_reader import Sheet, clashes, off_page, sheets, text

from fabplan.packet.model import Band, Block, Packet, Para, Table, flat
from fabplan.packet.setting.page_estimate import body, points

# Points: figures in drawings, digits of a fraction there, everything else; sizes to set at the shear and the brake.
FIGURES, DIGITS, WORDS, SETTINGS = 8.0, 6.5, 9.0, 14.0
FILLED = 0.6
SHRUNK = 0.97  # a drawing may be a little smaller on the narrower paper


def smallest(sheet: Sheet) -> dict[str, float]:
    """Smallest size on a sheet, of digits and the bar of fractions, and of everything else."""
    upright = [g for g in sheet.glyphs if not g.slanted]
    tight = [g.size for g in upright if re.match(r"[\d⁄]", g.text)]
    return {
        "digits": min(tight, default=99.0),
        "words": min((g.size for g in upright if g.text.isalpha()), default=99.0),
    }


def filled(sheet: Sheet) -> float:
    """How far down the body of a sheet is used."""
    top, bottom = 40.0, sheet.height - 58.0
    return (max((g.y1 for g in sheet.glyphs if g.y0 > 34.0 and g.y1 < bottom), default=top) - top) / (bottom - top)


def short_fills(pdf: bytes) -> list[tuple[int, float]]:
    """Sheets filled too little that are not the last of their stack."""
    out = []
    for number, (sheet, said) in enumerate(zip(sheets(pdf), text(pdf), strict=True), 1):
        stack = re.search(r"[A-Z ]+ (\d+) of (\d+)", said)
        last = stack is not None and stack[1] == stack[2]
        if not last and filled(sheet) < FILLED:
            out.append((number, round(filled(sheet), 2)))
    return out


def test_nothing_is_set_smaller_than_can_be_read(pdf: bytes) -> None:
    for number, sheet in enumerate(sheets(pdf), 1):
        found = smallest(sheet)
        assert found["words"] >= FIGURES * SHRUNK, number
        assert found["digits"] >= DIGITS * SHRUNK, number
        assert off_page(sheet) == []
        assert clashes(sheet) == [], number


def blocks_of(packet: Packet) -> Iterable[Block]:
    return (block for page in packet.pages for block in flat(page.blocks))


def test_words_are_nine_points_and_settings_fourteen(packet: Packet) -> None:
    for block in blocks_of(packet):
        if isinstance(block, Para):
            assert block.size >= WORDS, block.text
        if isinstance(block, Table):
            assert all(column.size >= WORDS for column in block.columns), block.name
            large = [c for c in block.columns if c.title in ("Gauge", "From start", "From raw edge", "First", "Second")]
            assert all(column.size >= SETTINGS or block.large for column in large), block.name
    assert any(isinstance(b, Band) for b in blocks_of(packet))


def test_sheets_are_filled_but_the_last_of_a_stack(pdf: bytes) -> None:
    assert short_fills(pdf) == []


@pytest.mark.parametrize("landscape", [True, False])
def test_the_body_is_the_room_between_the_margins(landscape: bool) -> None:
    """Letter: half an inch at the sides."""
    wide, _ = body("letter", landscape=landscape, banner=False)
    assert points(wide) == pytest.approx((11.0 if landscape else 8.5) * 72 - 72, abs=0.5)
