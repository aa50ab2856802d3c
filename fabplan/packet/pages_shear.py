"""At the shear: one page a pattern, and the program of the whole job."""

from __future__ import annotations

from collections import Counter

from fabplan.nesting.model import CutPlan, Layout
from fabplan.packet.cautions import AT_SHEAR
from fabplan.packet.cutrows import CutRow, comes_off_words, cut_rows
from fabplan.packet.keys import pattern_key
from fabplan.packet.model import Block, Column, Heading, Page, Para, Picture, Table
from fabplan.packet.pictures import layout_drawing
from fabplan.packet.say import Say, count, listed, paper, spans
from fabplan.packet.totals import per_layout
from fabplan.plan.model import Plan

LEAST_PX = 900
# Room on a landscape sheet in mm: the body under the title, one row of the table, and the picture's limits.
BODY, ROW, LEAST_HEIGHT, MOST_HEIGHT = 140.0, 7.6, 85.0, 105.0
CROWDED = 24  # cuts


def shear_pages(plan: Plan, say: Say) -> list[Page]:
    """One page for every pattern, in the plan's order."""
    cut = plan.cut_plan
    if cut is None:
        return []
    return [_pattern(plan, cut, say, number) for number in range(1, len(cut.layouts) + 1)]


def _pattern(plan: Plan, cut: CutPlan, say: Say, number: int) -> Page:
    layout = cut.layouts[number - 1]
    rows = cut_rows(layout)
    kept = _kept(cut, layout, say, plan.job.info.number, number)
    below = 14.0 + ROW * len(rows) + (20.0 + ROW * len(kept.rows) if kept else 0.0)
    # A crowded pattern has the sheet to itself, its table on the next.
    room = BODY if len(layout.cuts) > CROWDED else max(LEAST_HEIGHT, min(MOST_HEIGHT, BODY - below))
    drawing = layout_drawing(plan, number, room)
    yields = per_layout(layout)
    size = say.size(layout.width * cut.grid, layout.length * cut.grid)
    alt = (
        f"Pattern {number}: {layout.stock}, {size}, with its numbered cuts. "
        f"Blanks: {_counted(yields)}. The table below lists every cut."
    )
    blocks: list[Block] = [
        Para(text=f"Make {layout.repeat:,} of this pattern. Each gives {_counted(yields)}.", size=13, strong=True),
        Para(text=_stock_line(plan, cut, layout, say)),
        Picture(drawing=drawing, alt=alt, least_px=LEAST_PX),
        _table(rows, cut, layout, say),
    ]
    blocks += [Para(text=words, size=9.5) for words in _terms(rows)]
    if any(row.angle != 90 for row in rows):
        words = "Set the angle stop before the cut: the angle is between the stop and the blade, 90° is square."
        blocks.append(Para(text=words, size=10))
    if kept is not None:
        blocks += [Heading(text="Offcuts to keep"), kept]
    title = f"Pattern {number} of {len(cut.layouts)}: {layout.stock}"
    return Page(
        key=pattern_key(number), kind="shear", title=title, blocks=tuple(blocks), landscape=True, caution=AT_SHEAR
    )


def _counted(marks: Counter[str]) -> str:
    return listed(f"{n} × {mark}" for mark, n in marks.items())


def _stock_line(plan: Plan, cut: CutPlan, layout: Layout, say: Say) -> str:
    width, length = say.bare(layout.width * cut.grid), say.length(layout.length * cut.grid)
    if layout.form == "coil":
        take = f"{layout.stock}: {width} wide, cut off {length} long"
    else:
        take = f"{layout.stock}: {width} × {length}"
    return f"From {take}, {plan.metals[layout.metal].title}."


def _gauge(row: CutRow, cut: CutPlan, layout: Layout, say: Say) -> str:
    if row.back_gauge is not None:
        return say.bare(row.back_gauge * cut.grid)
    if layout.form == "coil" and row.takes == ("the coil",):
        return f"mark {say.bare(layout.length * cut.grid)}"
    if row.mark_at is not None and round(row.mark_at):
        return f"mark {say.bare(round(row.mark_at) * cut.grid)}"
    return "mark"


def _left(row: CutRow, cut: CutPlan, say: Say) -> str:
    words = paper(row.left)
    if row.rest is None:
        return words
    width, length = (round(side) * cut.grid for side in row.rest)
    each = " each" if len(row.takes) > 1 else ""
    return (
        f"{say.bare(width)} × {say.bare(length)}{each}: {words}" if words else f"{say.bare(width)} × {say.bare(length)}"
    )


def _takes(row: CutRow) -> str:
    """``the panel``, ``drops of 1, 2``."""
    if len(row.takes) == 1:
        return row.takes[0]
    out = []
    for word in ("drop", "rest"):
        steps = [int(t.rsplit(" ", 1)[1]) for t in row.takes if t.startswith(f"{word} of ")]
        if steps:
            out.append(f"{word}{'s' if len(steps) > 1 else ''} of {spans(steps)}")
    out += [t for t in row.takes if not t.startswith(("drop of ", "rest of "))]
    return listed(out)


