"""Corner cuts in shop words: what is snipped off each corner of the sheared blank and how it is marked."""

from __future__ import annotations

import math
from collections.abc import Sequence

from shapely.geometry import Point as Spot

from fabplan.blanks import clip
from fabplan.blanks.flat.corner import NEAR, Edge
from fabplan.blanks.flat.lay import FlatPiece
from fabplan.blanks.model import Notch, Point, Polygon
from fabplan.plane import off_line
from fabplan.units import Show

ON_LINE = 1e-6  # inches


def notches(laid: FlatPiece, show: Show, *, snip_past: float = 0.0) -> tuple[Notch, ...]:
    """Notch of every corner that loses metal, in order of corner.

    `legs` run along the blank edges from the sheared corner: along the edge that ends there, then along the edge that
    starts there. `depth` is from the sheared corner to the crossing of the fold lines (side snip: to the cut).
    """
    snips = {s.corner for s in laid.snips}
    found: dict[int, list[Polygon]] = {}
    for corner, removed in laid.removed:
        found.setdefault(corner, []).append(removed)
    out = []
    for corner in range(1, len(laid.edges) + 1):
        before, after = laid.edges[corner - 2], laid.edges[corner - 1]
        parts = found.get(corner, [])
        if not parts:
            if laid.corners[corner - 1].both and corner not in snips and _is_slit(laid, corner):
                out.append(_slit(laid, corner, before, after))
            continue
        for removed in parts:
            out.append(_notch(laid, corner, before, after, removed, corner in snips, show, snip_past))
    return tuple(out)


def sheared_corner(laid: FlatPiece, corner: int) -> tuple[Point, Point]:
    """Sheared corner seen along the edge that ends there and the edge that starts there (one point, unless cut off)."""
    before, after = laid.edges[corner - 2], laid.edges[corner - 1]
    ends = [before.local(p)[0] for p in laid.blank if abs(before.local(p)[1] - before.allowance) < ON_LINE]
    starts = [after.local(p)[0] for p in laid.blank if abs(after.local(p)[1] - after.allowance) < ON_LINE]
    return (
        before.at(max(ends, default=before.length), before.allowance),
        after.at(min(starts, default=0.0), after.allowance),
    )


def _legs(laid: FlatPiece, corner: int, before: Edge, after: Edge, removed: Sequence[Point]) -> tuple[float, float]:
    ends, starts = sheared_corner(laid, corner)
    on_before = [math.dist(p, ends) for p in removed if abs(before.local(p)[1] - before.allowance) < ON_LINE]
    on_after = [math.dist(p, starts) for p in removed if abs(after.local(p)[1] - after.allowance) < ON_LINE]
    return max(on_before, default=0.0), max(on_after, default=0.0)


def _notch(
    laid: FlatPiece,
    corner: int,
    before: Edge,
    after: Edge,
    removed: Polygon,
    side: bool,
    show: Show,
    snip_past: float,
) -> Notch:
    """How one corner is cut: its kind, what is removed, how far along both edges, and whether two snips meet."""
    crossing = laid.corners[corner - 1].crossing[1]
    first, second = _edge_numbers(laid, corner)
    legs = _legs(laid, corner, before, after, removed)
    depth = max(math.dist(p, crossing) for p in sheared_corner(laid, corner))
    marks = f"mark along edge {first} and edge {second} from the sheared corner"
    if side:
        snip = next(s for s in laid.snips if s.corner == corner)
        depth = max(
            (p[0] - snip.through[0]) * snip.normal[0] + (p[1] - snip.through[1]) * snip.normal[1] for p in removed
        )
        return Notch(
            corner=corner,
            kind="side snip",
            removed=removed,
            legs=legs,
            depth=depth,
            says=f"Side snip: {marks} and snip straight between the marks; the depth runs from the sheared tip to the "
            "cut.",
        )
    kind = _kind(laid, corner, before, after, removed, crossing)
    if kind in ("45-degree", "straight snip"):
        says = f"{marks} and snip straight between the marks, through the crossing of the fold lines"
    elif kind == "slant":
        which = first if before.fold else second
        says = f"mark along edge {which} from the sheared corner and snip to the end of the fold line"
    else:
        says = f"{marks} and snip from each mark to the crossing of the fold lines"
    opposite = before.fold and after.fold and before.fold.toward != after.fold.toward
    if snip_past and opposite and kind in ("square", "V"):
        says += f", then {show.length(snip_past)} past it"
    name = {
        "45-degree": "45-degree snip",
        "square": "Square notch",
        "V": "V notch",
        "point": "Two snips, leaving a point",
    }
    head = name.get(kind, kind.capitalize())
    return Notch(corner=corner, kind=kind, removed=removed, legs=legs, depth=depth, says=f"{head}: {says}.")


def _is_slit(laid: FlatPiece, corner: int) -> bool:
    """Whether two folds part on one line, where nothing falls off between them.

    Not where the sheared blank is open between them, or ends before their fold lines cross.
    """
    c = laid.corners[corner - 1]
    if c.drawn_in:
        return len(c.blank()) <= 2
    return bool(clip.shape(laid.blank).contains(Spot(c.crossing[1])))


def _slit(laid: FlatPiece, corner: int, before: Edge, after: Edge) -> Notch:
    crossing = laid.corners[corner - 1].crossing[1]
    return Notch(
        corner=corner,
        kind="slit",
        removed=(),
        legs=(0.0, 0.0),
        depth=max(math.dist(p, crossing) for p in sheared_corner(laid, corner)),
        says="Slit: one snip from the sheared corner to the crossing of the fold lines; nothing falls off.",
    )


def _edge_numbers(laid: FlatPiece, corner: int) -> tuple[int, int]:
    return (corner - 1 or len(laid.edges), corner)


def _kind(laid: FlatPiece, corner: int, before: Edge, after: Edge, removed: Polygon, crossing: Point) -> str:
    if not (before.fold and after.fold):
        return "slant"
    angle = _angle_at(removed, crossing)
    phi = laid.corners[corner - 1].phi
    if angle is None:
        # the crossing lies on a straight side of what falls off, or off it altogether
        angle = 180.0 if _on_border(removed, crossing) else 0.0
    if abs(angle - 180) < 1.0:
        return "45-degree" if abs(phi - 90) < 0.5 else "straight snip"
    if angle > 180:
        return "point"
    if abs(angle - 90) < 3 and abs(phi - 90) < 0.5:
        return "square"
    return "V"


def _angle_at(polygon: Polygon, point: Point) -> float | None:
    for i, p in enumerate(polygon):
        if math.dist(p, point) < 10 * NEAR:
            a, b = polygon[i - 1], polygon[(i + 1) % len(polygon)]
            turn = math.atan2(
                (p[0] - a[0]) * (b[1] - p[1]) - (p[1] - a[1]) * (b[0] - p[0]),
                (p[0] - a[0]) * (b[0] - p[0]) + (p[1] - a[1]) * (b[1] - p[1]),
            )
            return 180.0 - math.degrees(turn)
    return None


def _on_border(polygon: Polygon, point: Point) -> bool:
    for i, b in enumerate(polygon):
        a = polygon[i - 1]
        run = math.dist(a, b)
        off = off_line(a, b, point)
        if off < 10 * NEAR and math.dist(a, point) + math.dist(point, b) < run + 10 * NEAR:
            return True
    return False
