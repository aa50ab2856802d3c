"""Collisions of a section on the leaf brake, by sampling the metal and the swing densely."""

from __future__ import annotations

import math

import numpy as np

from fabplan.bending.check.common import Floats, cross_anywhere, differs, inch, inside_by, turned_by
from fabplan.bending.check.strip import StripReplay
from fabplan.bending.model import SectionState, Step

SWING = 2.0  # degrees between sampled positions of the leaf
LAID = 1.0  # degrees at the end of a swing in which metal may come to lie on metal, arcs and thickness left out
NEAR = 0.12  # inches from the bending edge that are never tested metal against metal
FAR = 300.0


def _tools(replay: StripReplay) -> dict[str, Floats]:
    """Outlines of the brake, built again from the job's numbers."""
    b, t = replay.brake, replay.pattern.thickness
    back, land, jaw = b.nose_setback * t, inch(b.nose_land), inch(b.jaw)
    deep = min(inch(b.beam_depth), inch(b.throat))  # behind the beam is room
    under = math.radians(min(45.0, b.nose_angle) - 5 if b.nose_angle > 10 else b.nose_angle / 2)
    x = -back - land - jaw / math.tan(under)
    face = math.radians(b.nose_angle)
    if x > -deep:
        low = [(-back, 0.0), (-back - land, 0.0), (x, jaw), (-deep, jaw)]
    else:
        low = [(-back, 0.0), (-back - land, 0.0), (-deep, max(0.0, deep - back - land) * math.tan(under))]
    high = jaw + 12.0
    if b.nose_angle < 90:
        high = max(low[-1][1] + 0.1, min(high, (deep - back) * math.tan(face)))
    top = [(-deep, high), (-back - high / math.tan(face), high)]
    hang = inch(b.apron_hang)
    wide, off = inch(b.apron_bar), inch(b.apron_bar_off)
    bar = max(wide / 2, wide - 2 * t)  # a leg as wide as the bar hangs past it
    narrow = max(off / 2, off - 2 * t)
    bed = inch(b.bed_depth)
    return {
        "bed": np.array([(0.0, 0.0), (-bed, 0.0), (-bed, -FAR), (0.0, -FAR)]),
        "nose bar": np.array([*low, *top]),
        "apron bar": np.array([(0.0, 0.0), (0.0, -hang), (bar, -hang), (bar, 0.0)]),
        "leaf without its bar": np.array([(0.0, 0.0), (0.0, -hang), (narrow, -hang), (narrow, 0.0)]),
    }


def _hits(replay: StripReplay, step: Step, points: Floats, names: tuple[str, ...], when: str) -> list[str]:
    tools = _tools(replay)
    out = []
    for name in names:
        deep = float(inside_by(points, tools[name]).max())
        if deep > replay.slack:
            out.append(f"step {step.step}: the strip goes {deep:.2f} in into the {name} {when}")
    if -points[:, 0].min() > inch(replay.brake.throat) + replay.slack:
        out.append(f"step {step.step}: the strip reaches past the throat {when}")
    return out


def swing_faults(replay: StripReplay, step: Step, clamp: int, setting: float) -> list[str]:
    """Clamped side, swinging side at rest, and every sampled position of the leaf."""
    k, up = step.edge - 1, 1 if step.side_up == "face" else -1
    behind = replay.walk(k, clamp, up) * (-1, 1)
    front = replay.walk(k, -clamp, up)
    faults = _hits(replay, step, behind, ("bed", "nose bar"), "when it is clamped")
    leaf = "leaf without its bar" if step.hold.bar_off else "apron bar"
    if step.hold.bar_off and not 0 < inch(replay.brake.apron_bar_off) < inch(replay.brake.apron_bar):
        faults.append(f"step {step.step}: the apron's bar cannot be taken off")
    faults += _hits(replay, step, front, ("bed", "nose bar", leaf), "before the leaf moves")
    jaw, high = inch(replay.brake.jaw), float(np.ptp(behind[:, 1]))
    loading = "front" if high <= jaw else "end"
    told_end = replay.tapered and step.loading == "end"  # it may stand so high at the other end only
    if step.loading != loading and abs(high - jaw) > 0.05 and not told_end:
        faults.append(f"step {step.step}: it goes in from the {loading}, {high:.2f} in stand and hang behind the nose")
    angles = np.linspace(0.0, setting, math.ceil(setting / SWING) + 1)[1:]
    moved = np.stack([turned_by(front, a) for a in angles])
    tools = _tools(replay)
    for name in ("bed", "nose bar"):
        deep = inside_by(moved.reshape(-1, 2), tools[name]).reshape(len(angles), -1).max(axis=1)
        if (deep > replay.slack).any():
            at = int(np.argmax(deep > replay.slack))
            faults.append(f"step {step.step}: the strip goes into the {name} after {angles[at]:.0f} degrees")
    near = [np.hypot(*p.T) > NEAR for p in (behind, front)]
    fixed = behind[near[0]]
    if len(fixed) > 1 and near[1].sum() > 1 and _may_meet(fixed, front[near[1]], setting):
        for angle, line in zip(angles, moved, strict=True):
            if angle > setting - LAID:
                break  # metal that comes to lie on metal at the very end only touches it
            if cross_anywhere(line[near[1]], fixed):
                faults.append(f"step {step.step}: the strip strikes itself after {angle:.0f} degrees")
                break
    return faults + _pictures(step)


