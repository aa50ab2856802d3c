"""Whether a plan saved earlier is a better plan of the same job than the one a run was stopped with."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from pathlib import Path

from fabplan.errors import FabplanError
from fabplan.job.metals import MetalProfile
from fabplan.job.model import Job, RackStock
from fabplan.nesting.model import CutPlan
from fabplan.plan.file import parts_json, read_plan, saved
from fabplan.plan.model import Plan
from fabplan.plan.prove import rack_stock


def better_saved(path: Path, plan: Plan) -> CutPlan | None:
    """The cut plan saved at `path`, when it is cut from the same stock for the same blanks and takes less.

    A file that is missing, unreadable, of another job, or that its checker does not pass is no better plan.
    """
    new = plan.cut_plan
    if new is None or not path.is_file():
        return None
    try:
        data = read_plan(path)
        said = saved(data)
        old = said.nesting
        if old is None or said.units != plan.job.info.units or said.round_to != int(plan.job.info.round_to):
            return None
        if data["blanks"] != parts_json(plan.patterns, plan.job):
            return None
        own = tuple(line for line in plan.job.stock if not isinstance(line, RackStock) or line.form != "offcut")
        job = plan.job.model_copy(update={"stock": (*own, *rack_stock(old))})
        if old.objective != new.objective or not _less(old, new) or not _sound(old, plan, job, plan.metals):
            return None
    except FabplanError:
        return None
    return old


def _less(old: CutPlan, new: CutPlan) -> bool:
    return (_missing(old), Fraction(old.total)) < (_missing(new), Fraction(new.total))


def _missing(cut_plan: CutPlan) -> int:
    return sum(n for _, n in cut_plan.short)


def _sound(old: CutPlan, plan: Plan, job: Job, metals: Mapping[str, MetalProfile]) -> bool:
    from fabplan.nesting.check.whole import check_plan
    from fabplan.plan.prove import shaped

    return not shaped(lambda: check_plan(old, plan.patterns, job, metals))
