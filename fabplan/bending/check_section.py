"""Replay of a section on the leaf brake: the strip is bent along true arcs and sampled densely."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from fabplan.bending.check_common import (
    Floats,
    angle_faults,
    cross_anywhere,
    differs,
    inside_by,
    turned_by,
)
from fabplan.bending.model import BendSchedule, SectionState, Step
from fabplan.blanks.model import FlatPattern, Fold
from fabplan.job.metals import MetalProfile
from fabplan.job.model import Brake, Job
from fabplan.units import NM_PER_INCH

SPACING = 0.05  # inches between sampled points of the metal
SWING = 2.0  # degrees between sampled positions of the leaf
NEAR = 0.12  # inches from the bending edge that are never tested metal against metal
FAR = 300.0


def inch(nm: int) -> float:
    """Inches."""
    return nm / NM_PER_INCH


@dataclass(slots=True)
class Replay:
    """The strip as far as it is bent: degrees turned at every bend, and how it lies."""

    pattern: FlatPattern
    folds: tuple[Fold, ...]
    marks: tuple[float, ...]
    bends: tuple[float, ...]
    width: float
    turned: list[float]
    metal: MetalProfile
    brake: Brake
    slack: float
    side_up: str = ""
    end_in: str = ""

    def finished(self, k: int) -> bool:
        return self.turned[k] >= abs(self.bends[k]) - 1e-6

    def outside(self, k: int) -> float:
        """Mark of a finished bend to its outside."""
        return self.folds[k].setback - self.folds[k].bend_allowance / 2

    def flat_run(self, k: int, step: int) -> tuple[str, int, float, float]:
        """What ends the flat next to bend k going that way (+1, -1): kind, number, distance, distance outside."""
        j = k + step
        while 0 <= j < len(self.bends):
            if self.turned[j] > 0:
                kind = "hem" if self.folds[j].hem else "bend"
                run = abs(self.marks[j] - self.marks[k]) + self.outside(j)
                return kind, j + 1, run, run + self.outside(k)
            j += step
        run = self.width - self.marks[k] if step > 0 else self.marks[k]
        return "edge", 2 if step > 0 else 1, run, run + self.outside(k)

    def walk(self, k: int, step: int, up: int) -> Floats:
        """Sampled middle of the metal from bend k outward along +x, to a hem's fold; up = +1 when the face is up."""
        out = [(0.0, 0.0)]
        x = y = heading = 0.0
        at = self.marks[k]
        end = self.width if step > 0 else 0.0

        def go(to: float, turn: float, pieces: int) -> None:
            nonlocal x, y, heading, at
            length = abs(to - at) / pieces
            for _ in range(pieces):
                heading += turn / pieces / 2
                x, y = x + length * math.cos(heading), y + length * math.sin(heading)
                heading += turn / pieces / 2
                out.append((x, y))
            at = to

        j = k + step
        while 0 <= j < len(self.bends):
            fold = self.folds[j]
            if fold.hem and self.turned[j] >= 180 - 1e-6:
                end = self.marks[j]
                break
            if self.turned[j] > 0:
                zone = fold.bend_allowance * self.turned[j] / fold.turned / 2
                go(self.marks[j] - step * zone, 0.0, _pieces(abs(self.marks[j] - step * zone - at)))
                sign = 1 if self.bends[j] > 0 else -1
                go(
                    self.marks[j] + step * zone,
                    math.radians(sign * up * self.turned[j]),
                    max(4, math.ceil(self.turned[j] / 5)),
                )
            j += step
        go(end, 0.0, _pieces(abs(end - at)))
        return np.array(out)


def _pieces(length: float) -> int:
    return max(1, math.ceil(length / SPACING))


