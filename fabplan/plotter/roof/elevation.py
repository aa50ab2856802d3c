"""Roof drawings: elevations of the slopes, a key of the whole roof, and a picture of every cut shape."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from fabplan import plane
from fabplan.job.model import Job
from fabplan.plotter.board import geometry, labels
from fabplan.plotter.board.draft import Draft
from fabplan.plotter.board.measure import shorten, width
from fabplan.plotter.model import Drawing, Point, Text
from fabplan.plotter.roof.slope import draw_slope, reading
from fabplan.roof.extras.variation_model import Variation
from fabplan.roof.model import CutShape, RoofPlan, SlopeLayout
from fabplan.speech.format import count
from fabplan.speech.roof import notes
from fabplan.speech.roof_tables import (
    RoofTable,
    blank_table,
    count_table,
    edge_table,
    fastener_table,
    kit_table,
    pair_table,
    snapped_every,
    underlayment_table,
    variation_table,
)
from fabplan.units import Show

COLUMNS, ROWS = 6, 3  # cut shapes on a drawing
BOX, TALL = 40.0, 48.5  # mm for each
PICTURE = 30.0
ON_BORDER = 1e-3  # inches
KEY_GAP, KEY_UNDER, KEY_HIGH = 8.0, 14.0, 58.0


@dataclass(frozen=True, slots=True, kw_only=True)
class RoofPage:
    """A page of the roof: its drawings, its tables and its sentences."""

    title: str
    drawings: tuple[Drawing, ...] = ()
    tables: tuple[RoofTable, ...] = ()
    notes: tuple[str, ...] = ()


def roof_pages(roof: RoofPlan, job: Job) -> tuple[RoofPage, ...]:
    """What is printed of a whole roof, in the order it is used; slopes have drawings of their own."""
    pages = [
        RoofPage(
            title="Roof: pieces by slope",
            drawings=(draw_key(roof, show=_show(job), name="roof-key", height_mm=KEY_HIGH),),
            tables=(count_table(roof, job), blank_table(roof)),
            notes=notes(roof, job),
        )
    ]
    shapes = draw_cut_shapes(roof.shapes, show=_show(job), name="cut-shapes")
    if shapes:
        pages.append(RoofPage(title="Cut shapes: a template each", drawings=tuple(shapes), tables=(pair_table(roof),)))
    if roof.kits:
        pages.append(RoofPage(title="Kits: what goes up in one lift", tables=(kit_table(roof, job),)))
    rest = (edge_table(roof, job), underlayment_table(roof, job), fastener_table(roof, job))
    pages.append(RoofPage(title="Roof edges, underlayment and fasteners", tables=rest))
    spread = tuple(variation_table(v, job) for v in roof.variation)
    if spread:
        pages.append(RoofPage(title="How often to snap a line", tables=spread))
    return tuple(pages)


def _show(job: Job) -> Show:
    return Show(job.info.units, int(job.info.round_to))


def slope_drawings(
    roof: RoofPlan, job: Job, number: int, width_mm: float = 248.0, height_mm: float = 150.0
) -> list[Drawing]:
    """The elevation of slope `number` (from 1), in so many mm."""
    return [draw_layout(roof.slopes[number - 1], roof.variation, job, number, width_mm, height_mm)]


def draw_layout(
    layout: SlopeLayout,
    variation: Sequence[Variation],
    job: Job,
    number: int,
    width_mm: float = 248.0,
    height_mm: float = 150.0,
) -> Drawing:
    """The elevation of one slope, whether or not the rest of the roof is laid out, in so many mm."""
    every = snapped_every(variation, layout)
    name = f"slope-{number}"
    return draw_slope(layout, show=_show(job), name=name, snap_every=every, width_mm=width_mm, height_mm=height_mm)


def draw_key(roof: RoofPlan, *, show: Show, name: str, width_mm: float = 248.0, height_mm: float = 120.0) -> Drawing:
    """All slopes side by side at one scale, with their names, how many alike, and their pieces."""
    names = [_titles(s) for s in roof.slopes]
    scale, rows = _key_rows(roof.slopes, names, width_mm, height_mm)
    draft = Draft()
    floor = 0.0
    for row in rows:
        floor -= max(_size(roof.slopes[n])[1] for n in row) * scale
        left = 0.0
        for n in row:
            layout = roof.slopes[n]
            x0, y0, x1, _ = plane.bounds(layout.slope.outline)
            room = _room((x1 - x0) * scale, names[n])
            start = left + (room - (x1 - x0) * scale) / 2

            def at(p: Point, start: float = start, x0: float = x0, y0: float = y0, floor: float = floor) -> Point:
                return start + (p[0] - x0) * scale, floor + (p[1] - y0) * scale

            _small(draft, layout, at)
            for line, text in enumerate(names[n]):
                at_text = (left + room / 2, floor - 3.2 - line * 4.0)
                draft.text(Text(at=at_text, text=text, size=8.0, bold=line == 0))
            left += room + KEY_GAP
        floor -= KEY_UNDER
    return draft.trimmed(name, f"Key of the roof: {count(len(roof.slopes), 'kind')} of slope", width_mm, 25.4 / scale)


def _room(wide: float, texts: Sequence[str]) -> float:
    return max(wide, *(width(t, 8.0, n == 0) for n, t in enumerate(texts)))


def _titles(layout: SlopeLayout) -> tuple[str, str]:
    times = layout.slope.times
    alike = f" × {times}" if times > 1 else ""
    return shorten(f"{layout.slope.name}{alike}", 60.0, 8.0, True), count(len(layout.pieces), "piece")


def _size(layout: SlopeLayout) -> tuple[float, float]:
    x0, y0, x1, y1 = plane.bounds(layout.slope.outline)
    return x1 - x0, y1 - y0


def _key_rows(
    layouts: Sequence[SlopeLayout], names: Sequence[tuple[str, str]], width_mm: float, height_mm: float
) -> tuple[float, list[list[int]]]:
    """The largest scale tried at which all slopes fit the paper in rows, and the rows."""
    sizes = [_size(s) for s in layouts]
    scale = min((height_mm - KEY_UNDER) / max(h for _, h in sizes), width_mm / max(w for w, _ in sizes), 0.6)
    rows: list[list[int]] = []
    for _ in range(60):
        rows, left = [[]], 0.0
        for n, (wide, _) in enumerate(sizes):
            room = _room(wide * scale, names[n])
            if rows[-1] and left + room > width_mm:
                rows.append([])
                left = 0.0
            rows[-1].append(n)
            left += room + KEY_GAP
        if sum(max(sizes[n][1] for n in row) * scale + KEY_UNDER for row in rows) <= height_mm:
            break
        scale *= 0.9
    return scale, rows


def _small(draft: Draft, layout: SlopeLayout, place: Callable[[Point], Point]) -> None:
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
    """The blank before (broken), what is left of it, and every side that is no longer the blank's whole side."""
    whole = shape.blank or shape.metal
    x0, y0, x1, y1 = plane.bounds(whole)
    scale = min((BOX - 9.0) / (x1 - x0), PICTURE / (y1 - y0))
    dx = left + (BOX - (x1 - x0) * scale) / 2
    dy = foot + 12.5 + (PICTURE - (y1 - y0) * scale) / 2

    def at(p: Point) -> Point:
        return dx + (p[0] - x0) * scale, dy + (p[1] - y0) * scale

    draft.polygon((at(p) for p in whole), "former")
    draft.polygon((at(p) for p in shape.metal), "outline", "white")
    corners = shape.metal if plane.area(shape.metal) > 0 else shape.metal[::-1]
    ring = tuple(at(p) for p in corners)
    for a, b in zip(ring, ring[1:] + ring[:1], strict=True):
        draft.take(geometry.strip_box(a, b, 0.45))
    inner = any(all(plane.off_line(a, b, p) > 0.01 for a, b in pairwise((*whole, whole[0]))) for p in corners)
    for n, (p, q) in enumerate(zip(corners, corners[1:] + corners[:1], strict=True)):
        long = plane.distance(p, q)
        on = _side(p, q, whole)
        if (on is not None and long < on - ON_BORDER) or (on is None and inner):
            _side_size(draft, ring, n, labels.bare(show, long))
    count = f"{shape.same}" + (f" + {shape.mirrored} m" if shape.mirrored else "")
    share = round(100 * shape.share)
    start = left + max(10.5, 2.5 + width(f"{shape.number}", 12.0, True))
    draft.text(Text(at=(left + 1.0, foot + 4.6), text=f"{shape.number}", size=12.0, bold=True, anchor="left"))
    lines = (
        f"{labels.clipped(shape.mark)}, {count}",
        f"{labels.pair(show, shape.width, shape.height)} {show.unit}",
        f"shows {share if share else 'under 1'} %",
    )
    for n, text in enumerate(lines):
        short = shorten(text, left + BOX - start, 8.0)
        draft.text(Text(at=(start, foot + 8.2 - n * 3.4), text=short, size=8.0, anchor="left"))


def _side_size(draft: Draft, ring: Sequence[Point], n: int, text: str) -> None:
    """The length of a side, set along it: outside where there is room, else inside."""
    a, b = ring[n], ring[(n + 1) % len(ring)]
    long = plane.distance(a, b)
    if long < 1e-6:
        return
    out = ((b[1] - a[1]) / long, -(b[0] - a[0]) / long)
    angle = reading((b[0] - a[0], b[1] - a[1]))
    texts = []
    for away in (2.0, -2.0, 3.2, -3.2, 4.4, 5.6):
        for share in (0.5, 0.35, 0.65, 0.2, 0.8):
            x, y = geometry.between(a, b, share)
            texts.append(Text(at=(x + out[0] * away, y + out[1] * away), text=text, size=8.0, turned=angle, boxed=True))
    if not draft.place(texts, 0.1):
        draft.text(texts[0])


def _side(p: Point, q: Point, blank: Sequence[Point]) -> float | None:
    """Length of the side of the blank that both points lie on, or None."""
    for a, b in zip(blank, [*blank[1:], blank[0]], strict=True):
        long = plane.distance(a, b)
        if all(plane.off_line(a, b, r) < ON_BORDER for r in (p, q)):
            return long
    return None
