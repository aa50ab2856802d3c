"""Blank of a bent section: the flat strip across its bends, its length broken, every bend line numbered.

Bend marks are measured from the start edge (running dimensions, ISO 129-1), so that all can be laid off with one hold
of the rule.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from fabplan.blanks.model import FlatPattern
from fabplan.plotter.board import geometry, labels
from fabplan.plotter.board.draft import Draft, spread
from fabplan.plotter.board.measure import extent, width
from fabplan.plotter.board.rolling import rolled_arrow
from fabplan.plotter.model import Drawing, Point, Text
from fabplan.units import NM_PER_INCH, Show

NUMBER_SIZE = 13.0
MARK_SIZE = 9.0
NOTE_SIZE = 8.5
BESIDE = 0.8  # mm between a running size and its line


def draw_strip(
    pattern: FlatPattern,
    *,
    show: Show,
    name: str,
    width_mm: float = 160.0,
    height_mm: float = 110.0,
    rolled: Sequence[float] = (),
) -> Drawing:
    """Picture of the flat strip of a section, seen from the face, start edge at the left; an arrow for each rolling
    direction in `rolled`."""
    assert pattern.section is not None
    draft = Draft()
    inch = pattern.grid / NM_PER_INCH
    across, along = pattern.width_units * inch, pattern.length_units * inch
    marks = pattern.section.marks if pattern.far is None else pattern.far.marks  # those at the top: of end B
    near = pattern.section.marks
    widths = (across, across) if pattern.far is None else (pattern.outline[-1][0], pattern.outline[0][0])
    left, right, bottom = 26.0, 14.0, 12.0 if pattern.far is None else 20.0
    scale = min((width_mm - left - right) / across, 25.4)
    rows = mark_rows([m * scale for m in marks], [labels.bare(show, m) for m in marks])
    top = 14.0 + 6.5 * (max(rows, default=0) + 1)
    high = min(height_mm - top - bottom, 62.0)
    left += (width_mm - left - right - across * scale) / 2
    x0, x1, y1 = left + widths[0] * scale, left + widths[1] * scale, bottom + high
    draft.line(((left, bottom), (left, y1)), "outline")
    draft.line(((x0, bottom), (x1, y1)), "outline")
    for x, y, up in ((x0, bottom, 1.0), (x1, y1, -1.0)):
        if pattern.far is None:
            break_line(draft, left, x, y, up)
        else:
            draft.line(((left, y), (x, y)), "outline")
    for a, b in ((left, left), (x0, x1)):
        draft.take(geometry.strip_box((a, bottom), (b, y1), 0.6))
    level = y1 + 10.0
    zero = Text(at=(left - 2.6, level), text="0", size=MARK_SIZE)
    draft.line(((left, y1 + 0.8), (left, level + 1.0)), "dimension")
    draft.text(zero)
    lows = [left + m * scale for m in near]
    room = [width(str(k), NUMBER_SIZE, True) / 2 + 0.4 for k in range(1, len(near) + 1)]
    spots = spread(lows, room, left - 4.0, left + max(widths) * scale + 4.0) or lows
    for k, (mark, fold, row) in enumerate(zip(marks, pattern.folds, rows, strict=True), 1):
        x, low = left + mark * scale, lows[k - 1]
        draft.line(((low, bottom - 0.5), (x, y1 + 0.5)), "fold")
        draft.take(geometry.strip_box((low, bottom), (x, y1), 0.3))
        draft.text(Text(at=(spots[k - 1], bottom - 5.5), text=str(k), size=NUMBER_SIZE, bold=True))
        draft.line(((x, y1 + 0.8), (x, level + row * 6.5 + 1.0)), "dimension")
        draft.line(((left, level + row * 6.5), (x, level + row * 6.5)), "dimension", "end")
        value = labels.bare(show, mark)
        roomy = mark * scale > width(value, MARK_SIZE, True) + 2 * BESIDE
        spot = (x - BESIDE if roomy else x + BESIDE, level + row * 6.5 + 2.6)
        draft.text(Text(at=spot, text=value, size=MARK_SIZE, bold=True, anchor="right" if roomy else "left"))
        words = [f"turned {labels.degrees(fold.turned)}", f"to the {fold.toward}"]
        if fold.hem and not pattern.section.hem_at(k - 1):
            words = ["folded flat back", f"to the {fold.toward}"]
        elif fold.hem:
            kind = "open hem" if fold.gap > 0 else "closed hem"
            words = [f"{kind} {labels.bare(show, fold.width)}", f"to the {fold.toward}"]
        _along(draft, ((x + low) / 2, (bottom + y1) / 2), words, y1 - bottom)
    draft.line(((left, level), (left, level + max(rows, default=0) * 6.5 + 1.0)), "dimension")
    edge_names(draft, left, max(x0, x1), bottom, y1)
    total = labels.bare(show, widths[1])
    if pattern.far is not None:
        draft.dimension((left, bottom), (x0, bottom), -14.0, labels.bare(show, widths[0]), size=10.5, bold=True)
        for y, text in ((bottom - 14.0, "end A"), (level, "end B")):
            draft.text(Text(at=(left - 11.0, y), text=text, size=NOTE_SIZE, bold=True))
    draft.dimension((left, y1), (x1, y1), level - y1 + 6.5 * (max(rows, default=-1) + 1), total, size=10.5, bold=True)
    strip_name(draft, pattern, left, min(x0, x1), bottom, y1, labels.bare(show, along))
    for way in rolled:
        rolled_arrow(draft, ((left, bottom), (x0, bottom), (x1, y1), (left, y1)), way, outside=True, word=True)
    title = f"Blank {pattern.mark}, flat strip seen from the face"
    return draft.trimmed(name, title, width_mm, 25.4 / scale)


def mark_rows(at: list[float], texts: list[str]) -> list[int]:
    """Row of every running size. A value stands left of its own line, above the rows of those it would lie over."""
    rows: list[int] = []
    for k, (x, text) in enumerate(zip(at, texts, strict=True)):
        start = x - width(text, MARK_SIZE, True) - 2 * BESIDE
        ends = [
            at[j] if rows[j] else at[j] + (2 * BESIDE + width(texts[j], MARK_SIZE, True) if j == 0 else 0.0)
            for j in range(k)
        ]
        crowded = [rows[j] for j in range(k) if ends[j] > start]
        rows.append(1 + max(crowded) if crowded else 0)
    return rows


def break_line(draft: Draft, x0: float, x1: float, y: float, up: float) -> None:
    """A break line across the strip: narrow continuous with a zigzag (ISO 128-2)."""
    step = (x1 - x0) / 2
    zig = min(1.6, step / 3)
    m = x0 + step
    points: list[Point] = [
        (x0 - 1.2, y),
        (m - zig, y),
        (m - zig / 2, y + up * 1.5),
        (m + zig / 2, y - up * 1.5),
        (m + zig, y),
        (x1 + 1.2, y),
    ]
    draft.line(points, "dimension")


def _along(draft: Draft, at: Point, words: list[str], room: float) -> None:
    """Words along a bend line, on whichever side is free."""
    for lines in ([" ".join(words)], words):
        if max(width(w, NOTE_SIZE) for w in lines) > room - 3:
            continue
        for side in (1.0, -1.0):
            texts = []
            for i, line in enumerate(lines):
                order = i if side > 0 else len(lines) - 1 - i
                x = at[0] + side * (2.4 + 3.8 * order)
                texts.append(Text(at=(x, at[1]), text=line, size=NOTE_SIZE, turned=90.0))
            if all(draft.free(extent(t, 0.25)) for t in texts):
                for text in texts:
                    draft.text(text)
                return


def edge_names(draft: Draft, x0: float, x1: float, y0: float, y1: float) -> None:
    edge = " edge" if y1 - y0 > 14.0 else ""  # a low strip has room for the one word
    for x, text, side in ((x0, f"start{edge}", -1.0), (x1, f"finish{edge}", 1.0)):
        draft.text(Text(at=(x + side * 3.2, (y0 + y1) / 2), text=text, size=NOTE_SIZE, turned=90.0))


def strip_name(
    draft: Draft,
    pattern: FlatPattern,
    x0: float,
    x1: float,
    y0: float,
    y1: float,
    along: str,
    below: float | None = None,
) -> None:
    """Mark, the side that is seen and the strip's length, in the widest space between bend lines."""
    assert pattern.section is not None
    marks, across = pattern.section.marks, max(p[0] for p in pattern.outline)
    if pattern.far is not None:  # the words keep clear of lines that lean
        across = min(pattern.outline[0][0], pattern.outline[-1][0])
        marks = tuple(map(min, marks, pattern.far.marks))
    scale = (x1 - x0) / across
    edges = [x0, *(x0 + m * scale for m in marks), x1]
    spaces = sorted(pairwise(edges), key=lambda s: (s[0] - s[1], s[0]))
    long_text = f"{along} long"
    for size in (20.0, 14.0, 10.0):
        small = max(8.0, size * 0.5)
        for a, b in spaces:
            for share in (0.78, 0.22, 0.5):
                for x in ((a + b) / 2, (a + b) / 2 - 2.5, (a + b) / 2 + 3.0):
                    y = y0 + (y1 - y0) * share
                    texts = [
                        Text(at=(x, y), text=labels.clipped(pattern.mark), size=size, bold=True),
                        Text(at=(x, y - size * 0.28 - 2.2), text="FACE", size=small, bold=True),
                        Text(at=(x, y - size * 0.28 - 3.4 - small * 0.3), text=long_text, size=NOTE_SIZE),
                    ]
                    if all(draft.free(extent(t, 0.5)) for t in texts) and all(
                        a < p[0] < b for t in texts for p in extent(t, 0.5)
                    ):
                        for text in texts:
                            draft.text(text)
                        return
    draft.text(
        Text(
            at=(geometry.between((x0, 0), (x1, 0), 0.5)[0], (y0 if below is None else below) - 10.5),
            text=f"{labels.clipped(pattern.mark)}, FACE, {long_text}",
            size=9.0,
            bold=True,
        )
    )
