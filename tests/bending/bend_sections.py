"""Sections and a job for the tests, built by hand rather than by the blanks room."""

from __future__ import annotations

import random
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from bend_pieces import T, allowance, setback

from fabplan.bending.brake.tool import BrakeShape, brake_shape
from fabplan.blanks.model import FlatPattern, Fold, SectionShape
from fabplan.job.load import load_job
from fabplan.job.metals import MetalProfile, load_metal
from fabplan.job.model import Job
from fabplan.units import from_inches

Hem = tuple[float, str, float]  # width, toward, gap

JOB = """
[job]
name = "Boathouse"
number = "7"
[metal]
use = "copper-16oz"
[[piece]]
mark = "R"
kind = "rectangle"
count = 1
width = "4 in"
length = "5 in"
[[stock]]
name = "coil"
form = "coil"
width = "24 in"
"""


@cache
def job_of(extra: str = "") -> Job:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "job.toml"
        path.write_text(JOB + extra, encoding="utf-8")
        return load_job(path)


@cache
def metals() -> dict[str, MetalProfile]:
    return {"copper-16oz": load_metal("copper-16oz")}


def brake(extra: str = "", thickness: float = T) -> BrakeShape:
    return brake_shape(job_of(extra).brake, thickness)


def section(
    legs: list[float],
    bends: list[float],
    *,
    radii: list[float] | None = None,
    start_hem: Hem | None = None,
    end_hem: Hem | None = None,
    mark: str = "S",
    length: float = 48.0,
) -> FlatPattern:
    """A section as the blanks room would hand it over; ValueError when a leg is shorter than its bends."""
    sizes, turns = [float(leg) for leg in legs], [float(b) for b in bends]
    inner = list(radii or [0.0] * len(turns))
    gaps: list[float | None] = [2 * r if abs(b) == 180 else None for b, r in zip(turns, inner, strict=True)]
    for hem, first in ((start_hem, True), (end_hem, False)):
        if hem is None:
            continue
        width, toward, gap = hem
        sign = 180.0 if toward == "face" else -180.0
        if first:
            sizes, turns, inner, gaps = [float(width), *sizes], [sign, *turns], [gap / 2, *inner], [gap, *gaps]
        else:
            sizes, turns, inner, gaps = [*sizes, width], [*turns, sign], [*inner, gap / 2], [*gaps, gap]
    ba = [allowance(abs(b), r) for b, r in zip(turns, inner, strict=True)]
    sb = [setback(abs(b), r) for b, r in zip(turns, inner, strict=True)]
    at, marks = 0.0, []
    for i, leg in enumerate(sizes):
        flat = leg - (sb[i - 1] if i else 0.0) - (sb[i] if i < len(turns) else 0.0)
        if flat <= 0:
            raise ValueError(f"leg {i + 1} is shorter than its bends")
        at += flat
        if i < len(turns):
            marks.append(at + ba[i] / 2)
            at += ba[i]
    folds = tuple(
        Fold(
            edge=i + 1,
            line=((marks[i], 0.0), (marks[i], length)),
            toward="face" if b > 0 else "back",
            turned=abs(b),
            width=sizes[0] if i == 0 and start_hem else sizes[i + 1],
            gap=gaps[i] or 2 * inner[i],
            radius=inner[i],
            bend_allowance=ba[i],
            setback=sb[i],
            deduction=2 * sb[i] - ba[i],
            hem=abs(b) >= 180,
        )
        for i, b in enumerate(turns)
    )
    outline = ((0.0, 0.0), (at, 0.0), (at, length), (0.0, length))
    return FlatPattern(
        mark=mark,
        kind="section",
        metal="copper-16oz",
        count=24,
        spare=0,
        width_units=max(1, round(at * 32)),
        length_units=round(length * 32),
        grid=from_inches(1 / 32),
        outline=outline,
        snipped=outline,
        folds=folds,
        thickness=T,
        section=SectionShape(
            legs=tuple(sizes),
            bends=tuple(turns),
            radii=tuple(inner),
            gaps=tuple(gaps),
            marks=tuple(marks),
            developed=at,
            thickness=T,
        ),
    )


OPEN, CLOSED = 1 / 16, 0.0


