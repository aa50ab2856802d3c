"""Part blanks: big enough for their shapes, inside the whole blank, nothing lost, and every lie about them found."""

from __future__ import annotations

import math
import random
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from typing import Any

import pytest
import roof_jobs as rj
import shapely
from hypothesis import given
from hypothesis import strategies as st

from fabplan import plane
from fabplan.blanks.develop import develop
from fabplan.blanks.model import FlatPattern
from fabplan.job.model import Job
from fabplan.plan.make import metals_of
from fabplan.roof.check.parts import check_part_blanks
from fabplan.roof.check.whole import check_roof
from fabplan.roof.lay.lattice import blank_rhombus
from fabplan.roof.model import PartSize, Polygon, RoofPlan
from fabplan.roof.parts.cut_blank import LEAST_CUT, MOST_CUTS, cut_outline, strip_area
from fabplan.roof.parts.part_sizes import MOST_SIZES, SIZE_WORTH, part_patterns, with_part_sizes
from fabplan.roof.plan import plan_roof
from fabplan.speech.roof import notes as roof_notes
from fabplan.units import NM_PER_INCH

CUPOLA = {"shape": "regular-spire", "sides": 8, "across_flats": "48 in", "height": "40 in"}
JOBS: dict[str, tuple[dict[str, Any], dict[str, Any], dict[str, Any]]] = {
    # slope, rules, changes to the diamond
    "cupola": (CUPOLA, {}, {}),
    "cupola, no good side": (CUPOLA, {"good_side": False}, {}),
    "cupola, grain along": (CUPOLA, {}, {"grain": "along"}),
    "cupola, pointed diamonds": (CUPOLA, {}, {"top_angle": 70}),
    "cupola, blunt diamonds, grain across": (CUPOLA, {}, {"top_angle": 104, "grain": "across"}),
    "frustum": (
        {"shape": "regular-spire", "sides": 4, "side": "40 in", "top_side": "26 in", "slant": "120 in"}, {}, {},
    ),
    "out of square": (
        {
            "shape": "irregular-spire",
            "eaves": ["60 in", "61 in", "62-1/2 in", "58 in"],
            "hips": ["71 in", "72-1/2 in", "71 in", "70 in"],
        },
        {},
        {},
    ),
}  # fmt: skip

Key = tuple[int, bool]


@cache
def parted(name: str) -> tuple[Job, tuple[FlatPattern, ...], RoofPlan, RoofPlan]:
    slope, rules, changes = JOBS[name]
    job = rj.job_with(rj.slope(**slope), rules=rj.roof(**rules))
    pieces = tuple(p.model_copy(update=changes) if p.mark == "A" else p for p in job.pieces if p.mark in "ADH")
    job = job.model_copy(update={"pieces": pieces})
    bare = develop(job, metals_of(job))
    plan = plan_roof(job, bare)
    return job, bare, plan, with_part_sizes(plan, job, bare)


def both(job: Job, bare: tuple[FlatPattern, ...], sized: RoofPlan) -> tuple[FlatPattern, ...]:
    metals = metals_of(job)
    patterns = develop(job, metals, counts=dict(sized.counts))
    return (*patterns, *part_patterns(sized, job, patterns, metals))


@pytest.mark.parametrize("name", JOBS)
def test_part_blanks_hold(name: str) -> None:
    job, bare, _, sized = parted(name)
    assert sized.part_sizes, "this roof has shapes worth a blank of their own"
    assert len(sized.part_sizes) <= MOST_SIZES
    assert check_roof(sized, job, bare) == []
    assert check_part_blanks(both(job, bare, sized), sized, job, metals_of(job)) == []


@pytest.mark.parametrize("name", JOBS)
def test_nothing_is_lost(name: str) -> None:
    _, _, plan, sized = parted(name)
    laid = sum(s.slope.times * len(s.pieces) for s in sized.slopes)
    whole = sum(s.slope.times * sum(p.kind == "whole" for p in s.pieces) for s in sized.slopes)
    pairs, alone = sum(p.times for p in sized.pairs), sum(p.times for p in sized.leftover)
    parts = sum(s.times for s in sized.part_sizes)
    assert whole + 2 * pairs + alone + parts == laid
    assert dict(sized.counts)["A"] == whole + pairs + alone
    assert {s.mark: s.times for s in sized.part_sizes} == {m: n for m, n in sized.counts if m.startswith("A-")}
    # what became part blanks was alone or in a pair before, all of it or nothing
    before, after = Counter(_keys(plan)), Counter(_keys(sized))
    for size in sized.part_sizes:
        for p in size.parts:
            after[p.shape, p.mirrored] += p.times
    assert before == after
    assert dict(plan.counts)["A"] - dict(sized.counts)["A"] == dict(sized.spared)["A"]
    # and it saves what a size must
    share = sum(s.times * s.share for s in sized.part_sizes)
    assert share < dict(sized.spared)["A"] - SIZE_WORTH * len(sized.part_sizes)


