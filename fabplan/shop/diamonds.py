"""Ten folded diamonds and calipers: how much the shop's hands vary, the hem to set, the first spacing.

Each diamond is measured fold to fold across both ways, and at its four hems. A hem varies with its fold. A size across
with both hems added is the sheared size again, less what the bends take, so that varies with the shear alone. Spreads
are pooled standard deviations with an interval from chi-squared, means one from Student's t ("The Probable Error of a
Mean", Biometrika 6(1), 1908); both as in any text on quality control.
"""

from __future__ import annotations

import math
import os
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import fmean
from typing import Any

from fabplan.blanks.model import FlatPattern, Lattice
from fabplan.errors import BadValueError, JobError, PlanError
from fabplan.job.model import Job
from fabplan.job.readers import read_positive_length
from fabplan.job.write_toml import set_keys
from fabplan.packet.model import Block, Column, Heading, Para, Table
from fabplan.roof.extras.variation import hem_needed, wider_hem
from fabplan.roof.lay.placing import mark_step
from fabplan.shop.strips import SURE, MeanInterval, interval_of
from fabplan.speech.format import Say
from fabplan.units import inches

PIECES = 10
LEAST = 5  # diamonds from which a spread is written down
EVERY = (1, 2, 3, 5)  # courses between lines
STEP = {"in": 0.001, "mm": 0.02 / 25.4}  # what calipers are read to
UPPER, LOWER = (0, 3), (1, 2)  # places of the hems of edges 1 to 4
WORDS = (
    "Shear, snip and fold ten diamonds as the roof will be made. With calipers measure fold to fold across both ways, "
    "outside, in the middle of the edges, and all four hems from the outside of the fold to the raw edge. Write the "
    "sizes down and give them to fabplan strips with --measured."
)
WRITE = "[[diamond]] with mark, across = [two sizes, 1 to 3 and 2 to 4] and hems = [four, edges 1 to 4]"


