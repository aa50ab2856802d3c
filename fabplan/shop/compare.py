"""`fabplan compare`: the same job planned on each stock choice, side by side, in parallel over the cores."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import as_completed
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

from fabplan.errors import FabplanError
from fabplan.job.model import Job, Stock
from fabplan.nesting.model import CutPlan, Status
from fabplan.plan.make import Pieces, make_nest
from fabplan.shop.choices import StockChoice, choices, drop_reason
from fabplan.workers import processes


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """One choice, planned. `plan` is None when it cannot hold the job; `why` explains either outcome.

    `money` is the price of the metal, `total` the cost the plan makes small: metal, and work where it counts.
    """

    name: str
    plan: CutPlan | None
    why: str
    square_inches: float = 0.0
    pounds: float = 0.0
    scrap_share: float = 0.0
    settings: int = 0
    money: Fraction | None = None
    total: Fraction = Fraction(0)
    seconds: float = 0.0
    stock: tuple[Stock, ...] = ()

    @property
    def good(self) -> bool:
        """Whether the choice holds the whole job."""
        return self.plan is not None and self.plan.status != "short"


def _one(job: Job, pieces: Pieces, choice: StockChoice, effort: float, seed: int, seconds: float | None) -> Compared:
    trial = job.model_copy(update={"stock": choice.stock})
    try:
        plan = make_nest(trial, pieces, effort=effort, seed=seed, seconds=seconds)
    except FabplanError as fault:
        return Compared(name=choice.name, plan=None, why=str(fault))
    if plan is None:
        return Compared(name=choice.name, plan=None, why="no stock")
    inch = plan.grid / 25_400_000
    alone = choice.name.endswith(" alone")
    why = drop_reason(choice.stock[0], pieces.patterns, job) if alone else _mix_reason(plan)
    if plan.status == "short":
        missing = ", ".join(f"{n} of {mark}" for mark, n in plan.short)
        why = f"does not hold the job: missing {missing}"
    return Compared(
        name=choice.name,
        plan=plan,
        why=why,
        square_inches=plan.stock_area * inch**2,
        pounds=sum(u.pounds for u in plan.stock),
        scrap_share=plan.scrap_share,
        settings=plan.program.settings if plan.program else 0,
        money=plan.metal_total if plan.objective == "money" else None,
        total=plan.total,
        seconds=sum(s.seconds for s in plan.spent),
        stock=choice.stock,
    )


def _mix_reason(plan: CutPlan) -> str:
    used = [u for u in plan.stock if u.used_length or u.used_count]
    racked = sum(1 for u in used if u.form == "offcut")
    names = [u.name for u in used if u.form != "offcut"]
    text = "takes " + ", ".join(names) if names else "takes offcuts only"
    return text + (f" and {racked} offcut{'s' if racked > 1 else ''}" if racked and names else "")


def compare(
    job: Job,
    pieces: Pieces,
    *,
    rack: Sequence[Stock] = (),
    sold: bool = False,
    effort: float = 0.3,
    seed: int = 0,
    seconds: float | None = None,
    workers: int | None = None,
    done: Callable[[int, int, str], None] | None = None,
) -> tuple[Compared, ...]:
    """Plan a job on every stock choice; cheapest first, then those that cannot hold it.

    Parameters
    ----------
    job, pieces
        The job and its patterns.
    rack : stock lines, optional
        Offcuts of the rack.
    sold : bool
        Also try every width and sheet the metal's profile lists.
    effort, seed, seconds
        As for a cut plan, for each choice.
    workers : int, optional
        Processes; the cores by default. One means no other process is started.
    done : callable, optional
        Told ``(finished, all, name)``.
    """
    todo = choices(job, pieces.metals, rack=rack, sold=sold)
    results: dict[int, Compared] = {}
    n = min(workers or os.cpu_count() or 1, len(todo)) or 1
    if n == 1:
        for i, choice in enumerate(todo):
            results[i] = _one(job, pieces, choice, effort, seed, seconds)
            if done:
                done(i + 1, len(todo), choice.name)
    else:
        with processes(n) as others:
            waiting = {
                others.start(_one, job, pieces, choice, effort, seed, seconds): i for i, choice in enumerate(todo)
            }
            for finished in as_completed(waiting):
                i = waiting[finished]
                results[i] = finished.result()
                if done:
                    done(len(results), len(todo), todo[i].name)
    found = [results[i] for i in range(len(todo))]
    return tuple(sorted((no_dearer(c, i, todo, found, job) for i, c in enumerate(found)), key=_rank))


def no_dearer(c: Compared, at: int, todo: Sequence[StockChoice], found: Sequence[Compared], job: Job) -> Compared:
    """The choice, with the plan of a part of its stock where that takes less: more stock is never dearer than less.

    The proven least stays that of the whole choice, for a part's own proof does not hold for more stock.
    """
    mine = {line.name for line in todo[at].stock}
    parts = [
        other
        for i, other in enumerate(found)
        if i != at and other.good and other.plan is not None and {line.name for line in todo[i].stock} < mine
    ]
    best = min(parts, key=lambda o: (_total(o), o.name), default=None)
    if best is None or best.plan is None or (c.good and _total(c) <= _total(best)):
        return c
    bound = min(c.plan.bound, best.plan.bound) if c.plan is not None else Fraction(0)
    above = best.plan.total - bound
    status: Status = (
        "proven" if not above else "within_margin" if bound and above / bound <= job.nest.good_enough else "not_proven"
    )
    plan = replace(best.plan, bound=bound, status=status)
    return replace(best, name=c.name, plan=plan, why=f"{_mix_reason(plan)}: nothing better was found with all of it")


def _total(c: Compared) -> Fraction:
    assert c.plan is not None
    return c.plan.total


def _rank(c: Compared) -> tuple[Any, ...]:
    if not c.good:
        return (1, 0, 0, c.name)
    return (0, c.total, c.square_inches, c.name)