def _keys(plan: RoofPlan) -> list[Key]:
    out: list[Key] = []
    for pair in plan.pairs:
        out += [(pair.first, pair.first_mirrored), (pair.second, pair.second_mirrored)] * pair.times
    for rest in plan.leftover:
        out += [(rest.shape, rest.mirrored)] * rest.times
    return out


@pytest.mark.parametrize("name", JOBS)
def test_every_shape_lies_in_its_part_blank_by_another_way(name: str) -> None:
    """Overlay with shapely, turned by its own affinity; nothing of the pairing is used."""
    from shapely.affinity import rotate, scale

    _, bare, _, sized = parted(name)
    rounding = max(0.0, -next(p.rounding for p in bare if p.mark == "A"))
    shapes = {s.number: s for s in sized.shapes}
    for size in sized.part_sizes:
        blank = shapely.Polygon(size.outline)
        assert math.isclose(blank.area, blank.convex_hull.area)
        for part in size.parts:
            metal = shapely.Polygon(shapes[part.shape].metal)
            for flip in (part.mirrored, part.flipped):
                metal = scale(metal, -1 if flip else 1, 1, origin=(0, 0))
            metal = rotate(metal, part.turned, origin=(0, 0))
            assert blank.buffer(rounding + 1e-6, join_style="mitre").covers(metal)


def test_marks_keep_clear_of_the_jobs_own() -> None:
    job, bare, plan, _ = parted("cupola")
    taken = job.pieces[-1].model_copy(update={"mark": "A-1"})
    again = with_part_sizes(plan, job.model_copy(update={"pieces": (*job.pieces, taken)}), bare)
    assert again.part_sizes[0].mark == "A-2"


def test_a_job_that_forbids_pairing_parts_nothing() -> None:
    job, bare, plan, _ = parted("cupola")
    nest = job.model_copy(update={"nest": job.nest.model_copy(update={"pair": False})})
    assert with_part_sizes(plan, nest, bare) is plan
    rules = job.model_copy(update={"roof": job.roof.model_copy(update={"pair": False})})
    assert with_part_sizes(plan, rules, bare) is plan


def test_the_page_says_what_the_cut_pieces_come_from() -> None:
    job, _, plan, sized = parted("cupola")
    (before,) = (n for n in roof_notes(plan, job) if n.startswith("Cut pieces: "))
    (after,) = (n for n in roof_notes(sized, job) if n.startswith("Cut pieces: "))
    cut = sum(s.same + s.mirrored for s in sized.shapes)
    assert before.startswith(f"Cut pieces: of {cut}, ") and "part blanks" not in before
    assert f"stand in for {dict(sized.spared)['A']} whole ones" in after and "sq ft less metal" in after


# -- spoilt part blanks ------------------------------------------------------------------------------------------------

Spoil = Callable[[RoofPlan], RoofPlan]


def _first(plan: RoofPlan, change: Callable[[PartSize], PartSize]) -> RoofPlan:
    return replace(plan, part_sizes=(change(plan.part_sizes[0]), *plan.part_sizes[1:]))


def _part(plan: RoofPlan, **new: Any) -> RoofPlan:
    return _first(plan, lambda s: replace(s, parts=(replace(s.parts[0], **new), *s.parts[1:])))


def _counts(plan: RoofPlan, mark: str, by: int) -> RoofPlan:
    return replace(plan, counts=tuple((m, n + by if m == mark else n) for m, n in plan.counts))


