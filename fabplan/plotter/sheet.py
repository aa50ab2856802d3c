"""Nested-sheet drawing: one cutting pattern to scale, as the sheet lies on the shear table with the face up.

Hatched metal is scrap. A cut's balloon carries its number; the black point on it shows which side goes to the back
gauge. Pieces too small to hold their own label get one on a leader. The long side of the stock always runs across the
paper, turned (never mirrored) from the layout's own frame.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from itertools import pairwise

from fabplan.nesting.model import Layout, Offcut, Placed
from fabplan.plotter import geometry, labels
from fabplan.plotter.callouts import Callout, Margins, draw_callouts
from fabplan.plotter.draft import Draft
from fabplan.plotter.measure import cap_height, extent, width
from fabplan.plotter.model import Drawing, Point, Shape, Text
from fabplan.plotter.replay import replay
from fabplan.plotter.sheet_cuts import draw_angles, edge_columns, edge_points, edge_rows, inner_balloons, outer_callouts
from fabplan.plotter.view import View
from fabplan.units import Show

MARK_LARGEST, MARK_LEAST = 17.0, 7.5
SIZE_LARGEST, SIZE_LEAST = 10.0, 7.5
INSET = 0.9  # mm between a part's border and its label
KEEP_INSET = 1.0


@dataclass(slots=True)
class Sheet:
    """What is being drawn, and where."""

    layout: Layout
    grid: int
    show: Show
    view: View
    draft: Draft = field(default_factory=Draft)

    def size(self, graduations: float) -> str:
        return labels.steps(self.show, graduations, self.grid)


def draw_sheet(
    layout: Layout, *, grid: int, show: Show, name: str, width_mm: float = 250.0, height_mm: float = 105.0
) -> Drawing:
    """Picture of a cutting pattern.

    Parameters
    ----------
    layout : Layout
    grid : int
        Nanometres in one graduation of the layout.
    show : Show
        How sizes are printed.
    name : str
        Name of the drawing (its file).
    width_mm, height_mm : float
        Paper it may take at most, mm. The drawing is as high as it needs to be.
    """
    margins = Margins()
    for _ in range(4):
        sheet = Sheet(layout, grid, show, _view(layout, margins, width_mm, height_mm))
        needed = _compose(sheet, width_mm)
        if needed == margins:
            break
        margins = needed
    view = sheet.view
    stock = f"{layout.stock}, {sheet.size(layout.width)} by {sheet.size(layout.length)} {show.unit}"
    title = f"Cutting pattern: {stock}, {len(layout.blanks)} blanks, {len(layout.cuts)} cuts"
    per_inch = view.scale * 25_400_000 / grid
    return sheet.draft.trimmed(name, title, width_mm, 25.4 / per_inch)


def _view(layout: Layout, margins: Margins, width_mm: float, height_mm: float) -> View:
    turned = layout.length > layout.width
    long, short = (layout.length, layout.width) if turned else (layout.width, layout.length)
    scale = min((width_mm - margins.left - margins.right) / long, (height_mm - margins.top - margins.bottom) / short)
    # A small piece is not blown up past half its real size: it would fill the page for nothing.
    w, h = long * scale, short * scale
    spare = width_mm - margins.left - margins.right - w
    return View(scale, margins.left + spare / 2, margins.bottom, turned, w, h)


def _compose(sheet: Sheet, width_mm: float) -> Margins:
    """Draw everything; returns the margins that were really needed."""
    layout, view, draft = sheet.layout, sheet.view, sheet.draft
    made = replay(layout)
    stock = view.rectangle(0, 0, layout.width, layout.length)
    draft.polygon(stock, None, "hatch")
    for placed in layout.blanks:
        draft.polygon(_outline(view, placed), "edge", "white")
    keeps = [o for o in layout.offcuts if o.keep]
    for offcut in keeps:
        _keep_box(sheet, offcut)
    for offcut in layout.offcuts:
        if not offcut.keep:
            draft.polygon(view.rectangle(offcut.x, offcut.y, offcut.width, offcut.length), "edge")
    first = min((m.cut.stage for m in made if m.cut.stage > 0), default=1)
    for m in made:
        pen = "cut" if m.cut.stage <= first else "edge"
        draft.line((view.point(m.cut.start), view.point(m.cut.end)), pen)  # type: ignore[arg-type]
    draft.polygon(stock, "outline")
    edges = edge_points(draft, view, made)
    balloons, late = inner_balloons(view, made, sheet.size, draft)
    callouts = outer_callouts(view, made, sheet.size) + late
    callouts += _label_parts(sheet, keeps)
    needed = draw_callouts(draft, callouts, view.left, view.bottom, view.right, view.top, width_mm)
    face = Text(at=(view.left, view.top + 4.0), text="FACE UP", size=9.0, bold=True, anchor="left")
    if draft.place([replace(face, at=(view.left, view.top + up)) for up in (4.0, 8.5, 13.0)], 0.6):
        needed = replace(needed, top=max(needed.top, 7.0))
    needed = edge_rows(draft, view, edges, needed)
    needed = _dimensions(sheet, needed)
    needed = edge_columns(draft, view, edges, needed)
    draw_angles(draft, view, made)
    for balloon in balloons:
        balloon.draw(draft)
    return needed


def _outline(view: View, placed: Placed) -> tuple[Point, ...]:
    if placed.outline:
        return tuple(view.point(p) for p in placed.outline)
    return view.rectangle(placed.x, placed.y, placed.width, placed.length)


def _keep_box(sheet: Sheet, offcut: Offcut) -> None:
    box = sheet.view.rectangle(offcut.x, offcut.y, offcut.width, offcut.length)
    sheet.draft.polygon(box, "edge", "white")
    x0, y0, x1, y1 = geometry.bounds(box)
    inset = min(KEEP_INSET, (x1 - x0) / 4, (y1 - y0) / 4)
    inner = ((x0 + inset, y0 + inset), (x1 - inset, y0 + inset), (x1 - inset, y1 - inset), (x0 + inset, y1 - inset))
    sheet.draft.add(Shape(points=inner, pen="keep"))


# labels of parts ------------------------------------------------------------------------------------------------


def _label_parts(sheet: Sheet, keeps: list[Offcut]) -> list[Callout]:
    callouts = []
    small: dict[tuple[str, float, float], list[tuple[Point, ...]]] = {}
    for placed in sheet.layout.blanks:
        outline = _outline(sheet.view, placed)
        lines = [placed.mark]
        if placed.outline is None:
            across, along = (placed.length, placed.width) if sheet.view.turned else (placed.width, placed.length)
            lines.append(f"{sheet.size(across)} × {sheet.size(along)}")
        if not _label(sheet.draft, outline, lines, MARK_LARGEST):
            _, y0, _, y1 = geometry.bounds(outline)
            small.setdefault((placed.mark, round(y0, 2), round(y1, 2)), []).append(outline)
    callouts += _small_parts(sheet, small)
    for offcut in keeps:
        box = sheet.view.rectangle(offcut.x, offcut.y, offcut.width, offcut.length)
        across, along = (offcut.length, offcut.width) if sheet.view.turned else (offcut.width, offcut.length)
        size = f"{sheet.size(across)} × {sheet.size(along)}"
        label = [offcut.label] if offcut.label else []
        lines = ["KEEP", size, *label]
        narrow = ["KEEP", f"{sheet.size(across)} ×", sheet.size(along), *label]
        x0, y0, x1, y1 = geometry.bounds(box)
        pad = KEEP_INSET + 0.3
        inner = ((x0 + pad, y0 + pad), (x1 - pad, y0 + pad), (x1 - pad, y1 - pad), (x0 + pad, y1 - pad))
        if not any(
            _stack(sheet.draft, o, t, 12.0, turned)
            for o, t, turned in ((inner, lines, False), (inner, narrow, False), (_quarter(inner), lines, True))
        ):
            callouts.append(Callout(anchor=geometry.middle(box), text=" ".join(lines), bold=True))
    return callouts


def _small_parts(sheet: Sheet, small: dict[tuple[str, float, float], list[tuple[Point, ...]]]) -> list[Callout]:
    """One callout for every heap of small parts of one mark: rows that touch share a leader with a dot in each."""
    rows = sorted(small.items(), key=lambda item: (item[0][0], -item[0][2], item[0][1]))
    heaps: list[list[tuple[tuple[str, float, float], list[tuple[Point, ...]]]]] = []
    for row in rows:
        last = heaps[-1][-1][0] if heaps else None
        if last and last[0] == row[0][0] and abs(last[1] - row[0][2]) < 1.0:
            heaps[-1].append(row)
        else:
            heaps.append([row])
    callouts = []
    view = sheet.view
    for heap in heaps:
        count = sum(len(outlines) for _, outlines in heap)
        text = heap[0][0][0] if count == 1 else f"{heap[0][0][0]}, {count} pieces"
        dots = []
        for _, outlines in heap:
            nearest = max(outlines, key=lambda o: geometry.bounds(o)[2])
            x0, _, x1, _ = geometry.bounds(nearest)
            x, y = geometry.middle(nearest)
            dots.append((x0 + 0.8 * (x1 - x0) if x1 - x0 > 30 else x, y))
        if sum(y for _, y in dots) / len(dots) < (view.bottom + view.top) / 2:
            dots.reverse()
        callouts.append(Callout(anchor=dots[0], more=tuple(dots[1:]), text=text, bold=True))
    return callouts


def _room(outline: tuple[Point, ...], at: Point, half: float) -> tuple[float, float] | None:
    """Left and right limits inside a convex outline common to the heights at.y - half and at.y + half."""
    low, high = -1e9, 1e9
    for y in (at[1] - half, at[1] + half):
        crossings = [
            x0 + (x1 - x0) * (y - y0) / (y1 - y0)
            for (x0, y0), (x1, y1) in zip(outline, outline[1:] + outline[:1], strict=True)
            if (y0 <= y) != (y1 <= y)
        ]
        if len(crossings) < 2:
            return None
        low, high = max(low, min(crossings)), min(high, max(crossings))
    return (low, high) if high > low else None


def _quarter(outline: tuple[Point, ...]) -> tuple[Point, ...]:
    return tuple((y, -x) for x, y in outline)


def _label(draft: Draft, outline: tuple[Point, ...], lines: list[str], largest: float) -> bool:
    """Set a label inside a part: first line bold and large, the rest small; drops the rest, then turns it.

    Returns False when not even the first line fits.
    """
    ways = [(outline, lines, False)] if len(lines) > 1 else []
    ways += [(outline, lines[:1], False)]
    if len(lines) > 1:
        ways.append((_quarter(outline), lines, True))
    ways.append((_quarter(outline), lines[:1], True))
    return any(_stack(draft, shape, text, largest, turned) for shape, text, turned in ways)


def _stack(draft: Draft, outline: tuple[Point, ...], lines: list[str], largest: float, turned: bool) -> bool:
    _, y0, _, y1 = geometry.bounds(outline)
    cx, cy = geometry.middle(outline)
    size = largest
    while size >= (MARK_LEAST if largest > 12 or len(lines) == 1 else SIZE_LEAST) - 1e-9:
        sizes = [size] + [max(SIZE_LEAST, min(SIZE_LARGEST, size * 0.62))] * (len(lines) - 1)
        gaps = [1.3] * (len(lines) - 1)
        high = sum(cap_height(s) for s in sizes) + sum(gaps)
        wide = max(width(t, s, i == 0) for i, (t, s) in enumerate(zip(lines, sizes, strict=True)))
        half = high / 2 + 0.7
        if y1 - y0 >= 2 * half:
            shifts = (0.0, -0.25, 0.25, -0.5, 0.5)
            spare = (y1 - y0) / 2 - half
            for up in shifts if spare > 0.5 else (0.0,):
                y = (y0 + y1) / 2 + up * 2 * spare if abs(up) else cy
                y = min(max(y, y0 + half), y1 - half)
                room = _room(outline, (cx, y), half)
                if room is None or room[1] - room[0] < wide + 2 * INSET:
                    continue
                low, high_x = room[0] + INSET + wide / 2, room[1] - INSET - wide / 2
                middle = min(max(cx, low), high_x)
                for x in dict.fromkeys((middle, low, high_x, (middle + low) / 2, (middle + high_x) / 2)):
                    if _try(draft, (x, y), lines, sizes, high, turned):
                        return True
        size -= 1.0
    return False


def _try(draft: Draft, at: Point, lines: list[str], sizes: list[float], high: float, turned: bool) -> bool:
    texts = []
    y = at[1] + high / 2
    for i, (line, size) in enumerate(zip(lines, sizes, strict=True)):
        y -= cap_height(size) / 2
        place = (-y, at[0]) if turned else (at[0], y)
        texts.append(Text(at=place, text=line, size=size, bold=i == 0, turned=90.0 if turned else 0.0))
        y -= cap_height(size) / 2 + 1.3
    if not all(draft.free(extent(t, 0.35)) for t in texts):
        return False
    for text in texts:
        draft.text(text)
    return True


# dimensions -----------------------------------------------------------------------------------------------------


def _dimensions(sheet: Sheet, needed: Margins) -> Margins:
    """Overall length below, overall width and the first rips at the left; returns the margins they need."""
    view, draft, layout = sheet.view, sheet.draft, sheet.layout
    across, along = (layout.length, layout.width) if view.turned else (layout.width, layout.length)
    below = needed.bottom + 6.0
    draft.dimension((view.left, view.bottom), (view.right, view.bottom), -below, sheet.size(across))
    levels = _rip_levels(sheet)
    out = 7.5
    if len(levels) > 2:
        for a, b in pairwise(levels):
            text = sheet.size((b - a) / view.scale)
            _side_dimension(draft, view.left, a, b, out, text)
        out += 7.5
    draft.dimension((view.left, view.bottom), (view.left, view.top), out, sheet.size(along))
    return Margins(left=out + 5.0, right=needed.right, top=needed.top, bottom=below + 2.0)


def _rip_levels(sheet: Sheet) -> list[float]:
    """Heights on paper of the straight cuts that run the whole length of the stock."""
    view = sheet.view
    levels = {round(view.bottom, 4), round(view.top, 4)}
    for cut in sheet.layout.cuts:
        (x0, y0), (x1, y1) = view.point(cut.start), view.point(cut.end)
        if abs(y0 - y1) < 1e-6 and abs(abs(x1 - x0) - view.width) < 1e-3:
            levels.add(round(y0, 4))
    return sorted(levels)


def _side_dimension(draft: Draft, left: float, low: float, high: float, out: float, text: str) -> None:
    """One link of the chain at the left; a link too short for its value leaves it to the cut's own callout."""
    if width(text, 9.0) <= high - low - 0.5:
        draft.dimension((left, low), (left, high), out, text)
    elif high - low > 5.0:
        draft.line(((left - out, low), (left - out, high)), "dimension", "both")
        for y in (low, high):
            draft.line(((left - 0.8, y), (left - out - 1.2, y)), "dimension")
    else:
        for y in (low, high):
            draft.line(((left - 0.8, y), (left - out - 1.2, y)), "dimension")
