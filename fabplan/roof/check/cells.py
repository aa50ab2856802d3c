"""Lattice, metal of cut pieces, course counts and lines of every slope."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping

import numpy as np

from fabplan.blanks.model import FlatPattern, Lattice
from fabplan.job.model import CutPiece, Job
from fabplan.job.slopes import Slope
from fabplan.roof.check.pieces import check_pieces
from fabplan.roof.check.plane import CLOSE, is_convex, line_through, off_ring, to_ring
from fabplan.roof.check.region import check_region, covered
from fabplan.roof.model import LaidPiece, RoofPlan, SlopeLayout
from fabplan.units import NM_PER_INCH, NM_PER_MM, inches

_MARKED_AS = {"starter": "starter", "ridge-half": "ridge-half", "cut-left": "rake-left", "cut-right": "rake-right"}


def check_cells(plan: RoofPlan, job: Job, patterns: Mapping[str, FlatPattern]) -> Iterator[str]:
    """Faults in lattice, regions, pieces and course counts."""
    entries = {e.name: e for e in job.slopes}
    for layout in plan.slopes:
        where = f"slope {layout.slope.name}"
        pattern = patterns.get(layout.slope.piece)
        entry = entries.get(layout.slope.entry)
        if entry is None or pattern is None or pattern.lattice is None:
            yield f"{where}: laid with {layout.slope.piece}, which is no diamond of the job"
            continue
        faults = [*_lattice(layout, pattern.lattice, job, entry), *check_region(layout, job)]
        yield from (f"{where}: {f}" for f in faults)
        yield from (f"{where}: {f}" for f in check_pieces(layout, job))
        yield from (f"{where}: {f}" for f in _metal(layout, plan, pattern, job))
        yield from (f"{where}: {f}" for f in _snips(layout, pattern.lattice, job))
        yield from (f"{where}: {f}" for f in _courses(layout))
        yield from (f"{where}: {f}" for f in _lines(layout, pattern.lattice, job))


# -- lattice -----------------------------------------------------------------------------------------------------------


def _lattice(layout: SlopeLayout, lattice: Lattice, job: Job, entry: Slope) -> Iterator[str]:
    half = math.radians(lattice.top_angle) / 2
    exposed = lattice.side - lattice.lap / math.sin(2 * half)
    for name, should, found in (
        ("exposed side", exposed, layout.exposed),
        ("spacing", 2 * exposed * math.sin(half), layout.spacing),
        ("course height", exposed * math.cos(half), layout.full_course),
        ("top angle", lattice.top_angle, layout.top_angle),
        ("lap", lattice.lap, layout.lap),
    ):
        if abs(should - found) > CLOSE:
            yield f"{name} should be {should:.5f}, the plan has {found:.5f}"
    if layout.course > layout.full_course + CLOSE:
        yield "courses are opened, which bares the joint below"
    closed = layout.full_course - layout.course
    if closed > CLOSE:
        hooked = lattice.hooked - closed * math.sin(half)
        held = job.held(layout.slope.name) is not None
        if not (job.roof.even_courses or held) or hooked < inches(job.roof.least_hook) - CLOSE:
            yield f"courses are closed up by {closed:.4f} in, leaving {hooked:.4f} in hooked"
        top = max(y for ring in layout.region for _, y in ring)
        many = (top - layout.base) / layout.course
        if (
            not held and abs(many - round(many)) * layout.course > 1 / 16 + 1e-4
        ):  # a ridge may lean that much and still be level
            yield "courses are closed up and do not come out even"
    if layout.alignment not in ("point", "joint"):
        yield f"nothing called {layout.alignment} can stand on the centre line"
    there = job.held(layout.slope.name)
    if (layout.laid is None) != (there is None) or (there is not None and layout.laid != there.courses):
        yield f"{layout.laid} courses are taken as laid, which is not what the job says"
    asked = there.centre if there is not None else entry.centre or job.roof.centre
    if asked not in ("better", layout.alignment):
        yield f"a {layout.alignment} stands on the centre line, asked a {asked}"
    yield from _placed(layout, job, entry)


def _placed(layout: SlopeLayout, job: Job, entry: Slope) -> Iterator[str]:
    edges = layout.slope.edges
    base = edges[0]
    drop = inches(entry.eave_drop)
    level = job.roof.eave == "level" or (job.roof.eave == "auto" and drop >= 0.5)
    fall = (base.start[1] - base.end[1]) * (1 if entry.low_end == "right" else -1)
    if drop and level and entry.shape != "polygon" and abs(fall - drop) > CLOSE:
        yield f"the eave falls {fall:.4f} in, it should fall {drop:.4f} in"
    angle = math.degrees(math.atan2(base.end[1] - base.start[1], base.end[0] - base.start[0]))
    if entry.shape != "polygon" and abs(angle - layout.turned) > 1e-6:
        yield f"turned {layout.turned:.5f} degrees, its eave lies at {angle:.5f}"
    low, high = sorted((base.start[1], base.end[1]))
    want = (
        {"low": low, "high": high, "middle": (low + high) / 2}[job.roof.level_from] if layout.turned else base.start[1]
    )
    held = job.held(layout.slope.name)
    if held is not None:
        for name, found, there in (
            ("base line lies", layout.base, held.base),
            ("centre line stands", layout.centre_x, held.from_left),
        ):
            if abs(found - there / NM_PER_INCH) > CLOSE:
                yield f"the {name} at {found:.4f}, and was snapped at {there / NM_PER_INCH:.4f}"
        if abs(layout.course - min(layout.full_course, held.course / NM_PER_INCH)) > CLOSE:
            yield f"courses of {layout.course:.4f}, and {held.course / NM_PER_INCH:.4f} is laid"
        return
    if abs(layout.base - (want - base.reach)) > CLOSE:
        yield f"the base line lies at {layout.base:.4f}, it should lie at {want - base.reach:.4f}"
    highest = max(e.start[1] for e in edges)
    tops = [e.start[0] for e in edges if e.start[1] > highest - 1e-6]
    for e in edges:
        if e.kind == "ridge" and max(e.start[1], e.end[1]) > highest - 1e-6:
            tops = [e.start[0], e.end[0]]
    middle = (base.start[0] + base.end[0]) / 2
    centre = middle + float(job.roof.centre_at) * ((max(tops) + min(tops)) / 2 - middle)
    if abs(centre - layout.centre_x) > CLOSE:
        yield f"the centre line stands at {layout.centre_x:.4f}, it should stand at {centre:.4f}"


# -- metal -------------------------------------------------------------------------------------------------------------


def _metal(layout: SlopeLayout, plan: RoofPlan, pattern: FlatPattern, job: Job) -> Iterator[str]:
    lattice = pattern.lattice
    if lattice is None:
        return
    alpha = math.radians(lattice.top_angle)
    allowances = lattice.upper_allowance + lattice.lower_allowance
    side = lattice.side + allowances / math.sin(alpha)
    up = lattice.lap / (2 * math.sin(alpha / 2)) + (lattice.upper_allowance - lattice.lower_allowance) / (
        2 * math.sin(alpha / 2)
    )
    up += layout.full_course - layout.course
    wide, tall = side * math.sin(alpha / 2), side * math.cos(alpha / 2)
    shapes = {s.number: s for s in plan.shapes}
    own = {p.mark: p.kind for p in job.pieces if isinstance(p, CutPiece) and p.for_ == pattern.mark}
    for p in layout.pieces:
        where = f"course {p.course}, column {p.column}"
        if p.kind == "whole":
            if p.mark != pattern.mark or p.shape:
                yield f"{where}: a whole piece is made from {p.mark}"
            continue
        if not p.shape and p.mark == pattern.mark and job.roof.cut_pieces == "on the roof":
            yield from (f"{where}: {f}" for f in _within_blank(p, wide, tall, up))
            continue
        if not p.shape:
            if own.get(p.mark) != _MARKED_AS.get(p.kind) or abs(p.share - 0.5) > 0.03:
                yield f"{where}: {p.share:.3f} of a piece, {p.kind}, can not be a {p.mark}"
            continue
        shape = shapes.get(p.shape)
        if p.mark != pattern.mark or shape is None or shape.mark != pattern.mark:
            yield f"{where}: cut shape {p.shape} of {p.mark} is not listed"
            continue
        ring = [(-x, y) for x, y in p.metal] if p.mirrored else list(p.metal)
        short = max(off_ring(q, shape.metal) for q in ring)
        off = max([to_ring(q, ring) for q in shape.metal], default=0.0)
        if max(short, off - _may_grow(p, layout, job)) > 1 / 32 + 1e-6:
            yield f"{where}: cut shape {p.shape} is off by {max(short, off):.4f} in"
        yield from (f"{where}: {f}" for f in _within_blank(p, wide, tall, up))


def _may_grow(p: LaidPiece, layout: SlopeLayout, job: Job) -> float:
    """How much larger than needed a piece may be: cut along capped hips and ridges alone, and never past their line."""
    asked = job.roof.alike_within
    most = inches(asked) if asked is not None else 12 / 25.4 if job.info.units == "mm" else 0.5
    for e in (*layout.slope.edges, *(e for h in layout.slope.holes for e in h.edges)):
        a, b, c = line_through(e, e.reach)
        here = [q for ring in (p.visible, *p.inner) for q in ring if abs(a * q[0] + b * q[1] - c) < 1e-4]
        if e.kind == "open" or max((math.dist(q, here[0]) for q in here), default=0.0) <= 1e-4:
            continue
        most = min(most, -e.reach - e.fold if e.kind in ("hip", "ridge") and e.reach < 0 else 0.0)
    return max(0.0, most - 1 / 32)


def _within_blank(p: LaidPiece, wide: float, tall: float, up: float) -> Iterator[str]:
    if any(abs(x) / wide + abs(y) / tall > 1 + 1e-6 for x, y in p.metal):
        yield "its metal does not lie in the blank"
    shown = [(x - p.centre[0], y - p.centre[1] - up) for x, y in p.visible]
    if not p.metal or max(off_ring(q, p.metal) for q in shown) > 1e-4:
        yield "its metal does not reach under what shows"


def _snips(layout: SlopeLayout, lattice: Lattice, job: Job) -> Iterator[str]:
    """Whole pieces whose finished outline, side tips off, passes the covered area by more than 1/16 in."""
    half = math.radians(lattice.top_angle) / 2
    wide, tall = lattice.side * math.sin(half), lattice.side * math.cos(half)
    x = layout.spacing / 2 - lattice.joint / 2
    y = tall * (1 - x / wide)
    corners = [(0.0, -tall), (x, -y), (x, y), (0.0, tall), (-x, y), (-x, -y)]
    sides = [
        (a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t)
        for a, b in zip(corners, [*corners[1:], corners[0]], strict=True)
        for t in np.linspace(0, 1, 12, endpoint=False)
    ]
    up = layout.full_course - layout.course + lattice.lap / (2 * math.sin(half))
    whole = [p for p in layout.pieces if p.kind == "whole"]
    if not whole:
        return
    at = np.array([p.centre for p in whole])[:, None, :] + np.array(sides)[None, :, :] + np.array([0.0, up])
    past = ~np.all(covered(layout, job, at, 1 / 16 + 1e-3), axis=1)
    within = np.all(covered(layout, job, at, 1 / 16 - 1e-3), axis=1)
    convex = is_convex(layout.slope.edges) and not layout.slope.holes
    for p, must, need_not in zip(whole, past.tolist(), within.tolist(), strict=True):
        if (must and not p.trimmed) or (p.trimmed and need_not and convex):
            yield f"course {p.course}, column {p.column}: a snip is {'missing' if must else 'not needed'}"


# -- counts and lines --------------------------------------------------------------------------------------------------


def _courses(layout: SlopeLayout) -> Iterator[str]:
    kinds: dict[int, Counter[str]] = defaultdict(Counter)
    snips: Counter[int] = Counter()
    shown: dict[int, float] = defaultdict(float)
    for p in layout.pieces:
        kinds[p.course][p.kind] += 1
        snips[p.course] += p.trimmed
        shown[p.course] += p.share * layout.cell
    if [c.course for c in layout.courses] != sorted(kinds):
        yield "the courses listed are not those with pieces"
    for c in layout.courses:
        found = kinds[c.course]
        said = {
            "whole": c.whole,
            "starter": c.starter,
            "ridge-half": c.ridge_half,
            "cut-left": c.cut_left,
            "cut-right": c.cut_right,
            "cut-both": c.cut_both,
            "notched": c.notched,
        }
        for kind, n in said.items():
            if found[kind] != n:
                yield f"course {c.course}: {found[kind]} {kind} pieces, the count says {n}"
        if c.trimmed != snips[c.course] or c.trimmed > c.whole:
            yield f"course {c.course}: {snips[c.course]} whole pieces need a snip, the count says {c.trimmed}"
        mine = [p for p in layout.pieces if p.course == c.course]
        hidden = sum(p.under_cap for p in mine)
        up = sum(p.kind != "whole" and (p.shape > 0 or p.mark != layout.slope.piece) for p in mine)
        if c.ready != up:
            yield f"course {c.course}: {up} pieces come up cut, the count says {c.ready}"
        if c.under_cap != hidden:
            yield f"course {c.course}: {hidden} pieces lie wholly under a cap, the count says {c.under_cap}"
        if abs(c.covered - shown[c.course]) > 1e-6 * max(1.0, shown[c.course]):
            yield f"course {c.course}: covers {shown[c.course]:.3f} sq in, the count says {c.covered:.3f}"


def _lines(layout: SlopeLayout, lattice: Lattice, job: Job) -> Iterator[str]:
    step = int(job.roof.mark_to or (NM_PER_INCH // 16 if job.info.units == "in" else NM_PER_MM))
    if layout.mark_step != step:
        yield f"lines are marked to {layout.mark_step} nm, asked {step} nm"
    half_step = layout.mark_step / NM_PER_INCH / 2 + 1e-9
    tall = 2 * lattice.side * math.cos(math.radians(lattice.top_angle) / 2)
    if [line.course for line in layout.lines] != list(range(len(layout.lines))):
        yield "course lines are not numbered from 0"
    top = max(y for ring in layout.region for _, y in ring)
    last = layout.base + max((p.course for p in layout.pieces), default=0) * layout.course
    if layout.base + len(layout.lines) * layout.course <= min(top, last) + 1e-6:
        yield "a course line is missing at the top"
    for line in layout.lines:
        height = line.course * layout.course
        seen = height - layout.course + tall
        for name, exact, said, mark in (
            ("line", height, line.height, line.mark),
            ("visible line", seen, line.top_line, line.top_mark),
        ):
            if abs(exact - said) > CLOSE:
                yield f"{name} {line.course} lies at {said:.4f}, it should lie at {exact:.4f}"
            if abs(mark * layout.mark_step / NM_PER_INCH - exact) > half_step:
                yield f"{name} {line.course} is marked {mark} steps up, more than half a step off"
    base = layout.slope.edges[0]
    low, high = sorted((base.start[0], base.end[0]))
    shift = 0.0 if layout.alignment == "point" else 0.5
    should = []
    i = math.floor((low - layout.centre_x) / layout.spacing) - 2
    while layout.centre_x + (i + shift) * layout.spacing <= high + 1e-6:
        if layout.centre_x + (i + shift) * layout.spacing >= low - 1e-6:
            should.append((i + shift) * layout.spacing)
        i += 1
    if len(should) != len(layout.first_marks):
        yield f"{len(layout.first_marks)} marks on the base line, {len(should)} fit on it"
    for exact, (said, mark) in zip(should, layout.first_marks, strict=False):
        if abs(exact - said) > CLOSE or abs(mark * layout.mark_step / NM_PER_INCH - exact) > half_step:
            yield f"the mark at {said:.4f} in from the centre line should be at {exact:.4f}"