def replay_section(schedule: BendSchedule, pattern: FlatPattern, job: Job, metal: MetalProfile) -> list[str]:
    """Faults of a section's schedule."""
    shape = pattern.section
    assert shape is not None
    folds = tuple(sorted(pattern.folds, key=lambda f: f.edge))
    replay = Replay(
        pattern=pattern,
        folds=folds,
        marks=shape.marks,
        bends=shape.bends,
        width=shape.developed + pattern.rounding,
        turned=[0.0] * len(folds),
        metal=metal,
        brake=job.brake,
        slack=1.5 * pattern.thickness + 0.1 * max((f.radius for f in folds), default=0.0),
    )
    faults: list[str] = []
    length = pattern.length_units * pattern.grid / NM_PER_INCH
    if length > inch(job.brake.longest_bend) + 1e-6:
        faults.append(f"the strip is {length:g} in long, longer than the brake")
    overs = swaps = ends = 0
    for step in schedule.steps:
        if not 1 <= step.edge <= len(folds):
            return [*faults, f"step {step.step}: there is no bend {step.edge}"]
        faults += _order(replay, step)
        over, swap, turn_faults = _turning(replay, step)
        overs, swaps = overs + over, swaps + swap
        faults += turn_faults
        faults += _stroke(replay, step)
        ends += step.loading == "end"
        k = step.edge - 1
        replay.turned[k] = step.turned_deg
        replay.side_up, replay.end_in = step.side_up, step.end_in
        if faults:
            return faults  # what follows would only repeat it
    counts = (schedule.turn_overs, schedule.turn_arounds, schedule.end_loadings)
    if counts != (overs, swaps, ends):
        faults.append(f"turn-overs, swaps and loadings from the end are {overs}, {swaps}, {ends}, not {counts}")
    return faults + _end_shape(replay)


# one stroke ----------------------------------------------------------------------------------------------------------


def _order(replay: Replay, step: Step) -> list[str]:
    k = step.edge - 1
    fold, was = replay.folds[k], replay.turned[step.edge - 1]
    faults = []
    done = tuple(j + 1 for j in range(len(replay.folds)) if replay.finished(j))
    if step.done != done:
        faults.append(f"step {step.step} says bends {step.done} are made, they are {done}")
    needs = {"fold": (0.0, False), "pre-bend": (0.0, True), "close": (None, True)}[step.action]
    if fold.hem != needs[1]:
        faults.append(f"step {step.step}: {step.action} does not suit bend {step.edge}")
    if needs[0] is not None and was != needs[0]:
        faults.append(f"step {step.step}: bend {step.edge} is already turned {was:g} degrees")
    if step.action == "close" and not 90 <= was < 180:
        faults.append(f"step {step.step} closes hem {step.edge}, which is turned {was:g} degrees")
    if any(0 < replay.turned[j] < 180 - 1e-6 and f.hem and j != k for j, f in enumerate(replay.folds)):
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


def _turning(replay: Replay, step: Step) -> tuple[int, int, list[str]]:
    """Turn-overs and swaps between the strokes, and whether the words say so."""
    if not replay.side_up:
        return 0, 0, ([f"step {step.step} turns the strip before anything is done"] if step.turn else [])
    over, other_end = step.side_up != replay.side_up, step.end_in != replay.end_in
    words = step.turn
    said_over, said_other = "turn over" in words, "other end" in words or "swap ends" in words
    faults = []
    if over != step.turns_over or over != said_over or other_end != said_other:
        faults.append(f'step {step.step}: "{words}" does not bring the {step.side_up} up with the {step.end_in} in')
    return int(over), int(other_end != over), faults


def _stroke(replay: Replay, step: Step) -> list[str]:
    brake, k = replay.brake, step.edge - 1
    fold = replay.folds[k]
    clamp = 1 if step.end_in == "finish end" else -1
    if step.action == "close":
        faults = [] if step.turned_deg == step.set_deg == step.check_deg == 180 else [f"step {step.step} closes to 180"]
        return faults + _check_size(replay, step, fold.width, ("edge",), hem=True) + _closing(replay, step, clamp)
    reach = min(brake.largest_angle, 180.0 - brake.nose_angle)  # beyond, a wide flange lies against the nose
    expected = abs(replay.bends[k]) if step.action == "fold" else reach
    setting = expected if step.action == "pre-bend" else min(expected + brake.springback, max(expected, reach))
    faults = angle_faults(step, fold, replay.metal, expected=expected, setting=setting)
    if expected > brake.largest_angle + 1e-6:
        faults.append(f"step {step.step}: the leaf swings only {brake.largest_angle:g} degrees")
    faults += _gauge(replay, step)
    sides = [replay.flat_run(k, d) for d in (-1, 1)]
    if step.action == "pre-bend":
        hem_side = min(sides, key=lambda s: s[2])
        half = fold.bend_allowance * step.turned_deg / fold.turned / 2
        faults += _check_size(replay, step, hem_side[2] + fold.setback - half, ("edge",), hem=True)
    else:
        size = min(s[3] for s in sides)
        names = tuple(_name(s) for s in sides if not differs(s[3], size))
        faults += _check_size(replay, step, size, names, hem=False)
    faults += _reach(replay, step, clamp)
    return faults + _swing(replay, step, clamp, setting)


