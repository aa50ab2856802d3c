"""Part blanks: cut shapes that would waste a whole blank are sheared to an outline of their own, a few sizes in all.

Two shapes from one whole blank is the first choice. What is left over, and pairs that leave much of their blank, are
grouped by likeness into few outlines of straight cuts; the nest then lays these in strips like any slanted blank.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np
import shapely

from fabplan import plane
from fabplan.blanks.model import FlatPattern
from fabplan.blanks.piece_rules import with_spare
from fabplan.job.metals import MetalProfile
from fabplan.job.model import Job
from fabplan.roof.model import Pair, PartBlank, PartSize, PartUse, Polygon, RoofPlan
from fabplan.roof.parts.cut_blank import cut_outline, strip_area
from fabplan.roof.parts.pairing import mirrored, placed, placements
from fabplan.units import NM_PER_INCH, to_grid

# common practice, no source
MOST_SIZES = 4  # of one diamond: more are muddled on the bench
LEAST_UNIT = 0.15  # of a whole blank, saved by a shape alone or by a pair taken apart, before shapes share a size
LEAST_KEPT = 0.05  # the same, after
SIZE_WORTH = 1.0  # whole blanks of metal: a size of its own must save more to be worth setting up
MOST_SHAPES = 24  # distinct cut shapes grouped, those with most metal to save

Key = tuple[int, bool]
Way = tuple[float, bool]


@dataclass(frozen=True, slots=True)
class _Unit:
    """What takes one whole blank now: a shape alone, or a pair; so many times."""

    keys: tuple[Key, ...]
    times: int


@dataclass(frozen=True, slots=True)
class _Group:
    """Shapes that share an outline, each as it lies in it."""

    keys: tuple[tuple[Key, Way], ...]
    ring: Polygon


@dataclass(frozen=True, slots=True)
class _Whole:
    """The whole sheared blank, about its middle, and how it lies in its own frame."""

    pattern: FlatPattern
    ring: Polygon
    turn: float  # radians from this frame to the blank's own
    ways: tuple[Way, ...]

    @classmethod
    def of(cls, pattern: FlatPattern, job: Job) -> _Whole:
        points = pattern.outline  # top, left, bottom, right
        mx, my = (sum(p[k] for p in points) / 4 for k in (0, 1))
        top = points[0][0] - mx, points[0][1] - my
        turn = math.atan2(top[1], top[0]) - math.pi / 2
        ring = plane.rotated([(x - mx, y - my) for x, y in points], -math.degrees(turn))
        angle = 90.0 if pattern.rectangular else pattern.lattice.top_angle if pattern.lattice else 0.0
        flips = not job.roof.good_side
        return cls(pattern, ring, turn, placements(angle, flips=flips, quarter_turns=pattern.grain == "any"))

    @property
    def area(self) -> float:
        return plane.area(self.ring)

    def outline(self, ring: Polygon) -> Polygon:
        return cut_outline(ring, self.ring, self.pattern.grid / NM_PER_INCH)

    def takes(self, outline: Polygon) -> float:
        """Metal of one in a strip of its own, in whole blanks."""
        own = plane.rotated(outline, math.degrees(self.turn))
        return strip_area(own, locked=self.pattern.grain != "any") / self.area


def with_part_sizes(plan: RoofPlan, job: Job, patterns: Sequence[FlatPattern]) -> RoofPlan:
    """The plan with part blanks where they should save metal; the plan itself where they do not.

    Parameters
    ----------
    plan : RoofPlan
        As laid out, every cut shape from a whole blank.
    job : Job
    patterns : sequence of FlatPattern
        Flat patterns of the job's pieces.
    """
    if not (job.roof.pair and job.nest.pair):
        return plan
    used = {p.mark for p in job.pieces}
    sizes: list[PartSize] = []
    pairs, leftover = list(plan.pairs), list(plan.leftover)
    counts = Counter(dict(plan.counts))
    spared: list[tuple[str, int]] = []
    for pattern in patterns:
        if pattern.kind != "diamond" or not any(s.mark == pattern.mark for s in plan.shapes):
            continue
        whole = _Whole.of(pattern, job)
        groups, apart = _settle(plan, whole)
        if not groups:
            continue
        gone = Counter(u for u in apart for _ in range(u.times))
        pairs = [p for p in pairs if _of_pair(p) not in gone or p.mark != pattern.mark]
        leftover = [p for p in leftover if _of_alone(p) not in gone or p.mark != pattern.mark]
        need: Counter[Key] = Counter()
        for unit in apart:
            counts[pattern.mark] -= unit.times
            for key in unit.keys:
                need[key] += unit.times
        for size in _sizes(groups, need, whole, used):
            used.add(size.mark)
            sizes.append(size)
            counts[size.mark] = size.times
        spared.append((pattern.mark, sum(u.times for u in apart)))
    if not sizes:
        return plan
    return replace(
        plan,
        counts=tuple(sorted(counts.items())),
        pairs=tuple(pairs),
        leftover=tuple(leftover),
        part_sizes=tuple(sizes),
        spared=tuple(spared),
    )


def _of_pair(p: Pair) -> _Unit:
    return _Unit(((p.first, p.first_mirrored), (p.second, p.second_mirrored)), p.times)


def _of_alone(p: PartBlank) -> _Unit:
    return _Unit(((p.shape, p.mirrored),), p.times)


def _settle(plan: RoofPlan, whole: _Whole) -> tuple[list[_Group], list[_Unit]]:
    """The groups worth a size of their own, and what they take off the whole blanks."""
    mark = whole.pattern.mark
    rings: dict[Key, Polygon] = {}
    for s in plan.shapes:
        if s.mark == mark and plane.area(s.metal):
            rings[s.number, False] = plane.hull(s.metal)
            rings[s.number, True] = mirrored(rings[s.number, False])
    units = [_of_pair(p) for p in plan.pairs if p.mark == mark]
    units += [_of_alone(p) for p in plan.leftover if p.mark == mark]
    units = [u for u in units if all(k in rings for k in u.keys)]
    # hulls only: no strip takes less, so most are ruled out at once
    areas = {k: plane.area(rings[k]) / whole.area for k in rings}
    units = [u for u in units if 1 - sum(areas[k] for k in u.keys) >= LEAST_UNIT]
    own = {k: whole.takes(whole.outline(rings[k])) for u in units for k in u.keys}
    units = _worth(units, own, LEAST_UNIT)
    units.sort(key=lambda u: (-u.times * (1 - sum(own[k] for k in u.keys)), u.keys))
    shapes: set[Key] = set()
    some = []
    for u in units:
        if len(shapes | set(u.keys)) <= MOST_SHAPES:
            shapes |= set(u.keys)
            some.append(u)
    best: tuple[float, list[_Group], list[_Unit]] = (0.0, [], [])
    done: dict[tuple[_Unit, ...], dict[int, list[_Group]]] = {}
    rates: dict[Polygon, float] = {}
    for most in range(1, MOST_SIZES + 1):
        units = some
        while units:
            grouped = done.get(tuple(units))
            if grouped is None:
                grouped = done[tuple(units)] = _grouped(units, rings, whole)
            groups = grouped[min(most, max(grouped))]
            rates.update({g.ring: whole.takes(g.ring) for g in groups if g.ring not in rates})
            takes = {k: rates[g.ring] for g in groups for k, _ in g.keys}
            keep = _worth(units, takes, LEAST_KEPT)
            if len(keep) == len(units):
                keep = _without_least(units, groups, takes)
            if len(keep) == len(units):
                saved = _saved(units, takes) - SIZE_WORTH * len(groups)
                if saved > best[0] + 1e-9:
                    best = saved, groups, units
                break
            units = keep
    return best[1], best[2]


def _saved(units: Sequence[_Unit], takes: Mapping[Key, float]) -> float:
    return sum(u.times * (1 - sum(takes[k] for k in u.keys)) for u in units)


def _without_least(units: list[_Unit], groups: Sequence[_Group], takes: Mapping[Key, float]) -> list[_Unit]:
    """The units without those of the size that saves least, if that is too little to set up for."""
    worth = []
    for n, g in enumerate(groups):
        own = {k for k, _ in g.keys}
        worth.append((_saved([u for u in units if own & set(u.keys)], takes), n, own))
    least, _, own = min(worth, key=lambda w: w[:2])
    return units if least >= SIZE_WORTH else [u for u in units if not own & set(u.keys)]


def _worth(units: Sequence[_Unit], takes: Mapping[Key, float], least: float) -> list[_Unit]:
    return [u for u in units if 1 - sum(takes[k] for k in u.keys) >= least - 1e-9]


def _grouped(units: Sequence[_Unit], rings: Mapping[Key, Polygon], whole: _Whole) -> dict[int, list[_Group]]:
    """Shapes joined two by two where that costs least metal: the groups when `MOST_SIZES` or fewer are left."""
    need: Counter[Key] = Counter()
    for u in units:
        for key in u.keys:
            need[key] += u.times
    # shapes in their order, each as it lies in its own blank
    keys: list[list[tuple[Key, Way]]] = [[(k, (0.0, False))] for k in sorted(need)]
    hulls = [rings[k] for k in sorted(need)]
    count = [need[k] for k in sorted(need)]
    joins: dict[tuple[int, int], tuple[float, Way, Polygon]] = {}
    alive = list(range(len(keys)))

    def rate(pairs: list[tuple[int, int]]) -> None:
        if not pairs:
            return
        both = [(i, j, w) for i, j in pairs for w in whole.ways]
        points = [(*hulls[i], *placed(hulls[j], *w)) for i, j, w in both]
        index = np.repeat(np.arange(len(both)), [len(p) for p in points])
        spots = shapely.multipoints(np.concatenate([np.array(p) for p in points]), indices=index)
        around = np.atleast_1d(np.asarray(shapely.convex_hull(spots)))
        areas = np.atleast_1d(np.asarray(shapely.area(around)))
        for n in range(0, len(both), len(whole.ways)):
            at = n + int(np.argmin(np.round(areas[n : n + len(whole.ways)], 6)))
            i, j, w = both[at]
            more = areas[at] * (count[i] + count[j]) - plane.area(hulls[i]) * count[i] - plane.area(hulls[j]) * count[j]
            joins[i, j] = (round(float(more), 6), w, _ring(around[at]))

    rate([(i, j) for n, i in enumerate(alive) for j in alive[n + 1 :]])
    found: dict[int, list[_Group]] = {}
    while True:
        if len(alive) <= MOST_SIZES:
            found[len(alive)] = [_Group(tuple(keys[i]), whole.outline(hulls[i])) for i in alive]
        if len(alive) == 1:
            return found
        (i, j), (_, way, ring) = min(joins.items(), key=lambda item: (item[1][0], item[0]))
        keys[i] += [(k, _then(w, way)) for k, w in keys[j]]
        hulls[i] = ring
        count[i] += count[j]
        alive.remove(j)
        joins = {ij: join for ij, join in joins.items() if j not in ij and i not in ij}
        rate([(min(i, other), max(i, other)) for other in alive if other != i])


def _ring(around: shapely.Polygon) -> Polygon:
    points = [(float(x), float(y)) for x, y in shapely.get_coordinates(around)[:-1]]
    return tuple(points if plane.area(tuple(points)) > 0 else points[::-1])


def _then(first: Way, second: Way) -> Way:
    """A turn (after a flip), then another."""
    turned = second[0] - first[0] if second[1] else second[0] + first[0]
    return turned % 360.0, first[1] != second[1]


def _sizes(groups: Sequence[_Group], need: Counter[Key], whole: _Whole, used: set[str]) -> list[PartSize]:
    """Named sizes, the biggest first."""
    out: list[PartSize] = []
    taken = set(used)
    for group in sorted(groups, key=lambda g: (-plane.area(g.ring), g.keys)):
        parts = tuple(
            PartUse(shape=key[0], mirrored=key[1], turned=way[0], flipped=way[1], times=need[key])
            for key, way in sorted(group.keys)
            if need[key]
        )
        if not parts:
            continue
        mark = next(m for n in range(1, 1000) if (m := f"{whole.pattern.mark}-{n}") not in taken)
        taken.add(mark)
        share = plane.area(group.ring) / whole.area
        out.append(PartSize(mark=mark, diamond=whole.pattern.mark, outline=group.ring, share=share, parts=parts))
    return out


def part_patterns(
    plan: RoofPlan, job: Job, patterns: Sequence[FlatPattern], metals: Mapping[str, MetalProfile]
) -> tuple[FlatPattern, ...]:
    """Part blanks as flat patterns, spare counted as for any piece; folds are marked from their cut shapes."""
    by_mark = {p.mark: p for p in patterns}
    out = []
    for size in plan.part_sizes:
        diamond = by_mark[size.diamond]
        turn = _Whole.of(diamond, job).turn
        points = plane.rotated(size.outline, math.degrees(turn))
        left, low = min(x for x, _ in points), min(y for _, y in points)
        ring = tuple((_tidy(x - left), _tidy(y - low)) for x, y in points)
        count, spare = with_spare(job, size.times)
        width, length = (_up(max(p[k] for p in ring), diamond.grid) for k in (0, 1))
        out.append(
            FlatPattern(
                mark=size.mark,
                kind="part",
                metal=diamond.metal,
                count=count,
                spare=spare,
                width_units=width,
                length_units=length,
                grid=diamond.grid,
                outline=ring,
                snipped=ring,
                folds=(),
                grain=diamond.grain,
                finish=diamond.finish,
                weight=abs(plane.area(ring)) / 144 * metals[diamond.metal].weight,
                thickness=diamond.thickness,
                notes=(_from_it(size),),
            )
        )
    return tuple(out)


def _from_it(size: PartSize) -> str:
    named = []
    for p in size.parts:
        way = [f"turned {p.turned:g}°"] if p.turned else []
        way += ["turned over"] if p.flipped else []
        name = f"{p.shape}{'m' if p.mirrored else ''}"
        named.append(f"{p.times:,} x {name}" + (f" ({', '.join(way)})" if way else ""))
    return (
        f"For cut shapes of {size.diamond}, one from each: {', '.join(named)}. Lay the shape's template against the "
        f"sides that are left of the blank {size.diamond}, mark, cut, and fold by the shape's own marks."
    )


def _tidy(value: float) -> float:
    """Without the dust of turning."""
    near = round(value * 2**16) / 2**16
    return near + 0.0 if abs(value - near) < 1e-9 else value


def _up(value: float, grid: int) -> int:
    return to_grid((Fraction(value) - Fraction(1, 10**9)) * NM_PER_INCH, grid, "up")
