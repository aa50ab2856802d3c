"""What a saved cut plan says beside its layouts: the program's order, the names of offcuts, the proven least."""

from __future__ import annotations

from fractions import Fraction

from fabplan.job.model import Job
from fabplan.nesting.model import CutPlan

_OFF_GRID = 1e-2  # graduations: the file keeps six decimals of an inch
_FLOAT = Fraction(1, 10**6)


def bound_faults(plan: CutPlan, least: Fraction) -> list[str]:
    """Whether the proven least holds; a lower claim is also true."""
    if plan.bound > min(least, plan.total) * (1 + _FLOAT):
        return ["the proven least is above what the job gives: it is not proven"]
    return []


def rival_faults(plan: CutPlan, job: Job) -> list[str]:
    """Other ways of cutting never cost less than the proven least, nor than the plan when cost alone decided."""
    faults = []
    only_cost = not job.nest.fewer_setups and not job.nest.offcut_credit and not plan.short
    for rival in plan.rivals:
        if rival.total is None:
            continue
        if rival.total < plan.bound * (1 - _FLOAT):
            faults.append(f"another way of cutting ({rival.way.replace('_', ' ')}) costs less than the proven least")
        elif only_cost and rival.total < plan.total * (1 - _FLOAT):
            faults.append(f"another way of cutting ({rival.way.replace('_', ' ')}) costs less than the plan")
    return faults


def program_faults(plan: CutPlan, job: Job) -> list[str]:
    """Whether the shear program is the one the layouts give."""
    from fabplan.nesting.cuts.program import shear_program

    wanted = shear_program(plan.layouts, job.nest.open_stacks, job.labour)
    if wanted is None or plan.program is None:
        return [] if wanted is plan.program else ["a shear program too many or too few"]
    faults = [
        f"the program's {name.replace('_', ' ')} is {getattr(plan.program, name)}, the layouts give {right}"
        for name in ("settings", "settings_layout_by_layout", "most_open_stacks", "least_settings")
        if getattr(plan.program, name) != (right := getattr(wanted, name))
    ]
    if len(plan.program.steps) != len(wanted.steps):
        return [*faults, f"the program has {len(plan.program.steps)} steps, the layouts give {len(wanted.steps)}"]
    faults += [
        f"program step {is_.step} is not the one the layouts give"
        for is_, must in zip(plan.program.steps, wanted.steps, strict=True)
        if is_ != must
    ]
    return faults


def label_faults(plan: CutPlan, job: Job) -> list[str]:
    """Whether offcuts to keep are numbered in order, on from those of before, and the others not."""
    faults: list[str] = []
    number = job.done.offcuts
    for n, layout in enumerate(plan.layouts, start=1):
        for o in layout.offcuts:
            number += o.keep
            if o.number != (number if o.keep else None):
                faults.append(f"layout {n}: a leftover has the number {o.number}")
    return faults


def box_faults(plan: CutPlan) -> list[str]:
    """Whether the width and length of a slanted blank are those of its outline, rounded outward once."""
    faults = []
    for n, layout in enumerate(plan.layouts, start=1):
        for b in layout.blanks:
            if b.outline is None:
                continue
            spare = (b.x + b.width - max(p[0] for p in b.outline), b.y + b.length - max(p[1] for p in b.outline))
            if max(spare) >= 1 + _OFF_GRID:
                faults.append(f"layout {n}: {b.mark} at ({b.x}, {b.y}) is listed larger than it is")
    return faults
