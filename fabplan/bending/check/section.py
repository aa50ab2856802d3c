"""Replay of a section on the leaf brake: the strip is bent along true arcs and sampled densely."""

from __future__ import annotations

import math
from typing import Literal

from fabplan.bending.check.collide import closing_faults, pressed_depth, shutting_faults, swing_faults
from fabplan.bending.check.common import ANGLE_TOLERANCE, angle_faults, differs, inch, own_overbend
from fabplan.bending.check.ends import end_faults
from fabplan.bending.check.strip import StripReplay, steps_at, strip_at
from fabplan.bending.model import BendSchedule, Hold, Step, Turn
from fabplan.blanks.model import FlatPattern, Fold
from fabplan.job.metals import MetalProfile
from fabplan.job.model import Job
from fabplan.units import NM_PER_INCH


def replay_section(schedule: BendSchedule, pattern: FlatPattern, job: Job, metal: MetalProfile) -> list[str]:
    """Faults of a section's schedule; a tapered one is replayed at both ends and half way."""
    if pattern.far is None:
        told = [s.step for s in schedule.steps if s.far is not None]
        return [f"steps {told} have sizes for another end"] if told else _replay(schedule, pattern, job, metal)
    if any(s.far is None for s in schedule.steps):
        return ["not every step of a tapered strip has its sizes at end B"]
    faults = []
    for share in (0.0, 0.5, 1.0):
        found = _replay(steps_at(schedule, share), strip_at(pattern, share), job, metal, leads=share == 0)
        faults += [f"{fault} (at {share:.0%} from end A)" for fault in found]
    return faults


def _replay(
    schedule: BendSchedule, pattern: FlatPattern, job: Job, metal: MetalProfile, *, leads: bool = True
) -> list[str]:
    """Faults of a strip's schedule, made stroke by stroke; not `leads`: what is told once, at end A, is passed."""
    shape = pattern.section
    assert shape is not None
    folds = tuple(sorted(pattern.folds, key=lambda f: f.edge))
    replay = StripReplay(
        pattern=pattern,
        folds=folds,
        marks=shape.marks,
        bends=shape.bends,
        width=shape.developed + pattern.rounding,
        turned=[0.0] * len(folds),
        metal=metal,
        brake=job.brake,
        by_hand=left_to_hands(job, pattern.mark),
        leads=leads,
        tapered=any(step.far is not None for step in schedule.steps),
        slack=1.5 * pattern.thickness + 0.1 * max((f.radius for f in folds), default=0.0),
    )
    faults: list[str] = []
    length = pattern.length_units * pattern.grid / NM_PER_INCH
    if length > inch(job.brake.longest_bend) + 1e-6:
        faults.append(f"the strip is {length:g} in long, longer than the brake")
    overs = swaps = ends = 0
    first = next((n for n, step in enumerate(schedule.steps) if step.at), len(schedule.steps))
    for step in schedule.steps[:first]:
        if not 1 <= step.edge <= len(folds):
            return [*faults, f"step {step.step}: there is no bend {step.edge}"]
        faults += _order(replay, step)
        over, swap, turn_faults = _turning(replay, step)
        overs, swaps = overs + over, swaps + swap
        faults += turn_faults
        faults += _hand_stroke(replay, step) if step.action == "by hand" else _stroke(replay, step)
        ends += step.loading == "end"
        k = step.edge - 1
        replay.turned[k] = step.turned_deg
        replay.side_up, replay.end_in = step.side_up, step.end_in
        if faults:
            return faults  # what follows would only repeat it
    found, over, swap = end_faults(schedule.steps[first:], schedule.steps[:first], pattern, job)
    faults, overs, swaps = faults + found, overs + over, swaps + swap
    counts = (schedule.turn_overs, schedule.turn_arounds, schedule.end_loadings)
    if counts != (overs, swaps, ends):
        faults.append(f"turn-overs, swaps and loadings from the end are {overs}, {swaps}, {ends}, not {counts}")
    return faults + _end_shape(replay)


# one stroke ----------------------------------------------------------------------------------------------------------


