"""What a plan takes, metal and work: in money, or in metal where nothing has a price."""

from __future__ import annotations

from fractions import Fraction

from fabplan.job.model import Job
from fabplan.nesting.model import CutPlan
from fabplan.speech.format import Say
from fabplan.speech.labour import time_words


def counts_work(cut: CutPlan) -> bool:
    """Whether work is in the plan's total beside the metal."""
    return bool(cut.labour_total) and cut.total != cut.metal_total


def as_pounds(value: Fraction | float, cut: CutPlan) -> float:
    """A value of a plan without prices as the weight of so much of its metal."""
    area = sum(u.area for u in cut.stock)
    return float(value) * (sum(u.pounds for u in cut.stock) / area if area else 0.0)


def amount(value: Fraction | float, cut: CutPlan, job: Job) -> str:
    """A total of metal and work: money, or metal by weight."""
    say = Say.of(job)
    return say.money(value) if cut.objective == "money" else say.weight(as_pounds(value, cut))


def shear_time(cut: CutPlan) -> str:
    """How long the cutting takes."""
    return time_words(sum(s.seconds for s in cut.spent))


def sum_words(cut: CutPlan, job: Job, hand: str = "") -> str:
    """``Metal: USD 5,111.20. Work at the shear: USD 443.10 (5.9 h). Together: USD 5,554.30.``; `hand` after metal."""
    metal, work, both = (amount(v, cut, job) for v in (cut.metal_total, cut.labour_total, cut.total))
    worth = "" if cut.objective == "money" else "worth "
    return f"Metal: {metal}{hand}. Work at the shear: {worth}{work} ({shear_time(cut)}). Together: {both}."


def least_words(cut: CutPlan, job: Job) -> str:
    """The proven least of both sums, and how far above it the plan is."""
    both, metal = amount(cut.bound, cut, job), amount(cut.metal_bound, cut, job)
    above = cut.above_bound
    far = f" This plan is {Say.of(job).percent(above, 2)} above it." if above else ""
    return f"Proven least of metal and work: {both}.{far} Proven least of the metal alone: {metal}."
