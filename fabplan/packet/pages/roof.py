"""On the roof: course lines and counts of each slope, cut shapes, kits, edges and fasteners."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import chain, zip_longest

from fabplan.packet.model import Block, Column, Heading, Page, Para, Picture, Table
from fabplan.packet.pages.cautions import ON_ROOF
from fabplan.packet.pages.pictures import course_charts, roof_sheets
from fabplan.packet.setting.page_estimate import fixed_widths
from fabplan.plan.model import Plan
from fabplan.plotter.model import Drawing
from fabplan.speech.format import paper
from fabplan.speech.roof_tables import SNIP_NOTE, RoofTable

_WIDE = 26  # letters from which a column takes a share of the free width
_SHORT = 90
MOST_HEIGHT = 116.0  # mm of a picture, so that its notes stand under it
NARROW = 690.0  # points, on either paper
LONG, MOST_SETS, FEW = 24, 3, 8  # rows of a narrow table that is set in columns; of one that is kept whole


def roof_pages(plan: Plan) -> list[Page]:
    """The course sheets of a plan with slopes, in the order they are used; none without slopes."""
    pages = []
    for number, sheet in enumerate(roof_sheets(plan), 1):
        alone = len(sheet.drawings) == 1
        blocks: list[Block] = [_picture(d, MOST_HEIGHT if alone else 0.0) for d in sheet.drawings]
        notes: list[Block] = [Para(text=paper(note), size=9.5) for note in sheet.notes]
        tables = [table for table in sheet.tables if table.rows]
        under = alone and len(tables) == 1  # a table that has the next page to itself
        if under:
            snips = [Para(text=SNIP_NOTE, size=9.5)] if _unsaid_snips(tables[0]) else []
            blocks += [*notes, *snips]
        for table in tables:
            if len(tables) > 1 or table.headed:
                blocks.append(Heading(text=table.title))
            blocks += _table(table, fresh=under)
        if not under:
            blocks += notes
        if blocks:
            pages.append(
                Page(
                    key=f"roof-{number}",
                    kind="roof",
                    title=sheet.title,
                    blocks=tuple(blocks),
                    landscape=True,
                    caution=ON_ROOF,
                )
            )
    charts = course_charts(plan)
    if charts:
        blocks = []
        for d in charts:
            blocks += [Heading(text=d.title), Picture(drawing=d, alt=f"{d.title}, as in its table.", least_px=560)]
        title = "Pieces per course"
        pages.append(
            Page(key="roof-courses", kind="roof", title=title, blocks=tuple(blocks), landscape=True, caution=ON_ROOF)
        )
    return pages


def _picture(drawing: Drawing, most: float) -> Picture:
    """A drawing, no higher than `most` mm (0: as drawn)."""
    width = drawing.width * most / drawing.height if most and drawing.height > most else 0.0
    return Picture(drawing=drawing, alt=f"{drawing.title}.", width=width, least_px=700)


def _in_sets(table: Table, sets: int) -> Table:
    """A long narrow table set in columns side by side, read down each."""
    high = -(-len(table.rows) // sets)
    nothing = ("",) * len(table.columns)
    parts = [table.rows[n * high : (n + 1) * high] for n in range(sets)]
    rows = zip_longest(*parts, fillvalue=nothing)
    return Table(name=table.name, columns=table.columns * sets, rows=tuple(tuple(chain(*row)) for row in rows))


def _table(table: RoofTable, *, fresh: bool = False) -> list[Block]:
    """A roof table as a printed one: columns with nothing in them are left out, heights to snap are set large."""
    used = [x for x in range(len(table.columns)) if any(row[x] for row in table.rows)]
    columns = [_column(table, x, first=x == used[0]) for x in used]
    rows: Sequence[tuple[str, ...]] = [tuple(paper(row[x]) for x in used) for row in table.rows]
    total = len(rows) > 1 and table.rows[-1][0] == "all"
    if table.ticked:
        columns.append(Column(title="Done", align="centre", tick=True))
        rows = [(*row, "") for row in rows]
    few = len(rows) <= FEW
    printed = Table(name=table.title, columns=tuple(columns), rows=tuple(rows), total=total, whole=few)
    sets = 1 if total or any(c.share for c in columns) else int(NARROW // sum(fixed_widths(printed)))
    if len(rows) > LONG and sets > 1:
        printed = replace(_in_sets(printed, min(sets, MOST_SETS)), close=True)
    snipped: list[Block] = [Para(text=SNIP_NOTE, size=9.5)] if _unsaid_snips(table) and not fresh else []
    printed = replace(printed, fresh=fresh)
    if not table.note:
        return [printed, *snipped]
    note = Para(text=paper(table.note), size=9.5)
    # A short note goes first, so that a full page does not push it alone onto the next.
    return [note, printed, *snipped] if len(table.note) < _SHORT else [printed, note, *snipped]


def _unsaid_snips(table: RoofTable) -> bool:
    """Whether the table counts snips and its note does not say what they are."""
    return table.snips is not None and any(row[table.snips] for row in table.rows)


def _column(table: RoofTable, x: int, *, first: bool) -> Column:
    title = table.columns[x]
    marked = x in table.lines
    longest = max(len(row[x]) for row in table.rows)
    return Column(
        title=title,
        align="right" if x in table.right else "left",
        size=13.0 if marked else 9.5 if x == table.shapes else 10.5,
        strong=marked or first,
        share=min(longest, 100) / 30 if longest >= _WIDE or x == table.shapes else 0.0,
    )