def _order(replay: StripReplay, step: Step) -> list[str]:
    k = step.edge - 1
    fold, was = replay.folds[k], replay.turned[step.edge - 1]
    faults = []
    on_brake = step.action != "by hand"  # on the brake, a bend partly left to the hands counts as made
    done = tuple(
        j + 1
        for j in range(len(replay.folds))
        if replay.finished(j) or (on_brake and 0 < replay.on_brake(j) <= replay.turned[j] + 1e-6)
    )
    if step.done != done:
        faults.append(f"step {step.step} says bends {step.done} are made, they are {done}")
    if not on_brake:
        return faults
    needs = {"fold": (0.0, False), "pre-bend": (0.0, True), "close": (None, True)}[step.action]
    if replay.in_two(k) != needs[1]:
        faults.append(f"step {step.step}: {step.action} does not suit bend {step.edge}")
    if needs[0] is not None and was != needs[0]:
        faults.append(f"step {step.step}: bend {step.edge} is already turned {was:g} degrees")
    if step.action == "close" and not 90 <= was < replay.on_brake(k):
        faults.append(f"step {step.step} closes hem {step.edge}, which is turned {was:g} degrees")
    half = [j for j in range(len(replay.folds)) if replay.in_two(j) and j != k]
    if any(0 < replay.turned[j] < replay.on_brake(j) - 1e-6 for j in half):
        faults.append(f"step {step.step}: another hem stands half made")
    toward = "face" if replay.bends[k] > 0 else "back"
    if step.toward != toward or fold.toward != toward:
        faults.append(f"step {step.step}: bend {step.edge} goes toward the {toward}")
    if step.side_up != toward:
        faults.append(f"step {step.step}: the {step.side_up} is up, but bend {step.edge} goes toward the {toward}")
    if step.end_in not in {"start end", "finish end"}:
        faults.append(f"step {step.step}: no end named")
    if step.tool != "leaf brake":
        faults.append(f"step {step.step}: a section is bent on the leaf brake, not with the {step.tool}")
    return faults


def _turning(replay: StripReplay, step: Step) -> tuple[int, int, list[str]]:
    """Turn-overs and swaps between the strokes, and whether the step tells them."""
    if not replay.side_up:
        return 0, 0, ([f"step {step.step} turns the strip before anything is done"] if step.turn != Turn() else [])
    over, other_end = step.side_up != replay.side_up, step.end_in != replay.end_in
    expected = Turn(over="roll" if other_end else "end") if over else Turn(swap=other_end)
    faults = []
    if over != step.turns_over or step.turn != expected:
        faults.append(f"step {step.step}: its turn does not bring the {step.side_up} up with the {step.end_in} in")
    return int(over), int(other_end != over), faults


def _stroke(replay: StripReplay, step: Step) -> list[str]:
    brake, k = replay.brake, step.edge - 1
    fold = replay.folds[k]
    clamp = 1 if step.end_in == "finish end" else -1
    if step.action == "close":
        full = replay.on_brake(k)
        angles = (step.turned_deg, step.set_deg, step.check_deg)
        faults = [] if angles == (full,) * 3 else [f"step {step.step} closes to {full:g}"]
        if not replay.end_of(k):
            return faults + _shut(replay, step)
        faults += _check_size(replay, step, fold.width, (), hem=True) + _closing_hold(step, fold, clamp, replay)
        return faults + closing_faults(replay, step, clamp)
    reach = replay.reach()
    expected = replay.on_brake(k) if step.action == "fold" else reach
    over = own_overbend(replay.metal, expected, fold.radius, brake.springback)
    setting = expected if step.action == "pre-bend" else min(expected + over, max(expected, reach))
    stops = step.action == "fold"
    faults = angle_faults(step, fold, replay.metal, expected=expected, setting=setting, stops_short=stops)
    if expected > brake.largest_angle + 1e-6:
        faults.append(f"step {step.step}: the leaf swings only {brake.largest_angle:g} degrees")
    faults += _gauge(replay, step)
    if step.action == "pre-bend":
        half = fold.bend_allowance * step.turned_deg / fold.turned / 2
        grows = fold.setback - half
        if replay.end_of(k):
            open_ = fold.width + fold.bend_allowance * (fold.turned - step.turned_deg) / fold.turned / 2
            faults += _check_size(replay, step, open_, (), hem=True)
        else:
            size, refs = _nearest(replay, step)
            faults += _check_size(replay, step, size - replay.outside(k) + grows, refs, hem=False)
    else:
        size, refs = _nearest(replay, step)
        faults += _check_size(replay, step, size, refs, hem=False)
    faults += _reach(replay, step, clamp) + _hold(replay, step, clamp, expected + over)
    return faults + swing_faults(replay, step, clamp, step.set_deg)


