"""Pictures of cuts that the back gauge alone cannot set: slanted ones and those to scribed points, on their metal."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from math import inf

from fabplan.nesting.model import Layout
from fabplan.packet.model import Picture, Shot, Shots
from fabplan.packet.pages.cut_rows import CutRow
from fabplan.packet.pages.scribe import Marking, markings
from fabplan.packet.setting.page_estimate import SHOT_GAP, shot_height
from fabplan.plane import bounds
from fabplan.plotter.model import Drawing
from fabplan.plotter.sheet.cut_lie import alike, by_marks, stop_hand
from fabplan.plotter.sheet.replay import MadeCut, is_rectangle, replay
from fabplan.speech.cuts import Take, lot_words, takes_words, turn_words
from fabplan.speech.format import Say, listed, spans

SCRIBED = "scribed points"
SQUARE = 90.0  # degrees
GAP, DOWN = SHOT_GAP  # mm between pictures, across and down
ROOMY, NARROW = 36.0, 30.0  # mm a picture is drawn in; the least it is given with its words
WIDTHS = (34.0, 38.0, 42.0, 47.0, 53.0, 60.0, 70.0, 85.0)  # mm
MOST_MORE = 8.0  # mm a picture is given beyond what it needs
HANDS = {"left": "L", "right": "R"}


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
    groups: dict[Hashable, list[list[tuple[CutRow, int]]]] = {}
    in_turn: list[list[tuple[CutRow, int]]] = []
    for row in rows:
        if unset(row):
            for at in range(0, len(row.steps), row.each):
                some = groups.setdefault((row.each, row.comes_off[at], row.left), [])
                cut = made[row.steps[at]]
                found = next((g for g in some if alike(made[g[0][0].steps[g[0][1]]], cut)), None)
                if found is None:
                    found = []
                    some.append(found)
                    in_turn.append(found)
                found.append((row, at))
    return [_picture(found, made, ends, grid, say) for found in in_turn]


def shots(
    pictures: Sequence[CutPicture],
    width: float,
    *,
    draw: Callable[[MadeCut, float], Drawing],
    tick: bool,
    larger: float = 1.0,
) -> Shots:
    """The pictures in rows of `width` mm, each as wide as serves the rows best; `draw` draws a cut in so many mm.

    `larger` is how many times as wide a picture may be as where there is no room.
    """

    def fitted(made: MadeCut) -> Drawing:
        drawn = draw(made, min(width, ROOMY * larger))
        return drawn if drawn.width <= width else draw(made, width)

    found = tuple(
        Shot(title=p.title, sets=p.sets, says=p.says, picture=Picture(drawing=fitted(p.made), alt=p.alt), tick=tick)
        for p in pictures
    )
    return Shots(name="Cuts to scribed points and on slanted metal", shots=found, rows=in_rows(found, width))


def in_rows(found: Sequence[Shot], width: float) -> tuple[tuple[float, ...], ...]:
    """Rows of small pictures in their order, so that all rows together are as low as can be.

    Parameters
    ----------
    found : sequence of Shot
    width : float
        Width of a row in mm.

    Returns
    -------
    tuple of tuple of float
        Widths in mm of the pictures of every row.
    """
    ways = [_ways(shot, width) for shot in found]
    best: list[tuple[float, int]] = [(0.0, 0)]  # of the first so many: height of their rows, where the last begins
    for last in range(1, len(found) + 1):
        tries = []
        for first in range(last - 1, -1, -1):
            high = _row_height(ways[first:last], width)
            if high is None:
                break
            tries.append((best[first][0] + high + DOWN, first))
        best.append(min(tries))
    rows: list[tuple[float, ...]] = []
    last = len(found)
    while last:
        first = best[last][1]
        high = _row_height(ways[first:last], width) or 0.0
        rows.append(_spread([_narrowest(way, high) for way in ways[first:last]], width))
        last = first
    return tuple(reversed(rows))


Ways = tuple[tuple[float, float], ...]


def _ways(shot: Shot, width: float) -> Ways:
    """Widths a picture may be given, and its height with each, both mm: the narrower, the higher."""
    least = min(width, max(NARROW, shot.picture.drawing.width))
    out: list[tuple[float, float]] = []
    for wide in (least, *(w for w in WIDTHS if least < w <= width)):
        high = shot_height(shot, wide)
        if not out or high < out[-1][1] - 0.1:
            out.append((wide, high))
    return tuple(out)


def _narrowest(ways: Ways, high: float) -> float:
    return next((wide for wide, needs in ways if needs <= high + 1e-9), inf)


def _row_height(ways: Sequence[Ways], width: float) -> float | None:
    """Least height of a row; None when these do not stand side by side at all."""
    free = width - GAP * (len(ways) - 1)
    for high in sorted({needs for way in ways for _, needs in way}):
        if sum(_narrowest(way, high) for way in ways) <= free + 1e-9:
            return high
    return None


def _spread(wides: Sequence[float], width: float) -> tuple[float, ...]:
    """Widths with what is left of a row given to all alike, up to a point."""
    more = (width - GAP * (len(wides) - 1) - sum(wides)) / len(wides)
    return tuple(round(wide + max(0.0, min(more, MOST_MORE)), 2) for wide in wides)


def _picture(
    same: Sequence[tuple[CutRow, int]],
    made: dict[int, MadeCut],
    ends: dict[int, list[Marking]],
    grid: int,
    say: Say,
) -> CutPicture:
    """Cuts that are alike: each a row and where in it the first cut on a piece stands."""
    row, first = same[0]
    step = row.steps[first]
    steps = tuple(sorted(s for r, at in same for s in r.steps[at : at + r.each]))
    in_turn = sorted(same, key=lambda one: one[0].steps[one[1]])
    takes = takes_words([r.takes[at // r.each] for r, at in in_turn])
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
            sets += f"   {say.degrees(row.angle)}\u00a0{HANDS[hand]}"
        elif by_marks(made[step]):
            sets += f" and {SCRIBED}"
    falls = f"Falls: {lot_words(row.comes_off[first])}." + (f" Stays: {lot_words(row.left)}." if row.left else "")
    turns = {r.turned for r, _ in same}
    says = takes + size + (turn_words(turns.pop()) if len(turns) == 1 else "")
    if row.each > 1:
        says += f"; {row.each} times, each from the cut before"
    says += f". {falls}"
    sizes = []
    for m in ends.get(step, ()) if by_marks(made[step]) else ():
        if m.size is None:
            sizes.append(f"the corner of {m.along} and {m.start}")
        else:
            sizes.append(f"{say.bare(round(m.size) * grid)} along {m.along} from {m.start}")
    alt = f"Cut {spans(steps)}, {says} {sets}{': ' if sizes else ''}{listed(sizes)}."
    return CutPicture(steps=steps, made=made[step], sets=sets, says=says, alt=alt)
