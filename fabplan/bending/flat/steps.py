"""From a fold order to the steps of a flat piece."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from fabplan.bending.brake.springback import metal_springback, overbend_set
from fabplan.bending.flat.fold_order import FINISHED, FLAT, PREBENT, FlatProblem, FoldState, FoldStroke, apart
from fabplan.bending.model import Check, Gauge, Hold, Step, Turn
from fabplan.bending.tools import BY_HAND
from fabplan.blanks.model import Fold
from fabplan.job.metals import MetalProfile

Action = Literal["fold", "pre-bend", "close"]


@dataclass(frozen=True, slots=True)
class FlatWork:
    """What the steps are made of."""

    problem: FlatProblem
    metal: MetalProfile
    springback: float


def flat_steps(bench: FlatWork, path: tuple[tuple[FoldState, FoldStroke, FoldState], ...]) -> tuple[Step, ...]:
    """One step a stroke, in order."""
    return tuple(_step(bench, i, before, stroke) for i, (before, stroke, _) in enumerate(path, 1))


def hand_steps(steps: tuple[Step, ...], folds: Sequence[Fold], by_hand: Mapping[int, float]) -> tuple[Step, ...]:
    """Edges left to the hands, last of all; the piece lies as it lay."""
    out = list(steps)
    done = sorted(f.edge for f in folds if f.edge not in by_hand)
    for fold in (f for f in folds if f.edge in by_hand):
        out.append(
            Step(
                step=len(out) + 1,
                edge=fold.edge,
                turn=Turn(),
                hold=Hold(way="by hand", by_hand=fold.turned),
                turns_over=False,
                rotates=False,
                changes_tool=False,
                side_up=out[-1].side_up if out else fold.toward,
                end_in="",
                action="by hand",
                turned_deg=fold.turned,
                set_deg=fold.turned,
                check_deg=fold.turned,
                tool=BY_HAND,
                stop=0.0,
                gauged_from=Gauge(what="edge", ref=fold.edge),
                check=Check(what="flap", size=fold.width),
                done=tuple(done),
                toward=fold.toward,
            )
        )
        done = sorted([*done, fold.edge])
    return tuple(out)


def straight(fold: Fold) -> float:
    """Straight part of the flap, bend to raw edge: how deep a tool holds it."""
    return fold.width - fold.setback


def line_to_edge(fold: Fold) -> float:
    """Fold line (middle of the bend) to raw edge, on the blank."""
    return straight(fold) + fold.bend_allowance / 2


def prebent_width(fold: Fold, turned: float) -> float:
    """Outside of a pre-bent hem to its raw edge: part of the bend is still flat."""
    return fold.width + fold.bend_allowance * (1 - turned / fold.turned) / 2


def _step(bench: FlatWork, number: int, before: FoldState, stroke: FoldStroke) -> Step:
    problem = bench.problem
    fold, tool = problem.folds[stroke.fold], problem.tools[stroke.tool]
    was = before.stages[stroke.fold]
    action: Action = "close" if was == PREBENT else "pre-bend" if stroke.stage == PREBENT else "fold"
    turned = fold.turned if stroke.stage == FINISHED else min(tool.largest_angle, fold.turned)
    set_deg = turned
    if tool.is_brake and action == "fold" and turned < 180:
        set_deg = max(
            turned, min(turned + overbend_set(bench.metal, turned, fold.radius, bench.springback), tool.largest_angle)
        )
    stop = 0.0 if action == "close" else line_to_edge(fold) if tool.is_brake else straight(fold)
    return Step(
        step=number,
        edge=fold.edge,
        turn=_turn(problem, before, stroke),
        hold=_hold(problem, before, stroke, action),
        turns_over=stroke.turn_over,
        rotates=stroke.rotate,
        changes_tool=before.tool >= 0 and before.tool != stroke.tool,
        side_up="face" if problem.up[stroke.fold] else "back",
        end_in="",
        action=action,
        turned_deg=turned,
        set_deg=set_deg,
        check_deg=turned,
        tool=tool.name,
        stop=stop,
        gauged_from=Gauge(what="edge", ref=fold.edge),
        check=_check(problem, before, stroke, turned),
        done=tuple(sorted(problem.folds[j].edge for j, s in enumerate(before.stages) if s == FINISHED)),
        toward=fold.toward,
        metal_springback=None if fold.turned >= 180 else metal_springback(bench.metal, fold.turned, fold.radius),
    )


def _check(problem: FlatProblem, before: FoldState, stroke: FoldStroke, turned: float) -> Check:
    fold = problem.folds[stroke.fold]
    size = fold.width if stroke.stage == FINISHED else prebent_width(fold, turned)
    edge, across = _across(problem, before, stroke)
    return Check(what="flap", size=size, across_edge=edge, across=across)


def _turn(problem: FlatProblem, before: FoldState, stroke: FoldStroke) -> Turn:
    """How the piece is brought to the tool. Directions are seen from above, with the side that then faces up."""
    if before.edge < 0:
        return Turn()
    here, there = problem.frames[before.edge].direction, problem.frames[stroke.fold].direction
    shift, face_up = stroke.fold != before.edge, before.face_up
    over: Literal["", "away", "sideways"] = ""
    at_tool = here
    if stroke.turn_over:
        far = apart(here, there) > 90  # the far edge comes to the tool when the piece is turned over away from you
        over, at_tool, face_up = ("away", here + 180, not face_up) if far else ("sideways", here, not face_up)
    turned = 0.0
    if stroke.rotate:
        turned = (at_tool - there) if face_up else (there - at_tool)
        turned = (turned + 180) % 360 - 180
    return Turn(over=over, rotate=turned, shift=shift)


def _hold(problem: FlatProblem, before: FoldState, stroke: FoldStroke, action: Action) -> Hold:
    fold, frame, tool = problem.folds[stroke.fold], problem.frames[stroke.fold], problem.tools[stroke.tool]
    shut = fold.turned >= 180 and stroke.stage == FINISHED
    in_bites = action != "close" and tool.in_bites and frame.length > tool.longest_fold
    way: Literal["nose", "jaws", "slot", "under nose", "pressed"]
    if action == "close":
        way = "under nose" if tool.is_brake else "pressed"
    else:
        way = "nose" if tool.is_brake else "slot" if tool.slot_depth > 0 else "jaws"
    return Hold(
        way=way,
        loose=tool.slot_depth - straight(fold) if way == "slot" else 0.0,
        bites=math.ceil(frame.length / tool.longest_fold - 1e-9) if in_bites else 0,
        bite=tool.longest_fold if in_bites else 0.0,
        shim=fold.gap if shut else None,
        clear_of=_kept_clear(problem, before, stroke),
        hanging=() if tool.is_brake else _hanging(problem, before, stroke),
    )


def _kept_clear(problem: FlatProblem, before: FoldState, stroke: FoldStroke) -> tuple[int, ...]:
    for setting in problem.setting(stroke.fold, stroke.tool, stroke.stage):
        if problem.clashes(setting, before.stages, stroke):
            continue
        return tuple(
            problem.folds[j].edge
            for j, q in enumerate(before.stages)
            if q != FLAT and setting.left_out.get((j, q), 0.0) > 1 / 32
        )
    return ()


def _hanging(problem: FlatProblem, before: FoldState, stroke: FoldStroke) -> tuple[int, ...]:
    """Edges folded part of the way whose flap points down at the tool."""
    return tuple(
        problem.folds[j].edge
        for j, q in enumerate(before.stages)
        if j != stroke.fold
        and problem.up[j] != problem.up[stroke.fold]
        and (q == PREBENT or (q == FINISHED and problem.folds[j].turned < 180))
    )


def _across(problem: FlatProblem, before: FoldState, stroke: FoldStroke) -> tuple[int, float]:
    """A finished fold facing the other way, and the finished size between the two folds; (0, 0) without."""
    if stroke.stage != FINISHED:
        return 0, 0.0
    me, mine = problem.frames[stroke.fold], problem.folds[stroke.fold]
    for j, q in enumerate(before.stages):
        other, theirs = problem.frames[j], problem.folds[j]
        if j == stroke.fold or q != FINISHED or abs(apart(me.direction, other.direction) - 180) > 0.1:
            continue
        lines = -me.local(other.origin)[1]
        grown = sum(f.setback - f.bend_allowance / 2 for f in (mine, theirs))
        return theirs.edge, lines + grown
    return 0, 0.0
