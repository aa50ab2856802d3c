"""Turned ends of a section seen along the strip: whether they run into other legs or into one another."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from fabplan.blanks.flat.bend import Bend
from fabplan.blanks.flat.corner import NEAR
from fabplan.blanks.kinds.strip import SectionStrip
from fabplan.blanks.model import EndTurn, Point
from fabplan.blanks.piece_rules import PieceRules
from fabplan.job.kinds.ends import TurnedEnd
from fabplan.units import inches


@dataclass(frozen=True, slots=True, kw_only=True)
class TurnAsked:
    """One turned end as the job asks for it."""

    key: str  # in the job file, for faults
    what: Literal["end dam", "return"]
    spec: TurnedEnd
    index: int  # of its leg, hems counted in, from 0
    up: int  # +1 toward the face
    bend: Bend


def clear_of_all(
    bench: PieceRules, strip: SectionStrip, marks: tuple[float, ...], wanted: list[TurnAsked], turns: list[EndTurn]
) -> None:
    """Nothing turned runs into a leg that is not beside it, nor into what is turned of another leg."""
    legs = profile(strip, marks, bench.metal.thickness)
    shapes = [_standing(legs[w.index], w, t, marks) for w, t in zip(wanted, turns, strict=True)]
    thick, many = bench.metal.thickness, len(bench.piece.legs)  # type: ignore[union-attr]
    for w, shape in zip(wanted, shapes, strict=True):
        if w.spec.turned < 90 - NEAR:
            continue  # it leans out of the strip
        for i, leg in enumerate(legs):
            if abs(i - w.index) > 1 and _enters(leg, shape, thick):
                number = i - strip.at_start + 1
                name = f"leg {number}" if 0 < number <= many else "a hem"
                raise bench.fault(
                    w.key, f"what is turned of leg {w.spec.leg} would run into {name}",
                    value=bench.show.exact(w.spec.size), write="less of it, or the end of another leg",
                )  # fmt: skip
    for n, (w, shape) in enumerate(zip(wanted, shapes, strict=True)):
        for other, its in zip(wanted[:n], shapes[:n], strict=True):
            if any(_enters(side, its, thick) for side in pairwise((*shape, shape[0]))):
                raise bench.fault(
                    w.key, f"what is turned of legs {other.spec.leg} and {w.spec.leg} would lie over one another",
                    value=bench.show.exact(w.spec.size), write="less of one of them",
                )  # fmt: skip


def profile(strip: SectionStrip, marks: tuple[float, ...], thickness: float) -> list[tuple[Point, Point]]:
    """The legs in section, through their bend marks; layers folded on one another set off by what lies between."""
    x = y = heading = at = 0.0
    out: list[tuple[Point, Point]] = []
    stops = [*marks, marks[-1] + strip.legs[-1] if marks else strip.legs[0]]
    for k, stop in enumerate(stops):
        c, s = math.cos(math.radians(heading)), math.sin(math.radians(heading))
        start, (x, y) = (x, y), (x + (stop - at) * c, y + (stop - at) * s)
        out.append((start, (x, y)))
        at = stop
        if k < len(strip.bends):
            bend, sign = strip.bends[k], strip.signs[k]
            if bend.turned >= 180:
                lift = sign * (thickness + bend.gap)
                x, y = x - lift * s, y + lift * c
            heading += sign * bend.turned
    return out


def _standing(leg: tuple[Point, Point], w: TurnAsked, turn: EndTurn, marks: tuple[float, ...]) -> tuple[Point, ...]:
    """What is turned, seen along the strip, as four corners in the frame of the profile."""
    (x0, y0), (x1, y1) = leg
    long = math.dist(*leg)
    ux, uy = (x1 - x0) / long, (y1 - y0) / long
    nx, ny = -uy * w.up, ux * w.up
    start = marks[w.index - 1] if w.index else 0.0
    high = inches(w.spec.size) * math.sin(math.radians(w.spec.turned))
    a, b, c, d = turn.fold.flap
    spots = [(a[0] - start, 0.0), (b[0] - start, 0.0), (c[0] - start, high), (d[0] - start, high)]
    return tuple((x0 + s * ux + z * nx, y0 + s * uy + z * ny) for s, z in spots)


def _enters(line: tuple[Point, Point], shape: tuple[Point, ...], thickness: float) -> bool:
    """Whether a line goes more than a thickness into a convex shape."""
    sides = list(pairwise((*shape, shape[0])))
    turn = math.copysign(1.0, sum(p[0] * q[1] - q[0] * p[1] for p, q in sides))
    low, high = 0.0, 1.0
    (x0, y0), (x1, y1) = line
    for p, q in sides:
        long = math.dist(p, q)
        if long < NEAR:
            continue
        nx, ny = -(q[1] - p[1]) / long * turn, (q[0] - p[0]) / long * turn  # into the shape
        start = (x0 - p[0]) * nx + (y0 - p[1]) * ny - thickness
        end = (x1 - p[0]) * nx + (y1 - p[1]) * ny - thickness
        if start < 0 and end < 0:
            return False
        if start < 0 or end < 0:
            cross = start / (start - end)
            low, high = (max(low, cross), high) if start < 0 else (low, min(high, cross))
    return low < high - NEAR