def _name(side: tuple[str, int, float, float]) -> str:
    kind, number = side[0], side[1]
    if kind == "edge":
        return "start edge" if number == 1 else "finish edge"
    return f"hem {number}" if kind == "hem" else f"bend {number}"


def _check_size(replay: Replay, step: Step, size: float, names: tuple[str, ...], *, hem: bool) -> list[str]:
    faults = []
    if differs(step.check.size, size):
        faults.append(f"step {step.step}: the check size is {size:.4f} in, not {step.check.size:.4f}")
    start = f"outside of {'hem' if hem else 'bend'} {step.edge} to "
    if not step.check.what.startswith(start) or not any(step.check.what.endswith(n) for n in names):
        faults.append(f'step {step.step}: "{step.check.what}" is not where that size is')
    return faults


def _gauge(replay: Replay, step: Step) -> list[str]:
    """The stop must touch something that is there, across flat metal, at the right distance."""
    k, ref = step.edge - 1, step.gauged_from
    for direction in (-1, 1):
        kind, number, run, _ = replay.flat_run(k, direction)
        if (kind, number) == (ref.what, ref.ref):
            if differs(step.stop, run):
                return [f"step {step.step}: the stop is {run:.4f} in from {ref.what} {ref.ref}, not {step.stop:.4f}"]
            return []
    return [f"step {step.step}: {ref.what} {ref.ref} cannot be gauged from"]


def _reach(replay: Replay, step: Step, clamp: int) -> list[str]:
    brake, k = replay.brake, step.edge - 1
    faults = []
    kind, number, run, behind = replay.flat_run(k, clamp)
    flange = replay.flat_run(k, -clamp)[3]
    if flange < inch(brake.least_flange) - 1e-6:
        faults.append(f"step {step.step}: the flange is {flange:.3f} in, too short for the leaf")
    if behind < inch(brake.least_clamp) - 1e-6:
        faults.append(f"step {step.step}: only {behind:.3f} in of flat to clamp")
    if kind == "hem" and replay.folds[number - 1].gap > 0:
        hem = replay.folds[number - 1]
        free = run - replay.outside(number - 1) - hem.width
        if free < inch(brake.nose_land) + brake.nose_setback * replay.pattern.thickness - 1e-6:
            faults.append(f"step {step.step}: the nose comes down on the open hem {number}")
    return faults


# collisions by sampling --------------------------------------------------------------------------------------------


def _tools(replay: Replay) -> dict[str, Floats]:
    """Outlines of the brake, built again from the job's numbers."""
    b, t = replay.brake, replay.pattern.thickness
    back, land, jaw, throat = b.nose_setback * t, inch(b.nose_land), inch(b.jaw), inch(b.throat)
    under = math.radians(min(45.0, b.nose_angle) - 5 if b.nose_angle > 10 else b.nose_angle / 2)
    x = -back - land - jaw / math.tan(under)
    face = math.radians(b.nose_angle)
    if x > -throat:
        low = [(-back, 0.0), (-back - land, 0.0), (x, jaw), (-throat, jaw)]
    else:
        low = [(-back, 0.0), (-back - land, 0.0), (-throat, max(0.0, throat - back - land) * math.tan(under))]
    high = jaw + 12.0
    if b.nose_angle < 90:
        high = max(low[-1][1] + 0.1, min(high, (throat - back) * math.tan(face)))
    top = [(-throat, high), (-back - high / math.tan(face), high)]
    hang = inch(b.apron_hang)
    bar = max(inch(b.apron_bar) / 2, inch(b.apron_bar) - 2 * t)  # a leg as wide as the bar hangs past it
    return {
        "bed": np.array([(0.0, 0.0), (-FAR, 0.0), (-FAR, -FAR), (0.0, -FAR)]),
        "nose bar": np.array([*low, *top]),
        "apron bar": np.array([(0.0, 0.0), (0.0, -hang), (bar, -hang), (bar, 0.0)]),
    }


