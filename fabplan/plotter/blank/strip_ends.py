"""Blank of a section with turned ends: both ends true to scale, the strip broken between them.

What is snipped off is hatched; bends keep their numbers below, folds of the ends have theirs beside their lines.
"""

from __future__ import annotations

from fabplan import plane
from fabplan.blanks.model import FlatPattern, Point
from fabplan.plotter.blank import strip
from fabplan.plotter.board import geometry, labels
from fabplan.plotter.board.draft import Draft, spread
from fabplan.plotter.board.measure import extent, width
from fabplan.plotter.model import Drawing, Text
from fabplan.units import NM_PER_INCH, Show

BODY = 22.0  # mm of strip between its ends, at least
LEFT, RIGHT, BOTTOM = 26.0, 14.0, 12.0


def draw_strip_ends(
    pattern: FlatPattern, *, show: Show, name: str, width_mm: float = 160.0, height_mm: float = 110.0
) -> Drawing:
    """Picture of the flat strip seen from the face, start edge at the left, end A below, end B on top."""
    assert pattern.section is not None
    draft = Draft()
    across, along = (n * pattern.grid / NM_PER_INCH for n in (pattern.width_units, pattern.length_units))
    marks = pattern.section.marks
    low, high = _reaches(pattern, along)
    top = 20.0
    scale = min((width_mm - LEFT - RIGHT) / across, 25.4, (height_mm - BOTTOM - top - BODY) / max(low + high, 1e-6))
    rows = strip.mark_rows([m * scale for m in marks], [labels.bare(show, m) for m in marks])
    left = LEFT + (width_mm - LEFT - RIGHT - across * scale) / 2
    body = max(BODY, min(height_mm - BOTTOM - top - (low + high) * scale, 30.0))
    y1 = BOTTOM + (low + high) * scale + body
    cut = (BOTTOM + low * scale + y1 - high * scale) / 2

    def at(p: Point) -> Point:
        y = BOTTOM + p[1] * scale if p[1] < along / 2 else y1 - (along - p[1]) * scale
        return left + p[0] * scale, y

    x1 = left + across * scale
    for notch in pattern.notches:
        draft.polygon((at(p) for p in notch.removed), "former", "hatch")
    ring = [at(p) for p in pattern.snipped]
    draft.polygon(ring, "outline")
    for a, b in zip(ring, [*ring[1:], ring[0]], strict=True):
        draft.take(geometry.strip_box(a, b, 0.4))
    for fold in pattern.folds:
        a, b = at(fold.line[0]), at(fold.line[1])
        draft.line((a, b), "fold")
        draft.take(geometry.strip_box(a, b, 0.3))
    _end_folds(draft, pattern, at)
    draft.polygon(
        ((left - 1.0, cut - 0.9), (x1 + 1.0, cut - 0.9), (x1 + 1.0, cut + 0.9), (left - 1.0, cut + 0.9)), None, "white"
    )
    strip.break_line(draft, left, x1, cut - 0.9, 1.0)
    strip.break_line(draft, left, x1, cut + 0.9, 1.0)
    draft.take(geometry.strip_box((left, cut), (x1, cut), 1.6))
    _running(draft, pattern, show, rows, (left, y1), scale)
    level = y1 + 10.0 + 6.5 * (max(rows, default=-1) + 1)
    draft.dimension((left, y1), (x1, y1), level - y1, labels.bare(show, across), size=10.5, bold=True)
    lows = [left + m * scale for m in marks]
    room = [width(str(k), strip.NUMBER_SIZE, True) / 2 + 0.4 for k in range(1, len(marks) + 1)]
    spots = spread(lows, room, left - 4.0, x1 + 4.0) or lows
    for k, x in enumerate(spots, 1):
        draft.text(Text(at=(x, BOTTOM - 5.5), text=str(k), size=strip.NUMBER_SIZE, bold=True))
    strip.edge_names(draft, left, x1, BOTTOM + low * scale, y1 - high * scale)
    for y, text in ((BOTTOM + 1.0, "end A"), (y1 - 3.0, "end B")):
        draft.text(Text(at=(left - 9.0, y), text=text, size=strip.NOTE_SIZE, bold=True))
    strip.strip_name(
        draft, pattern, left, x1, BOTTOM + low * scale, y1 - high * scale, labels.bare(show, along), BOTTOM
    )
    title = f"Blank {pattern.mark}, flat strip seen from the face"
    return draft.trimmed(name, title, width_mm, 25.4 / scale)


def _reaches(pattern: FlatPattern, along: float) -> tuple[float, float]:
    """How much of the length at each end is drawn to scale: what is turned, notched or cut back."""
    ys = [y for _, y in pattern.snipped]
    return max(y for y in ys if y < along / 2), along - min(y for y in ys if y >= along / 2)


def _end_folds(draft: Draft, pattern: FlatPattern, at, /) -> None:  # type: ignore[no-untyped-def]
    for fold in pattern.end_folds:
        a, b = at(fold.line[0]), at(fold.line[1])
        draft.line((a, b), "fold")
        draft.take(geometry.strip_box(a, b, 0.3))
    for fold in pattern.end_folds:
        x, y = plane.middle([at(p) for p in fold.flap])
        choices = [
            Text(at=(x + dx, y - 1.3 + dy), text=str(fold.edge), size=size, bold=True)
            for size in (11.0, 8.5)
            for dx in (0.0, 3.0, -3.0, 6.0, -6.0)
            for dy in (0.0, 2.0, -2.0, 5.0, -5.0)
        ]
        if not draft.place(choices, 0.2):
            draft.text(choices[-1])


def _running(draft: Draft, pattern: FlatPattern, show: Show, rows: list[int], corner: Point, scale: float) -> None:
    """Running sizes of the bend marks from the start edge, over the strip."""
    assert pattern.section is not None
    left, y1 = corner
    level = y1 + 10.0
    draft.line(((left, y1 + 0.8), (left, level + 1.0 + max(rows, default=0) * 6.5)), "dimension")
    draft.text(Text(at=(left - 2.6, level), text="0", size=strip.MARK_SIZE))
    for mark, row in zip(pattern.section.marks, rows, strict=True):
        x = left + mark * scale
        draft.line(((x, y1 + 0.8), (x, level + row * 6.5 + 1.0)), "dimension")
        draft.line(((left, level + row * 6.5), (x, level + row * 6.5)), "dimension", "end")
        value = labels.bare(show, mark)
        roomy = mark * scale > width(value, strip.MARK_SIZE, True) + 2 * strip.BESIDE
        spot = (x - strip.BESIDE if roomy else x + strip.BESIDE, level + row * 6.5 + 2.6)
        text = Text(at=spot, text=value, size=strip.MARK_SIZE, bold=True, anchor="right" if roomy else "left")
        draft.take(extent(text, 0.2))
        draft.text(text)
