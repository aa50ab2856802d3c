"""Roof drawings: elevations of the slopes, a key of the whole roof, and a picture of every cut shape."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fabplan.job.model import Job
from fabplan.plotter import geometry, labels
from fabplan.plotter.draft import Draft
from fabplan.plotter.measure import fit, shorten, width
from fabplan.plotter.model import Drawing, Point, Text
from fabplan.plotter.slope import draw_slope
from fabplan.roof.model import CutShape, RoofPlan, SlopeLayout
from fabplan.roof.tables import (
    RoofTable,
    blank_table,
    count_table,
    course_table,
    edge_table,
    fastener_table,
    kit_table,
    underlayment_table,
    variation_table,
)
from fabplan.units import Show

COLUMNS, ROWS = 6, 3  # cut shapes on a drawing
BOX, TALL = 40.0, 44.0  # mm for each
PICTURE = 26.0


@dataclass(frozen=True, slots=True, kw_only=True)
class RoofPage:
    """A page of the roof: its drawings, its tables and its sentences."""

    title: str
    drawings: tuple[Drawing, ...] = ()
    tables: tuple[RoofTable, ...] = ()
    notes: tuple[str, ...] = ()


def roof_pages(roof: RoofPlan, job: Job) -> tuple[RoofPage, ...]:
    """Everything to print of a roof, in the order it is used."""
    pages = [
        RoofPage(
            title="Roof: pieces by slope",
            drawings=(draw_key(roof, show=_show(job), name="roof-key"),),
            tables=(count_table(roof, job), blank_table(roof)),
            notes=roof.notes,
        )
    ]
    pages += [
        RoofPage(
            title=f"Slope {layout.slope.name}",
            drawings=tuple(slope_drawings(roof, job, n)),
            tables=(course_table(layout, job),),
            notes=tuple(dict.fromkeys((*layout.slope.notes, *layout.notes))),
        )
        for n, layout in enumerate(roof.slopes, start=1)
    ]
    shapes = draw_cut_shapes(roof.shapes, show=_show(job), name="cut-shapes")
    if shapes:
        pages.append(RoofPage(title="Cut shapes: a template each", drawings=tuple(shapes)))
    if roof.kits:
        pages.append(RoofPage(title="Kits: what goes up in one lift", tables=(kit_table(roof, job),)))
    rest = (edge_table(roof, job), underlayment_table(roof, job), fastener_table(roof))
    pages.append(RoofPage(title="Roof edges, underlayment and fasteners", tables=rest))
    spread = tuple(variation_table(v, job) for v in roof.variation)
    if spread:
        pages.append(RoofPage(title="How often to snap a line", tables=spread))
    return tuple(pages)


def _show(job: Job) -> Show:
    return Show(job.info.units, int(job.info.round_to))


def slope_drawings(roof: RoofPlan, job: Job, number: int) -> list[Drawing]:
    """The elevation of slope `number` (from 1)."""
    layout = roof.slopes[number - 1]
    every = next((max(1, v.largest_per_lock) for v in roof.variation if v.mark == layout.slope.piece), 1)
    return [draw_slope(layout, show=_show(job), name=f"slope-{number}", snap_every=every)]


def roof_drawings(roof: RoofPlan, job: Job) -> list[Drawing]:
    """The key of the whole roof and the cut shapes."""
    show = _show(job)
    key = draw_key(roof, show=show, name="roof-key")
    return [key, *draw_cut_shapes(roof.shapes, show=show, name="cut-shapes")]


# -- key of the whole roof ---------------------------------------------------------------------------------------------


def draw_key(roof: RoofPlan, *, show: Show, name: str, width_mm: float = 248.0, height_mm: float = 120.0) -> Drawing:
    """All slopes side by side at one scale, with their names, how many alike, and their pieces."""
    spans = [geometry.bounds(s.slope.outline) for s in roof.slopes]
    sizes = [(b[2] - b[0], b[3] - b[1]) for b in spans]
    names = [_titles(s) for s in roof.slopes]
    scale = _key_scale(sizes, names, width_mm, height_mm)
    draft = Draft()
    gap, under = 8.0, 12.0
    x, y, tallest = 0.0, 0.0, 0.0
    for layout, (x0, y0, _, _), (wide, high), texts in zip(roof.slopes, spans, sizes, names, strict=True):
        room = max(wide * scale, *(width(t, 8.0, n == 0) for n, t in enumerate(texts)))
        if x and x + room > width_mm:
            x, y, tallest = 0.0, y - tallest - under - gap, 0.0
        left = x + (room - wide * scale) / 2

        def at(p: Point, left: float = left, x0: float = x0, y0: float = y0, y: float = y) -> Point:
            return left + (p[0] - x0) * scale, y + (p[1] - y0) * scale

        _small(draft, layout, at)
        for n, text in enumerate(texts):
            draft.text(Text(at=(x + room / 2, y - 3.2 - n * 4.0), text=text, size=8.0, bold=n == 0))
        x += room + gap
        tallest = max(tallest, high * scale)
    # rows were set downwards from their own floor: the next row's top needs the room of its own height
    return draft.trimmed(name, f"Key of the roof: {len(roof.slopes)} kinds of slopes", width_mm, 25.4 / scale)


def _titles(layout: SlopeLayout) -> tuple[str, str]:
    times = layout.slope.times
    alike = f" × {times}" if times > 1 else ""
    return shorten(
        f"{layout.slope.name}{alike}", 60.0, 8.0, True
    ), f"{len(layout.pieces)} pieces of {layout.slope.piece}"


def _key_scale(
    sizes: Sequence[tuple[float, float]], names: Sequence[tuple[str, str]], width_mm: float, height_mm: float
) -> float:
    """Largest scale at which all slopes fit one row."""
    gaps = 8.0 * (len(sizes) - 1)
    scale = min((height_mm - 14.0) / max(h for _, h in sizes), 0.6)
    for _ in range(40):
        rooms = [max(w * scale, *(width(t, 8.0) for t in texts)) for (w, _), texts in zip(sizes, names, strict=True)]
        if sum(rooms) + gaps <= width_mm:
            return scale
        scale *= 0.9
    return scale


def _small(draft: Draft, layout: SlopeLayout, at: object) -> None:
    place = at  # a function from the slope's inches to paper
    if not callable(place):
        raise TypeError("at")
    for p in layout.pieces:
        if p.kind != "whole":
            draft.polygon((place(q) for q in p.visible), None, "hatch")
    draft.polygon((place(p) for p in layout.slope.outline), "outline")
    for hole in layout.slope.holes:
        draft.polygon((place(p) for p in hole.outline), "edge", "white")


# -- cut shapes --------------------------------------------------------------------------------------------------------


def draw_cut_shapes(shapes: Sequence[CutShape], *, show: Show, name: str) -> list[Drawing]:
    """Every cut shape with its number, size and count, eighteen to a drawing."""
    each = COLUMNS * ROWS
    sheets = [shapes[i : i + each] for i in range(0, len(shapes), each)]
    out = []
    for n, some in enumerate(sheets, start=1):
        draft = Draft()
        for i, shape in enumerate(some):
            _shape(draft, shape, show, (i % COLUMNS) * (BOX + 1.5), -(i // COLUMNS) * TALL)
        title = f"Cut shapes {some[0].number} to {some[-1].number}" if len(some) > 1 else f"Cut shape {some[0].number}"
        part = f"-{n}" if len(sheets) > 1 else ""
        out.append(draft.trimmed(f"{name}{part}", title, COLUMNS * (BOX + 1.5)))
    return out


def _shape(draft: Draft, shape: CutShape, show: Show, left: float, foot: float) -> None:
    x0, y0, x1, y1 = geometry.bounds(shape.metal)
    scale = min((BOX - 13.0) / (x1 - x0), (PICTURE - 1.0) / (y1 - y0))
    dx = left + 1.0 + (BOX - 13.0 - (x1 - x0) * scale) / 2
    dy = foot + 15.0

    def at(p: Point) -> Point:
        return dx + (p[0] - x0) * scale, dy + (p[1] - y0) * scale

    draft.polygon((at(p) for p in shape.metal), "outline")
    wide, tall = labels.bare(show, shape.width), labels.bare(show, shape.height)
    a, b = at((x0, y0)), at((x1, y1))
    draft.dimension((a[0], a[1]), (b[0], a[1]), -3.4, wide, size=7.5)
    draft.dimension((b[0], a[1]), (b[0], b[1]), -3.6, tall, size=7.5)
    count = f"{shape.same}" + (f" + {shape.mirrored} m" if shape.mirrored else "")
    says = f"{shape.mark}, {count}, shows {round(100 * shape.share)} %"
    size = fit(says, BOX - 9.0, 8.0, 6.0) or 6.0
    draft.text(Text(at=(left + 1.0, foot + 1.6), text=f"{shape.number}", size=12.0, bold=True, anchor="left"))
    draft.text(Text(at=(left + 9.5, foot + 1.6), text=says, size=size, anchor="left"))
