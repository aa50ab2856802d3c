"""The cut table of a layout on paper: a row a setting; cuts that have a picture of their own point to it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from fabplan.nesting.model import CutPlan, Layout
from fabplan.packet.model import Column, Table
from fabplan.packet.pages.cut_rows import CutRow
from fabplan.packet.pages.cut_shots import SCRIBED, unset
from fabplan.packet.setting.page_estimate import natural_width
from fabplan.speech.cuts import Take, drops_words, lot_words, takes_words, turn_words
from fabplan.speech.format import Say, count, listed, spans
from fabplan.speech.nest import offcut_name

SHORT = 60.0  # points, of a column in which nothing is broken
NEAR_BLADE = 12_700_000  # nanometres: a gauge nearer than this may not reach; what to scribe is told beside it
LONGEST_CUTS = 14  # characters in a list of cut numbers that stands on one line
WORDS = ("Put in", "What comes off", "Left on the table")
OFF_COIL = "off the coil: pull so much"
PICTURED = "see the picture of the cut", "see the pictures, by number"


def cut_table(rows: Sequence[CutRow], cut: CutPlan, layout: Layout, say: Say) -> Table:
    """Cuts in shop order; cuts in a row that have pictures are one row. A box a row where all is cut once."""
    out: list[tuple[str, ...]] = []
    pictured: list[int] = []

    def flush() -> None:
        if pictured:
            out.append((spans(sorted(pictured)), "", PICTURED[len(pictured) > 1], "", ""))
            pictured.clear()

    for row in rows:
        if unset(row):
            pictured.extend(row.steps)
            continue
        flush()
        put = takes_words(in_turn(row)) + turn_words(row.turned) + (", then each rest" if row.each > 1 else "")
        if row.takes == (Take("coil"),) and row.back_gauge is None:
            put = OFF_COIL
        numbers = spans(sorted(row.steps))
        out.append((numbers, gauge_words(row, cut, layout, say), put, drops_words(row.comes_off), _left(row, cut, say)))
    flush()
    wide = any(len(row[0]) > LONGEST_CUTS for row in out)
    columns = [
        Column(title="Cut", align="centre", size=9, strong=True, share=0.6 if wide else 0.0),
        Column(title="Gauge", align="right", size=14, strong=True),
        *(Column(title=title, size=9, share=1) for title in WORDS),
    ]
    for x, column in enumerate(columns):
        if column.title in WORDS:  # as wide as their words ask
            natural = natural_width(column, [row[x] for row in out])
            columns[x] = replace(column, share=round(min(natural, 200.0) / 100.0, 2) if natural > SHORT else 0.0)
    done = layout.repeat == 1
    if done:
        columns.append(Column(title="Done", align="centre", size=9, tick=True))
    return Table(
        name=f"Cuts of this layout, sizes in {say.units}",
        columns=tuple(columns),
        rows=tuple((*row, "") if done else row for row in out),
        close=True,
    )


def in_turn(row: CutRow) -> list[Take]:
    """What the cuts of a row are made on, in the order of their numbers as the row prints them."""
    return [take for _, take in sorted(zip(row.steps[:: row.each], row.takes, strict=True), key=lambda one: one[0])]


def gauge_words(row: CutRow, cut: CutPlan, layout: Layout, say: Say) -> str:
    """The setting of a row: a size, of a coil's cut-off its length, or ``scribed points``."""
    if row.back_gauge is not None:
        return say.bare(row.back_gauge * cut.grid)
    if layout.form == "coil" and row.takes == (Take("coil"),):
        return say.bare(layout.length * cut.grid)
    return SCRIBED


def _left(row: CutRow, cut: CutPlan, say: Say) -> str:
    words = "the coil" if row.left is None else lot_words(row.left)
    if row.rest is None or (words and not row.rest_square):  # the box round a slanted piece says nothing at the shear
        return words
    width, length = (round(side) * cut.grid for side in row.rest)
    said = f"{say.bare(width)} × {say.bare(length)}" + (" each" if len(row.takes) > 1 else "")
    if row.left is not None and sum(n for _, n in row.left.marks) < 2:  # what the metal still holds is drawn
        said += f": {words}"
    near = row.back_gauge is not None and row.back_gauge * cut.grid < NEAR_BLADE
    return f"{said}; or scribe {say.bare(row.held * cut.grid)}" if near else said


def kept_table(cut: CutPlan, layout: Layout, say: Say) -> Table | None:
    """Offcuts that go back on the rack, with what to write on them; None when there are none."""
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
            Column(title="Write on the offcut to keep", strong=True, size=9, share=1),
            Column(title="Size", align="right", size=12),
            Column(title="In all", align="right", size=9),
            Column(title="Racked", align="centre", size=9, tick=True),
        ),
        rows=tuple(rows),
        whole=True,
        close=True,
    )
