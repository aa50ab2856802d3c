"""What one metal's nest may do, and the best it has found: the run's limits and the plan so far."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable, Sequence
from concurrent.futures import Future
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import TypeVar

from fabplan.nesting.cuts import layouts
from fabplan.nesting.model import Layout
from fabplan.nesting.problem import Group
from fabplan.nesting.search import to_engine
from fabplan.nesting.search.rivals import Tried
from fabplan.nesting.search.work import work_cost
from fabplan.workers import Hands, Here, asked_to_stop

T = TypeVar("T")
KEPT = 4  # plans remembered of one metal, to choose among with the other metals
Progress = Callable[[Fraction | None, Fraction, float | None], None]


@dataclass(slots=True)
class Run:
    """What the caller allows: effort, seed, a deadline, callbacks, and who may work beside the search."""

    effort: float
    seed: int
    margin: Fraction
    fewer_setups: Fraction
    offcut_credit: Fraction
    pair: bool
    deadline: float | None = None
    progress: Progress | None = None
    should_stop: Callable[[], bool] | None = None
    hands: Hands = field(default_factory=Here)
    meanwhile: Callable[[], None] | None = None

    def stopped(self) -> bool:
        """Whether time is up or the caller wants to stop."""
        late = self.deadline is not None and time.monotonic() >= self.deadline
        return late or (self.should_stop is not None and self.should_stop())

    def aside(self) -> Run:
        """The same limits for work done beside this: it hears of a stop from `wait`."""
        return replace(self, progress=None, should_stop=asked_to_stop, hands=Here(), meanwhile=None)

    def unheard(self) -> Run:
        """This run for a search whose totals are not those of the plan; takes over what is to follow it."""
        other = replace(self, progress=None)
        self.meanwhile = None
        return other

    def with_share(self, share: float, seconds: float) -> Run:
        """This run with a share of its effort and so many seconds at least to go; takes over what is to follow it."""
        deadline = self.deadline
        if deadline is not None:
            deadline = max(deadline, time.monotonic() + seconds)
        other = replace(self, effort=self.effort * share, deadline=deadline)
        self.meanwhile = None
        return other

    def interrupted(self) -> bool:
        """Whether the caller wants to stop, whatever the clock says."""
        return self.should_stop is not None and self.should_stop()

    def under_way(self) -> None:
        """The search has given out its own work: the caller's may follow it."""
        if self.meanwhile is not None:
            start, self.meanwhile = self.meanwhile, None
            start()

    def wait(self, work: Future[T]) -> T:
        """What the work gave; when the caller wants to stop, what it has by then."""
        while True:
            try:
                return work.result(timeout=0.1)
            except TimeoutError:
                if work.done():  # just now, or the fault is the work's own
                    return work.result()
                if self.should_stop is not None and self.should_stop():
                    self.hands.ask_to_stop()

    def seconds_left(self) -> float | None:
        """Seconds to the deadline, None when there is none."""
        return None if self.deadline is None else max(0.0, self.deadline - time.monotonic())


@dataclass(slots=True)
class BestOfMetal:
    """The best plan of one metal so far; `alone` is the best with every slanted blank in its own rectangle.

    `total` and `bound` are of the stock alone, `labour` and `priced_bound` of the work and of both together.
    """

    group: Group
    layouts: tuple[Layout, ...] = ()
    total: Fraction | None = None
    labour: Fraction = Fraction(0)
    worth: Fraction | None = None  # stock and work less the credit for offcuts kept: what the search makes small
    bound: Fraction = Fraction(0)
    priced_bound: Fraction = Fraction(0)
    short: tuple[tuple[str, int], ...] = ()
    rivals: tuple[Tried, ...] = ()
    alone: Fraction | None = None
    slanted: bool = False
    cheapest: tuple[Fraction, int, int] | None = None  # total, layouts and settings before trading metal for set-ups
    stopped_early: bool = False
    least_seen: tuple[tuple[Fraction, tuple[Layout, ...]], ...] = ()  # the cheapest complete plan of all offered
    kept: tuple[tuple[Layout, ...], ...] = ()  # plans that were the best once, the latest last
    orders: tuple[tuple[Layout, ...], ...] = ()  # other orders of cuts of the layouts of one of them
    given: tuple[tuple[Layout, ...], ...] = ()  # complete plans the caller has, one of every metal for each of his

    def offer(self, made: Sequence[Layout], run: Run) -> bool:
        """Take a plan if it is complete and cheaper than the best."""
        if missing(self.group, made) or not layouts.within_stock(self.group, made):
            return False
        if not layouts.pulls_held(made, self.group):
            return False
        total = layouts.cost(self.group, made)
        if not self.least_seen or total < self.least_seen[0][0]:
            self.least_seen = ((total, tuple(made)),)
        worth = total - kept_credit(self.group, made, run)
        if self.worth is not None and worth > self.worth:
            return False
        labour = work_cost(self.group, made)
        worth += labour
        if self.worth is not None and (worth, total) >= (self.worth, self.total):
            return False
        self.layouts, self.total, self.labour, self.worth, self.short = tuple(made), total, labour, worth, ()
        self.kept = (*self.kept[1 - KEPT :], self.layouts)
        return True


def missing(group: Group, made: Sequence[Layout]) -> tuple[tuple[str, int], ...]:
    """Blanks the layouts do not make, with how many."""
    have = Counter[str]()
    for layout in made:
        for b in layout.blanks:
            have[b.mark] += layout.repeat
    return tuple((b.mark, b.count - have[b.mark]) for b in group.blanks if have[b.mark] < b.count)


def kept_credit(group: Group, made: Sequence[Layout], run: Run) -> Fraction:
    """Credit for the offcuts worth keeping."""
    rate = to_engine.credit(group, run.offcut_credit)
    if rate is None:
        return Fraction(0)
    return rate.per_area * sum(y.repeat * o.width * o.length for y in made for o in y.offcuts if o.keep)
