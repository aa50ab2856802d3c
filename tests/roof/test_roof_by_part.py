"""The roof part by part: edges, placing, lengths, made-up pieces, hips that repeat, and the checker's own pieces."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import roof_jobs as rj
import shapely
from hypothesis import given
from hypothesis import strategies as st

from fabplan import plane
from fabplan.blanks.model import FlatPattern
from fabplan.job.model import Job
from fabplan.roof.check import cells, pieces, region, sizes, totals, ways
from fabplan.roof.check import plane as check_plane
from fabplan.roof.extras import lengths, made_up, rake_ridge
from fabplan.roof.lay import placing, repeats
from fabplan.roof.measure import edging
from fabplan.roof.model import RoofPlan
from fabplan.roof.plan import plan_roof
from fabplan.units import NM_PER_INCH

WING = {"shape": "rectangle", "bottom": "46 in", "height": "40-1/2 in"}
RING = ((0.0, 0.0), (60.0, 0.0), (40.0, 50.0), (20.0, 50.0))


@cache
def wing() -> tuple[Job, RoofPlan, dict[str, FlatPattern]]:
    job = rj.job_with(rj.slope(**WING))
    return job, plan_roof(job, rj.patterns()), {p.mark: p for p in rj.patterns()}


# measuring and placing ------------------------------------------------------------------------------------------------


def test_edges_face_down_and_reach_as_their_kind_says() -> None:
    assert edging.facing((0.0, 0.0), (60.0, 0.0)) == pytest.approx(0.0)
    assert edging.facing((60.0, 0.0), (60.0, 40.0)) == pytest.approx(90.0)
    job = rj.job_with(rj.slope(**WING))
    named = ("bottom", "right", "top", "left")
    edges = edging.edge_slope(job.slopes[0], job, RING, named, 0.0)
    assert [e.name for e in edges] == list(named)
    assert edges[0].kind == "eave"
    assert all(e.reach == pytest.approx(edging.default_reach(e.kind, job)) for e in edges[1:])


def test_an_eave_that_drops_little_is_followed_and_one_that_drops_much_is_laid_level() -> None:
    for drop, turned in (("1/4 in", 0.0), ("2 in", math.degrees(math.asin(2 / 60)))):
        entry = rj.slope(**{**WING, "bottom": "60 in", "eave_drop": drop})
        job = rj.job_with(entry)
        slope, degrees, _, notes = placing.levelled(rj.measured(RING), entry, job)
        assert abs(degrees) == pytest.approx(turned) and notes
        assert slope.edges[0].length == pytest.approx(60.0)
    assert placing.mark_step(rj.job_with(rj.slope(**WING))) == NM_PER_INCH // 16


def test_courses_lie_from_the_eave_up_one_above_the_other() -> None:
    job, plan, _ = wing()
    laid = placing.place(plan.slopes[0].slope, job.slopes[0], rj.lattice(), job, "point")
    heights = [line.height for line in laid.lines]
    assert heights == sorted(heights)
    assert laid.course <= rj.lattice().course + 1e-9  # courses are only ever closed up


def test_a_hip_that_repeats_needs_fewer_templates() -> None:
    _, plan, patterns = wing()
    assert repeats.hip_angle(plan.slopes[0]) is None  # a wing has no hips
    job = rj.job_with(rj.slope(shape="regular-spire", sides=8, side="40 in", height="120 in"))
    spire = plan_roof(job, rj.patterns()).slopes[0]
    found = repeats.hip_angle(spire)
    assert found is not None and 45 < found < 90
    offers = repeats.repeat_offers(spire, patterns["A"], (12, 100), lambda *asked: (3, 101))
    assert all(o.shapes < o.shapes_now for o in offers)
    assert all(c.kind == "choice" for c in repeats.choices({"spire": offers}))


# edge metal and pieces made of others ---------------------------------------------------------------------------------


def test_edge_metal_is_cut_to_lengths_that_divide_the_edge() -> None:
    job = rj.job_with(rj.slope(**WING), rules=rj.roof(lengths="from the edges"))
    runs = [
        replace(r, length=92.0) for r in plan_roof(rj.job_with(rj.slope(**WING)), rj.patterns()).edge_runs if r.mark
    ]
    fitted, chosen = lengths.fitted(runs, job)
    assert [r.mark for r in runs] != [] and len(fitted) == len(runs)
    for run in fitted:
        assert run.pieces * run.stock - (run.pieces - 1) * run.lap >= run.length - 1e-6
    drip = next(p for p in job.pieces if p.mark == "D")
    assert lengths.longest(drip, job) == 48.0  # type: ignore[arg-type]
    more = lengths.with_lengths(job, chosen)
    assert len(more.pieces) == len(job.pieces) + len({c.mark for c in chosen if c.mark not in {"D", "H"}})
    assert lengths.fitted(runs, rj.job_with(rj.slope(**WING))) == (tuple(runs), ())  # as typed


def test_a_cap_of_a_regular_spire_turns_along_its_hips_as_solid_geometry_says() -> None:
    # a square pyramid of 12:12: faces at 45 degrees meet at 120 degrees, so the cap turns 60
    assert made_up.hip_turn(4, 2.0, math.sqrt(2)) == pytest.approx(60.0)
    assert made_up.hip_turn(4, 2.0, 1e6) == pytest.approx(90.0, abs=1e-3)  # a tower: as its plan turns
    plain = rj.job_with(rj.slope(**WING))
    assert made_up.without_made_up(plain).pieces == plain.pieces
    assert made_up.with_made_up(plain, plain.pieces, None).pieces == plain.pieces


def test_a_wing_has_no_open_ridge_end_to_close() -> None:
    _, plan, _ = wing()
    for slope in plan.slopes:
        for edge in slope.slope.edges:
            if edge.kind == "ridge":
                assert rake_ridge.rakes_at(slope.slope, edge) == (True, True)


# the checker's own pieces ---------------------------------------------------------------------------------------------


@given(st.lists(st.tuples(st.integers(-20, 20), st.integers(-20, 20)), min_size=3, max_size=9))
def test_hulls_rays_and_parting_lines(points: list[tuple[int, int]]) -> None:
    theirs = shapely.convex_hull(shapely.MultiPoint(points))
    if theirs.area == 0:
        return
    ring = check_plane.hull_of([(float(x), float(y)) for x, y in points])
    assert plane.area(ring) == pytest.approx(theirs.area)
    spot = (3.25, -1.75)
    apart = theirs.distance(shapely.Point(spot))
    assert check_plane.off_ring(spot, ring) == pytest.approx(apart)
    assert check_plane.to_ring(spot, ring) == pytest.approx(theirs.boundary.distance(shapely.Point(spot)))
    assert bool(check_plane.inside_ring(np.array(spot), ring)) == theirs.contains(shapely.Point(spot))
    aside = [(x + 60.0, y) for x, y in ring]
    assert check_plane.parted(ring, aside) and not check_plane.parted(ring, ring)


def test_a_ring_moved_outward_grows_by_its_mitres() -> None:
    edges = rj.measured(RING).edges
    assert check_plane.is_convex(edges)
    same = check_plane.ring_moved(edges, [0.0] * 4)
    assert [tuple(p) for p in same] == [pytest.approx(p) for p in RING]
    wider = check_plane.ring_moved(edges, [1.0] * 4)
    grown = shapely.Polygon(RING).buffer(1.0, join_style="mitre", mitre_limit=50)
    assert shapely.Polygon(wider).area == pytest.approx(grown.area)


def faults(plan: RoofPlan) -> dict[str, list[str]]:
    job, _, patterns = wing()
    found: dict[str, Callable[[], list[str]]] = {
        "sizes": lambda: list(sizes.check_sizes(plan, job)),
        "region": lambda: [f for s in plan.slopes for f in region.check_region(s, job)],
        "pieces": lambda: [f for s in plan.slopes for f in pieces.check_pieces(s, job)],
        "cells": lambda: list(cells.check_cells(plan, job, patterns)),
        "totals": lambda: list(totals.check_totals(plan, job, patterns)),
        "ways": lambda: list(ways.check_ways(plan, job, patterns)),
    }
    return {name: check() for name, check in found.items()}


def test_each_check_finds_what_is_its_own() -> None:
    _, plan, _ = wing()
    assert faults(plan) == {"sizes": [], "region": [], "pieces": [], "cells": [], "totals": [], "ways": []}
    (slope,) = plan.slopes
    one = slope.pieces[len(slope.pieces) // 2]
    without = replace(plan, slopes=(replace(slope, pieces=tuple(p for p in slope.pieces if p is not one)),))
    assert faults(without)["pieces"]
    more = replace(plan, counts=tuple((mark, n + 1) for mark, n in plan.counts))
    assert faults(more)["totals"] and not faults(more)["pieces"]
    if plan.ways:
        first, *others = plan.ways
        dearer = replace(plan, ways=(replace(first, metal=first.metal * 1.01), *others))
        assert faults(dearer)["ways"] and not faults(dearer)["pieces"]
    edges = slope.slope.edges
    longer = replace(edges[0], end=(edges[0].end[0] + 1.0, edges[0].end[1]))
    wider = replace(plan, slopes=(replace(slope, slope=replace(slope.slope, edges=(longer, *edges[1:]))),))
    assert faults(wider)["sizes"]
    shrunk = replace(slope, region=tuple(tuple((x * 0.9, y * 0.9) for x, y in ring) for ring in slope.region))
    assert faults(replace(plan, slopes=(shrunk,)))["region"]
    closer = replace(slope, course=slope.course * 0.98)
    assert faults(replace(plan, slopes=(closer,)))["cells"]
