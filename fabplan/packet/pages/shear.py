"""At the shear: one page a pattern, and the program of the whole job."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace

from fabplan.nesting.model import CutPlan, Layout
from fabplan.packet.model import Block, Column, Heading, Page, Paper, Para, Picture, Table
from fabplan.packet.pages.cautions import AT_SHEAR
from fabplan.packet.pages.cut_rows import CutRow, cut_rows
from fabplan.packet.pages.cut_shots import cut_shots, unset
from fabplan.packet.pages.pictures import layout_drawing
from fabplan.packet.setting.keys import pattern_key
from fabplan.packet.setting.page_estimate import (
    BLOCK_GAP,
    LINE_GAP,
    TITLE,
    body,
    mm,
    natural_width,
    points,
    table_height,
    text_height,
)
from fabplan.packet.setting.short_names import short_layout, short_marks
from fabplan.packet.totals import per_layout
from fabplan.plan.model import Plan
from fabplan.plotter.model import Drawing
from fabplan.speech.cuts import Take, drops_words, lot_words, takes_words
from fabplan.speech.format import Say, count, listed, spans
from fabplan.speech.labour import BEGAN_ENDED, layout_words
from fabplan.speech.nest import offcut_name

LEAST_PX = 900
# Heights of the picture in mm: with its table under it, and alone on its page.
LEAST_HEIGHT, MOST_HEIGHT, ALONE_HEIGHT = 62.0, 105.0, 135.0
CROWDED, CROWDED_HEIGHT = 24, 80.0  # cuts from which a picture needs more
NEARLY = 2.0  # mm the estimate is on the large side by, at least
SHORT = 75.0  # points, of a column in which nothing is broken
NEAR_BLADE = 12_700_000  # nanometres: a gauge nearer than this may not reach; the mark is told beside it
LONGEST_CUTS = 18  # characters in a list of cut numbers that stands on one line
NEXT_PAGE = "The table on the next page lists the cuts in the order they are made."


def shear_pages(plan: Plan, say: Say, paper_: Paper = "letter") -> list[Page]:
    """One page for every pattern, in the plan's order."""
    cut = plan.cut_plan
    if cut is None:
        return []
    return [_pattern(plan, cut, say, number, paper_) for number in range(1, len(cut.layouts) + 1)]


def _pattern(plan: Plan, cut: CutPlan, say: Say, number: int, paper_: Paper) -> Page:
    short = short_marks(p.mark for p in plan.patterns)
    layout = short_layout(cut.layouts[number - 1], short)
    rows = cut_rows(layout)
    kept = _kept(cut, layout, say)
    yields = per_layout(cut.layouts[number - 1])
    make = f"Make {layout.repeat:,} of this pattern. Each gives {_counted(yields, short)}."
    table, terms = _table(rows, cut, layout, say), _terms(rows, layout, cut.grid, say.exact(plan.job.shear.least_held))
    time = f"{layout_words(layout)}   {BEGAN_ENDED}" if layout.spent else ""
    words = _Words(make, time, table, tuple(terms), kept, crowded=len(layout.cuts) > CROWDED)
    drawing, landscape = None, True
    for close in (False, True):
        words = replace(words, table=replace(table, close=close))
        drawing = _beside_table(plan, layout, number, words, paper_, banner=cut.status == "short")
        if drawing is not None:
            table = words.table
            break
    together = drawing is not None
    if drawing is None:
        # the picture has a page to itself, and the table the next: never a row or two under it
        terms = [NEXT_PAGE, *terms]
        wide, high = body(paper_, landscape=True, banner=cut.status == "short")
        drawing = layout_drawing(
            plan, layout, number, wide - 1.0, min(ALONE_HEIGHT, high - mm(words.above(points(wide))) - 8.0)
        )
        table = replace(table, fresh=True)
    else:
        landscape = drawing.width > body(paper_, landscape=False, banner=False)[0]
    size = say.size(layout.width * cut.grid, layout.length * cut.grid)
    after = plan.job.done.patterns  # those of the first packet keep their numbers
    alt = (
        f"Pattern {after + number}: {layout.stock}, {size}, with its numbered cuts. "
        f"Blanks: {_counted(yields)}. The table below lists every cut."
    )
    blocks: list[Block] = [
        Para(text=make, size=13, strong=True),
        Para(text=_stock_line(plan, cut, layout, say)),
        *([Para(text=time, size=10)] if time else []),
        Picture(drawing=drawing, alt=alt, least_px=LEAST_PX),
    ]
    if not together:
        blocks.append(Para(text=terms.pop(0), size=11, strong=True))
    blocks += [table, *(Para(text=words, size=9.5) for words in terms)]
    if kept is not None:
        blocks += [Heading(text="Offcuts to keep"), kept]
    blocks += cut_shots(plan, layout, number, rows, say, landscape=landscape)
    title = f"Pattern {after + number} of {after + len(cut.layouts)}: {layout.stock}"
    return Page(
        key=pattern_key(number), kind="shear", title=title, blocks=tuple(blocks), landscape=landscape, caution=AT_SHEAR
    )


