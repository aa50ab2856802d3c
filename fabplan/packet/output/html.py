"""The packet as one HTML file for a tablet or phone: the same drawings, no network, boxes that remember.

Every string of the job is escaped; the only script is the packet's own, allowed by its hash.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache
from html import escape
from importlib.resources import files

from fabplan.packet.model import (
    Band,
    Beside,
    Block,
    Cards,
    Column,
    Facts,
    Heading,
    Notice,
    Packet,
    Page,
    Para,
    Picture,
    Shots,
    Split,
    Table,
    TallyBoxes,
    Ticks,
    Tile,
    flat,
)
from fabplan.packet.output.screen_now import WORK, contents, now_section
from fabplan.packet.setting.fonts import runs
from fabplan.packet.setting.small_svg import Looks, view_box

# Looks of cells that come by the thousand, in one short name each.
_TOGETHER = {"r w": "n", "c w": "m", "r w b l": "nl", "r w b xl": "nx", "c w b l": "ml", "r w l": "ns"}


@cache
def _resource(name: str) -> str:
    return (files("fabplan.packet.output") / name).read_text(encoding="utf-8")


def _hash(text: str) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")


def words(text: str) -> str:
    """`text` escaped, its fractions raised and lowered; read aloud and copied they stay ``14 1⁄2``."""
    out = []
    for run in runs(text):
        if isinstance(run, str):
            out.append(escape(run))
        elif len(run) == 1:
            out.append(f"<span class=f>{escape(run[0])}</span>")
        else:
            whole, over, under = run
            lead = f"{whole}\u202f" if whole else ""
            out.append(f"<span class=f>{lead}<i>{over}</i>\u2044<i>{under}</i></span>")
    return "".join(out)


def figure(picture: Picture, looks: Looks, least_px: int = 0) -> str:
    """A drawing inline: its own size in mm gives way to the screen's width, never below `least_px`."""
    drawing = picture.drawing
    style = f' class="least-{least_px}"' if least_px else ""
    return (
        f'<svg viewBox="{view_box(drawing)}" width="{drawing.width * 96 / 25.4:.0f}" '
        f'height="{drawing.height * 96 / 25.4:.0f}" role="img" aria-label="{escape(picture.alt)}"{style}>'
        f"{looks.paint(drawing)}</svg>"
    )


def _scroll(inner: str, label: str) -> str:
    """A region that scrolls sideways by finger or arrow keys."""
    return f'<div class="scroll" tabindex="0" role="region" aria-label="{escape(label)}">{inner}</div>'


class _Boxes:
    """Sets boxes and drawings. A box is known by its page's key and its place there (the script counts them)."""

    def __init__(self, looks: Looks) -> None:
        self.looks = looks

    def box(self, label: str, shown: bool) -> str:
        if shown:
            return f"<label><input type=checkbox><span>{words(label)}</span></label>"
        return f'<label><input type=checkbox aria-label="{escape(label)}"></label>'


def _classes(column: Column) -> str:
    names = {"left": [], "centre": ["c"], "right": ["r"]}[column.align]
    names.append("w" if not column.share else "f0" if column.share < 0.6 else "f1" if column.share <= 1 else "f2")
    if column.strong:
        names.append("b")
    if column.size >= 15:
        names.append("xl")
    elif column.size >= 12:
        names.append("l")
    joined = " ".join(names)
    joined = _TOGETHER.get(joined, joined)
    return f' class="{joined}"' if " " in joined else f" class={joined}"


# End tags that HTML lets be left out are left out: a packet has thousands of cells.
def _table(table: Table, boxes: _Boxes, titles: dict[str, str], above: str) -> Iterator[str]:
    hide = ' class="hide"' if table.name == above else ""
    yield f"<table><caption{hide}>{words(table.name)}</caption><thead><tr>"
    for column in table.columns:
        title = "Page" if column.page and not column.title else column.title
        yield f'<th scope="col"{_classes(Column(title="", align=column.align, share=1))}>{words(title)}'
    yield "</thead><tbody>"
    for n, row in enumerate(table.rows):
        last = table.total and n + 1 == len(table.rows)
        yield '<tr class="total">' if last else "<tr>"
        for x, (column, cell) in enumerate(zip(table.columns, row, strict=True)):
            if column.page:
                short = titles.get(cell, "").split(":")[0]
                link = f'<a href="#{cell}">{words(short)}</a>' if short else ""
                yield f"<td>{link}"
            elif column.tick and not cell and not last:
                yield f"<td{_classes(column)}>{boxes.box(f'{column.title}: {row[0]}', False)}"
            elif x == 0:
                yield f'<th scope="row"{_classes(column)}>{words(cell)}'
            else:
                yield f"<td{_classes(column)}>{words(cell)}"
    yield "</tbody></table>"


