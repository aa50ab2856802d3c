"""The answer on the first screen: what to buy and pull, what it costs, how long it takes, where the packet is."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from math import ceil
from pathlib import Path

from fabplan.plan.handling import show_of
from fabplan.plan.model import BuyLine, Plan
from fabplan.screen.tables import total_says
from fabplan.speech import nest
from fabplan.speech.buying import (
    amount_words,
    coils_words,
    count_of,
    heavy_notes,
    lacking_words,
    lead_words,
    order_words,
)
from fabplan.speech.labour import assumed_words, limits_words, time_words
from fabplan.speech.plausible import roof_doubts, size_doubts
from fabplan.speech.status import short_sentence, status_sentence, stopped_sentence
from fabplan.speech.worth import amount, counts_work, sum_words
from fabplan.units import Show

MOST = 6  # lines of stock before the rest is counted only
ROWS, ACROSS = 22, 80  # of a small terminal


def answer_lines(plan: Plan, folder: Path | None, *, everything: bool = False) -> list[str]:
    """The plan in 22 rows of a small terminal, the tables are for ``--all``; `everything` where there is room."""
    job, cut = plan.job, plan.cut_plan
    show = show_of(job)
    pieces = sum(p.count for p in plan.patterns)
    out = [f"{job.info.name}, {job.info.number}: {count_of(pieces, 'piece')}, {count_of(len(plan.patterns), 'mark')}."]
    if cut is None:
        out.append("The job lists no stock, so there is no cut plan.")
    else:
        if cut.short:
            missing = ", ".join(f"{n} of {mark}" for mark, n in cut.short[:MOST])
            out.append(f"SHORT: {short_sentence(cut)}; {missing} missing. {lacking_words(plan.lacking, job)}".rstrip())
        stock = [*_buy(plan, show), *_pull(plan, show)]
        out += stock if everything else _first(stock)
        out.append(_cost(plan))
        stopped = stopped_sentence(cut)
        out.append(f"{status_sentence(cut)} {stopped}".rstrip())
        cuts = count_of(len(cut.layouts), "cutting layout")
        out.append(f"{cuts}, scrap {show.percent(cut.scrap_share)}, kept for the rack {show.percent(cut.kept_share)}.")
    if plan.hours:
        each = [f"{h.station} {time_words(h.seconds)}" for h in plan.hours if h.seconds]
        whole = time_words(sum(h.seconds for h in plan.hours))
        out.append(f"Work: about {whole}" + (f" ({', '.join(each)})." if len(each) > 1 else "."))
    if plan.uncut:
        out.append(f"Cannot be cut on this shear: {', '.join(u.mark for u in plan.uncut[:MOST])}.")
    if plan.unbent:
        out.append(f"Cannot be folded with these tools: {', '.join(u.mark for u in plan.unbent[:MOST])}.")
    if folder is not None:
        out.append(f"Packet written to {folder}")
    notes = notes_of(plan, everything=everything)
    return [*out, *(notes if everything else _fitting(notes, ROWS - sum(map(_rows, out))))]


def notes_of(plan: Plan, *, everything: bool = False) -> list[str]:
    """What a person is told beside the figures, what can hurt first.

    A limit of the shear that no file types is told where the plan reaches it, or where `everything` is wanted.
    """
    doubts = size_doubts(plan.job)
    notes = list(heavy_notes(plan.lifts, show_of(plan.job)))
    if plan.roof is not None:
        from fabplan.speech.roof import told_of_cut_pieces

        doubts += roof_doubts(plan.roof, plan.job)
        notes += told_of_cut_pieces(plan.roof, plan.job)
    notes += [] if plan.cut_plan is None else nest.notes(plan.cut_plan, plan.job)
    limits = limits_words(plan.job, None if everything else plan.cut_plan)
    assumed = assumed_words(plan.job, {s.what for h in plan.hours for s in h.spent})
    return [
        *(f"Can this be meant? {doubt}" for doubt in doubts),
        *notes,
        *(said for said in (limits, assumed) if said),
    ]


def _rows(line: str) -> int:
    return max(1, ceil(len(line) / ACROSS))


def _fitting(notes: list[str], rows: int) -> list[str]:
    """The notes there is room for, and how many there are besides."""
    out: list[str] = []
    for i, note in enumerate(notes):
        rows -= _rows(note)
        if rows < 1 and i < len(notes) - 1:
            return [*out, f"... and {len(notes) - i} more notes: --all, or the cover."]
        out.append(note)
    return out


def _first(lines: list[str]) -> list[str]:
    more = len(lines) - MOST
    return lines if more <= 0 else [*lines[:MOST], f"... and {more} more: see the cover, or --all."]


def _buy(plan: Plan, show: Show) -> list[str]:
    found = [line for line in plan.buy if line.buy.length or line.buy.count]
    out = []
    for line in found:
        out.append(f"Buy  {_of(amount_words(line.buy, line, show, weigh=True), line)}{_price(line, plan)}")
        out += [words] if (words := order_words(line, show, plan.job.info.currency)) else []
    return [*out, words] if (words := lead_words(plan.buy)) else out


def _pull(plan: Plan, show: Show) -> list[str]:
    found = [line for line in plan.buy if line.pull.length or line.pull.count]
    out = []
    for line in found:
        lots = coils_words(line, show)
        off = "" if not lots else f", {lots}" if len(line.coils) == 1 else f": {lots}"
        out.append(f"Pull {_of(amount_words(line.pull, line, show), line)}{off}")
    return out


def _of(amount: str, line: BuyLine) -> str:
    return f"{amount} of {line.stock}"


def _price(line: BuyLine, plan: Plan) -> str:
    return "" if line.price is None else f": {line.price:,.2f} {plan.job.info.currency}".rstrip()


def _cost(plan: Plan) -> str:
    cut = plan.cut_plan
    assert cut is not None
    above = None if cut.short else cut.above_bound
    if counts_work(cut):
        gap = f" That is {above:.2%} above the proven least of both." if above else ""
        return sum_words(cut, plan.job) + gap
    what = "Metal cost" if cut.objective == "money" else "Metal taken"
    gap = f", {above:.2%} above the proven least" if above else ""
    return f"{what}: {total_says(cut, plan.job)}{gap}."


def run_lines(run: Plan, plans: Sequence[Plan], folders: Sequence[Path], apart: Sequence[Fraction] = ()) -> list[str]:
    """A shear run for several jobs: the run's answer, what it saves against the jobs one by one (`apart`, what each
    costs so), then what each job pays and where its packet is."""
    out = answer_lines(run, folders[0])
    assert run.cut_plan is not None
    if apart and not run.cut_plan.short:
        one_by_one, saved = sum(apart, Fraction(0)), sum(apart, Fraction(0)) - run.cut_plan.total
        words = f"One after the other on the same stock they cost {amount(one_by_one, run.cut_plan, run.job)}"
        more = f"one run saves {amount(saved, run.cut_plan, run.job)}" if saved > 0 else "one run saves nothing"
        out.append(f"{words}: {more}.")
    for share, plan, folder in zip(run.shares, plans, folders[1:], strict=True):
        metal, labour, both = (
            amount(v, run.cut_plan, run.job) for v in (share.metal, share.labour, share.metal + share.labour)
        )
        hours = time_words(sum(h.seconds for h in plan.hours) + share.seconds)
        out.append(
            f"{share.number}, {plan.job.info.name}: {share.blanks} blanks; metal {metal} and work {labour}, {both}."
        )
        out.append(f"   About {hours} with its part of the shearing. Packet written to {folder}")
    return out
