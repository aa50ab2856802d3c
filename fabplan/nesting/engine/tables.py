"""Strip tables: the best value of a strip of every width and length at once.

Values are integers (scaled duals), so comparisons are exact. Two levels (P. C. Gilmore, R. E. Gomory, "Multistage
cutting stock problems of two and more dimensions", Operations Research 13, 1965): along the strip, with a snapshot
at every new strip width, then across the panel (`panels`). A part deeper than the back gauge reaches may occur once per
division, which adds one layer to each table.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
import numpy.typing as npt

from fabplan.nesting.engine.frame import Ints, Turned

Piece = tuple[int, int]  # oriented piece, how many
Section = tuple[int, tuple[Piece, ...]]  # length along, pieces side by side
Strip = tuple[int, tuple[Section, ...]]  # width across, sections
Panel = tuple[int, tuple[Strip, ...]]  # length along, strips


def repeat_item(f: Ints, size: int, value: int) -> None:
    """Unbounded knapsack step in place: f[c] = max over k of f[c - k size] + k value, along the last axis."""
    n = f.shape[-1]
    if value <= 0 or size >= n:
        return
    rows = -(-n // size)
    if rows <= 3:
        for low in range(size, n, size):
            high = min(low + size, n)
            np.maximum(f[low:high], f[low - size : high - size] + value, out=f[low:high])
        return
    pad = np.full(rows * size, -(1 << 60), dtype=np.int64)
    pad[:n] = f
    grid = pad.reshape(rows, size)
    lift = (np.arange(rows, dtype=np.int64) * value)[:, None]
    grid -= lift
    np.maximum.accumulate(grid, axis=0, out=grid)
    grid += lift
    f[:] = pad[:n]


class StripTable(Protocol):
    """What a panel table needs of a strip table."""

    @property
    def table(self) -> Turned:
        """Oriented pieces."""

    @property
    def width(self) -> Ints:
        """Strip width of each row."""

    @property
    def best(self) -> Ints:
        """(rows, lengths) most value."""

    def open(self, row: int, y: int) -> Strip:
        """The best strip itself."""


@dataclass(slots=True)
class Strips:
    """`best[r, y]`: most value in a strip `width[r]` across and y along; `small` the same without a deep part."""

    table: Turned
    value: Ints
    width: Ints
    best: Ints
    small: Ints
    sections: tuple[Ints, Ints] | None = None  # three stages: lengths, values [length, x]

    def open(self, row: int, y: int) -> Strip:
        """The sections of the best strip of row `row`, y along."""
        t, v, w = self.table, self.value, int(self.width[row])
        parts: list[Section] = []
        if self.sections is not None:
            return w, tuple(self._open_sections(row, y))
        if w > t.cut_across:
            fits = np.flatnonzero((t.along == y) & (t.across <= w))
            o = int(fits[np.argmax(v[fits])])
            return w, ((y, ((o, 1),)),)
        target = int(self.best[row, y])
        fits = np.flatnonzero((t.across <= w) & (v > 0) & (t.along <= y) & _held(t, w))
        f = self.small[row]
        if target > f[y]:
            for o in fits[t.along[fits] > t.gauge_along]:
                rest = y - int(t.along[o])
                if f[rest] + v[o] == target:
                    parts.append((int(t.along[o]), ((int(o), 1),)))
                    y, target = rest, int(f[rest])
                    break
        fits = fits[t.along[fits] <= t.gauge_along]
        length, worth = t.along[fits], v[fits]
        count: dict[int, int] = {}
        while target > 0:
            ok = length <= y
            hit = np.flatnonzero(ok & (f[y - np.where(ok, length, 0)] + worth == target))
            o = int(fits[hit[0]])
            count[o] = count.get(o, 0) + 1
            y -= int(t.along[o])
            target = int(f[y])
        parts += [
            (int(t.along[o]), ((o, 1),))
            for o, c in sorted(count.items(), key=lambda oc: (-int(t.along[oc[0]]), oc[0]))
            for _ in range(c)
        ]
        return w, tuple(parts)

    def _open_sections(self, row: int, y: int) -> list[Section]:
        t, w = self.table, int(self.width[row])
        assert self.sections is not None
        lengths, worth = self.sections
        values = worth[:, w]
        f, target = self.small[row], int(self.best[row, y])
        parts: list[Section] = []
        if target > f[y]:
            for d in np.flatnonzero((lengths > t.gauge_along) & (lengths <= y)):
                rest = y - int(lengths[d])
                if f[rest] + values[d] == target:
                    parts.append(self._open_stack(int(d), w))
                    y, target = rest, int(f[rest])
                    break
        small = np.flatnonzero((lengths <= t.gauge_along) & (values > 0))
        while target > 0:
            ok = lengths[small] <= y
            hit = np.flatnonzero(ok & (f[y - np.where(ok, lengths[small], 0)] + values[small] == target))
            s = int(small[hit[0]])
            parts.append(self._open_stack(s, w))
            y -= int(lengths[s])
            target = int(f[y])
        return sorted(parts, key=lambda p: (-p[0], p[1]))

    def _open_stack(self, s: int, x: int) -> Section:
        """Pieces side by side in a section: the knapsack across is small, so it is solved again."""
        t, v = self.table, self.value
        assert self.sections is not None
        length = int(self.sections[0][s])
        fits = np.flatnonzero((t.along <= length) & (t.across <= x) & (v > 0))
        small, deep = fits[t.across[fits] <= t.gauge_across], fits[t.across[fits] > t.gauge_across]
        f = np.zeros(x + 1, dtype=np.int64)
        for o in small:
            repeat_item(f, int(t.across[o]), int(v[o]))
        target = int(self.sections[1][s, x])
        pieces: list[int] = []
        if target > f[x]:
            o = next(int(o) for o in deep if f[x - t.across[o]] + v[o] == target)
            pieces.append(o)
            x -= int(t.across[o])
            target = int(f[x])
        while target > 0:
            o = next(int(o) for o in small if t.across[o] <= x and f[x - t.across[o]] + v[o] == target)
            pieces.append(o)
            x -= int(t.across[o])
            target = int(f[x])
        used = max(int(t.along[o]) for o in pieces)
        return used, tuple((o, pieces.count(o)) for o in sorted(set(pieces), key=lambda o: (-int(t.along[o]), o)))


def _held(t: Turned, w: int) -> npt.NDArray[np.bool_]:
    """Pieces that can be trimmed from a strip w across with one side wide enough to hold."""
    if not t.least_across:
        return np.ones(t.size, dtype=np.bool_)
    held: npt.NDArray[np.bool_] = (t.across == w) | (t.across >= t.least_across) | (w - t.across >= t.least_across)
    return held


def strips(t: Turned, value: Ints, ymax: int, xmax: int) -> Strips:
    """Two-stage strip table: one row per strip width, unbounded pieces of positive value.

    Parameters
    ----------
    t : Turned
        The pieces, each way they may lie.
    value : (pieces,) int
        Value of each oriented piece.
    ymax, xmax : int
        Longest strip and widest strip, in steps.
    """
    use = np.flatnonzero((value > 0) & (t.along <= ymax) & (t.across <= xmax))
    f = np.zeros(ymax + 1, dtype=np.int64)
    widths: list[int] = []
    best: list[Ints] = []
    small: list[Ints] = []
    deep: list[int] = []
    pending: list[int] = []
    at = 0
    while at < use.size:
        w = int(t.across[use[at]])
        group = []
        while at < use.size and int(t.across[use[at]]) == w:
            group.append(int(use[at]))
            at += 1
        if w > t.cut_across:  # too wide to cut across: one piece exactly as long as the panel
            row = np.zeros(ymax + 1, dtype=np.int64)
            for o in use[t.across[use] <= w]:
                row[t.along[o]] = max(row[t.along[o]], value[o])
            widths.append(w)
            best.append(row)
            small.append(row)
            continue
        for o in [o for o in pending if w - t.across[o] >= t.least_across]:
            pending.remove(o)
            _add(f, deep, t, value, o)
        thin = w < t.least_across
        base = f.copy() if thin else f
        now = list(deep) if thin else deep
        for o in group:
            _add(base, now, t, value, o)
        if thin:
            pending += group
        row = base.copy() if not thin else base
        top = row
        if now:
            top = row.copy()
            for o in now:
                size = int(t.along[o])
                np.maximum(top[size:], row[: ymax + 1 - size] + value[o], out=top[size:])
        widths.append(w)
        best.append(top)
        small.append(row)
    shape = (len(widths), ymax + 1)
    return Strips(
        table=t,
        value=value,
        width=np.array(widths, dtype=np.int64),
        best=np.array(best, dtype=np.int64).reshape(shape),
        small=np.array(small, dtype=np.int64).reshape(shape),
    )


def _add(f: Ints, deep: list[int], t: Turned, value: Ints, o: int) -> None:
    if t.along[o] > t.gauge_along:
        deep.append(o)
    else:
        repeat_item(f, int(t.along[o]), int(value[o]))


def stacked(t: Turned, value: Ints, ymax: int, xmax: int, widths: Ints) -> Strips:
    """Three-stage strip table for the given strip widths: sections of pieces side by side."""
    use = np.flatnonzero((value > 0) & (t.along <= ymax) & (t.across <= xmax))
    widths = widths[(widths <= xmax) & (widths <= t.cut_across)]
    order = use[np.argsort(t.along[use], kind="stable")]
    lengths = np.unique(t.along[use])
    worth = np.zeros((lengths.size, xmax + 1), dtype=np.int64)
    f = np.zeros(xmax + 1, dtype=np.int64)
    deep: list[int] = []
    at = 0
    for s, length in enumerate(lengths):
        while at < order.size and t.along[order[at]] == length:
            o = int(order[at])
            if t.across[o] > t.gauge_across:
                deep.append(o)
            else:
                repeat_item(f, int(t.across[o]), int(value[o]))
            at += 1
        worth[s] = f
        for o in deep:
            size = int(t.across[o])
            np.maximum(worth[s, size:], f[: xmax + 1 - size] + value[o], out=worth[s, size:])
    g = np.zeros((widths.size, ymax + 1), dtype=np.int64)
    for i in np.flatnonzero(lengths <= t.gauge_along):
        size = int(lengths[i])
        v = worth[i, widths][:, None]
        for low in range(size, ymax + 1, size):
            high = min(low + size, ymax + 1)
            np.maximum(g[:, low:high], g[:, low - size : high - size] + v, out=g[:, low:high])
    top = g
    if lengths.size and lengths[-1] > t.gauge_along:
        top = g.copy()
        for i in np.flatnonzero(lengths > t.gauge_along):
            size = int(lengths[i])
            np.maximum(top[:, size:], g[:, : ymax + 1 - size] + worth[i, widths][:, None], out=top[:, size:])
    return Strips(table=t, value=value, width=widths, best=top, small=g, sections=(lengths, worth))
