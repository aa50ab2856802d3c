"""Labels of the parts of a nested sheet: blanks with mark and size, offcuts to keep, leaders for what is too small."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from fabplan import plane
from fabplan.nesting.model import Layout, Offcut, Placed
from fabplan.plotter.board import geometry, measure
from fabplan.plotter.board.callouts import Callout
from fabplan.plotter.board.draft import Bounds, Draft, hit
from fabplan.plotter.board.measure import CAP, MM_PER_POINT, cap_height
from fabplan.plotter.board.view import PaperView
from fabplan.plotter.model import Point, Text
from fabplan.speech.nest import offcut_name

MARK_LARGEST = 17.0
SIZES = (17.0, 15.0, 13.0, 12.0, 11.0, 10.0, 9.0, 8.0)  # points, of a mark
SIZE_LARGEST, SIZE_LEAST = 10.0, 8.0
KEEP_LARGEST = 12.0
INSET = 0.9  # mm between a part's border and its label
KEEP_INSET = 1.0
LINE_GAP = 1.3
MOST_DOTS = 6  # on one leader; more parts than that get a dot in the first and the last

Outline = tuple[Point, ...]
Way = tuple[Outline, tuple[str, ...], bool]  # outline, lines, turned a quarter
Label = tuple[Bounds, list[Text]]  # room taken, lines
Row = tuple[str, float, float]  # mark, lower and upper end on paper


@dataclass(slots=True)
class LabelledPart:
    """A part with the ways its label may be set, best first."""

    ways: tuple[Way, ...]
    largest: float
    second: float = 0.62  # size of the lines under the first, as a share of it
    spot: Label | None = None  # where the label last had room

    def fits(self, draft: Draft) -> bool:
        """Whether the label could be set; nothing is drawn."""
        self.spot = self._look(draft, over=False)
        return self.spot is not None

    def _look(self, draft: Draft, over: bool) -> Label | None:
        found = (_stack(draft, *way, self.largest, self.second, over_leaders=over) for way in self.ways)
        return next((label for label in found if label is not None), None)

    def label(self, draft: Draft) -> None:
        """Set the label; over a leader, on white, when there is no other room."""
        if self.spot is None or not draft.free(geometry.corners(self.spot[0])):
            self.spot = self._look(draft, over=False)
        over = self.spot is None
        label = self._look(draft, over=True) if over else self.spot
        for text in label[1] if label is not None else ():
            draft.text(replace(text, boxed=True) if over else text)


def part_outline(view: PaperView, placed: Placed) -> Outline:
    """A blank's outline on paper."""
    if placed.outline:
        return tuple(view.point(p) for p in placed.outline)
    return view.rectangle(placed.x, placed.y, placed.width, placed.length)


def sort_parts(
    draft: Draft, view: PaperView, layout: Layout, size: Callable[[float], str]
) -> tuple[list[LabelledPart], list[Callout]]:
    """Parts that hold their own label, and callouts for those that do not."""
    parts, callouts = [], []
    small: dict[Row, list[Outline]] = {}
    labelled: set[Row] = set()
    for placed in layout.blanks:
        outline = part_outline(view, placed)
        lines = [placed.mark]
        if placed.outline is None:
            across, along = (placed.length, placed.width) if view.turned else (placed.width, placed.length)
            lines.append(f"{size(across)} × {size(along)}")
        part = LabelledPart(_ways(outline, lines), MARK_LARGEST)
        _, y0, _, y1 = plane.bounds(outline)
        row = (placed.mark, round(y0, 2), round(y1, 2))
        if part.fits(draft):
            parts.append(part)
            labelled.add(row)
        else:
            small.setdefault(row, []).append(outline)
    # a part beside a labelled one of its kind, in one strip, needs no label of its own
    callouts += _small_parts(view, {row: found for row, found in small.items() if row not in labelled})
    for offcut in layout.offcuts:
        if offcut.keep:
            part, text, middle = _keep(view, offcut, size)
            if part.fits(draft):
                parts.append(part)
            else:
                callouts.append(Callout(anchor=middle, text=text, bold=True))
    return parts, callouts


def _ways(outline: Outline, lines: list[str]) -> tuple[Way, ...]:
    """Mark and size, then the mark alone; turned a quarter when that fails."""
    all_lines, mark = tuple(lines), (lines[0],)
    ways: list[Way] = []
    for shape, turned in ((outline, False), (_quarter(outline), True)):
        if len(lines) > 1:
            ways.append((shape, all_lines, turned))
        ways.append((shape, mark, turned))
    return tuple(ways)


def _keep(view: PaperView, offcut: Offcut, size: Callable[[float], str]) -> tuple[LabelledPart, str, Point]:
    box = view.rectangle(offcut.x, offcut.y, offcut.width, offcut.length)
    across, along = (offcut.length, offcut.width) if view.turned else (offcut.width, offcut.length)
    keep = f"KEEP {offcut_name(offcut)}".rstrip()
    lines = (keep, f"{size(across)} × {size(along)}")
    narrow = (*keep.split(" ", 1), f"{size(across)} ×", size(along))
    x0, y0, x1, y1 = plane.bounds(box)
    pad = KEEP_INSET + 0.3
    inner = ((x0 + pad, y0 + pad), (x1 - pad, y0 + pad), (x1 - pad, y1 - pad), (x0 + pad, y1 - pad))
    part = LabelledPart(
        ((inner, lines, False), (inner, narrow, False), (_quarter(inner), lines, True)), KEEP_LARGEST, 0.8
    )
    return part, " ".join(lines), plane.middle(box)


