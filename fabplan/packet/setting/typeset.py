"""The packet as PDF: data as JSON into one template, the same bytes for the same packet every time."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from fabplan.errors import FabplanError
from fabplan.packet.model import (
    Band,
    Beside,
    Block,
    Cards,
    Facts,
    Heading,
    Notice,
    Packet,
    Page,
    Paper,
    Para,
    Picture,
    Shots,
    Split,
    Table,
    TallyBoxes,
    Tile,
)
from fabplan.packet.setting.fonts import check_texts, font_folder, runs
from fabplan.packet.setting.page_estimate import body, filled_height, fixed_widths, points
from fabplan.packet.setting.run_typst import press
from fabplan.packet.setting.svg_cache import Ink
from fabplan.plotter.board.measure import shorten
from fabplan.plotter.model import Text

PAPER = {"letter": "us-letter", "a4": "a4"}
_FOOT_LENGTH = 80
HEAD_ROOM = (135.0, 195.0)  # mm of a running head before "continued" and the station, upright and landscape
MOST_FIXED = 0.85  # of the room: columns wider together are left to the typesetter to fit
HANG_UP = "hang up"
MOST_WHOLE = 0.55  # of a sheet: higher parts that join a sheet may run over it
GUTTER = 14.2  # points between the columns of a Split


def words_of(packet: Packet) -> Iterator[str]:
    """Every string that will stand on a page, drawings included."""
    yield from (packet.number, packet.name, packet.revision, packet.date, packet.banner)
    for page in packet.pages:
        yield page.title
        yield page.caution
        for block in page.blocks:
            yield from _words(block)


def _words(block: Block) -> Iterator[str]:
    """Every text of a block, as it will stand on the page."""
    match block:
        case Heading() | Para():
            yield block.text
        case Facts():
            for name, says in block.rows:
                yield from (name, says)
        case Notice():
            yield block.title
            yield from block.items
        case Table():
            yield from (column.title for column in block.columns)
            for row in block.rows:
                yield from (cell for cell, column in zip(row, block.columns, strict=True) if not column.page)
        case Picture():
            yield block.alt
            yield from (mark.text for mark in block.drawing.marks if isinstance(mark, Text))
        case Band():
            yield from (
                block.number,
                block.first,
                block.title,
                block.side,
                *block.says,
                block.check_size,
                block.check_says,
            )
            for pair in block.settings:
                yield from pair
            yield from block.ticks.labels
            for picture in block.pictures:
                yield from _words(picture)
        case Shots():
            for shot in block.shots:
                yield from (shot.title, shot.sets, shot.says)
                yield from _words(shot.picture)
        case Beside():
            yield from block.says
            yield from _words(block.picture)
        case Cards():
            for band in block.bands:
                yield from _words(band)
        case Split():
            for inner in (*block.left, *block.right):
                yield from _words(inner)
        case TallyBoxes():
            yield block.name
        case Tile():
            yield from _words(block.picture)


def _picture(picture: Picture, ink: Ink) -> dict[str, Any]:
    drawing = picture.drawing
    wide, tall = drawing.width, drawing.height
    if picture.width and wide > picture.width:
        wide, tall = picture.width, tall * picture.width / wide
    return {"block": "picture", "svg": ink.svg(drawing), "width": wide, "height": tall, "alt": picture.alt}


def _band(block: Band, ink: Ink) -> dict[str, Any]:
    pictures = [_picture(picture, ink) for picture in block.pictures]
    return {
        "block": "band",
        "number": runs(block.number),
        "first": runs(block.first),
        "title": runs(block.title),
        "side": runs(block.side),
        "reversed": block.reversed_,
        "pictures": pictures,
        "left": pictures[0]["width"] + 2 + max((p["width"] for p in pictures[1:]), default=0),
        "says": [runs(line) for line in block.says],
        "settings": [[runs(name), runs(value)] for name, value in block.settings],
        "check_size": runs(block.check_size),
        "check_says": runs(block.check_says),
        "ticks": {"name": runs(block.ticks.name), "labels": [runs(label) for label in block.ticks.labels]},
    }


def _block(block: Block, ink: Ink, room: float) -> dict[str, Any]:
    """A block as packet.typ reads it, in so many points of width."""
    match block:
        case Heading():
            return {"block": "heading", "text": runs(block.text)}
        case Para():
            text = runs(block.text)
            return {"block": "para", "text": text, "size": block.size, "strong": block.strong, "keep": block.keep}
        case Facts():
            rows = [[runs(name), runs(says)] for name, says in block.rows]
            return {"block": "facts", "rows": rows, "strong": block.strong}
        case Notice():
            return {
                "block": "notice",
                "title": runs(block.title),
                "items": [runs(item) for item in block.items],
                "loud": block.loud,
                "size": block.size,
            }
        case Table():
            return {
                "block": "table",
                "columns": [
                    {
                        "title": runs(c.title),
                        "align": c.align,
                        "size": c.size,
                        "strong": c.strong,
                        "share": c.share,
                        "width": wide,
                        "tick": c.tick,
                        "page": c.page,
                    }
                    for c, wide in zip(block.columns, _widths(block, room), strict=True)
                ],
                "rows": [
                    [cell if c.page else runs(cell) for cell, c in zip(row, block.columns, strict=True)]
                    for row in block.rows
                ],
                "total": block.total,
                "whole": block.whole,
                "fresh": block.fresh,
                "close": block.close,
                "large": list(block.large),
            }
        case Picture():
            return _picture(block, ink)
        case Shots():
            return {
                "block": "shots",
                "rows": [
                    {
                        "widths": [width for width, _ in row],
                        "shots": [
                            {
                                "title": runs(shot.title),
                                "sets": runs(shot.sets),
                                "says": runs(shot.says),
                                "tick": shot.tick,
                                "picture": _picture(shot.picture, ink),
                            }
                            for _, shot in row
                        ],
                    }
                    for row in block.in_rows()
                ],
            }
        case Band():
            return _band(block, ink)
        case Cards():
            return {"block": "cards", "columns": block.columns, "bands": [_band(band, ink) for band in block.bands]}
        case Split():
            return {
                "block": "split",
                "left_mm": block.left_mm,
                "left": [_block(inner, ink, points(block.left_mm)) for inner in block.left],
                "right": [_block(inner, ink, room - points(block.left_mm) - GUTTER) for inner in block.right],
            }
        case Beside():
            return {
                "block": "beside",
                "picture": _picture(block.picture, ink),
                "says": [runs(line) for line in block.says],
            }
        case TallyBoxes():
            return {"block": "tally", "name": runs(block.name), "count": block.count}
        case Tile():
            return {**_picture(block.picture, ink), "block": "tile"}


def _widths(table: Table, room: float) -> list[float]:
    """Points of every column with no share of the free width, else 0.

    Said here because measuring every cell is what the typesetter would spend most of its time on.
    """
    fixed = fixed_widths(table)
    return [round(w, 2) for w in fixed] if sum(fixed) < MOST_FIXED * room else [0.0 for _ in fixed]


def _page(page: Page, paper: Paper, ink: Ink) -> dict[str, Any]:
    wide, high = body(paper, landscape=page.landscape, banner=False)
    room = points(wide)
    return {
        "whole": filled_height(page.blocks, wide) < MOST_WHOLE * high,
        "key": page.key,
        "kind": page.kind,
        "title": runs(page.title),
        "head": runs(shorten(page.title, HEAD_ROOM[page.landscape], 11.0, True)),
        "caution": runs(page.caution),
        "stack": stack_of(page),
        "landscape": page.landscape,
        "blocks": [_block(block, ink, room) for block in page.blocks],
    }


def stack_of(page: Page) -> str:
    """The stack of sheets a page is handed over in: its station's, or those to hang up."""
    return HANG_UP if page.kind in ("cautions", "reading") else "templates" if page.kind == "template" else page.station


