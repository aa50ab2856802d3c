"""At the shear: the program of the whole job, every setting once."""

from __future__ import annotations

from fabplan.packet.cautions import AT_SHEAR
from fabplan.packet.model import Block, Column, Page, Para, Table
from fabplan.packet.say import Say, count, spans
from fabplan.plan.model import Plan

SAME_CUTS = (
    "The same cuts in the order of fewest settings: not more cuts. Work either by this page or pattern by pattern, not "
    "by both. Pieces, marks and edges are on the pattern pages."
)


def program_page(plan: Plan, say: Say) -> Page | None:
    """Order of the settings over the whole job: set the back gauge once, make every cut that takes it."""
    cut = plan.cut_plan
    if cut is None or cut.program is None or not cut.program.steps:
        return None
    program = cut.program
    slanted = any(step.angle != 90 for step in program.steps)
    columns = [
        Column(title="Step", align="centre", strong=True, size=13),
        Column(title="Back gauge", align="right", size=16, strong=True),
    ]
    if slanted:
        columns.append(Column(title="Angle stop", align="right", size=13, strong=True))
    columns += [
        Column(title="Cuts", align="right"),
        Column(title="Which", share=1),
        Column(title="Done", align="centre", tick=True),
    ]
    rows = []
    for step in program.steps:
        gauge = "marks" if step.back_gauge is None else say.bare(step.back_gauge * cut.grid)
        cells = [str(step.step), gauge]
        if slanted:
            cells.append("–" if step.back_gauge is None else say.degrees(step.angle))
        made = "; ".join(
            f"pattern {number}: {'cut' if len(cuts) == 1 else 'cuts'} {spans(cuts)}, {count(times, 'time')}"
            for number, cuts, times in step.items
        )
        rows.append((*cells, f"{sum(len(cuts) * times for _, cuts, times in step.items):,}", made, ""))
    marked = sum(step.back_gauge is None for step in program.steps)
    says = (
        count(len(program.steps), "step")
        + (f", {marked} of them to marks" if marked else "")
        + f". Gauge and stop are set {count(program.settings, 'time')}, instead of "
        f"{program.settings_layout_by_layout:,} when cut pattern by pattern; no order needs fewer than "
        f"{program.least_settings:,}. Cut pieces wait on up to {count(program.most_open_stacks, 'stack')} for a later "
        "step: mark each with its pattern and cut."
    )
    blocks: list[Block] = [
        Para(text=SAME_CUTS),
        Para(text=says, size=10),
        Table(name=f"Shear program of the whole job, sizes in {say.units}", columns=tuple(columns), rows=tuple(rows)),
    ]
    return Page(
        key="program", kind="program", title="Shear program", blocks=tuple(blocks), landscape=True, caution=AT_SHEAR
    )
