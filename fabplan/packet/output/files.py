"""The packet folder as it stands: plan.json, cutlist.csv and the drawings, as bytes by file name."""

from __future__ import annotations

import csv
import io
import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from fabplan.packet.model import Band, Beside, Packet, Picture, Shots, Tile, flat
from fabplan.packet.setting.svg_cache import Ink
from fabplan.plan.file import plan_text
from fabplan.plotter.model import Drawing

# Device names that Windows keeps for itself, whatever the suffix.
_RESERVED = {"con", "prn", "aux", "nul", *(f"com{n}" for n in range(1, 10)), *(f"lpt{n}" for n in range(1, 10))}
_LONGEST = 60
CUT_LIST = ("mark", "kind", "metal", "count", "spare", "width", "length", "weight", "rounding", "grain", "parts")
# A sign that starts a formula, first in a cell wherever cells may be parted; a lone dash between words starts none.
_FORMULA = re.compile(r"""^(?=[=+\-@\t\r\n])|(?<=[;|:,\t])(?=["' ]*[=+\-@])|(?<=[ "'])(?=[=+\-@]\S)""")


def file_stem(text: str, fallback: str = "piece") -> str:
    """`text` as a file name any system takes: no separators, dots or signs, at most 60 characters.

    >>> file_stem("../A/1")
    'A-1'
    """
    flat = unicodedata.normalize("NFC", text)
    stem = re.sub(r"[^\w-]+", "-", flat).strip("-_")[:_LONGEST].rstrip("-_")
    if not stem or stem.lower() in _RESERVED:
        stem = f"{fallback}-{stem}".rstrip("-")
    return stem


def unlike(stems: Iterable[str]) -> list[str]:
    """The stems, with a number added where two would be one file (capitals do not count)."""
    out: list[str] = []
    seen: set[str] = set()
    for stem in stems:
        name, n = stem, 1
        while name.casefold() in seen:
            n += 1
            name = f"{stem}-{n}"
        seen.add(name.casefold())
        out.append(name)
    return out


def plan_file(data: Mapping[str, Any]) -> bytes:
    """plan.json: UTF-8, keys in the plan's order."""
    return (plan_text(data) + "\n").encode()


def plain_cell(value: object) -> str:
    """A cell no spreadsheet takes for a formula, whatever it takes to part cells.

    An apostrophe goes before a sign a formula starts with, at the start of the text and after anything that parts cells
    somewhere: ``;``, ``|``, ``:``, a tab or a space. (A comma stands between the cell's quotes.)

    >>> plain_cell("=1+1"), plain_cell("A;=1+1"), plain_cell("eave - left")
    ("'=1+1", "A;'=1+1", 'eave - left')
    """
    text = "" if value is None else str(value)
    return _FORMULA.sub("'", text) if isinstance(value, str) else text


def cutlist_file(data: Mapping[str, Any]) -> bytes:
    """cutlist.csv: the columns of the plan's blanks a shop sorts by; the rest stays in plan.json."""
    blanks: Sequence[Mapping[str, Any]] = data["blanks"]
    keys = [key for key in CUT_LIST if blanks and key in blanks[0]]
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(keys)
    for blank in blanks:
        writer.writerow([plain_cell(blank.get(key)) for key in keys])
    return out.getvalue().encode("utf-8")


def drawings_of(packet: Packet) -> Iterator[Drawing]:
    """Every drawing of a packet, in page order."""
    for page in packet.pages:
        for block in flat(page.blocks):
            match block:
                case Picture():
                    yield block.drawing
                case Shots():
                    yield from (shot.picture.drawing for shot in block.shots)
                case Tile() | Beside():
                    yield block.picture.drawing
                case Band():
                    yield from (picture.drawing for picture in block.pictures)


def drawing_files(drawings: Iterable[Drawing], ink: Ink | None = None) -> dict[str, bytes]:
    """Each drawing as an SVG file by name."""
    ink = ink or Ink()
    once = list({id(drawing): drawing for drawing in drawings}.values())
    names = unlike(file_stem(drawing.name, "drawing") for drawing in once)
    return {f"{name}.svg": ink.svg(drawing).encode("utf-8") for name, drawing in zip(names, once, strict=True)}


def sheets_in(path: Path) -> int:
    """Sheets of a packet's PDF; 0 where there is none to count."""
    try:
        found = re.search(rb"/Type\s*/Pages\s*/Count\s+(\d+)", path.read_bytes())
    except OSError:
        return 0
    return int(found[1]) if found else 0
