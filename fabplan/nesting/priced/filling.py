"""Layouts that hold no more than is still wanted, filled strip by strip: for the last, small part of a plan.

A strip is a bounded knapsack along its length, exact fillings first and a priced leftover at the end, as in `tables`;
widths are taken in the order of what they bring for their metal.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fabplan.nesting.priced.columns import Floats, Ints, LayoutColumn, build, cut_back
from fabplan.nesting.priced.pricing import LayoutPricer, LineView

LOOK = 2  # strip widths filled before one is chosen
DENSE, SHORT = 10, 4  # cells tried in a strip
Cells = tuple[tuple[int, bool], ...]


@dataclass(frozen=True, slots=True)
class _Live:
    """Cells of a view that something is wanted of."""

    at: Ints
    row: Ints
    count: Ints
    wide: Ints
    long: Ints
    worth: Floats


def filled(pricer: LayoutPricer, view: LineView, y: int, want: Ints, pi: Floats) -> LayoutColumn | None:
    """One layout of panels up to `y` long (kerf with it) that makes much of what is wanted under prices `pi`."""
    left = want.copy()
    panels = []
    room = y if view.coil else view.along
    while room > 0:
        long = min(room, y, view.rip)
        if not view.coil and not view.many:
            if view.along > view.rip:
                return None
            long = view.along
        strips = _panel(pricer, view, long, left, pi)
        if not strips:
            break
        k = pricer.group.limits.kerf
        used = max(sum(_long(pricer, view, c) + k for c in cells) for _, cells in strips)
        long = used if view.coil or (view.many and used < long) else long
        panels.append((long - k, tuple((w, cells) for w, cells in strips)))
        room -= long
        if view.coil or not view.many:
            break
    if not panels:
        return None
    least = pricer.group.limits.least_pull
    if view.coil and panels[0][0] < least:
        panels = [(least, panels[0][1])]
    col = build(pricer.group, pricer.bits, pricer.charges, view.stock, view.swap, tuple(panels))
    return None if col is None else cut_back(pricer.group, pricer.bits, pricer.charges, col, want)


def _long(pricer: LayoutPricer, view: LineView, cell: tuple[int, bool]) -> int:
    piece = pricer.bits[cell[0]].piece
    w, length = (piece.length, piece.width) if cell[1] else (piece.width, piece.length)
    return w if view.swap else length


def _panel(pricer: LayoutPricer, view: LineView, y: int, left: Ints, pi: Floats) -> list[tuple[int, Cells]]:
    """Strips of one panel; takes what they make from `left`."""
    k = pricer.group.limits.kerf
    x = view.across
    out: list[tuple[int, Cells]] = []
    c, tick = pricer.charges, float(pricer.charges.tick)
    while x > 0:
        live = _live(pricer, view, y, x, left, pi)
        if not live.at.size:
            break
        best: tuple[float, int, list[int]] | None = None
        for w in _widths(live, y):
            rest = x - w
            if rest and c.waste(rest + view.edge) is None:
                continue
            found = _strip(pricer, live, int(w), y, left)
            if found is None:
                continue
            rate = (found[0] - tick * c.stroke) / w
            if best is None or rate > best[0]:
                best = (rate, int(w), found[1])
        if best is None:
            break
        cells: list[tuple[int, bool]] = []
        for i in best[2]:
            if left[live.row[i]] >= live.count[i]:
                left[live.row[i]] -= live.count[i]
                cells.append(view.cells[live.at[i]])
        if not cells:
            break
        cells.sort(key=lambda cell: (-_long(pricer, view, cell), cell))
        out.append((best[1] - k, tuple(cells)))
        x -= best[1]
    return out


def _live(pricer: LayoutPricer, view: LineView, y: int, x: int, left: Ints, pi: Floats) -> _Live:
    rows, counts = view.rows, view.counts
    at = np.flatnonzero((left[rows] >= counts) & (view.wide <= x) & (view.long <= y)) if rows.size else rows
    worth = pi[rows[at]] * counts[at] - float(pricer.charges.tick) * (view.work[at] + pricer.charges.stroke)
    ok = worth > 0
    at, worth = at[ok], worth[ok]
    return _Live(at, rows[at], counts[at], view.wide[at], view.long[at], worth)


def _widths(live: _Live, y: int) -> Sequence[int]:
    """Widths that promise most for their metal."""
    dense = live.worth / live.long
    order = np.argsort(-dense, kind="stable")
    wide, long, worth = live.wide[order], live.long[order], live.worth[order]
    widths = np.unique(live.wide)
    fits = wide[None, :] <= widths[:, None]
    used = np.where(fits, long[None, :], 0)
    share = np.clip((y - (np.cumsum(used, axis=1) - used)) / long, 0.0, 1.0)
    rates = (np.where(fits, share, 0.0) @ worth) / widths
    return [int(w) for w in widths[np.argsort(-rates, kind="stable")[:LOOK]]]


def _best(live: _Live, w: int) -> Ints:
    """Cells tried in a strip: those worth most for their metal, and the shortest to fill it up."""
    at = np.flatnonzero(live.wide <= w)
    if at.size <= DENSE + SHORT:
        return at
    dense = at[np.argsort(-(live.worth[at] / (live.long[at] * live.wide[at])), kind="stable")]
    rest = dense[DENSE:]
    return np.sort(np.concatenate([dense[:DENSE], rest[np.argsort(live.long[rest], kind="stable")[:SHORT]]]))


def _strip(pricer: LayoutPricer, live: _Live, w: int, y: int, left: Ints) -> tuple[float, list[int]] | None:
    """The best filling of a strip w across within y: value and cells (indices into `live`)."""
    c, tick = pricer.charges, float(pricer.charges.tick)
    never = -1e18
    f = np.full(y + 1, never)
    f[0] = 0.0
    steps, taken = [f], []
    for i in _best(live, w):
        price = c.waste(int(w - live.wide[i]))
        if price is None:
            continue
        size, worth = int(live.long[i]), float(live.worth[i]) - tick * price
        cap = min(int(left[live.row[i]] // live.count[i]), y // size)
        times = 1
        while cap > 0:
            times = min(times, cap)
            f = f.copy()
            np.maximum(f[times * size :], steps[-1][: y + 1 - times * size] + times * worth, out=f[times * size :])
            steps.append(f)
            taken.append((int(i), times))
            cap -= times
            times *= 2
    pricer.spent += 0.02 + len(taken) * (0.01 + 2e-6 * y)
    ends = np.where(f > never / 2, f, never)
    waste = np.arange(y, -1, -1)
    ends = np.where(waste == 0, ends, np.where(waste >= c.gauge, ends - tick * c.stroke, never))
    at = int(np.argmax(ends))
    if ends[at] <= 0 or at == 0:
        return None
    value = float(ends[at])
    out: list[int] = []
    for n in range(len(taken), 0, -1):
        if steps[n][at] != steps[n - 1][at]:
            cell, times = taken[n - 1]
            out += [cell] * times
            at -= times * int(live.long[cell])
    return value, out
