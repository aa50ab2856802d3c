"""From a fold order to the steps of a flat piece."""

from __future__ import annotations

import math
from dataclasses import dataclass

from fabplan.bending.brake.springback import metal_springback
from fabplan.bending.flat.fold_order import FINISHED, FLAT, PREBENT, FlatProblem, State, Stroke, apart
from fabplan.bending.model import Check, Gauge, Step
from fabplan.bending.tools import Tool
from fabplan.bending.words import angle_words, join, rotate_words
from fabplan.blanks.model import Fold
from fabplan.job.metals import MetalProfile
from fabplan.units import Show


@dataclass(frozen=True, slots=True)
class Bench:
    """What the steps are worded with."""

    problem: FlatProblem
    metal: MetalProfile
    springback: float
    show: Show


def flat_steps(bench: Bench, path: tuple[tuple[State, Stroke, State], ...]) -> tuple[Step, ...]:
    """One step a stroke, in order."""
    return tuple(_step(bench, i, before, stroke) for i, (before, stroke, _) in enumerate(path, 1))


def straight(fold: Fold) -> float:
    """Straight part of the flap, bend to raw edge: how deep a tool holds it."""
    return fold.width - fold.setback


def line_to_edge(fold: Fold) -> float:
    """Fold line (middle of the bend) to raw edge, on the blank."""
    return straight(fold) + fold.bend_allowance / 2


def prebent_width(fold: Fold, turned: float) -> float:
    """Outside of a pre-bent hem to its raw edge: part of the bend is still flat."""
    return fold.width + fold.bend_allowance * (1 - turned / fold.turned) / 2


def _step(bench: Bench, number: int, before: State, stroke: Stroke) -> Step:
    problem = bench.problem
    fold, tool = problem.folds[stroke.fold], problem.tools[stroke.tool]
    was = before.stages[stroke.fold]
    action = "close" if was == PREBENT else "pre-bend" if stroke.stage == PREBENT else "fold"
    turned = fold.turned if stroke.stage == FINISHED else min(tool.largest_angle, fold.turned)
    set_deg = turned
    if tool.is_brake and action == "fold" and turned < 180:
        set_deg = max(turned, min(turned + bench.springback, tool.largest_angle))
    stop = 0.0 if action == "close" else line_to_edge(fold) if tool.is_brake else straight(fold)
    size = fold.width if stroke.stage == FINISHED else prebent_width(fold, turned)
    up = "face" if problem.up[stroke.fold] else "back"
    turn = _turn(bench, before, stroke)
    check = Check(what=f"raw edge of edge {fold.edge} to the outside of its fold", size=size)
    done = tuple(sorted(problem.folds[j].edge for j, s in enumerate(before.stages) if s == FINISHED))
    return Step(
        step=number,
        edge=fold.edge,
        turn=turn,
        turns_over=stroke.turn_over,
        rotates=stroke.rotate,
        changes_tool=before.tool >= 0 and before.tool != stroke.tool,
        side_up=up,  # type: ignore[arg-type]
        end_in="",
        action=action,  # type: ignore[arg-type]
        turned_deg=turned,
        set_deg=set_deg,
        check_deg=turned,
        tool=tool.name,
        stop=stop,
        gauged_from=Gauge(what="edge", ref=fold.edge),
        check=check,
        done=done,
        toward=fold.toward,
        metal_springback=None if fold.turned >= 180 else metal_springback(bench.metal, fold.turned, fold.radius),
        says=_says(bench, before, stroke, tool, stop, turned, set_deg, size, action),
    )


def _turn(bench: Bench, before: State, stroke: Stroke) -> str:
    """How the piece is brought to the tool. Directions are seen from above, with the side that then faces up."""
    if before.edge < 0:
        return ""
    problem = bench.problem
    edge = problem.folds[stroke.fold].edge
    here, there = problem.frames[before.edge].direction, problem.frames[stroke.fold].direction
    if not stroke.turn_over:
        if stroke.fold == before.edge:
            return ""
        if not stroke.rotate:
            return f"shift to edge {edge}"
        turned = rotate_words((here - there) if before.face_up else (there - here), bench.show)
        return f"{turned}: edge {edge} to the tool"
    gap = apart(here, there)
    over_far = gap > 90  # the far edge comes to the tool when the piece is turned over away from you
    words = "turn over away from you" if over_far else "turn over left to right"
    if not stroke.rotate:
        return f"{words}: edge {edge} {'comes to' if stroke.fold != before.edge else 'stays at'} the tool"
    at_tool = here + 180 if over_far else here
    face_up = not before.face_up
    turned = rotate_words((at_tool - there) if face_up else (there - at_tool), bench.show)
    return f"{words}, then {turned}: edge {edge} to the tool"


