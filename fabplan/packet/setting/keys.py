"""Keys of the packet's pages: plain ASCII whatever the marks are, the same for the same plan."""

from __future__ import annotations

from fabplan.plan.model import Plan


def layout_key(number: int) -> str:
    """The page of a cutting layout, numbered from 1."""
    return f"layout-{number}"


def piece_key(plan: Plan, kind: str, mark: str) -> str:
    """The blank, bend or template page of a piece."""
    for number, pattern in enumerate((*plan.patterns, *plan.left_out), 1):
        if pattern.mark == mark:
            return f"{kind}-{number}"
    raise KeyError(mark)
