"""Pictures of cuts that the back gauge alone cannot set: slanted ones and those to scribed points, on their metal."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass

from fabplan.nesting.model import Layout
from fabplan.packet.model import Picture, Shot, Shots
from fabplan.packet.pages.cut_rows import CutRow
from fabplan.packet.pages.scribe import Marking, markings
from fabplan.plane import bounds
from fabplan.plotter.model import Drawing
from fabplan.plotter.sheet.cut_lie import by_marks, stop_hand
from fabplan.plotter.sheet.replay import MadeCut, is_rectangle, likeness, replay
from fabplan.speech.cuts import Take, lot_words, takes_words
from fabplan.speech.format import Say, listed, spans

SCRIBED = "scribed points"
SQUARE = 90.0  # degrees
GAP = 3.0  # mm between pictures
STEP = 4.0  # mm, of widths they are drawn in


def unset(row: CutRow) -> bool:
    """Whether cuts are slanted, made to scribed points or on metal that is no rectangle: gauge and edge do not say all.

    A coil's cut-off, measured along the coil, is none of these.
    """
    if row.takes == (Take("coil"),):
        return False
    return row.back_gauge is None or abs(row.angle - SQUARE) > 0.05 or not row.on_square


@dataclass(frozen=True, slots=True, kw_only=True)
class CutPicture:
    """Cuts that are alike and share a picture: their numbers, the first of them, what is set, what it is made on."""

    steps: tuple[int, ...]
    made: MadeCut
    sets: str
    says: str
    alt: str

    @property
    def title(self) -> str:
        """The numbers of the cuts."""
        return spans(self.steps)


def cut_pictures(layout: Layout, rows: Sequence[CutRow], grid: int, say: Say) -> list[CutPicture]:
    """Cuts to scribed points and on slanted metal, alike ones together, in the order of the cut table.

    Parameters
    ----------
    layout : Layout
        A layout of the plan, with its marks made short.
    rows : sequence of CutRow
        Rows of its cut table.
    grid : int
        Nanometres in one graduation.
    say : Say
    """
    if not any(unset(row) for row in rows):
        return []
    made = {m.cut.step: m for m in replay(layout)}
    ends: dict[int, list[Marking]] = {}
    for marking in markings(layout):
        ends.setdefault(marking.step, []).append(marking)
    alike: dict[Hashable, list[tuple[CutRow, int]]] = {}
    for row in rows:
        if unset(row):
            for at in range(0, len(row.steps), row.each):
                same = likeness(made[row.steps[at]]), row.each, row.comes_off[at], row.left
                alike.setdefault(same, []).append((row, at))
    return [_picture(found, made, ends, grid, say) for found in alike.values()]


def shots(
    pictures: Sequence[CutPicture], columns: int, width: float, *, draw: Callable[[MadeCut, float], Drawing], tick: bool
) -> Shots:
    """The pictures in so many columns, in `width` mm; `draw` draws a cut in so many mm."""
    each = (width - GAP * (columns - 1)) / columns
    drawn = float(each // STEP * STEP)
    return Shots(
        name="Cuts to scribed points and on slanted metal",
        shots=tuple(
            Shot(
                title=p.title,
                sets=p.sets,
                says=p.says,
                picture=Picture(drawing=draw(p.made, drawn), alt=p.alt),
                tick=tick,
            )
            for p in pictures
        ),
        columns=columns,
    )


def _picture(
    alike: Sequence[tuple[CutRow, int]],
    made: dict[int, MadeCut],
    ends: dict[int, list[Marking]],
    grid: int,
    say: Say,
) -> CutPicture:
    """Cuts that are alike: each a row and where in it the first cut on a piece stands."""
    row, first = alike[0]
    step = row.steps[first]
    steps = tuple(sorted(s for r, at in alike for s in r.steps[at : at + r.each]))
    takes = takes_words([r.takes[at // r.each] for r, at in alike])
    outline = made[step].outline
    size = ""
    if is_rectangle(outline):
        x0, y0, x1, y1 = (round(v) * grid for v in bounds(outline))
        size = f", {say.bare(x1 - x0)} × {say.bare(y1 - y0)}"
    sets = SCRIBED
    if row.back_gauge is not None:
        sets = say.bare(row.back_gauge * grid)
        hand = stop_hand(made[step])
        if hand:
            sets += f"   {say.degrees(row.angle)} {hand}"
        elif by_marks(made[step]):
            sets += f" and {SCRIBED}"
    falls = f"Falls: {lot_words(row.comes_off[first])}." + (f" Stays: {lot_words(row.left)}." if row.left else "")
    says = takes + size
    if row.each > 1:
        says += f"; {row.each} times, each from the cut before"
    sizes = []
    for m in ends.get(step, ()) if by_marks(made[step]) else ():
        if m.size is None:
            sizes.append(f"the corner of {m.along} and {m.start}")
        else:
            sizes.append(f"{say.bare(round(m.size) * grid)} along {m.along} from {m.start}")
    alt = f"Cut {spans(steps)}, {says}, {sets}{': ' if sizes else ''}{listed(sizes)}. {falls}"
    return CutPicture(steps=steps, made=made[step], sets=sets, says=says, alt=alt)