def _may_meet(fixed: Floats, moving: Floats, setting: float) -> bool:
    """Whether the swept directions of the moving line reach those of the fixed one."""
    least = math.degrees(np.mod(np.arctan2(fixed[:, 1], fixed[:, 0]), math.tau).min())
    most = math.degrees(np.arctan2(moving[:, 1], moving[:, 0]).max())
    return most + setting > least - 1.0 or least > 180.0


def closing_faults(replay: StripReplay, step: Step, clamp: int) -> list[str]:
    """Closing a hem: the part must lie clear, pushed in behind the nose or out in front of it."""
    k, up = step.edge - 1, 1 if step.side_up == "face" else -1
    fold = replay.folds[k]
    beside = -replay.end_of(k)
    faults = []
    if fold.width > inch(replay.brake.deepest_flattened_hem) + 1e-6:
        faults.append(f"step {step.step}: the hem is too deep for the brake to flatten")
    leg = replay.flat_run(k, beside)[3]
    if leg < fold.width - abs(replay.pattern.rounding) - 1e-6:
        faults.append(f"step {step.step}: the leg beside hem {step.edge} is shorter than the hem")
    if fold.width * math.sin(math.radians(replay.turned[k])) > inch(replay.brake.jaw) + 1e-6:
        faults.append(f"step {step.step}: the pre-bent hem does not go under the open jaw")
    part = replay.walk(k, beside, up)
    back = replay.brake.nose_setback * replay.pattern.thickness
    if clamp == beside:  # pushed in: the fold comes to the front of the nose, the part lies behind it
        return faults + _hits(replay, step, part * (-1, 1) - (back, 0), ("bed", "nose bar"), "pushed in")
    back += fold.width
    return faults + _hits(replay, step, part - (back, 0), ("bed", "nose bar", "apron bar"), "out in front")


def shutting_faults(replay: StripReplay, step: Step, under: int) -> list[str]:
    """A fold between legs or a sharp bend closed: the flap swings on, both sides lie clear of nose and bed."""
    k, up, full = step.edge - 1, 1 if step.side_up == "face" else -1, replay.on_brake(step.edge - 1)
    low, flap = replay.walk(k, under, up) * (-1, 1), replay.walk(k, -under, up)
    faults = []
    deepest = inch(replay.brake.deepest_flattened_hem) + abs(replay.pattern.rounding) + 1e-6
    if full > 180 - 1e-6 and flat_depth(replay, k) > deepest:
        faults.append(f"step {step.step}: the fold is too deep for the brake to flatten")
    near = [np.hypot(*p.T) > NEAR for p in (low, flap)]
    for angle in np.linspace(replay.turned[k], full - 1.0, math.ceil(full / SWING)):
        if near[0].sum() > 1 and cross_anywhere(turned_by(flap[near[1]], float(angle)), low[near[0]]):
            faults.append(f"step {step.step}: the strip strikes itself, closed to {angle:.0f} degrees")
            break
    deep, pushed = pressed_depth(replay, k), step.hold.way == "pushed in"
    stands = float(turned_by(flap, replay.turned[k])[:, 1].max())
    if not pushed and replay.turned[k] > 90:
        stands = min(stands, deep * math.tan(math.radians(180 - replay.turned[k])))
    if stands > inch(replay.brake.jaw) + 1e-6:
        faults.append(f"step {step.step}: what is to be closed does not go under the open jaw")
    raised = 0.0 if full > 180 - 1e-6 else deep * math.tan(math.radians(180 - full))
    shift = replay.brake.nose_setback * replay.pattern.thickness + (0.0 if pushed else deep)
    for points in (low, turned_by(flap, full)):
        placed = (points if pushed else points * (-1, 1)) - (shift, 0)
        names = ("bed",) if pushed else ("bed", "apron bar")
        faults += _hits(replay, step, placed, names, "closed")
        faults += _hits(replay, step, placed - (0, raised), ("nose bar",), "closed")
    return faults


def pressed_depth(replay: StripReplay, k: int) -> float:
    """How far a fold between legs or a sharp bend goes under the nose, inches."""
    leans = math.cos(math.radians(180 - replay.on_brake(k)))
    return min(flat_depth(replay, k) * leans, inch(replay.brake.deepest_flattened_hem)) - 1 / 128


def flat_depth(replay: StripReplay, k: int) -> float:
    """How far flat lies on flat beside a bend, from its mark to the nearest edge or bend."""
    flats = []
    for direction in (-1, 1):
        kind, number, run, _ = replay.flat_run(k, direction)
        flats.append(run - (0.0 if kind == "edge" else replay.outside(number - 1)))
    return min(flats)


def _pictures(step: Step) -> list[str]:
    """Before and after must show the strip, bent by the stroke at the nose."""
    if step.before is None or step.after is None:
        return [f"step {step.step} has no picture"]
    faults = []
    if abs(_bent(step.before)) > 0.1 or abs(abs(_bent(step.after)) - step.turned_deg) > 0.1:
        faults.append(f"step {step.step}: its picture shows another bend")
    lengths = [
        sum(math.dist(a, b) for a, b in zip(s.line, s.line[1:], strict=False)) for s in (step.before, step.after)
    ]
    if differs(*lengths):
        faults.append(f"step {step.step}: its picture loses metal")
    return faults


def _bent(state: SectionState) -> float:
    i = state.nose_index
    (x0, y0), (x1, y1), (x2, y2) = state.line[i - 1 : i + 2]
    turn = math.degrees(math.atan2(y2 - y1, x2 - x1) - math.atan2(y1 - y0, x1 - x0))
    return (turn + 180) % 360 - 180
