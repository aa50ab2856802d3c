"""Are the two ways of cutting what they are said to take, and do the cut shapes keep the hems they are said to keep?"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from functools import lru_cache

from fabplan.blanks import clip
from fabplan.blanks.model import FlatPattern, Notch
from fabplan.check_plane import area
from fabplan.job.model import Job
from fabplan.roof.model import CutWay, RoofPlan

Ring = tuple[tuple[float, float], ...]
BITE = 2.5  # inches one cut of the snips goes


def check_ways(plan: RoofPlan, job: Job, patterns: Mapping[str, FlatPattern]) -> Iterator[str]:
    """The way planned must be the plan's own blanks; off-falls and pairs can only save, and each has its own hours."""
    yield from _shape_work(plan, patterns)
    if not plan.ways:
        return
    here = plan.ways[0]
    laid = {s.slope.piece for s in plan.slopes}
    each = {m: area(patterns[m].outline) for m in laid}
    sized = sum(s.times * area(s.outline) for s in plan.part_sizes)
    metal = sum(n * each[m] for m, n in plan.counts if m in laid) + sized
    if [w.how for w in plan.ways] != [
        job.roof.cut_pieces,
        "at the bench" if job.roof.cut_pieces == "on the roof" else "on the roof",
    ]:
        yield "the ways of cutting are not the one planned and the other"
    if abs(here.metal - metal) > 1e-6 * max(1.0, metal):
        yield f"the blanks of the way planned are {metal:.2f} sq in, it is said to take {here.metal:.2f}"
    whole = sum(s.slope.times * each[s.slope.piece] for s in plan.slopes for p in s.pieces if p.mark in laid)
    for way in plan.ways:
        low, high = _hours_of(plan, way, job, patterns)
        if not low * (1 - 1e-9) <= way.hours <= high * (1 + 1e-9):
            yield f"cutting {way.how} is said to take {way.hours:.4f} h"
        if way.metal > whole * (1 + 1e-9) or (way.how == "at the bench") != (way.templates > 0):
            yield f"cutting {way.how} is said to take {way.metal:.2f} sq in and {way.templates} templates"

    if len({way.money is None for way in plan.ways}) > 1:
        yield "one way has a price and the other has none"
    rate = job.labour.rate or 0.0
    priced = [(way.money - way.hours * rate) / way.metal for way in plan.ways if way.money is not None]
    if any(p < 0 or abs(p - priced[0]) > 1e-6 * max(1.0, priced[0]) for p in priced):
        yield "the two ways are not priced alike"


def _hours_of(plan: RoofPlan, way: CutWay, job: Job, patterns: Mapping[str, FlatPattern]) -> tuple[float, float]:
    """Least and most hours of a way; the same where the plan holds all it is counted of."""
    t, whole = job.labour, dict(plan.whole_work)
    laid = {s.slope.piece for s in plan.slopes}
    pieces = [(p, s.slope.times) for s in plan.slopes for p in s.pieces]
    cut = [p.mark for p, n in pieces if p.kind != "whole" and p.mark in laid for _ in range(n)]
    if way.how == "on the roof":
        exact = sum(whole.get(mark, 0.0) + t.lay_cut for mark in cut) / 3600
        return exact, exact
    if job.roof.cut_pieces == "on the roof":  # the shapes of the other way are in no plan
        least = len(cut) * (t.scribe + t.snip + t.lay) + way.templates * (t.layout + t.snip)
        most = sum(t.scribe + 60 * t.snip + t.lay + whole.get(mark, 0.0) for mark in cut)
        return least / 3600, (most + way.templates * (t.layout + 100 * t.snip)) / 3600
    exact = 0.0
    for s in plan.shapes:
        flat = patterns[s.mark]
        corners = sum(_snips(n, flat.outline) for n in flat.notches) * t.snip
        fold = max(0.0, whole.get(s.mark, 0.0) - corners) / max(1, len(flat.folds))
        exact += (s.same + s.mirrored) * (t.scribe + s.snips * t.snip + s.folds * fold + t.lay)
        round_it = sum(math.dist(a, b) for a, b in zip(s.metal, (*s.metal[1:], s.metal[0]), strict=True))
        exact += t.layout + max(1, math.ceil(round_it / BITE - 1e-6)) * t.snip
    return exact / 3600, exact / 3600


def _shape_work(plan: RoofPlan, patterns: Mapping[str, FlatPattern]) -> Iterator[str]:
    """Hems and snips of the cut shapes, as far as a hem that is nearly gone leaves no doubt."""
    for s in plan.shapes:
        sure, may = _hems(s.metal, s.blank, patterns[s.mark])
        if not sure <= s.folds <= may:
            yield f"cut shape {s.number} is said to keep {s.folds} hems, it keeps {sure} to {may}"
        if not 1 <= s.snips <= 60:
            yield f"cut shape {s.number} is said to take {s.snips} snips"


@lru_cache(maxsize=4096)
def _hems(shape: Ring, blank: Ring, diamond: FlatPattern) -> tuple[int, int]:
    """Hems of a diamond that a shape keeps half as long again as wide, and those it keeps nearly as long as wide."""
    middle = sum(complex(*p) for p in diamond.outline) / len(diamond.outline)
    turn = (complex(*diamond.outline[0]) - middle) / max(p[1] for p in blank) / 1j
    metal = clip.shape([(q.real, q.imag) for q in (complex(*p) * turn + middle for p in shape)])
    left = clip.intersection(clip.shape(diamond.snipped), metal)
    sure = may = 0
    for fold in diamond.folds:
        flaps = clip.pieces(clip.intersection(clip.shape(fold.flap), left))
        a, b = complex(*fold.line[0]), complex(*fold.line[1])
        way = (b - a) / abs(b - a)
        spans = [[((complex(*p) - a) * way.conjugate()).real for p in clip.corners(part)] for part in flaps]
        longs = [min(max(at), abs(b - a)) - max(min(at), 0.0) for at in spans]
        sure += len(longs) == 1 and longs[0] > 1.5 * fold.width
        may += max(longs, default=0.0) > 0.8 * fold.width
    return sure, may


def _snips(notch: Notch, outline: tuple[tuple[float, float], ...]) -> int:
    """Sides of a notch with their middles inside the blank; a slit has one."""
    if not notch.removed:
        return 1
    border = list(zip(outline, (*outline[1:], outline[0]), strict=True))
    found = 0
    for p, q in zip(notch.removed, (*notch.removed[1:], notch.removed[0]), strict=True):
        a, b = complex(*p), complex(*q)
        middle = (a + b) / 2
        off = min(
            abs(abs(middle - complex(*u)) + abs(middle - complex(*v)) - abs(complex(*u) - complex(*v)))
            for u, v in border
        )
        found += abs(b - a) > 1e-6 and off > 1e-6
    return max(1, found)
