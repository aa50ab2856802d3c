"""How much paper words and tables take, as packet.typ sets them: so that a page is filled, not run over by a line.

Points throughout, unless a name says mm. The estimate is a little on the large side; the page tests hold it to that.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from fabplan.packet.model import (
    Band,
    Beside,
    Block,
    Cards,
    Column,
    Facts,
    Heading,
    Notice,
    Paper,
    Para,
    Picture,
    Shot,
    Shots,
    Split,
    Table,
    TallyBoxes,
)
from fabplan.plotter.board.measure import CAP, MM_PER_POINT, SMALL, ems
from fabplan.speech.format import FRACTION_SLASH

# As packet.typ sets them.
HEAD_SIZE, HEAD_CLOSE, CELL_SIDE, CELL_ABOVE, CELL_CLOSE, LEADING = 10.0, 9.0, 5.0, 4.5, 2.5, 0.55
BOX_SIZE, BOX_CLOSE = 12.0, 10.0
BLOCK_GAP, LINE_GAP = 13.2, 7.7
# Paper in mm, portrait, and its margins with and without a caution at the foot.
PAPER_SIZE: dict[Paper, tuple[float, float]] = {"letter": (215.9, 279.4), "a4": (210.0, 297.0)}
SIDES, ABOVE, BELOW, BELOW_BARE, BANNER = 25.4, 14.0, 19.9, 15.3, 6.4
TITLE = 21.5
COLUMN_GAP = 5.0  # mm between the columns of a Split
SHOT_GAP = 3.0, 1.5  # mm between small pictures, across and down


# A fraction stays with its whole number.
_FRACTIONS = re.compile(rf"\d+{FRACTION_SLASH}\d+")
DIGITS = 8.0  # points
_BREAKS = re.compile(rf" (?!\d+{FRACTION_SLASH})|(?<!\d) ")


def body(paper: Paper, *, landscape: bool, banner: bool, caution: bool = True) -> tuple[float, float]:
    """Width and height (mm) of the room on a page, its title included."""
    wide, high = PAPER_SIZE[paper][::-1] if landscape else PAPER_SIZE[paper]
    below = BELOW if caution else BELOW_BARE
    return wide - SIDES, high - ABOVE - below - (BANNER if banner else 0.0)


def _wide(text: str, size: float, bold: bool) -> float:
    """Width of a text; the digits of a fraction are no smaller than 8 points, or than the text."""
    wide = ems(text, bold) * size
    more = min(DIGITS, size) - SMALL * size
    return wide + sum(len(m.group()) for m in _FRACTIONS.finditer(text)) * 0.65 * more if more > 0 else wide


def lines(text: str, size: float, bold: bool, room: float, at: float = 0.0) -> int:
    """Lines a text takes in a width, broken between words; its first line starts `at` so much."""
    count, space = 1, ems(" ", bold) * size
    for word in _BREAKS.split(text):
        wide = _wide(word, size, bold)
        if at and at + wide > room:
            count, at = count + 1, 0.0
        while wide > room > 0:
            count, wide = count + 1, wide - room
        at += wide + space
    return count


def text_height(text: str, size: float, room: float, *, bold: bool = False) -> float:
    """Height of a paragraph."""
    count = lines(text, size, bold, room)
    return CAP * size * count + LEADING * 11.0 * (count - 1)


def natural_width(column: Column, cells: Sequence[str]) -> float:
    """Width of a column in which nothing is broken, its inset included."""
    words = ["000"] if column.page else cells
    wide = max((_wide(word, column.size, column.strong) for word in words), default=0.0)
    return max(wide, ems(column.title, True) * HEAD_SIZE, BOX_SIZE if column.tick else 0.0) + 2 * CELL_SIDE + 0.5


def fixed_widths(table: Table) -> list[float]:
    """Natural width of every column without a share of the free width, 0 for the others."""
    out = []
    for x, column in enumerate(table.columns):
        bold = column.strong or table.total
        cells = [row[x] for row in table.rows]
        out.append(0.0 if column.share else natural_width(replace(column, strong=bold), cells))
    return out


def table_height(table: Table, room: float) -> float:
    """Height of a table set in one piece in a width."""
    fixed = fixed_widths(table)
    shares = sum(column.share for column in table.columns) or 1.0
    free = max(0.0, room - sum(fixed))
    wides = [w or free * c.share / shares for w, c in zip(fixed, table.columns, strict=True)]
    size, box = (HEAD_CLOSE, BOX_CLOSE) if table.close else (HEAD_SIZE, BOX_SIZE)
    heads = [lines(c.title, size, True, w - 2 * CELL_SIDE) for c, w in zip(table.columns, wides, strict=True)]
    above = CELL_CLOSE if table.close else CELL_ABOVE
    boxed = any(column.tick for column in table.columns)
    total = _cell(size, max(heads, default=1), above)
    for row in table.rows:
        high = box + 2 * above if boxed else 0.0
        for cell, column, wide in zip(row, table.columns, wides, strict=True):
            count = lines(cell, column.size, column.strong, wide - 2 * CELL_SIDE) if column.share else 1
            high = max(high, _cell(column.size, count, above))
        total += high
    return total


def stack_height(blocks: Sequence[Block], room: float) -> float:
    """Height of words and tables one under another in a width, a table's header once; pictures do not count."""
    total = 0.0
    for block in blocks:
        match block:
            case Table():
                total += BLOCK_GAP + table_height(block, room)
            case Para():
                total += LINE_GAP + text_height(block.text, block.size, room, bold=block.strong)
            case Notice():
                lines_ = sum(text_height(item, block.size, room - 20.0) + 0.75 * block.size for item in block.items)
                total += BLOCK_GAP + 20.0 + lines_
            case TallyBoxes():
                each = 13.0 + 6.0 / 10
                free = max(1, int((room - ems(block.name, True) * 9.0 - 8.0) / (each - 0.9)))
                total += LINE_GAP + 13.0 * -(-block.count // free)
            case Heading():
                total += 15.0 + text_height(block.text, 12.0, room, bold=True)
            case Facts():
                names = max(ems(name, True) for name, _ in block.rows) * 11.0 + 10.0
                total += BLOCK_GAP + sum(6.0 + text_height(says, 11.0, room - names) for _, says in block.rows)
            case _:
                pass
    return total


def shots_height(block: Shots) -> float:
    """Height in mm of small pictures in their rows."""
    rows = [max(shot_height(shot, width) for width, shot in row) for row in block.in_rows()]
    return sum(rows) + SHOT_GAP[1] * (len(rows) - 1)


def shot_height(shot: Shot, width: float) -> float:
    """Height in mm of a small picture under its words, in a width in mm."""
    room = points(width)
    title = ems(shot.title, True) * 10.0 + 4.0 + (11.0 if shot.tick else 0.0)
    if title > 0.6 * room:  # numbers that take most of a line, or more of them
        count = lines(shot.title, 10.0, True, room - (11.0 if shot.tick else 0.0)) + lines(shot.says, 9.0, False, room)
    else:
        count = lines(shot.says, 9.0, False, room, title)
    sets = lines(shot.sets, 14.0, True, room)
    words = 2.5 + 8.0 + 10.7 * (count - 1) + 3.0 + CAP * 14.0 * sets + 3.7 * (sets - 1) + 3.0
    return mm(words) + shot.picture.drawing.height + 1.0


def filled_height(blocks: Sequence[Block], width: float) -> float:
    """Height in mm of blocks in a width in mm, pictures and columns included; of kinds not known, nothing."""
    total = 0.0
    for block in blocks:
        match block:
            case Picture():
                drawing = block.drawing
                shrunk = min(1.0, width / drawing.width, (block.width or drawing.width) / drawing.width)
                total += mm(BLOCK_GAP) + drawing.height * shrunk
            case Beside():
                total += mm(BLOCK_GAP) + block.picture.drawing.height
            case Shots():
                total += mm(BLOCK_GAP) + shots_height(block)
            case Cards():
                high = [_card_height(band, block.columns, width) for band in block.bands]
                each = [max(high[n : n + block.columns]) for n in range(0, len(high), block.columns)]
                total += mm(BLOCK_GAP) + sum(each) + 1.0 * len(each)
            case Split():
                right = width - block.left_mm - COLUMN_GAP
                total += mm(BLOCK_GAP)
                total += max(filled_height(block.left, block.left_mm), filled_height(block.right, right))
            case _:
                total += mm(stack_height((block,), points(width)))
    return total


def _card_height(band: Band, columns: int, width: float) -> float:
    """Height in mm of a stroke's card, about."""
    pictures = max(picture.drawing.height for picture in band.pictures)
    each = points((width - COLUMN_GAP * (columns - 1)) / columns)
    said = " ".join((*band.says, *(f"{name} {value}" for name, value in band.settings)))
    words = lines(said, 10.0, False, each) * 12.0 + lines(band.check_says, 9.0, False, each - 40.0) * 11.0 + 14.0
    head = 24.0 + (11.0 * lines(band.first, 9.0, True, each) if band.first else 0.0)
    return mm(head) + pictures + (mm(words) if columns > 1 else 4.0)


def _cell(size: float, count: int, above: float) -> float:
    return CAP * size * count * 1.02 + LEADING * 11.0 * (count - 1) + 2 * above


def mm(points: float) -> float:
    """Points as millimetres."""
    return points * MM_PER_POINT


def points(mm_: float) -> float:
    """Millimetres as points."""
    return mm_ / MM_PER_POINT
