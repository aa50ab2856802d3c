"""Strips that hold no more of a piece than is still wanted, and patterns cut back to what is wanted."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fabplan.nesting.engine.columns import PatternColumn, column, holdable
from fabplan.nesting.engine.frame import Frame, Ints, Turned
from fabplan.nesting.engine.tables import Panel, Piece, Section, Strip


@dataclass(slots=True)
class BoundedStrips:
    """Like `Strips`, but each piece at most `cap` times in one strip (per way of turning it)."""

    table: Turned
    value: Ints
    width: Ints
    best: Ints
    steps: Ints
    taken: list[tuple[int, int]]
    upto: list[int]
    deep: list[list[int]]

    def open(self, row: int, y: int) -> Strip:
        """The best strip of a row, y along."""
        t, w = self.table, int(self.width[row])
        at = self.upto[row]
        target = int(self.best[row, y])
        parts: list[Section] = []
        if w > t.cut_across:
            fits = np.flatnonzero((t.along == y) & (t.across <= w))
            o = int(fits[np.argmax(self.value[fits])])
            return w, ((y, ((o, 1),)),)
        if target > self.steps[at, y]:
            for o in self.deep[row]:
                rest = y - int(t.along[o])
                if rest >= 0 and self.steps[at, rest] + self.value[o] == target:
                    parts.append((int(t.along[o]), ((o, 1),)))
                    y = rest
                    break
        while at > 0:
            if self.steps[at, y] != self.steps[at - 1, y]:
                o, times = self.taken[at - 1]
                parts += [(int(t.along[o]), ((o, 1),))] * times
                y -= int(t.along[o]) * times
            at -= 1
        return w, tuple(sorted(parts, key=lambda p: (-p[0], p[1])))


def bounded_strips(t: Turned, value: Ints, cap: Ints, ymax: int, xmax: int) -> BoundedStrips:
    """Strip table with at most `cap[o]` of each oriented piece (0/1 steps of doubling size)."""
    use = np.flatnonzero((value > 0) & (cap > 0) & (t.along <= ymax) & (t.across <= xmax))
    if t.least_across:  # a thin piece only in a strip of its own width
        wide = t.across[use] >= t.least_across
        use = use[wide | np.array([not wide.any()] * use.size, dtype=bool)]
    f = np.zeros(ymax + 1, dtype=np.int64)
    steps, taken = [f], []
    widths: list[int] = []
    best: list[Ints] = []
    upto: list[int] = []
    deep_rows: list[list[int]] = []
    deep: list[int] = []
    at = 0
    while at < use.size:
        w = int(t.across[use[at]])
        while at < use.size and int(t.across[use[at]]) == w:
            o = int(use[at])
            at += 1
            size, worth = int(t.along[o]), int(value[o])
            if w > t.cut_across:
                continue
            if size > t.gauge_along:
                deep.append(o)
                continue
            left, times = min(int(cap[o]), ymax // size), 1
            while left > 0:
                times = min(times, left)
                f = f.copy()
                np.maximum(
                    f[times * size :], steps[-1][: ymax + 1 - times * size] + times * worth, out=f[times * size :]
                )
                steps.append(f)
                taken.append((o, times))
                left -= times
                times *= 2
        row = f
        if w > t.cut_across:
            row = np.zeros(ymax + 1, dtype=np.int64)
            for o in use[t.across[use] <= w]:
                row[t.along[o]] = max(row[t.along[o]], value[o])
        elif deep:
            row = f.copy()
            for o in deep:
                size = int(t.along[o])
                np.maximum(row[size:], f[: ymax + 1 - size] + value[o], out=row[size:])
        widths.append(w)
        best.append(row)
        upto.append(len(steps) - 1)
        deep_rows.append(list(deep))
    return BoundedStrips(
        table=t,
        value=value,
        width=np.array(widths, dtype=np.int64),
        best=np.array(best, dtype=np.int64).reshape(len(widths), ymax + 1),
        steps=np.array(steps),
        taken=taken,
        upto=upto,
        deep=deep_rows,
    )


def cut_back(frame: Frame, col: PatternColumn, want: Ints, value: Ints) -> PatternColumn | None:
    """The pattern with no more of any piece than `want`, its gaps filled with other wanted pieces.

    `value` are piece values (scaled duals). Returns None when nothing is left of it.
    """
    if (col.counts <= want).all():
        return col
    if col.given is not None:
        return None
    view = frame.views[col.view]
    t = frame.tables[view.table]
    left = want.copy()
    panels: list[Panel] = []
    for y, strips in col.panels:
        kept: list[Strip] = []
        short = False
        for w, sections in strips:
            strip, lost = _cut_strip(t, w, sections, left)
            short |= lost
            if lost and y <= view.rip_max and w <= t.cut_across:
                strip = _fill_strip(t, w, y, strip, left, value)
            if strip:
                kept.append((_strip_width(t, strip), tuple(strip)))
        if short and y <= view.rip_max:
            kept += _fill_panel(t, view.X - sum(s[0] for s in kept), y, left, value, kept)
        if not kept:
            continue
        kept.sort(key=lambda s: (-s[0], s[1]))
        size = max(sum(sec[0] for sec in s[1]) for s in kept) if view.coil or view.many else y
        if not (view.coil or view.many):
            size = view.Y
        panels.append((size, tuple(kept)))
    if not panels:
        return None
    new = column(frame, col.view, tuple(panels))
    return new if holdable(frame, new) else None


def _strip_width(t: Turned, sections: list[Section]) -> int:
    wide = max(sum(int(t.across[o]) * c for o, c in pieces) for _, pieces in sections)
    if t.least_across:
        thin = max((int(t.across[o]) for _, p in sections for o, _ in p if t.across[o] < t.least_across), default=0)
        if thin and wide != thin:
            wide = max(wide, thin + t.least_across)
    return wide


def _cut_strip(t: Turned, w: int, sections: tuple[Section, ...], left: Ints) -> tuple[list[Section], bool]:
    out: list[Section] = []
    lost = False
    for _, pieces in sections:
        kept: list[Piece] = []
        for o, c in pieces:
            take = min(c, int(left[t.item[o]]))
            lost |= take < c
            if take > 0:
                left[t.item[o]] -= take
                kept.append((o, take))
        if kept:
            out.append((max(int(t.along[o]) for o, _ in kept), tuple(kept)))
    return out, lost


def _fill_strip(t: Turned, w: int, y: int, strip: list[Section], left: Ints, value: Ints) -> list[Section]:
    """Fill the rest of a strip with single pieces."""
    room = y - sum(s[0] for s in strip)
    has_deep = any(s[0] > t.gauge_along for s in strip)
    cap = np.where(t.across <= w, left[t.item], 0)
    if has_deep:
        cap = np.where(t.along > t.gauge_along, 0, cap)
    if t.least_across:
        cap = np.where((t.across == w) | (np.maximum(t.across, w - t.across) >= t.least_across), cap, 0)
    fits = np.flatnonzero((cap > 0) & (t.along <= room) & (value[t.item] > 0))
    if not fits.size:
        return strip
    s = bounded_strips(t, value[t.item], cap, room, w)
    if not s.width.size:
        return strip
    _, more = s.open(s.width.size - 1, room)
    for size, pieces in more:
        ((o, _),) = pieces
        if left[t.item[o]] > 0:
            left[t.item[o]] -= 1
            strip.append((size, pieces))
    return sorted(strip, key=lambda p: (-p[0], p[1]))


def _fill_panel(t: Turned, room: int, y: int, left: Ints, value: Ints, kept: list[Strip]) -> list[Strip]:
    """Strips for the rest of a panel, best value per width first."""
    out: list[Strip] = []
    while room > 0:
        cap = np.where((t.across <= room) & (t.across <= t.cut_across), left[t.item], 0)
        if any(s[0] > t.gauge_across for s in kept + out):
            cap = np.where(t.across > t.gauge_across, 0, cap)
        if not ((cap > 0) & (t.along <= y) & (value[t.item] > 0)).any():
            break
        s = bounded_strips(t, value[t.item], cap, y, room)
        if not s.width.size:
            break
        row = _best_first(s.width, s.best[:, y], room)
        w, sections = s.open(row, y)
        strip: list[Section] = []
        for size, pieces in sections:
            ((o, _),) = pieces
            if left[t.item[o]] > 0:
                left[t.item[o]] -= 1
                strip.append((size, pieces))
        if not strip:
            break
        w = _strip_width(t, strip)
        out.append((w, tuple(strip)))
        room -= w
    return out


def _best_first(width: Ints, worth: npt.NDArray[np.int64], room: int) -> int:
    """Row of the widest strip in the best filling of `room` by strips."""
    f = np.zeros(room + 1, dtype=np.int64)
    for r in range(width.size):
        w = int(width[r])
        for at in range(w, room + 1, w):
            end = min(at + w, room + 1)
            np.maximum(f[at:end], f[at - w : end - w] + worth[r], out=f[at:end])
    for r in range(width.size - 1, -1, -1):
        if width[r] <= room and worth[r] > 0 and f[room - width[r]] + worth[r] == f[room]:
            return r
    return int(np.argmax(worth))