def _says(
    bench: Bench,
    before: State,
    stroke: Stroke,
    tool: Tool,
    stop: float,
    turned: float,
    set_deg: float,
    size: float,
    action: str,
) -> str:
    problem, show = bench.problem, bench.show
    fold, frame = problem.folds[stroke.fold], problem.frames[stroke.fold]
    up = "Face up" if problem.up[stroke.fold] else "Back up"
    shim = f" on a shim of {show.length(fold.gap)}" if fold.gap > 0 else " flat"
    parts: list[str] = []
    if action == "close":
        how = "under the nose" if tool.is_brake else f"with the {tool.name}"
        parts.append(f"{up}. Close the hem of edge {fold.edge} {how}{shim}.")
    else:
        if tool.is_brake:
            hold = f"fold line under the nose, {show.length(stop)} from the raw edge"
        elif tool.slot_depth > 0:
            loose = tool.slot_depth - stop
            hold = f"edge {fold.edge} in the slot of the {tool.name}"
            if loose > bench.show.grid / 25_400_000 / 2:
                hold += f", {show.length(stop)} deep: set its edge on the fold line, do not push to the bottom"
        else:
            hold = f"{tool.name} {show.length(stop)} onto the flap"
        if tool.in_bites and frame.length > tool.longest_fold:
            bites = math.ceil(frame.length / tool.longest_fold - 1e-9)
            hold += f", in {bites} bites of up to {show.length(tool.longest_fold)} along the fold"
        parts.append(f"{up}. {hold[0].upper()}{hold[1:]}.")
        goal = f"turned {show.degrees(turned)}" if turned >= 180 else angle_words(turned, show)
        if action == "pre-bend":
            parts.append(f"Fold up as far as it goes, {goal}.")
        elif set_deg > turned:
            parts.append(f"Fold up, {angle_words(set_deg, show)}; let go, it reads {goal}.")
        else:
            parts.append(f"Fold up, {goal}{shim if turned >= 180 else ''}.")
    kept = _kept_clear(problem, before, stroke)
    if kept:
        parts.append(f"Stay off the {'folds' if len(kept) > 1 else 'fold'} of {join(kept)} at the corner.")
    down = [] if tool.is_brake else _hanging(problem, before, stroke)
    if down:
        points = "points" if len(down) == 1 else "point"
        parts.append(f"{join(down).capitalize()} {points} down now: lay the piece on a block, so that it hangs free.")
    parts.append(f"Check {show.length(size)} from the raw edge to the outside of the fold.")
    across = _across(problem, before, stroke)
    if across is not None:
        parts.append(f"Fold to fold across to edge {across[0]}: {show.length(across[1])}.")
    return " ".join(parts)


def _kept_clear(problem: FlatProblem, before: State, stroke: Stroke) -> list[str]:
    for setting in problem.setting(stroke.fold, stroke.tool, stroke.stage):
        if problem.clashes(setting, before.stages, stroke):
            continue
        return [
            f"edge {problem.folds[j].edge}"
            for j, q in enumerate(before.stages)
            if q != FLAT and setting.left_out.get((j, q), 0.0) > 1 / 32
        ]
    return []


def _hanging(problem: FlatProblem, before: State, stroke: Stroke) -> list[str]:
    """Edges folded part of the way whose flap points down at the tool."""
    return [
        f"edge {problem.folds[j].edge}"
        for j, q in enumerate(before.stages)
        if j != stroke.fold
        and problem.up[j] != problem.up[stroke.fold]
        and (q == PREBENT or (q == FINISHED and problem.folds[j].turned < 180))
    ]


def _across(problem: FlatProblem, before: State, stroke: Stroke) -> tuple[int, float] | None:
    """A finished fold facing the other way, and the finished size between the two folds."""
    if stroke.stage != FINISHED:
        return None
    me, mine = problem.frames[stroke.fold], problem.folds[stroke.fold]
    for j, q in enumerate(before.stages):
        other, theirs = problem.frames[j], problem.folds[j]
        if j == stroke.fold or q != FINISHED or abs(apart(me.direction, other.direction) - 180) > 0.1:
            continue
        lines = -me.local(other.origin)[1]
        grown = sum(f.setback - f.bend_allowance / 2 for f in (mine, theirs))
        return theirs.edge, lines + grown
    return None
