"""Least squares on tape readings: the shape that needs the smallest corrections, and how well it is known."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One reading: what it should be for given coordinates, what was read, and its standard deviation (inches)."""

    name: str
    of: Callable[[Array], float]
    read: float
    sigma: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Adjusted:
    """Fitted coordinates. `corrections` = fitted less read; `standardised` = corrections over their own standard
    deviation; `covariance` of the coordinates (position and turn of the whole shape left out)."""

    points: Array
    corrections: Array
    standardised: Array
    covariance: Array
    redundancy: int
    jacobian: Array


@dataclass(frozen=True, slots=True)
class _Tape:
    """Reading of a tape between two points, with its slope by their coordinates."""

    i: int
    j: int

    def __call__(self, p: Array) -> float:
        return math.dist(p[self.i], p[self.j])

    def row(self, p: Array) -> Array:
        """Change of the reading by every coordinate."""
        out = np.zeros_like(p)
        unit = (p[self.i] - p[self.j]) / self(p)
        out[self.i], out[self.j] = unit, -unit
        return out.reshape(-1)


def distance(i: int, j: int) -> Callable[[Array], float]:
    """Reading of a tape from point i to point j."""
    return _Tape(i, j)


def height_over(i: int, a: int, b: int) -> Callable[[Array], float]:
    """Reading square from the line through a and b to point i (plane points)."""

    def of(p: Array) -> float:
        d = p[b] - p[a]
        r = p[i] - p[a]
        return float((d[0] * r[1] - d[1] * r[0]) / np.linalg.norm(d))

    return of


def foot_along(i: int, a: int, b: int) -> Callable[[Array], float]:
    """Reading along the line from a towards b to under point i."""

    def of(p: Array) -> float:
        d = p[b] - p[a]
        return float(np.dot(p[i] - p[a], d) / np.linalg.norm(d))

    return of


def _jacobian(points: Array, readings: Sequence[Reading], free: Array) -> Array:
    flat = points.reshape(-1)
    out = np.empty((len(readings), len(free)))
    step = 1e-5 * max(1.0, float(np.abs(flat).max()))
    for n, reading in enumerate(readings):
        if isinstance(reading.of, _Tape):
            out[n] = reading.of.row(points)[free] / reading.sigma
            continue
        for column, k in enumerate(free):
            up, down = flat.copy(), flat.copy()
            up[k] += step
            down[k] -= step
            rise = reading.of(up.reshape(points.shape)) - reading.of(down.reshape(points.shape))
            out[n, column] = rise / (2 * step * reading.sigma)
    return out


def adjust(start: Array, readings: Sequence[Reading], *, fixed: Sequence[int] = (), rounds: int = 200) -> Adjusted:
    """Fit coordinates to readings by damped Gauss-Newton steps.

    Parameters
    ----------
    start : array (n, d)
        First guess.
    readings : sequence of Reading
    fixed : sequence of int
        Flat coordinate numbers held in place; what is left free to slide and turn is handled by least-length steps.
    rounds : int
        Most steps.
    """
    points = np.array(start, dtype=float)
    free = np.array([k for k in range(points.size) if k not in set(fixed)])
    read = np.array([r.read for r in readings])
    sigma = np.array([r.sigma for r in readings])

    def residual(p: Array) -> Array:
        return np.array((read - np.array([r.of(p) for r in readings])) / sigma)

    left = residual(points)
    damping = 0.0
    for _ in range(rounds):
        jacobian = _jacobian(points, readings, free)
        improved = False
        for _attempt in range(30):
            rows = np.vstack([jacobian, np.sqrt(damping) * np.eye(len(free))]) if damping else jacobian
            right = np.concatenate([left, np.zeros(len(free))]) if damping else left
            step = np.linalg.lstsq(rows, right, rcond=1e-10)[0]
            moved = points.reshape(-1).copy()
            moved[free] += step
            new = residual(moved.reshape(points.shape))
            if float(new @ new) <= float(left @ left) or float(np.abs(step).max()) < 1e-12:
                improved = True
                break
            damping = max(damping * 4, 1e-6)
        if not improved:
            break
        points, left = moved.reshape(points.shape), new
        damping = damping / 8 if damping > 1e-9 else 0.0
        if float(np.abs(step).max()) < 1e-11 * max(1.0, float(np.abs(points).max())):
            break
    jacobian = _jacobian(points, readings, free)
    inverse = np.linalg.pinv(jacobian, rcond=1e-8)
    covariance = inverse @ inverse.T
    leverage = np.einsum("ij,ji->i", jacobian, inverse)
    room: Array = np.clip(1 - leverage, 0.0, None)
    corrections = -left * sigma
    redundancy = len(readings) - int(np.linalg.matrix_rank(jacobian, tol=1e-8 * float(np.max(np.abs(jacobian)))))
    standardised: Array = np.where(room > 1e-6, -left / np.sqrt(np.maximum(room, 1e-12)), 0.0)
    full = np.zeros((points.size, points.size))
    full[np.ix_(free, free)] = covariance
    return Adjusted(
        points=points,
        corrections=corrections,
        standardised=standardised,
        covariance=full,
        redundancy=redundancy,
        jacobian=jacobian,
    )


def sigma_of(fit: Adjusted, value: Callable[[Array], float]) -> float:
    """Standard deviation of something computed from fitted coordinates."""
    shape = fit.points.shape
    flat = fit.points.reshape(-1)
    step = 1e-5 * max(1.0, float(np.abs(flat).max()))
    slope = np.zeros(flat.size)
    for k in range(flat.size):
        up, down = flat.copy(), flat.copy()
        up[k] += step
        down[k] -= step
        slope[k] = (value(up.reshape(shape)) - value(down.reshape(shape))) / (2 * step)
    return math.sqrt(max(0.0, float(slope @ fit.covariance @ slope)))


def change_alone(fit: Adjusted, readings: Sequence[Reading], which: int, *, fixed: Sequence[int] = ()) -> float:
    """How much one reading would have to change for all the others to keep what they read as nearly as they can."""
    others = [r for i, r in enumerate(readings) if i != which]
    again = adjust(fit.points, others, fixed=fixed)
    return readings[which].of(again.points) - readings[which].read
