"""On the roof: course lines and counts of each slope, cut shapes, kits, edges and fasteners."""

from __future__ import annotations

from collections.abc import Sequence

from fabplan.packet.cautions import ON_ROOF
from fabplan.packet.model import Block, Column, Heading, Page, Para, Picture, Table
from fabplan.packet.pictures import course_charts, roof_sheets
from fabplan.packet.say import paper
from fabplan.plan.model import Plan
from fabplan.roof.tables import RoofTable

_WIDE = 26  # letters from which a column takes a share of the free width
_SHORT = 90
# Column titles that ask for more words on paper.
PLAIN = {"Whole": "Whole pieces", "snip": "of these, snip a hem", "Left out": "Left out, too thin"}
_TICKED = ("Courses of", "Kits", "Underlayment")


def roof_pages(plan: Plan) -> list[Page]:
    """The course sheets of a plan with slopes, in the order they are used; none without slopes."""
    pages = []
    for number, sheet in enumerate(roof_sheets(plan), 1):
        blocks: list[Block] = [Picture(drawing=d, alt=f"{d.title}.", least_px=700) for d in sheet.drawings]
        tables = [table for table in sheet.tables if table.rows]
        for table in tables:
            if len(tables) > 1 or "(each" in table.title:
                blocks.append(Heading(text=table.title))
            blocks += _table(table)
        blocks += [Para(text=paper(note), size=10) for note in sheet.notes]
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


def _table(table: RoofTable) -> list[Block]:
    """A roof table as a printed one: columns with nothing in them are left out, heights to snap are set large."""
    used = [x for x in range(len(table.columns)) if any(row[x] for row in table.rows)]
    columns = [_column(table, x, first=x == used[0]) for x in used]
    rows: Sequence[tuple[str, ...]] = [tuple(paper(row[x]) for x in used) for row in table.rows]
    total = len(rows) > 1 and table.rows[-1][0] == "all"
    if table.title.startswith(_TICKED):
        columns.append(Column(title="Done", align="centre", tick=True))
        rows = [(*row, "") for row in rows]
    printed = Table(name=table.title, columns=tuple(columns), rows=tuple(rows), total=total)
    if not table.note:
        return [printed]
    note = Para(text=paper(table.note), size=9.5)
    # A short note goes first, so that a full page does not push it alone onto the next.
    return [note, printed] if len(table.note) < _SHORT else [printed, note]


def _column(table: RoofTable, x: int, *, first: bool) -> Column:
    title = PLAIN.get(table.columns[x], table.columns[x])
    marked = title.startswith("Line, ")
    longest = max(len(row[x]) for row in table.rows)
    return Column(
        title=title,
        align="right" if x in table.right else "left",
        size=14.0 if marked else 10.5,
        strong=marked or first,
        share=min(longest, 100) / 30 if longest >= _WIDE else 0.0,
    )
