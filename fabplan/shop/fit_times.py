"""The shop's own times from what it timed: least squares with no time below nothing, and how sure each is.

A timing is the sum of its work, each kind taking its own time, give or take some share of the whole and the rounding
of the clock; timings are weighted so. Intervals are those of the linear model with Student's t, cut off at nothing, or
wider where the timings scatter otherwise than they are weighted (the estimate HC3). A time that no timing separates
from another (their work always comes together) is named, not guessed.

C. L. Lawson & R. J. Hanson, Solving Least Squares Problems, 1974, ch. 23 (non-negative least squares, as in scipy).
J. G. MacKinnon & H. White, "Some heteroskedasticity-consistent covariance matrix estimators with improved finite sample
properties", Journal of Econometrics 29(3), 1985 (HC3).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fabplan.labour import TIME_KEYS, Labour
from fabplan.shop.times_file import Timed

SURE = 0.95  # of the intervals
VAGUE = 0.5  # of the time: a wider half interval is not sure enough to write
FINE = 5.0  # seconds: but this near is
SPREAD = 0.10  # of a timing, one standard deviation: from memory; only how timings weigh against each other hangs on it
CLOCK = 20.0  # seconds: people read a clock to the half minute or so
_SAME = 1e-7
_ROUNDS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class FittedTime:
    """One time: seconds, the interval it lies in (`SURE`), and whether that is sure enough to write down."""

    key: str
    seconds: float
    low: float
    high: float
    sure: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """Times fitted; `together` are groups that cannot be told apart; `timings` how many they rest on."""

    times: tuple[FittedTime, ...]
    together: tuple[tuple[str, ...], ...]
    timings: int
    spare: int  # timings more than times


def fit_times(log: Sequence[Timed], labour: Labour) -> Fit:
    """Fit the times of the work a log has.

    Parameters
    ----------
    log : sequence of Timed
    labour : Labour
        Present times: they only set how the timings weigh at first.
    """
    import numpy as np
    from scipy.optimize import nnls
    from scipy.special import stdtrit

    keys = [k for k in TIME_KEYS if any(e.work.get(k, 0) for e in log)]
    if not log or not keys:
        return Fit(times=(), together=(), timings=len(log), spare=0)
    work = np.array([[e.work.get(k, 0.0) for k in keys] for e in log])
    took = np.array([e.seconds for e in log])
    unit = np.array([max(float(getattr(labour, k)), 1.0) for k in keys])
    _, values, rows = np.linalg.svd(work * unit / np.linalg.norm(work * unit, axis=0), full_matrices=True)
    rank = int((values > _SAME * values[0]).sum())
    blind = rows[rank:]  # mixtures of times that no timing sees
    hidden = np.sqrt((blind**2).sum(axis=0)) > 1e-5
    together = _groups([keys[i] for i in np.flatnonzero(hidden)], np.abs(blind.T @ blind)[np.ix_(hidden, hidden)])
    best, expected = np.zeros(len(keys)), took
    for _ in range(_ROUNDS):
        weight = 1.0 / np.hypot(SPREAD * expected, CLOCK)
        best, _ = nnls(work * weight[:, None] * unit, took * weight)
        expected = np.maximum(work @ (best * unit), 1.0)
    best *= unit
    weight = 1.0 / np.hypot(SPREAD * expected, CLOCK)
    spare = len(log) - rank
    scaled = work * weight[:, None] * unit
    free, *_ = np.linalg.lstsq(scaled, took * weight, rcond=_SAME)  # times may fall below nothing here
    left = took * weight - scaled @ free
    inverse = np.linalg.pinv(scaled.T @ scaled, rcond=_SAME**2, hermitian=True)
    noise = float(left @ left) / spare if spare > 0 else float("inf")
    lever = np.clip(np.einsum("ij,jk,ik->i", scaled, inverse, scaled), 0.0, 1.0 - 1e-9)
    shared = inverse @ scaled.T * (left / (1.0 - lever))
    spread = np.sqrt(np.maximum(noise * np.diag(inverse), np.einsum("ij,ij->i", shared, shared)))
    wide = float(stdtrit(spare, (1 + SURE) / 2)) if spare > 0 else float("inf")
    times = []
    for i, key in enumerate(keys):
        if hidden[i]:
            continue
        half = wide * float(spread[i]) * unit[i] if spare > 0 else float("inf")
        middle = float(free[i] * unit[i])
        low, high = max(0.0, middle - half), max(0.0, middle + half)
        at = min(max(float(best[i]), low), high)
        times.append(FittedTime(key=key, seconds=at, low=low, high=high, sure=high - low <= 2 * max(FINE, VAGUE * at)))
    return Fit(times=tuple(times), together=together, timings=len(log), spare=max(0, spare))


def _groups(keys: list[str], tied: object) -> tuple[tuple[str, ...], ...]:
    """Keys that share a mixture no timing sees, joined up."""
    import numpy as np

    near = np.asarray(tied) > 1e-6
    left, out = set(range(len(keys))), []
    while left:
        group, front = set[int](), [min(left)]
        while front:
            i = front.pop()
            if i in left:
                left.discard(i)
                group.add(i)
                front += [j for j in left if near[i, j]]
        out.append(tuple(keys[i] for i in sorted(group)))
    return tuple(out)
