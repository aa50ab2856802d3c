"""Nested-sheet drawing: one cutting layout to scale, as the sheet lies on the shear table with the face up.

Hatched metal is scrap. A cut's balloon carries its number; the black point on it shows which side goes to the back
gauge. Pieces too small to hold their own label get one on a leader. The long side of the stock always runs across the
paper, turned (never mirrored) from the layout's own frame.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field, replace
from itertools import pairwise

from fabplan import plane
from fabplan.nesting.model import Layout, Offcut
from fabplan.plotter.board import labels
from fabplan.plotter.board.callouts import Balloon, Margins, draw_callouts
from fabplan.plotter.board.draft import Draft
from fabplan.plotter.board.measure import width
from fabplan.plotter.board.rolling import rolled_arrow
from fabplan.plotter.board.view import PaperView
from fabplan.plotter.model import Drawing, Point, Shape, Text
from fabplan.plotter.sheet.cuts import Setting, inner_balloons, outer_callouts, place_settings, walls_of
from fabplan.plotter.sheet.edges import edge_columns, edge_points, edge_rows
from fabplan.plotter.sheet.parts import KEEP_INSET, LabelledPart, part_outline, sort_parts
from fabplan.plotter.sheet.replay import MadeCut, replay
from fabplan.units import Show

MOST_TRIES = 10  # at margins; two or three do nearly always


@dataclass(slots=True)
class Sheet:
    """What is being drawn, and where."""

    layout: Layout
    grid: int
    show: Show
    view: PaperView
    made: tuple[MadeCut, ...]
    draft: Draft = field(default_factory=Draft)

    said: dict[float, str] = field(default_factory=dict)

    def size(self, graduations: float) -> str:
        """A size in words; the same few come by the hundred."""
        words = self.said.get(graduations)
        if words is None:
            words = self.said[graduations] = labels.steps(self.show, graduations, self.grid)
        return words


def draw_sheet(
    layout: Layout,
    *,
    grid: int,
    show: Show,
    name: str,
    width_mm: float = 250.0,
    height_mm: float = 105.0,
    rolled: tuple[Collection[str], float] = ((), 90.0),
) -> Drawing:
    """Picture of a cutting layout.

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
    rolled : tuple of (marks, degrees)
        The blanks that get an arrow for the rolling direction, and how that runs in the layout's own frame.
    """
    margins = Margins()
    made = replay(layout)
    for tries in range(MOST_TRIES):
        sheet = Sheet(layout, grid, show, _view(layout, margins, width_mm, height_mm), made)
        needed, inside = _compose(sheet, width_mm, height_mm)
        if needed.within(margins):
            break
        margins = margins.widened(needed, spare=1.5 * max(0, tries - 1))
    inside.label(sheet)
    view = sheet.view
    for placed in layout.blanks:
        if placed.mark in rolled[0]:
            rolled_arrow(
                sheet.draft, part_outline(view, placed), (rolled[1] + 90.0) % 180 if view.turned else rolled[1]
            )
    stock = f"{layout.stock}, {sheet.size(layout.width)} by {sheet.size(layout.length)} {show.unit}"
    title = f"Cutting layout: {stock}, {len(layout.blanks)} blanks, {len(layout.cuts)} cuts"
    per_inch = view.scale * 25_400_000 / grid
    return sheet.draft.trimmed(name, title, width_mm, 25.4 / per_inch)


def _view(layout: Layout, margins: Margins, width_mm: float, height_mm: float) -> PaperView:
    turned = layout.length > layout.width
    long, short = (layout.length, layout.width) if turned else (layout.width, layout.length)
    room = width_mm - margins.left - margins.right
    # callouts may make the drawing higher than asked, but never the metal too small to see
    scale = min(
        max(room, 0.4 * width_mm) / long, max(height_mm - margins.top - margins.bottom, 0.5 * height_mm) / short
    )
    w, h = long * scale, short * scale
    return PaperView(scale, margins.left + max(0.0, room - w) / 2, margins.bottom, turned, w, h)


@dataclass(frozen=True, slots=True)
class Inside:
    """What goes inside the metal's outline once the margins are settled."""

    parts: list[LabelledPart]
    settings: list[Setting]
    balloons: list[Balloon]
    borders: list[tuple[Point, Point]]

    def label(self, sheet: Sheet) -> None:
        """Label the parts, set the settings beside their balloons, draw the balloons last."""
        draft, view = sheet.draft, sheet.view
        walls = walls_of(view, sheet.made, self.borders)
        # words with the angle of a slant are the longest: they go before the labels
        special = [s for s in self.settings if not s[1].replace("⁄", "").replace(" ", "").replace(".", "").isdigit()]
        place_settings(draft, view, special, walls)
        for part in self.parts:
            part.label(draft)
        place_settings(draft, view, [s for s in self.settings if s not in special], walls)
        for balloon in self.balloons:
            balloon.draw(draft)


