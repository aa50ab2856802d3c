"""Jobs, lattices and slopes for the roof tests."""

from __future__ import annotations

import math
import tempfile
from functools import cache
from pathlib import Path
from typing import Any

from fabplan.blanks.develop import develop
from fabplan.blanks.model import FlatPattern, Lattice
from fabplan.job.load import load_job
from fabplan.job.model import Job
from fabplan.job.slopes import Roof, Slope
from fabplan.plan.make import metals_of
from fabplan.roof.model import Measured, Point, SlopeEdge

BASE = """
[job]
name = "Test roof"
number = "R1"
units = "in"

[metal]
use = "copper-16oz"

[[piece]]
mark = "A"
kind = "diamond"
side = "10 in"
hem = "3/4 in"

[[piece]]
mark = "S"
kind = "starter"
for = "A"

[[piece]]
mark = "T"
kind = "ridge-half"
for = "A"

[[piece]]
mark = "D"
kind = "section"
length = "48 in"
legs = ["3/4 in", "2-1/2 in", "3 in"]
bends = [90, -45]

[[piece]]
mark = "H"
kind = "section"
length = "48 in"
legs = ["3 in", "3 in"]
bends = [60]

[[slope]]
name = "stand-in"
shape = "rectangle"
piece = "A"
bottom = "60 in"
height = "60 in"

[roof]
eave_piece = "D"
hip_piece = "H"
"""


@cache
def base() -> tuple[Job, tuple[FlatPattern, ...]]:
    """A loaded job and its flat patterns; its slope is only there to make it a roof."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "job.toml"
        path.write_text(BASE, encoding="utf-8")
        job = load_job(path)
    return job, develop(job, metals_of(job))


def slope(**keys: Any) -> Slope:
    """A slope as read from a job in inches."""
    return Slope.model_validate({"name": "x", "piece": "A", **keys}, context={"units": "in"})


def roof(**keys: Any) -> Roof:
    """Roof rules as read from a job in inches; cut pieces at the bench, so that pairs and templates can be tried."""
    at = {"eave_piece": "D", "hip_piece": "H", "cut_pieces": "at the bench", "lengths": "as typed"}
    return Roof.model_validate({**at, **keys}, context={"units": "in"})


def job_with(*slopes: Slope, rules: Roof | None = None, **parts: Any) -> Job:
    """The base job with these slopes."""
    return base()[0].model_copy(update={"slopes": slopes, "roof": rules or roof(), **parts})


def patterns() -> tuple[FlatPattern, ...]:
    """Flat patterns of the base job."""
    return base()[1]


def lattice(
    side: float = 10.0,
    hem: float = 0.75,
    angle: float = 90.0,
    thickness: float = 0.0216,
    factor: float = 0.35,
    slack: float = 1 / 32,
    joint: float = 1 / 16,
) -> Lattice:
    """Lattice of a diamond with closed hems, written out from the lock geometry."""
    alpha = math.radians(angle)
    allowance = hem - 2 * thickness + math.pi * factor * thickness
    lap = hem + thickness + slack
    exposed = side - lap / math.sin(alpha)
    return Lattice(
        side=side,
        top_angle=angle,
        upper_hem=hem,
        lower_hem=hem,
        upper_allowance=allowance,
        lower_allowance=allowance,
        lap=lap,
        hooked=2 * hem - lap,
        exposed=exposed,
        spacing=2 * exposed * math.sin(alpha / 2),
        course=exposed * math.cos(alpha / 2),
        cell=exposed**2 * math.sin(alpha),
        joint=joint,
        slack=slack,
        side_snip=lap / (2 * math.cos(alpha / 2)) + joint / 2,
        thickness=thickness,
    )


def measured(points: tuple[Point, ...], *, reach: float = 0.0, fold: float = 0.5, kinds: str = "") -> Measured:
    """A slope straight from its corner points; every edge but the first reaches `reach` past."""
    n = len(points)
    words = {"e": "eave", "h": "hip", "r": "rake", "g": "ridge"}
    return Measured(
        name="x",
        entry="x",
        piece="A",
        times=1,
        edges=tuple(
            SlopeEdge(
                name=str(i + 1),
                kind=words[kinds[i]] if kinds else ("eave" if i == 0 else "hip"),
                start=points[i],
                end=points[(i + 1) % n],
                reach=reach if i else 0.0,
                fold=fold,
            )
            for i in range(n)
        ),
    )
