"""Every part of a demand, numbered, and the cheapest way to split each in two."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from fabplan.nesting.engine.frame import Frame, Ints

Counts = npt.NDArray[np.int64] | npt.NDArray[np.int32]
FAR = 1 << 28


def states(demand: Ints) -> int:
    """Number of parts of a demand."""
    size = 1
    for d in demand:
        size *= int(d) + 1
        if size > 1 << 40:
            break
    return size


def pairs(demand: Ints) -> float:
    """Number of (part, part of the part) pairs: the work of one pass."""
    d = demand.astype(float)
    return float(np.prod((d + 1) * (d + 2) / 2))


def effort(frame: Frame, demand: Ints) -> float:
    """Work of the exact program, about milliseconds."""
    longest = max((min(v.Y, v.rip_max, 4 * states(demand)) for v in frame.views), default=1)
    used = len({v.table for v in frame.views})
    return used * (0.025 * states(demand) + 1e-6 * pairs(demand) * min(longest, 600)) + 1.0


class Parts:
    """All parts of a demand and, for each, its own parts that hold its first piece."""

    def __init__(self, demand: Ints) -> None:
        self.rows = np.flatnonzero(demand)
        self.demand = demand[self.rows]
        self.stride = np.concatenate([[1], np.cumprod(self.demand + 1)[:-1]]).astype(np.int64)
        self.size = states(self.demand)
        at = np.arange(self.size)
        self.counts = (at[:, None] // self.stride) % (self.demand + 1)
        self.firsts: list[Ints] = [np.zeros(0, dtype=np.int64)]
        self.firsts += [self._subs(m, True) for m in range(1, self.size)]
        self._all: list[Ints] | None = None

    def _subs(self, m: int, first: bool) -> Ints:
        out = np.zeros(1, dtype=np.int64)
        row = self.counts[m]
        for i in np.flatnonzero(row):
            step = np.arange(1 if first else 0, row[i] + 1) * self.stride[i]
            out = (out[:, None] + step).ravel()
            first = False
        return out

    def all(self) -> list[Ints]:
        """For each part, every part of it but the empty one."""
        if self._all is None:
            self._all = [self._subs(m, False)[1:] for m in range(self.size)]
        return self._all

    def split(self, part: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
        """best[m] = min over parts s of m (with its first piece) of part[s] + best[m - s]; columns side by side."""
        best = np.full(part.shape, FAR, dtype=part.dtype)
        best[0] = 0
        for m in range(1, self.size):
            s = self.firsts[m]
            np.minimum((part[s] + best[m - s]).min(axis=0), FAR, out=best[m, ...])
        return best

    def once(self, part: npt.NDArray[np.int64], rest: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
        """out[m] = min(rest[m], min over parts s of m of part[s] + rest[m - s]): at most one such part."""
        out = rest.copy()
        for m, s in enumerate(self.all()):
            if s.size:
                np.minimum(out[m], (part[s] + rest[m - s]).min(axis=0), out=out[m, ...])
        return out


def unsplit(
    parts: Parts,
    part: Counts,
    small: Counts,
    total: Counts,
    m: int,
    gauge: int,
) -> list[int]:
    """The parts whose sum made `total[m]`: at most one above `gauge`."""
    out: list[int] = []
    if total[m] < small[m]:
        s = parts.all()[m]
        deep = np.where(part[s] > gauge, part[s], FAR).astype(np.int64)
        pick = int(s[np.argmin(deep + small[m - s])])
        out.append(pick)
        m -= pick
    while m:
        s = parts.firsts[m]
        value = np.where(part[s] > gauge, FAR, part[s]).astype(np.int64) + small[m - s]
        pick = int(s[np.argmin(value)])
        out.append(pick)
        m -= pick
    return out
