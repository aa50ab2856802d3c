"""The quote on paper and on the terminal: for the office, never among the shop's pages."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

from fabplan.errors import PlanError, ProofError
from fabplan.packet.model import Block, Column, Facts, Heading, Notice, Packet, Page, Para, Table
from fabplan.packet.output.folder import write_file
from fabplan.packet.setting.fonts import check_job
from fabplan.packet.setting.typeset import typeset
from fabplan.plan.model import Plan
from fabplan.shop.check_quote import check_quote
from fabplan.shop.model import Quote
from fabplan.shop.quote import quote
from fabplan.speech.buying import amount_words
from fabplan.speech.format import Say, count, paper
from fabplan.speech.labour import time_words

NOT_IN = (
    "Scaffold, lifts, fall protection and getting onto the roof.",
    "Tear-off, deck, underlayment, clips, nails, solder, sealant and trim that is not in the job file.",
    "Wind, snow, structure and fire: what local codes and a licensed designer ask for is not looked at here.",
    "Delivery, travel, weather, overhead, profit and taxes.",
)


def proved_quote(plan: Plan) -> Quote:
    """The quote of a plan, proved.

    Raises
    ------
    PlanError
        The plan has no cut plan, or is short of stock.
    ProofError
    """
    if plan.cut_plan is None:
        raise PlanError("The job lists no stock, so there is nothing to price.", help_="Add at least one [[stock]].")
    if plan.cut_plan.short:
        raise PlanError("This plan is SHORT of stock.", help_="Add stock before it is priced.")
    found = quote(plan)
    faults = check_quote(found, plan)
    if faults:
        raise ProofError("quote", faults)
    return found


def _money(value: Decimal | None, say: Say) -> str:
    return "no price" if value is None else say.money(value)


def sum_rows(found: Quote, plan: Plan) -> list[tuple[str, str]]:
    """Metal, work, scrap, total and what that is for each square."""
    say = Say.of(plan.job)
    metal = sum((m.price for m in found.metal if m.price is not None), Decimal(0))
    work = sum((w.price for w in found.work if w.price is not None), Decimal(0))
    rows = [("Metal", say.money(metal) if any(m.price is not None for m in found.metal) else "no price")]
    rows.append(("Work", say.money(work) if found.rate is not None else "no price"))
    if found.scrap_price is not None:
        rows.append((f"Scrap sold, {say.weight(found.scrap_pounds)}", f"-{say.money(found.scrap_price)}"))
    rows.append(("Total" if found.whole else "Total of what has a price", say.money(found.total)))
    if found.per_square is not None:
        each = "100 sq ft (a square)" if plan.job.info.units == "in" else "m²"
        rows.append((f"For each {each} of {say.area(found.area)}", say.money(found.per_square)))
    return rows


def beside(found: Quote, plan: Plan) -> list[str]:
    """What the figures hold and what they lack, in sentences."""
    say = Say.of(plan.job)
    out = []
    if found.spare_pieces:
        share = "" if found.spare_price is None else f", {say.money(found.spare_price)} of the metal"
        out.append(
            f"In these figures: {count(found.spare_pieces, 'spare piece')}, {say.weight(found.spare_pounds)}{share}."
        )
    lacking = [m.stock for m in found.metal if m.price is None]
    if lacking:
        out.append(f"Without a price: {', '.join(lacking)}. Write price under [[stock]].")
    if found.rate is None:
        out.append("An hour has no price in money. Write rate under [labour], for example 95 per h.")
    elif "rate" in plan.job.labour.assumed:
        out.append(f"{say.money(found.rate)} an hour is assumed. Write your own rate under [labour].")
    if found.scrap_price is None:
        out.append(f"Scrap, {say.weight(found.scrap_pounds)}, has no price. Write scrap_price under [job].")
    out.append("Hours are planned, not measured; metal at hand is priced as metal to buy; offcuts are paid for.")
    return out


def quote_lines(found: Quote, plan: Plan) -> list[str]:
    """The quote on the terminal."""
    return [*(f"{what}: {value}" for what, value in sum_rows(found, plan)), *beside(found, plan)]


def quote_page(found: Quote, plan: Plan) -> Page:
    """The one page of a quote."""
    say = Say.of(plan.job)
    info = plan.job.info
    metal = Table(
        name="Metal",
        columns=(
            Column(title="Stock", strong=True, share=1),
            Column(title="Metal", share=1.2),
            Column(title="Taken", align="right"),
            Column(title="Weight", align="right"),
            Column(title="Price", align="right"),
        ),
        rows=tuple(
            (
                m.stock,
                plan.metals[m.metal].title,
                paper(amount_words(m.taken, next(b for b in plan.buy if b.stock == m.stock), say.show)),
                say.weight(m.taken.pounds),
                _money(m.price, say),
            )
            for m in found.metal
        ),
        whole=True,
    )
    work = Table(
        name="Work",
        columns=(
            Column(title="Station", strong=True, share=1),
            Column(title="About", align="right"),
            Column(title="Price", align="right"),
        ),
        rows=tuple((w.station.capitalize(), time_words(w.seconds), _money(w.price, say)) for w in found.work),
        whole=True,
    )
    sums = Table(
        name="All",
        columns=(Column(title="What", strong=True, share=1), Column(title="Money", align="right", strong=True)),
        rows=tuple(sum_rows(found, plan)),
        whole=True,
    )
    named = [info.number, f"revision {info.revision}" if info.revision else "", info.date]
    blocks: list[Block] = [
        Facts(rows=(("Job", ",  ".join(part for part in named if part)), ("For", "the office, not the shop"))),
        Heading(text="Metal"),
        metal,
    ]
    if found.work:
        blocks += [Heading(text="Work"), work]
    blocks += [Heading(text="All"), sums, *(Para(text=paper(line), size=10) for line in beside(found, plan))]
    blocks.append(Notice(title="Not in this quote", items=NOT_IN, size=10))
    return Page(key="quote", kind="buy", title=f"Quote: {info.name}", blocks=tuple(blocks), on_screen=False)


def write_quote(found: Quote, plan: Plan, out: Path, *, paper_size: str = "letter") -> Path:
    """Write the quote as a PDF of its own."""
    info = plan.job.info
    check_job(plan.job)
    packet = Packet(
        number=info.number,
        name=info.name,
        revision=info.revision,
        date=info.date,
        paper="a4" if paper_size == "a4" else "letter",
        pages=(quote_page(found, plan),),
        units=info.units,
    )
    return write_file(out, typeset(packet, file=plan.job.file))
