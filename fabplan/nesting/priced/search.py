"""The nest priced whole: metal, the work of every repeat, and the charges paid once for layouts and settings.

Column generation closes the linear master over layouts priced with their work. Slope scaling (D. Kim, P. M. Pardalos,
Operations Research Letters 24, 1999) then spreads the charges paid once over the repeats of the last answer, again and
again, which gathers layouts that repeat; an integer program with all charges chooses among them. At last parts of the
plan are taken out and cut anew, with layouts that hold exactly what is left.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from fabplan.nesting.cuts.layouts import LayoutDraft, merged
from fabplan.nesting.priced.cells import Bit, bits_of
from fabplan.nesting.priced.charges import Charges, Setting
from fabplan.nesting.priced.columns import Floats, Ints, LayoutColumn, cut_back, draft
from fabplan.nesting.priced.dues import dues_of, uses
from fabplan.nesting.priced.filling import filled
from fabplan.nesting.priced.master import FREE, ColumnArrays, Linear, linear, most_times, whole
from fabplan.nesting.priced.pool import LayoutPool, made_by, plan_cost
from fabplan.nesting.priced.pricing import LayoutPricer, LineView
from fabplan.nesting.problem import Group

ROUNDS = 60
CLOSE_WORK = 4_000.0  # of the pricer, a few milliseconds each: then one full round more, for the bound
SCALINGS = 14
SHARE = 0.4  # of a layout's settings, taken as its own
FILLS = 2  # times what is left is filled by hand
TRIES = 4  # layouts filled before one is taken
MANY = 0.3  # of the times many layouts are taken out
ROUGHLY = 1e-2  # a plan to begin with
NEARLY = 2e-3  # a part of a plan cut anew is near enough its best
MOST = 50  # columns in an integer program for part of a plan
UNUSED = 8.0  # uses expected of a setting the plan does not have yet
WIDE = 50  # columns in the first one, beside those gathered

Plan = dict[int, int]


@dataclass
class Search:
    """One metal's search: cells, columns, best plan."""

    group: Group
    charges: Charges
    pair: bool
    stopped: Callable[[], bool] = lambda: False
    seed: int = 0
    bits: list[Bit] = field(default_factory=list)
    plan: dict[int, int] | None = None
    cost: float = float("inf")
    bound: float = 0.0

    def __post_init__(self) -> None:
        group = self.group
        self.bits = bits_of(group, self.charges, pair=self.pair)
        self.pricer = LayoutPricer(group, self.bits, self.charges)
        self.demand: Ints = np.array([b.count for b in group.blanks], dtype=np.int64)
        self.on_hand: Ints = np.array([FREE if s.on_hand is None else s.on_hand for s in group.stock], dtype=np.int64)
        self.pool = LayoutPool(self.demand.size, self.charges)
        self.rng = np.random.default_rng(self.seed)
        rates = [float(s.cost_per_area) for s in group.stock if s.cost and s.usable_width > 0]
        area = np.array([b.area for b in group.blanks])
        self.start: Floats = area * min(rates, default=1.0) + 1e-9
        self.dear: Floats = self.start * 30 + float(self.charges.money(self.charges.pull)) * 20

    # the linear master --------------------------------------------------------------------------------------

    def close(self) -> Linear | None:
        """Column generation; also lifts the bound."""
        none = np.zeros(self.on_hand.size)
        for lift in (1.5, 3.0, 9.0):
            self.pool.add(self.pricer.price(self.start * lift, none, per_view=4).columns)
        if not len(self.pool):
            return None
        lp = linear(self.pool.table(), self.demand, self.on_hand, self.dear)
        full = False
        for _ in range(ROUNDS):
            enough = self.pricer.spent > CLOSE_WORK
            if self.stopped() or (enough and self.bound > 0):
                break
            full = full or enough
            priced = self.pricer.price(lp.pi, lp.mu, full=full)
            if priced.worth is not None:
                self.bound = max(self.bound, self.dual_bound(priced.worth, priced.total))
            new = self.pool.add(_improving(priced.columns, lp))
            if new:
                lp = linear(self.pool.table(), self.demand, self.on_hand, self.dear)
            elif full:
                break
            full = not new or (full and lp.cost > self.bound * 1.0001)
        return lp

    def short(self, lp: Linear) -> bool:
        """Whether the stock does not make everything, even in fractions."""
        return bool((self.pool.table().a[:, : lp.x.size] @ lp.x < self.demand * (1 - 1e-6) - 1e-6).any())

    def dual_bound(self, worth: Floats, total: float) -> float:
        """What any plan must cost if a unit of stock k is worth at most `worth[k]` beyond its work."""
        cost = np.array([float(s.cost) for s in self.group.stock])
        shrink = 1.0
        for k in np.flatnonzero(self.on_hand >= FREE):
            if worth[k] > cost[k]:
                shrink = max(shrink, float(worth[k] / cost[k])) if cost[k] > 0 else float("inf")
        gain = sum(
            min(0.0, float(cost[k] - worth[k] / shrink)) * int(self.on_hand[k])
            for k in np.flatnonzero(self.on_hand < FREE)
        )
        return total / shrink + gain

    # charges paid once --------------------------------------------------------------------------------------

    def gather(self, lp: Linear) -> list[int]:
        """Columns of many answers with the charges spread over the repeats and the uses of each setting."""
        x = lp.x
        t = self.pool.table()
        most = np.maximum(1, most_times(t, self.demand))
        once = np.array([self._once(c) for c in self.pool.columns])
        reduced = t.cost + once / most - lp.mu[t.stock] * t.use - lp.pi @ t.a
        support = set(np.argsort(reduced, kind="stable")[:WIDE]) | set(np.flatnonzero(x > 1e-7))
        top = max(max(s.width, s.length) for s in self.group.stock)
        for turn in range(SCALINGS):
            if self.stopped():
                break
            t = self.pool.table()
            most = most_times(t, self.demand)
            x = np.concatenate([x, np.zeros(len(self.pool) - x.size)])
            times = np.where(x > 1e-7, np.maximum(x, 1.0), np.maximum(1.0, np.minimum(most, 0.6 * most.max(initial=1))))
            dues, price = dues_of(self.bits, self.charges, uses(self.pool.columns, x), top, unused=UNUSED)
            t.cost = t.cost + float(self.charges.money(self.charges.layout)) / times + self._due(price)
            now = linear(t, self.demand, self.on_hand, self.dear)
            support |= set(np.flatnonzero(now.x > 1e-7))
            if turn % 3 != 2:
                x = now.x
                cap = np.maximum(1, self.demand // (1 + turn % 4))
                dues, _ = dues_of(self.bits, self.charges, uses(self.pool.columns, x), top, unused=UNUSED)
                self.pool.add(self.pricer.price(now.pi, now.mu, per_view=3, cap=cap, dues=dues).columns)
                x = np.concatenate([x, np.zeros(len(self.pool) - x.size)])
            else:
                x = now.x * (1 + 0.5 * self.rng.random(now.x.size))
        return sorted(int(j) for j in support)

    def _due(self, price: dict[Setting, float]) -> Floats:
        """What the settings of every column cost a repeat."""
        new = float(self.charges.money(self.charges.set_gauge)) / UNUSED
        return np.array([sum(n * price.get(s, new) for s, n in c.often.items()) for c in self.pool.columns])

    def _once(self, col: LayoutColumn) -> float:
        c = self.charges
        return float(c.money(c.layout)) + SHARE * float(c.money(c.set_gauge)) * len(col.settings)

    def choose(self, picks: Sequence[int], nodes: int) -> Plan | None:
        """A plan by an integer program over some columns."""
        columns = [self.pool.columns[j] for j in picks]
        found, _, _ = whole(columns, self.demand, self.on_hand, self.charges, nodes=nodes, gap=ROUGHLY)
        if found is None:
            return None
        plan = {picks[j]: k for j, k in found}
        self.offer(plan)
        return plan

    def offer(self, plan: dict[int, int]) -> bool:
        """Take a plan, what it makes too much of left uncut, if it costs less than the best."""
        plan = self.trimmed(plan)
        if (made_by(self.pool.columns, plan, self.demand.size) < self.demand).any():
            return False
        cost = plan_cost(self.pool.columns, plan, self.charges)
        if cost >= self.cost - 1e-7:
            return False
        self.plan, self.cost = plan, cost
        return True

    def trimmed(self, plan: dict[int, int]) -> dict[int, int]:
        """The plan with one repeat of a layout cut back for every blank too many."""
        plan = dict(plan)
        over = made_by(self.pool.columns, plan, self.demand.size) - self.demand
        while (over > 0).any():
            j = max(plan, key=lambda j: (int(np.minimum(over, self.pool.columns[j].counts).sum()), -plan[j], -j))
            col = self.pool.columns[j]
            take = np.minimum(np.maximum(over, 0), col.counts)
            if not take.any():
                break
            plan[j] -= 1
            if not plan[j]:
                del plan[j]
            over = over - col.counts
            new = cut_back(self.group, self.bits, self.charges, col, col.counts - take)
            if new is not None:
                over = over + new.counts
                n = self.keep(new)
                plan[n] = plan.get(n, 0) + 1
        return plan

    def keep(self, col: LayoutColumn) -> int:
        """Place of a column in the pool."""
        self.pool.add([col])
        return next(j for j, c in enumerate(self.pool.columns) if c.key() == col.key())

    # parts of the plan cut anew -----------------------------------------------------------------------------

    def mend(self, turns: int, nodes: int) -> None:
        """Take some layouts out, price the rest anew with layouts that hold no more than is left, and choose again."""
        for _ in range(turns):
            if self.plan is None or self.stopped():
                return
            out = self._some()
            keep = {j: k for j, k in self.plan.items() if j not in out}
            self._refill(keep, sorted(out), nodes)

    def _some(self) -> set[int]:
        """Layouts to take out, small ones sooner: mostly a few that are like one another, now and then many."""
        assert self.plan is not None
        js = sorted(self.plan)
        columns = [self.pool.columns[j] for j in js]
        small = np.array(
            [1.0 / (0.5 + self.plan[j] * float(c.counts.sum()) ** 0.5) for j, c in zip(js, columns, strict=True)]
        )
        if self.rng.random() < MANY:
            n = min(len(js), int(self.rng.integers(5, 12)))
            return set(self.rng.choice(js, size=n, replace=False, p=small / small.sum()).tolist())
        if len(js) == 1:
            return set(js)
        first = int(self.rng.choice(len(js), p=small / small.sum()))
        n = min(len(js), int(self.rng.integers(2, 6)))
        near = small * np.array([_alike(columns[first], c) for c in columns])
        near[first] = 0.0
        rest: Ints = self.rng.choice(len(js), size=n - 1, replace=False, p=near / near.sum())
        return {js[first], *(js[int(i)] for i in rest)}

    def _refill(self, keep: dict[int, int], out: list[int], nodes: int) -> None:
        """Keep some layouts of a plan and choose the rest anew, by pricing for what is then missing."""
        columns = self.pool.columns
        want = np.maximum(self.demand - made_by(columns, keep, self.demand.size), 0)
        if not want.any():
            return
        have = self.on_hand.copy()
        for j, k in keep.items():
            if have[columns[j].stock] < FREE:
                have[columns[j].stock] -= columns[j].use * k
        paid = frozenset().union(*(columns[j].settings for j in keep)) if keep else frozenset()
        lp: Linear | None = None
        for turn in range(4):
            picks = self.pool.fitting(want)
            t = ColumnArrays.of([columns[j] for j in picks], self.demand.size)
            most = np.maximum(1, most_times(t, want))
            t.cost = t.cost + np.array([self._extra(columns[j], paid) for j in picks]) / most
            lp = linear(t, want, have, self.dear)
            if turn == 3:
                break
            priced = self.pricer.price(lp.pi, lp.mu, per_view=3, cap=want)
            cut = [cut_back(self.group, self.bits, self.charges, c, want) for c in priced.columns]
            if not self.pool.add(c for c in cut if c is not None):
                break
        assert lp is not None
        for _ in range(FILLS):
            self._pack(want, have, lp, paid)
        picks = self.pool.fitting(want)
        t = ColumnArrays.of([columns[j] for j in picks], self.demand.size)
        most = np.maximum(1, most_times(t, want))
        t.cost = t.cost + np.array([self._extra(columns[j], paid) for j in picks]) / most
        lp = linear(t, want, have, self.dear)
        reduced = t.cost - lp.mu[t.stock] * t.use - lp.pi @ t.a
        best = np.argsort(reduced, kind="stable")[:MOST]
        chosen = sorted({picks[int(i)] for i in best} | set(out))
        found, _, _ = whole(
            [columns[j] for j in chosen], want, have, self.charges, paid=paid, nodes=nodes, gap=NEARLY, shared=False
        )
        if found is not None:
            plan = dict(keep)
            for i, k in found:
                plan[chosen[i]] = plan.get(chosen[i], 0) + k
            self.offer(plan)

    def _pack(self, want: Ints, have: Ints, lp: Linear, paid: frozenset[tuple[int, float]]) -> None:
        """Fill layouts one after another until nothing is wanted; all of them join the columns."""
        left, stock = want.copy(), have.copy()
        pi = lp.pi * (1 + 0.3 * self.rng.random(lp.pi.size)) + 1e-6 * self.start
        views = [v for v in self.pricer.views if v.cells]
        while left.any():
            best: tuple[float, LayoutColumn] | None = None
            for _ in range(TRIES):
                view = views[int(self.rng.integers(len(views)))]
                if stock[view.stock] <= 0:
                    continue
                col = filled(self.pricer, view, self._length(view, left), left, pi)
                if col is None or stock[col.stock] < col.use:
                    continue
                times = int((left[col.counts > 0] // col.counts[col.counts > 0]).min())
                cost = col.cost + self._extra(col, paid) / max(1, times)
                rate = float(pi @ col.counts) / max(cost, 1e-9)
                self.pool.add([col])
                if best is None or rate > best[0]:
                    best = (rate, col)
            if best is None:
                return
            col = best[1]
            times = int((left[col.counts > 0] // col.counts[col.counts > 0]).min())
            if stock[col.stock] < FREE:
                times = min(times, int(stock[col.stock] // col.use))
                stock[col.stock] -= times * col.use
            left = left - times * col.counts

    def _length(self, view: LineView, left: Ints) -> int:
        """A panel length to fill: the longest, or a few times the length of something wanted."""
        rows = [i for i, (n, _) in enumerate(view.cells) if left[self.bits[n].row] >= self.bits[n].count]
        most = min(view.rip, view.along)
        if not rows or self.rng.random() < 0.3:
            return most
        long = int(view.long[rows[int(self.rng.integers(len(rows)))]])
        if long > most:
            return most
        return long * int(self.rng.integers(1, most // long + 1))

    def _extra(self, col: LayoutColumn, paid: frozenset[tuple[int, float]]) -> float:
        c = self.charges
        return float(c.money(c.layout)) + 0.8 * float(c.money(c.set_gauge)) * len(col.settings - paid)

    def drafts(self) -> list[LayoutDraft]:
        """The best plan as drafts."""
        if self.plan is None:
            return []
        return merged([draft(self.group, self.bits, self.pool.columns[j], k) for j, k in sorted(self.plan.items())])


def _alike(a: LayoutColumn, b: LayoutColumn) -> float:
    """How much two layouts have in common: settings, and blanks they both make."""
    settings = len(a.settings & b.settings) / max(1, len(b.settings))
    return 0.3 + settings + int(((a.counts > 0) & (b.counts > 0)).sum()) / max(1, int((b.counts > 0).sum()))


def _improving(columns: Sequence[LayoutColumn], lp: Linear) -> list[LayoutColumn]:
    return [c for c in columns if c.cost - lp.mu[c.stock] * c.use - float(lp.pi @ c.counts) < -1e-7]
