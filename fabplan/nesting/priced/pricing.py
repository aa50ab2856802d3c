"""Layouts worth more than their metal and work under given prices of the blanks, and the most any can be worth."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from fabplan.nesting.priced.cells import Bit
from fabplan.nesting.priced.charges import Charges
from fabplan.nesting.priced.columns import Ints, Laid, LayoutColumn, build, size
from fabplan.nesting.priced.dues import Dues
from fabplan.nesting.priced.tables import NEVER, PanelFillings, StripFillings, Wastes, fill, panels, strips
from fabplan.nesting.problem import Group

Floats = npt.NDArray[np.float64]
TOP = float(1 << 27)  # greatest value of a layout in scaled prices
THIN = 96  # panel lengths looked at in a cheap round


@dataclass(frozen=True, slots=True)
class LineView:
    """One stock line seen in one direction: strips share `across`, panels share `along`."""

    stock: int
    swap: bool
    across: int
    along: int
    rip: int
    many: bool
    coil: bool
    edge: int
    cells: tuple[tuple[int, bool], ...]  # (bit, turned)
    wide: Ints
    long: Ints
    rows: Ints
    counts: Ints
    work: Ints


@dataclass(slots=True)
class PricedLayouts:
    """Columns found; `worth[k]` most value of one unit of stock k less its work, `total` the value of all wanted."""

    columns: list[LayoutColumn] = field(default_factory=list)
    worth: Floats | None = None
    total: float = 0.0


def views(group: Group, bits: Sequence[Bit]) -> list[LineView]:
    """Every way a stock line may be cut into panels, strips and cells."""
    out = []
    k, longest = group.limits.kerf, group.limits.longest_cut
    for s, line in enumerate(group.stock):
        if line.usable_width <= 0 or line.usable_length <= 0 or line.on_hand == 0:
            continue
        for swap in (False, True) if line.form != "coil" else (False,):
            across, along = line.usable_width, line.usable_length
            span = line.width
            if swap:
                across, along, span = along, across, line.length
            cut_off = span <= longest
            if not cut_off and (line.form == "coil" or along > longest or line.trim):
                continue
            cells, wide, long = [], [], []
            for n, bit in enumerate(bits):
                if bit.spare:
                    continue
                done = set()
                for turned in bit.piece.ways(line):
                    a, b = size(bit, turned, swap)
                    if a <= min(across, longest if a < across else across) and b <= along and (a, b) not in done:
                        done.add((a, b))
                        cells.append((n, turned))
                        wide.append(a + k)
                        long.append(b + k)
            out.append(
                LineView(
                    stock=s,
                    swap=swap,
                    across=across + k,
                    along=along + k,
                    rip=min(along, longest) + k,
                    many=line.form != "coil" and cut_off,
                    coil=line.form == "coil",
                    edge=line.trim,
                    cells=tuple(cells),
                    wide=np.array(wide, dtype=np.int64),
                    long=np.array(long, dtype=np.int64),
                    rows=np.array([bits[n].row for n, _ in cells], dtype=np.int64),
                    counts=np.array([bits[n].count for n, _ in cells], dtype=np.int64),
                    work=np.array([bits[n].work for n, _ in cells], dtype=np.int64),
                )
            )
    return out


def complete(group: Group, bits: Sequence[Bit]) -> bool:
    """Whether the views hold every plan cut in strips: no stock too wide to cut off, no piece too long to rip."""
    longest = group.limits.longest_cut
    for line in group.stock:
        for swap in (False, True) if line.form != "coil" else (False,):
            span, along = (line.length, line.width) if swap else (line.width, line.length)
            if line.form != "coil" and span > longest:
                return False
            rip = min(along, longest)
            for bit in bits:
                for turned in bit.piece.ways(line):
                    if rip < size(bit, turned, swap)[1] <= along:
                        return False
    return True


class LayoutPricer:
    """Prices layouts of every view."""

    def __init__(self, group: Group, bits: list[Bit], charges: Charges) -> None:
        self.group, self.bits, self.charges = group, bits, charges
        self.views = views(group, bits)
        self.complete = complete(group, bits)
        self.spent = 0.0

    def _scale(self, pi: Floats) -> float:
        top = 0.0
        for v in self.views:
            for (n, _), a, b in zip(v.cells, v.wide, v.long, strict=True):
                bit = self.bits[n]
                top = max(top, float(pi[bit.row]) * bit.count / float(a * b) * v.across * v.along)
        return TOP / top if top > 0 else 1.0

    def price(
        self,
        pi: Floats,
        mu: Floats,
        *,
        full: bool = False,
        cap: Ints | None = None,
        per_view: int = 6,
        only: set[int] | None = None,
        dues: Dues | None = None,
    ) -> PricedLayouts:
        """Best layouts under prices `pi` of the blanks and `mu` of stock on hand (not positive).

        With `full` every panel length is looked at, which also yields `worth`. `cap`: no cell with more of a blank.
        `dues`: what settings cost a use; it steers the choice and is no part of a column's cost.
        """
        scale = self._scale(pi)
        value = np.floor(np.maximum(pi, 0.0) * scale).astype(np.int64)
        out = PricedLayouts(total=float((value * np.array([b.count for b in self.group.blanks])).sum()) / scale)
        c = self.charges
        wastes = self._wastes(dues, scale)
        own = np.zeros(len(self.bits)) if dues is None else dues.bits
        inside = [
            math.floor((float(c.money(b.work + c.stroke)) + due) * scale) for b, due in zip(self.bits, own, strict=True)
        ]
        k = self.group.limits.kerf
        worth = np.zeros(len(self.group.stock))
        found: list[tuple[float, int, LayoutColumn]] = []
        for i, view in enumerate(self.views):
            if not view.cells or (only is not None and view.stock not in only):
                continue
            rows, counts = view.rows, view.counts
            v = value[rows] * counts - np.array([inside[n] for n, _ in view.cells], dtype=np.int64)
            side = None
            if dues is not None:
                v = v - np.floor(dues.size[view.long - k] * scale).astype(np.int64)
                side = np.floor(dues.size[view.wide - k] * scale).astype(np.int64)
            ok = value[rows] > 0
            if cap is not None:
                ok &= cap[rows] >= counts
            use = np.flatnonzero(ok & (view.long <= view.rip))
            if use.size:
                steer = (side, None if dues is None else dues.size * scale)
                self._view(i, view, v, use, wastes, full, per_view, mu, scale, found, worth, steer)
        found.sort(key=lambda f: (-f[0], f[1]))
        out.columns = [col for _, _, col in found]
        if full:
            out.worth = worth / scale
        return out

    def _wastes(self, dues: Dues | None, scale: float) -> Wastes:
        """Scaled prices of leftovers; with dues one that is too thin to hold has a setting of its own."""
        c = self.charges
        stroke = math.floor(float(c.money(c.stroke)) * scale)
        thin: list[int | None] = []
        for rest in range(c.gauge if dues is None else max(c.gauge, c.held)):
            ticks = c.waste(rest)
            due = 0.0 if dues is None or rest < c.gauge else float(dues.size[rest])
            thin.append(None if ticks is None else math.floor((float(c.money(ticks)) + due) * scale))
        return Wastes(stroke=stroke, thin=tuple(thin))

    def _view(
        self, i: int, view: LineView, v: Ints, use: Ints, wastes: Wastes, full: bool, per_view: int, mu: Floats,
        scale: float, found: list[tuple[float, int, LayoutColumn]], worth: Floats,
        steer: tuple[Ints | None, Floats | None],
    ) -> None:  # fmt: skip
        limits, k = self.group.limits, self.group.limits.kerf
        reach = limits.reach + k
        s = strips(view.wide, view.long, v, use, view.rip, reach, wastes, steer[0])
        lengths = self._lengths(view, s, full)
        if not lengths.size:
            return
        self.spent += 1e-6 * lengths.size * view.across * s.width.size + 1e-5 * s.width.size * view.rip
        p = panels(s, lengths, view.across, reach)
        g = wastes.last(p.exact, view.across, view.edge)
        if view.edge:
            g = g - wastes.stroke
        line = self.group.stock[view.stock]
        unit = float(line.cost) - float(mu[view.stock])
        start = math.floor(float(self.charges.money(self.charges.start(line))) * scale)
        if view.coil:
            gain = (g - start) / scale - unit * lengths
            ratio = (g - start) / lengths
            worth[view.stock] = max(worth[view.stock], float(ratio.max()))
            order = np.argsort(-gain / (unit * lengths + 1e-9), kind="stable")
            short = lengths - k < limits.least_pull
            order = np.concatenate([order[~short[order]], order[short[order]][:1]])
            for j in order[:per_view]:
                if gain[j] > 1e-9:
                    self._open(i, view, p, g, [int(j)], found)
            return
        less = g
        if steer[1] is not None:  # every panel but a whole sheet takes a setting
            less = g - np.where(lengths == view.along, 0, np.floor(steer[1][lengths - k])).astype(np.int64)
        chains, best = self._sheets(view, lengths, less, wastes, per_view)
        worth[view.stock] = max(worth[view.stock], float(best - start))
        for total, chain in chains:
            if (total - start) / scale - unit > 1e-9:
                self._open(i, view, p, g, chain, found)

    def _lengths(self, view: LineView, s: StripFillings, full: bool) -> Ints:
        """Panel lengths worth looking at: those some strip fills exactly, and the whole stock."""
        live = s.exact > NEVER // 2
        at = np.flatnonzero(live.any(axis=0))
        at = at[at > 0]
        if not view.coil and not view.many:
            return np.array([view.along], dtype=np.int64) if view.along <= view.rip else at[:0]
        dense = np.where(live[:, at], s.exact[:, at] / s.width[:, None], -1.0).max(axis=0) / at
        at, dense = at[dense > 0], dense[dense > 0]
        if not full and at.size > THIN:
            at = np.sort(at[np.argsort(-dense, kind="stable")[:THIN]])
        extra = []
        if not view.coil and view.along <= view.rip:
            extra.append(view.along)
        if view.coil and self.group.limits.least_pull:
            extra.append(min(self.group.limits.least_pull + self.group.limits.kerf, view.rip))
        return np.union1d(at, np.array(extra, dtype=np.int64))

    def _sheets(
        self, view: LineView, lengths: Ints, g: Ints, wastes: Wastes, per_view: int
    ) -> tuple[list[tuple[int, list[int]]], int]:
        """Chains of panels that fill a sheet best, and the best value."""
        if not view.many:
            return [(int(g[-1]), [lengths.size - 1])], int(g[-1])
        reach = self.group.limits.reach + self.group.limits.kerf
        h = np.full(view.along + 1, NEVER, dtype=np.int64)
        h[0] = 0
        good = [j for j in range(lengths.size) if g[j] > NEVER // 2]
        small = [j for j in good if lengths[j] <= reach]
        for j in small:
            fill(h, int(lengths[j]), int(g[j]))
        h = np.maximum(h, NEVER)
        top = h.copy()
        for j in good:
            if lengths[j] > reach:
                n = int(lengths[j])
                np.maximum(top[n:], h[: h.size - n] + g[j], out=top[n:])
        ends = wastes.ended(top, view.edge)
        best = int(ends[view.along]) - (wastes.stroke if view.edge else 0)
        rest = wastes.ended(h, view.edge)
        firsts = [(int(rest[view.along - int(lengths[j])]) + int(g[j]), j) for j in good]  # best that begins with each
        firsts.sort(key=lambda f: (-f[0], f[1]))
        out = []
        for total, j in firsts[:per_view]:
            if total <= NEVER // 2:
                break
            y = wastes.end(h, view.along - int(lengths[j]), total - int(g[j]), view.edge)
            chain = [j]
            while y > 0:
                k = next(k for k in reversed(small) if lengths[k] <= y and h[y - lengths[k]] + g[k] == h[y])
                chain.append(k)
                y -= int(lengths[k])
            out.append((total - (wastes.stroke if view.edge else 0), sorted(chain, key=lambda c: -int(lengths[c]))))
        return out, best

    def _open(
        self,
        i: int,
        view: LineView,
        p: PanelFillings,
        g: Ints,
        chain: list[int],
        found: list[tuple[float, int, LayoutColumn]],
    ) -> None:
        s, k = p.strips, self.group.limits.kerf
        laid = []
        for j in chain:
            y = int(p.length[j])
            goal = int(g[j]) + (s.wastes.stroke if view.edge else 0)
            x = s.wastes.end(p.exact[:, j].astype(np.int64), view.across, goal, view.edge)
            rows = p.open(x, j)
            opened = [(int(s.width[r]) - k, s.open(r, y)) for r in sorted(rows, reverse=True)]
            laid.append(
                (
                    y - k,
                    tuple(
                        (w, tuple(view.cells[o] for o in sorted(cells, key=lambda o: (-int(view.long[o]), o))))
                        for w, cells in opened
                    ),
                )
            )
        panels_: Laid = tuple(laid)
        if not any(cells for _, strips_ in panels_ for _, cells in strips_):
            return
        col = build(self.group, self.bits, self.charges, view.stock, view.swap, panels_)
        if col is not None:
            found.append((0.0, len(found), col))
