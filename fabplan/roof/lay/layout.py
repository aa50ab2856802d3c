"""Lay one slope: place the lattice, clip every rhombus to the net region, tell pieces from slivers."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely

from fabplan.blanks.model import Lattice
from fabplan.errors import PlanError
from fabplan.job.slopes import Roof
from fabplan.roof.clip import inside_and_missing, intersection, split, union
from fabplan.roof.lay.lattice import Alignment, Grid, blank_centre, blank_rhombus, finished_outline
from fabplan.roof.lay.region import net_region, polygons, ring_points
from fabplan.roof.lay.under_cap import leave_out, outside, uncapped
from fabplan.roof.model import KINDS, LaidPiece, Measured, PieceKind, Point, Polygon, Sliver, SlopeEdge
from fabplan.units import inches

MOST_PIECES = 50_000  # on one slope
_NOTHING = 1e-9  # square inches: a part this small is rounding


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidSlope:
    """Pieces of one slope, bottom to top and left to right."""

    grid: Grid
    region: Any
    pieces: tuple[LaidPiece, ...]
    slivers: tuple[Sliver, ...]


def turn(slope: Measured, degrees: float) -> Measured:
    """The slope turned counter-clockwise about the left end of its eave."""
    cos, sin = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    x0, y0 = slope.edges[0].start

    def at(p: Point) -> Point:
        x, y = p[0] - x0, p[1] - y0
        return x0 + x * cos - y * sin, y0 + x * sin + y * cos

    def edge(e: SlopeEdge) -> SlopeEdge:
        return replace(e, start=at(e.start), end=at(e.end))

    return replace(
        slope,
        edges=tuple(edge(e) for e in slope.edges),
        holes=tuple(replace(h, edges=tuple(edge(e) for e in h.edges)) for h in slope.holes),
    )


def centre_line(slope: Measured, at: float) -> float:
    """Where the line from the middle of the eave to the middle of the top stands at a share `at` of the height."""
    first = slope.edges[0]
    x0 = (first.start[0] + first.end[0]) / 2
    highest = max(p[1] for p in slope.outline)
    tops = [p[0] for p in slope.outline if p[1] > highest - 1e-6]
    for e in slope.edges:  # a top edge that leans a little still has its middle
        if e.kind == "ridge" and max(e.start[1], e.end[1]) > highest - 1e-6:
            tops = [e.start[0], e.end[0]]
    return x0 + at * ((min(tops) + max(tops)) / 2 - x0)


def lay(
    slope: Measured,
    lattice: Lattice,
    roof: Roof,
    *,
    alignment: Alignment,
    centre_x: float,
    base: float,
    course: float | None = None,
    top: float | None = None,
) -> LaidSlope:
    """Pieces on one slope.

    Parameters
    ----------
    slope : Measured
        In the lattice's frame (level = x).
    lattice : Lattice
        Of the diamond laid on it.
    roof : Roof
    alignment : {"point", "joint"}
    centre_x, base : float
        Place of the lattice.
    course : float, optional
        Course height as laid; None = the lattice's own.
    top : float, optional
        Level above which an apex cap covers everything.
    """
    grid = Grid(
        spacing=lattice.spacing,
        course=lattice.course if course is None else course,
        centre_x=centre_x,
        base=base,
        alignment=alignment,
    )
    region = net_region(slope, top)
    about = region.area / (grid.spacing * grid.course)
    if about > MOST_PIECES:
        raise PlanError(
            f"Slope {slope.name} would take about {about:,.0f} pieces; at most {MOST_PIECES:,} can be laid out.",
            help_="Check its sizes and their units, or split it into several slopes.",
        )
    full, sliver = inches(roof.whole_within), inches(roof.sliver)
    courses, columns, centres = grid.places(*region.bounds)
    rhombus = np.array([*grid.rhombus, grid.rhombus[0]])
    cells = shapely.polygons(centres[:, None, :] + rhombus[None, :, :])
    shapely.prepare(region)
    touching = shapely.intersects(region, cells)
    courses, columns, centres, cells = courses[touching], columns[touching], centres[touching], cells[touching]
    inside = shapely.covers(region, cells)
    border = np.flatnonzero(~inside)
    parts, missing = inside_and_missing(cells[border], region)
    whole_after_all = shapely.is_empty(shapely.buffer(missing, -full / 2, join_style="mitre")) & (
        shapely.area(parts) > _NOTHING
    )
    part_of = dict(zip(border.tolist(), parts, strict=True))
    parted = dict(zip(border.tolist(), unnecked(parts, sliver), strict=True))
    nearly = {int(n) for n in border[whole_after_all]}

    snipped = _sticking_out(region, centres, lattice, grid)
    pieces: list[LaidPiece] = []
    slivers: list[Sliver] = []
    loose: list[tuple[int, Any]] = []
    for n in range(len(cells)):
        if inside[n] or n in nearly:
            shape = None if inside[n] else part_of[n]
            pieces.append(_whole(n, shape, courses, columns, centres, grid, bool(snipped[n])))
            continue
        loose += [(n, p) for p in parted[n] if p.area > _NOTHING]
    if loose:
        shapes = np.array([p for _, p in loose])
        thin = shapely.is_empty(shapely.buffer(shapes, -sliver / 2, join_style="mitre"))
        # a thin part is left out only where a cap covers it and its neighbours still reach under the cap
        thin = thin & np.array(outside(shapes, uncapped(slope, roof, top, inches(roof.least_underlap))), dtype=bool)
        slivers = [
            Sliver(
                course=int(courses[n]),
                column=int(columns[n]),
                area=p.area,
                visible=ring_points(polygons(p)[0].exterior),
                why="sliver",
            )
            for (n, p), out in zip(loose, thin, strict=True)
            if out
        ]
        kept = [item for item, out in zip(loose, thin, strict=True) if not out]
        pieces += _cut_pieces(kept, slope, lattice, grid, top, full, sliver, courses, columns, centres)
    pieces.sort(key=lambda p: (p.course, p.column, KINDS.index(p.kind), p.visible))
    cell = grid.spacing * grid.course
    cut = [n for n, p in enumerate(pieces) if p.kind != "whole"]
    seen = [shapely.Polygon(pieces[n].visible, pieces[n].inner) for n in cut]
    for n, hidden in zip(cut, outside(seen, uncapped(slope, roof, top, 0.0)), strict=True):
        pieces[n] = replace(pieces[n], under_cap=hidden)
    if roof.under_cap == "leave out":
        deep = dict(zip(cut, outside(seen, uncapped(slope, roof, top, inches(roof.least_underlap))), strict=True))
        gone, out = leave_out(pieces, [deep.get(n, False) for n in range(len(pieces))], roof, cell)
        pieces = [p for n, p in enumerate(pieces) if n not in gone]
        slivers += out
    return LaidSlope(grid=grid, region=region, pieces=tuple(pieces), slivers=tuple(slivers))


def _sticking_out(region: Any, centres: Any, lattice: Lattice, grid: Grid) -> Any:
    """Which finished outlines, side tips snipped, pass the net region by more than 1/16 in."""
    up = lattice.course - grid.course  # closed-up courses: the middle of the piece stands that much higher
    outline = np.array([(x, y + up) for x, y in finished_outline(lattice)])
    ring = np.vstack([outline, outline[:1]])
    near = shapely.buffer(region, 1 / 16, join_style="mitre")
    shapely.prepare(near)
    return ~shapely.covers(near, shapely.polygons(centres[:, None, :] + ring[None, :, :]))


def _whole(n: int, shape: Any, courses: Any, columns: Any, centres: Any, grid: Grid, trimmed: bool) -> LaidPiece:
    x, y = float(centres[n][0]), float(centres[n][1])
    if shape is None:
        visible: Polygon = tuple((x + dx, y + dy) for dx, dy in grid.rhombus)
        inner: tuple[Polygon, ...] = ()
        share = 1.0
    else:
        shape = polygons(shape)[0]
        visible = ring_points(shape.exterior)
        inner = tuple(ring_points(r) for r in shape.interiors)
        share = shape.area / (grid.spacing * grid.course)
    return LaidPiece(
        course=int(courses[n]),
        column=int(columns[n]),
        kind="whole",
        lost="",
        standard=False,
        trimmed=trimmed,
        centre=(x, y),
        visible=visible,
        inner=inner,
        share=share,
        metal=(),
        shape=0,
        mark="",
    )


def kind_of(lost: str, visible: Polygon, full: float) -> PieceKind:
    """Trade word for a piece by the tips it lost (any of L, R, B, T).

    A piece cut level beyond its side tips has lost those too: it is still a ridge half or a starter, a short one.
    """
    if "L" in lost and "R" in lost:
        xs = [x for x, _ in visible]
        for tip, level, word in (("T", max, "ridge-half"), ("B", min, "starter")):
            if lost == "LR" + tip:
                y = level(y for _, y in visible)
                flat = [p[0] for p in visible if abs(p[1] - y) <= full]
                if max(flat) - min(flat) >= max(xs) - min(xs) - 2 * full and max(xs) - min(xs) > full:
                    return word  # type: ignore[return-value]
        return "cut-both"
    if "L" in lost:
        return "cut-left"
    if "R" in lost:
        return "cut-right"
    if lost == "B":
        return "starter"
    if lost == "T":
        return "ridge-half"
    return "cut-both" if lost else "notched"


def _cut_pieces(
    kept: list[tuple[int, Any]],
    slope: Measured,
    lattice: Lattice,
    grid: Grid,
    top: float | None,
    full: float,
    sliver: float,
    courses: Any,
    columns: Any,
    centres: Any,
) -> list[LaidPiece]:
    """Pieces the edge cuts: what shows of each, the metal it needs, and which tips it loses."""
    if not kept:
        return []
    numbers = np.array([n for n, _ in kept])
    shapes = np.array([p for _, p in kept])
    at = centres[numbers]
    bottom, right, upper, left = (np.array(tip) for tip in grid.rhombus)
    lost = {
        name: shapely.distance(shapes, shapely.points(at + tip)) > full
        for name, tip in (("L", left), ("R", right), ("B", bottom), ("T", upper))
    }
    half = {
        "B": (left, right, upper),
        "T": (bottom, right, left),
        "L": (bottom, right, upper),
        "R": (bottom, upper, left),
    }
    rise = blank_centre(lattice) + lattice.course - grid.course
    middles = at + np.array([0.0, rise])
    ring = np.array([*blank_rhombus(lattice), blank_rhombus(lattice)[0]])
    blanks = shapely.polygons(middles[:, None, :] + ring[None, :, :])
    tips_kept = ~lost["B"]
    parts = np.empty(len(blanks), dtype=object)
    hang = lattice.lower_allowance / math.sin(math.radians(lattice.top_angle) / 2) + 0.1  # a whole bottom tip's hems
    for chosen, past in ((lost["B"], 0.0), (tips_kept, hang)):
        if chosen.any():
            parts[chosen] = inside_and_missing(blanks[chosen], net_region(slope, top, folds=True, past_eaves=past))[0]
    metals = unnecked(parts, sliver)
    out = []
    for j, (n, shape) in enumerate(kept):
        tips = "".join(name for name in "LRBT" if lost[name][j])
        standard = False
        if tips in half:
            exact = shapely.Polygon([tuple(at[j] + corner) for corner in half[tips]])
            standard = bool(shapely.hausdorff_distance(shape, exact) <= full)
        metal = _belonging(metals[j], shape)
        cx, cy = float(middles[j][0]), float(middles[j][1])
        out.append(
            LaidPiece(
                course=int(courses[n]),
                column=int(columns[n]),
                kind=kind_of(tips, ring_points(shape.exterior), full),
                lost=tips,
                standard=standard,
                trimmed=False,
                centre=(float(at[j][0]), float(at[j][1])),
                visible=ring_points(shape.exterior),
                inner=tuple(ring_points(r) for r in shape.interiors),
                share=shape.area / (grid.spacing * grid.course),
                metal=tuple((x - cx, y - cy) for x, y in metal),
                shape=0,
                mark="",
            )
        )
    return out


def unnecked(shapes: Any, width: float) -> list[list[Any]]:
    """Polygons of each shape, parted where they hang together by a neck narrower than `width`; no area is lost."""
    cores = shapely.buffer(shapes, -width / 2, join_style="mitre")
    simple = (shapely.get_type_id(shapes) == 3) & (shapely.get_num_geometries(cores) < 2)
    return [[s] if plain else _parted(s, width) for s, plain in zip(shapes, simple, strict=True)]


def _parted(shape: Any, width: float) -> list[Any]:
    out = []
    for whole in polygons(shape):
        cores = polygons(shapely.buffer(whole, -width / 2, join_style="mitre"))
        rest = whole
        for core in cores[1:]:
            inside, outside = split(np.array([rest]), shapely.buffer(core, width / 2, join_style="mitre"))
            out += polygons(inside[0])
            rest = outside[0]
        out += polygons(rest)
    return out


def _belonging(parts: list[Any], visible: Any) -> Polygon:
    """Outer ring of the metal that carries this visible part; what hangs on by a neck is left off."""
    if not parts:
        return ring_points(visible.exterior)
    best = parts[0] if len(parts) == 1 else max(parts, key=lambda p: intersection(p, visible).area)
    if len(parts) > 1:
        best = max(polygons(union(best, visible)), key=lambda p: p.area)
    return ring_points(best.exterior)
