"""Panels of strips: the best value of every panel width and length, from the strip tables.

The second level of P. C. Gilmore and R. E. Gomory (Operations Research 13, 1965): a knapsack over strip widths for many
panel lengths at once. Where few of a piece are wanted, strips of a width are bounded by the pieces of that width, since
a strip is as wide as one of its pieces; the steps of doubling number are those of S. Martello and P. Toth ("Knapsack
Problems", 1990, section 3.2).
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from fabplan.nesting.engine.frame import Ints
from fabplan.nesting.engine.tables import Panel, StripTable

Values = npt.NDArray[np.int32]


@dataclass(slots=True)
class PanelTable:
    """`best[x, c]`: most value in strips x across, for panel length `length[c]`; `small` without a deep strip.

    `most[c // chunk][r]`: how many strips of row r a panel may have, None for any number.
    """

    strips: StripTable
    length: Ints
    best: Values
    small: Values
    chunk: int
    most: list[Ints] | None = None
    opened: dict[tuple[int, int], Panel] = field(default_factory=dict)

    def open(self, x: int, c: int) -> Panel:
        """Strips of the best panel of column c within x across; the panel is no longer than its longest strip."""
        if (x, c) not in self.opened:
            self.opened[(x, c)] = self._open(x, c)
        return self.opened[(x, c)]

    def _open(self, x: int, c: int) -> Panel:
        y = int(self.length[c])
        s, gauge = self.strips, self.strips.table.gauge_across
        worth = s.best[:, y]
        out: list[int] = []
        target, f = int(self.best[x, c]), self.small[:, c]
        if target > f[x]:
            for d in np.flatnonzero((s.width > gauge) & (s.width <= x)):
                if int(f[x - s.width[d]]) + int(worth[d]) == target:
                    out.append(int(d))
                    x = int(x - s.width[d])
                    target = int(f[x])
                    break
        rows = np.flatnonzero((s.width <= gauge) & (worth > 0))
        if self.most is None:
            out += _as_often(s.width[rows], worth[rows], f, x, rows)
        else:
            out += _at_most(s.width[rows], worth[rows], self.most[c // self.chunk][rows], x, rows)
        strip = {r: s.open(r, y) for r in sorted(set(out))}
        opened = [strip[r] for r in sorted(out, reverse=True)]
        return max(sum(sec[0] for sec in strip[1]) for strip in opened), tuple(opened)


def _as_often(width: Ints, value: Ints, f: Values, x: int, rows: Ints) -> list[int]:
    """Rows of the best strips within x, read from the table itself."""
    out: list[int] = []
    target = int(f[x])
    while target > 0:
        ok = width <= x
        hit = np.flatnonzero(ok & (f[x - np.where(ok, width, 0)] + value == target))
        r = int(hit[-1])
        out.append(int(rows[r]))
        x = int(x - width[r])
        target = int(f[x])
    return out


def _at_most(width: Ints, value: Ints, most: Ints, x: int, rows: Ints) -> list[int]:
    """Rows of the best strips within x, no row too often: the table keeps no steps, so one column is solved again."""
    f = np.zeros(x + 1, dtype=np.int64)
    steps, taken = [f], []
    for r in np.argsort(width, kind="stable"):
        for times in doubling(min(int(most[r]), x // int(width[r]))):
            size = times * int(width[r])
            f = f.copy()
            np.maximum(f[size:], steps[-1][: x + 1 - size] + times * int(value[r]), out=f[size:])
            steps.append(f)
            taken.append((int(r), times))
    out: list[int] = []
    for n in range(len(taken), 0, -1):
        if steps[n][x] != steps[n - 1][x]:
            r, times = taken[n - 1]
            out += [int(rows[r])] * times
            x -= times * int(width[r])
    return out


def doubling(n: int) -> list[int]:
    """Parts 1, 2, 4, ... and a rest: their sums are every number up to n."""
    out: list[int] = []
    times = 1
    while n > 0:
        out.append(min(times, n))
        n -= out[-1]
        times *= 2
    return out


def panels(s: StripTable, columns: Ints, xmax: int, most: Ints | None = None, chunk: int = 160) -> PanelTable:
    """Panel table over strip widths for the given panel lengths (steps of the strip table).

    Parameters
    ----------
    most : (rows,) int, optional
        How many strips of each row a panel may have.
    """
    gauge = s.table.gauge_across
    order = np.argsort(s.width, kind="stable")
    deep = [int(r) for r in order if s.width[r] > gauge]
    shallow = [int(r) for r in order if s.width[r] <= min(gauge, xmax)]
    if most is not None and all(most[r] >= xmax // int(s.width[r]) for r in shallow):
        most = None
    best = np.zeros((xmax + 1, columns.size), dtype=np.int32)
    top = np.zeros_like(best) if deep else best
    used: list[Ints] = []
    for low in range(0, columns.size, chunk):
        pick = columns[low : low + chunk]
        values = s.best[:, pick].astype(np.int32)
        g = np.zeros((xmax + 1, pick.size), dtype=np.int32)
        if most is None:
            _repeated(g, s.width, values, shallow)
        else:
            used.append(_bounded(g, s.width, values, shallow, most))
        best[:, low : low + chunk] = g
        if deep:
            h = g.copy()
            for r in deep:
                w = int(s.width[r])
                if w <= xmax:
                    np.maximum(h[w:], g[: xmax + 1 - w] + values[r], out=h[w:])
            top[:, low : low + chunk] = h
    return PanelTable(
        strips=s, length=columns, best=top, small=best, chunk=chunk, most=used if most is not None else None
    )


def _repeated(g: Values, width: Ints, values: Values, rows: list[int]) -> None:
    """Add strips of each row, any number of them; rows in order of width."""
    xmax = g.shape[0] - 1
    tmp = np.empty_like(g)
    before = np.zeros(g.shape[1], dtype=np.int32)
    for r in rows:
        better = values[r] > before  # where a narrower strip is worth as much, this one is no use
        if not better.any():
            continue
        w, first = int(width[r]), int(np.argmax(better))
        v = values[r, first:]
        np.maximum(before, values[r], out=before)
        for at in range(w, xmax + 1, w):
            end = min(at + w, xmax + 1)
            np.add(g[at - w : end - w, first:], v, out=tmp[: end - at, first:])
            np.maximum(g[at:end, first:], tmp[: end - at, first:], out=g[at:end, first:])


def _bounded(g: Values, width: Ints, values: Values, rows: list[int], most: Ints) -> Ints:
    """Add strips of each row, at most so many; returns the numbers as they were used.

    A row that is nowhere worth more than the one before gives that one its number: a narrower strip of the same worth
    may stand in its place.
    """
    xmax = g.shape[0] - 1
    tmp = np.empty_like(g)
    kept: list[list[int]] = []
    before = np.zeros(g.shape[1], dtype=np.int32)
    for r in rows:
        if (values[r] > before).any() or (values[r] < before).any():
            kept.append([r, int(most[r])])
            before = values[r]
        elif kept:
            kept[-1][1] += int(most[r])
    for r, number in kept:
        w, first = int(width[r]), int(np.argmax(values[r] > 0))
        v = values[r, first:]
        if number >= xmax // w:
            for at in range(w, xmax + 1, w):
                end = min(at + w, xmax + 1)
                np.add(g[at - w : end - w, first:], v, out=tmp[: end - at, first:])
                np.maximum(g[at:end, first:], tmp[: end - at, first:], out=g[at:end, first:])
            continue
        for times in doubling(number):
            size = times * w
            if size > xmax:
                continue
            np.add(g[: xmax + 1 - size, first:], times * v, out=tmp[: xmax + 1 - size, first:])
            np.maximum(g[size:, first:], tmp[: xmax + 1 - size, first:], out=g[size:, first:])
    used = np.zeros_like(most)
    for r, number in kept:
        used[r] = number
    return used
