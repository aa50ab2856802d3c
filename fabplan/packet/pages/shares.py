"""Jobs cut in one shear run: what each takes of it, on the run's cover and on its own."""

from __future__ import annotations

from fabplan.packet.model import Block, Column, Heading, Para, Table
from fabplan.plan.model import Plan
from fabplan.plan.shares import run_mark
from fabplan.speech.format import Say, paper, spans
from fabplan.speech.labour import time_words
from fabplan.speech.worth import amount


def share_blocks(plan: Plan, say: Say) -> list[Block]:
    """The table of a run's shares; of a job cut in a run, where its blanks come from and what they cost."""
    if plan.cut_in is not None:
        return _cut_in(plan, say)
    cut = plan.cut_plan
    if not plan.shares or cut is None:
        return []
    rows: list[tuple[str, ...]] = [
        (
            s.number,
            f"{s.blanks:,}",
            spans(s.layouts),
            say.weight(s.pounds),
            amount(s.metal, cut, plan.job),
            amount(s.labour, cut, plan.job),
            amount(s.metal + s.labour, cut, plan.job),
            "",
        )
        for s in plan.shares
    ]
    all_of_it = (sum(s.pounds for s in plan.shares), cut.metal_total, cut.labour_total, cut.total)
    sums = (say.weight(float(all_of_it[0])), *(amount(v, cut, plan.job) for v in all_of_it[1:]))
    rows.append(("All", f"{sum(s.blanks for s in plan.shares):,}", "", *sums, ""))
    table = Table(
        name="Shares of the run",
        columns=(
            Column(title="Job", strong=True, share=1),
            Column(title="Blanks", align="right"),
            Column(title="Layouts", align="right"),
            Column(title="Weight", align="right"),
            Column(title="Metal", align="right"),
            Column(title="Shearing", align="right"),
            Column(title="Together", align="right", strong=True),
            Column(title="Done", align="centre", tick=True),
        ),
        rows=tuple(rows),
        total=True,
        whole=True,
    )
    words = (
        "Every blank is chalked with its job's number and its mark. The metal of a layout is shared by the area of the "
        "blanks in it, scrap and kept offcuts with them; its time by their number."
    )
    return [Heading(text="Shares of the run"), table, Para(text=words, size=10)]


def _cut_in(plan: Plan, say: Say) -> list[Block]:
    share = plan.cut_in
    assert share is not None
    mark = run_mark(plan.job.info.number, plan.patterns[0].mark) if plan.patterns else plan.job.info.number
    each = [say.weight(share.pounds)]
    if share.metal is not None and share.labour is not None:
        each += [f"metal {say.money(share.metal)}", f"shearing {say.money(share.labour)}"]
    words = (
        f"The blanks of this job are cut in shear run {share.run}, layouts {spans(share.layouts)}, and chalked "
        f"{mark} and so on. Its share: {', '.join(each)}, about {time_words(share.seconds)} at the shear."
    )
    return [Heading(text=f"Cut in shear run {share.run}"), Para(text=paper(words))]
