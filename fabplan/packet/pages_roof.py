"""On the roof: course lines and counts of each slope, kits, edges and fasteners."""

from __future__ import annotations

from collections.abc import Sequence

from fabplan.packet.cautions import ON_ROOF
from fabplan.packet.model import Block, Column, Heading, Page, Para, Picture, Table
from fabplan.packet.pictures import roof_drawings, slope_drawings
from fabplan.packet.say import paper
from fabplan.plan.model import Plan
from fabplan.roof.tables import (
    RoofTable,
    blank_table,
    count_table,
    course_table,
    edge_table,
    fastener_table,
    kit_table,
    underlayment_table,
    variation_table,
)

_WIDE = 30  # letters from which a column takes a share of the free width


def roof_pages(plan: Plan) -> list[Page]:
    """The course sheets of a plan with slopes, in the order they are used; none without slopes."""
    roof, job = plan.roof, plan.job
    if roof is None or not roof.slopes:
        return []
    pages = [_page("roof", "Roof: pieces by slope", _tables([count_table(roof, job), blank_table(roof)]), roof.notes)]
    for number, layout in enumerate(roof.slopes, 1):
        times = "" if layout.slope.times == 1 else f", each of {layout.slope.times} alike"
        pictures = [Picture(drawing=d, alt=d.title, least_px=700) for d in slope_drawings(plan, number)]
        notes = tuple(dict.fromkeys((*layout.slope.notes, *layout.notes)))
        table = _table(course_table(layout, job), tick=True, big="Line, ")
        pages.append(_page(f"slope-{number}", f"Slope {layout.slope.name}{times}", [*pictures, *table], notes))
    others = [Picture(drawing=d, alt=d.title, least_px=700) for d in roof_drawings(plan)]
    if others:
        pages.append(_page("roof-drawings", "Roof: cut shapes and charts", others, ()))
    if roof.kits:
        pages.append(_page("kits", "Kits: what goes up in one lift", _table(kit_table(roof, job), tick=True), ()))
    edges = _tables([edge_table(roof, job), underlayment_table(roof, job), fastener_table(roof)])
    if edges:
        pages.append(_page("edges", "Roof edges, underlayment and fasteners", edges, ()))
    variation = _tables([variation_table(v, job) for v in roof.variation])
    if variation:
        pages.append(_page("variation", "How often to snap a line", variation, ()))
    return pages


def _page(key: str, title: str, blocks: Sequence[Block], notes: Sequence[str]) -> Page:
    said = tuple(Para(text=paper(note), size=10) for note in notes)
    return Page(key=key, kind="roof", title=title, blocks=(*blocks, *said), landscape=True, caution=ON_ROOF)


def _tables(tables: Sequence[RoofTable]) -> list[Block]:
    """Every table that has rows, each under its heading."""
    out: list[Block] = []
    for table in tables:
        if table.rows:
            out += [Heading(text=table.title), *_table(table)]
    return out


def _table(table: RoofTable, *, tick: bool = False, big: str = "") -> list[Block]:
    """A roof table as a printed one: columns with nothing in them are left out."""
    used = [x for x in range(len(table.columns)) if any(row[x] for row in table.rows)]
    widest = {x: max(len(row[x]) for row in table.rows) for x in used}
    columns = []
    for x in used:
        title = table.columns[x]
        marked = bool(big) and title.startswith(big)
        columns.append(
            Column(
                title=title,
                align="right" if x in table.right else "left",
                size=14.0 if marked else 10.5,
                strong=marked or x == used[0],
                share=1.0 if widest[x] >= _WIDE else 0.0,
            )
        )
    rows = [tuple(paper(row[x]) for x in used) for row in table.rows]
    total = bool(rows) and table.rows[-1][0] == "all"
    if tick:
        columns.append(Column(title="Done", align="centre", tick=True))
        rows = [(*row, "") for row in rows]
    out: list[Block] = [Table(name=table.title, columns=tuple(columns), rows=tuple(rows), total=total)]
    if table.note:
        out.append(Para(text=paper(table.note), size=9.5))
    return out
