"""Corner snips on the blank drawing: their sizes along the sheared edges, slits, leaders for what is too small."""

from __future__ import annotations

from math import hypot

from fabplan import plane
from fabplan.blanks.model import FlatPattern
from fabplan.plotter.board import geometry, labels
from fabplan.plotter.board.draft import Draft
from fabplan.plotter.board.measure import width
from fabplan.plotter.model import Point, Text
from fabplan.units import NM_PER_INCH, Show

SNIP_SIZE = 8.5
ON_BORDER = 1e-4  # inches
LEAST_LEG = 2.0  # graduations


def draw_snips(draft: Draft, pattern: FlatPattern, at, scale: float, show: Show) -> None:  # type: ignore[no-untyped-def]
    """Sizes of the corner snips along the sheared edges, outside; one that does not fit is written at its corner."""
    for notch in pattern.notches:
        if not notch.removed:
            _slit(draft, pattern, notch.corner, at, notch.depth, show)
            continue
        legs = _legs(pattern, notch.removed)
        texts = [labels.bare(show, plane.distance(a, b)) for a, b in legs]
        roomy = all(
            plane.distance(a, b) * scale >= width(t, SNIP_SIZE) + 0.6 for (a, b), t in zip(legs, texts, strict=True)
        )
        if roomy or len(set(texts)) > 1:
            for (a, b), text in zip(legs, texts, strict=True):
                if plane.distance(a, b) * NM_PER_INCH < LEAST_LEG * pattern.grid:
                    continue  # too short to draw a size at; the table has it
                # a value too long for its line goes past the snip's end, away from the sheared corner
                corner_last = any(plane.distance(b, p) < 1e-6 for p in pattern.outline)
                ends = (at(b), at(a), 4.2) if corner_last else (at(a), at(b), -4.2)
                draft.dimension(*ends, text, size=SNIP_SIZE)
                draft.take(geometry.strip_box(at(a), at(b), 0.3))
            continue
        x, y = at(plane.middle(notch.removed))
        cx, cy = at(plane.middle(pattern.outline))
        away = hypot(x - cx, y - cy) or 1.0
        ux, uy = (x - cx) / away, (y - cy) / away
        text = " × ".join(texts)
        far = [
            Text(
                at=(x + ux * d, y + uy * d),
                text=text,
                size=SNIP_SIZE,
                anchor="left" if ux > 0.3 else "right" if ux < -0.3 else "centre",
            )
            for d in (6.0, 8.0, 10.0, 12.0)
        ]
        placed = draft.place(far, 0.4)
        if placed:
            end = placed.at if placed.anchor != "centre" else (placed.at[0], placed.at[1] - uy * 2.0)
            draft.leader((geometry.toward(end, (x, y), 0.8), (x, y)))


def _legs(pattern: FlatPattern, removed: tuple[Point, ...]) -> list[tuple[Point, Point]]:
    """Stretches of the sheared border that are snipped off, without sides that go altogether."""
    outline = pattern.outline
    sides = list(zip(outline, outline[1:] + outline[:1], strict=True))
    ring = removed if plane.area(removed) > 0 else removed[::-1]
    legs = []
    for a, b in zip(ring, ring[1:] + ring[:1], strict=True):
        if plane.distance(a, b) < 1e-3 or not _on_border(outline, a, b):
            continue
        whole = any(plane.distance(a, p) < 1e-6 and plane.distance(b, q) < 1e-6 for p, q in sides)
        if not whole:
            legs.append((a, b))
    return legs


def _slit(draft: Draft, pattern: FlatPattern, corner: int, at, depth: float, show: Show) -> None:  # type: ignore[no-untyped-def]
    """A slit: one snip from the sheared corner to the crossing of the fold lines."""
    lines = {f.edge: f.line for f in pattern.folds}
    count = len(pattern.finished.outline or pattern.outline)
    before, after = lines.get((corner - 2) % count + 1), lines.get(corner)
    if before is None or after is None:
        return
    crossing = plane.crossing(before, after)
    if crossing is None:
        return
    tip = min(pattern.outline, key=lambda p: abs(plane.distance(p, crossing) - depth))
    draft.line((at(tip), at(crossing)), "outline")


def _on_border(outline: tuple[Point, ...], a: Point, b: Point) -> bool:
    """Whether a stretch lies along one side of the outline."""
    for p, q in zip(outline, outline[1:] + outline[:1], strict=True):
        if all(plane.on_stretch(p, q, end, ON_BORDER) for end in (a, b)):
            return True
    return False