SPOILT: dict[str, Spoil] = {
    "outline too small": lambda p: _first(
        p, lambda s: replace(s, outline=tuple((0.97 * x, 0.97 * y) for x, y in s.outline), share=s.share * 0.97**2)
    ),
    "outline past the whole blank": lambda p: _first(
        p, lambda s: replace(s, outline=tuple((1.03 * x, 1.03 * y) for x, y in s.outline), share=s.share * 1.03**2)
    ),
    "outline the other way round": lambda p: _first(p, lambda s: replace(s, outline=s.outline[::-1])),
    "outline turned": lambda p: _first(p, lambda s: replace(s, outline=tuple((-x, -y) for x, y in s.outline))),
    "share": lambda p: _first(p, lambda s: replace(s, share=s.share * 0.9)),
    "mark used twice": lambda p: _first(p, lambda s: replace(s, mark="A")),
    "another diamond": lambda p: _first(p, lambda s: replace(s, diamond="D")),
    "one part fewer": lambda p: _part(p, times=p.part_sizes[0].parts[0].times - 1),
    "one part more": lambda p: _part(p, times=p.part_sizes[0].parts[0].times + 1),
    "no part": lambda p: _first(p, lambda s: replace(s, parts=s.parts[1:])),
    "another shape": lambda p: _part(p, shape=max(p.shapes, key=lambda s: plane.area(s.metal)).number),
    "unknown shape": lambda p: _part(p, shape=999),
    "mirrored": lambda p: _part(p, mirrored=not p.part_sizes[0].parts[0].mirrored),
    "turned": lambda p: _part(p, turned=(p.part_sizes[0].parts[0].turned + 180) % 360),
    "turned over": lambda p: _part(p, flipped=True),
    "turned askew": lambda p: _part(p, turned=45.0),
    "size left out": lambda p: replace(p, part_sizes=p.part_sizes[1:]),
    "whole blanks short": lambda p: _counts(p, "A", -1),
    "part blanks short": lambda p: _counts(p, p.part_sizes[0].mark, -1),
    "too many spared": lambda p: replace(p, spared=(("A", sum(s.times for s in p.part_sizes) + 1),)),
    "too few spared": lambda p: replace(p, spared=(("A", 1),)),
    "none spared": lambda p: replace(p, spared=()),
}


@pytest.mark.parametrize("how", SPOILT)
@pytest.mark.parametrize("name", ["frustum", "cupola, pointed diamonds"])
def test_spoilt_part_blanks_are_found(name: str, how: str) -> None:
    job, bare, _, sized = parted(name)
    spoilt = SPOILT[how](sized)
    assert spoilt != sized
    assert check_roof(spoilt, job, bare)


FLAT: dict[str, Callable[[FlatPattern], FlatPattern]] = {
    "count": lambda p: replace(p, count=p.count + 1),
    "spare": lambda p: replace(p, spare=p.spare + 1),
    "outline": lambda p: replace(p, outline=p.outline[::-1], snipped=p.outline[::-1]),
    "outline moved": lambda p: replace(p, outline=tuple((x + 0.01, y) for x, y in p.outline)),
    "snipped": lambda p: replace(p, snipped=p.outline[:-1]),
    "width": lambda p: replace(p, width_units=p.width_units - 1),
    "length": lambda p: replace(p, length_units=p.length_units + 1),
    "weight": lambda p: replace(p, weight=p.weight * 1.01),
    "grain": lambda p: replace(p, grain="across"),
    "metal": lambda p: replace(p, metal="zinc"),
    "mark": lambda p: replace(p, mark="A-9"),
    "kind": lambda p: replace(p, kind="outline"),
    "strips": lambda p: replace(p, parts=2),
}


@pytest.mark.parametrize("how", FLAT)
def test_spoilt_flat_part_blanks_are_found(how: str) -> None:
    job, bare, _, sized = parted("cupola")
    patterns = both(job, bare, sized)
    spoilt = tuple(FLAT[how](p) if n == len(patterns) - 1 else p for n, p in enumerate(patterns))
    assert check_part_blanks(spoilt, sized, job, metals_of(job))


# -- outlines ----------------------------------------------------------------------------------------------------------