@dataclass(frozen=True, slots=True)
class _Words:
    """What stands on a pattern's page beside the picture."""

    make: str
    time: str
    table: Table
    terms: tuple[str, ...]
    kept: Table | None
    crowded: bool

    def above(self, room: float) -> float:
        """Points over and round the picture, in a width of so many."""
        time = LINE_GAP + text_height(self.time, 10.0, room) if self.time else 0.0
        return TITLE + text_height(self.make, 13.0, room, bold=True) + time + 2 * LINE_GAP + 8.0 + 2 * BLOCK_GAP

    def below(self, room: float) -> float:
        """Points under it."""
        high = table_height(self.table, room) + sum(LINE_GAP + text_height(w, 9.5, room) for w in self.terms)
        return high + (2 * BLOCK_GAP + 22.0 + table_height(self.kept, room) if self.kept else 0.0)


def _beside_table(
    plan: Plan, layout: Layout, number: int, words: _Words, paper_: Paper, *, banner: bool
) -> Drawing | None:
    """The picture in the room its table leaves, on a landscape page or else a portrait one; None when there is none."""
    for landscape in (True, False):
        wide, high = body(paper_, landscape=landscape, banner=banner)
        room = points(wide)
        spare = high - mm(words.above(room) + words.below(room))
        if spare < (CROWDED_HEIGHT if words.crowded else LEAST_HEIGHT):
            continue
        # callouts may make a picture higher than asked for
        for share in (1.0, 0.92, 0.84, 0.76):
            drawing = layout_drawing(plan, layout, number, wide - 1.0, min(MOST_HEIGHT, share * spare))
            if drawing.height <= spare + NEARLY:
                return drawing
            if drawing.height > 1.2 * spare:
                break
    return None


def _counted(marks: Counter[str], short: Mapping[str, str] = {}) -> str:
    """``4 × A and 2 × Drip edge at the eave (Drip edge at…)``."""
    return listed(f"{n} × {mark}" + (f" ({short[mark]})" if mark in short else "") for mark, n in marks.items())


def _stock_line(plan: Plan, cut: CutPlan, layout: Layout, say: Say) -> str:
    width, length = say.bare(layout.width * cut.grid), say.length(layout.length * cut.grid)
    if layout.form == "coil":
        take = f"{layout.stock}: {width} wide, cut off {length} long in the rolling direction"
    else:
        take = f"{layout.stock}: {width} × {length}"
    return f"From {take}, {plan.metals[layout.metal].title}."


def _gauge(row: CutRow, cut: CutPlan, layout: Layout, say: Say) -> str:
    if row.back_gauge is not None:
        return say.bare(row.back_gauge * cut.grid)
    if layout.form == "coil" and row.takes == (Take("coil"),):
        return f"pull {say.bare(layout.length * cut.grid)}"
    return "marks"


def _left(row: CutRow, cut: CutPlan, say: Say) -> str:
    words = "the coil" if row.left is None else lot_words(row.left)
    if row.rest is None or (words and not row.rest_square):  # the box round a slanted piece says nothing at the shear
        return words
    width, length = (round(side) * cut.grid for side in row.rest)
    size = f"{say.bare(width)} × {say.bare(length)}"
    each = " each" if len(row.takes) > 1 else ""
    said = f"{size}{each}: {words}" if words else size
    near = row.back_gauge is not None and row.back_gauge * cut.grid < NEAR_BLADE
    return f"{said}; or mark {say.bare(row.held * cut.grid)}" if near else said


def _boxes(layout: Layout) -> list[str]:
    """That the slanted sides of some blanks are made later."""
    marks = list(dict.fromkeys(b.mark for b in layout.blanks if b.boxed))
    if not marks:
        return []
    leaves, its = ("leaves", "its") if len(marks) == 1 else ("leave", "their")
    return [f"{listed(marks)} {leaves} the shear as a box: {its} slanted sides are scribed and snipped (its sheet)."]


