"""A tapered strip on the leaf brake: a stroke is made where its section at both ends, and half way, allows it.

The legs are flat and the bend lines straight, so every size along the piece lies between those of its ends.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from fabplan.bending.brake.bend_order import BendStroke, SectionProblem
from fabplan.bending.brake.section import BendStrip
from fabplan.bending.brake.steps import BrakeWork, check_to, gauge, section_steps
from fabplan.bending.brake.strokes import Hit, Strokes
from fabplan.bending.brake.tool import BrakeShape
from fabplan.bending.model import Far, Step
from fabplan.blanks.model import FlatPattern, SectionShape
from fabplan.job.metals import MetalProfile

SHARES = (0.0, 0.5, 1.0)


def section_at(pattern: FlatPattern, share: float) -> FlatPattern:
    """The plain strip that a tapered one is at a share of its length from end A."""
    near, far = pattern.section, pattern.far
    assert near is not None and far is not None

    def between(a: float, b: float) -> float:
        return a + (b - a) * share

    shape = SectionShape(
        legs=tuple(map(between, near.legs, far.legs)),
        bends=near.bends,
        radii=near.radii,
        gaps=near.gaps,
        marks=tuple(map(between, near.marks, far.marks)),
        developed=between(near.developed, far.developed),
        thickness=near.thickness,
    )
    rounding = between(pattern.rounding, pattern.outline[0][0] - far.developed)
    return replace(pattern, section=shape, far=None, rounding=rounding)


class TaperedStrokes(Strokes):
    """Answers for all of a tapered strip: what stops a stroke at any of its sections stops it."""

    def __init__(self, strips: Sequence[BendStrip], brake: BrakeShape, springback: Sequence[float]) -> None:
        super().__init__(strips[0], brake, springback)
        self.parts = [Strokes(strip, brake, springback) for strip in strips]

    def set_to(self, k: int, clamp_high: bool, mask: int) -> float:
        return min(part.set_to(k, clamp_high, mask) for part in self.parts)

    def bar_off(self, k: int, clamp_high: bool, mask: int) -> bool:
        return any(part.bar_off(k, clamp_high, mask) for part in self.parts)

    def shimmed(self, k: int, clamp_high: bool, mask: int) -> bool:
        return any(part.shimmed(k, clamp_high, mask) for part in self.parts)

    def alone(self, k: int) -> Hit | None:
        return _first(part.alone(k) for part in self.parts)

    def clamped(self, k: int, high: bool, mask: int) -> Hit | None:
        return _first(part.clamped(k, high, mask) for part in self.parts)

    def swinging(self, k: int, high: bool, mask: int) -> Hit | None:
        return _first(part.swinging(k, high, mask) for part in self.parts)

    def together(self, k: int, clamp_high: bool, mask: int) -> Hit | None:
        return _first(part.together(k, clamp_high, mask) for part in self.parts)

    def closing(self, k: int, under_high: bool, pushed_in: bool, mask: int) -> Hit | None:
        return _first(part.closing(k, under_high, pushed_in, mask) for part in self.parts)

    def front_loading(self, k: int, clamp_high: bool, mask: int) -> bool:
        return all(part.front_loading(k, clamp_high, mask) for part in self.parts)

    def measuring(self) -> Strokes:
        found = TaperedStrokes([part.strip for part in self.parts], self.brake, self.overbends)
        found.parts = [part.measuring() for part in self.parts]
        return found


def tapered_strokes(
    pattern: FlatPattern, hands: Mapping[int, float], brake: BrakeShape, springback: Sequence[float]
) -> TaperedStrokes | None:
    """Answers for a tapered strip; None for one that is alike all along."""
    if pattern.far is None:
        return None
    return TaperedStrokes([BendStrip(section_at(pattern, share), hands) for share in SHARES], brake, springback)


def _first(hits: Iterable[Hit | None]) -> Hit | None:
    return next((hit for hit in hits if hit is not None), None)


def tapered_steps(
    problem: SectionProblem, far: BendStrip, metal: MetalProfile, order: Sequence[BendStroke]
) -> tuple[Step, ...]:
    """The steps at end A, each with its stop and check size at end B."""
    near = section_steps(BrakeWork(problem, metal), order)
    other = SectionProblem(far, problem.strokes.brake, problem.strokes.overbends)
    other.strokes = problem.strokes
    out = []
    steps = iter(zip(near, section_steps(BrakeWork(other, metal), order), strict=True))
    for made, move, *_ in order:
        for _ in range(2 if problem.strokes.twice[move.bend] else 1):
            a, b = next(steps)
            size = b.check.size
            if a.check.to is not None:
                size = check_to(far, move.bend, made, a.check.to)
            stop = 0.0 if a.action == "close" else gauge(far, move.bend, move.finish_in, made)[1]
            packing = a.hold.packing or b.hold.packing
            shims = tuple(sorted({*a.hold.shims_in, *b.hold.shims_in}))
            hold = replace(a.hold, packing=packing, shims_in=shims)
            out.append(replace(a, hold=hold, far=Far(stop=stop, size=size)))
    return tuple(out)
