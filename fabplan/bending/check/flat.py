"""Replay of a flat piece: flaps are turned about their lines, and what a tool presses is found by sampling points."""

from __future__ import annotations

import math

import numpy as np

from fabplan.bending.check.common import angle_faults, differs, inch
from fabplan.bending.check.flaps import BRAKE, CLEAR, Replay, depth_of, place_of
from fabplan.bending.check.press import landing_faults, pressed_faults
from fabplan.bending.model import BendSchedule, Step
from fabplan.blanks.model import FlatPattern
from fabplan.job.metals import MetalProfile
from fabplan.job.model import Job

SAME = 0.5  # degrees


def replay_flat(schedule: BendSchedule, pattern: FlatPattern, job: Job, metal: MetalProfile) -> list[str]:
    """Faults of a flat piece's schedule."""
    replay = Replay(
        pattern=pattern,
        folds=pattern.folds,
        places=tuple(place_of(f) for f in pattern.folds),
        turned=[0.0] * len(pattern.folds),
        tools={t.name: t for t in job.hem_tools},
        brake=job.brake,
        metal=metal,
    )
    by_edge = {f.edge: i for i, f in enumerate(pattern.folds)}
    faults: list[str] = []
    overs = rotations = changes = 0
    for step in schedule.steps:
        if step.edge not in by_edge:
            return [*faults, f"step {step.step}: edge {step.edge} has no fold"]
        i = by_edge[step.edge]
        faults += _order(replay, step, i)
        over, rotate, change, turn_faults = _turning(replay, step, i)
        overs, rotations, changes = overs + over, rotations + rotate, changes + change
        faults += turn_faults
        if not faults:
            faults += _tool(replay, step, i)
        if not faults:
            faults += _sizes(replay, step, i) + pressed_faults(replay, step, i) + landing_faults(replay, step, i)
        if faults:
            return faults
        replay.turned[i] = step.turned_deg
        replay.at_tool, replay.side_up, replay.tool = i, step.side_up, step.tool
    counts = (schedule.turn_overs, schedule.rotations, schedule.tool_changes)
    if counts != (overs, rotations, changes):
        faults.append(f"turn-overs, rotations and tool changes are {overs}, {rotations}, {changes}, not {counts}")
    return faults + _end_shape(replay)


# one stroke ----------------------------------------------------------------------------------------------------------


def _order(replay: Replay, step: Step, i: int) -> list[str]:
    fold, was = replay.folds[i], replay.turned[i]
    faults = []
    done = tuple(sorted(f.edge for f, t in zip(replay.folds, replay.turned, strict=True) if t >= f.turned - 1e-6))
    if step.done != done:
        faults.append(f"step {step.step} says edges {step.done} are folded, they are {done}")
    if step.action == "close":
        if not (fold.hem and 90 <= was < 180):
            faults.append(f"step {step.step} closes edge {step.edge}, which is turned {was:g} degrees")
    elif was != 0:
        faults.append(f"step {step.step}: edge {step.edge} is already turned {was:g} degrees")
    if step.toward != fold.toward or step.side_up != fold.toward:
        faults.append(f"step {step.step}: edge {step.edge} goes toward the {fold.toward}, which must be up")
    if step.end_in or step.loading:
        faults.append(f"step {step.step}: a flat piece has no end to put in")
    return faults


def _turning(replay: Replay, step: Step, i: int) -> tuple[int, int, int, list[str]]:
    """Turn-overs, rotations and tool changes of this step, and whether flags and words say so."""
    if replay.at_tool < 0:
        said = step.turn or step.turns_over or step.rotates or step.changes_tool
        return 0, 0, 0, ([f"step {step.step} turns the piece before anything is done"] if said else [])
    over = step.side_up != replay.side_up
    here, there = replay.places[replay.at_tool].bearing, replay.places[i].bearing
    gap = abs((there - here + 180) % 360 - 180)
    if over:
        gap = min(gap, 180 - gap)
    rotate, change = gap > SAME, step.tool != replay.tool
    faults = []
    if (step.turns_over, step.rotates, step.changes_tool) != (over, rotate, change):
        faults.append(f"step {step.step} is marked with the wrong turn-over, rotation or tool change")
    if ("turn over" in step.turn) != over or ("rotate" in step.turn) != rotate:
        faults.append(f'step {step.step}: "{step.turn}" does not bring edge {step.edge} to the tool')
    elif rotate:
        faults += _rotation(replay, step, here, there, over)
    return int(over), int(rotate), int(change), faults


def _rotation(replay: Replay, step: Step, here: float, there: float, over: bool) -> list[str]:
    """Follow the words on the table: the edge's direction must end where the tool is."""
    up_before, up_after = replay.side_up == "face", step.side_up == "face"
    tool = here if up_before else 180 - here  # direction of the tool as seen from above
    seen = there if up_before else 180 - there
    if over:  # away from you: mirrored across the line of the tool's edge; left to right: across the tool's direction
        seen = (2 * tool + 180 - seen) if "away" in step.turn else (2 * tool - seen)
    _ = up_after
    turns = {"an eighth turn": 45.0, "a quarter turn": 90.0, "three eighths of a turn": 135.0, "half a turn": 180.0}
    size = next((a for words, a in turns.items() if words in step.turn), None)
    if size is None:
        digits = step.turn.split("rotate ")[-1].split("°")[0]
        size = float(digits) if digits.replace(".", "", 1).isdigit() else math.nan
    seen += -size if "to the right" in step.turn else size
    if not abs((seen - tool + 180) % 360 - 180) < 1.0:
        return [f'step {step.step}: "{step.turn}" leaves edge {step.edge} away from the tool']
    return []


