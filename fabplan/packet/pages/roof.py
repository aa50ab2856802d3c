"""On the roof: course lines and counts of each slope, cut shapes, kits, edges and fasteners."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from itertools import chain, zip_longest

from fabplan.packet.model import Block, Column, Heading, Page, Paper, Para, Picture, Split, Table
from fabplan.packet.pages.cautions import ON_ROOF
from fabplan.packet.pages.pictures import roof_sheets
from fabplan.packet.pages.roof_slopes import slope_pages
from fabplan.packet.setting.page_estimate import body, filled_height, fixed_widths, points
from fabplan.plan.model import Plan
from fabplan.plotter.model import Drawing
from fabplan.plotter.roof.elevation import RoofPage
from fabplan.speech.format import Say, listed, paper
from fabplan.speech.roof_tables import SNIP_NOTE, RoofTable

_WIDE = 26  # letters from which a column takes a share of the free width
_SHORT = 90
HEADED = 0.35
NOT_COUNTED = "On no kit, because the roof does not count them, spare included"
LEAST_BROKEN = 52.0  # points of a column whose title is broken
MOST_FILLED = 0.92  # of a sheet, of the counts with the kits and edges
NARROW = 690.0  # points, on either paper
LEFT = 92.0  # mm of a column
KEY = re.compile(r" = |[a-z]_[a-z]")
COMPARED = "Cut pieces on the roof:"  # against cutting them at the bench
VARIATION = "Hand-made variation"
LONG, MOST_SETS, FEW = 24, 3, 8  # rows of a narrow table that is set in columns; of one that is kept whole


def roof_pages(plan: Plan, say: Say, papers: Paper = "letter") -> list[Page]:
    """The roof's sheets in the order they are used: the whole roof, its slopes, cut shapes, and the rest on one."""
    sheets = roof_sheets(plan)
    if not sheets:
        return []
    first, rest = sheets[0], sheets[1:]
    pages = [_sheet(first, "roof-1"), *slope_pages(plan, say, papers)]
    drawn = [sheet for sheet in rest if sheet.drawings]
    pages += [_sheet(sheet, f"roof-{n}") for n, sheet in enumerate(drawn, 2)]
    tables = {
        table.title: _table(table) for sheet in rest if not sheet.drawings for table in sheet.tables if table.rows
    }
    blocks: list[Block] = []
    for title, found in tables.items():
        if title.startswith(VARIATION):  # an office page tells it
            continue
        blocks += [Heading(text=title), *found]
        if title == "Kits":
            blocks += not_in_kits(plan)
    if not blocks:
        return pages
    counts = _counts(first, len(pages) - 1)
    wide, high = body(papers, landscape=False, banner=False)
    narrow = all(_fits(b, points(wide)) for b in counts if isinstance(b, Table))
    if counts and narrow and filled_height([*counts, *blocks], wide) < MOST_FILLED * high:
        together = _page(pages[0].key, "Roof: pieces, kits, edges, underlayment and fasteners", [*counts, *blocks])
        return [replace(together, landscape=False), *pages[1:]]
    rest_page = _page("roof-rest", "Kits, edges, underlayment and fasteners", blocks)
    return [*pages, replace(rest_page, landscape=False)]


def not_in_kits(plan: Plan) -> list[Para]:
    """Pieces the roof does not count, typed in the job file: they are on no kit."""
    counted = {mark for mark, _ in plan.roof.counts} if plan.roof else set()
    others = [f"{p.mark} ({p.count:,})" for p in plan.patterns if p.mark not in counted]
    return [Para(text=f"{NOT_COUNTED}: {listed(others)}.", size=9)] if others else []


def _fits(table: Table, room: float) -> bool:
    """Whether every word of a table's broken titles has room for itself, in so many points."""
    broken = sum(bool(column.share) for column in table.columns)
    free = room - sum(fixed_widths(table))
    return free >= LEAST_BROKEN * broken


def _counts(sheet: RoofPage, slopes: int) -> list[Block]:
    """Tables and notes of a roof whose slopes stand on one sheet: a key would say nothing, they join the kits."""
    if slopes != 1:
        return []
    blocks: list[Block] = []
    for table in sheet.tables:
        if table.rows:
            blocks += [Heading(text=table.title), *_table(table)]
    return [*blocks, *(Para(text=paper(note), size=9) for note in sheet.notes if not names_key(note))]


