"""Words for a blank that cannot be cut: which limit is in the way, and what it would take."""

from __future__ import annotations

from fabplan.job.model import Job
from fabplan.job.wording import listed
from fabplan.nesting.remarks import InTheWay, Uncut
from fabplan.units import Show

RAISED = ("longest_cut", "back_gauge_reach")


def uncut_words(uncut: Uncut, job: Job) -> tuple[str, str]:
    """What cannot be cut and why, and what helps."""
    show = Show(job.info.units, job.info.round_to)
    size = show.size(uncut.width, uncut.length)
    if not uncut.fits:
        return (
            f'Blank "{uncut.mark}" ({size}) fits on no stock of {uncut.metal}.',
            "Add wider or longer stock, let the blank turn, or split the piece.",
        )
    head = f'Blank "{uncut.mark}" ({size}) lies on the stock, but this shear cannot cut it out'
    if not uncut.ways:
        return f"{head}.", "Check longest_cut, back_gauge_reach and least_held under [shear], or add other stock."
    said = listed([_way(way, job, show) for way in uncut.ways], "or")
    return (
        f"{head}: {said}.",
        "Change that under [shear] only if your shear does it safely, or add stock.",
    )


def _way(way: InTheWay, job: Job, show: Show) -> str:
    if way.needs is None:
        low, high = job.shear.angle_stop
        return f"{way.key} reaches from {low:g} to {high:g} degrees, and another angle is needed"
    now = show.exact(getattr(job.shear, way.key))
    needs = show.exact(way.needs)
    return f"{way.key} is {now}, and it takes {needs} {'or more' if way.key in RAISED else 'or less'}"