def _quarter(outline: Outline) -> Outline:
    return tuple((y, -x) for x, y in outline)


def _small_parts(view: PaperView, small: dict[Row, list[Outline]]) -> list[Callout]:
    """One callout for every heap of small parts of one mark: rows that touch share a leader with a dot in each."""
    rows = sorted(small.items(), key=lambda item: (item[0][0], -item[0][2], item[0][1]))
    heaps: list[list[tuple[Row, list[Outline]]]] = []
    for row in rows:
        last = heaps[-1][-1][0] if heaps else None
        if last and last[0] == row[0][0] and abs(last[1] - row[0][2]) < 1.0:
            heaps[-1].append(row)
        else:
            heaps.append([row])
    callouts = []
    for heap in heaps:
        mark = heap[0][0][0]
        count = sum(len(outlines) for _, outlines in heap)
        dots = []
        for _, outlines in heap:
            last_one = max(outlines, key=lambda o: plane.bounds(o)[2])
            x0, _, x1, _ = plane.bounds(last_one)
            x, y = plane.middle(last_one)
            dots.append((x0 + 0.8 * (x1 - x0) if x1 - x0 > 30 else x, y))
        if sum(y for _, y in dots) / len(dots) < (view.bottom + view.top) / 2:
            dots.reverse()
        if len(dots) > MOST_DOTS:
            dots = [dots[0], dots[-1]]
        text = mark if count == 1 else f"{mark}, {count} pieces"
        callouts.append(Callout(anchor=dots[0], more=tuple(dots[1:]), text=text, bold=True))
    return callouts


def _room(outline: Outline, y: float, half: float) -> tuple[float, float] | None:
    """Left and right limits inside a convex outline common to the heights y - half and y + half."""
    low, high = -1e9, 1e9
    for level in (y - half, y + half):
        crossings = [
            x0 + (x1 - x0) * (level - y0) / (y1 - y0)
            for (x0, y0), (x1, y1) in zip(outline, outline[1:] + outline[:1], strict=True)
            if (y0 <= level) != (y1 <= level)
        ]
        if len(crossings) < 2:
            return None
        low, high = max(low, min(crossings)), min(high, max(crossings))
    return (low, high) if high > low else None


def _stack(
    draft: Draft,
    outline: Outline,
    lines: tuple[str, ...],
    turned: bool,
    largest: float,
    second: float,
    *,
    over_leaders: bool = False,
) -> Label | None:
    """Lines set under one another inside an outline, the first bold and as large as fits; None when they do not fit."""
    x0, y0, x1, y1 = plane.bounds(outline)
    cx, cy = plane.middle(outline)
    ems = [measure.ems(line, i == 0) * MM_PER_POINT for i, line in enumerate(lines)]
    gaps, inside = LINE_GAP * (len(lines) - 1), x1 - x0 - 2 * INSET
    shown = tuple((-y, x) for x, y in outline) if turned else outline
    near = draft.taken.near(shown)
    if not over_leaders:
        near += draft.crossed.near(shown)
    for size in (s for s in SIZES if s <= largest):
        sizes = [size] + [max(SIZE_LEAST, min(SIZE_LARGEST, size * second))] * (len(lines) - 1)
        wide = max(em * s for em, s in zip(ems, sizes, strict=True))
        high = CAP * MM_PER_POINT * sum(sizes) + gaps
        half = high / 2 + 0.7
        spare = (y1 - y0) / 2 - half
        if spare < 0 or wide > inside:
            continue
        for up in (0.0, -0.5, 0.5, -1.0, 1.0) if spare > 0.5 else (0.0,):
            y = cy if up == 0.0 else (y0 + y1) / 2 + up * spare
            y = min(max(y, y0 + half), y1 - half)
            room = _room(outline, y, half)
            if room is None or room[1] - room[0] < wide + 2 * INSET:
                continue
            low, top = room[0] + INSET + wide / 2, room[1] - INSET - wide / 2
            middle = min(max(cx, low), top)
            for x in dict.fromkeys((middle, low, top, (middle + low) / 2, (middle + top) / 2)):
                block = _block((x, y), wide, high, turned)
                if not hit(near, block):
                    return block, _texts((x, y), lines, sizes, high, turned)
    return None


def _block(at: Point, wide: float, high: float, turned: bool) -> Bounds:
    """Upright rectangle on paper round all lines of a label."""
    x0, y0, x1, y1 = at[0] - wide / 2 - 0.35, at[1] - high / 2 - 0.6, at[0] + wide / 2 + 0.35, at[1] + high / 2 + 0.35
    return (-y1, x0, -y0, x1) if turned else (x0, y0, x1, y1)


def _texts(at: Point, lines: tuple[str, ...], sizes: list[float], high: float, turned: bool) -> list[Text]:
    texts = []
    y = at[1] + high / 2
    for i, (line, size) in enumerate(zip(lines, sizes, strict=True)):
        y -= cap_height(size) / 2
        place = (-y, at[0]) if turned else (at[0], y)
        texts.append(Text(at=place, text=line, size=size, bold=i == 0, turned=90.0 if turned else 0.0))
        y -= cap_height(size) / 2 + LINE_GAP
    return texts
