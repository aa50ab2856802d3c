"""Are part blanks inside the whole blank, big enough for their cut shapes, less metal and rightly counted?"""

from __future__ import annotations

import cmath
import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

from fabplan.blanks.model import FlatPattern
from fabplan.check_plane import area
from fabplan.job.metals import MetalProfile
from fabplan.job.model import Job
from fabplan.roof.check.plane import NEAR, hull_of
from fabplan.roof.model import CutShape, PartSize, PartUse, Point, RoofPlan
from fabplan.units import NM_PER_INCH


def check_sizes_of_parts(plan: RoofPlan, job: Job, patterns: Mapping[str, FlatPattern]) -> Iterator[str]:
    """Faults of the part sizes against the cut shapes and the whole blanks."""
    shapes = {s.number: s for s in plan.shapes}
    marks = Counter([p.mark for p in job.pieces] + [s.mark for s in plan.part_sizes])
    parts: Counter[str] = Counter()
    metal: dict[str, float] = {}
    for size in plan.part_sizes:
        name = f"part blank {size.mark}"
        diamond = patterns.get(size.diamond)
        if marks[size.mark] > 1:
            yield f"{name}: the mark is used twice"
        if diamond is None or diamond.kind != "diamond" or not (job.roof.pair and job.nest.pair):
            yield f"{name}: there is no diamond {size.diamond} to part, or the job forbids it"
            continue
        whole = _about_middle(diamond)
        yield from (f"{name}: {what}" for what in _outline(size, whole))
        for part in size.parts:
            yield from (f"{name}: {what}" for what in _part(part, size, shapes, diamond, job))
        parts[size.diamond] += size.times
        metal[size.diamond] = metal.get(size.diamond, 0.0) + size.times * area(size.outline)
    if sorted(dict(plan.spared)) != sorted(parts) or len(plan.spared) != len(parts):
        yield "the whole blanks spared are not listed by diamond"
        return
    for mark, n in plan.spared:
        if not parts[mark] <= 2 * n <= 2 * parts[mark]:
            yield f"{parts[mark]} part blanks stand in for {n} of {mark}"
        if metal[mark] >= n * area(patterns[mark].outline):
            yield f"the part blanks of {mark} take more metal than whole ones"


def _about_middle(diamond: FlatPattern) -> list[Point]:
    """Top, left, bottom, right of the sheared diamond about its middle, the top straight up."""
    points = [complex(*p) for p in diamond.outline]
    middle = sum(points) / len(points)
    up = (points[0] - middle) / abs(points[0] - middle) / 1j
    about = [(p - middle) / up for p in points]
    return [(p.real, p.imag) for p in about]


def _outline(size: PartSize, whole: Sequence[Point]) -> Iterator[str]:
    ring = list(size.outline)
    if len(ring) < 3 or len(hull_of(ring)) != len(ring) or not _within(hull_of(ring), ring):
        yield "its outline is not convex and counter-clockwise"
        return
    if not _within(ring, whole):
        yield "it sticks out of the whole blank"
    if abs(size.share - area(ring) / area(whole)) > 1e-9:
        yield "its share of the whole blank is not its area's"


def _part(
    part: PartUse, size: PartSize, shapes: Mapping[int, CutShape], diamond: FlatPattern, job: Job
) -> Iterator[str]:
    shape = shapes.get(part.shape)
    if shape is None or shape.mark != size.diamond or part.times < 1:
        yield f"cut shape {part.shape} of {size.diamond} is not listed"
        return
    free = diamond.rectangular and diamond.grain == "any"
    if part.turned % (90 if free else 180) or (part.flipped and job.roof.good_side):
        yield f"cut shape {part.shape} can not lie in it turned {part.turned:g} degrees"
    way = cmath.rect(1.0, math.radians(part.turned))
    over = part.mirrored != part.flipped
    points = [complex(-x if over else x, y) * way for x, y in shape.metal]
    short = max(0.0, -diamond.rounding)  # a blank rounded down lacks this much of the cut shapes as well
    if not _within([(p.real, p.imag) for p in points], size.outline, NEAR + short):
        yield f"cut shape {part.shape} does not lie inside it"


def _within(points: Sequence[Point], ring: Sequence[Point], allowed: float = NEAR) -> bool:
    """Whether points lie inside a convex counter-clockwise ring."""
    for (x0, y0), (x1, y1) in zip(ring, [*ring[1:], ring[0]], strict=True):
        long = math.hypot(x1 - x0, y1 - y0)
        if any((x1 - x0) * (y - y0) - (y1 - y0) * (x - x0) < -allowed * max(long, NEAR) for x, y in points):
            return False
    return True


def check_part_blanks(
    patterns: Sequence[FlatPattern], plan: RoofPlan, job: Job, metals: Mapping[str, MetalProfile]
) -> list[str]:
    """Faults of the flat patterns of part blanks; an empty list when they hold.

    Parameters
    ----------
    patterns : sequence of FlatPattern
        All patterns of the job, part blanks last.
    plan : RoofPlan
    job : Job
    metals : mapping of profile name to MetalProfile
    """
    by_mark = {p.mark: p for p in patterns}
    faults = []
    if [p.mark for p in patterns if p.kind == "part"] != [s.mark for s in plan.part_sizes]:
        return ["the part blanks are not those of the roof"]
    for size in plan.part_sizes:
        faults += [f"part blank {size.mark}: {what}" for what in _flat(by_mark, size, job, metals)]
    return faults


def _flat(
    by_mark: Mapping[str, FlatPattern], size: PartSize, job: Job, metals: Mapping[str, MetalProfile]
) -> Iterator[str]:
    p, diamond = by_mark[size.mark], by_mark[size.diamond]
    if (p.metal, p.grid, p.grain, p.finish) != (diamond.metal, diamond.grid, diamond.grain, diamond.finish):
        yield "its metal, graduation, grain or finish is not the diamond's"
    if p.thickness != diamond.thickness:
        yield "its thickness is not the diamond's"
    if p.folds or p.notches or p.lattice or p.section or p.parts != 1 or p.snipped != p.outline:
        yield "it is folded or snipped, which its cut shapes are, not it"
    spare = job.info.spare.pieces + math.ceil(size.times * job.info.spare.share)
    left = max(0, size.times + spare - job.done.pieces.get(p.mark, 0))
    if (p.count, p.spare) != (left, min(spare, left)):
        yield f"{p.count} blanks of which {p.spare} spare, not {left} and {min(spare, left)}"
    # the whole blank is drawn turned; its part must be turned the same
    here, there = [complex(*q) for q in diamond.outline], [complex(*q) for q in _about_middle(diamond)]
    turn = (here[0] - here[2]) / (there[0] - there[2])
    want = [complex(*q) * turn for q in size.outline]
    shift = complex(min(q.real for q in want), min(q.imag for q in want))
    if len(p.outline) != len(want) or any(
        abs(complex(*q) - (w - shift)) > NEAR for q, w in zip(p.outline, want, strict=True)
    ):
        yield "its outline is not the roof's"
    step = p.grid / NM_PER_INCH
    for name, units, at in (("width", p.width_units, 0), ("length", p.length_units, 1)):
        box = max(q[at] for q in p.outline)
        if units != math.ceil(box / step - 1e-4):
            yield f"its {name} is not its outline's, rounded up"
    if abs(p.weight - area(p.outline) / 144 * metals[diamond.metal].weight) > 1e-9:
        yield "its weight is not its metal's"