def office_blocks(plan: Plan) -> list[Block]:
    """What the office knows of the roof: how often to snap a line and why, and notes that name keys of the job file."""
    blocks: list[Block] = []
    for sheet in roof_sheets(plan):
        for table in sheet.tables:
            if table.title.startswith(VARIATION) and table.rows:
                blocks += [Heading(text=table.title), *_table(table)]
        blocks += [Para(text=paper(note), size=9) for note in sheet.notes if names_key(note)]
    return blocks


def names_key(note: str) -> bool:
    """Whether a note tells what to write in the job file, which is nothing to the crew."""
    return bool(KEY.search(note)) or note.startswith(COMPARED)


def _page(key: str, title: str, blocks: Sequence[Block]) -> Page:
    return Page(key=key, kind="roof", title=title, blocks=tuple(blocks), landscape=True, caution=ON_ROOF)


def _sheet(sheet: RoofPage, key: str) -> Page:
    """Drawings, tables and notes of the whole roof; a lone drawing leaves room for what is under it."""
    alone = len(sheet.drawings) == 1
    blocks: list[Block] = [_picture(d) for d in sheet.drawings]
    tables = [table for table in sheet.tables if table.rows]
    notes: list[Block] = [Para(text=paper(note), size=9) for note in sheet.notes if not names_key(note)]
    parts = [[*([Heading(text=t.title)] if len(tables) > 1 or t.headed else []), *_table(t)] for t in tables]
    if alone and len(parts) == 2:  # the whole roof: its counts, then blanks beside the notes
        blocks += parts[0]
        blocks.append(Split(left=tuple(parts[1]), right=tuple(notes), left_mm=LEFT))
    else:
        blocks += [block for part in parts for block in part]
        blocks += notes
    return _page(key, sheet.title, blocks)


def _picture(drawing: Drawing) -> Picture:
    return Picture(drawing=drawing, alt=f"{drawing.title}.", least_px=700)


def _in_sets(table: Table, sets: int) -> Table:
    """A long narrow table set in columns side by side, read down each."""
    high = -(-len(table.rows) // sets)
    nothing = ("",) * len(table.columns)
    parts = [table.rows[n * high : (n + 1) * high] for n in range(sets)]
    rows = zip_longest(*parts, fillvalue=nothing)
    columns = table.columns * sets
    return Table(name=table.name, columns=columns, rows=tuple(tuple(chain(*row)) for row in rows), close=True)


def _table(table: RoofTable) -> list[Block]:
    """A roof table as a printed one: columns with nothing in them are left out, heights to snap are set large."""
    used = [x for x in range(len(table.columns)) if any(row[x] for row in table.rows)]
    columns = [_column(table, x, first=x == used[0]) for x in used]
    rows: Sequence[tuple[str, ...]] = [tuple(paper(row[x]) for x in used) for row in table.rows]
    total = len(rows) > 1 and table.rows[-1][0] == "all"
    if table.ticked:
        columns.append(Column(title="Done", align="centre", tick=True))
        rows = [(*row, "") for row in rows]
    few = len(rows) <= FEW
    printed = Table(name=table.title, columns=tuple(columns), rows=tuple(rows), total=total, whole=few, close=True)
    sets = 1 if total or any(c.share for c in columns) else int(NARROW // sum(fixed_widths(printed)))
    if len(rows) > LONG and sets > 1:
        printed = _in_sets(printed, min(sets, MOST_SETS))
    snipped: list[Block] = [Para(text=SNIP_NOTE, size=9)] if _unsaid_snips(table) else []
    if not table.note:
        return [printed, *snipped]
    note = Para(text=paper(table.note), size=9)
    # A short note goes first, so that a full page does not push it alone onto the next.
    return [note, printed, *snipped] if len(table.note) < _SHORT else [printed, note, *snipped]


def _unsaid_snips(table: RoofTable) -> bool:
    """Whether the table counts snips and its note does not say what they are."""
    return table.snips is not None and any(row[table.snips] for row in table.rows)


def _column(table: RoofTable, x: int, *, first: bool) -> Column:
    title = table.columns[x]
    marked = x in table.lines
    longest = max(len(row[x]) for row in table.rows)
    headed = " " in title and x > 0 and not marked and longest < 0.75 * len(title)  # its title is broken
    return Column(
        title=title,
        align="right" if x in table.right else "left",
        size=14.0 if marked else 9.0,
        strong=marked or first,
        share=HEADED if headed else min(longest, 100) / 30 if longest >= _WIDE or x == table.shapes else 0.0,
    )
