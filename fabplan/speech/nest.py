"""What the page and the screen tell of a cut plan beside its figures: plain sentences from its facts."""

from __future__ import annotations

from fractions import Fraction
from typing import assert_never

from fabplan.job.model import Job
from fabplan.nesting.model import CutPlan, Offcut
from fabplan.nesting.remarks import (
    Credit,
    FewerSetups,
    LeastMetal,
    LooseLeast,
    NearlyAlike,
    Note,
    OffcutsUsed,
    OpenStacks,
    Outcome,
    Paired,
    Rival,
    Snipped,
    TooWide,
    Unpriced,
)
from fabplan.speech.format import listed
from fabplan.speech.labour import time_words
from fabplan.speech.worth import amount
from fabplan.units import NM_PER_INCH, Show

WAYS = {"packer": "best rectangle packer", "one_size": "one size per strip"}
ORDERS = {"area": "largest area first", "length": "longest first", "width": "widest first"}


def notes(plan: CutPlan, job: Job) -> tuple[str, ...]:
    """The notes of a cut plan, in its order."""
    show = Show(job.info.units, int(job.info.round_to))
    told = [_note(note, plan, job, show) for note in plan.notes]
    if job.nest.prefer_on_hand:
        share = show.percent(float(job.nest.prefer_on_hand))
        told.append(f"In the total, metal on hand counts {share} below its price, as prefer_on_hand asks.")
    return tuple(told)


def _note(note: Note, plan: CutPlan, job: Job, show: Show) -> str:
    if isinstance(note, Unpriced):
        return f"Planned for the least metal, not money: {listed(note.stock)} has no price."
    if isinstance(note, OffcutsUsed):
        free = " They are paid for and count for nothing in the total." if note.free else ""
        return f"{note.used} of {note.offered} offcuts on hand are used.{free}"
    if isinstance(note, Credit):
        value = _value(note.amount, plan, job, show)
        return f"Offcuts going back on the rack are credited at {value}; the total is before that credit."
    if isinstance(note, Paired):
        return f"{listed(note.marks)}: {_paired(note, plan, job, show)}"
    if isinstance(note, Snipped):
        low, high = job.shear.angle_stop
        return (
            f"{listed(note.marks)}: the angle stop ({low:g} to {high:g} degrees) does not reach every slanted side. "
            "The shear leaves a box, and the sides are scribed and snipped at the bench."
        )
    if isinstance(note, LooseLeast):
        return "The proven least counts only the bare area of the few slanted blanks that share a strip."
    if isinstance(note, FewerSetups):
        return _fewer(note)
    if isinstance(note, LeastMetal):
        if not note.saves:
            return "Counting work took no more metal: no plan found takes less."
        metal = _value(note.saves, plan, job, show) if plan.objective == "money" else amount(note.saves, plan, job)
        return f"The least metal found would save {metal} of metal and take {time_words(note.more)} more at the shear."
    if isinstance(note, TooWide):
        return (
            f"{note.mark} is {show.length(note.over * plan.grid)} too wide to come {note.across} across {note.stock}: "
            f"at {show.length(note.fits * plan.grid)} it would, if its size may change."
        )
    if isinstance(note, NearlyAlike):
        return (
            f"{note.mark} and {note.other} differ by {show.length(note.differ * plan.grid)} in width: "
            "one width would share a strip and a setting."
        )
    if isinstance(note, OpenStacks):
        return f"One panel alone leaves {note.most} stacks lying open: {note.asked} cannot be held."
    assert_never(note)


def _paired(note: Paired, plan: CutPlan, job: Job, show: Show) -> str:
    if note.how == "not_asked":
        return "each cut from its own rectangle, as the job asks (pair = false)."
    if note.saved is None:
        return "nesting head to tail saves nothing here; each comes from its own rectangle."
    return (
        f"nested head to tail by slanted cuts, which saves about {_value(note.saved, plan, job, show)} "
        f"({note.share * 100:.1f} %) against cutting each from its own rectangle."
    )


def _fewer(note: FewerSetups) -> str:
    if note.layouts == note.before and not note.more:
        return "No plan with fewer set-ups was found within the metal allowed for it."
    return (
        f"For fewer set-ups: {note.layouts} layouts instead of {note.before}, for {note.more * 100:.2f} % more metal."
    )


def _value(amount: Fraction, plan: CutPlan, job: Job, show: Show) -> str:
    if plan.objective == "money":
        return f"{job.info.currency} {float(amount):,.2f}".strip()
    return show.area(float(amount) * (plan.grid / NM_PER_INCH) ** 2)


def rival_name(rival: Rival) -> str:
    """What another way of cutting is called."""
    return WAYS[rival.way]


def rival_words(rival: Rival) -> str:
    """How another way of cutting came out."""
    return "; ".join(dict.fromkeys(_outcome(o) for o in rival.outcomes))


def _outcome(o: Outcome) -> str:
    if o.what == "packed":
        return f"best of {o.packings} packings, {ORDERS[o.order or 'area']}"
    if o.what == "one_size":
        return "each strip holds one size"
    if o.what == "not_cuttable":
        return "needs cuts this shear cannot make"
    if o.what == "not_tried":
        return "not tried: too many pieces for it"
    if o.what == "left_over":
        return "leaves pieces over: the stock does not take them all"
    if o.what == "no_strip":
        return f"has no strip for {o.mark} with the stock on hand and this shear"
    assert_never(o.what)


def offcut_name(offcut: Offcut) -> str:
    """``K7`` on an offcut to keep; nothing on others."""
    return "" if offcut.number is None else f"K{offcut.number}"