def _ticks(ticks: Ticks, boxes: _Boxes) -> str:
    if not ticks.labels:
        return ""
    inner = "".join(boxes.box(label, True) for label in ticks.labels)
    return f'<fieldset class="ticks"><legend>{words(ticks.name)}</legend>{inner}</fieldset>'


def _facts(rows: tuple[tuple[str, str], ...]) -> str:
    return "<dl>" + "".join(f"<dt>{words(name)}</dt><dd>{words(says)}</dd>" for name, says in rows) + "</dl>"


def _band(band: Band, boxes: _Boxes) -> Iterator[str]:
    yield f'<article class="band"><div class="number" aria-hidden="true">{words(band.number)}</div><div>'
    side = "side black" if band.reversed_ else "side"
    if band.first:
        yield f'<p class="first">{words(band.first)}</p>'
    yield f'<p class="{side}">{words(band.side)}</p><div class="shots">'
    yield from (f"<figure>{figure(picture, boxes.looks)}</figure>" for picture in band.pictures)
    yield '</div></div><div class="words">'
    yield f'<h3><span class="hide">Step {words(band.number)}. </span>{words(band.title)}</h3>'
    yield from (f"<p>{words(line)}</p>" for line in band.says)
    yield _facts(band.settings)
    if band.check_size:
        yield f'<p class="check"><b>{words(band.check_size)}</b> '
        yield f"<span>{words(band.check_says)}</span></p>"
    yield _ticks(band.ticks, boxes)
    yield "</div></article>"


def _block(block: Block, boxes: _Boxes, titles: dict[str, str], above: str) -> Iterator[str]:
    """The lines of HTML of one block of a page."""
    match block:
        case Heading():
            yield f"<h3>{words(block.text)}</h3>"
        case Para():
            strong = ' class="b"' if block.strong else ""
            yield f"<p{strong}>{words(block.text)}</p>"
        case Facts():
            yield _facts(block.rows)
        case Notice():
            kind = "notice loud" if block.loud else "notice"
            yield f'<div class="{kind}" role="note"><h3>{words(block.title)}</h3>'
            if block.items:
                yield "<ul>" + "".join(f"<li>{words(item)}</li>" for item in block.items) + "</ul>"
            yield "</div>"
        case Table():
            yield _scroll("".join(_table(block, boxes, titles, above)), block.name)
        case Picture():
            inner = figure(block, boxes.looks, block.least_px)
            scrolls = block.least_px > 0
            yield f"<figure>{_scroll(inner, 'Drawing') if scrolls else inner}</figure>"
        case Shots():
            yield '<div class="shots cuts">'
            for shot in block.shots:
                box = boxes.box(f"Done: {shot.title}", False) if shot.tick else ""
                said = f"{box}<b>{words(shot.title)}</b> {words(shot.says)}<br><b class=xl>{words(shot.sets)}</b>"
                yield f"<figure>{figure(shot.picture, boxes.looks)}<figcaption>{said}</figcaption></figure>"
            yield "</div>"
        case Beside():
            yield from _block(block.picture, boxes, titles, above)
            yield from (f"<p>{words(line)}</p>" for line in block.says)
        case Band():
            yield from _band(block, boxes)
        case Cards():
            for band in block.bands:
                yield from _band(band, boxes)
        case Split():
            for part in (*block.left, *block.right):
                yield from _block(part, boxes, titles, above)
        case TallyBoxes():
            yield _ticks(Ticks(name=block.name, labels=tuple(f"{n:,}" for n in range(1, block.count + 1))), boxes)
        case Tile():
            pass


def _picture_first(blocks: tuple[Block, ...]) -> tuple[Block, ...]:
    """The first picture before the words and tables it stands among; what is under a heading stays there."""
    under = next((n for n, block in enumerate(blocks) if isinstance(block, Heading)), len(blocks))
    at = next((n for n, block in enumerate(blocks[:under]) if isinstance(block, (Picture, Beside))), 0)
    return (blocks[at], *blocks[:at], *blocks[at + 1 :]) if at else blocks


