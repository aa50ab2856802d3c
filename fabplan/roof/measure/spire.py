"""Spires that are not regular: eave sides, hips and base diagonals fitted to one shape in space."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from fabplan.roof.measure.least_squares import Adjusted, Array, Reading, adjust, distance, sigma_of
from fabplan.roof.measure.shapes import DoesNotCloseError, Point


@dataclass(frozen=True, slots=True, kw_only=True)
class IrregularSpire:
    """A fitted spire over a level eave (inches, degrees).

    `base` runs counter-clockwise seen from above; eave i goes from corner i to corner i + 1, hip i rises from corner i.
    """

    base: tuple[Point, ...]
    apex: tuple[float, float, float]
    fit: Adjusted
    readings: tuple[Reading, ...]
    pitches: tuple[float, ...]
    bends: tuple[float, ...]  # along hip i, between the slopes on eaves i - 1 and i
    plan_corners: tuple[float, ...]
    plan_corner_sigma: float  # largest
    apex_offset: tuple[float, float]  # from the middle of the base corners
    apex_offset_sigma: float

    def face(self, i: int) -> tuple[Point, Point, Point]:
        """Slope i in its own plane: left corner, right corner, apex."""
        n = len(self.base)
        a = np.array([*self.base[i], 0.0])
        b = np.array([*self.base[(i + 1) % n], 0.0])
        top = np.array(self.apex)
        along = (b - a) / np.linalg.norm(b - a)
        x = float((top - a) @ along)
        y = float(np.linalg.norm(top - a - x * along))
        return (0.0, 0.0), (float(np.linalg.norm(b - a)), 0.0), (x, y)


def _circle_of(sides: Sequence[float]) -> float:
    """Radius of the circle on which a chain of chords closes, when its centre lies inside."""
    low, high = max(sides) / 2, sum(sides)
    if sum(2 * math.asin(min(1.0, s / (2 * low))) for s in sides) < 2 * math.pi:
        return low
    for _ in range(200):
        mid = (low + high) / 2
        if sum(2 * math.asin(min(1.0, s / (2 * mid))) for s in sides) > 2 * math.pi:
            low = mid
        else:
            high = mid
    return (low + high) / 2


def _first_guess(eaves: Sequence[float], hips: Sequence[float]) -> Array:
    radius = _circle_of(eaves)
    turns = [2 * math.asin(min(1.0, s / (2 * radius))) for s in eaves]
    scale = 2 * math.pi / sum(turns)
    at, points = -math.pi / 2 - turns[0] / 2, []
    for turn in turns:
        points.append([radius * math.cos(at), radius * math.sin(at), 0.0])
        at += turn * scale
    mean = float(np.mean([h * h for h in hips])) - radius * radius
    return np.array([*points, [0.0, 0.0, math.sqrt(max(mean, (0.1 * max(hips)) ** 2))]])


def _slant(a: int, b: int, p: Array) -> float:
    """From the middle of an eave to the apex, the last point."""
    return float(np.linalg.norm(p[-1] - (p[a] + p[b]) / 2))


def _plan_corner(i: int, n: int, p: Array) -> float:
    back, here, ahead = p[(i - 1) % n, :2], p[i, :2], p[(i + 1) % n, :2]
    u, v = ahead - here, back - here
    return math.degrees(math.atan2(float(u[0] * v[1] - u[1] * v[0]), float(u @ v))) % 360


def _normal(i: int, n: int, p: Array) -> Array:
    normal = np.cross(p[(i + 1) % n] - p[i], p[n] - p[i])
    return np.asarray(normal / np.linalg.norm(normal))


def irregular_spire(
    eaves: Sequence[float],
    hips: Sequence[float],
    diagonals: Sequence[tuple[int, int, float]] = (),
    height: float | None = None,
    *,
    slants: Sequence[float] = (),
    sigma: float = 1 / 16,
) -> IrregularSpire:
    """Fit a spire with a level eave.

    Parameters
    ----------
    eaves, hips : sequences of n lengths
        In order to the right, seen from outside; hip i stands at the left end of eave i. No hips where `slants` stand
        in for them.
    diagonals : sequence of (corner, corner, length)
        Across the base, corners counted from 0.
    height : float, optional
        Plumb height of the apex.
    slants : sequence of n lengths, optional
        From the middle of each eave to the apex.
    sigma : float
        One standard deviation of a tape reading, inches.

    Raises
    ------
    DoesNotCloseError
    """
    n = len(eaves)
    longest = max(eaves)
    if longest >= sum(eaves) - longest:
        raise DoesNotCloseError("the other eaves do not reach along the longest", 2 * longest - sum(eaves))
    for i in range(n if hips else 0):
        short = eaves[i] - hips[i] - hips[(i + 1) % n]
        if short >= 0:
            raise DoesNotCloseError(f"the two hips of slope {i + 1} do not meet over its eave", short)
    readings = [
        Reading(name=f"eave {i + 1}", of=distance(i, (i + 1) % n), read=s, sigma=sigma) for i, s in enumerate(eaves)
    ]
    readings += [Reading(name=f"hip {i + 1}", of=distance(i, n), read=s, sigma=sigma) for i, s in enumerate(hips)]
    readings += [
        Reading(name=f"slant {i + 1}", of=partial(_slant, i, (i + 1) % n), read=s, sigma=sigma)
        for i, s in enumerate(slants)
    ]
    readings += [
        Reading(name=f"base diagonal {a + 1}-{b + 1}", of=distance(a, b), read=s, sigma=sigma) for a, b, s in diagonals
    ]
    if height is not None:
        readings.append(Reading(name="height", of=lambda p: float(p[n, 2]), read=height, sigma=sigma))
    rises = hips or [math.hypot(s, e / 2) for s, e in zip(slants, eaves, strict=True)]
    start = _first_guess(eaves, rises)
    if height is not None:
        start[n, 2] = height
    level = [3 * i + 2 for i in range(n)]
    fit = adjust(start, readings, fixed=level)
    if len(readings) - fit.redundancy < 2 * n:
        raise DoesNotCloseError("these tapes leave the base free to rack: it needs one more across it", 0.0)
    p = fit.points.copy()
    if p[n, 2] < 0:
        p[n, 2] = -p[n, 2]
    worst = float(np.abs(fit.corrections).max())
    if fit.redundancy == 0 and worst > 1e-6 * max(rises):
        what = "hips" if hips else "slants"
        raise DoesNotCloseError(f"the {what} do not meet in one point over the eaves", worst)
    corners = [_plan_corner(i, n, p) for i in range(n)]
    if p[n, 2] < 1e-3 or any(not 0 < c < 360 for c in corners) or abs(sum(corners) - 180 * (n - 2)) > 1e-6:
        what = "hips" if hips else "slants"
        raise DoesNotCloseError(f"the eaves and {what} make no spire that stands up", worst)
    normals = [_normal(i, n, p) for i in range(n)]
    bends = [math.degrees(math.acos(max(-1.0, min(1.0, float(normals[i - 1] @ normals[i]))))) for i in range(n)]

    def offset(axis: int, q: Array) -> float:
        return float(q[n, axis] - q[:n, axis].mean())

    east = p[1, :2] - p[0, :2]
    east = east / np.linalg.norm(east)
    shift = np.array([offset(0, p), offset(1, p)])
    return IrregularSpire(
        base=tuple((float(x), float(y)) for x, y in p[:n, :2]),
        apex=(float(p[n, 0]), float(p[n, 1]), float(p[n, 2])),
        fit=fit,
        readings=tuple(readings),
        pitches=tuple(math.degrees(math.acos(max(-1.0, min(1.0, float(m[2]))))) for m in normals),
        bends=tuple(bends),
        plan_corners=tuple(corners),
        plan_corner_sigma=max(sigma_of(fit, partial(_plan_corner, i, n)) for i in range(n)),
        apex_offset=(float(shift @ east), float(shift @ np.array([-east[1], east[0]]))),
        apex_offset_sigma=max(sigma_of(fit, partial(offset, a)) for a in (0, 1)),
    )
