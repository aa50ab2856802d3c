"""Strips, panels and sheets for every part of a small demand."""

from __future__ import annotations

import numpy as np

from fabplan.nesting.engine.frame import Ints, StockView, Turned
from fabplan.nesting.engine.parts import FAR, Parts, unsplit
from fabplan.nesting.engine.tables import Panel, Section, Strip


class PartTable:
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

    def panel_length(self, view: StockView) -> Ints:
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

    def _whole(self, view: StockView) -> list[int]:
        t = self.t
        out = []
        for o in np.flatnonzero(np.isin(t.item, self.parts.rows) & (t.across == view.X) & (t.along <= view.Y)):
            y = int(t.along[o])
            if y == view.Y or (view.cut_off and (view.coil or view.many) and y > view.rip_max):
                out.append(int(o))
        return out

    def sheet_length(self, view: StockView) -> Ints:
        """Least length of sheet that holds each part, panels one after another."""
        length = self.panel_length(view)
        if not view.many:
            if view.rip_max < view.Y:
                return np.where(length == view.Y, length, FAR)
            return length
        return self._layers(view)[2]

    def _layers(self, view: StockView) -> tuple[Ints, Ints, Ints]:
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

    def open(self, view: StockView, m: int) -> tuple[Panel, ...]:
        """Panels of part m."""
        if view.coil:
            return (self._open_panel(view, m),)
        if not view.many:
            return ((view.Y, self._open_panel(view, m)[1]),)
        length, small, total = self._layers(view)
        out = []
        for s in unsplit(self.parts, length, small, total, m, self.t.gauge_along):
            out.append(self._open_panel(view, s))
        return tuple(sorted(out, key=lambda p: -p[0]))

    def _open_panel(self, view: StockView, m: int) -> Panel:
        y = int(self.panel_length(view)[m])
        if view.whole:
            for o in self._whole(view):
                if m == int(self.parts.stride[self.col[o]]) and y == int(self.t.along[o]):
                    return y, ((view.X, ((y, ((o, 1),)),)),)
        j = int(np.searchsorted(self.ys, y))
        picks = unsplit(self.parts, self.one[:, j], self.small[:, j], self.across[:, j], m, self.t.gauge_across)
        strips = [self._open_strip(s, int(self.one[s, j])) for s in picks]
        return y, tuple(sorted(strips, key=lambda s: (-s[0], s[1])))

    def _open_strip(self, s: int, w: int) -> Strip:
        r = int(np.searchsorted(self.width, w))
        if self.stages == 3:
            seg = self.seg[:, r]
            gauge = self.t.gauge_along
            small = self.parts.split(np.where(seg > gauge, FAR, seg))
            sections = [self._open_section(p, w) for p in unsplit(self.parts, seg, small, self.strip[:, r], s, gauge)]
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