def _terms(rows: tuple[CutRow, ...]) -> list[str]:
    """What the words of the table mean, as far as they stand in it."""
    takes = [take for row in rows for take in row.takes]
    said = []
    if any(take.startswith("drop of ") for take in takes):
        said.append("Drop of a cut: the piece that fell behind the blade at it.")
    if any(take.startswith("rest of ") for take in takes):
        said.append("Rest of a cut: what stayed on the table after it.")
    if any(row.back_gauge is None for row in rows):
        said.append("Mark: measure, mark and cut to the mark, without the back gauge.")
    return [" ".join(said)] if said else []


def _table(rows: tuple[CutRow, ...], cut: CutPlan, layout: Layout, say: Say) -> Table:
    slanted = any(row.angle != 90 for row in rows)
    numbers = [spans(sorted(row.steps)) for row in rows]
    columns = [
        Column(title="Cut", align="centre", share=0.5 if any(len(n) > 8 for n in numbers) else 0.0),
        Column(title="Back gauge", align="right", size=16, strong=True),
    ]
    if slanted:
        columns.append(Column(title="Angle stop", align="right", size=13, strong=True))
    columns += [
        Column(title="Times", align="centre"),
        Column(title="Put in", share=0.7),
        Column(title="What comes off", share=0.8),
        Column(title="Left on the table", share=1.3),
        Column(title="Done", align="centre", tick=True),
    ]
    out = []
    for number, row in zip(numbers, rows, strict=True):
        cells = [number, _gauge(row, cut, layout, say)]
        if slanted:
            cells.append(say.degrees(row.angle))
        cells += [str(len(row.steps)), _takes(row), paper(comes_off_words(row)), _left(row, cut, say), ""]
        out.append(tuple(cells))
    return Table(name=f"Cuts of this pattern, sizes in {say.units}", columns=tuple(columns), rows=tuple(out))


def _labels(labels: list[str]) -> str:
    """``K1``, ``K2 to K7``."""
    seen = [label for label in dict.fromkeys(labels) if label]
    return listed(seen) if len(seen) < 4 else f"{seen[0]} to {seen[-1]}"


def letter(n: int) -> str:
    """``a`` to ``z``, then ``a2`` and on."""
    turn, at = divmod(n, 26)
    return chr(ord("a") + at) + (str(turn + 1) if turn else "")


def _kept(cut: CutPlan, layout: Layout, say: Say, job: str, number: int) -> Table | None:
    sizes: dict[tuple[int, int], list[str]] = {}
    for offcut in layout.offcuts:
        if offcut.keep:
            sizes.setdefault((offcut.width, offcut.length), []).append(offcut.label)
    if not sizes:
        return None
    kept = {
        (_labels(labels) or f"{job} {number}{letter(n)}", *size): len(labels)
        for n, (size, labels) in enumerate(sizes.items())
    }
    rows = [
        (label, say.size(width * cut.grid, length * cut.grid), count(n * layout.repeat, "piece"), "")
        for (label, width, length), n in kept.items()
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


def program_page(plan: Plan, say: Say) -> Page | None:
    """Order of the settings over the whole job: set the back gauge once, make every cut that takes it."""
    cut = plan.cut_plan
    if cut is None or cut.program is None or not cut.program.steps:
        return None
    program = cut.program
    slanted = any(step.angle != 90 for step in program.steps)
    columns = [
        Column(title="Step", align="centre", strong=True, size=13),
        Column(title="Back gauge", align="right", size=16, strong=True),
    ]
    if slanted:
        columns.append(Column(title="Angle stop", align="right", size=13, strong=True))
    columns += [
        Column(title="Cuts", align="right"),
        Column(title="Which", share=1),
        Column(title="Done", align="centre", tick=True),
    ]
    rows = []
    for step in program.steps:
        gauge = "mark" if step.back_gauge is None else say.bare(step.back_gauge * cut.grid)
        cells = [str(step.step), gauge]
        if slanted:
            cells.append(say.degrees(step.angle))
        made = "; ".join(
            f"pattern {number}: {'cut' if len(cuts) == 1 else 'cuts'} {spans(cuts)}, {count(times, 'time')}"
            for number, cuts, times in step.items
        )
        rows.append((*cells, f"{sum(len(cuts) * times for _, cuts, times in step.items):,}", made, ""))
    says = (
        f"{count(program.settings, 'setting')} instead of {program.settings_layout_by_layout:,} when cut pattern by "
        f"pattern; no order needs fewer than {program.least_settings:,}. "
        f"At most {count(program.most_open_stacks, 'stack')} lie open at once."
    )
    blocks: list[Block] = [
        Para(text="The whole job in the fewest settings found. Use this or the pattern pages, not both."),
        Para(text=says, size=10),
        Table(name=f"Shear program of the whole job, sizes in {say.units}", columns=tuple(columns), rows=tuple(rows)),
    ]
    return Page(
        key="program", kind="program", title="Shear program", blocks=tuple(blocks), landscape=True, caution=AT_SHEAR
    )
