"""What a tool presses and where a flap lands, by sampling points of the flaps."""

from __future__ import annotations

import math

import numpy as np

from fabplan.bending.check.common import Floats, inch, inside_by
from fabplan.bending.check.flaps import BRAKE, CLEAR, WALL, FlapReplay, box, lying
from fabplan.bending.model import Step


def pressed_faults(replay: FlapReplay, step: Step, i: int) -> list[str]:
    """No standing fold and no open hem may lie under the tool."""
    place = replay.places[i]
    if step.tool == BRAKE:
        b = replay.brake
        strip = inch(b.nose_land) + b.nose_setback * replay.pattern.thickness
        reach, bites = inch(b.longest_bend), False
    else:
        t = replay.tools[step.tool]
        strip, reach, bites = inch(t.press_strip), inch(t.longest_fold), t.in_bites
    under: dict[int, Floats] = {}
    for j, turned in enumerate(replay.turned):
        fold = replay.folds[j]
        standing = 0 < turned < 180
        if j == i or turned == 0 or not (standing or fold.gap > 0):
            continue
        local = place.local(lying(replay, j, 180.0 if fold.hem else turned))
        under[j] = local[(local[:, 1] < -CLEAR) & (local[:, 1] > -strip + CLEAR)]
    if bites:
        return _bites(replay, step, under, place.length, reach)
    spare = reach - place.length
    if spare <= 1e-9:
        spots = [(0.0, place.length)]
    else:
        off = min(1 / 4, place.length / 8)  # of a fold's end may be left unpressed
        spots = [(off, place.length + spare), (-spare, place.length - off)]
    best: list[str] | None = None
    for low, high in spots:
        faults = [
            f"step {step.step}: the {step.tool} presses on edge {replay.folds[j].edge}"
            for j, p in under.items()
            if ((p[:, 0] > low + CLEAR) & (p[:, 0] < high - CLEAR)).any()
        ]
        if step.tool == BRAKE:
            faults += _in_brake(replay, step, i, low, high, strip)
        if best is None or len(faults) < len(best):
            best = faults
    return best or []


def _bites(replay: FlapReplay, step: Step, under: dict[int, Floats], length: float, bite: float) -> list[str]:
    """A tool in bites leaves out what lies under it: at most 0.6 of a bite in one place, half the fold in all."""
    total = 0.0
    for j, p in under.items():
        on = p[(p[:, 0] > CLEAR) & (p[:, 0] < length - CLEAR)]
        if not len(on):
            continue
        left = float(np.ptp(on[:, 0]))
        total += left
        if left > 0.6 * bite:
            return [f"step {step.step}: the {step.tool} cannot keep off edge {replay.folds[j].edge}"]
    return [f"step {step.step}: too little of the fold can be reached"] if total > length / 2 else []


def _in_brake(replay: FlapReplay, step: Step, i: int, low: float, high: float, strip: float) -> list[str]:
    """Standing folds behind the bending edge must fit under the nose's rising underside, none into the bed."""
    b, faults = replay.brake, []
    rise = math.tan(math.radians(min(45.0, b.nose_angle) - 5 if b.nose_angle > 10 else b.nose_angle / 2))
    for j, turned in enumerate(replay.turned):
        if j == i or not 0 < turned < 180:
            continue
        line = np.array(replay.folds[j].line)
        steps = np.linspace(0.0, 1.0, 60)[:, None]
        points = replay.places[i].local(line[0] + steps * (line[1] - line[0]))
        behind = points[(points[:, 0] > low + 0.01) & (points[:, 0] < high - 0.01) & (points[:, 1] < -0.01)]
        if not len(behind):
            continue
        fold = replay.folds[j]
        if fold.toward != step.side_up and -float(behind[:, 1].max()) >= inch(b.bed_depth):
            continue  # behind the bed it hangs free
        if fold.toward == step.side_up and -float(behind[:, 1].max()) > inch(b.beam_depth):
            continue  # behind the beam it stands free
        if fold.toward != step.side_up:
            faults.append(f"step {step.step}: edge {fold.edge} stands into the bed")
            continue
        room = min(inch(b.jaw), max(0.0, -float(behind[:, 1].max()) - strip) * rise)
        if fold.width * math.sin(math.radians(turned)) > room + 0.02:
            faults.append(f"step {step.step}: edge {fold.edge} does not go under the nose")
    return faults


def landing_faults(replay: FlapReplay, step: Step, i: int) -> list[str]:
    """The flap must not come down on a standing flap of the same side, nor two hems on one spot."""
    fold = replay.folds[i]
    turned = 180.0 if fold.hem else fold.turned
    if abs(math.cos(math.radians(turned))) < 1e-3:
        return []  # it stands on its own line
    mine = lying(replay, i, turned, wall=False)
    faults = []
    for j, other in enumerate(replay.folds):
        stands = 0 < replay.turned[j] < 180
        if j == i or replay.turned[j] == 0 or other.toward != fold.toward or not (stands or turned >= 180):
            continue
        place = replay.places[j]
        if turned < 180 and not other.hem:
            if _struck(replay, i, j):
                faults.append(f"step {step.step}: the flap of edge {fold.edge} strikes edge {other.edge}")
            continue
        local = place.local(mine)
        scale = math.cos(math.radians(180.0 if other.hem else replay.turned[j]))
        if abs(scale) > 1e-3:
            flat = local / (1.0, scale)
            flap = place.local(np.array(other.flap)) if other.flap else box(place.length, other.width)
            hit = bool((inside_by(flat, flap) >= CLEAR / abs(scale)).any())
        else:
            hit = False
        if stands:
            inner = (local[:, 1] < -CLEAR) & (local[:, 1] > -WALL + CLEAR)
            hit |= bool((inner & (local[:, 0] > CLEAR) & (local[:, 0] < place.length - CLEAR)).any())
        if hit:
            faults.append(f"step {step.step}: the flap of edge {fold.edge} comes down on edge {other.edge}")
    return faults


def _struck(replay: FlapReplay, i: int, j: int) -> bool:
    """Follow sampled points of flap i as it swings up: does one go through flange j?"""
    fold, place, other, plane = replay.folds[i], replay.places[i], replay.folds[j], replay.places[j]
    lean = math.radians(replay.turned[j])
    flap = plane.local(np.array(other.flap)) if other.flap else box(plane.length, other.width)
    points = place.local(lying(replay, i, 0.0, wall=False))
    before: Floats | None = None
    for angle in np.radians(np.linspace(0.0, fold.turned, max(2, round(fold.turned / 2)))):
        ground = place.at + points[:, :1] * place.along + points[:, 1:] * math.cos(angle) * place.out
        s, u = plane.local(ground).T
        up = points[:, 1] * math.sin(angle)
        now = np.column_stack((s, u * math.cos(lean) + up * math.sin(lean), up * math.cos(lean) - u * math.sin(lean)))
        if before is not None:
            through = (before[:, 2] > 0) != (now[:, 2] > 0)
            if through.any():
                a, b = before[through], now[through]
                share = (a[:, 2] / (a[:, 2] - b[:, 2]))[:, None]
                if (inside_by(a[:, :2] + (b - a)[:, :2] * share, flap) > 3 * CLEAR).any():
                    return True
        before = now
    return False
