"""At bench and brake: the set-up sheet of the whole job, strokes by tool and setting."""

from __future__ import annotations

from fabplan.bending.model import SetUp
from fabplan.bending.setups import set_up_sheet
from fabplan.packet.model import Column, Page, Para, Table
from fabplan.packet.pages.cautions import AT_BRAKE
from fabplan.plan.model import Plan
from fabplan.speech.format import Say, spans
from fabplan.units import inches

WORDS = (
    "The strokes of all pieces in the order of few settings: set a tool once, make every stroke named with it on "
    "the whole batch, go on. Each piece's own order is kept. Work either by this page or piece by piece, not by both; "
    "sides, ends and check sizes stand on the sheets of the pieces."
)


FLAT = 180.0  # degrees


def setup_page(plan: Plan, say: Say) -> Page | None:
    """Set-ups of the job; none where fewer than two pieces are folded."""
    if len(plan.schedules) < 2:
        return None
    rows = []
    grid = inches(plan.job.info.round_to)
    sheet = plan.setups[0].setups if plan.setups else set_up_sheet(plan.schedules, grid)
    for number, one in enumerate(sheet, 1):
        stop = "–" if one.stop is None else say.bare(one.stop)
        if one.far_stop is not None:
            stop += f" to {say.bare(one.far_stop)}"
        turn = "closed" if one.stop is None and one.set_deg == FLAT else say.degrees(one.set_deg)
        rows.append((str(number), one.tool, stop, turn, _strokes(one), ""))
    table = Table(
        name="Set-up sheet",
        columns=(
            Column(title="Set-up", align="right", strong=True),
            Column(title="Tool"),
            Column(title="Stop or depth", align="right", strong=True),
            Column(title="Set", align="right", strong=True),
            Column(title="Strokes: piece, steps", share=1),
            Column(title="Done", align="centre", tick=True),
        ),
        rows=tuple(rows),
    )
    blocks = (Para(text=WORDS, size=10), table)
    return Page(key="set-up", kind="setup", title="Set-up sheet", blocks=blocks, caution=AT_BRAKE)


def _strokes(one: SetUp) -> str:
    """``A: 1–4; D: 2``."""
    marks = dict.fromkeys(mark for mark, _ in one.strokes)
    return "; ".join(f"{mark}: {spans(n for m, n in one.strokes if m == mark)}" for mark in marks)