def _opened(sheets: list[list[dict[str, Any]]]) -> list[list[dict[str, Any]]]:
    """Marks the first page of every stack: a bookmark of the PDF stands there."""
    seen: set[str] = set()
    for run in sheets:
        for page in run:
            page["opens"] = page["stack"] not in seen
            seen.add(page["stack"])
    return sheets


def sheets_of(pages: Iterable[Page]) -> list[list[Page]]:
    """Pages in runs: those that join stand in the run of the page before them."""
    out: list[list[Page]] = []
    for page in pages:
        last = out[-1][-1] if out else None
        if last and page.joins and (page.station, page.landscape) == (last.station, last.landscape):
            out[-1].append(page)
        else:
            out.append([page])
    return out


def _foot(packet: Packet) -> str:
    parts = [f"rev {packet.revision}" if packet.revision else "", packet.date, packet.name]
    line = "   ".join(part for part in parts if part)
    return line if len(line) <= _FOOT_LENGTH else line[: _FOOT_LENGTH - 1] + "…"


def typeset(packet: Packet, *, file: str = "") -> bytes:
    """Set a packet as a tagged PDF (PDF/UA-1), byte for byte the same for the same packet.

    Parameters
    ----------
    packet : Packet
    file : str
        Job file, named in errors about its text.

    Raises
    ------
    JobError
        Text with a character the font has no shape for.
    FabplanError
        The font is missing.
    """
    return finished(*press(*copy(packet, file=file)))


