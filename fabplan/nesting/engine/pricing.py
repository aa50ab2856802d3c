"""Finding patterns worth more than they cost under given dual prices, and how much any pattern can be worth."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from fabplan.nesting.engine.bounded import BoundedStrips, bounded_strips
from fabplan.nesting.engine.columns import PatternColumn, column, holdable
from fabplan.nesting.engine.frame import Frame, Ints, Turned
from fabplan.nesting.engine.panels import PanelTable, panels
from fabplan.nesting.engine.sheets import PanelValues, chains_of, open_panel, panels_of
from fabplan.nesting.engine.tables import Strips, StripTable, stacked, strips

Floats = npt.NDArray[np.float64]
HEAVY = 120_000_000  # table cells above which stacked strips of every width are looked at last
PAIRED = 12
TOP = float(1 << 29)  # largest value of one pattern in scaled duals: panel tables are 32-bit


@dataclass(slots=True)
class PricedPatterns:
    """Patterns found, and `worth[k]`: most value of one unit of stock k (exact tables only)."""

    columns: list[PatternColumn] = field(default_factory=list)
    reduced: list[float] = field(default_factory=list)
    worth: Floats | None = None
    value: Ints | None = None
    scale: float = 1.0


@dataclass(slots=True)
class _Find:
    """A pattern worth opening: its gain, gain per cost, view, and panels."""

    gain: float
    ratio: float
    view: int
    strips: StripTable
    table: PanelTable
    panel: PanelValues
    chain: list[int]


class PatternPricer:
    """Prices patterns of every view of a frame."""

    def __init__(self, frame: Frame) -> None:
        self.frame = frame
        self.stages = frame.stages
        self._widths_of: dict[tuple[int, int], Ints] = {}
        self.spent = 0.0  # work done since it was last read
        self.by_table: list[list[int]] = [
            [i for i, v in enumerate(frame.views) if v.table == t] for t in range(len(frame.tables))
        ]

    def scale(self, pi: Floats) -> float:
        """Scale that keeps every pattern value within 32 bits."""
        top = 0.0
        for v in self.frame.views:
            t = self.frame.tables[v.table]
            ok = (t.across <= v.X) & (t.along <= v.Y)
            if ok.any():
                density = float((pi[t.item[ok]] / (t.across[ok] * t.along[ok])).max())
                top = max(top, density * v.X * v.Y)
        return TOP / top if top > 0 else 1.0

    def price(
        self,
        pi: Floats,
        mu: Floats,
        cap: Ints | None,
        per_view: int,
        full: bool,
        thin: int = 96,
        stages: int | None = None,
        available: Ints | None = None,
        most: int = 60,
        every: bool = True,
    ) -> PricedPatterns:
        """Best patterns under duals `pi` (pieces) and `mu` (stock on hand, not positive).

        Parameters
        ----------
        pi : worth of one of each piece, under the master's answer
        mu : worth of one of each stock line on hand
        cap : how many of each piece a strip may hold, or None for any number
        per_view : most patterns per view
        full : look at every panel length, which also yields `worth`
        thin : panel lengths looked at when not full
        stages : stages of cutting, the shop's by default
        available : stock left; views of stock used up are passed over
        most : most patterns in all; the best of every stock line comes first
        every : look at every width of stacked strips too; without it there is no `worth`
        """
        frame = self.frame
        scale = self.scale(pi)
        value = np.floor(np.maximum(pi, 0.0) * scale).astype(np.int64)
        if cap is not None:
            value = np.where(cap > 0, value, 0)
        stages = self.stages if stages is None else stages
        out = PricedPatterns(value=value, scale=scale)
        worth = np.zeros(len(frame.problem.stock))
        found: list[_Find] = []
        for t, mine in enumerate(self.by_table):
            views = mine if available is None else [i for i in mine if available[frame.views[i].stock] > 0]
            if not views:
                continue
            table = frame.tables[t]
            v = value[table.item]
            ymax = max(min(frame.views[i].Y, frame.views[i].rip_max) for i in views)
            xmax = max(frame.views[i].X for i in views)
            s: Strips | BoundedStrips
            if stages == 3:
                s = stacked(table, v, ymax, xmax, self._widths(t, v, xmax, full and every))
            elif cap is not None:
                s = bounded_strips(table, v, cap[table.item], ymax, xmax)
            else:
                s = strips(table, v, ymax, xmax)
            strip_cap = None if cap is None or stages == 3 else _most_strips(table, v, cap[table.item], s)
            p = self._panel_table(views, s, xmax, full, thin, strip_cap)
            self.spent += 0.3 + 0.8e-6 * (xmax + 1) * p.length.size * s.width.size + 2e-5 * s.width.size * ymax
            for i in views:
                self._view(i, s, p, mu, scale, per_view, found, worth)
        self._open_best(found, most, out)
        if frame.thin:
            good = [j for j, c in enumerate(out.columns) if holdable(frame, c)]
            out.columns, out.reduced = [out.columns[j] for j in good], [out.reduced[j] for j in good]
        if full and stages == frame.stages and (every or stages == 2):
            out.worth = worth / scale
        return out

    def heavy(self) -> bool:
        """Whether tables over every width of stacked strips are slow."""
        if self.stages == 2:
            return False
        size = 0
        for t, views in enumerate(self.by_table):
            if views:
                xmax = max(self.frame.views[i].X for i in views)
                ymax = max(min(self.frame.views[i].Y, self.frame.views[i].rip_max) for i in views)
                size = max(size, self._reach(t, xmax).size * xmax * ymax // 2)
        return size > HEAVY

    def _reach(self, t: int, xmax: int) -> Ints:
        """Every width that pieces side by side can add up to."""
        if (t, xmax) not in self._widths_of:
            across = self.frame.tables[t].across
            reach = np.zeros(xmax + 1, dtype=bool)
            reach[0] = True
            for a in np.unique(across[across <= xmax]):
                for at in range(int(a), xmax + 1, int(a)):
                    end = min(at + int(a), xmax + 1)
                    reach[at:end] |= reach[at - a : end - a]
            self._widths_of[(t, xmax)] = np.flatnonzero(reach)[1:]
        return self._widths_of[(t, xmax)]

    def _widths(self, t: int, v: Ints, xmax: int, every: bool) -> Ints:
        """Strip widths for stacked strips: every one, or single pieces and pairs of the dearest."""
        if every:
            return self._reach(t, xmax)
        table = self.frame.tables[t]
        fits = np.flatnonzero((v > 0) & (table.across <= xmax))
        density = v[fits] / (table.across[fits] * table.along[fits])
        dear = table.across[fits[np.argsort(-density, kind="stable")[:PAIRED]]]
        pairs = np.unique((dear[:, None] + dear[None, :]).ravel())
        return np.unique(np.concatenate([table.across[fits], pairs[pairs <= xmax]]))

    def _panel_table(
        self, which: list[int], s: Strips | BoundedStrips, xmax: int, full: bool, thin: int, most: Ints | None
    ) -> PanelTable:
        frame = self.frame
        views = [frame.views[i] for i in which]
        need = {v.Y for v in views if not v.coil and v.rip_max >= v.Y}
        open_y = max((min(v.Y, v.rip_max) for v in views if v.coil or v.many), default=0)
        if open_y and s.width.size:
            jump = np.flatnonzero((np.diff(s.best[:, : open_y + 1], axis=1) > 0).any(axis=0)) + 1
            if not full and jump.size > thin:
                density = (s.best[:, jump] / s.width[:, None]).max(axis=0) / jump
                jump = jump[np.argsort(-density, kind="stable")[:thin]]
            need |= {int(y) for y in jump}
        cols = np.array(sorted(y for y in need if y < s.best.shape[1]), dtype=np.int64)
        return panels(s, cols, xmax, most)

    def _view(
        self,
        i: int,
        s: Strips | BoundedStrips,
        p: PanelTable,
        mu: Floats,
        scale: float,
        per_view: int,
        found: list[_Find],
        worth: Floats,
    ) -> None:
        """The best panels or sheets of one view, added to `found`; raises the `worth` of its stock."""
        frame = self.frame
        view = frame.views[i]
        panel = panels_of(view, s, p)
        good = panel.value > 0
        if not good.any():
            return
        cost = float(frame.cost[view.stock] - mu[view.stock])
        if view.coil:
            ratio = np.divide(panel.value, panel.length, out=np.zeros(panel.length.size), where=panel.length > 0)
            worth[view.stock] = max(worth[view.stock], float(ratio.max()))
            gain = panel.value / scale - cost * panel.length
            rise = np.diff(np.maximum.accumulate(panel.value), prepend=0) > 0
            cand = np.flatnonzero(good & rise & (gain > 1e-9))
            cand = cand[np.argsort(-ratio[cand], kind="stable")[:per_view]]
            for j in cand:
                found.append(
                    _Find(
                        float(gain[j]),
                        float(gain[j]) / max(cost * float(panel.length[j]), 1e-12),
                        i,
                        s,
                        p,
                        panel,
                        [int(j)],
                    )
                )
            return
        best, chains = chains_of(view, s.table.gauge_along, panel, per_view, (cost + 1e-9) * scale)
        worth[view.stock] = max(worth[view.stock], float(best))
        for value, chain in chains:
            more = value / scale - cost
            found.append(_Find(more, more / max(cost, 1e-12), i, s, p, panel, chain))

    def _open_best(self, found: list[_Find], most: int, out: PricedPatterns) -> None:
        """Open the best finds: the best of every stock line, then by gain per cost."""
        found.sort(key=lambda f: (-f.ratio, f.view))
        first: list[_Find] = []
        later: list[_Find] = []
        seen: set[int] = set()
        for f in found:
            stock = self.frame.views[f.view].stock
            (later if stock in seen else first).append(f)
            seen.add(stock)
        done: set[tuple[int, bytes]] = set()
        for f in (first + later)[:most]:
            view = self.frame.views[f.view]
            col = column(self.frame, f.view, tuple(open_panel(view, f.table, f.panel, j) for j in f.chain))
            key = (f.view, col.counts.tobytes())
            if key not in done:
                done.add(key)
                out.columns.append(col)
                out.reduced.append(-f.gain)
        self.spent += 0.3 * min(len(found), most)


def _most_strips(t: Turned, value: Ints, cap: Ints, s: Strips | BoundedStrips) -> Ints:
    """How many strips of each row a panel may need: a strip is as wide as a piece in it, and those are so many."""
    used = (value > 0) & (cap > 0)
    return np.array([int(cap[used & (t.across == w)].sum()) for w in s.width], dtype=np.int64)
