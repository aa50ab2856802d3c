"""Small jobs to the end: a dynamic program over every part of the demand.

A part of the demand (so many of each piece) is numbered in mixed radix. Strips, panels, sheets and whole plans are
each the cheapest way to split a part in two, so one pass over all parts proves the optimum of the allowed class.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from fabplan.nesting.engine.columns import Column, column
from fabplan.nesting.engine.frame import HUGE, Frame, Ints, Turned, View
from fabplan.nesting.engine.tables import Panel, Section, Strip

Floats = npt.NDArray[np.float64]
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
    return used * (0.05 * states(demand) + 2e-6 * pairs(demand) * min(longest, 600)) + 1.0


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


class Exact:
    """The dynamic program for one demand; `proof` is False when some allowed pattern is left out."""

    def __init__(self, frame: Frame, demand: Ints) -> None:
        self.frame = frame
        self.parts = Parts(demand)
        self.proof = True
        self.tables = [
            self._table(t) if any(v.table == i for v in frame.views) else None for i, t in enumerate(frame.tables)
        ]

    def _table(self, t: Turned) -> _Table:
        ymax = xmax = 0
        for v in self.frame.views:
            if self.frame.tables[v.table] is t:
                ymax, xmax = max(ymax, min(v.Y, v.rip_max)), max(xmax, v.X)
        if any(t.across[o] > t.cut_across and t.across[o] <= xmax for o in range(t.size)):
            self.proof = False
        return _Table(self.parts, t, ymax, xmax, self.frame.stages)

    def solve(self, available: Ints) -> list[tuple[Column, int]] | None:
        """The cheapest plan, or None if none exists (or coil on hand would run out)."""
        frame, parts = self.frame, self.parts
        n = parts.size
        single = np.full(n, np.inf)
        choice = np.full(n, -1, dtype=np.int64)
        per_stock: dict[int, tuple[Floats, Ints]] = {}
        for i, view in enumerate(frame.views):
            cost = self.view_cost(view)
            if view.stock in per_stock:
                old, which = per_stock[view.stock]
                better = cost < old
                per_stock[view.stock] = (np.where(better, cost, old), np.where(better, i, which))
            else:
                per_stock[view.stock] = (cost, np.full(n, i, dtype=np.int64))
        limited = []
        for k, (cost, which) in per_stock.items():
            if available[k] < HUGE and not self._is_coil(k):
                limited.append(k)
                continue
            if available[k] < HUGE:
                most = float(available[k]) * float(frame.cost[k])
                cost = np.where(cost <= most + 1e-12, cost, np.inf) if frame.cost[k] else cost
            better = cost < single - 1e-15
            single, choice = np.where(better, cost, single), np.where(better, which, choice)
        best = np.full(n, np.inf)
        best[0] = 0.0
        for m in range(1, n):
            s = parts.firsts[m]
            best[m] = (single[s] + best[m - s]).min()
        layers: list[tuple[int, Floats]] = [(-1, best)]
        pieces = int(parts.demand.sum())
        for k in limited:
            cost = per_stock[k][0]
            for _ in range(min(int(available[k]), pieces)):
                old = layers[-1][1]
                new = old.copy()
                for m, s in enumerate(parts.all()):
                    if s.size:
                        new[m] = min(new[m], float((cost[s] + old[m - s]).min()))
                if (new == old).all():
                    break
                layers.append((k, new))
        m = n - 1
        if not np.isfinite(layers[-1][1][m]):
            return None
        out: list[tuple[Column, int]] = []
        at = len(layers) - 1
        while m:
            k, now = layers[at]
            if k >= 0:
                old = layers[at - 1][1]
                at -= 1
                if old[m] <= now[m]:
                    continue
                cost, which = per_stock[k]
                s = parts.all()[m]
                pick = int(s[np.argmin(cost[s] + old[m - s])])
                out.append((self.pattern(int(which[pick]), pick), 1))
                m -= pick
                continue
            s = parts.firsts[m]
            pick = int(s[np.argmin(single[s] + now[m - s])])
            out.append((self.pattern(int(choice[pick]), pick), 1))
            m -= pick
        used = np.zeros(len(frame.problem.stock), dtype=np.int64)
        for col, times in out:
            used[col.stock] += col.use * times
        return out if (used <= available).all() else None

    def _is_coil(self, k: int) -> bool:
        return self.frame.problem.stock[k].form == "coil"

    def view_cost(self, view: View) -> Floats:
        """Cost of the best single pattern of a view for every part; infinite if it does not fit."""
        table = self.tables[view.table]
        assert table is not None
        price = float(self.frame.cost[view.stock])
        length = table.panel_length(view)
        if view.coil:
            return np.where(length < FAR, length * price, np.inf)
        fits = table.sheet_length(view) <= view.Y
        return np.where(fits, price, np.inf)

    def pattern(self, i: int, m: int) -> Column:
        """The best pattern of view i for part m."""
        view = self.frame.views[i]
        table = self.tables[view.table]
        assert table is not None
        return column(self.frame, i, table.open(view, m))


class _Table:
    """Strips and panels over all parts for one set of oriented pieces."""

    def __init__(self, parts: Parts, t: Turned, ymax: int, xmax: int, stages: int) -> None:
        self.parts, self.t, self.ymax, self.stages = parts, t, ymax, stages
        rows = parts.rows
        self.ok = np.isin(t.item, rows) & (t.across <= xmax) & (t.along <= ymax)
        self.col = np.searchsorted(rows, t.item)
        self._panel: dict[tuple[int, int, bool], Ints] = {}
        self._sheet: dict[tuple[int, int, int, bool], tuple[Ints, Ints, Ints]] = {}
        self.width = np.unique(t.across[self.ok & (t.across <= t.cut_across)])
        if stages == 3:
            self._sections(xmax)
        self._strips()
        self._wide()

    # strips ----------------------------------------------------------------------------------------------

    def _cheapest(self, w: int) -> tuple[Ints, Ints]:
        """Per piece: least length along in a strip w across, and which oriented piece that is."""
        t = self.t
        length = np.full(self.parts.rows.size, FAR, dtype=np.int64)
        which = np.full(self.parts.rows.size, -1, dtype=np.int64)
        for o in np.flatnonzero(self.ok & (t.across <= w)):
            held = not t.least_across or t.across[o] in (w,) or max(t.across[o], w - t.across[o]) >= t.least_across
            c = self.col[o]
            if held and t.along[o] < length[c]:
                length[c], which[c] = t.along[o], o
        return length, which

    def _strips(self) -> None:
        parts, t = self.parts, self.t
        self.which: list[Ints] = []
        if self.stages == 3:
            seg = self.seg
            small = np.where(seg > t.gauge_along, FAR, seg)
            strip = parts.split(small)
            if (seg[seg < FAR] > t.gauge_along).any():
                strip = parts.once(np.where(seg > t.gauge_along, seg, FAR), strip)
            self.strip = strip
            return
        columns = []
        for w in self.width:
            length, which = self._cheapest(int(w))
            self.which.append(which)
            total = parts.counts @ np.minimum(length, FAR)
            deep = parts.counts @ ((length > t.gauge_along) & (length < FAR)).astype(np.int64)
            columns.append(np.where((total > self.ymax) | (deep > 1), FAR, total))
        self.strip = np.array(columns, dtype=np.int64).reshape(self.width.size, parts.size).T

    def _sections(self, xmax: int) -> None:
        """Least section length of each part within each strip width worth having (three stages)."""
        parts, t = self.parts, self.t
        lengths = np.unique(t.along[self.ok])
        stack = []
        for length in lengths:
            across = np.full(parts.rows.size, FAR, dtype=np.int64)
            for o in np.flatnonzero(self.ok & (t.along <= length)):
                across[self.col[o]] = min(across[self.col[o]], t.across[o])
            total = parts.counts @ np.minimum(across, FAR)
            deep = parts.counts @ ((across > t.gauge_across) & (across < FAR)).astype(np.int64)
            stack.append(np.where((total > xmax) | (deep > 1), FAR, total))
        self.lengths, self.stack = lengths, np.array(stack, dtype=np.int64).reshape(lengths.size, parts.size)
        width = np.unique(self.stack)
        self.width = width[(width > 0) & (width < FAR) & (width <= t.cut_across)]
        seg = np.full((parts.size, self.width.size), FAR, dtype=np.int64)
        for length, across in zip(lengths[::-1], self.stack[::-1], strict=True):
            seg[across[:, None] <= self.width[None, :]] = length
        seg[0] = 0
        self.seg = seg

    # panels ----------------------------------------------------------------------------------------------

    def _wide(self) -> None:
        """`across[m, j]`: least total strip width that holds part m in a panel `ys[j]` long."""
        parts, t = self.parts, self.t
        ys = np.unique(self.strip)
        self.ys = ys[(ys > 0) & (ys <= self.ymax)]
        one = np.full((parts.size, self.ys.size), FAR, dtype=np.int64)
        for r in range(self.width.size - 1, -1, -1):
            one[self.strip[:, r][:, None] <= self.ys[None, :]] = self.width[r]
        one[0] = 0
        self.one = one.astype(np.int32)
        deep = self.one > t.gauge_across
        self.small = parts.split(np.where(deep & (self.one < FAR), FAR, self.one).astype(np.int32))
        self.across = self.small
        if (deep & (self.one < FAR)).any():
            self.across = parts.once(np.where(deep, self.one, FAR).astype(np.int32), self.small)

    def panel_length(self, view: View) -> Ints:
        """Least panel length that holds each part in this view (FAR if none)."""
        key = (view.X, min(view.Y, view.rip_max), view.whole)
        if key not in self._panel:
            ok = (self.across <= view.X) & (self.ys <= key[1])[None, :]
            if self.ys.size:
                length = np.where(ok.any(axis=1), self.ys[np.argmax(ok, axis=1)], FAR)
            else:
                length = np.full(self.parts.size, FAR, dtype=np.int64)
            length[0] = 0
            if view.whole and (view.rip_max < view.Y or not view.cut_off):
                for o in self._whole(view):
                    m = int(self.parts.stride[self.col[o]])
                    length[m] = min(length[m], int(self.t.along[o]))
            self._panel[key] = length
        return self._panel[key]

    def _whole(self, view: View) -> list[int]:
        t = self.t
        out = []
        for o in np.flatnonzero(np.isin(t.item, self.parts.rows) & (t.across == view.X) & (t.along <= view.Y)):
            y = int(t.along[o])
            if y == view.Y or (view.cut_off and (view.coil or view.many) and y > view.rip_max):
                out.append(int(o))
        return out

    def sheet_length(self, view: View) -> Ints:
        """Least length of sheet that holds each part, panels one after another."""
        length = self.panel_length(view)
        if not view.many:
            if view.rip_max < view.Y:
                return np.where(length == view.Y, length, FAR)
            return length
        return self._layers(view)[2]

    def _layers(self, view: View) -> tuple[Ints, Ints, Ints]:
        key = (view.X, view.Y, view.rip_max, view.whole)
        if key not in self._sheet:
            length = np.where(self.panel_length(view) > view.Y, FAR, self.panel_length(view))
            gauge = self.t.gauge_along
            deep = (length > gauge) & (length < FAR)
            small = self.parts.split(np.where(deep, FAR, length))
            total = self.parts.once(np.where(deep, length, FAR), small) if deep.any() else small
            self._sheet[key] = (length, small, total)
        return self._sheet[key]

    # how it is cut ---------------------------------------------------------------------------------------

    def open(self, view: View, m: int) -> tuple[Panel, ...]:
        """Panels of part m."""
        if view.coil:
            return (self._open_panel(view, m),)
        if not view.many:
            return ((view.Y, self._open_panel(view, m)[1]),)
        length, small, total = self._layers(view)
        out = []
        for s in _unsplit(self.parts, length, small, total, m, self.t.gauge_along):
            out.append(self._open_panel(view, s))
        return tuple(sorted(out, key=lambda p: -p[0]))

    def _open_panel(self, view: View, m: int) -> Panel:
        y = int(self.panel_length(view)[m])
        if view.whole:
            for o in self._whole(view):
                if m == int(self.parts.stride[self.col[o]]) and y == int(self.t.along[o]):
                    return y, ((view.X, ((y, ((o, 1),)),)),)
        j = int(np.searchsorted(self.ys, y))
        picks = _unsplit(self.parts, self.one[:, j], self.small[:, j], self.across[:, j], m, self.t.gauge_across)
        strips = [self._open_strip(s, int(self.one[s, j])) for s in picks]
        return y, tuple(sorted(strips, key=lambda s: (-s[0], s[1])))

    def _open_strip(self, s: int, w: int) -> Strip:
        r = int(np.searchsorted(self.width, w))
        if self.stages == 3:
            seg = self.seg[:, r]
            gauge = self.t.gauge_along
            small = self.parts.split(np.where(seg > gauge, FAR, seg))
            sections = [self._open_section(p, w) for p in _unsplit(self.parts, seg, small, self.strip[:, r], s, gauge)]
            return w, tuple(sorted(sections, key=lambda q: (-q[0], q[1])))
        which = self.which[r]
        parts: list[Section] = []
        for c in np.flatnonzero(self.parts.counts[s]):
            o = int(which[c])
            parts += [(int(self.t.along[o]), ((o, 1),))] * int(self.parts.counts[s, c])
        return w, tuple(sorted(parts, key=lambda q: (-q[0], q[1])))

    def _open_section(self, s: int, w: int) -> Section:
        fits = np.flatnonzero(self.stack[:, s] <= w)
        length = int(self.lengths[fits[0]])
        pieces = []
        for c in np.flatnonzero(self.parts.counts[s]):
            ways = np.flatnonzero(
                self.ok & (self.col == c) & (self.t.along <= length) & np.isin(self.t.item, self.parts.rows)
            )
            o = int(ways[np.argmin(self.t.across[ways])])
            pieces.append((o, int(self.parts.counts[s, c])))
        used = max(int(self.t.along[o]) for o, _ in pieces)
        return used, tuple(sorted(pieces, key=lambda p: (-int(self.t.along[p[0]]), p[0])))


def _unsplit(
    parts: Parts,
    part: npt.NDArray[np.int64],
    small: npt.NDArray[np.int64],
    total: npt.NDArray[np.int64],
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