def copy(packet: Packet, *, file: str = "", ink: Ink | None = None) -> tuple[str, str]:
    """What the typesetter is handed: the packet's data as JSON, and the font's folder; raises what `typeset` does.

    `ink` holds drawings painted already.
    """
    check_texts(words_of(packet), file=file)
    ink = ink or Ink()
    data = {
        "title": f"{packet.number} {packet.name}".strip(),
        "title_size": 18,
        "paper": PAPER[packet.paper],
        "number": runs(packet.number),
        "foot": runs(_foot(packet)),
        "banner": runs(packet.banner),
        "after": packet.after,
        "sheets": _opened([[_page(page, packet.paper, ink) for page in some] for some in sheets_of(packet.pages)]),
    }
    return json.dumps(data, ensure_ascii=False), str(font_folder())


def finished(pdf: bytes, warnings: Sequence[str]) -> bytes:
    """The PDF as it is written; refused when a letter was set in no font."""
    fonts = [w for w in warnings if "font" in w]
    if fonts:
        raise FabplanError(f"The packet cannot be printed: {fonts[0]} (looked in {font_folder()}).")
    return at_full_size(pdf)


def at_full_size(pdf: bytes) -> bytes:
    """Ask the print dialog for no scaling: an appended update of the catalog, as PDF allows (ISO 32000-1, 7.5.6).

    `/PrintScaling /None` is the viewer preference of ISO 32000-1, 12.2.
    """
    trailer = pdf[pdf.rindex(b"trailer") :]
    root = re.search(rb"/Root (\d+) 0 R", trailer)
    before = re.search(rb"startxref\s+(\d+)", trailer)
    head = re.search(rb"trailer\s*<<(.*)>>\s*startxref", trailer, re.S)
    if not (root and before and head):
        raise RuntimeError("the PDF has no plain trailer to update")
    number = int(root.group(1))
    start = pdf.index(b"\n%d 0 obj" % number) + 1
    catalog = pdf[start : pdf.index(b"endobj", start)]
    if b"/ViewerPreferences<<" not in catalog:
        raise RuntimeError("the PDF's catalog has no viewer preferences to add to")
    body = catalog.replace(b"/ViewerPreferences<<", b"/ViewerPreferences<</PrintScaling/None", 1) + b"endobj\n"
    at = len(pdf) + 1
    xref_at = at + len(body)
    return b"".join(
        (
            pdf,
            b"\n",
            body,
            b"xref\n%d 1\n%010d 00000 n \n" % (number, at),
            b"trailer\n<<" + head.group(1) + b"/Prev " + before.group(1) + b">>\n",
            b"startxref\n%d\n%%%%EOF\n" % xref_at,
        )
    )
