"""Laws of the layout: areas, mirror images, lattice steps, monotone counts, closed-form counts."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import roof_jobs as rj
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from fabplan.errors import PlanError
from fabplan.roof.lay.lattice import blank_centre, blank_rhombus
from fabplan.roof.lay.layout import LaidSlope, centre_line, lay, turn, unnecked
from fabplan.roof.lay.region import net_region
from fabplan.roof.model import Hole, Measured, SlopeEdge

LATTICE = rj.lattice()
ROOF = rj.roof()


@st.composite
def slopes(draw: Any, openings: bool = True) -> Measured:
    """Triangles, trapezoids and leaning quads, some with an opening, some turned."""
    b = draw(st.floats(35, 90))
    h = draw(st.floats(35, 90))
    top = draw(st.sampled_from([0.0, 0.25, 0.6, 1.0])) * b
    lean = draw(st.floats(-20, 20))
    left = (b - top) / 2 + lean
    points = ((0.0, 0.0), (b, 0.0), (left + top, h + draw(st.floats(-3, 3))), (left, h))
    if top == 0:
        points = points[:2] + points[3:]
    s = rj.measured(points)
    if openings and draw(st.booleans()):
        x, y = draw(st.floats(0.3, 0.6)) * b, draw(st.floats(0.05, 0.4)) * h
        w, tall = draw(st.floats(2, 14)), draw(st.floats(2, 30))
        ring = ((x, y), (x, y + tall), (x + w, y + tall), (x + w, y))
        edges = tuple(
            SlopeEdge(name="hole", kind="jamb", start=ring[i], end=ring[(i + 1) % 4], fold=0.5) for i in range(4)
        )
        s = replace(s, holes=(Hole(name="hole", edges=edges),))
    if draw(st.booleans()):
        s = turn(s, draw(st.floats(-2, 2)))
    return s


def laid(s: Measured, *, x0: float | None = None, y0: float = 0.0, alignment: str = "point", **more: Any) -> LaidSlope:
    centre = centre_line(s, 0.5) if x0 is None else x0
    return lay(s, LATTICE, more.pop("rules", ROOF), alignment=alignment, centre_x=centre, base=y0, **more)  # type: ignore[arg-type]


def summary(result: LaidSlope) -> Counter[tuple[str, int]]:
    return Counter((p.kind, p.course) for p in result.pieces)


def widened(s: Measured, by: float) -> Measured:
    return replace(s, edges=tuple(replace(e, reach=by) for e in s.edges))


@settings(max_examples=40, deadline=None)
@given(slopes(), st.sampled_from(["point", "joint"]))
def test_clipped_areas_sum_to_the_region(s: Measured, alignment: str) -> None:
    result = laid(s, alignment=alignment)
    cell = LATTICE.spacing * LATTICE.course
    covered = math.fsum(p.share for p in result.pieces) * cell + math.fsum(v.area for v in result.slivers)
    assert covered == pytest.approx(net_region(s).area, rel=1e-9)


@settings(max_examples=15, deadline=None)
@given(slopes(), st.sampled_from(["point", "joint"]))
def test_mirrored_slope_has_mirrored_pieces(s: Measured, alignment: str) -> None:
    def flip(e: SlopeEdge) -> SlopeEdge:
        return replace(e, start=(-e.end[0], e.end[1]), end=(-e.start[0], e.start[1]))

    edges = tuple(flip(e) for e in s.edges)
    other = replace(
        s,
        edges=edges[:1] + edges[:0:-1],
        holes=tuple(replace(h, edges=tuple(flip(e) for e in h.edges[::-1])) for h in s.holes),
    )
    a, b = laid(s, alignment=alignment), laid(other, alignment=alignment)
    swap = {"cut-left": "cut-right", "cut-right": "cut-left"}
    assert summary(b) == Counter((swap.get(kind, kind), k) for (kind, k), n in summary(a).items() for _ in range(n))
    assert sum(p.trimmed for p in a.pieces) == sum(p.trimmed for p in b.pieces)
    assert len(a.slivers) == len(b.slivers)


@settings(max_examples=12, deadline=None)
@given(slopes(), st.floats(-20, 20), st.floats(-10, 10))
def test_steps_of_the_lattice_change_nothing(s: Measured, x0: float, y0: float) -> None:
    p, c = LATTICE.spacing, LATTICE.course
    kinds = Counter(q.kind for q in laid(s, x0=x0, y0=y0).pieces)
    for dx, dy in ((p, 0.0), (0.0, 2 * c), (p / 2, c), (-p / 2, c)):
        assert Counter(q.kind for q in laid(s, x0=x0 + dx, y0=y0 + dy).pieces) == kinds
    # a joint on the centre line is the point lattice half a spacing over
    assert Counter(q.kind for q in laid(s, x0=x0 + p / 2, y0=y0, alignment="joint").pieces) == kinds


@settings(max_examples=12, deadline=None)
@given(slopes(openings=False), st.booleans())
def test_occupied_places_never_fall_when_metal_reaches_further(s: Measured, slivers: bool) -> None:
    rules = ROOF if slivers else rj.roof(sliver="0.0001 in")
    before: tuple[set[tuple[int, int]], set[tuple[int, int]]] | None = None
    for reach in (-2.0, -0.75, 0.0, 0.6, 1.5):
        try:
            result = laid(widened(s, reach), rules=rules)
        except PlanError:
            assume(before is None)
            continue
        places = {(p.course, p.column) for p in result.pieces}
        whole = {(p.course, p.column) for p in result.pieces if p.kind == "whole"}
        if before is not None:
            assert before[0] <= places
            assert before[1] <= whole
        before = places, whole


@pytest.mark.parametrize("m", [2, 3, 7, 10])
@pytest.mark.parametrize("n", [2, 3, 12, 13])
def test_rectangle_of_whole_spacings_counts_in_closed_form(m: int, n: int) -> None:
    """M spacings by N courses with joints at the corners.

    Odd courses hold M - 1 whole pieces and two halves, even ones M; M starters below, M or M - 1 ridge halves above.
    """
    p, c = LATTICE.spacing, LATTICE.course
    s = rj.measured(((0, 0), (m * p, 0), (m * p, n * c), (0, n * c)), kinds="ergr")
    corner = "joint" if m % 2 else "point"  # the centre line is half the width away from the corners
    result = laid(s, x0=m * p / 2, alignment=corner)
    kinds = Counter((q.kind, q.standard) for q in result.pieces)
    assert kinds["whole", False] == sum(m if k % 2 == 0 else m - 1 for k in range(1, n))
    halves = sum(k % 2 for k in range(1, n))
    ends = n % 2  # a last odd course is cut at the corners too
    assert kinds["starter", True] == m
    assert kinds["ridge-half", True] == (m if n % 2 == 0 else m - 1)
    assert kinds["cut-left", True] == halves
    assert kinds["cut-right", True] == halves
    assert kinds["cut-left", False] == kinds["cut-right", False] == ends
    assert not result.slivers
    if (m, n) == (7, 12):
        assert (kinds["whole", False], 2 * halves, m) == (71, 12, 7)


@settings(max_examples=12, deadline=None)
@given(slopes(openings=False), st.floats(0.05, 1.0))
def test_a_narrow_slot_splits_places_into_two_pieces(s: Measured, share: float) -> None:
    xs = [q[0] for q in s.outline]
    x = min(xs) + (0.3 + 0.4 * share) * (max(xs) - min(xs))
    ring = ((x, -50.0), (x, 400.0), (x + 1.0, 400.0), (x + 1.0, -50.0))
    edges = tuple(SlopeEdge(name="slot", kind="jamb", start=ring[i], end=ring[(i + 1) % 4]) for i in range(4))
    try:
        result = laid(replace(s, holes=(Hole(name="slot", edges=edges),)))
    except PlanError:
        assume(False)
    places = Counter((q.course, q.column) for q in result.pieces)
    assert set(places.values()) <= {1, 2}
    assert 2 in places.values()
    for place, n in places.items():
        if n == 2:
            left, right = sorted((q for q in result.pieces if (q.course, q.column) == place), key=lambda q: q.visible)
            assert max(v[0] for v in left.visible) <= x + 1e-6
            assert min(v[0] for v in right.visible) >= x + 1 - 1e-6


def test_sliver_and_whole_are_told_by_width_not_by_area() -> None:
    p, c = LATTICE.spacing, LATTICE.course
    # a strip 0.05 in wide along a whole rake is missing: the pieces there are still whole
    s = rj.measured(((-3 * p, 0), (3 * p - 0.05, 0), (3 * p - 0.05, 8 * c), (-3 * p, 8 * c)), kinds="ergr")
    tight = laid(s, x0=0.0)
    assert not [q for q in tight.pieces if q.kind == "cut-right" and 0.5 < q.share < 0.999]
    # a strip 0.2 in wide and many inches long is left out under a hip cap, however large its area
    corners = ((-3 * p, 0), (3 * p + 0.2, 0), (3 * p + 0.2, 8 * c), (-3 * p, 8 * c))
    long = laid(rj.measured(corners, kinds="ehgr"), x0=0.0)
    assert max(v.area for v in long.slivers) > 0.01
    # at a rake nothing covers it, and it is laid
    bare = laid(rj.measured(corners, kinds="ergr"), x0=0.0)
    low = [v for v in bare.slivers if min(y for _, y in v.visible) < 8 * c - 3]  # but for the ridge cap
    assert not low
    assert len(bare.pieces) > len(long.pieces)


def test_pieces_beside_a_hip_that_only_shave_a_hem_are_marked_to_snip() -> None:
    p, c = LATTICE.spacing, LATTICE.course
    # the ridge falls just on the upper tips of a course: the hidden hem above them passes it
    s = rj.measured(((-3 * p, 0), (3 * p, 0), (3 * p, 6 * c), (-3 * p, 6 * c)), kinds="ergr")
    result = laid(s, x0=0.0)
    assert {q.course for q in result.pieces if q.trimmed} == {5}


def test_level_courses_over_a_leaning_eave_taper_the_starters() -> None:
    s = turn(rj.measured(((0, 0), (120, 0), (120, 100), (0, 100)), kinds="ergr"), -1.0)
    drop = -s.edges[0].end[1]
    assert drop == pytest.approx(120 * math.sin(math.radians(1)))
    high = laid(s, y0=0.0)
    # from the high end course 1 keeps its bottom points
    assert all(q.lost != "B" for q in high.pieces if q.course == 1)
    middle = laid(s, y0=-drop / 2)
    assert any(q.lost == "B" for q in middle.pieces if q.course == 1)
    assert min(q.course for q in laid(s, y0=-drop).pieces) == 0


def test_shape_rows_are_ordered_and_repeatable() -> None:
    s = rj.measured(((0, 0), (90, 0), (60, 80), (20, 80)))
    a, b = laid(s), laid(s)
    assert a.pieces == b.pieces
    assert [(q.course, q.column) for q in a.pieces] == sorted((q.course, q.column) for q in a.pieces)


def test_cut_pieces_keep_the_hems_of_a_bottom_tip_on_the_eave() -> None:
    """A whole piece of course 1 hangs its hems past the eave; a piece cut only by the hip must not be cut there too."""
    s = rj.measured(((0, 0), (90, 0), (70, 80), (20, 80)), fold=LATTICE.lower_allowance)
    result = laid(s)
    lowest = min(y for _, y in blank_rhombus(LATTICE))
    kept = [p for p in result.pieces if p.course == 1 and p.kind != "whole" and "B" not in p.lost]
    assert kept
    for p in kept:
        assert min(y for _, y in p.metal) == pytest.approx(lowest, abs=1e-6)
    starters = [p for p in result.pieces if p.kind == "starter"]
    rise = blank_centre(LATTICE)
    for p in starters:
        # a starter's base takes its fold beyond the eave line
        assert min(y for _, y in p.metal) == pytest.approx(-LATTICE.lower_allowance - rise, abs=1e-6)


def test_a_neck_parts_a_piece_in_two() -> None:
    """Metal that would hang together by less than the sliver width is two pieces, and no area is lost."""
    two = shapely.union_all([shapely.box(0, 0, 4, 4), shapely.box(5, 0, 9, 4), shapely.box(3.9, 1, 5.1, 1.1)])
    wide = shapely.union_all([shapely.box(0, 0, 4, 4), shapely.box(5, 0, 9, 4), shapely.box(3.9, 1, 5.1, 2)])
    parted, whole = unnecked(np.array([two, wide]), 0.25)
    assert sorted(round(p.area) for p in parted if p.area > 1) == [16, 16]
    assert sum(p.area for p in parted) == pytest.approx(two.area)
    assert [p.area for p in whole] == pytest.approx([wide.area])