def zoo() -> dict[str, FlatPattern]:
    """What a roofing crew bends, in common sizes."""
    return {
        "drip edge": section([0.75, 2.5, 3], [90, -45]),
        "drip edge with a hook": section([3, 2.5, 0.75], [-90, 45], end_hem=(0.5, "back", OPEN)),
        "drip edge, kick folded back": section([4, 1.5, 0.75], [-90, 135], end_hem=(0.5, "face", CLOSED)),
        "eave strip": section([3, 1.5], [-90], end_hem=(0.5, "back", OPEN)),
        "hip cap": section([4, 4], [-60], start_hem=(0.5, "back", OPEN), end_hem=(0.5, "back", OPEN)),
        "ridge cap": section([0.5, 5, 5, 0.5], [30, -40, 30]),
        "valley": section([7.5, 7.5], [30], start_hem=(0.5, "face", OPEN), end_hem=(0.5, "face", OPEN)),
        "valley with a crimp": section(
            [7, 1, 1, 7], [45, -90, 45], start_hem=(0.5, "face", OPEN), end_hem=(0.5, "face", OPEN)
        ),
        "cleat": section([1.5, 0.75], [-90]),
        "hooked cleat": section([2.0], [], end_hem=(0.75, "face", OPEN)),
        "gravel stop": section([4, 1, 4, 0.75], [45, -135, 45], end_hem=(0.5, "face", CLOSED)),
        "coping": section(
            [0.75, 3, 10, 4, 0.75],
            [45, -90, -90, 45],
            start_hem=(0.5, "face", CLOSED),
            end_hem=(0.5, "face", CLOSED),
        ),
        "Z": section([2, 1.5, 2], [90, -90]),
        "hat": section([1.5, 1.5, 2.5, 1.5, 1.5], [90, -90, -90, 90]),
        "channel": section([2, 4, 2], [90, 90]),
        "channel with returns": section([1, 2, 4, 2, 1], [90, 90, 90, 90]),
        "rolled edge": section([2, 3, 2], [90, -60], radii=[0.25, 0.125]),
    }


def random_section(rng: random.Random, bends: int, *, hems: bool = True) -> FlatPattern:
    while True:
        legs = [rng.choice([0.5, 0.75, 1, 1.5, 2, 3, 4]) for _ in range(bends + 1)]
        turns = [rng.choice([-1, 1]) * rng.choice([30.0, 45, 60, 90, 90, 120, 135]) for _ in range(bends)]
        ends: list[Hem | None] = [None, None]
        for i in (0, 1):
            if hems and rng.random() < 0.3:
                ends[i] = (rng.choice([0.375, 0.5, 0.75]), rng.choice(["face", "back"]), rng.choice([CLOSED, OPEN]))
        try:
            return section(legs, turns, start_hem=ends[0], end_hem=ends[1])
        except ValueError:
            continue


def random_folded(rng: random.Random, bends: int) -> FlatPattern:
    """A section with folds between legs and bends beyond the leaf."""
    while True:
        legs = [rng.choice([0.5, 0.625, 0.75, 1, 1.5, 2, 3, 4]) for _ in range(bends + 1)]
        turns = [rng.choice([-1, 1]) * rng.choice([180.0, 180, 160, 150, 90, 90, 45]) for _ in range(bends)]
        radii = [rng.choice([0.0, 0.0, 1 / 32]) if abs(b) == 180 else 0.0 for b in turns]
        end_hem = (0.5, rng.choice(["face", "back"]), rng.choice([CLOSED, OPEN])) if rng.random() < 0.4 else None
        first, last = abs(turns[0]) == 180, abs(turns[-1]) == 180 and end_hem is None
        if (first and legs[0] <= legs[1]) or (last and legs[-1] <= legs[-2]):
            continue  # that is a hem
        try:
            return section(legs, turns, radii=radii, end_hem=end_hem)
        except ValueError:
            continue


def reversed_section(p: FlatPattern) -> FlatPattern:
    """The same piece described from its other edge."""
    s = p.section
    assert s is not None
    return _again(p, s.legs[::-1], s.bends[::-1], s.radii[::-1], s.gaps[::-1])


def negated_section(p: FlatPattern) -> FlatPattern:
    """The mirror image: every bend goes to the other side."""
    s = p.section
    assert s is not None
    return _again(p, s.legs, tuple(-b for b in s.bends), s.radii, s.gaps)


def _again(
    p: FlatPattern,
    legs: tuple[float, ...],
    bends: tuple[float, ...],
    radii: tuple[float, ...],
    gaps: tuple[float | None, ...],
) -> FlatPattern:
    def hem(at: int, leg: int) -> Hem | None:
        gap = gaps[at]
        return None if gap is None else (legs[leg], "face" if bends[at] > 0 else "back", gap)

    n = len(bends)
    if n == 1 and gaps[0] is not None:
        first = legs[0] < legs[1]
        start, end = (hem(0, 0), None) if first else (None, hem(0, 1))
    else:
        start, end = (hem(0, 0) if n else None), (hem(n - 1, n) if n else None)
    low, high = (1 if start else 0), n - (1 if end else 0)
    return section(
        list(legs[low : len(legs) - (1 if end else 0)]),
        list(bends[low:high]),
        radii=list(radii[low:high]),
        start_hem=start,
        end_hem=end,
        mark=p.mark,
    )