def _shut(replay: StripReplay, step: Step) -> list[str]:
    """A fold between legs, or a sharp bend, closed over the side that was clamped for its first stroke."""
    k, under = step.edge - 1, 1 if replay.end_in == "finish end" else -1
    way: Literal["pushed in", "in front"] = "pushed in" if step.end_in == replay.end_in else "in front"
    fold, deep, full = replay.folds[k], pressed_depth(replay, k), replay.on_brake(k)
    if not fold.hem and way == "pushed in":
        return [f"step {step.step}: what stays open is pressed at the front of the nose"]
    high = fold.gap if fold.hem else deep * math.tan(math.radians(180 - full))
    shims = []
    for direction in (-1, 1):
        kind, number, run, _ = replay.flat_run(k, direction)
        if kind in {"hem", "fold"} and replay.folds[number - 1].gap > 0:
            free = run - replay.outside(number - 1) - replay.layers(k, direction)[0]
            shims += [number] if free < deep - 1e-6 else []
    hold, faults = step.hold, []
    if hold.shim is None or differs(hold.shim, high) or differs(hold.deep, deep):
        faults.append(f"step {step.step}: it goes {deep:.3f} in under the nose and stays {high:.3f} in open")
    if hold != Hold(way=way, shim=hold.shim, deep=hold.deep, shims_in=tuple(shims)):
        faults.append(f"step {step.step}: bend {step.edge} is closed {way}, shims in hems {shims}")
    before, replay.turned[k] = replay.turned[k], full
    size, refs = _nearest(replay, step)
    faults += _check_size(replay, step, size, refs, hem=False)
    replay.turned[k] = before
    return faults + shutting_faults(replay, step, under)


def _hand_stroke(replay: StripReplay, step: Step) -> list[str]:
    """A stroke by hand: last of all, the degrees the job leaves to it, the piece lying as it lay."""
    k, name = step.edge - 1, f"step {step.step}"
    rest = replay.by_hand.get(step.edge)
    if rest is None:
        return [f"{name}: the job leaves nothing of bend {step.edge} to the hands"]
    faults = []
    if differs(replay.turned[k], replay.on_brake(k), ANGLE_TOLERANCE):
        faults.append(f"{name}: bend {step.edge} is turned {replay.turned[k]:g} degrees so far")
    if any(replay.turned[j] < replay.on_brake(j) - 1e-6 for j in range(len(replay.folds))):
        faults.append(f"{name}: the hands come last, and the brake is not done")
    full = abs(replay.bends[k])
    if any(differs(a, full, ANGLE_TOLERANCE) for a in (step.turned_deg, step.set_deg, step.check_deg)):
        faults.append(f"{name} does not finish bend {step.edge} at {full:g} degrees")
    toward = "face" if replay.bends[k] > 0 else "back"
    if step.toward != toward or (replay.side_up and (step.side_up, step.end_in) != (replay.side_up, replay.end_in)):
        faults.append(f"{name}: the strip does not lie as the brake left it, or bend {step.edge} goes the other way")
    if step.hold != Hold(way="by hand", by_hand=step.hold.by_hand) or differs(step.hold.by_hand, rest, ANGLE_TOLERANCE):
        faults.append(f"{name}: {rest:g} degrees are left to the hands, not {step.hold.by_hand:g}")
    before, replay.turned[k] = replay.turned[k], full
    if replay.end_of(k):
        faults += _check_size(replay, step, replay.folds[k].width, (), hem=True)
    else:
        size, refs = _nearest(replay, step)
        faults += _check_size(replay, step, size, refs, hem=False)
    replay.turned[k] = before
    return faults


def left_to_hands(job: Job, mark: str) -> dict[int, float]:
    """Degrees the job leaves to the hands at a piece, by number of the bend or edge."""
    return {n: d for p in job.pieces if p.mark == mark for n, d in getattr(p, "finish_by_hand", ())}


def _nearest(replay: StripReplay, step: Step) -> tuple[float, tuple[tuple[str, int], ...]]:
    """Outside size of a bend to the nearest of both sides, and what it may be told from.

    Along a tapered strip it is told from what is nearest at end A.
    """
    sides = [replay.flat_run(step.edge - 1, d) for d in (-1, 1)]
    to = step.check.to
    named = [s for s in sides if to is not None and (s[0], s[1]) == (to.what, to.ref)]
    size = named[0][3] if named and not replay.leads else min(s[3] for s in sides)
    return size, tuple((s[0], s[1]) for s in sides if not differs(s[3], size))


