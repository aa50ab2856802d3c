"""Hours on the cover: by station, and what was assumed."""

from __future__ import annotations

from fabplan.packet.model import Block, Column, Heading, Para, Table
from fabplan.plan.model import Plan
from fabplan.speech.format import paper
from fabplan.speech.labour import assumed_words, hours_rows


def hours_blocks(plan: Plan) -> list[Block]:
    """Heading and table; nothing when there is no work."""
    if not plan.hours:
        return []
    rows = hours_rows(plan.hours)
    table = Table(
        name="Hours",
        columns=(
            Column(title="Station", strong=True, size=9),
            Column(title="About", align="right", size=9),
            Column(title="Work", share=1, size=9),
        ),
        rows=tuple(rows),
        total=len(rows) > 1,
        whole=True,
        close=True,
    )
    return [Heading(text="Hours of work"), table]


def assumed_blocks(plan: Plan) -> list[Block]:
    """The times that no file says; nothing when all are said."""
    assumed = assumed_words(plan.job, {s.what for h in plan.hours for s in h.spent})
    return [Para(text=paper(assumed), size=9)] if assumed else []
