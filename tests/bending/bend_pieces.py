"""Small flat pieces and tools for the tests, built by hand rather than by the blanks room."""

from __future__ import annotations

import math
import random

from fabplan.bending.model import Step
from fabplan.bending.tools import Tool
from fabplan.blanks.model import Finished, FlatPattern, Fold, Point
from fabplan.speech.folds import stroke_sentences
from fabplan.units import Show

T, K = 0.0216, 0.35

SEAMER = Tool(
    name="hand seamer",
    largest_angle=180.0,
    least_fold=0.25,
    greatest_fold=1.5,
    slot_depth=0.0,
    longest_fold=3.5,
    in_bites=True,
    press_strip=0.5,
    closes_hems=True,
)
LEAF = Tool(
    name="leaf brake",
    largest_angle=135.0,
    least_fold=0.375,
    greatest_fold=1e9,
    slot_depth=0.0,
    longest_fold=120.0,
    in_bites=False,
    press_strip=0.25 + 2 * T,
    closes_hems=True,
    deepest_closed=1.0,
    is_brake=True,
    slope=30.0,
    jaw=2.0,
)
BAR = Tool(
    name="folding bar",
    largest_angle=100.0,
    least_fold=0.25,
    greatest_fold=1.25,
    slot_depth=0.0,
    longest_fold=24.0,
    in_bites=False,
    press_strip=0.5,
    closes_hems=False,
)
MALLET = Tool(
    name="mallet",
    largest_angle=45.0,
    least_fold=0.25,
    greatest_fold=2.0,
    slot_depth=0.0,
    longest_fold=3.0,
    in_bites=True,
    press_strip=0.25,
    closes_hems=True,
)

Spec = tuple[str, float, float, float]  # toward, turned, width, gap


def step_sentences(step: Step, show: Show, pattern: FlatPattern | None = None) -> list[str]:
    """The sentences of a stroke in full."""
    return [s.full for s in stroke_sentences(step, show, pattern)]


def stroke_words(step: Step, show: Show) -> str:
    """All sentences of a stroke."""
    return " ".join(step_sentences(step, show))


def allowance(turned: float, radius: float) -> float:
    return math.radians(turned) * (radius + K * T)


def setback(turned: float, radius: float) -> float:
    return (radius + T) * math.tan(math.radians(min(turned, 90)) / 2)


def fold(edge: int, line: tuple[Point, Point], flap: list[Point], spec: Spec) -> Fold:
    toward, turned, width, gap = spec
    ba, sb = allowance(turned, gap / 2), setback(turned, gap / 2)
    return Fold(
        edge=edge,
        line=line,
        toward=toward,  # type: ignore[arg-type]
        turned=turned,
        width=width,
        gap=gap,
        radius=gap / 2,
        bend_allowance=ba,
        setback=sb,
        deduction=2 * sb - ba,
        allowance=width - 2 * sb + ba,
        slot_depth=width - sb,
        flap=tuple(flap),
        hem=turned >= 180,
    )


def piece(corners: list[Point], specs: dict[int, Spec], mark: str = "A") -> FlatPattern:
    """A polygon (finished, counter-clockwise) with folds on numbered edges, mitred where neighbours go one way."""
    n = len(corners)
    folds = []
    for edge, spec in specs.items():
        i = edge - 1
        a, b = corners[i], corners[(i + 1) % n]
        length = math.dist(a, b)
        d = ((b[0] - a[0]) / length, (b[1] - a[1]) / length)
        out = (d[1], -d[0])
        toward, turned, width, gap = spec
        ba, sb = allowance(turned, gap / 2), setback(turned, gap / 2)
        off, depth = ba / 2 - sb, width - 2 * sb + ba
        cuts = []
        for at, neighbour in ((i, (i - 1) % n), ((i + 1) % n, (i + 1) % n)):
            before, v, after = corners[(at - 1) % n], corners[at], corners[(at + 1) % n]
            phi = (
                math.atan2(before[1] - v[1], before[0] - v[0]) - math.atan2(after[1] - v[1], after[0] - v[0])
            ) % math.tau
            fall = -width / depth * math.cos(math.radians(turned))
            k = max(-1 / math.tan(phi / 2), fall / math.tan(phi))
            other = specs.get(neighbour + 1)
            if other and other[0] == toward:
                k = max(k, fall / math.tan(phi / 2))
            cuts.append(k)

        def at(s: float, u: float, a: Point = a, d: Point = d, out: Point = out) -> Point:
            return a[0] + s * d[0] + u * out[0], a[1] + s * d[1] + u * out[1]

        flap = [
            at(cuts[0] * off, off),
            at(length - cuts[1] * off, off),
            at(length - cuts[1] * depth, depth),
            at(cuts[0] * depth, depth),
        ]
        folds.append(fold(edge, (at(0, off), at(length, off)), flap, spec))
    return FlatPattern(
        mark=mark,
        kind="outline",
        metal="copper-16oz",
        count=10,
        spare=0,
        width_units=1,
        length_units=1,
        grid=793_750,
        outline=tuple(corners),
        snipped=tuple(corners),
        folds=tuple(folds),
        thickness=T,
        finished=Finished(outline=tuple(corners)),
    )


def diamond(side: float = 12.0, width: float = 1.0, gap: float = 1 / 16, top: float = 90.0) -> FlatPattern:
    half = math.radians(top / 2)
    x, y = side * math.sin(half), side * math.cos(half)
    hem = {1: "face", 2: "back", 3: "back", 4: "face"}
    return piece([(0, y), (-x, 0), (0, -y), (x, 0)], {e: (to, 180.0, width, gap) for e, to in hem.items()})


def mirrored(pattern: FlatPattern) -> FlatPattern:
    """The piece seen in a mirror: left and right change, sides stay."""
    from dataclasses import replace

    def flip(points: tuple[Point, ...]) -> tuple[Point, ...]:
        return tuple((-x, y) for x, y in points)

    folds = tuple(
        replace(f, line=((-f.line[1][0], f.line[1][1]), (-f.line[0][0], f.line[0][1])), flap=flip(f.flap)[::-1])
        for f in pattern.folds
    )
    return replace(pattern, folds=folds, outline=flip(pattern.outline)[::-1], snipped=flip(pattern.snipped)[::-1])


def turned_inside_out(pattern: FlatPattern) -> FlatPattern:
    """Face and back exchanged."""
    from dataclasses import replace

    folds = tuple(replace(f, toward="back" if f.toward == "face" else "face") for f in pattern.folds)
    return replace(pattern, folds=folds)


def random_piece(rng: random.Random, most_folds: int = 4) -> FlatPattern:
    n = rng.randint(3, 6)
    step = math.tau / n
    corners = [
        (
            rng.uniform(5, 12) * math.cos(step * i + rng.uniform(-0.2, 0.2)),
            rng.uniform(5, 12) * math.sin(step * i + rng.uniform(-0.2, 0.2)),
        )
        for i in range(n)
    ]
    edges = rng.sample(range(1, n + 1), rng.randint(1, min(n, most_folds)))
    specs: dict[int, Spec] = {}
    for e in sorted(edges):
        turned = rng.choice([180.0, 180.0, 180.0, 90.0, 45.0])
        gap = rng.choice([0.0, 1 / 16]) if turned == 180 else 0.0
        specs[e] = (rng.choice(["face", "back"]), turned, rng.choice([0.5, 0.75, 1.0, 1.25]), gap)
    return piece(corners, specs)
