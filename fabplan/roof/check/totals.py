"""Do cut shapes, pairs, edges, underlayment, fasteners, kits and counts add up?"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping

from fabplan.blanks.model import FlatPattern
from fabplan.check_plane import area
from fabplan.job.model import Job, SectionPiece
from fabplan.roof.check.off_falls import check_off_falls
from fabplan.roof.check.parts import check_sizes_of_parts
from fabplan.roof.check.plane import CLOSE, hull_of, parted
from fabplan.roof.check.ways import check_ways
from fabplan.roof.model import CutShape, EdgeLength, EdgeRun, LaidPiece, Point, RoofPlan, SlopeEdge, SlopeLayout
from fabplan.units import NM_PER_INCH, inches


def check_totals(plan: RoofPlan, job: Job, patterns: Mapping[str, FlatPattern]) -> Iterator[str]:
    """Faults in everything counted over the whole roof."""
    yield from _shapes(plan)
    yield from _pairs(plan, job, patterns)
    yield from check_sizes_of_parts(plan, job, patterns)
    yield from check_off_falls(plan, job, patterns)
    yield from check_ways(plan, job, patterns)
    yield from _counts(plan, job)
    yield from _edges(plan, job)
    yield from _underlayment(plan, job)
    yield from _fasteners(plan, job)
    yield from _kits(plan, job, patterns)
    yield from _variation(plan, job, patterns)


def _shapes(plan: RoofPlan) -> Iterator[str]:
    used: Counter[tuple[int, bool]] = Counter()
    for s in plan.slopes:
        for p in s.pieces:
            if p.shape:
                used[p.shape, p.mirrored] += s.slope.times
    if sorted(s.number for s in plan.shapes) != sorted({n for n, _ in used}):
        yield "the cut shapes listed are not those used"
    for shape in plan.shapes:
        found = (used[shape.number, False], used[shape.number, True])
        if (shape.same, shape.mirrored) != found:
            yield f"cut shape {shape.number} is used {found[0]} times and {found[1]} times mirrored"
        for name, size, at in (("width", shape.width, 0), ("height", shape.height, 1)):
            spread = max(p[at] for p in shape.metal) - min(p[at] for p in shape.metal)
            if abs(spread - size) > CLOSE:
                yield f"cut shape {shape.number} has a {name} of {spread:.4f} in, the plan says {size:.4f}"


def _placed(shape: CutShape, mirrored: bool, turned: float, flipped: bool) -> list[Point]:
    sign = -1.0 if mirrored != flipped else 1.0
    angle = math.radians(turned)
    cos, sin = round(math.cos(angle)), round(math.sin(angle))
    return [(sign * x * cos - y * sin, sign * x * sin + y * cos) for x, y in shape.metal]


def _pairs(plan: RoofPlan, job: Job, patterns: Mapping[str, FlatPattern]) -> Iterator[str]:
    shapes = {s.number: s for s in plan.shapes}
    taken: Counter[tuple[int, bool]] = Counter()
    if plan.pairs and not job.roof.pair:
        yield "part pieces are paired, which the job forbids"
    for pair in plan.pairs:
        name = f"pair of cut shapes {pair.first} and {pair.second}"
        first, second = shapes.get(pair.first), shapes.get(pair.second)
        if first is None or second is None or {first.mark, second.mark} != {pair.mark}:
            yield f"{name}: not both of {pair.mark}"
            continue
        taken[pair.first, pair.first_mirrored] += pair.times
        taken[pair.second, pair.second_mirrored] += pair.times
        pattern = patterns.get(pair.mark)
        square = pattern is not None and pattern.lattice is not None and abs(pattern.lattice.top_angle - 90) < 1e-9
        free = square and pattern is not None and pattern.grain == "any"
        if pair.turned % (90 if free else 180) or (pair.flipped and job.roof.good_side) or pair.times < 1:
            yield f"{name}: the blank can not be turned {pair.turned:g} degrees" + (" and over" if pair.flipped else "")
        if not parted(
            hull_of(_placed(first, pair.first_mirrored, 0.0, False)),
            hull_of(_placed(second, pair.second_mirrored, pair.turned, pair.flipped)),
        ):
            yield f"{name}: no straight cut parts them"
    for rest in plan.leftover:
        taken[rest.shape, rest.mirrored] += rest.times
        shape = shapes.get(rest.shape)
        if shape is None or shape.mark != rest.mark or rest.times < 1:
            yield f"cut shape {rest.shape} of {rest.mark} left over is not listed"
        elif abs(area(rest.outline) - area(shape.metal)) > CLOSE * 100:
            yield f"cut shape {rest.shape} left over has another outline"
    for size in plan.part_sizes:
        for part in size.parts:
            taken[part.shape, part.mirrored] += part.times
    for shape in plan.shapes:
        for flag, n in ((False, shape.same), (True, shape.mirrored)):
            if taken[shape.number, flag] != n:
                yield f"cut shape {shape.number}: {taken[shape.number, flag]} got from blanks, {n} needed"


def _pieces(plan: RoofPlan) -> Counter[str]:
    out: Counter[str] = Counter()
    for s in plan.slopes:
        for p in s.pieces:
            out[p.mark] += s.slope.times
    return out


def _counts(plan: RoofPlan, job: Job) -> Iterator[str]:
    pieces = _pieces(plan)
    if {m: n for m, n in plan.pieces if n} != dict(pieces):
        yield f"pieces on the roof are {dict(sorted(pieces.items()))}, the plan says {dict(plan.pieces)}"
    blanks = Counter(pieces)
    for pair in plan.pairs:
        blanks[pair.mark] -= pair.times
    for size in plan.part_sizes:
        blanks[size.diamond] -= size.times
        blanks[size.mark] += size.times
    diamond = {s.slope.name: s.slope.piece for s in plan.slopes}
    for o in plan.off_falls:
        blanks[diamond.get(o.slope, "")] -= o.times
    for mark, n in plan.off_fall_spare:
        blanks[mark] += n
    for run in plan.edge_runs:
        if run.mark:
            blanks[run.mark] += run.times * run.pieces
    if job.roof.cleat_piece is not None:
        blanks[job.roof.cleat_piece] += sum(f.count for f in plan.fasteners if f.what.endswith("cleats"))
    for mark in {*blanks, *dict(plan.counts)}:
        if blanks[mark] != dict(plan.counts).get(mark, 0):
            yield f"{mark}: {blanks[mark]} blanks are needed, the plan says {dict(plan.counts).get(mark, 0)}"
    if len(dict(plan.counts)) != len(plan.counts):
        yield "a mark is counted twice"


def _capped(edge: SlopeEdge, layout: SlopeLayout) -> float:
    if layout.cap_line is None:
        return 0.0
    top = max(edge.start[1], edge.end[1])
    rise = abs(edge.start[1] - edge.end[1])
    return edge.length * max(0.0, top - layout.cap_line) / rise if rise else 0.0


def _wanted_edges(plan: RoofPlan, job: Job) -> Counter[tuple[str, int]]:
    """(kind, length in 1/1000 in) of every run the slopes ask for."""
    want: Counter[tuple[str, int]] = Counter()
    spires = {s.name for s in job.slopes if s.shape in ("regular-spire", "irregular-spire")}
    both: dict[str, list[float]] = {"hip": [], "ridge": [], "valley": []}
    for layout in plan.slopes:
        times = layout.slope.times
        for e in layout.slope.edges:
            if e.kind in both and layout.slope.entry not in spires:
                both[e.kind] += [e.length - (_capped(e, layout) if e.kind == "hip" else 0.0)] * times
            elif e.kind != "hip":
                want[e.kind, round(e.length * 1000)] += times
        for hole in layout.slope.holes:
            for e in hole.edges:
                if e.kind != "open":
                    want[e.kind, round(e.length * 1000)] += times
    extra = 2 * inches(job.roof.cap_end_lap)
    for kind, lengths in both.items():
        if kind == "hip" and job.roof.hips == "wrapped":
            continue
        lengths.sort(reverse=True)
        while lengths:
            longest = lengths.pop(0)
            if lengths and longest - lengths[0] <= 1.0:
                lengths.pop(0)
            want[kind, round((longest + (extra if kind == "hip" else 0.0)) * 1000)] += 1
    if job.roof.hips == "capped":
        by_name = {s.slope.name: s for s in plan.slopes}
        for hip in plan.hips:
            beside = by_name[hip.slope_right]
            edges = [e for e in beside.slope.edges if e.kind == "hip"]
            share = _capped(edges[0], beside) / edges[0].length if edges else 0.0
            want["hip", round((hip.length * (1 - share) + extra) * 1000)] += 1
    return want


def _edges(plan: RoofPlan, job: Job) -> Iterator[str]:
    found: Counter[tuple[str, int]] = Counter()
    for run in plan.edge_runs:
        found[run.kind, round(run.length * 1000)] += run.times
        yield from _run(run, job, {x.mark: x for x in plan.edge_lengths})
    if len({x.mark for x in plan.edge_lengths}) != len(plan.edge_lengths) or any(
        p.mark == x.mark != x.of and getattr(p, "length", None) != x.length
        for p in job.pieces
        for x in plan.edge_lengths
    ):
        yield "a length of edge metal has the mark of another piece"
    want = _wanted_edges(plan, job)
    for key in {*found, *want}:
        near = [found[key[0], key[1] + d] for d in (-1, 0, 1)]
        if want[key] and want[key] not in near:
            yield f"{want[key]} runs of {key[0]} {key[1] / 1000:.3f} in are needed, the plan has {found[key]}"
        if found[key] and not any(want[key[0], key[1] + d] for d in (-1, 0, 1)):
            yield f"a run of {key[0]} {key[1] / 1000:.3f} in is on no slope"


def _run(run: EdgeRun, job: Job, chosen: Mapping[str, EdgeLength]) -> Iterator[str]:
    where = f"{run.kind} at {run.where}"
    marks = {k: getattr(job.roof, f"{k}_piece") for k in ("eave", "hip", "ridge", "rake", "valley", "wall")}
    own = chosen[run.mark].of if run.mark in chosen else run.mark
    if (marks.get(run.kind) or "") != own:
        yield f"{where}: counted as {own or 'no piece'}, asked {marks.get(run.kind) or 'no piece'}"
    stock, lap = inches(job.roof.edge_length), inches(job.roof.edge_lap)
    for piece in job.pieces:
        if piece.mark == own and isinstance(piece, SectionPiece):
            stock = inches(piece.length)
            if run.mark in chosen:
                made = chosen[run.mark].length
                longest = min(inches(chosen[run.mark].typed), inches(job.shear.longest_cut))
                if int(piece.length) not in (chosen[run.mark].typed, *(x.length for x in chosen.values())):
                    yield f"{where}: the typed length is not that of {own}"
                if made / NM_PER_INCH > longest + CLOSE or job.roof.lengths == "as typed":
                    yield f"{where}: a length of {made} nm is chosen, {longest:.3f} in can be made"
                if made % int(job.info.round_to):
                    yield f"{where}: the length chosen is not on the graduation"
                stock = made / NM_PER_INCH
            lap = lap if piece.lap is None else inches(piece.lap)
    if abs(run.stock - stock) > CLOSE or abs(run.lap - lap) > CLOSE:
        yield f"{where}: strips of {run.stock:.3f} in lapped {run.lap:.3f}, they are {stock:.3f} lapped {lap:.3f}"

    def reach(n: int) -> float:
        return n * run.stock - (n - 1) * run.lap

    if run.pieces < 1 or reach(run.pieces) < run.length - 1e-6:
        yield f"{where}: {run.pieces} strips do not cover {run.length:.3f} in"
    elif run.pieces > 1 and reach(run.pieces - 1) >= run.length + 1e-6:
        yield f"{where}: {run.pieces - 1} strips would cover {run.length:.3f} in"


def _underlayment(plan: RoofPlan, job: Job) -> Iterator[str]:
    roof = job.roof
    width, lap = inches(roof.roll_width), inches(roof.roll_side_lap)
    net = inches(roof.roll_length) - inches(roof.roll_end_lap)
    slopes = {s.slope.name: s.slope for s in plan.slopes}
    if [u.slope for u in plan.underlayment] != [s.slope.name for s in plan.slopes]:
        yield "underlayment is not counted once for each slope"
        return
    for u in plan.underlayment:
        slope = slopes[u.slope]
        where = f"underlayment of {u.slope}"
        low, high = min(y for _, y in slope.outline), max(y for _, y in slope.outline)
        covers = [width + n * (width - lap) for n in (u.rows - 1, u.rows - 2)]
        if covers[0] < high - low - 1e-6 or (u.rows > 1 and covers[1] >= high - low + 1e-6) or len(u.runs) != u.rows:
            yield f"{where}: {u.rows} rows do not just cover {high - low:.2f} in"
            continue
        for row, run in enumerate(u.runs):
            y0 = low + row * (width - lap)
            y1 = min(y0 + width, high)
            xs, hips = [], 0
            for e in slope.edges:
                (xa, ya), (xb, yb) = e.start, e.end
                xs += [x for x, y in (e.start, e.end) if y0 - 1e-9 <= y <= y1 + 1e-9]
                xs += [xa + (xb - xa) * (y - ya) / (yb - ya) for y in (y0, y1) if (ya - y) * (yb - y) < 0]
                hips += e.kind == "hip" and min(ya, yb) < y1 - 1e-6 and max(ya, yb) > y0 + 1e-6
            if abs(max(xs) - min(xs) + min(hips, 2) * inches(roof.roll_hip_lap) - run) > 1e-4:
                yield f"{where}: row {row + 1} runs {run:.3f} in, the slope is {max(xs) - min(xs):.3f} in wide there"
        if abs(sum(u.runs) * slope.times - u.total) > 1e-4 or u.times != slope.times:
            yield f"{where}: the runs add up to {sum(u.runs) * slope.times:.3f} in, the plan says {u.total:.3f}"
        if abs(u.rolls - u.total / net) > 1e-9 * max(1.0, u.rolls):
            yield f"{where}: {u.total / net:.4f} rolls, the plan says {u.rolls:.4f}"
        by_area = slope.area * slope.times / (net * (width - lap))
        if abs(u.rolls_by_area - by_area) > 1e-9 * max(1.0, by_area):
            yield f"{where}: {by_area:.4f} rolls by area, the plan says {u.rolls_by_area:.4f}"


def _fasteners(plan: RoofPlan, job: Job) -> Iterator[str]:
    roof = job.roof
    pieces = _pieces(plan).total()

    def spots(kinds: tuple[str, ...], apart: float) -> int:
        return sum(r.times * (math.ceil(r.length / apart - 1e-9) + 1) for r in plan.edge_runs if r.kind in kinds)

    caps = 2 * spots(("hip", "ridge"), inches(roof.cap_cleat_spacing))
    want = {
        "shingle nails": pieces * roof.nails_per_piece,
        "shingle cleats": pieces * roof.cleats_per_piece,
        "edge strip nails": spots(("eave",), inches(roof.edge_nail_spacing)),
        "cap cleats": caps,
        "cleat nails": (pieces * roof.cleats_per_piece + caps) * roof.nails_per_cleat,
    }
    found: dict[str, int] = {f.what: f.count for f in plan.fasteners}
    for what in {*want, *found}:
        if want.get(what, 0) != found.get(what, 0):
            yield f"{what}: {want.get(what, 0)} needed, the plan says {found.get(what, 0)}"


def _kits(plan: RoofPlan, job: Job, patterns: Mapping[str, FlatPattern]) -> Iterator[str]:
    """Faults of the kits: every piece in one, none above the limits, weights as the blanks give them."""
    most = job.roof.kit_pieces or job.handling.carry_count or plan.kit_limit[0]
    heaviest = job.handling.lift_limit
    if plan.kit_limit != (most, None if heaviest is None else float(heaviest)):
        yield f"kits are limited to {plan.kit_limit}, asked {(most, heaviest)}"
    want: Counter[tuple[str, int, str, str, int]] = Counter()
    pounds = sum(n * _weight(mark, (), patterns) for mark, n in plan.off_fall_spare)
    for s in plan.slopes:
        for p in _going_up(s, plan):
            want[s.slope.entry, 0, p.mark, p.kind, p.shape] += s.slope.times
            pounds += s.slope.times * _weight(p.mark, p.metal if p.shape else (), patterns)
    found: Counter[tuple[str, int, str, str, int]] = Counter()
    for kit in plan.kits:
        n = sum(i.count for i in kit.items)
        if n + kit.spare != kit.pieces or n < 1 or kit.spare < 0:
            yield f"{kit.label}: {n} pieces listed, {kit.pieces} said"
        for i in kit.items:
            found[kit.entry, 0, i.mark, i.kind, i.shape] += i.count
        if kit.pieces > most:
            yield f"{kit.label}: {kit.pieces} pieces are more than {most}"
        over = heaviest is not None and kit.pounds > heaviest + 1e-6
        if over != kit.over or (over and kit.pieces > 1):
            yield f"{kit.label}: {kit.pounds:.1f} lb is more than {heaviest} lb"
        yield from _kit_courses(plan, kit.label, kit.entry, (kit.first_course, kit.last_course), kit.part, n)
    for key in {*want, *found}:
        if want[key] != found[key]:
            yield f"kits of {key[0]}: {want[key]} {key[2]} {key[3]} (shape {key[4]}) needed, {found[key]} packed"
    packed = sum(k.pounds for k in plan.kits)
    if abs(packed - pounds) > 0.02 * max(1.0, pounds):
        yield f"kits weigh {packed:.2f} lb, their pieces {pounds:.2f} lb"
    each: dict[tuple[str, str, int], list[float]] = {}
    whole = {s.slope.entry: _weight(s.slope.piece, (), patterns) for s in plan.slopes}
    for s in plan.slopes:
        for p in s.pieces:
            each.setdefault((p.mark, p.kind, p.shape), []).append(_weight(p.mark, p.metal if p.shape else (), patterns))
    for kit in plan.kits:
        known = [(i.count, each.get((i.mark, i.kind, i.shape), [0.0])) for i in kit.items]
        known.append((kit.spare, [whole.get(kit.entry, 0.0)]))
        light, heavy = (sum(n * pick(w) for n, w in known) for pick in (min, max))
        if not light - 1e-6 <= kit.pounds <= heavy + 1e-6:
            yield f"{kit.label}: weighs {light:.3f} to {heavy:.3f} lb, the plan says {kit.pounds:.3f}"
    if len({k.label for k in plan.kits}) != len(plan.kits):
        yield "two kits have the same label"


def _going_up(layout: SlopeLayout, plan: RoofPlan) -> list[LaidPiece]:
    """Pieces of a slope that are carried up: all that neither are got from an off-fall nor lie there already."""
    gone = {o.second for o in plan.off_falls if o.slope == layout.slope.name}
    there = -math.inf if layout.laid is None else layout.laid  # a leaning eave has courses below 0
    return [p for n, p in enumerate(layout.pieces) if n not in gone and p.course > there]


def _kit_courses(
    plan: RoofPlan, label: str, entry: str, courses: tuple[int, int], part: tuple[int, int], n: int
) -> Iterator[str]:
    first, last = courses
    mine = [s for s in plan.slopes if s.slope.entry == entry]
    there = sum(s.slope.times for s in mine for p in _going_up(s, plan) if first <= p.course <= last)
    same = [k for k in plan.kits if k.entry == entry and (k.first_course, k.last_course) == courses]
    if part[1] != len(same) or not 1 <= part[0] <= part[1]:
        yield f"{label}: part {part[0]} of {part[1]}, there are {len(same)}"
    packed = sum(k.pieces - k.spare for k in same)
    if packed != there:
        yield f"{label}: courses {first} to {last} have {there} pieces, the kits of them {packed}"
    if f"{first}" not in label or f"{last}" not in label or entry not in label:
        yield f"{label}: the label does not name {entry}, courses {first} to {last}"


def _weight(mark: str, metal: tuple[Point, ...], patterns: Mapping[str, FlatPattern]) -> float:
    pattern = patterns.get(mark)
    if pattern is None:
        return 0.0
    return pattern.weight * (min(1.0, area(metal) / area(pattern.outline)) if metal else 1.0)


def _wider(apart: float, fold: float) -> tuple[float, float]:
    """Mean over the wider width, and variance, of the wider of two hems: by summing over one of them."""
    if fold == 0:
        return 0.0, 0.0
    n, far = 4000, 8.0
    mean = square = 0.0
    for k in range(n):
        z = (k + 0.5) / n * 2 * far - far
        share = math.exp(-z * z / 2) / math.sqrt(2 * math.pi) * 2 * far / n
        # the other is wider by what it is past this one: its density's tail and first two moments
        t = (z * fold + apart) / fold
        above, dense = math.erfc(t / math.sqrt(2)) / 2, math.exp(-t * t / 2) / math.sqrt(2 * math.pi)
        own = z * fold
        other = -apart * above + fold * dense
        both = (apart * apart + fold * fold) * above + (fold * fold * t - 2 * apart * fold) * dense
        mean += share * (own * (1 - above) + other)
        square += share * (own * own * (1 - above) + both)
    return mean, square - mean * mean


def _variation(plan: RoofPlan, job: Job, patterns: Mapping[str, FlatPattern]) -> Iterator[str]:
    """Faults of what is said of hand-made variation, worked out again from the spread of the job."""
    shear, fold, play = (inches(v) for v in (job.spread.shear, job.spread.fold, job.spread.play))
    laid = {s.slope.piece for s in plan.slopes}
    if {x.mark for x in plan.variation} != laid:
        yield "variation is not given for each diamond laid"
    for x in plan.variation:
        mine = [s for s in plan.slopes if s.slope.piece == x.mark]
        if not mine:
            continue
        half = math.radians(mine[0].top_angle) / 2
        lattice = patterns[x.mark].lattice
        if lattice is None:
            continue
        more, wide = _wider(abs(lattice.upper_hem - lattice.lower_hem), fold)
        v = shear * shear + 4 * fold * fold + wide + play * play / 12
        ahead = (lattice.slack - play / 2 - more) / math.sin(half)
        ahead += patterns[x.mark].rounding * math.sin(2 * half) / math.sin(half)
        if abs(x.mean_course - x.layout_course - ahead) > 1e-9 or abs(x.layout_course - lattice.course) > 1e-9:
            yield f"variation of {x.mark}: the mean course is not what hems, play and shear give"
        pieces = sum(s.slope.times * len(s.pieces) for s in mine)
        if x.locks != 2 * pieces:
            yield f"variation of {x.mark}: {2 * pieces} locks, the plan says {x.locks}"
        if abs(x.confidence - float(job.roof.confidence)) > 1e-12:
            yield f"variation of {x.mark}: confidence {x.confidence}, asked {job.roof.confidence}"
        for d in x.drifts:
            want = (
                d.courses * ahead,
                math.sqrt(d.courses * v / 2) / math.sin(half),
                math.sqrt(d.courses * v / 2) / math.cos(half),
            )
            found = (d.height_mean, d.height_sigma, d.sideways_sigma)
            if max(abs(a - b) for a, b in zip(want, found, strict=True)) > 1e-9:
                yield f"variation of {x.mark}: drift after {d.courses} courses is not what the spreads give"
        for i in x.intervals:
            if i.course_at_most > x.mean_course + 1e-9 or not 0 <= i.short_of_printed <= 1:
                yield f"variation of {x.mark}: a line every {i.courses} is laid farther apart than the mean course"
            if i.allowed_per_lock != (i.hem_per_lock <= x.hem + 1e-9) or i.allowed_whole_roof != (
                i.hem_whole_roof <= x.hem + 1e-9
            ):
                yield f"variation of {x.mark}: a line every {i.courses} is not allowed as its hem says"
            if i.hem_whole_roof < i.hem_per_lock - 1e-9:
                yield f"variation of {x.mark}: the whole roof asks less hem than one lock"