def _hits(replay: Replay, step: Step, points: Floats, names: tuple[str, ...], when: str) -> list[str]:
    tools = _tools(replay)
    out = []
    for name in names:
        deep = float(inside_by(points, tools[name]).max())
        if deep > replay.slack:
            out.append(f"step {step.step}: the strip goes {deep:.2f} in into the {name} {when}")
    if -points[:, 0].min() > inch(replay.brake.throat) + replay.slack:
        out.append(f"step {step.step}: the strip reaches past the throat {when}")
    return out


def _swing(replay: Replay, step: Step, clamp: int, setting: float) -> list[str]:
    """Clamped side, swinging side at rest, and every sampled position of the leaf."""
    k, up = step.edge - 1, 1 if step.side_up == "face" else -1
    behind = replay.walk(k, clamp, up) * (-1, 1)
    front = replay.walk(k, -clamp, up)
    faults = _hits(replay, step, behind, ("bed", "nose bar"), "when it is clamped")
    faults += _hits(replay, step, front, ("bed", "nose bar", "apron bar"), "before the leaf moves")
    jaw, high = inch(replay.brake.jaw), float(behind[:, 1].max())
    loading = "front" if high <= jaw else "end"
    if step.loading != loading and abs(high - jaw) > 0.05:
        faults.append(f"step {step.step}: it goes in from the {loading}, {high:.2f} in stand behind the nose")
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
            if cross_anywhere(line[near[1]], fixed):
                faults.append(f"step {step.step}: the strip strikes itself after {angle:.0f} degrees")
                break
    return faults + _pictures(step)


def _may_meet(fixed: Floats, moving: Floats, setting: float) -> bool:
    """Whether the swept directions of the moving line reach those of the fixed one."""
    least = math.degrees(np.mod(np.arctan2(fixed[:, 1], fixed[:, 0]), math.tau).min())
    most = math.degrees(np.arctan2(moving[:, 1], moving[:, 0]).max())
    return most + setting > least - 1.0 or least > 180.0


def _closing(replay: Replay, step: Step, clamp: int) -> list[str]:
    """Closing a hem: the part must lie clear, pushed in behind the nose or out in front of it."""
    k, up = step.edge - 1, 1 if step.side_up == "face" else -1
    fold = replay.folds[k]
    at_start = k == 0 if len(replay.folds) > 1 else replay.marks[k] < replay.width / 2
    beside = 1 if at_start else -1
    faults = []
    if fold.width > inch(replay.brake.deepest_flattened_hem) + 1e-6:
        faults.append(f"step {step.step}: the hem is too deep for the brake to flatten")
    kind, number, run, leg = replay.flat_run(k, beside)
    if leg < fold.width - 1e-6:
        faults.append(f"step {step.step}: the leg beside hem {step.edge} is shorter than the hem")
    if kind == "hem" and replay.folds[number - 1].gap > 0:
        room = run - replay.outside(number - 1) - replay.folds[number - 1].width
        if room < fold.width - 1e-6:
            faults.append(f"step {step.step}: open hem {number} would be pressed too")
    if fold.width * math.sin(math.radians(replay.turned[k])) > inch(replay.brake.jaw) + 1e-6:
        faults.append(f"step {step.step}: the pre-bent hem does not go under the open jaw")
    part = replay.walk(k, beside, up)
    back = replay.brake.nose_setback * replay.pattern.thickness + fold.width
    if clamp == beside:  # pushed in: the part lies behind the hem
        return faults + _hits(replay, step, part * (-1, 1) - (back, 0), ("bed", "nose bar"), "pushed in")
    return faults + _hits(replay, step, part - (back, 0), ("bed", "nose bar", "apron bar"), "out in front")


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


# end shape ----------------------------------------------------------------------------------------------------------


def _end_shape(replay: Replay) -> list[str]:
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


def _bent_end(replay: Replay) -> tuple[float, float]:
    """Finish edge after bending the flat strip at its marks along true arcs; leg 1 lies along +x from the origin."""
    pieces: list[tuple[float, float]] = []
    at = 0.0
    for k, fold in enumerate(replay.folds):
        half = fold.bend_allowance / 2
        pieces += [(replay.marks[k] - half - at, 0.0), (2 * half, math.copysign(replay.turned[k], replay.bends[k]))]
        at = replay.marks[k] + half
    return _end_of([*pieces, (replay.width - at, 0.0)])


def _finished_end(replay: Replay) -> tuple[float, float]:
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
