"""Proves the strokes of the turned ends: made last, at the bench, each with a hand tool of the shop that takes it."""

from __future__ import annotations

import math
from collections.abc import Sequence

from fabplan.bending.check.common import ANGLE_TOLERANCE, differs, inch
from fabplan.bending.model import Check, Gauge, Hold, Step, Turn
from fabplan.blanks.model import EndTurn, FlatPattern, Fold
from fabplan.job.model import HemTool, Job

SLOT = (-1 / 64, 1 / 16)  # inches a fixed slot may be shallower or deeper than the flap


def end_faults(
    steps: Sequence[Step], before: Sequence[Step], pattern: FlatPattern, job: Job
) -> tuple[list[str], int, int]:
    """Faults of the bench strokes of a section after its others; turn-overs and swaps of ends among them."""
    tools = {tool.name: tool for tool in job.hem_tools}
    left = {fold.edge: (end, fold) for end in pattern.ends for fold in (end.fold, *end.tabs)}
    made = {fold.edge for fold in pattern.folds}
    last = before[-1] if before else None
    faults: list[str] = []
    overs = swaps = 0
    for step in steps:
        name = f"step {step.step}"
        if step.edge not in left:
            return [*faults, f"{name}: there is no fold {step.edge} left to make at an end"], overs, swaps
        end, fold = left.pop(step.edge)
        if fold is not end.fold and end.fold.edge in left:
            faults.append(f"{name}: a tab is folded round what is not turned yet")
        if step.done != tuple(sorted(made)):
            faults.append(f"{name} says folds {step.done} are made, they are {tuple(sorted(made))}")
        over = last is not None and last.side_up != step.side_up
        swap = last is not None and last.at not in {"", step.at}
        if step.turns_over != over or step.turn != Turn(over="end" if over else "", swap=swap):
            faults.append(f"{name}: its turn does not bring end {step.at} round, {step.side_up} up")
        if step.changes_tool != (last is not None and last.tool != step.tool):
            faults.append(f"{name}: a change of tool is told wrongly")
        faults += [f"{name}: {fault}" for fault in _stroke(step, end, fold, tools.get(step.tool))]
        overs, swaps, last = overs + over, swaps + swap, step
        made.add(step.edge)
    return faults + [f"fold {edge} at an end is never made" for edge in left], overs, swaps


def _stroke(step: Step, end: EndTurn, fold: Fold, tool: HemTool | None) -> list[str]:
    """One fold with one tool."""
    if tool is None:
        return [f"the shop has no {step.tool}"]
    faults = []
    if step.action != "fold" or step.at != end.at or step.end_in or step.rotates or step.loading or step.far:
        faults.append("it is not a fold of its end at the bench")
    if not step.toward == step.side_up == fold.toward:
        faults.append(f"it goes toward the {fold.toward}, which must lie up")
    if any(differs(a, fold.turned, ANGLE_TOLERANCE) for a in (step.turned_deg, step.set_deg, step.check_deg)):
        faults.append(f"it is turned {fold.turned:g} degrees")
    if step.check != Check(what="flap", size=step.check.size) or differs(step.check.size, fold.width):
        faults.append("its check size is not that of its flap")
    straight = fold.width - fold.setback
    if differs(step.stop, straight) or step.gauged_from != Gauge(what="edge", ref=fold.edge):
        faults.append("its depth is not that of the flap")
    long = math.dist(*fold.line)
    bite, slot = inch(tool.longest_fold), inch(tool.slot_depth)
    mallet = any(word in tool.name.lower() for word in ("mallet", "hammer"))
    if fold.turned > tool.largest_angle + ANGLE_TOLERANCE:
        faults.append(f"the {tool.name} turns {tool.largest_angle:g} degrees")
    if not inch(tool.least_fold) - 1e-6 <= fold.width <= inch(tool.greatest_fold) + 1e-6:
        faults.append(f"the {tool.name} does not hold a fold {fold.width:.3f} in wide")
    if long > bite + 1e-6 and not tool.in_bites:
        faults.append(f"the {tool.name} folds {bite:.3f} in at a time")
    if slot and not SLOT[0] - 1e-6 <= slot - straight <= SLOT[1] + 1e-6:
        faults.append(f"the slot of the {tool.name} is not as deep as the flap")
    if fold is end.fold and end.between and bite > end.between + 1e-6 and not mallet:
        faults.append(f"the {tool.name} does not go in between legs {end.between:.3f} in apart")
    bites = math.ceil(long / bite - 1e-9) if tool.in_bites and long > bite + 1e-9 and not mallet else 0
    hold = Hold(
        way="slot" if slot else "jaws", loose=step.hold.loose, bites=bites, bite=bite if bites else 0.0
    )  # fmt: skip
    if step.hold != hold or differs(step.hold.loose, slot - straight if slot else 0.0):
        faults.append("how it is held is told wrongly")
    return faults
