"""A flat piece laid out: finished outline and folds to blank, flaps and what the snips take off."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from shapely.geometry import Polygon as Shape

from fabplan import plane
from fabplan.blanks import clip
from fabplan.blanks.flat.collide import pierce
from fabplan.blanks.flat.corner import NEAR, Corner, Edge, OutlineFold, corners_of, edges_of
from fabplan.blanks.model import Point, Polygon

SLIVER = (
    1 / 64
)  # inches a hem may stand past the piece behind it: less is not worth a snip (common practice, no source)


class TooWideError(ValueError):
    """A fold does not fit its edge or its neighbours; `edges` are the edge numbers."""

    def __init__(self, what: str, edges: tuple[int, ...]) -> None:
        self.what, self.edges = what, edges
        super().__init__(what)


@dataclass(frozen=True, slots=True, kw_only=True)
class Snip:
    """A straight cut through everything at a corner (number): what lies beyond ``through`` along ``normal`` goes."""

    corner: int
    through: Point
    normal: Point


@dataclass(frozen=True, slots=True, kw_only=True)
class FlatPiece:
    """A laid-out flat piece. `flaps` by edge number; `removed` as (corner number, polygon)."""

    edges: tuple[Edge, ...]
    corners: tuple[Corner, ...]
    blank: Polygon
    panel: Polygon
    flaps: Mapping[int, Polygon]
    snipped: Polygon
    removed: tuple[tuple[int, Polygon], ...]
    snips: tuple[Snip, ...]


def lay_flat(
    points: Sequence[Point],
    folds: Mapping[int, OutlineFold],
    *,
    sheared: Sequence[tuple[Point, Point]] = (),
    snips: Sequence[Snip] = (),
) -> FlatPiece:
    """Blank, flaps and corner cuts of a finished outline.

    Parameters
    ----------
    points : sequence of points
        Finished outline, counter-clockwise seen from the face, inches.
    folds : mapping
        Edge number (from 1) to its fold.
    sheared : sequence of (through, outward normal)
        Further straight sides of the sheared blank.
    snips : sequence of Snip
        Straight cuts made after shearing.

    Raises
    ------
    TooWideError
        A fold does not fit its edge, or two folds run into each other.
    """
    try:
        return _lay(points, folds, sheared=sheared, snips=snips)
    except clip.OverlayError as tangled:
        raise TooWideError("the folds leave no clear shape between them", tuple(sorted(folds))) from tangled


def _lay(
    points: Sequence[Point],
    folds: Mapping[int, OutlineFold],
    *,
    sheared: Sequence[tuple[Point, Point]] = (),
    snips: Sequence[Snip] = (),
) -> FlatPiece:
    """Outline, fold lines and flaps of a piece whose finished corners are `points`."""
    edges = edges_of(points, folds)
    corners = corners_of(edges)
    reach = 4 * sum(e.length + e.allowance for e in edges)
    outline = [p for c in corners for p in c.blank()]
    blank = _whole(outline, edges)
    for through, normal in sheared:
        blank = clip.largest(clip.intersection(blank, clip.half_plane(through, normal, reach)))
    keep: list[Shape] = [clip.half_plane(s.through, s.normal, reach) for s in snips]
    panel = clip.ring([p for c in corners for p in c.crossing])
    flaps = {i + 1: _flap(i, edges, corners, blank) for i, e in enumerate(edges) if e.fold}
    for half in keep:
        panel = clip.largest(clip.intersection(panel, half))
        flaps = {k: clip.largest(clip.intersection(f, half)) for k, f in flaps.items()}
    panel = clip.largest(clip.intersection(panel, blank))
    over = over_panel(corners)
    for half in keep:
        over = clip.largest(clip.intersection(over, half))
    room = over.buffer(SLIVER, join_style="mitre", mitre_limit=100)
    for i, edge in enumerate(edges, 1):
        if edge.fold and edge.fold.bend.hem and clip.difference(folded_over(edge, flaps[i]), room).area > NEAR:
            # past a short edge a hem may reach beyond the piece: that corner is snipped off too
            flaps[i] = clip.largest(clip.intersection(flaps[i], folded_over(edge, over)))
    _must_fit(edges, panel, flaps, room)
    snipped = clip.largest(clip.join([panel, *flaps.values()]))
    if abs(snipped.area - panel.area - sum(f.area for f in flaps.values())) > 1e-5:
        raise clip.OverlayError("panel and flaps do not make up the blank")
    removed = tuple(
        (_corner_of(piece, corners), clip.corners(piece))
        for piece in clip.pieces(clip.carve(blank, snipped))
        if piece.area > NEAR
    )
    straight = not sheared and _simple(outline)
    return FlatPiece(
        edges=edges,
        corners=corners,
        blank=tuple(outline) if straight else clip.corners(blank),
        panel=clip.corners(panel),
        flaps={k: clip.corners(f) for k, f in flaps.items()},
        snipped=clip.corners(snipped),
        removed=tuple(sorted(removed)),
        snips=tuple(snips),
    )


def _flap(i: int, edges: Sequence[Edge], corners: Sequence[Corner], blank: Shape) -> Shape:
    """Flap of edge i: from its fold line out, cut at both corners, inside the blank."""
    edge, first, last = edges[i], corners[i], corners[(i + 1) % len(edges)]
    start, end = first.crossing[1], last.crossing[0]
    s0, s1 = first.cut(starts=True), edge.length - last.cut(starts=False)
    if s1 - s0 <= NEAR or edge.local(end)[0] - edge.local(start)[0] <= NEAR:
        raise TooWideError(
            f"the fold on edge {i + 1} is wider than the edge allows: the corner cuts meet before its full width",
            (i + 1,),
        )
    quad = clip.shape([start, edge.at(s0, edge.allowance), edge.at(s1, edge.allowance), end])
    return clip.largest(clip.intersection(quad, blank))


def _simple(points: Sequence[Point]) -> bool:
    return bool(clip.shape(points).is_valid) and plane.area(points) > 0


def _whole(outline: Sequence[Point], edges: Sequence[Edge]) -> Shape:
    blank = clip.shape(outline)
    if not _simple(outline):
        raise TooWideError(
            "the folds run into each other on the flat", tuple(i + 1 for i, e in enumerate(edges) if e.fold)
        )
    return blank


def _must_fit(edges: Sequence[Edge], panel: Shape, flaps: Mapping[int, Shape], over: Shape) -> None:
    numbers = sorted(flaps)
    turned: dict[int, Shape] = {}
    for i in numbers:
        fold = edges[i - 1].fold
        assert fold is not None
        depth = max((edges[i - 1].local(p)[1] for p in clip.corners(flaps[i])), default=0.0)
        if abs(depth - fold.allowance) > 1e-6:
            what = "hem" if fold.bend.hem else "fold"
            raise TooWideError(f"the {what} on edge {i} is wider than the piece allows beside its neighbours", (i,))
        if clip.overlap(flaps[i], panel) > NEAR:
            raise TooWideError(f"the fold on edge {i} runs into the panel on the flat", (i,))
        if fold.bend.hem:
            turned[i] = folded_over(edges[i - 1], flaps[i])
            if clip.difference(turned[i], over).area > NEAR:
                raise TooWideError(f"the hem on edge {i} is wider than the piece behind it", (i,))
    for a, i in enumerate(numbers):
        for j in numbers[a + 1 :]:
            if clip.overlap(flaps[i], flaps[j]) > NEAR:
                raise TooWideError(f"the folds on edges {i} and {j} need the same metal", (i, j))
            one, two = edges[i - 1].fold, edges[j - 1].fold
            both = i in turned and j in turned and one and two and one.toward == two.toward
            if both and clip.overlap(turned[i], turned[j]) > NEAR:
                raise TooWideError(f"the hems on edges {i} and {j} lie on each other when folded", (i, j))
            if not both and one and two and one.toward == two.toward:
                standing = [_in_space(edges[k - 1], flaps[k]) for k in (i, j)]
                if pierce(*standing):
                    raise TooWideError(f"the folds on edges {i} and {j} run into each other when folded", (i, j))


def over_panel(corners: Sequence[Corner]) -> Shape:
    """What a hem may lie over: the finished outline, or the fold lines where the flat's fold line is outside it."""
    return clip.ring([p for c in corners for p in c.offset(max(c.before.fold_line, 0.0), max(c.after.fold_line, 0.0))])


def folded_over(edge: Edge, flap: Shape) -> Shape:
    """A flap turned right over about its fold line, seen in plan."""
    f = edge.fold_line
    return clip.shape([edge.at(s, 2 * f - u) for s, u in (edge.local(p) for p in clip.corners(flap))])


def _in_space(edge: Edge, flap: Shape) -> list[tuple[float, float, float]]:
    """A flap turned about its fold line, z up on the side it goes to."""
    assert edge.fold is not None
    a, f = math.radians(edge.fold.bend.turned), edge.fold_line
    out = []
    for s, u in (edge.local(p) for p in clip.corners(flap)):
        x, y = edge.at(s, f + (u - f) * math.cos(a))
        out.append((x, y, (u - f) * math.sin(a)))
    return out


def _corner_of(piece: Shape, corners: Sequence[Corner]) -> int:
    centre = piece.centroid
    return 1 + min(range(len(corners)), key=lambda i: math.dist(corners[i].crossing[1], (centre.x, centre.y)))
