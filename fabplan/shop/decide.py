"""Which stock to take: the best three choices, few lines of stock before many unless more pay, and at what prices the
answer would change."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from fabplan.errors import BadValueError, JobError
from fabplan.job.metals import MetalProfile
from fabplan.job.model import Job
from fabplan.job.readers import read_price
from fabplan.nesting.model import CutPlan
from fabplan.plan.buy import buying_list
from fabplan.plan.check_buy import check_buy
from fabplan.plan.make import Pieces, proven
from fabplan.plan.model import BuyLine, Plan
from fabplan.shop.compare import Compared
from fabplan.speech.buying import amount_words
from fabplan.speech.labour import time_words
from fabplan.speech.worth import amount
from fabplan.units import Show

A_LINE = Fraction(1, 100)
"""Share of the cheapest total that a line of stock more must save: it is ordered, stored and carried (common practice,
no source)."""
MOST = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Best:
    """One of the best choices: the stock it uses but for offcuts, what is pulled and bought, and what it `counts`."""

    choice: Compared
    lines: tuple[str, ...]
    buy: tuple[BuyLine, ...]
    counts: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class TurningPrice:
    """The price of a line, per the unit it is sold in, at which another choice counts as much as the best.

    The plans are taken as they are.
    """

    line: str
    price: Decimal
    per: str
    now: Decimal
    other: str


def used_lines(plan: CutPlan) -> tuple[str, ...]:
    """Coils and sheets a plan takes."""
    return tuple(u.name for u in plan.stock if u.form != "offcut" and (u.used_length or u.used_count))


def counted(c: Compared, least: Fraction) -> Fraction:
    """What a choice counts: its total, and a hundredth of the cheapest for every line of stock beyond its first."""
    lines = used_lines(c.plan) if c.plan is not None else ()
    return c.total + least * A_LINE * max(0, len(lines) - 1)


def ranked(results: Sequence[Compared]) -> list[Compared]:
    """The choices that hold the job and differ, the one that counts least first."""
    good = [c for c in results if c.good and c.plan is not None]
    least = min((c.total for c in good), default=Fraction(0))

    def score(c: Compared) -> tuple[Fraction, Fraction, str]:
        return counted(c, least), c.total, c.name

    out: dict[tuple[tuple[str, ...], Fraction], Compared] = {}
    for c in sorted(good, key=score):
        if c.plan is not None:
            out.setdefault((used_lines(c.plan), c.total), c)
    return list(out.values())


def best_of(results: Sequence[Compared], job: Job, pieces: Pieces) -> tuple[Best, ...]:
    """The best three choices that differ, the first the one to take, with what each pulls and buys."""
    least = min((c.total for c in results if c.good), default=Fraction(0))
    return tuple(
        Best(
            choice=c,
            lines=used_lines(c.plan),
            buy=_buying(c, c.plan, job, pieces.metals, pieces),
            counts=counted(c, least),
        )
        for c in ranked(results)[:MOST]
        if c.plan is not None
    )


def _buying(
    c: Compared, cut: CutPlan, job: Job, metals: Mapping[str, MetalProfile], pieces: Pieces
) -> tuple[BuyLine, ...]:
    trial = job.model_copy(update={"stock": c.stock})
    plan = Plan(job=trial, metals=metals, patterns=pieces.patterns, cut_plan=cut, schedules=())
    lines = buying_list(plan)
    proven("buying list", check_buy(lines, cut, trial, metals))
    return lines


def turns(best: Sequence[Best], job: Job) -> tuple[TurningPrice, ...]:
    """Prices at which the second best would count as much as the best: of a line the best takes more of, and of one it
    takes less of."""
    if len(best) < 2:
        return ()
    first, second = best[0].choice, best[1].choice
    plans = first.plan, second.plan
    if plans[0] is None or plans[1] is None or plans[0].objective != "money":
        return ()
    costs = [{u.name: u.cost for u in p.stock} for p in plans if p is not None]
    priced = {line.name: line.price for c in (first, second) for line in c.stock if line.price is not None}
    out = []
    for name in dict.fromkeys([*costs[0], *costs[1]]):
        more = costs[0].get(name, Fraction(0)) - costs[1].get(name, Fraction(0))
        price = priced.get(name)
        if not more or price is None:
            continue
        turned = Fraction(price.amount) * (1 + (best[1].counts - best[0].counts) / more)
        if turned > 0:
            at = Decimal(turned.numerator) / Decimal(turned.denominator)
            out.append(TurningPrice(line=name, price=at, per=price.per, now=price.amount, other=second.name))
    return tuple(out)


def best_lines(best: Sequence[Best], job: Job) -> list[str]:
    """The decision in words: what to take, what it costs, how long, what to buy; then the next two, and the prices."""
    show = Show(job.info.units, int(job.info.round_to))
    out = []
    for n, b in enumerate(best, 1):
        cut = b.choice.plan
        assert cut is not None
        sums = f"{amount(cut.total, cut, job)} (metal {amount(cut.metal_total, cut, job)}"
        sums += f", work {amount(cut.labour_total, cut, job)})" if cut.labour_total else ")"
        bought = [f"{amount_words(x.buy, x, show)} of {x.stock}" for x in b.buy if x.buy.length or x.buy.count]
        pulled = [f"{amount_words(x.pull, x, show)} of {x.stock}" for x in b.buy if x.pull.length or x.pull.count]
        does = "; ".join(f"{verb} {', '.join(some)}" for verb, some in (("buy", bought), ("pull", pulled)) if some)
        out.append(f"{n}. {b.choice.name}: {sums}, {time_words(b.choice.seconds)} at the shear; {does}.")
    cheaper = min((b.choice.total for b in best), default=Fraction(0))
    if best and best[0].choice.total > cheaper:
        out.append("The first is not the cheapest: a line of stock more would not save a hundredth.")
    for t in turns(best, job):
        way = "until" if t.price > t.now else "only if"
        if way == "until":
            out.append(f"It stays ahead of {t.other} until {t.line} costs {t.price:,.2f} per {t.per} ({t.now} now).")
        else:
            out.append(f"{t.other} is ahead once {t.line} costs {t.price:,.2f} per {t.per} ({t.now} now).")
    return out


def priced_otherwise(job: Job, typed: Sequence[str]) -> Job:
    """The job with other prices: ``coil 24=10.20 per lb`` each.

    Raises
    ------
    JobError
    """
    lines = {line.name.casefold(): line for line in job.stock}
    for text in typed:
        name, equals, price = text.rpartition("=")
        line = lines.get(name.strip().casefold())
        if not equals or line is None:
            names = " or ".join(f'"{x.name}=9.40 per lb"' for x in job.stock[:4])
            raise JobError("must be a stock line and its price", key="--price", value=text, write=names)
        try:
            new = read_price(price.strip())
        except BadValueError as fault:
            raise JobError(fault.rule, key="--price", value=text, write=fault.write) from None
        if line.price is not None and new.per != line.price.per:
            raise JobError(
                f"{line.name} is priced per {line.price.per}", key="--price", value=text,
                write=f'"{line.name}={new.amount} per {line.price.per}"',
            )  # fmt: skip
        lines[name.strip().casefold()] = line.model_copy(update={"price": new})
    return job.model_copy(update={"stock": tuple(lines[line.name.casefold()] for line in job.stock)})
