"""What both replays need: sampled geometry and the checks that every stroke shares."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from fabplan.bending.model import Step
from fabplan.blanks.model import Fold
from fabplan.job.metals import MetalProfile
from fabplan.units import NM_PER_INCH

Floats = NDArray[np.float64]
SIZE_TOLERANCE = 1 / 256  # inches: below half of the finest graduation
ANGLE_TOLERANCE = 0.05


def inch(nm: int) -> float:
    """Inches."""
    return nm / NM_PER_INCH


def inside_by(points: Floats, outline: Floats) -> Floats:
    """How deep each point lies inside a closed outline (0 outside it)."""
    x, y = points[:, 0], points[:, 1]
    odd = np.zeros(len(points), dtype=bool)
    for (x0, y0), (x1, y1) in zip(outline, np.roll(outline, -1, axis=0), strict=True):
        if y0 == y1:
            continue
        at = x0 + (y - y0) * (x1 - x0) / (y1 - y0)
        odd ^= ((y0 > y) != (y1 > y)) & (x < at)
    depth = np.zeros(len(points))
    if odd.any():
        near = np.full(int(odd.sum()), np.inf)
        p = points[odd]
        for a, b in zip(outline, np.roll(outline, -1, axis=0), strict=True):
            d = b - a
            if not d.any():
                continue
            s = np.clip(((p - a) @ d) / (d @ d), 0.0, 1.0)
            near = np.minimum(near, np.hypot(*(p - a - s[:, None] * d).T))
        depth[odd] = near
    return depth


def cross_anywhere(a: Floats, b: Floats) -> bool:
    """Whether two open lines cross at inner points of their segments."""
    p, r = a[:-1, None, :], (a[1:] - a[:-1])[:, None, :]
    q, s = b[None, :-1, :], (b[1:] - b[:-1])[None, :, :]
    w = q - p
    det = r[..., 0] * s[..., 1] - r[..., 1] * s[..., 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        t = (w[..., 0] * s[..., 1] - w[..., 1] * s[..., 0]) / det
        u = (w[..., 0] * r[..., 1] - w[..., 1] * r[..., 0]) / det
        hit = (np.abs(det) > 1e-12) & (t > 0) & (t < 1) & (u > 0) & (u < 1)
    return bool(hit.any())


def turned_by(points: Floats, degrees: float) -> Floats:
    """Points turned about the origin, counter-clockwise."""
    a = np.radians(degrees)
    turn: Floats = np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
    return np.asarray(points @ turn, dtype=np.float64)


def own_springback(metal: MetalProfile, turned: float, radius: float) -> float:
    """The metal's part of the overbend by Ri/Rf = 4 X^3 - 3 X + 1, written out again."""
    t = metal.thickness
    x = max(metal.yield_ksi) * max(radius, t) / metal.modulus_ksi / t
    return turned * (1 / (1 - 3 * x + 4 * x**3) - 1)


def own_overbend(metal: MetalProfile, turned: float, radius: float, shop: float) -> float:
    """Degrees past the angle wanted, written out again: the shop's play and the metal's middle part, to the half."""
    t, e = metal.thickness, metal.modulus_ksi

    def part(angle: float, inner: float) -> float:
        low, high = sorted(metal.yield_ksi)
        springs = []
        for y in (low, high):
            x = y * max(inner, t) / e / t
            keeps = 1 - 3 * x + 4 * x**3 if x < 0.5 else 0.0
            springs.append(90.0 if keeps <= 0 else min(90.0, angle / keeps - angle))
        return sum(springs) / 2

    if shop <= 0:
        return 0.0
    over = max(0.0, shop - part(90.0, 0.0)) + part(turned, radius)
    return min(90.0, math.floor(2 * over + 0.5) / 2)


def differs(a: float, b: float, tolerance: float = SIZE_TOLERANCE) -> bool:
    """Whether two sizes differ by more than hand work could show (a number that is none differs too)."""
    return not abs(a - b) <= tolerance


def angle_faults(
    step: Step, fold: Fold, metal: MetalProfile, *, expected: float, setting: float, stops_short: bool = False
) -> list[str]:
    """Angle turned, set and read, and the metal's own springback; a swing may stop short of the setting, no less
    than the angle, where the metal comes to lie against something."""
    faults: list[str] = []
    name = f"step {step.step}"
    if differs(step.turned_deg, expected, ANGLE_TOLERANCE):
        faults.append(f"{name} turns {step.turned_deg:g} degrees instead of {expected:g}")
    low = min(expected, setting) if stops_short else setting
    if not low - ANGLE_TOLERANCE <= step.set_deg <= setting + ANGLE_TOLERANCE:
        faults.append(f"{name} is set to {step.set_deg:g} degrees instead of {setting:g}")
    if differs(step.check_deg, expected, ANGLE_TOLERANCE):
        faults.append(f"{name} is checked at {step.check_deg:g} degrees instead of {expected:g}")
    if expected < 180 and step.action == "fold":
        own = own_springback(metal, expected, fold.radius)
        if step.metal_springback is None or differs(step.metal_springback, own, 0.01):
            faults.append(f"{name} shows a springback of the metal other than {own:.2f} degrees")
    elif step.metal_springback is not None:
        faults.append(f"{name} shows a springback of the metal for a hem")
    return faults
