"""Off-falls: what falls off a piece cut on the roof serves, folded and unturned, for another of its course."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from math import ceil

import shapely

from fabplan.roof.model import Kit, LaidPiece, OffFall, SlopeLayout

SAVED_A_SPARE = 10  # pieces saved for each whole one over, or part of them


def find_off_falls(layouts: Sequence[SlopeLayout], kits: Sequence[Kit], margin: float) -> tuple[OffFall, ...]:
    """Pairs of cut pieces of one course of one slope of which the second is got from what falls off the first.

    Both lie in one folded piece as they lie on the roof, and `margin` past the scribed edges of both keeps them apart.
    The largest is paired with the largest that fits, each at most once.

    Parameters
    ----------
    layouts : sequence of SlopeLayout
        Pieces cut on the roof have metal and no cut shape.
    kits : sequence of Kit
        As packed without off-falls: a course that goes up in several kits uses none.
    margin : float
        Inches.
    """
    split = {(k.entry, k.first_course) for k in kits if k.part != (1, 1)}
    out = []
    for layout in layouts:
        by_course: dict[int, list[int]] = {}
        for n, piece in enumerate(layout.pieces):
            if cut_on_roof(piece, layout) and (layout.slope.entry, piece.course) not in split:
                by_course.setdefault(piece.course, []).append(n)
        for course, places in sorted(by_course.items()):
            out += [
                OffFall(slope=layout.slope.name, course=course, first=a, second=b, times=layout.slope.times)
                for a, b in _paired(layout, places, margin)
            ]
    return tuple(out)


def cut_on_roof(piece: LaidPiece, layout: SlopeLayout) -> bool:
    """Whether a piece goes up whole and is cut in place."""
    return piece.kind != "whole" and not piece.shape and piece.mark == layout.slope.piece


def _paired(layout: SlopeLayout, places: Sequence[int], margin: float) -> list[tuple[int, int]]:
    metal = {n: shapely.Polygon(layout.pieces[n].metal) for n in places}
    order = sorted(places, key=lambda n: (-metal[n].area, n))
    used: set[int] = set()
    pairs = []
    for at, a in enumerate(order):
        if a in used:
            continue
        for b in order[at + 1 :]:
            if b not in used and shapely.distance(metal[a], metal[b]) >= 2 * margin:
                used |= {a, b}
                pairs.append((a, b))
                break
    return pairs


def saved_by_mark(off_falls: Sequence[OffFall], layouts: Sequence[SlopeLayout]) -> Counter[str]:
    """Whole pieces that off-falls stand in for, by mark."""
    mark = {s.slope.name: s.slope.piece for s in layouts}
    saved: Counter[str] = Counter()
    for o in off_falls:
        saved[mark[o.slope]] += o.times
    return saved


def spare_for(saved: int) -> int:
    """Whole pieces that go up over the count: one for each ten saved, or part of them."""
    return ceil(saved / SAVED_A_SPARE)
