"""The strip of a section as far as a replay has bent it, along true arcs."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import numpy as np

from fabplan.bending.check.common import Floats
from fabplan.bending.model import BendSchedule, Step
from fabplan.blanks.model import FlatPattern, Fold
from fabplan.job.metals import MetalProfile
from fabplan.job.model import Brake

SPACING = 0.05  # inches between sampled points of the metal


@dataclass(slots=True)
class StripReplay:
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
    by_hand: dict[int, float] = field(default_factory=dict)  # degrees left to the hands, by number from 1
    tapered: bool = False
    leads: bool = True  # False along a tapered strip: how it lies and is held is told once, at end A
    side_up: str = ""
    end_in: str = ""

    def same(self, told: set[int], needed: set[int]) -> bool:
        """Whether the shims told are those needed; those of a tapered strip may be needed at its other end only."""
        return told == needed or (self.tapered and needed <= told)

    def finished(self, k: int) -> bool:
        return self.turned[k] >= abs(self.bends[k]) - 1e-6

    def on_brake(self, k: int) -> float:
        """Degrees the brake turns bend k; the rest is left to the hands."""
        return abs(self.bends[k]) - self.by_hand.get(k + 1, 0.0)

    def end_of(self, k: int) -> int:
        """-1 or +1 when bend k is the hem of the start or finish edge, no wider than the leg it lies on; else 0."""
        shape, last = self.pattern.section, len(self.folds) - 1
        assert shape is not None
        if not self.folds[k].hem or k not in (0, last):
            return 0
        if max(self.turned[k], self.on_brake(k)) < 180 - 1e-6:
            return 0  # left open by the brake
        first, second, *_ = shape.legs
        if k == 0 and (first < second - 1e-9 or (last > 0 and first < second + 1e-9)):
            return -1
        return 1 if k == last and shape.legs[-1] < shape.legs[-2] + 1e-9 else 0

    def reach(self) -> float:
        """Degrees any flange can be turned: beyond, it lies against the nose."""
        return min(self.brake.largest_angle, 180.0 - self.brake.nose_angle)

    def in_two(self, k: int) -> bool:
        """Whether bend k takes two strokes: past square, then closed."""
        degrees = self.on_brake(k)
        return degrees > 1e-6 and (degrees > 180 - 1e-6 or degrees > self.reach() + 0.1)

    def layers(self, k: int, step: int) -> tuple[float, float]:
        """Metal laid back over the flat beside bend k going that way: how deep it is, and how far past the bend."""
        x, sign, at, back, past, fold = 0.0, 1.0, self.marks[k], 0.0, 0.0, -1.0
        j = k + step
        while 0 <= j < len(self.bends):
            if self.turned[j] > 0:
                x, at = x + sign * abs(self.marks[j] - at), self.marks[j]
                back, past = max(back, fold - x), max(past, -x)
                if self.turned[j] < 180 - 1e-6:
                    return back, past
                fold, sign = (x if fold < 0 else fold), -sign
                if self.end_of(j) == step:
                    return max(back, self.folds[j].width), past
            j += step
        x += sign * abs((self.width if step > 0 else 0.0) - at)
        return (max(back, fold - x) if fold >= 0 else 0.0), max(past, -x)

    def outside(self, k: int) -> float:
        """Mark of a bend to its outside, as far as it is turned; one not yet turned counts as far as the brake goes."""
        fold, turned = self.folds[k], self.turned[k]
        if not 0 < turned < fold.turned - 1e-6 and (turned or k + 1 not in self.by_hand):
            return fold.setback - fold.bend_allowance / 2
        turned = turned or self.on_brake(k)
        setback = (fold.radius + self.pattern.thickness) * math.tan(math.radians(min(turned, 90.0)) / 2)
        return setback - fold.bend_allowance * turned / fold.turned / 2

    def flat_run(self, k: int, step: int) -> tuple[str, int, float, float]:
        """What ends the flat next to bend k going that way (+1, -1): kind, number, distance, distance outside."""
        j = k + step
        while 0 <= j < len(self.bends):
            if self.turned[j] > 0:
                flat = self.folds[j].hem and self.turned[j] >= 180 - 1e-6
                kind = "bend" if not flat else "hem" if self.end_of(j) else "fold"
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
            if self.turned[j] >= 180 - 1e-6 and self.end_of(j) == step:
                end = self.marks[j]
                break
            if self.turned[j] >= 180 - 1e-6:  # right back along itself
                go(self.marks[j], 0.0, _pieces(abs(self.marks[j] - at)))
                heading += math.pi
                j += step
                continue
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


def strip_at(pattern: FlatPattern, share: float) -> FlatPattern:
    """What a tapered strip is at a share of its length: every size in proportion between those of both ends."""
    a, b = pattern.section, pattern.far
    assert a is not None and b is not None
    mixed = {
        name: tuple((1 - share) * x + share * y for x, y in zip(getattr(a, name), getattr(b, name), strict=True))
        for name in ("legs", "marks")
    }
    width = (1 - share) * pattern.outline[-1][0] + share * pattern.outline[0][0]
    developed = (1 - share) * a.developed + share * b.developed
    section = replace(a, legs=mixed["legs"], marks=mixed["marks"], developed=developed)
    return replace(pattern, section=section, far=None, rounding=width - developed)


def steps_at(schedule: BendSchedule, share: float) -> BendSchedule:
    """Its stops and check sizes there."""

    def one(step: Step) -> Step:
        assert step.far is not None
        size = (1 - share) * step.check.size + share * step.far.size
        stop = (1 - share) * step.stop + share * step.far.stop
        return replace(step, stop=stop, check=replace(step.check, size=size))

    return replace(schedule, steps=tuple(one(step) for step in schedule.steps))


def _pieces(length: float) -> int:
    return max(1, math.ceil(length / SPACING))
