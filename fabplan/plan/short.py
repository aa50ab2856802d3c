"""What to buy so that a plan short of stock holds everything."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any

from fabplan.blanks.model import FlatPattern
from fabplan.errors import FabplanError
from fabplan.job.metals import MetalProfile
from fabplan.job.model import Job, RackStock, Stock
from fabplan.nesting.nest import nest
from fabplan.plan.buy import buying_list
from fabplan.plan.check_buy import check_buy
from fabplan.plan.coils import nest_on_whole_coils
from fabplan.plan.model import BuyLine, Plan

TO_BUY = ", to buy"
HERE_FIRST = Fraction(99, 100)
"""Metal on hand counts next to nothing, so that as little as can be is bought."""


def parted(stock: Iterable[Stock]) -> tuple[Stock, ...]:
    """Stock lines with metal on hand in two: what is there, a hard limit, and as much as needed of ``NAME, to buy``."""
    out: list[Stock] = []
    for line in stock:
        if line.on_hand is None or line.form == "offcut":
            out.append(line)
            continue
        out.append(line.model_copy(update={"buy": False}))
        bought = {"name": bought_name(line.name), "buy": False, "on_hand": None}
        bought |= {"pieces": (), "coils": ()} if isinstance(line, RackStock) else {}
        out.append(line.model_copy(update=bought))
    return tuple(out)


def bought_name(name: str) -> str:
    """Name of the part of a line that is bought."""
    return f"{name[: 60 - len(TO_BUY)]}{TO_BUY}"


def opened(job: Job) -> Job:
    """The job with more to buy of every coil and sheet, and what is on hand taken first."""
    nest_options = job.nest.model_copy(update={"prefer_on_hand": HERE_FIRST})
    return job.model_copy(update={"stock": parted(job.stock), "nest": nest_options})


def to_buy(
    job: Job, patterns: Sequence[FlatPattern], metals: Mapping[str, MetalProfile], **nest_options: Any
) -> tuple[BuyLine, ...]:
    """Lines of metal to buy for a job whose stock is short; none where no coil or sheet can be bought.

    It is what a proven plan of everything takes beyond the metal on hand, the least of it the nest finds.
    """
    if not any(line.form != "offcut" for line in job.stock):
        return ()
    more = opened(job)
    try:
        cut_plan = nest_on_whole_coils(
            more, metals, patterns, lambda some: nest(patterns, some, metals, **nest_options)
        )
    except FabplanError:
        return ()
    if cut_plan.short:
        return ()
    plan = Plan(job=more, metals=metals, patterns=tuple(patterns), cut_plan=cut_plan, schedules=())
    lines = buying_list(plan)
    if check_buy(lines, cut_plan, more, metals):
        return ()
    names = {bought_name(line.name): line.name for line in job.stock}
    return tuple(replace(b, stock=names.get(b.stock, b.stock)) for b in lines if b.buy.length or b.buy.count)