def _check_size(
    replay: StripReplay, step: Step, size: float, refs: tuple[tuple[str, int], ...], *, hem: bool
) -> list[str]:
    """The size, and that it is told between the right places: any of `refs`, for a hem its own raw edge."""
    check, faults = step.check, []
    if differs(check.size, size):
        faults.append(f"step {step.step}: the check size is {size:.4f} in, not {check.size:.4f}")
    if hem:
        right = check.what == "hem" and check.to is None
    else:
        right = check.what == "leg" and check.to is not None and (check.to.what, check.to.ref) in refs
    if not right or check.across_edge or check.across:
        faults.append(f"step {step.step}: the check size is told at another place than where it is")
    return faults


def _hold(replay: StripReplay, step: Step, clamp: int, aim: float) -> list[str]:
    """How the strip is held, worked out again: the stop's side, packing, the wide side, what is left to the hands."""
    hold, k = step.hold, step.edge - 1
    faults = []
    if (
        hold.way != "nose"
        or hold.shim is not None
        or hold.bites
        or hold.clear_of
        or hold.hanging
        or hold.loose
        or hold.deep
    ):
        faults.append(f"step {step.step}: a strip is held under the nose for a {step.action}")
    kind, number, *_ = replay.flat_run(k, clamp)
    if hold.behind != ((kind, number) == (step.gauged_from.what, step.gauged_from.ref)):
        faults.append(f"step {step.step}: the stop is told on the wrong side of the nose")
    held = replay.width - replay.marks[k] if clamp > 0 else replay.marks[k]
    if replay.leads and hold.wide_swings != (held < replay.width / 2 - 1 / 16):
        faults.append(f"step {step.step}: the wide side is told wrongly")
    radius = replay.folds[k].radius
    sharp = max(1.0, replay.brake.nose_setback) * replay.pattern.thickness
    unformed = radius if not replay.folds[k].hem and radius > sharp + 1e-6 else 0.0
    if differs(hold.radius, unformed):
        faults.append(f"step {step.step}: the radius that the nose does not form is told wrongly")
    short = 0.0 if step.action == "pre-bend" or unformed else aim - step.set_deg
    if differs(hold.by_hand, short if short > 0.05 else 0.0, ANGLE_TOLERANCE):
        faults.append(f"step {step.step}: {short:g} degrees are left to the hands, not {hold.by_hand:g}")
    shims: tuple[int, ...] = ()
    if kind in {"hem", "fold"} and replay.folds[number - 1].gap > 0:
        free = replay.flat_run(k, clamp)[2] - replay.outside(number - 1) - replay.layers(k, clamp)[0]
        if free < inch(replay.brake.nose_land) + replay.brake.nose_setback * replay.pattern.thickness - 1e-6:
            shims = (number,)
    if not replay.same(set(hold.shims_in), set(shims)):
        faults.append(f"step {step.step}: open hems {shims} come under the nose and need their shims")
    underneath = kind in {"hem", "fold"} and replay.bends[number - 1] * replay.bends[k] < 0
    if underneath:  # a hem behind the bed hangs free
        flat = replay.flat_run(k, clamp)[2] - replay.outside(number - 1)
        underneath = flat - replay.layers(k, clamp)[0] < inch(replay.brake.bed_depth)
    if hold.packing != underneath and not (replay.tapered and hold.packing):
        faults.append(f"step {step.step}: packing under a hem is told wrongly")
    return faults


def _closing_hold(step: Step, fold: Fold, clamp: int, replay: StripReplay) -> list[str]:
    at_start = replay.end_of(step.edge - 1) < 0
    way: Literal["pushed in", "in front"] = "pushed in" if (clamp > 0) == at_start else "in front"
    hold = step.hold
    kind, number, run, _ = replay.flat_run(step.edge - 1, 1 if at_start else -1)
    shims: tuple[int, ...] = ()
    if kind in {"hem", "fold"} and replay.folds[number - 1].gap > 0:
        room = run - replay.outside(number - 1) - replay.layers(step.edge - 1, 1 if at_start else -1)[0]
        shims = (number,) if room < fold.width - 1e-6 else ()
    told = hold.shims_in if replay.same(set(hold.shims_in), set(shims)) else shims
    if hold.shim is None or differs(hold.shim, fold.gap) or hold != Hold(way=way, shim=hold.shim, shims_in=told):
        return [f"step {step.step}: hem {step.edge} is closed {way}, on a shim of {fold.gap:g} in"]
    return []


