"""Developing a piece part by part: corners, laying out, corner cuts, kinds, rules of locks, the checker's own way."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest
from blank_jobs import COPPER, copper, job, metals, piece

from fabplan import plane
from fabplan.blanks import lock_rules
from fabplan.blanks.check import ends as check_ends
from fabplan.blanks.check import flat as check_flat
from fabplan.blanks.check import section as check_section
from fabplan.blanks.check import shape as check_shape
from fabplan.blanks.develop import develop
from fabplan.blanks.flat import corner, lay, notch, pattern
from fabplan.blanks.flat.bend import bend_marks
from fabplan.blanks.kinds import diamond, ends, ends_clear, panes, parts, section
from fabplan.blanks.kinds.strip import strip_of
from fabplan.blanks.model import Finished
from fabplan.blanks.piece_rules import PieceRules
from fabplan.errors import JobError
from fabplan.units import NM_PER_INCH, Nm, Show

SQUARE = ((0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0))
SHOW = Show("in", Nm(NM_PER_INCH // 32))
DIAMOND = {"kind": "diamond", "side": "10 in", "hem": "3/4 in"}
STRIP = {"kind": "section", "length": "96 in", "legs": ["3 in", "2 in"], "bends": [90]}


def bench(*others: Any, longest_bend: str = "120 in", **keys: Any) -> PieceRules:
    """The rules one piece is developed with."""
    made = piece(**keys)
    return PieceRules(job=job(made, *others, longest_bend=longest_bend), piece=made, name=COPPER, metal=copper())


def folded(width: float, *edges: int) -> dict[int, corner.OutlineFold]:
    rules = bench(**DIAMOND)
    return {edge: rules.fold(width, "face") for edge in edges}


# corners and laying out -----------------------------------------------------------------------------------------------


def test_edges_corners_and_where_moved_edges_meet() -> None:
    edges = corner.edges_of(SQUARE, folded(0.75, 1))
    assert [e.length for e in edges] == [10.0] * 4
    assert edges[0].fold is not None and edges[1].fold is None
    assert all(corner.inside_angle(a, b) == pytest.approx(90.0) for a, b in pairwise(edges))
    assert corner.meet(edges[0], edges[1], 2.0, 1.0) == [pytest.approx((11.0, -2.0))]  # below edge 1, right of edge 2
    assert edges[1].local(edges[1].at(3.0, 0.5)) == pytest.approx((3.0, 0.5))
    assert [c.both for c in corner.corners_of(edges)] == [False] * 4


def test_one_fold_adds_its_allowance_along_its_edge() -> None:
    folds = folded(0.75, 1)
    laid = lay.lay_flat(SQUARE, folds)
    assert plane.area(laid.blank) == pytest.approx(10 * (10 + folds[1].allowance))
    assert set(laid.flaps) == {1}
    assert plane.area(laid.panel) + plane.area(laid.flaps[1]) == pytest.approx(plane.area(laid.snipped), abs=1e-6)


def test_folds_to_one_side_lose_metal_at_the_corner_they_share() -> None:
    laid = lay.lay_flat(SQUARE, folded(0.75, 1, 2))
    cuts = notch.notches(laid, SHOW)
    assert [c.corner for c in cuts if c.removed] == [2]  # corner 2 starts edge 2
    assert sum(abs(plane.area(c.removed)) for c in cuts) == pytest.approx(
        plane.area(laid.blank) - plane.area(laid.snipped), abs=1e-6
    )
    assert notch.sheared_corner(laid, 2)[0] == pytest.approx(notch.sheared_corner(laid, 2)[1])


def test_a_fold_deeper_than_its_piece_is_refused_by_its_edge() -> None:
    with pytest.raises(lay.TooWideError) as caught:
        lay.lay_flat(SQUARE, folded(12.0, 3))
    assert 3 in caught.value.edges


def test_a_pattern_starts_at_its_lower_left_corner() -> None:
    rules = bench(kind="outline", points=[[2, 3], [12, 3], [12, 9], [2, 9]])
    laid = lay.lay_flat(panes.outline_points(rules), panes.outline_folds(rules))
    made = pattern.flat_pattern(rules, laid, finished=Finished(width=10.0, length=6.0), count=4, spare=0, notes=())
    assert plane.bounds(made.outline) == pytest.approx((0.0, 0.0, 10.0, 6.0))
    assert (made.width_units, made.length_units) == (320, 192)


# kinds ----------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("angle", [60.0, 90.0])
def test_a_diamond_and_its_lattice(angle: float) -> None:
    ring = diamond.rhombus(10.0, angle)
    assert plane.area(ring) == pytest.approx(100 * math.sin(math.radians(angle)))
    sizes = diamond.diamond_sizes(bench(**DIAMOND, top_angle=angle))
    lattice = sizes.lattice
    # what shows of one piece is spacing by course, and that tiles the roof: less than the finished piece
    assert lattice.spacing * lattice.course < plane.area(diamond.rhombus(sizes.side, angle))
    assert lattice.spacing / (2 * lattice.course) == pytest.approx(math.tan(math.radians(angle) / 2))
    assert plane.area(diamond.lay_diamond(sizes).blank) > plane.area(ring)


def test_sizes_go_onto_the_shops_graduation_once() -> None:
    rules = bench(kind="flat-seam", width="13 in", length="19 in", hem="1/2 in")
    typed, folded_ = Nm(13 * NM_PER_INCH + 1), Nm(13 * NM_PER_INCH)
    assert panes.sized(rules, typed, 0.0, folded=False).units == 13 * 32 + 1  # typed off the grid: up
    made = panes.sized(rules, folded_, 0.9, folded=True)
    assert abs(made.rounding) <= 1 / 64 + 1e-12
    assert made.units == round(13.9 * 32)
    assert plane.area(panes.box(3.0, 4.0)) == 12.0
    assert panes.pan_lap(rules) > 0.5  # a lock takes a hem's width, its metal and its slack


def test_parts_hang_on_the_diamonds_own_lattice() -> None:
    whole = piece(**DIAMOND)
    for kind in ("starter", "ridge-half", "rake-left", "rake-right"):
        keys: dict[str, Any] = {"kind": kind, "for": "A", "mark": "P"}
        rules = bench(whole, **keys)
        sizes = diamond.diamond_sizes(replace(rules, piece=whole))
        assert parts.eave_line(sizes) < 0
        laid = parts.lay_part(rules, sizes)
        assert 0.3 < plane.area(laid.laid.blank) / plane.area(diamond.lay_diamond(sizes).blank) < 1.0, kind


def test_a_section_longer_than_the_brake_is_lapped() -> None:
    short = bench(**STRIP)
    assert section.split(short, True)[:2] == (1, 96.0)
    strips, each, lap = section.split(bench(longest_bend="50 in", **STRIP), True)
    assert strips in {2, 3}
    assert strips * each - (strips - 1) * lap == pytest.approx(96.0, abs=strips / 32)
    assert each <= 50
    assert section.reach(short.job, True)[0] == 120.0
    hemmed = strip_of(bench(**STRIP, start_hem={"width": "1/2 in", "toward": "back"}))
    assert len(hemmed.legs) == 3 and hemmed.signs[0] == -1 and hemmed.start_hem


# locks ----------------------------------------------------------------------------------------------------------------


def test_locks_that_cannot_hook_are_refused_and_thin_ones_warned_of() -> None:
    good = bench(**DIAMOND)
    told = " ".join(lock_rules.check_lock(good, diamond.diamond_sizes(good)))
    assert "lap 13/16 in fold to fold and 11/16 in is hooked" in told  # 3/4 and 1/16 in: a hem, its metal, its slack
    sizes = diamond.diamond_sizes(good)
    short = replace(sizes, lattice=replace(sizes.lattice, hooked=0.0))
    with pytest.raises(JobError, match="cannot hook each other"):
        lock_rules.check_lock(good, short)
    ends = lock_rules.hooks_of(bench(**STRIP))
    assert [h.flat for h in ends] == pytest.approx([3.0, 2.0], abs=0.1)
    sharp = replace(good, metal=copper(least_inside_radius=0.5))
    assert lock_rules.radius_notes(sharp, (good.bend(90.0),)) and not lock_rules.radius_notes(good, (good.bend(90.0),))
    assert "hem" in str(lock_rules.named_error(good, "the hem is too wide", (1,)))


# the checker's own way ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("angle", [60, 75, 90])
def test_two_ways_of_working_out_a_diamond_agree(angle: int) -> None:
    rules = bench(**DIAMOND, top_angle=angle)
    ours = diamond.diamond_sizes(rules)
    again = check_shape.diamond(check_shape.PieceFolds(rules.job, rules.piece, metals()), rules.piece)
    assert again.strip == ours.strip_units
    assert again.side == pytest.approx(ours.side)
    assert again.rounding == pytest.approx(ours.rounding)


def test_the_checkers_find_a_moved_corner_and_a_moved_bend() -> None:
    rules = bench(**DIAMOND)
    made = develop(rules.job, metals())[0]
    expected = check_shape.expected(check_shape.PieceFolds(rules.job, rules.piece, metals()))
    assert check_flat.check_flat(made, expected) == []
    (x, y), *rest = made.outline
    assert check_flat.check_flat(replace(made, outline=((x + 0.01, y), *rest)), expected)
    strip = bench(**STRIP)
    made = develop(strip.job, metals())[0]
    shop = check_shape.PieceFolds(strip.job, strip.piece, metals())
    assert check_section.check_section(made, shop) == []
    assert made.section is not None
    moved = replace(made.section, marks=tuple(m + 0.01 for m in made.section.marks))
    assert check_section.check_section(replace(made, section=moved), shop)


def test_turned_ends_reach_beyond_the_strip_by_their_height_less_the_bend() -> None:
    rules = bench(**STRIP, end_dams=[{"leg": 1, "height": "1 in", "at": "A"}])
    strip = strip_of(rules)
    marks = tuple(bend_marks(strip.legs, strip.bends))
    low, high = ends.turned_ends(rules, strip, marks, 5.0)
    assert high.turns == () and high.reach == 0
    (turn,) = low.turns
    assert turn.fold.width == pytest.approx(1.0)
    assert low.reach == pytest.approx(1.0, abs=4 * 0.0216)  # two thicknesses and the bend
    legs = ends_clear.profile(strip, marks, 0.0216)
    assert [math.dist(*leg) for leg in legs] == pytest.approx([marks[0], sum(strip.legs) - marks[0]], abs=0.1)
    with pytest.raises(JobError):
        develop(bench(**STRIP, end_dams=[{"leg": 1, "height": "200 in", "at": "A"}]).job, metals())


def test_the_checker_of_ends_finds_a_moved_line() -> None:
    rules = bench(**STRIP, end_dams=[{"leg": 1, "height": "1 in", "at": "A"}])
    (made,) = develop(rules.job, metals())
    shop = check_shape.PieceFolds(rules.job, rules.piece, metals())
    assert check_section.check_section(made, shop) == []
    faults, units, _ = check_ends.blank_length(made, rules.piece, shop)
    assert faults == [] and units == made.length_units
    (end,) = made.ends
    (x0, y0), (x1, y1) = end.fold.line
    moved = replace(end, fold=replace(end.fold, line=((x0, y0 + 0.05), (x1, y1 + 0.05))))
    assert check_section.check_section(replace(made, ends=(moved,)), shop)
