"""Exact sweeps against dense sampling with shapely as the reference for what meets what."""

from __future__ import annotations

import math
import random

import pytest
from bend_sections import brake, random_section
from shapely import affinity
from shapely.geometry import LineString, Polygon

from fabplan.bending.brake.collide import edges_of, first_hit, highest_angle, line_enters, sweep_hit
from fabplan.bending.brake.section import BendStrip, mirrored
from fabplan.bending.brake.strokes import Strokes
from fabplan.plane import rotated

STEP = 0.25  # degrees


def sampled_contact(moving: tuple, fixed: object, turn: float) -> float | None:
    """First sampled angle at which the turned line crosses the fixed shape."""
    line = LineString(moving)
    for i in range(1, math.ceil(turn / STEP) + 1):
        angle = min(turn, i * STEP)
        turned = affinity.rotate(line, angle, origin=(0, 0))
        if isinstance(fixed, Polygon):
            if turned.intersection(fixed).length > 1e-6:
                return angle
        elif turned.crosses(fixed):
            return angle
    return None


@pytest.mark.parametrize(
    ("corner", "edge", "turn", "contact"),
    [
        ((2.0, 0.0), ((0.0, 1.0), (0.0, 3.0)), 120.0, 90.0),
        ((2.0, 0.0), ((1.0, 1.0), (3.0, 3.0)), 120.0, 45.0),
        ((2.0, 0.0), ((-1.0, 0.5), (-3.0, 0.5)), 180.0, 180 - math.degrees(math.asin(0.25))),
        ((2.0, 0.0), ((0.0, 3.0), (0.0, 4.0)), 180.0, None),
        ((2.0, 0.0), ((0.0, 1.0), (0.0, 3.0)), 80.0, None),
        ((2.0, 0.0), ((0.0, -1.0), (0.0, -3.0)), -120.0, 90.0),
    ],
)
def test_one_corner_against_one_edge(
    corner: tuple[float, float], edge: tuple, turn: float, contact: float | None
) -> None:
    hit = first_hit([corner], edges_of(edge), turn)
    assert (hit is None) == (contact is None)
    if hit is not None:
        assert hit[0] == pytest.approx(contact)


def compare(seed: int) -> int:
    """Strokes of one random section whose contact was compared."""
    rng = random.Random(seed)
    strip, tool = BendStrip(random_section(rng, rng.randint(2, 5))), brake()
    strokes = Strokes(strip, tool, 2.0)
    compared = 0
    for _ in range(6):
        mask, k = rng.randrange(1 << strip.n), rng.randrange(strip.n)
        mask &= ~(1 << k)
        high = rng.random() < 0.5
        behind, front = strip.path(k, high, mask), strip.path(k, not high, mask)
        fixed = mirrored(behind.points)
        if line_enters(front.points, tool.bed) or line_enters(front.points, tool.nose):
            continue
        turn = strokes.setting(k)
        for outline in (tool.bed, tool.nose):
            exact = sweep_hit(front.points, outline, turn, closed=True)
            seen = sampled_contact(front.points, Polygon(outline), turn)
            _same(exact and exact[0], seen, turn)
            compared += 1
        if not LineString(front.points).crosses(LineString(fixed)) and len(fixed) > 1:
            exact = sweep_hit(front.points, fixed, turn, closed=False)
            seen = sampled_contact(front.points, LineString(fixed), turn)
            _same(exact and exact[0], seen, turn)
            compared += 1
    return compared


def _same(exact: float | None, seen: float | None, turn: float) -> None:
    """Contact angles agree to one sampling step; a graze at the very end may be seen by one of them only."""
    if exact is None or seen is None:
        assert exact is None or exact > turn - STEP or seen is not None, (exact, seen)
        assert seen is None or seen > turn - STEP or exact is not None, (exact, seen)
    else:
        assert -1e-6 <= seen - exact <= 2 * STEP, (exact, seen)


@pytest.mark.parametrize("seed", range(15))
def test_exact_sweep_is_the_sampled_sweep(seed: int) -> None:
    compare(seed)


@pytest.mark.slow
def test_exact_sweep_is_the_sampled_sweep_at_length() -> None:
    assert sum(compare(seed) for seed in range(100, 400)) > 1500


def test_turning_back_and_forth() -> None:
    points = ((0.0, 0.0), (3.0, 0.0), (3.0, 1.0))
    back = rotated(rotated(points, 77.0), -77.0)
    assert [c for p in back for c in p] == pytest.approx([c for p in points for c in p], abs=1e-12)


def test_a_swing_left_out_as_too_short_meets_nothing() -> None:
    """What `highest_angle` rules out is ruled out by the full sweep too, and it does rule out something."""
    rng, tool, out = random.Random(11), brake(), 0
    nose = min(math.degrees(math.atan2(y, x)) for x, y in tool.nose)
    for _ in range(60):
        strip = BendStrip(random_section(rng, rng.randint(2, 4), hems=False))
        k, mask, turn = rng.randrange(strip.n), rng.randrange(1 << strip.n), rng.choice([20.0, 60.0, 110.0])
        points = strip.path(k, rng.random() < 0.5, mask & ~(1 << k)).points
        for outline, begins in ((tool.nose, nose), (tool.bed, 180.0)):
            if highest_angle(points) + turn < begins:
                assert sweep_hit(points, outline, turn, closed=True) is None
                out += 1
    assert out > 20
