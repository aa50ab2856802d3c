"""What each kind of page says, kept as words and block kinds (not pixels).

After a wanted change delete ``golden.json`` and run the test twice: the first run writes the file anew and fails, so
that the change is looked at.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from fabplan.packet.model import (
    Band,
    Beside,
    Block,
    Cards,
    Facts,
    Heading,
    Notice,
    Packet,
    Para,
    Picture,
    Split,
    Table,
    TallyBoxes,
    Tile,
)

GOLDEN = Path(__file__).with_name("golden.json")


def said(block: Block) -> Any:
    """A block as plain data; drawings (the plotter tests them) by name and the words that stand for them."""
    match block:
        case Heading() | Para():
            return block.text
        case Facts():
            return [list(row) for row in block.rows]
        case Notice():
            return {"notice": block.title, "items": len(block.items)}
        case Table():
            return {"columns": [c.title for c in block.columns], "rows": [list(row) for row in block.rows]}
        case Picture():
            return {"drawing": block.drawing.name, "alt": block.alt}
        case Band():
            return {
                "step": [block.number, block.side, block.first, block.title, *block.says],
                "settings": [list(pair) for pair in block.settings],
                "check": [block.check_size, block.check_says],
                "ticks": list(block.ticks.labels),
                "drawings": [said(p) for p in block.pictures],
            }
        case Cards():
            return [said(band) for band in block.bands]
        case Split():
            return {"left": [said(b) for b in block.left], "right": [said(b) for b in block.right]}
        case Beside():
            return {"picture": said(block.picture), "says": list(block.says)}
        case TallyBoxes():
            return {"boxes": block.count, "name": block.name}
        case Tile():
            return said(block.picture)
        case _:
            raise AssertionError(block)


def test_first_page_of_every_kind_is_as_it_was(packet: Packet) -> None:
    first = {}
    for page in packet.pages:
        if page.kind != "cautions":
            first.setdefault(page.kind, page)
    now = {
        kind: {"title": page.title, "landscape": page.landscape, "blocks": [said(b) for b in page.blocks]}
        for kind, page in first.items()
    }
    text = json.dumps(now, ensure_ascii=False, indent=1) + "\n"
    if not GOLDEN.exists():
        GOLDEN.write_text(text, encoding="utf-8")
        raise AssertionError(f"{GOLDEN} was written anew: look it over and run again")
    assert json.loads(GOLDEN.read_text(encoding="utf-8")) == json.loads(text)
