"""At the shear: one sheet a cutting layout; two short ones share a sheet."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace

from fabplan.nesting.model import CutPlan, Layout
from fabplan.packet.model import Block, Page, Paper, Para, Picture, Split, TallyBoxes
from fabplan.packet.pages.cautions import AT_SHEAR
from fabplan.packet.pages.cut_rows import cut_rows
from fabplan.packet.pages.cut_shots import cut_pictures
from fabplan.packet.pages.cut_table import cut_table, kept_table
from fabplan.packet.pages.shear_room import Told, arranged, paired
from fabplan.packet.rolling import marked
from fabplan.packet.setting.keys import layout_key
from fabplan.packet.setting.short_names import short_layout, short_marks
from fabplan.packet.totals import per_layout
from fabplan.plan.model import Plan
from fabplan.speech.buying import panels_words
from fabplan.speech.format import Say, listed, paper
from fabplan.speech.labour import BEGAN_ENDED, layout_words

LEAST_PX = 900
MOST_BOXES = 120  # repeats up to which each has a box; beyond, a box is ten of them


def shear_pages(plan: Plan, say: Say, paper: Paper = "letter") -> list[Page]:
    """One page for every layout, in the plan's order; of two short ones in a row the second joins the first."""
    cut = plan.cut_plan
    if cut is None:
        return []
    banner = cut.status == "short"
    layouts = [_told(plan, cut, say, number) for number in range(1, len(cut.layouts) + 1)]
    pages: list[Page] = []
    while len(pages) < len(layouts):
        one, *after = layouts[len(pages) :]
        both = paired(one, after[0], paper, banner=banner) if after else None
        if both is None:
            blocks, landscape = arranged(one, paper, banner=banner)
            pages.append(_page(one, cut, say, blocks, landscape=landscape))
        else:
            pages.append(_page(one, cut, say, both[0]))
            pages.append(replace(_page(after[0], cut, say, both[1]), joins=True))
    return pages


def _told(plan: Plan, cut: CutPlan, say: Say, number: int) -> Told:
    """What is to be told of a layout, numbered from 1."""
    short = short_marks(p.mark for p in plan.patterns)
    layout = short_layout(cut.layouts[number - 1], short)
    rows = cut_rows(layout)
    return Told(
        plan=plan,
        layout=layout,
        number=number,
        head=tuple(_head(plan, cut, say, number, short)),
        table=cut_table(rows, cut, layout, say),
        pictures=tuple(cut_pictures(layout, rows, cut.grid, say)),
        tail=tuple(b for b in (_boxes(layout), kept_table(cut, layout, say)) if b),
        drawn={},
    )


def _page(told: Told, cut: CutPlan, say: Say, blocks: Sequence[Block], *, landscape: bool = False) -> Page:
    layout, number = cut.layouts[told.number - 1], told.number
    size = say.size(layout.width * cut.grid, layout.length * cut.grid)
    after = told.plan.job.done.layouts  # those of the first packet keep their numbers
    alt = (
        f"Cutting layout {after + number}: {layout.stock}, {size}, with its numbered cuts. "
        f"Blanks: {_counted(per_layout(layout))}. The table and the pictures with it tell every cut."
    )

    def named(block: Block) -> Block:
        """The block, its large picture with words."""
        if isinstance(block, Split):
            return replace(block, left=tuple(named(b) for b in block.left))
        return replace(block, alt=alt, least_px=LEAST_PX) if isinstance(block, Picture) else block

    return Page(
        key=layout_key(number),
        kind="shear",
        title=f"Cutting layout {after + number} of {after + len(cut.layouts)}: {layout.stock}",
        blocks=tuple(named(b) for b in blocks),
        landscape=landscape,
        caution=AT_SHEAR,
    )


def _head(plan: Plan, cut: CutPlan, say: Say, number: int, short: Mapping[str, str]) -> list[Block]:
    """How many, what each gives, of what stock, how long it takes, and a box for each."""
    layout = cut.layouts[number - 1]
    make = f"Make {layout.repeat:,} of this layout. Each gives {_counted(per_layout(layout), short)}."
    stock = _stock_words(plan, cut, layout, say)
    line = next((b for b in plan.buy if b.stock == layout.stock), None)
    if line is not None and (coils := panels_words(line, number, layout.repeat)):
        stock += f" {paper(coils)}"
    if layout.spent:
        stock += f" {layout_words(layout)}   {BEGAN_ENDED}"
    blocks: list[Block] = [Para(text=make, size=12, strong=True), Para(text=stock, size=9)]
    way = _way_words(plan, layout)
    if way:
        blocks.append(Para(text=way, size=9, strong=True))
    if layout.repeat > MOST_BOXES:
        blocks.append(TallyBoxes(name="Made, a box for ten", count=-(-layout.repeat // 10)))
    elif layout.repeat > 1:
        blocks.append(TallyBoxes(name="Made", count=layout.repeat))
    return blocks


def _counted(marks: Counter[str], short: Mapping[str, str] = {}) -> str:
    """``4 × A and 2 × Drip edge at the eave (Drip edge at…)``."""
    return listed(f"{n} × {mark}" + (f" ({short[mark]})" if mark in short else "") for mark, n in marks.items())


def _stock_words(plan: Plan, cut: CutPlan, layout: Layout, say: Say) -> str:
    width, length = say.bare(layout.width * cut.grid), say.length(layout.length * cut.grid)
    if layout.form == "coil":
        take = f"Coil {width} wide, {length} long in the rolling direction"
    else:
        take = f"Sheet {width} × {length}" if layout.form == "sheet" else f"Offcut {width} × {length}"
    return f"{take}, {plan.metals[layout.metal].title}."


def _way_words(plan: Plan, layout: Layout) -> str:
    """What is minded of the face and the rolling direction; empty where nothing is."""
    shown = marked(plan, layout)
    if not any(b.mark in shown for b in layout.blanks):
        return ""
    words = "Arrows: rolling direction. Pencil it on the back of every blank."
    finishes = dict.fromkeys(p.finish for p in plan.patterns if p.mark in shown and p.finish != "bare")
    if not finishes:
        return words
    return f"{' and '.join(finishes).capitalize()}: never scribe or chalk the face; tick points at the edges. {words}"


def _boxes(layout: Layout) -> Para | None:
    """That the slanted sides of some blanks are made later."""
    marks = list(dict.fromkeys(b.mark for b in layout.blanks if b.boxed))
    if not marks:
        return None
    leaves, its = ("leaves", "its") if len(marks) == 1 else ("leave", "their")
    words = f"{listed(marks)} {leaves} the shear as a box: {its} slanted sides are scribed and snipped ({its} sheet)."
    return Para(text=words, size=9)
