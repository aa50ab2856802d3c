"""Prove a roof plan again from the job and the flat patterns alone.

Own ray casting, own hulls, own arithmetic; nothing of the layout is used. Sizes are measured off the plan, every
lattice place is sampled, and everything that is counted is counted again.
"""

from __future__ import annotations

from collections.abc import Sequence

from fabplan.blanks.model import FlatPattern
from fabplan.job.model import Job
from fabplan.roof.check.cells import check_cells
from fabplan.roof.check.sizes import check_sizes
from fabplan.roof.check.totals import check_totals
from fabplan.roof.model import RoofPlan


def check_roof(plan: RoofPlan, job: Job, patterns: Sequence[FlatPattern]) -> list[str]:
    """Faults of a roof plan; an empty list when it holds.

    Parameters
    ----------
    plan : RoofPlan
    job : Job
    patterns : sequence of FlatPattern
        Flat patterns of the job's pieces (their counts are not used).
    """
    by_mark = {p.mark: p for p in patterns}
    return [*check_sizes(plan, job), *check_cells(plan, job, by_mark), *check_totals(plan, job, by_mark)]