def _terms(rows: tuple[CutRow, ...], layout: Layout, grid: int, least_held: str) -> list[str]:
    """What the words of the table mean, as far as they stand in it, and how the cuts are made."""
    takes = {take.source for row in rows for take in row.takes}
    said = ["What comes off falls behind the blade."]
    if layout.form == "coil":
        said.append("Pull: square the coil's end (the plan allows no metal for it), pull so much past the blade, cut.")
    if "drop" in takes:
        said.append("Drop of a cut: the piece that fell at it.")
    if "rest" in takes or any(row.each > 1 for row in rows):
        said.append("Rest of a cut: what stayed on the table after it.")
    if takes & {"drop", "rest"}:
        said.append("Chalk pattern, cut, drop or rest on the face of every piece that waits.")
    said.append(
        "The picture has room for some sizes only: set by the table. What stays last is never gauged: measure it."
    )
    if any(unset(row) for row in rows):
        said.append("Marks, stops and slanted metal: the pictures after this table show those cuts one by one.")
    else:
        said.append("All cuts are square.")
    said += _boxes(layout)
    said.append(
        f"At least {least_held} of metal lies before the blade at every cut. Where the hold-downs do not reach the "
        "metal, snip by hand."
    )
    if any(row.back_gauge is not None and row.back_gauge * grid < NEAR_BLADE for row in rows):
        said.append("Or mark: where the gauge does not come so near, lay this off from the edge that stays.")
    return [" ".join(said)]


def _table(rows: tuple[CutRow, ...], cut: CutPlan, layout: Layout, say: Say) -> Table:
    slanted = any(row.angle != 90 for row in rows)
    numbers = [spans(sorted(row.steps)) for row in rows]
    columns = [
        Column(title="Cut", align="centre", share=0.5 if any(len(n) > LONGEST_CUTS for n in numbers) else 0.0),
        Column(title="Back gauge", align="right", size=16, strong=True),
    ]
    if slanted:
        columns.append(Column(title="Angle stop", align="right", size=13, strong=True))
    columns += [
        Column(title="Times", align="centre"),
        Column(title="Put in", share=1),
        Column(title="What comes off", share=1),
        Column(title="Left on the table", share=1),
        Column(title="Done", align="centre", tick=True),
    ]
    out = []
    for number, row in zip(numbers, rows, strict=True):
        cells = [number, _gauge(row, cut, layout, say)]
        if slanted:
            if row.back_gauge is not None and (row.stop or not unset(row)):
                cells.append(f"{say.degrees(row.angle)} {row.stop}".rstrip())
            else:  # no side of the metal lies on a stop
                cells.append("marks" if row.back_gauge is not None and row.marked else "–")
        cells += [
            str(len(row.steps)),
            takes_words(row.takes) + (", then the rest of each cut" if row.each > 1 else ""),
            drops_words(row.comes_off),
            _left(row, cut, say),
            "",
        ]
        out.append(tuple(cells))
    for x, column in enumerate(columns):
        if column.title in ("Put in", "What comes off", "Left on the table"):  # as wide as their words ask
            wide = natural_width(column, [row[x] for row in out])
            columns[x] = replace(column, share=round(min(wide, 240.0) / 100.0, 2) if wide > SHORT else 0.0)
    return Table(name=f"Cuts of this pattern, sizes in {say.units}", columns=tuple(columns), rows=tuple(out))


def _kept(cut: CutPlan, layout: Layout, say: Say) -> Table | None:
    sizes: dict[tuple[int, int], list[str]] = {}
    for offcut in layout.offcuts:
        if offcut.keep:
            sizes.setdefault((offcut.width, offcut.length), []).append(offcut_name(offcut))
    if not sizes:
        return None
    rows = [
        (
            listed(names) if len(names) < 4 else f"{names[0]} to {names[-1]}",
            say.size(width * cut.grid, length * cut.grid),
            count(len(names) * layout.repeat, "piece"),
            "",
        )
        for (width, length), names in sizes.items()
    ]
    return Table(
        name="Offcuts to keep",
        columns=(
            Column(title="Write on it", strong=True, share=1),
            Column(title="Size", align="right", size=12),
            Column(title="From all of this pattern", align="right"),
            Column(title="Racked", align="centre", tick=True),
        ),
        rows=tuple(rows),
    )