def _gauge(replay: StripReplay, step: Step) -> list[str]:
    """The stop must touch something that is there, across flat metal, at the right distance."""
    k, ref = step.edge - 1, step.gauged_from
    for direction in (-1, 1):
        kind, number, run, _ = replay.flat_run(k, direction)
        if (kind, number) == (ref.what, ref.ref):
            if differs(step.stop, run):
                return [f"step {step.step}: the stop is {run:.4f} in from {ref.what} {ref.ref}, not {step.stop:.4f}"]
            return []
    return [f"step {step.step}: {ref.what} {ref.ref} cannot be gauged from"]


def _reach(replay: StripReplay, step: Step, clamp: int) -> list[str]:
    brake, k = replay.brake, step.edge - 1
    faults = []
    behind = replay.flat_run(k, clamp)[3]
    flange = replay.flat_run(k, -clamp)[3]
    less = abs(replay.pattern.rounding) + 1e-6  # what rounding the blank took refuses nothing
    for direction in (-1, 1):
        past = replay.layers(k, direction)[1]
        if past > less:
            faults.append(f"step {step.step}: other metal lies {past:.3f} in over the bend's line")
    if flange < inch(brake.least_flange) - less:
        faults.append(f"step {step.step}: the flange is {flange:.3f} in, too short for the leaf")
    if behind < inch(brake.least_clamp) - less:
        faults.append(f"step {step.step}: only {behind:.3f} in of flat to clamp")
    return faults


# end shape ----------------------------------------------------------------------------------------------------------


def _end_shape(replay: StripReplay) -> list[str]:
    """The strip as bent, measured outside to outside, against the finished section."""
    shape = replay.pattern.section
    assert shape is not None
    faults = [
        f"bend {k + 1} ends at {now:g} degrees instead of {abs(bend):g}"
        for k, (now, bend) in enumerate(zip(replay.turned, replay.bends, strict=True))
        if differs(now, abs(bend), 0.1)
    ]
    if faults:
        return faults
    stations = [0.0, *replay.marks, replay.width]
    slack = abs(replay.pattern.rounding) + 1e-3
    for i, leg in enumerate(shape.legs):
        size = stations[i + 1] - stations[i]
        size += replay.outside(i - 1) if i > 0 else 0.0
        size += replay.outside(i) if i < len(replay.folds) else 0.0
        if differs(size, leg, slack):
            faults.append(f"leg {i + 1} comes out {size:.4f} in instead of {leg:.4f}")
    wrong = [
        k + 1
        for k, f in enumerate(replay.folds)
        if differs(f.setback, (f.radius + shape.thickness) * math.tan(math.radians(min(f.turned, 90.0)) / 2), 1e-6)
    ]
    faults += [f"bend {k} has a wrong setback" for k in wrong]
    gap = math.dist(_bent_end(replay), _finished_end(replay))
    if gap > slack * (len(shape.legs) + 1):
        faults.append(f"the far edge of the strip comes out {gap:.3f} in from where the finished section has it")
    return faults


def _bent_end(replay: StripReplay) -> tuple[float, float]:
    """Finish edge after bending the flat strip at its marks along true arcs; leg 1 lies along +x from the origin."""
    pieces: list[tuple[float, float]] = []
    at = 0.0
    for k, fold in enumerate(replay.folds):
        half = fold.bend_allowance / 2
        pieces += [(replay.marks[k] - half - at, 0.0), (2 * half, math.copysign(replay.turned[k], replay.bends[k]))]
        at = replay.marks[k] + half
    return _end_of([*pieces, (replay.width - at, 0.0)])


def _finished_end(replay: StripReplay) -> tuple[float, float]:
    """The same point of the finished section, from its outside legs, angles and radii."""
    shape = replay.pattern.section
    assert shape is not None
    pieces: list[tuple[float, float]] = []
    for i, leg in enumerate(shape.legs):
        taken = sum(replay.folds[j].setback for j in (i - 1, i) if 0 <= j < len(replay.folds))
        pieces.append((leg - taken, 0.0))
        if i < len(shape.bends):
            pieces.append((replay.folds[i].bend_allowance, shape.bends[i]))
    return _end_of(pieces)


def _end_of(pieces: list[tuple[float, float]]) -> tuple[float, float]:
    """End of a line of straights and arcs: (length, degrees turned over it)."""
    x = y = heading = 0.0
    for length, turn in pieces:
        a = math.radians(turn)
        chord = length if abs(a) < 1e-12 else length * math.sin(a / 2) / (a / 2)
        x, y = x + chord * math.cos(heading + a / 2), y + chord * math.sin(heading + a / 2)
        heading += a
    return x, y
