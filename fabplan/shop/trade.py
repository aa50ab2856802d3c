"""What more metal for less work would bring: the job planned for the least metal, half the rate, the rate, double the
rate and the fewest settings, all counted at the shop's own times and rate."""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import as_completed
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Literal

from fabplan.errors import FabplanError
from fabplan.job.model import Job
from fabplan.labour import TIME_KEYS, Labour
from fabplan.nesting.minutes import seconds_of
from fabplan.nesting.model import CutPlan
from fabplan.plan.make import Pieces, make_nest
from fabplan.workers import processes

Aim = Literal["least metal", "half the rate", "the rate", "double the rate", "fewest settings"]
AIMS: tuple[Aim, ...] = ("least metal", "half the rate", "the rate", "double the rate", "fewest settings")
DEAR_SETTINGS = 10.0  # times as long as they are, when few settings are the aim


@dataclass(frozen=True, slots=True, kw_only=True)
class Traded:
    """One aim, planned and counted at the shop's own times: cost of metal, seconds at the shear, cost of both.

    Costs are as in the cut plan, money or area; `pounds` the metal taken. `plan` is None where `why` says so.
    """

    aim: Aim
    plan: CutPlan | None
    why: str = ""
    metal: Fraction = Fraction(0)
    seconds: float = 0.0
    total: Fraction = Fraction(0)
    settings: int = 0
    pounds: float = 0.0

    @property
    def work(self) -> Fraction:
        """Cost of the work."""
        return self.total - self.metal


def aimed(labour: Labour, aim: Aim) -> Labour:
    """Times under which a plan has this aim: half the rate is half of every time."""
    if aim == "least metal":
        return replace(labour, rate=0.0, rate_pounds=None)
    share = {"half the rate": 0.5, "double the rate": 2.0}.get(aim, 1.0)
    times = {key: share * float(getattr(labour, key)) for key in TIME_KEYS}
    if aim == "fewest settings":
        times["set_gauge"] *= DEAR_SETTINGS
        times["set_stop"] *= DEAR_SETTINGS
    return replace(labour, **times)  # type: ignore[arg-type]


def trade(
    job: Job,
    pieces: Pieces,
    *,
    effort: float = 0.3,
    seed: int = 0,
    seconds: float | None = None,
    workers: int | None = None,
    done: Callable[[int, int, str], None] | None = None,
) -> tuple[Traded, ...]:
    """Plan a job for every aim; empty when the shop counts no work (rate = 0).

    A plan made for one aim may serve another better: each aim then takes the best of all plans found, so more weight
    on work never shows more work.

    Parameters
    ----------
    job, pieces, effort, seed, seconds, workers, done
        As for `fabplan.shop.compare.compare`.
    """
    if job.labour.free or not job.stock:
        return ()
    plans: dict[Aim, CutPlan | str] = {}
    n = min(workers or os.cpu_count() or 1, len(AIMS))
    if n == 1:
        for i, aim in enumerate(AIMS):
            plans[aim] = _one(job, pieces, aim, effort, seed, seconds)
            if done:
                done(i + 1, len(AIMS), aim)
    else:
        with processes(n) as others:
            waiting = {others.start(_one, job, pieces, aim, effort, seed, seconds): aim for aim in AIMS}
            for finished in as_completed(waiting):
                plans[waiting[finished]] = finished.result()
                if done:
                    done(len(plans), len(AIMS), waiting[finished])
    return _counted(job, plans)


def _one(job: Job, pieces: Pieces, aim: Aim, effort: float, seed: int, seconds: float | None) -> CutPlan | str:
    trial = job.model_copy(update={"labour": aimed(job.labour, aim)})
    try:
        plan = make_nest(trial, pieces, effort=effort, seed=seed, seconds=seconds)
    except FabplanError as fault:
        return str(fault)
    if plan is None:
        return "no stock"
    if plan.status == "short":
        return "the stock does not hold the job"
    return plan


def _counted(job: Job, plans: dict[Aim, CutPlan | str]) -> tuple[Traded, ...]:
    at_rate = plans["the rate"]
    if isinstance(at_rate, str):
        return tuple(Traded(aim=aim, plan=None, why=str(plans[aim])) for aim in AIMS)
    spent = seconds_of(at_rate.spent)
    second = at_rate.labour_total / spent if spent else Fraction(0)
    found: list[Traded] = []
    for aim in AIMS:
        plan = plans[aim]
        if isinstance(plan, str):
            continue
        took = _own_seconds(plan, job.labour, aimed(job.labour, aim))
        found.append(
            Traded(
                aim=aim,
                plan=plan,
                metal=plan.metal_total,
                seconds=took,
                total=plan.metal_total + Fraction(round(took * 100), 100) * second,
                settings=plan.program.settings if plan.program else 0,
                pounds=sum(u.pounds for u in plan.stock),
            )
        )
    best = {aim: min(found, key=_rank(aim, second)) for aim in AIMS}
    return tuple(
        replace(best[aim], aim=aim)
        if not isinstance(plans[aim], str)
        else Traded(aim=aim, plan=None, why=str(plans[aim]))
        for aim in AIMS
    )


def _rank(aim: Aim, second: Fraction) -> Callable[[Traded], tuple[Fraction, ...]]:
    share = {"least metal": Fraction(0), "half the rate": Fraction(1, 2), "double the rate": Fraction(2)}
    weight = share.get(aim, Fraction(1)) * second

    def cost(t: Traded) -> tuple[Fraction, ...]:
        both = t.metal + weight * Fraction(round(t.seconds * 100), 100)
        return (Fraction(t.settings), both) if aim == "fewest settings" else (both, Fraction(round(t.seconds * 100)))

    return cost


def _own_seconds(plan: CutPlan, own: Labour, planned: Labour) -> float:
    """Seconds of a plan by the shop's own times: heavy strokes keep their weight."""
    total = 0.0
    for s in plan.spent:
        mine, theirs = float(getattr(own, s.what)), float(getattr(planned, s.what))
        total += s.seconds * mine / theirs if theirs else s.times * mine
    return round(total, 2)
