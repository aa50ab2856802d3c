"""What a search carries along: columns, best plan, bound, and how much it may still do."""

from __future__ import annotations

import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from fractions import Fraction

import numpy as np
import numpy.typing as npt

from fabplan.nesting.engine.bound import StockMix
from fabplan.nesting.engine.columns import PatternColumn, PatternPool, exact_cost
from fabplan.nesting.engine.frame import HUGE, Frame, Ints
from fabplan.nesting.engine.pricing import PatternPricer
from fabplan.nesting.engine.problem import Options, Trace

Floats = npt.NDArray[np.float64]
Plan = dict[int, int]  # column index -> times


class Stop(Exception):  # noqa: N818 - it ends a search, it is no error
    """The search must end now: time is up, it was interrupted, or the answer is good enough."""


class SearchState:
    """Shared by every part of the search."""

    def __init__(self, frame: Frame, options: Options) -> None:
        self.frame, self.options = frame, options
        self.pool = PatternPool(frame)
        self.pricer = PatternPricer(frame)
        self.mix = StockMix(frame)
        self.rng = np.random.default_rng(options.seed)
        self.plan: Plan | None = None
        self.cost: Fraction | None = None
        self.worth: Fraction | None = None  # cost less credit: what the search makes small
        self.chosen: Plan | None = None  # with fewer patterns, when asked for
        self.bound = options.least
        self.dear: Floats | None = None
        self.work = 0
        self.spent = 0.0
        self.budget: float | None = None
        self.stopped_early = False
        self.closed = False  # whether the linear master was priced to its end
        self.history: list[Trace] = []
        self.pi: Floats = np.zeros(frame.n)
        self.mu: Floats = np.zeros(len(frame.problem.stock))
        self._end = None if options.seconds is None else time.monotonic() + options.seconds

    def seconds(self) -> float | None:
        """Time left, or None when there is no limit."""
        return None if self._end is None else self._end - time.monotonic()

    def tick(self, work: float = 1.0) -> None:
        """Count work; raise `Stop` when it is spent, the time is up or someone asks to stop.

        Work is reckoned from sizes (about milliseconds on an idle desk machine), never from the clock.
        """
        self.spent += work + self.pricer.spent
        self.pricer.spent = 0.0
        self.work = round(self.spent)
        if self.budget is not None and self.spent > self.budget:
            raise Stop
        left = self.seconds()
        if (left is not None and left <= 0) or (self.options.should_stop is not None and self.options.should_stop()):
            self.stopped_early = True
            raise Stop

    @contextmanager
    def within(self, work: float) -> Iterator[None]:
        """Work in here ends quietly once so much is spent; a stop for any other reason goes on."""
        before, self.budget = self.budget, self.spent + work
        try:
            yield
        except Stop:
            if self.stopped_early:
                raise
        finally:
            self.budget = before

    def done(self) -> bool:
        """Whether the plan is proven or within the margin."""
        if self.cost is None or self.frame.credit is not None:
            return False  # with a credit there may be more to gain at the same cost
        return self.cost <= self.bound * (1 + self.options.margin)

    def raise_bound(self, bound: Fraction) -> None:
        """Note a better bound."""
        if bound > self.bound:
            self.bound = bound if self.cost is None else min(bound, self.cost)
            self._tell()

    def plan_cost(self, plan: Mapping[int, int]) -> Fraction:
        """Exact cost of a plan."""
        return sum((exact_cost(self.frame, self.pool.columns[j]) * c for j, c in plan.items()), Fraction(0))

    def plan_credit(self, plan: Mapping[int, int]) -> Fraction:
        """Credit for the offcuts of a plan."""
        return sum((self.pool.columns[j].credit * c for j, c in plan.items()), Fraction(0))

    def goal(self) -> float:
        """What a better plan must stay below, scaled; infinite while there is none."""
        return float("inf") if self.worth is None else float(self.worth / self.frame.cost_scale)

    def covers(self, plan: Mapping[int, int]) -> bool:
        """Whether the plan makes every piece from the stock on hand."""
        return self.covers_part(plan, self.frame.demand, self.frame.available)

    def covers_part(self, plan: Mapping[int, int], want: Ints, left: Ints) -> bool:
        """Whether the plan makes what is wanted from the stock left."""
        made = np.zeros(self.frame.n, dtype=np.int64)
        used = np.zeros(len(self.frame.problem.stock), dtype=np.int64)
        for j, c in plan.items():
            col = self.pool.columns[j]
            made += col.counts * c
            used[col.stock] += col.use * c
        return bool((made >= want).all() and (used <= left).all())

    def offer(self, plan: Mapping[int, int]) -> bool:
        """Keep the plan if it is complete and cheaper."""
        plan = {j: int(c) for j, c in sorted(plan.items()) if c > 0}
        if not self.covers(plan):
            return False
        cost = self.plan_cost(plan)
        worth = cost - self.plan_credit(plan)
        if self.worth is not None and self.cost is not None and (worth, cost) >= (self.worth, self.cost):
            return False
        self.plan, self.cost, self.worth = plan, cost, worth
        self.bound = min(self.bound, cost)
        self._tell()
        return True

    def offer_columns(self, columns: list[tuple[PatternColumn, int]]) -> bool:
        """Offer a plan given by columns."""
        plan: Plan = {}
        for col, times in columns:
            j = self.pool.add(col)
            plan[j] = plan.get(j, 0) + times
        return self.offer(plan)

    def _tell(self) -> None:
        self.history.append(Trace(work=self.work, cost=self.cost, bound=self.bound))
        if self.options.progress is not None:
            gap = float(self.cost / self.bound - 1) if self.cost is not None and self.bound else None
            self.options.progress(self.cost, self.bound, gap)

    def available_after(self, plan: Mapping[int, int]) -> Ints:
        """Stock left when the plan has been cut."""
        left = self.frame.available.copy()
        for j, c in plan.items():
            col = self.pool.columns[j]
            if left[col.stock] < HUGE:
                left[col.stock] -= col.use * c
        return left
