"""Does every off-fall hold the piece it serves for, folded and unturned, with metal past both scribed edges?"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from fabplan.blanks.model import FlatPattern, Lattice
from fabplan.check_plane import cross
from fabplan.job.model import Job
from fabplan.roof.check.plane import NEAR, inside_ring, is_convex, to_ring
from fabplan.roof.check.region import covered
from fabplan.roof.model import LaidPiece, OffFall, Point, RoofPlan, SlopeLayout
from fabplan.units import inches

SAMPLES = 60
MISSED = 0.004  # of a blank: samples on a border
EACH_SAVED = 10  # pieces from off-falls for each whole one over


def check_off_falls(plan: RoofPlan, job: Job, patterns: Mapping[str, FlatPattern]) -> Iterator[str]:
    """Faults of the off-falls, and of the whole pieces over because of them."""
    if plan.off_falls and not (job.roof.use_off_falls and job.roof.cut_pieces == "on the roof"):
        yield "off-falls are used, which the job does not ask for"
    layouts = {s.slope.name: s for s in plan.slopes}
    used: set[tuple[str, int]] = set()
    saved: Counter[str] = Counter()
    for o in plan.off_falls:
        where = f"off-fall on {o.slope}, course {o.course}"
        layout = layouts.get(o.slope)
        if layout is None or not all(0 <= n < len(layout.pieces) for n in (o.first, o.second)):
            yield f"{where}: no such pieces"
            continue
        saved[layout.slope.piece] += o.times
        if o.times != layout.slope.times:
            yield f"{where}: counted {o.times} times on {layout.slope.times} slopes"
        for n in (o.first, o.second):
            if (o.slope, n) in used:
                yield f"{where}: a piece gives or takes an off-fall twice"
            used.add((o.slope, n))
        yield from (f"{where}: {fault}" for fault in _holds(o, layout, job))
        pattern = patterns.get(layout.slope.piece)
        if pattern is not None and pattern.lattice is not None:
            for n in (o.first, o.second):
                piece = layout.pieces[n]
                yield from (f"{where}: {f}" for f in _whole_metal(piece, layout, pattern.lattice, job))
        if not any(
            k.entry == layout.slope.entry and k.part == (1, 1) and k.first_course <= o.course <= k.last_course
            for k in plan.kits
        ):
            yield f"{where}: its course does not go up in one kit"
    want = {mark: -(-n // EACH_SAVED) for mark, n in saved.items()}
    if dict(plan.off_fall_spare) != want or len(plan.off_fall_spare) != len(want):
        yield f"whole pieces over because of off-falls are {dict(plan.off_fall_spare)}, they should be {want}"
    packed: Counter[str] = Counter()
    mark_of = {s.slope.entry: s.slope.piece for s in plan.slopes}
    for kit in plan.kits:
        packed[mark_of.get(kit.entry, "")] += kit.spare
    if {m: n for m, n in packed.items() if n} != want:
        yield f"the kits hold {dict(packed)} whole pieces over, they should hold {want}"


def _holds(o: OffFall, layout: SlopeLayout, job: Job) -> Iterator[str]:
    first, second = layout.pieces[o.first], layout.pieces[o.second]
    for piece in (first, second):
        if piece.course != o.course or piece.kind == "whole" or piece.shape or piece.mark != layout.slope.piece:
            yield "one of its pieces is not cut on the roof in that course"
            return
    apart = gap(first.metal, second.metal)
    need = 2 * inches(job.roof.off_fall_margin)
    if apart < need - NEAR:
        yield f"the two pieces lie {apart:.4f} in apart in one whole piece, they need {need:.4f}"


def gap(one: Sequence[Point], other: Sequence[Point]) -> float:
    """Distance of two outlines; 0 when they touch, cross or lie one inside the other."""
    for ring, within in ((one, other), (other, one)):
        if bool(inside_ring(np.array(ring), within).any()):
            return 0.0
    sides = [list(zip(r, [*r[1:], r[0]], strict=True)) for r in (one, other)]
    if any(cross(a, b, p, q) for a, b in sides[0] for p, q in sides[1]):
        return 0.0
    return min(*(to_ring(p, other) for p in one), *(to_ring(p, one) for p in other))


def _whole_metal(piece: LaidPiece, layout: SlopeLayout, lattice: Lattice, job: Job) -> Iterator[str]:
    """The metal said is all the blank's metal that the edges ask for, folds kept past them included."""
    half = math.radians(lattice.top_angle) / 2
    side = lattice.side + (lattice.upper_allowance + lattice.lower_allowance) / math.sin(2 * half)
    wide, tall = side * math.sin(half), side * math.cos(half)
    up = (lattice.lap + lattice.upper_allowance - lattice.lower_allowance) / (2 * math.sin(half))
    up += layout.full_course - layout.course
    u, v = np.meshgrid(*[(np.arange(SAMPLES) + 0.53) / SAMPLES - 0.5] * 2)
    blank = np.stack([(u - v) * wide, (u + v) * tall], axis=-1).reshape(-1, 2)
    at = blank + np.array([piece.centre[0], piece.centre[1] + up])
    hang = 0.0 if "B" in piece.lost else lattice.lower_allowance / math.sin(half)
    wanted = covered(layout, job, at, folds=True, past_eaves=hang)
    # round an inner corner or an opening the blank may hold metal that hangs on by a neck only, and is left off
    plain = is_convex(layout.slope.edges) and not layout.slope.holes
    if plain and float((wanted & ~inside_ring(blank, piece.metal)).mean()) > MISSED:
        yield f"column {piece.column}: its metal is less than the edges ask for"