def _tool(replay: Replay, step: Step, i: int) -> list[str]:
    fold, length = replay.folds[i], replay.places[i].length
    name = f"step {step.step}"
    if step.tool == BRAKE:
        b = replay.brake
        least, most, longest = inch(b.least_flange), math.inf, inch(b.longest_bend)
        largest, bites, slot = min(b.largest_angle, 180.0 - b.nose_angle), False, 0.0
        closes = fold.width <= inch(b.deepest_flattened_hem) + 1e-6
    elif step.tool in replay.tools:
        t = replay.tools[step.tool]
        least, most, longest = inch(t.least_fold), inch(t.greatest_fold), inch(t.longest_fold)
        largest, closes, bites, slot = t.largest_angle, t.closes_hems, t.in_bites, inch(t.slot_depth)
    else:
        return [f"{name}: there is no {step.tool}"]
    faults = []
    if step.tool == BRAKE:
        behind = -float(replay.places[i].local(np.array(replay.pattern.snipped))[:, 1].min())
        if not inch(replay.brake.least_clamp) - 1e-6 <= behind <= inch(replay.brake.throat) + 1e-6:
            faults.append(f"{name}: {behind:.2f} in behind the fold do not suit the leaf brake")
    if not least - 1e-6 <= fold.width <= most + 1e-6:
        faults.append(f"{name}: the {step.tool} does not take a fold {fold.width:g} in wide")
    if length > longest + 1e-6 and not bites:
        faults.append(f"{name}: the fold is longer than the {step.tool}")
    if step.action == "close":
        return faults + ([] if closes else [f"{name}: the {step.tool} cannot close this hem"])
    if slot and not -CLEAR <= slot - (fold.width - fold.setback) <= 1 / 16 + 1e-6:
        faults.append(f"{name}: the slot of the {step.tool} does not suit the flap")
    goes = min(largest, fold.turned)
    if step.action == "fold" and goes < fold.turned - 1e-6:
        faults.append(f"{name}: the {step.tool} turns only {largest:g} degrees")
    if step.action == "pre-bend" and (not fold.hem or not 90 <= largest < 180):
        faults.append(f"{name}: no pre-bend with the {step.tool}")
    expected = fold.turned if step.action == "fold" else goes
    setting = expected
    if step.tool == BRAKE and step.action == "fold" and not fold.hem:
        setting = max(expected, min(expected + replay.brake.springback, largest))
    return faults + angle_faults(step, fold, replay.metal, expected=expected, setting=setting)


def _sizes(replay: Replay, step: Step, i: int) -> list[str]:
    """Stop and check size, measured on the turned flap itself."""
    fold, place = replay.folds[i], replay.places[i]
    deep = depth_of(fold, place)
    half = fold.bend_allowance / 2
    tolerance = 1 / 64 + abs(replay.pattern.rounding)
    faults = []
    if (step.gauged_from.what, step.gauged_from.ref) != ("edge", fold.edge):
        faults.append(f"step {step.step}: edge {fold.edge} is gauged from its own raw edge")
    if step.action != "close":
        stop = deep if step.tool == BRAKE else deep - half
        if differs(step.stop, stop, tolerance):
            faults.append(f"step {step.step}: the stop is {stop:.4f} in, not {step.stop:.4f}")
    zone = half * step.turned_deg / fold.turned
    size = deep - zone + fold.setback
    if differs(step.check.size, size, tolerance):
        faults.append(f"step {step.step}: the check size is {size:.4f} in, not {step.check.size:.4f}")
    if step.check.what != f"raw edge of edge {fold.edge} to the outside of its fold":
        faults.append(f'step {step.step}: "{step.check.what}" is not where that size is')
    if step.action == "close" and step.turned_deg != 180:
        faults.append(f"step {step.step} does not close to 180 degrees")
    return faults


# end shape ----------------------------------------------------------------------------------------------------------


def _end_shape(replay: Replay) -> list[str]:
    """Every fold at its angle, at its finished width, and its outside on the finished outline."""
    faults = []
    outline = replay.pattern.finished.outline
    slack = 1 / 64 + abs(replay.pattern.rounding)
    for fold, place, turned in zip(replay.folds, replay.places, replay.turned, strict=True):
        if differs(turned, fold.turned, 0.05):
            faults.append(f"edge {fold.edge} ends at {turned:g} degrees instead of {fold.turned:g}")
            continue
        outside = fold.setback - fold.bend_allowance / 2
        width = depth_of(fold, place) + outside
        if differs(width, fold.width, slack):
            faults.append(f"edge {fold.edge} comes out {width:.4f} in wide instead of {fold.width:.4f}")
        if len(outline) >= fold.edge:
            ends = np.array([outline[fold.edge - 1], outline[fold.edge % len(outline)]])
            off = np.abs(place.local(ends)[:, 1] - outside).max()
            if off > slack:
                faults.append(f"edge {fold.edge} comes out {off:.4f} in from the finished outline")
    return faults