def _compose(sheet: Sheet, width_mm: float, height_mm: float) -> tuple[Margins, Inside]:
    """Draw everything but the words inside the metal; returns the margins that were really needed, and those words."""
    layout, view, draft = sheet.layout, sheet.view, sheet.draft
    made = sheet.made
    stock = view.rectangle(0, 0, layout.width, layout.length)
    draft.polygon(stock, None, "hatch")
    for placed in layout.blanks:
        draft.polygon(part_outline(view, placed), "edge", "white")
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
    borders = _borders(sheet)
    balloons, settings, late = inner_balloons(view, made, sheet.size, draft)
    callouts = outer_callouts(view, made, sheet.size) + late
    parts, small = sort_parts(draft, view, layout, sheet.size)
    callouts += small
    needed = draw_callouts(draft, callouts, view.left, view.bottom, view.right, view.top, width_mm, height_mm)
    needed = _side_up(draft, view, needed)
    needed = edge_rows(draft, view, edges, needed)
    needed = _dimensions(sheet, needed)
    needed = edge_columns(draft, view, edges, needed)
    return needed, Inside(parts, settings, balloons, borders)


def _side_up(draft: Draft, view: PaperView, needed: Margins) -> Margins:
    """The words FACE UP over the left end of the picture."""
    text = Text(at=(view.left, view.top), text="FACE UP", size=9.0, bold=True, anchor="left")
    spots = (
        (view.left + k * 4.0, view.top + up) for up in (4.0, 8.5, 13.0, 17.5, 22.0, 26.5, 31.0, 40.0) for k in range(4)
    )
    placed = draft.place([replace(text, at=at) for at in spots], 0.6)
    return replace(needed, top=max(needed.top, placed.at[1] - view.top + 3.0)) if placed else needed


def _keep_box(sheet: Sheet, offcut: Offcut) -> None:
    sheet.draft.polygon(sheet.view.rectangle(offcut.x, offcut.y, offcut.width, offcut.length), "edge", "white")
    sheet.draft.add(Shape(points=_dashed(sheet.view, offcut), pen="keep"))


def _dashed(view: PaperView, offcut: Offcut) -> tuple[Point, ...]:
    """The dashed inset border of an offcut to keep."""
    x0, y0, x1, y1 = plane.bounds(view.rectangle(offcut.x, offcut.y, offcut.width, offcut.length))
    inset = min(KEEP_INSET, (x1 - x0) / 4, (y1 - y0) / 4)
    return (x0 + inset, y0 + inset), (x1 - inset, y0 + inset), (x1 - inset, y1 - inset), (x0 + inset, y1 - inset)


def _borders(sheet: Sheet) -> list[tuple[Point, Point]]:
    """Sides of blanks and offcuts, which no size may run into."""
    out = []
    for placed in sheet.layout.blanks:
        ring = part_outline(sheet.view, placed)
        out += [(a, b) for a, b in zip(ring, ring[1:] + ring[:1], strict=True) if a != b]
    for offcut in sheet.layout.offcuts:
        box = sheet.view.rectangle(offcut.x, offcut.y, offcut.width, offcut.length)
        for ring in (box, _dashed(sheet.view, offcut)) if offcut.keep else (box,):
            out += list(zip(ring, ring[1:] + ring[:1], strict=True))
    return out


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
    if width(text, 9.0) <= high - low - 0.5 and high - low > 6.2:
        draft.dimension((left, low), (left, high), out, text)
    elif high - low > 5.0:
        draft.line(((left - out, low), (left - out, high)), "dimension", "both")
        for y in (low, high):
            draft.line(((left - 0.8, y), (left - out - 1.2, y)), "dimension")
    else:
        for y in (low, high):
            draft.line(((left - 0.8, y), (left - out - 1.2, y)), "dimension")