@given(
    seed=st.integers(0, 10**6),
    angle=st.sampled_from([90.0, 60.0, 75.5, 110.0]),
    step=st.sampled_from([1 / 32, 1 / 16, 0.5 / 25.4]),
)
def test_cut_outline_holds_the_hull_and_cuts_at_whole_steps(seed: int, angle: float, step: float) -> None:
    rng = random.Random(seed)
    whole = blank_rhombus(rj.lattice(angle=angle))
    w, h = whole[1][0], whole[2][1]
    points: list[tuple[float, float]] = []
    while len(points) < 7:
        x, y = rng.uniform(-w, w), rng.uniform(-h, h)
        if abs(x) / w + abs(y) / h <= 1:
            points.append((x, y))
    if rng.random() < 0.5:
        points.append(rng.choice(whole))
    inner = plane.hull(tuple(points))
    ring = cut_outline(inner, whole, step)
    blank = shapely.Polygon(ring)
    assert blank.is_valid and plane.area(ring) > 0
    assert shapely.Polygon(whole).buffer(1e-7).covers(blank)
    assert blank.buffer(1e-6).covers(shapely.Polygon(inner))
    cuts = [e for e in zip(ring, (*ring[1:], ring[0]), strict=True) if not _on_side(e, whole)]
    assert len(cuts) <= MOST_CUTS
    if len(cuts) == 1:  # it ends on two sides, each end a whole number of steps from the corner it takes off
        assert plane.area(whole) - plane.area(ring) >= LEAST_CUT * plane.area(whole) - 1e-9
        for p in cuts[0]:
            assert min(abs(d / step - round(d / step)) for c in whole for d in [math.dist(p, c)]) < 1e-6


def _on_side(edge: tuple[tuple[float, float], tuple[float, float]], whole: Polygon) -> bool:
    for p, q in zip(whole, (*whole[1:], whole[0]), strict=True):
        side = shapely.LineString([p, q])
        if all(side.distance(shapely.Point(r)) < 1e-7 for r in edge):
            return True
    return False


@given(seed=st.integers(0, 10**6), locked=st.booleans())
def test_a_strip_takes_no_less_than_the_blank_and_no_more_than_its_box(seed: int, locked: bool) -> None:
    rng = random.Random(seed)
    ring = plane.hull(tuple((rng.uniform(0, 10), rng.uniform(0, 6)) for _ in range(6)))
    xs, ys = [p[0] for p in ring], [p[1] for p in ring]
    takes = strip_area(ring, locked=locked)
    assert plane.area(ring) - 1e-9 <= takes <= (max(xs) - min(xs)) * (max(ys) - min(ys)) + 1e-9


def test_shapes_that_tile_a_strip_take_their_own_area() -> None:
    for ring in (
        ((0.0, 0.0), (7.0, 0.0), (2.0, 5.0)),  # any triangle
        ((0.0, 0.0), (7.0, 0.0), (9.0, 4.0), (2.0, 4.0)),  # any parallelogram
        ((0.0, 0.0), (7.0, 0.0), (5.0, 4.0), (1.0, 4.0)),  # any trapezoid
    ):
        assert strip_area(ring, locked=False) == pytest.approx(plane.area(ring), abs=1e-9)


@pytest.mark.parametrize("seed", range(6))
def test_strip_area_is_what_a_long_row_in_the_nest_comes_to(seed: int) -> None:
    """The nest seats blanks one after another by separating lines; this takes sections. Both must agree."""
    from fabplan.nesting.cuts import slant
    from fabplan.nesting.problem import Blank, ShearLimits

    rng = random.Random(seed)
    ring = plane.hull(tuple((rng.uniform(0, 400), rng.uniform(0, 300)) for _ in range(5)))
    low = min(x for x, _ in ring), min(y for _, y in ring)
    ring = plane.hull(tuple((x - low[0], y - low[1]) for x, y in ring))
    blank = Blank(mark="A", width=400, length=300, count=40, area=plane.area(ring), outline=ring, drawn=ring)
    limits = ShearLimits(
        longest_cut=10**6, reach=10**6, cut_off_to_mark=False, least_held=0, angle_stop=(1.0, 179.0), stages=2, kerf=0
    )
    found = []
    for pose in slant.poses(blank):
        up, down = (pose, False), (pose, True)
        gaps = [slant.spacing(a, b, limits) for a, b in ((up, up), (up, down), (down, up))]
        if None not in gaps:
            straight, there, back = (g for g in gaps if g is not None)
            height = max(y for _, y in pose.points)
            found.append(height * min(straight, (there + back) / 2))
    assert strip_area(tuple(ring), locked=False) == pytest.approx(min(found), rel=0.01)


def test_units_of_the_step() -> None:
    job, bare, _, sized = parted("frustum")
    step = job.info.round_to / NM_PER_INCH
    for p in both(job, bare, sized):
        if p.kind == "part":
            for corner in p.outline:
                assert any(abs(v / step - round(v / step)) < 1e-6 for v in corner)