def _page(page: Page, titles: dict[str, str], looks: Looks) -> Iterator[str]:
    boxes = _Boxes(looks)
    work = " data-work" if page.kind in WORK else ""
    yield f'<section class="page" id="{page.key}" data-station="{page.station}"{work} '
    yield f'aria-labelledby="{page.key}-title">'
    yield f'<h2 id="{page.key}-title" tabindex="-1">{words(page.title)}</h2>'
    if page.caution:
        yield f'<p class="notice" role="note">{words(page.caution)}</p>'
    above = page.title
    for block in _picture_first(page.blocks):
        yield from _block(block, boxes, titles, above)
        above = block.text if isinstance(block, Heading) else ""
    yield '<p class="top"><a href="#now">What now</a> <a href="#contents">All sheets</a></p></section>'


def _least_widths(pages: Iterable[Page]) -> set[int]:
    shown = (block for page in pages for block in flat(page.blocks))
    return {block.least_px for block in shown if isinstance(block, Picture) and block.least_px}


@dataclass(frozen=True, slots=True, kw_only=True)
class ScreenPages:
    """The pages of a packet for a screen: their HTML, the style of their drawings, their titles by key.

    `now` is what is next at each station, `contents` the links to every page. `keep` is what their ticks are remembered
    under, `plan` a short word for the pages as they are.
    """

    now: str
    contents: str
    body: str
    style: str
    titles: tuple[tuple[str, str], ...]
    keep: str
    plan: str


def screen_style() -> str:
    """The style all pages on a screen share."""
    return _resource("screen.css")


def screen_script() -> str:
    """The script that remembers the ticks of pages on a screen."""
    return _resource("screen.js")


def screen_pages(packet: Packet) -> ScreenPages:
    """The pages of a packet that are shown on a screen, every string escaped."""
    looks = Looks()
    shown = [page for page in packet.pages if page.on_screen]
    titles = {page.key: page.title for page in shown}
    body = "".join(line for page in shown for line in (*_page(page, titles, looks), "\n"))
    style = looks.style() + "\n"
    style += "".join(f"svg.least-{px}{{min-width:{px}px}}\n" for px in sorted(_least_widths(shown)))
    return ScreenPages(
        now="".join(now_section(shown, words)),
        contents="".join(contents(shown, words)),
        body=body,
        style=style,
        titles=tuple(titles.items()),
        keep=f"fabplan ticks, job {packet.number}, revision {packet.revision}",
        plan=hashlib.sha256(body.encode("utf-8")).hexdigest()[:16],
    )


def html_file(packet: Packet) -> bytes:
    """The packet as one self-contained HTML file (UTF-8), the same bytes for the same packet."""
    pages = screen_pages(packet)
    style, script = screen_style() + pages.style, screen_script()
    # Nothing may be fetched, framed or sent; the page's own style and script are let in by their hashes.
    policy = (
        f"default-src 'none'; script-src '{_hash(script)}'; style-src '{_hash(style)}'; "
        "base-uri 'none'; form-action 'none'"
    )
    title = f"{packet.number} {packet.name}".strip()
    told = " · ".join(
        part
        for part in (
            f"Job {packet.number}",
            f"revision {packet.revision}" if packet.revision else "",
            packet.date,
        )
        if part
    )
    out = [
        f'<!DOCTYPE html>\n<html lang="en" data-keep="{escape(pages.keep)}" data-plan="{pages.plan}">',
        '<head><meta charset="utf-8">',
        f'<meta http-equiv="Content-Security-Policy" content="{escape(policy)}">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        '<meta name="referrer" content="no-referrer">',
        f"<title>{escape(title)}</title><style>{style}</style></head><body>",
        '<a class="skip" href="#main">Skip to the pages</a>',
        f'<p class="banner" role="alert">{words(packet.banner)}</p>' if packet.banner else "",
        f"<header><h1>{words(packet.name)}</h1><p>{words(told)}</p></header>",
        pages.now,
        pages.contents,
        '<main id="main">',
        pages.body,
        "</main><footer><p>Ticks stay on this device, for this job and revision. "
        "Full-scale templates are in templates.pdf only.</p>",
        '<button type="button" id="clear" hidden>Clear all ticks</button>',
        '<p id="kept" role="status" aria-live="polite"></p>',
        f"<p>{words(title)}</p></footer><script>{script}</script></body></html>\n",
    ]
    return "".join(out).encode("utf-8")