@dataclass(frozen=True, slots=True, kw_only=True)
class Caliper:
    """One diamond, inches: fold to fold from edge 1 to 3 and from 2 to 4; hems of edges 1 to 4."""

    across: tuple[float, float]
    hems: tuple[float, float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredSpread:
    """A standard deviation, and the interval it lies in `SURE` of the times."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Hem:
    """The hem to set for a line every so many courses, by the spread found and by the ends of its interval."""

    every: int
    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DiamondFinding:
    """What the diamonds of one mark say.

    `shear` and `fold` are spreads; `wider` how much wider than asked hems come out; `hems` what to set so that locks
    are safe; `spacing` the first spacing along a course beside the one `planned`.
    """

    mark: str
    pieces: int
    shear: MeasuredSpread
    fold: MeasuredSpread
    wider: MeanInterval
    hems: tuple[Hem, ...]
    spacing: MeanInterval
    planned: float


def read_diamonds(path: Path, job: Job) -> dict[str, list[Caliper]]:
    """Measured diamonds by mark, from the ``[[diamond]]`` tables of a file.

    Raises
    ------
    JobError
        A value that is none, or a mark that is no diamond of the job.
    """
    shown = os.fspath(path)
    rows = tomllib.loads(path.read_text(encoding="utf-8")).get("diamond", [])
    marks = [p.mark for p in job.pieces if p.kind == "diamond"]
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise JobError("holds no measured diamonds", file=shown, write=WRITE)
    out: dict[str, list[Caliper]] = {}
    for number, row in enumerate(rows, 1):
        try:
            mark = str(row["mark"]) if "mark" in row or len(marks) != 1 else marks[0]
            if mark not in marks:
                raise ValueError(f'"{mark}" is no diamond of the job ({", ".join(marks) or "it has none"})')
            out.setdefault(mark, []).append(_caliper(row, job))
        except (BadValueError, KeyError, TypeError, ValueError) as fault:
            missing = f'"{fault.args[0]}" is missing' if isinstance(fault, KeyError) else str(fault)
            raise JobError(missing, file=shown, key=f"diamond {number}", write=WRITE) from None
    return out


def _caliper(row: Mapping[str, Any], job: Job) -> Caliper:
    def sizes(key: str, n: int) -> list[float]:
        values = [inches(read_positive_length(v, job.info.units)) for v in row[key]]
        if len(values) != n:
            raise ValueError(f"{key} takes {n} sizes, not {len(values)}")
        return values

    a, b = sizes("across", 2)
    one, two, three, four = sizes("hems", 4)
    return Caliper(across=(a, b), hems=(one, two, three, four))


def spread_of(groups: Iterable[Sequence[float]], step: float) -> MeasuredSpread:
    """Pooled standard deviation within groups, never less than readings to that `step` allow."""
    from scipy.stats import chi2

    squares, free = 0.0, 0
    for values in groups:
        mean = fmean(values)
        squares += sum((v - mean) ** 2 for v in values)
        free += len(values) - 1
    squares = max(squares, free * (step / math.sqrt(12)) ** 2)
    low, high = (float(chi2.ppf(p, free)) for p in ((1 + SURE) / 2, (1 - SURE) / 2))
    return MeasuredSpread(value=math.sqrt(squares / free), low=math.sqrt(squares / low), high=math.sqrt(squares / high))


def hands(mark: str, measured: Sequence[Caliper], lattice: Lattice, job: Job) -> DiamondFinding:
    """What the measured diamonds of one mark say.

    Raises
    ------
    PlanError
        Fewer than two.
    """
    if len(measured) < 2:
        raise PlanError(f"One diamond of {mark} says nothing of a spread.", help_=f"Measure {PIECES} of them.")
    step = STEP[job.info.units]
    fold = spread_of([[c.hems[k] for c in measured] for k in range(4)], step)
    sums = [[c.across[k] + c.hems[k] + c.hems[k + 2] for c in measured] for k in (0, 1)]
    shear = spread_of(sums, step * math.sqrt(3))
    apart = lattice.upper_hem - lattice.lower_hem
    asked = [lattice.upper_hem if k in UPPER else lattice.lower_hem for k in range(4)]
    wider = interval_of([fmean(h - a for h, a in zip(c.hems, asked, strict=True)) for c in measured], step / 2)
    play = inches(job.spread.play)

    def need(every: int, s: float, f: float) -> float:
        return hem_needed(
            every, lattice.top_angle, lattice.thickness, s, f, play, least_hook=inches(job.roof.least_hook),
            confidence=float(job.roof.confidence), apart=apart, step=inches(mark_step(job)),
        )  # fmt: skip

    hems = tuple(
        Hem(
            every=every,
            value=need(every, shear.value, fold.value) - wider.mean,
            low=need(every, shear.low, fold.low) - wider.mean - wider.off,
            high=need(every, shear.high, fold.high) - wider.mean + wider.off,
        )
        for every in EVERY
    )
    ways = [_spacing(c, lattice, apart, fold.value) for c in measured]
    return DiamondFinding(
        mark=mark,
        pieces=len(measured),
        shear=shear,
        fold=fold,
        wider=wider,
        hems=hems,
        spacing=interval_of(ways, step),
        planned=lattice.spacing,
    )


def _spacing(c: Caliper, lattice: Lattice, apart: float, fold: float) -> float:
    """Spacing along a course if every piece were like this one: its side less a lap as wide as the wider hem."""
    alpha = math.radians(lattice.top_angle)
    edges = UPPER if apart > 1e-9 else LOWER if apart < -1e-9 else (*UPPER, *LOWER)
    lap = fmean(c.hems[k] for k in edges) + wider_hem(apart, fold)[0] + lattice.thickness + lattice.slack
    return 2 * math.sin(alpha / 2) * (fmean(c.across) - lap) / math.sin(alpha)


COLUMNS = ("mark", "pieces", f"what ({SURE:.0%} sure)", "found")


def rows(found: Sequence[DiamondFinding], job: Job) -> list[tuple[object, ...]]:
    """What was found, for a table."""
    show = job.show
    out: list[tuple[object, ...]] = []
    for h in found:
        said = [
            (name, f"{show.fine(s.value)} ({show.fine(s.low)} to {show.fine(s.high)})")
            for name, s in (("spread of the shear", h.shear), ("spread of the folds", h.fold))
        ]
        said.append(("hems wider than asked", f"{show.fine(h.wider.mean)} ± {show.fine(h.wider.off)}"))
        said += [
            (f"hem to set, a line every {'course' if m.every == 1 else f'{m.every} courses'}",
             f"{show.length(m.value)} ({show.length(m.low)} to {show.length(m.high)})")
            for m in h.hems
        ]  # fmt: skip
        beside = f"{show.fine(h.spacing.mean)} ± {show.fine(h.spacing.off)}; planned {show.fine(h.planned)}"
        said.append(("first spacing along a course", beside))
        out += [(h.mark if n == 0 else "", h.pieces if n == 0 else "", *pair) for n, pair in enumerate(said)]
    return out


def write_hands(found: Sequence[DiamondFinding], job: Job) -> str:
    """Write the spreads into the shop file (or the job's), the greatest of several marks.

    Raises
    ------
    PlanError
        Too few diamonds.
    """
    sure = [h for h in found if h.pieces >= LEAST]
    if not sure:
        raise PlanError("Too few diamonds to write a spread down.", help_=f"Measure {LEAST} of a mark at least.")
    file, show = job.shop or job.file, job.show
    values = {key: max((getattr(h, key) for h in sure), key=lambda s: s.value) for key in ("shear", "fold")}
    n = max(h.pieces for h in sure)
    set_keys(
        Path(file),
        "spread",
        {key: show.fine(s.value) for key, s in values.items()},
        comments={
            key: f"{n} diamonds, {show.fine(s.low)} to {show.fine(s.high)} ({SURE:.0%} sure)"
            for key, s in values.items()
        },
        shown=file,
    )
    return file


def diamond_blocks(patterns: Sequence[FlatPattern], say: Say) -> tuple[Block, ...]:
    """The diamonds to fold and measure, with room for the sizes; none where the job has no diamond."""
    marks = [p.mark for p in patterns if p.kind == "diamond" and p.lattice is not None]
    if not marks:
        return ()
    columns = (
        Column(title="Piece", strong=True),
        *(Column(title=t, share=1) for t in ("Across 1–3", "Across 2–4", "Hem 1", "Hem 2", "Hem 3", "Hem 4")),
    )
    table = tuple((f"{mark}, {n}", *("",) * 6) for mark in marks for n in range(1, PIECES + 1))
    return (
        Heading(text="Ten diamonds and calipers"),
        Para(text=WORDS, size=10),
        Table(name=f"Ten diamonds, sizes in {say.units}", columns=columns, rows=table),
    )
