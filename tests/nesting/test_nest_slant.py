"""Strips of blanks that are not rectangles."""

from __future__ import annotations

import math
from collections import Counter
from typing import Any

import pytest
from nesting_jobs import METALS, make_job, polygon, stock

from fabplan.nesting.cuts.slant import head_to_tail, poses, row, spacing
from fabplan.nesting.cuts.slant_cuts import split
from fabplan.nesting.problem import build_groups


def group_of(points: list[tuple[float, float]], count: int = 12, **more: Any) -> Any:
    grain = more.pop("grain", "any")
    return build_groups([polygon("P", points, count, grain=grain)], make_job([stock("c", "coil", 36)], **more), METALS)[
        0
    ]


def rhombus(side: float, angle: float) -> list[tuple[float, float]]:
    """Edges 2 and 4 along the length, as a diamond's flat blank is laid."""
    h, run = side * math.sin(math.radians(angle)), side * math.cos(math.radians(angle))
    return [(0, 0), (h, run), (h, run + side), (0, side)]


@pytest.mark.parametrize("angle", [60.0, 75.0, 82.5])
@pytest.mark.parametrize("count", [1, 2, 5])
def test_rhombic_blanks_lose_one_slant_a_strip(angle: float, count: int) -> None:
    # Elementary geometry: n parallelograms of side S in a strip of height H = S sin(angle) take n S + H cot(angle).
    height = 320
    side = height / 32 / math.sin(math.radians(angle))
    group = group_of(rhombus(side, angle))
    pose = min(poses(group.blanks[0]), key=lambda p: p.height * p.width)
    assert pose.height == height
    strip = head_to_tail(pose, count, group.limits)
    assert strip is not None
    exact = count * side * 32 + height / math.tan(math.radians(angle))
    assert 0 <= strip.length - math.ceil(exact - 1e-6) <= 1  # less than a graduation, so that the first end is gauged
    slanted = [c for c in strip.cuts or () if c.angle != 90]
    assert len(slanted) == count + 1
    assert [min(c.angle, 180 - c.angle) for c in slanted] == pytest.approx([angle] * (count + 1))
    # Between two parallel slants the back gauge stands at the strip's height: all four sides are alike.
    assert sum(c.back_gauge == height for c in slanted) == count
    assert all(c.back_gauge is not None for c in slanted)


def test_triangles_head_to_tail_make_a_parallelogram() -> None:
    group = group_of([(0, 0), (14, 0), (7, 7)])
    pose = next(p for p in poses(group.blanks[0]) if p.height == 7 * 32)
    strip = head_to_tail(pose, 6, group.limits)
    assert strip is not None
    # Seven half-bases: 6 triangles and one slant; a hair more for cuts at whole graduations of the gauge.
    assert 7 * 7 * 32 <= strip.length <= 7 * 7 * 32 + 6
    assert [s.flipped for s in strip.seats] == [False, True] * 3


def test_angle_stop_limits_the_nesting() -> None:
    points = [(0.0, 0.0), (14.0, 0.0), (7.0, 7.0)]
    free, tight = group_of(points), group_of(points, angle_stop=(60.0, 120.0))
    pose = next(p for p in poses(free.blanks[0]) if p.height == 7 * 32)
    assert spacing((pose, False), (pose, True), free.limits) == pytest.approx(7 * 32)
    assert spacing((pose, False), (pose, True), tight.limits) > 9.9 * 32
    assert head_to_tail(pose, 2, tight.limits) is None  # its own edges lie at 45 degrees: out of the stop's range


def test_longest_cut_limits_slanted_cuts() -> None:
    group = group_of(rhombus(12, 60), longest_cut=11)
    assert all(row([(p, False)], group.limits) is None for p in poses(group.blanks[0]) if p.height >= 10 * 32)


def test_grain_keeps_the_blanks_own_frame() -> None:
    group = group_of(rhombus(12, 60), grain="along")
    assert {p.angle for p in poses(group.blanks[0])} <= {0.0, 90.0}


def test_no_blank_overlaps_another_whatever_the_row() -> None:
    group = group_of([(3, 0), (10, 0), (10, 5), (6, 9), (0, 4)])
    for pose in poses(group.blanks[0]):
        strip = row([(pose, n % 3 == 1) for n in range(6)], group.limits)
        if strip is None:
            continue
        for (n, c), seat in zip(strip.lines, strip.seats[1:], strict=True):
            left = [s for s in strip.seats if s.at < seat.at]
            assert left and n[0] > 0 and c > 0


def test_split_shares_the_kerf() -> None:
    square = [(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)]
    low, high = split(square, (1.0, 0.0), 4.0, 2.0)
    assert max(x for x, _ in low) == 4 and min(x for x, _ in high) == 6


def test_two_halves_head_to_tail_are_cut_alike() -> None:
    # A right triangle, its sharp corners clipped: turned half round about the middle, one of a pair is like the other.
    points = [(0.0, 0.0), (414.0, 0.0), (414.0, 97.0), (207.0, 304.0), (0.0, 97.0)]
    group = group_of([(x / 32, y / 32) for x, y in points])
    pairs = [head_to_tail(pose, 2, group.limits) for pose in poses(group.blanks[0])]
    best = min((p for p in pairs if p is not None and p.cuts is not None), key=lambda p: p.height * p.length)
    often = Counter((c.back_gauge, c.angle) for c in best.cuts)
    assert len(best.cuts) == 5 and sorted(often.values()) == [1, 2, 2]  # one parts them, two settings trim both
