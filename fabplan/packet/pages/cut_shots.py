"""Pictures of the cuts that the back gauge alone cannot set: slanted ones and those to marks, each on its own metal."""

from __future__ import annotations

from collections.abc import Hashable, Sequence

from fabplan.nesting.model import Layout
from fabplan.packet.model import Block, Heading, Para, Picture, Shot, Shots
from fabplan.packet.pages.cut_rows import CutRow
from fabplan.packet.pages.pictures import cut_drawing
from fabplan.packet.pages.scribe import Marking, markings
from fabplan.plan.model import Plan
from fabplan.plotter.board.geometry import bounds
from fabplan.plotter.sheet.cut_lie import by_marks, set_by, stop_hand
from fabplan.plotter.sheet.replay import MadeCut, is_rectangle, likeness, replay
from fabplan.speech.cuts import Take, lot_words, takes_words
from fabplan.speech.format import Say, listed, spans

SQUARE = 90.0  # degrees
HOW_TO_READ = (
    "The metal as it lies at the shear, face up, you below. Turn it until it lies so; never flip it. Heavy line: the "
    "blade; what is above it falls. Dotted: cuts to come. Hatched: scrap. Jagged: the metal goes on.",
    "To marks: mark both ends of the cut on the metal's border and bring the blade to both. A bold size runs along the "
    "border to the blade, each from its own corner; a ring with a bold word: the cut ends at this very corner. A thin "
    "size is the length of a whole side: it tells which way the metal lies.",
    "At the gauge: black bar, the back gauge; white bar, the angle stop. Stop: degrees in front of the blade, from its "
    "right-hand part round to the stop; 90° is square. The gauge sets the distance; what sets the direction is told. "
    "Thin sizes, and rings with a thin word, tell about where the cut comes out, for checking or for snipping by hand.",
)


def unset(row: CutRow) -> bool:
    """Whether cuts are slanted, made to marks or on metal that is no rectangle, so that gauge and edge do not say all.

    A coil's cut-off, measured along the coil, is none of these.
    """
    if row.takes == (Take("coil"),):
        return False
    return row.back_gauge is None or abs(row.angle - SQUARE) > 0.05 or not row.on_square


def cut_shots(
    plan: Plan, layout: Layout, number: int, rows: Sequence[CutRow], say: Say, *, landscape: bool
) -> list[Block]:
    """Heading, words and pictures, in the order of the cut table; nothing without such cuts.

    Parameters
    ----------
    plan : Plan
    layout : Layout
        A pattern of the plan, with its marks made short.
    number : int
        Its number in the packet.
    rows : sequence of CutRow
        Rows of its cut table.
    say : Say
    landscape : bool
        How the page lies.
    """
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
    shots = [_shot(plan, layout, number, found, made, ends, say) for found in alike.values()]
    if not shots:
        return []
    kinds = {row.back_gauge is None for row in rows if unset(row)}
    words = [HOW_TO_READ[0], *(HOW_TO_READ[1 if marks else 2] for marks in sorted(kinds, reverse=True))]
    return [
        Heading(text="Cuts to marks and on slanted metal, one by one"),
        *(Para(text=line, size=9.5, keep=True) for line in words),
        Shots(shots=tuple(shots), columns=3 if landscape else 2),
    ]


def _shot(
    plan: Plan,
    layout: Layout,
    number: int,
    alike: Sequence[tuple[CutRow, int]],
    made: dict[int, MadeCut],
    ends: dict[int, list[Marking]],
    say: Say,
) -> Shot:
    """The picture of cuts that are alike: each a row and where in it the first cut on a piece stands."""
    grid = plan.cut_plan.grid if plan.cut_plan is not None else 1
    row, first = alike[0]
    step = row.steps[first]
    steps = sorted(s for r, at in alike for s in r.steps[at : at + r.each])
    takes = takes_words([r.takes[at // r.each] for r, at in alike])
    outline = made[step].outline
    if is_rectangle(outline):
        x0, y0, x1, y1 = (round(v) * grid for v in bounds(outline))
        takes += f" ({say.bare(x1 - x0)} × {say.bare(y1 - y0)})"
    title = f"Cut{'s' if len(steps) > 1 else ''} {spans(steps)}"
    how, sets = "to marks", ""
    if row.back_gauge is not None:
        how = f"gauge {say.bare(row.back_gauge * grid)}"
        hand = stop_hand(made[step])
        if hand:
            how += f", stop {say.degrees(row.angle)}, {hand} of the metal"
        elif by_marks(made[step]):
            how += " and to marks"
        by = set_by(made[step])
        sets = f" The {by} {'set' if by == 'marks' else 'sets'} the direction."
    falls = f"Falls: {lot_words(row.comes_off[first])}." + (f" Stays: {lot_words(row.left)}." if row.left else "")
    if row.each > 1:
        falls += f" {row.each} times, each from the cut before; the first is drawn."
    says = (f"{takes}: {how}", falls + sets)
    sizes = []
    for m in ends.get(step, ()) if by_marks(made[step]) else ():
        if m.size is None:
            sizes.append(f"the corner of {m.along} and {m.start}")
        else:
            sizes.append(f"{say.bare(round(m.size) * grid)} along {m.along} from {m.start}")
    alt = f"{title}, {takes}, {how}{': ' if sizes else ''}{listed(sizes)}. {falls}"
    return Shot(title=title, says=says, picture=Picture(drawing=cut_drawing(plan, layout, number, made[step]), alt=alt))
