"""Replay of a flat piece: flaps are turned about their lines, and what a tool presses is found by sampling points."""

from __future__ import annotations

import math

import numpy as np

from fabplan.bending.check.common import angle_faults, differs, inch, own_overbend
from fabplan.bending.check.flaps import BRAKE, CLEAR, FlapReplay, depth_of, place_of
from fabplan.bending.check.press import landing_faults, pressed_faults
from fabplan.bending.model import BendSchedule, Hold, Step, Turn
from fabplan.blanks.model import FlatPattern
from fabplan.job.metals import MetalProfile
from fabplan.job.model import Job

SAME = 0.5  # degrees


def replay_flat(schedule: BendSchedule, pattern: FlatPattern, job: Job, metal: MetalProfile) -> list[str]:
    """Faults of a flat piece's schedule."""
    replay = FlapReplay(
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
    hands = {n: d for p in job.pieces if p.mark == pattern.mark for n, d in getattr(p, "finish_by_hand", ())}
    for step in schedule.steps:
        if step.edge not in by_edge:
            return [*faults, f"step {step.step}: edge {step.edge} has no fold"]
        i = by_edge[step.edge]
        if (step.action == "by hand") != (step.edge in hands):
            return [*faults, f"step {step.step}: what the job leaves to the hands is not left to them"]
        if step.action == "by hand":
            faults += _hand_stroke(replay, step, i, hands)
            replay.turned[i] = step.turned_deg
            continue
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


def _order(replay: FlapReplay, step: Step, i: int) -> list[str]:
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


def _hand_stroke(replay: FlapReplay, step: Step, i: int, hands: dict[int, float]) -> list[str]:
    """An edge left to the hands: after all others, from flat to its full angle, the piece lying as it lay."""
    fold, name = replay.folds[i], f"step {step.step}"
    faults = []
    if any(t < f.turned - 1e-6 and f.edge not in hands for f, t in zip(replay.folds, replay.turned, strict=True)):
        faults.append(f"{name}: the hands come last, and the tools are not done")
    angles = {step.turned_deg, step.set_deg, step.check_deg, step.hold.by_hand, fold.turned}
    if len(angles) != 1 or replay.turned[i] != 0 or step.hold != Hold(way="by hand", by_hand=fold.turned):
        faults.append(f"{name} does not turn edge {step.edge} to {fold.turned:g} degrees")
    if step.turn != Turn() or step.toward != fold.toward or (replay.side_up and step.side_up != replay.side_up):
        faults.append(f"{name}: the piece does not lie as it lay")
    if step.check.what != "flap" or differs(step.check.size, fold.width):
        faults.append(f"{name}: the check size is {fold.width:.4f} in")
    done = tuple(sorted(f.edge for f, t in zip(replay.folds, replay.turned, strict=True) if t >= f.turned - 1e-6))
    if step.done != done:
        faults.append(f"{name} says edges {step.done} are folded, they are {done}")
    return faults


def _turning(replay: FlapReplay, step: Step, i: int) -> tuple[int, int, int, list[str]]:
    """Turn-overs, rotations and tool changes of this step, and whether it tells them."""
    if replay.at_tool < 0:
        said = step.turn != Turn() or step.turns_over or step.rotates or step.changes_tool
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
    turn = step.turn
    told = (turn.over != "", turn.rotate != 0, turn.shift, turn.swap, turn.over in {"", "away", "sideways"})
    if told != (over, rotate, i != replay.at_tool, False, True):
        faults.append(f"step {step.step}: its turn does not bring edge {step.edge} to the tool")
    else:
        faults += _rotation(replay, step, here, there, over)
    return int(over), int(rotate), int(change), faults


def _rotation(replay: FlapReplay, step: Step, here: float, there: float, over: bool) -> list[str]:
    """Follow the turn on the table: the edge's direction must end where the tool is."""
    up_before = replay.side_up == "face"
    tool = here if up_before else 180 - here  # direction of the tool as seen from above
    seen = there if up_before else 180 - there
    if over:  # away from you: mirrored across the line of the tool's edge; left to right: across the tool's direction
        seen = (2 * tool + 180 - seen) if step.turn.over == "away" else (2 * tool - seen)
    seen += step.turn.rotate
    if not abs((seen - tool + 180) % 360 - 180) < 1.0:
        return [f"step {step.step}: its turn leaves edge {step.edge} away from the tool"]
    return []


def _tool(replay: FlapReplay, step: Step, i: int) -> list[str]:
    """Faults of a stroke's tool: fold too narrow, too wide or too long for it, angle beyond it."""
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
        if {step.turned_deg, step.set_deg, step.check_deg} != {180.0}:
            faults.append(f"{name} does not close to 180 degrees")
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
        setting = max(
            expected,
            min(expected + own_overbend(replay.metal, expected, fold.radius, replay.brake.springback), largest),
        )
    return faults + angle_faults(step, fold, replay.metal, expected=expected, setting=setting)


def _sizes(replay: FlapReplay, step: Step, i: int) -> list[str]:
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
    if step.check.what != "flap" or step.check.to is not None:
        faults.append(f"step {step.step}: the check size is told at another place than where it is")
    faults += _across(replay, step, i) + _hold(replay, step, i)
    if step.action == "close" and step.turned_deg != 180:
        faults.append(f"step {step.step} does not close to 180 degrees")
    return faults


def _across(replay: FlapReplay, step: Step, i: int) -> list[str]:
    """Fold to fold across the piece: an edge folded already that faces the other way, outside to outside."""
    check, place, fold = step.check, replay.places[i], replay.folds[i]
    facing = {
        f.edge: j
        for j, (f, p) in enumerate(zip(replay.folds, replay.places, strict=True))
        if replay.turned[j] >= f.turned - 1e-6
        and j != i
        and abs(abs((p.bearing - place.bearing + 180) % 360 - 180) - 180) <= 0.1
    }
    if step.action == "pre-bend" or not facing:
        told = check.across_edge or check.across
        return [f"step {step.step}: no edge faces this one yet"] if told else []
    if check.across_edge not in facing:
        return [f"step {step.step}: edge {check.across_edge} is not across from edge {step.edge}"]
    j = facing[check.across_edge]
    size = -float(place.local(np.array(replay.folds[j].line))[:, 1].mean())
    size += sum(f.setback - f.bend_allowance / 2 for f in (fold, replay.folds[j]))
    if differs(check.across, size, 1 / 64):
        return [f"step {step.step}: fold to fold across is {size:.4f} in, not {check.across:.4f}"]
    return []


def _hold(replay: FlapReplay, step: Step, i: int) -> list[str]:
    """How the flap is held, worked out again."""
    hold, fold, name = step.hold, replay.folds[i], f"step {step.step}"
    tool = replay.tools.get(step.tool)
    faults = []
    slot = inch(tool.slot_depth) if tool else 0.0
    bites = 0
    if step.action == "close":
        way = "pressed" if tool else "under nose"
    else:
        way = "nose" if tool is None else "slot" if slot else "jaws"
        if tool is not None and tool.in_bites and replay.places[i].length > inch(tool.longest_fold):
            bites = math.ceil(replay.places[i].length / inch(tool.longest_fold) - 1e-9)
    if hold.way != way:
        faults.append(f"{name}: the {step.tool} holds it by its {way}, not its {hold.way}")
    if hold.bites != bites or differs(hold.bite, inch(tool.longest_fold) if tool and bites else 0.0):
        faults.append(f"{name}: it takes {bites} bites, not {hold.bites}")
    if differs(hold.loose, slot - (fold.width - fold.setback) if way == "slot" else 0.0):
        faults.append(f"{name}: the play in the slot is told wrongly")
    shut = fold.hem and step.turned_deg >= 180
    if (hold.shim is not None) != shut or (hold.shim is not None and differs(hold.shim, fold.gap)):
        faults.append(f"{name}: the shim is told wrongly")
    down = {
        f.edge
        for j, f in enumerate(replay.folds)
        if j != i and f.toward != step.side_up and 0 < replay.turned[j] < 180 and tool is not None
    }
    if set(hold.hanging) != down:
        faults.append(f"{name}: edges {sorted(down)} point down, not {sorted(hold.hanging)}")
    made = {f.edge for j, f in enumerate(replay.folds) if replay.turned[j] > 0 and j != i}
    if not set(hold.clear_of) <= made or (hold.clear_of and not (tool and tool.in_bites)):
        faults.append(f"{name}: it stays off edges that are not folded")
    if hold.packing or hold.wide_swings or hold.by_hand or not hold.behind:
        faults.append(f"{name}: that is for strips only")
    return faults


# end shape ----------------------------------------------------------------------------------------------------------


def _end_shape(replay: FlapReplay) -> list[str]:
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
