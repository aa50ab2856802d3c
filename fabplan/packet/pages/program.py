"""At the shear: the program of the whole job, every setting once."""

from __future__ import annotations

from collections.abc import Sequence

from fabplan.nesting.model import CutPlan, ProgramStep
from fabplan.packet.model import Block, Column, Page, Para, Table
from fabplan.packet.pages.cautions import AT_SHEAR
from fabplan.plan.model import Plan
from fabplan.plotter.sheet.cut_lie import slanted, stop_hand
from fabplan.plotter.sheet.replay import MadeCut, is_rectangle, replay
from fabplan.speech.format import Say, count, spans

SAME_CUTS = (
    "The same cuts in the order of fewest settings: not more cuts. Work either by this page or pattern by pattern, not "
    "by both. Pieces, edges and the marks of every single cut are on the pattern pages."
)


def _each(cuts: Sequence[int], times: int) -> str:
    """``, 5 times``, or nothing for once."""
    return "" if times == 1 else f" ({times:,} times)" if len(cuts) == 1 else f" ({times:,} times each)"


def _made(cut: CutPlan, number: int, cuts: Sequence[int]) -> list[MadeCut]:
    """These cuts of a pattern, as made."""
    return [made for made in replay(cut.layouts[number - 1]) if made.cut.step in cuts]


def _by_hand(cut: CutPlan, step: ProgramStep) -> str:
    """``pull`` for cut-offs of coils, ``marks`` for cuts to marks, or both."""
    pulled = {made.pull is not None for number, cuts, _ in step.items for made in _made(cut, number, cuts)}
    return ", ".join(word for word, pull in (("marks", False), ("pull", True)) if pull in pulled)


def _at_stop(cut: CutPlan, step: ProgramStep) -> bool:
    """Whether any cut of a step has a side of its metal on the stop."""
    return step.back_gauge is not None and any(
        not made.outline or is_rectangle(made.outline) or stop_hand(made)
        for number, cuts, _ in step.items
        for made in _made(cut, number, cuts)
    )


def _by_stop(cut: CutPlan, step: ProgramStep, number: int, cuts: Sequence[int]) -> str:
    """``4–6``; at the stop by its hand, where that matters: ``4, stop left; 6, stop right``."""
    if step.back_gauge is None:
        return spans(cuts)
    hands: dict[str, list[int]] = {}
    for made in _made(cut, number, cuts):
        hands.setdefault(stop_hand(made) if slanted(made) else "", []).append(made.cut.step)
    return "; ".join(f"{spans(found)}, stop {hand}" if hand else spans(found) for hand, found in hands.items())


def program_page(plan: Plan, say: Say) -> Page | None:
    """Order of the settings over the whole job: set the back gauge once, make every cut that takes it."""
    cut = plan.cut_plan
    if cut is None or cut.program is None or not cut.program.steps:
        return None
    program = cut.program
    after = plan.job.done.patterns
    stopped = any(step.angle != 90 for step in program.steps)
    columns = [
        Column(title="Step", align="centre", strong=True, size=13),
        Column(title="Back gauge", align="right", size=16, strong=True),
    ]
    if stopped:
        columns.append(Column(title="Angle stop", align="right", size=13, strong=True))
    columns += [
        Column(title="Cuts", align="right"),
        Column(title="Which", share=1),
        Column(title="Done", align="centre", tick=True),
    ]
    rows = []
    for step in program.steps:
        gauge = say.bare(step.back_gauge * cut.grid) if step.back_gauge is not None else _by_hand(cut, step)
        cells = [str(step.step), gauge]
        if stopped:
            cells.append(say.degrees(step.angle) if _at_stop(cut, step) else "–")
        made = ". ".join(
            f"pattern {after + number}: {'cut' if len(cuts) == 1 else 'cuts'} {_by_stop(cut, step, number, cuts)}"
            f"{_each(cuts, times)}"
            for number, cuts, times in step.items
        )
        rows.append((*cells, f"{sum(len(cuts) * times for _, cuts, times in step.items):,}", made, ""))
    marked = sum(step.back_gauge is None for step in program.steps)
    says = (
        count(len(program.steps), "step")
        + (f", {marked} of them to marks or pulled" if marked else "")
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
