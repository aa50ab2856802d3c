"""Are the slopes the ones that were taped? Sizes measured off the plan against the job file."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

from fabplan.check_plane import area
from fabplan.job.model import Job
from fabplan.job.slopes import Slope, copy_of
from fabplan.roof.check.plane import CLOSE
from fabplan.roof.model import Measured, Point, RoofPlan
from fabplan.units import inches

_COS30 = math.cos(math.radians(30)) - 1e-9
_SIDES = {"rectangle": "rake", "polygon": "rake", "gable": "rake", "ell": "rake"}


def check_sizes(plan: RoofPlan, job: Job) -> Iterator[str]:
    """Faults in the shape, number and edges of the slopes."""
    for entry in job.slopes:
        mine = [s.slope for s in plan.slopes if s.slope.entry == entry.name]
        faces = entry.sides if entry.shape == "regular-spire" else len(entry.eaves or ()) or 1
        if sum(s.times for s in mine) != entry.count * (faces or 1):
            yield f"{entry.name}: {sum(s.times for s in mine)} slopes are laid, {entry.count * (faces or 1)} are asked"
            continue
        faces_of = list(dict.fromkeys(_whole(s.name) for s in mine))
        for slope in mine:
            i = faces_of.index(_whole(slope.name))
            alike = sum(s.times for s in mine if _whole(s.name) == faces_of[i])
            if _whole(slope.name) != slope.name and slope.times * entry.count != alike:
                yield f"{slope.name} is one of {entry.count} alike, {slope.times} of {alike} slopes are laid for it"
            where = f"slope {slope.name}"
            if slope.piece != entry.piece:
                yield f"{where}: laid with {slope.piece}, asked {entry.piece}"
            for name, should, found in _sizes(entry, slope, i):
                if abs(should + _correction(slope, name, i, len(faces_of)) - found) > CLOSE:
                    yield f"{where}: {name} should be {should:.4f} in, the plan has {found:.4f} in"
            yield from _ring(slope, where)
            yield from _edges(entry, slope, job, where)
            yield from _holes(entry, slope, where)
    names = {e.name for e in job.slopes}
    for s in plan.slopes:
        if s.slope.entry not in names:
            yield f"slope {s.slope.name} is not in the job"


def _whole(name: str) -> str:
    """The name of all the slopes alike of which this may be one."""
    return (copy_of(name) or (name,))[0]


def _correction(slope: Measured, name: str, face: int, faces: int) -> float:
    """What the fit changed in a reading; the plan states it and keeps it small."""
    if slope.misfit is None:
        return 0.0
    turned = {"bottom": f"eave {face + 1}", "left": f"hip {face + 1}", "right": f"hip {(face + 1) % faces + 1}"}
    turned["slant"] = f"slant {face + 1}"
    for reading in slope.misfit.readings:
        if reading.name in (name, turned.get(name)):
            return reading.correction
    return 0.0


def _irregular(entry: Slope, edge: Mapping[str, float], face: int) -> Iterator[tuple[str, float, float]]:
    eaves, hips = entry.eaves or (), entry.hips or ()
    yield "bottom", inches(eaves[face]), edge["bottom"]
    if hips:
        yield "left", inches(hips[face]), edge["left"]
        yield "right", inches(hips[(face + 1) % len(hips)]), edge["right"]
    if entry.slant is not None:
        taped = entry.slant[face] if isinstance(entry.slant, tuple) else entry.slant
        # the median of a triangle from its sides (Apollonius)
        bottom, left, right = (edge[name] for name in ("bottom", "left", "right"))
        yield "slant", inches(taped), math.sqrt((left**2 + right**2) / 2 - bottom**2 / 4)


def _drawn(entry: Slope, slope: Measured) -> Iterator[tuple[str, float, float]]:
    points = slope.outline
    typed = [(inches(x), inches(y)) for x, y in entry.points or ()]
    yield "area", area(typed), area(points)
    ours, theirs = _spans(typed), _spans(points)
    yield "corner to corner", 0.0, max((abs(a - b) for a, b in zip(ours, theirs, strict=False)), default=0.0)
    if not _turned(slope):
        for p in typed:
            yield "corner", 0.0, min(math.dist(p, q) for q in points)


def _sizes(entry: Slope, slope: Measured, face: int) -> Iterator[tuple[str, float, float]]:
    """(name, as taped, as on the plan)."""
    points = slope.outline
    edge = {e.name: math.dist(e.start, e.end) for e in slope.edges}
    base = slope.edges[0]
    along = _unit(base.start, base.end)

    def over(p: Point) -> float:
        return along[0] * (p[1] - base.start[1]) - along[1] * (p[0] - base.start[0])

    def foot(p: Point) -> float:
        return along[0] * (p[0] - base.start[0]) + along[1] * (p[1] - base.start[1])

    if entry.shape == "regular-spire":
        yield from _regular(entry, edge)
        return
    if entry.shape == "irregular-spire":
        yield from _irregular(entry, edge, face)
        return
    if entry.shape == "polygon":
        yield from _drawn(entry, slope)
        return
    for name in ("bottom", "right", "top", "left", "left_slant", "right_slant"):
        value = getattr(entry, name)
        if value is not None:
            yield name, inches(value), edge[name]
    if entry.shape == "four-sided":
        for name, (i, j) in {"diagonal_up_right": (0, 2), "diagonal_up_left": (1, 3)}.items():
            value = getattr(entry, name)
            if value is not None:
                yield name, inches(value), math.dist(points[i], points[j])
    if entry.height is not None:
        yield "height", inches(entry.height), max(over(p) for p in points)
    top = max(points, key=over)
    if entry.apex_from_left is not None:
        yield "apex_from_left", inches(entry.apex_from_left), foot(top)
    elif (
        entry.shape in ("triangle", "gable")
        and entry.height is not None
        and entry.left_slant is None
        and not (entry.shape == "triangle" and entry.left is not None)
    ):
        yield "apex_from_left", edge["bottom"] / 2, foot(top)
    if entry.shape == "rectangle":
        yield "top", edge["bottom"], edge["top"]
        yield "diagonal", math.hypot(edge["bottom"], inches(entry.height or 0)), math.dist(points[0], points[2])
    if entry.shape == "ell":
        low, high = sorted((inches(entry.left or 0), inches(entry.right or 0)))
        yield "area", edge["bottom"] * low + edge["top"] * (high - low), area(points)
        yield "ledge", edge["bottom"] - edge["top"], edge["ledge"]
        yield "return", high - low, edge["return"]
        yield "highest corner", high, max(over(p) for p in points)
    if entry.shape == "trapezoid":
        yield "right height", over(points[3]), over(points[2])
        if entry.top_from_left is not None:
            yield "top_from_left", inches(entry.top_from_left), foot(points[3])
        elif entry.left is None:
            yield "top_from_left", (edge["bottom"] - edge["top"]) / 2, foot(points[3])


def _regular(entry: Slope, edge: dict[str, float]) -> Iterator[tuple[str, float, float]]:
    """A face of a regular spire from corners in space."""
    n = entry.sides or 3
    step = 2 * math.pi / n

    def radius(side: int | None, flats: int | None, corners: int | None) -> float:
        if side is not None:
            return inches(side) / math.dist((1, 0), (math.cos(step), math.sin(step)))
        if flats is not None:
            return inches(flats) / 2 / math.cos(step / 2)
        return inches(corners) / 2 if corners is not None else 0.0

    low = radius(entry.side, entry.across_flats, entry.across_corners)
    high = radius(entry.top_side, entry.top_across_flats, entry.top_across_corners)
    a = (low, 0.0)
    b = (low * math.cos(step), low * math.sin(step))
    yield "bottom", math.dist(a, b), edge["bottom"]
    run = (low - high) * math.cos(step / 2)
    if entry.height is not None:
        hip = math.hypot(inches(entry.height), low - high)
    elif entry.hip is not None:
        hip = inches(entry.hip)
    else:
        hip = math.hypot(math.sqrt(inches(entry.slants[0] if entry.slants else 0) ** 2 - run**2), low - high)
    yield "hip on the left", hip, edge["left"]
    yield "hip on the right", hip, edge["right"]
    if high:
        yield "top", high / low * math.dist(a, b), edge["top"]


def _spans(points: Sequence[Point]) -> list[float]:
    return sorted(math.dist(p, q) for i, p in enumerate(points) for q in points[:i])


def _unit(a: Point, b: Point) -> Point:
    length = math.dist(a, b)
    return (b[0] - a[0]) / length, (b[1] - a[1]) / length


def _ring(slope: Measured, where: str) -> Iterator[str]:
    for edges in (slope.edges, *(h.edges for h in slope.holes)):
        for e, after in zip(edges, edges[1:] + edges[:1], strict=True):
            if math.dist(e.end, after.start) > CLOSE:
                yield f"{where}: edge {e.name} does not end where {after.name} begins"


def _edges(entry: Slope, slope: Measured, job: Job, where: str) -> Iterator[str]:
    roof = job.roof
    plain = {
        "hip": inches(roof.wrap) if roof.hips == "wrapped" else inches(roof.underlap) - inches(roof.cap_leg),
        "ridge": inches(roof.underlap) - inches(roof.cap_leg),
        "valley": -inches(roof.valley_short),
    }
    for i, e in enumerate(slope.edges):
        names = {e.name, str(i + 1)} if slope.edges[0].name == "bottom" else {e.name}
        kinds: list[str] = [kind for name, kind in entry.edges.items() if name in names]
        along = _unit(e.start, e.end)
        usual: str = (
            "eave" if along[0] >= _COS30 else "ridge" if along[0] <= -_COS30 else _SIDES.get(entry.shape, "hip")
        )
        if e.kind not in (kinds or [usual]) and not (not kinds and _turned(slope)):
            yield f"{where}: edge {e.name} is laid as {e.kind}, asked {(kinds or [usual])[0]}"
        fold = inches(roof.rake_fold if e.kind in ("rake", "ridge") else roof.cut_edge_fold)
        if e.kind != "eave" and abs(e.fold - fold) > CLOSE:
            yield f"{where}: cut pieces keep {e.fold:.4f} in past edge {e.name}, they should keep {fold:.4f} in"
        past = [inches(v) for name, v in entry.run_past.items() if name in names]
        past += [-inches(v) for name, v in entry.stop_short.items() if name in names]
        should = past[-1] if past else plain.get(e.kind, 0.0)
        if abs(e.reach - should) > CLOSE:
            yield f"{where}: metal reaches {e.reach:.4f} in past edge {e.name}, it should be {should:.4f} in"


def _holes(entry: Slope, slope: Measured, where: str) -> Iterator[str]:
    face = slope.name.removeprefix(entry.name).strip()
    spire = entry.shape.endswith("spire")
    asked = [o for o in entry.openings if not spire or face == str(o.slope)]
    if len(asked) != len(slope.holes):
        yield f"{where}: {len(slope.holes)} openings are laid, {len(asked)} asked"
        return
    for opening, hole in zip(asked, slope.holes, strict=True):
        if opening.points is not None:
            size = area([(inches(x), inches(y)) for x, y in opening.points])
        else:
            size = inches(opening.width or 0) * inches(opening.height or 0)
        whole = all(e.kind != "open" for e in hole.edges)
        found = area(hole.outline)
        if (whole and abs(size - found) > CLOSE * (1 + size)) or found > size + CLOSE * (1 + size):
            yield f"{where}: opening {hole.name} should take {size:.3f} sq in, the plan has {found:.3f}"
        for e in hole.edges:
            should = 0.0 if e.kind == "open" else inches(opening.run_past) - inches(opening.stop_short)
            if abs(e.reach - should) > CLOSE:
                yield f"{where}: metal reaches {e.reach:.4f} in into {hole.name}, it should be {should:.4f} in"
        x0, y0 = _place(opening.points, opening.from_left, opening.up)
        if whole and not _turned(slope):
            found_low = (min(p[0] for p in hole.outline), min(p[1] for p in hole.outline))
            if math.dist((x0, y0), found_low) > CLOSE:
                yield f"{where}: opening {hole.name} is not where it was measured"


def _place(points: Sequence[tuple[int, int]] | None, left: int | None, up: int | None) -> Point:
    if points is not None:
        return min(inches(x) for x, _ in points), min(inches(y) for _, y in points)
    return inches(left or 0), inches(up or 0)


def _turned(slope: Measured) -> bool:
    base = slope.edges[0]
    return abs(base.end[1] - base.start[1]) > 1e-9
