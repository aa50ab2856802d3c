"""One plain sentence for every status word, the same on the screen, in the file and on the page."""

from __future__ import annotations

from fabplan.nesting.model import CutPlan

STATUS = {
    "short": "The stock does not hold all the blanks: some pieces are missing from this plan.",
    "proven": "No plan cut in strips can cost less.",
    "within_margin": "Good enough: hardly above the least that any plan cut in strips can cost.",
    "not_proven": "The best plan found; a cheaper one is not ruled out.",
}


def status_sentence(plan: CutPlan) -> str:
    """The status of a cut plan in words."""
    if plan.status == "short" and plan.stopped_early:
        return "The search was stopped before it had all the blanks: some pieces are missing from this plan."
    return STATUS[plan.status]


def short_sentence(plan: CutPlan) -> str:
    """Why blanks are missing, without a stop at its end: the stock, or a search that was stopped."""
    if plan.stopped_early:
        return "the search was stopped before the stock was found to hold all the blanks"
    return "the stock on hand does not hold all the blanks"


def stopped_sentence(plan: CutPlan) -> str:
    """That the search was cut short, where a longer one could do better, and the clock somebody set for it.

    Nothing of a plan that is the proven least, but the clock.
    """
    if plan.time_limit is not None:
        clock = f"The search had {plan.time_limit:g} s (--seconds)"
        if not plan.stopped_early:
            return f"{clock} and ended before."
        if plan.status == "proven":
            return f"{clock}; another run may give another plan that takes as little."
        return f"Stopped early: the search had {plan.time_limit:g} s (--seconds); another run may give another plan."
    if not plan.stopped_early or plan.status == "proven":
        return ""
    return "Stopped early: the search was cut short; a longer run may find a better plan."
