"""Test strips: what to shear and bend, and what measured legs say of deduction and springback.

A strip of known flat length is bent once across its middle. Its bend deduction is the sum of its outside legs less the
flat length; its springback the angle it was set to less the angle it reads when let go. Over several strips both have a
mean and an interval (Student's t, "The Probable Error of a Mean", Biometrika 6(1), 1908), no narrower than the ruler
allows.
"""

from __future__ import annotations

import math
import os
import tomllib
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import fmean, stdev
from typing import Any

from fabplan.blanks.flat.bend import make_bend
from fabplan.blanks.model import FlatPattern
from fabplan.errors import BadValueError, JobError, PlanError
from fabplan.job.metals import MetalProfile
from fabplan.job.model import Job
from fabplan.job.readers import read_angle, read_length, read_positive_length
from fabplan.job.write_toml import set_keys
from fabplan.packet.model import Block, Column, Packet, Page, Para, Table
from fabplan.packet.output.folder import write_file
from fabplan.packet.setting.typeset import typeset
from fabplan.speech.format import Say
from fabplan.units import from_inches, inches

SURE = 0.9
STRIPS = 5  # of each metal, angle and gap
LEAST = 3  # strips from which a mean is written down
FLAT = {"in": ("4 in", 4.0), "mm": ("100 mm", 100 / 25.4)}
SQUARE = 90.0
WORDS = (
    "Shear the strips 2 in (50 mm) wide and exactly as long as said, square and without burr. Scribe the middle. Bend "
    "each once on it, as the shop bends: a hem closed on its shim. Measure both legs outside, to the outside of the "
    "bend or fold, and read the angle when the leaf has let go. Write legs, setting and reading down, and give them to "
    "fabplan strips with --measured."
)


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class Bent:
    """What was bent: metal profile, degrees turned, inside width of the bend (the gap of a hem), inches."""

    metal: str
    turned: float
    gap: float


@dataclass(frozen=True, slots=True, kw_only=True)
class MeanInterval:
    """A mean and how far it may be off, `SURE` of the times."""

    mean: float
    off: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StripFinding:
    """What strips of one kind say; `springback` None for hems and where nothing was read."""

    bent: Bent
    strips: int
    computed: float
    deduction: MeanInterval
    springback: MeanInterval | None


def wanted(patterns: Sequence[FlatPattern]) -> tuple[Bent, ...]:
    """Every kind of bend of a job, once."""
    kinds = {
        Bent(metal=p.metal, turned=round(f.turned, 3), gap=round(f.gap if f.hem else 2 * f.radius, 6))
        for p in patterns
        for f in (*p.folds, *(end.fold for end in p.ends))
    }
    return tuple(sorted(kinds))


def interval_of(values: Sequence[float], reading: float) -> MeanInterval:
    """Mean of measured values with its interval; `reading` the step they are read to."""
    from scipy.stats import t

    n = len(values)
    read = reading / math.sqrt(12)  # a reading lies anywhere within its step
    spread = max(stdev(values), read) if n > 1 else read
    reach = float(t.ppf((1 + SURE) / 2, max(1, n - 1)))
    return MeanInterval(mean=fmean(values), off=reach * spread / math.sqrt(n))


def read_strips(path: Path, job: Job) -> dict[Bent, list[tuple[float, float | None]]]:
    """Deductions and springbacks by kind, from a file of ``[[strip]]`` tables.

    Raises
    ------
    JobError
        Not readable, or a value that is none.
    """
    shown = os.fspath(path)
    write = "[[strip]] with metal, turned, gap (a hem's), flat, legs, set and reads"
    try:
        data = tomllib.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        raise JobError("there is no such file", file=shown, write="a file of measured strips") from None
    except (OSError, ValueError) as fault:
        raise JobError(f"cannot be read as TOML: {fault}", file=shown, write=write) from None
    rows = data.get("strip")
    if rows is None and data.get("diamond"):
        return {}
    if not isinstance(rows, list) or not rows or not all(isinstance(row, dict) for row in rows):
        raise JobError("holds no measured strips", file=shown, write=write)
    out: dict[Bent, list[tuple[float, float | None]]] = defaultdict(list)
    for number, row in enumerate(rows, 1):
        try:
            bent, values = _strip(row, job)
        except (BadValueError, KeyError, TypeError, ValueError) as fault:
            missing = f'"{fault.args[0]}" is missing' if isinstance(fault, KeyError) else str(fault)
            raise JobError(missing, file=shown, key=f"strip {number}", write=write) from None
        out[bent].append(values)
    return out


def _strip(row: Mapping[str, Any], job: Job) -> tuple[Bent, tuple[float, float | None]]:
    units = job.info.units
    first, second = (inches(read_positive_length(leg, units)) for leg in row["legs"])
    flat = inches(read_positive_length(row["flat"], units))
    turned = read_angle(row["turned"])
    if not 0 < turned <= 180:
        raise ValueError("turned is above 0 up to 180 degrees")
    gap = inches(read_length(row.get("gap", 0), units))
    over = None
    if turned < 180 and "set" in row and "reads" in row:
        over = read_angle(row["set"]) - read_angle(row["reads"])
    metal = str(row.get("metal", job.metal.use))
    return Bent(metal=metal, turned=turned, gap=round(gap, 6)), (first + second - flat, over)


def fit(
    measured: Mapping[Bent, Sequence[tuple[float, float | None]]], job: Job, metals: Mapping[str, MetalProfile]
) -> tuple[StripFinding, ...]:
    """What the strips of every kind say.

    Raises
    ------
    JobError
        A metal the job does not use.
    """
    step = inches(job.info.round_to)
    out = []
    for bent in sorted(measured):
        if bent.metal not in metals:
            raise JobError(
                "a strip of a metal the job does not use", key="strip > metal", value=bent.metal,
                write=" or ".join(sorted(metals)),
            )  # fmt: skip
        hem = bent.turned >= 180
        computed = make_bend(
            bent.turned, metals[bent.metal], radius=bent.gap / 2, gap=bent.gap if hem else None
        ).deduction
        values = measured[bent]
        overs = [over for _, over in values if over is not None]
        out.append(
            StripFinding(
                bent=bent,
                strips=len(values),
                computed=computed,
                # two legs are read, each to the ruler's step
                deduction=interval_of([d for d, _ in values], step * math.sqrt(2)),
                springback=interval_of(overs, 1.0) if overs else None,
            )
        )
    return tuple(out)


def rows(found: Sequence[StripFinding], job: Job) -> list[tuple[object, ...]]:
    """What was found, for a table."""
    show = job.show

    def said(i: MeanInterval, unit: str = "") -> str:
        if unit:
            return f"{show.number(i.mean, 1)} ± {show.number(i.off, 1)}{unit}"
        return f"{show.fine(i.mean)} ± {show.fine(i.off)}"

    return [
        (
            f.bent.metal,
            show.degrees(f.bent.turned),
            show.fine(f.bent.gap) if f.bent.gap else "-",
            f.strips,
            show.fine(f.computed),
            said(f.deduction),
            said(f.springback, "°") if f.springback else "-",
        )
        for f in found
    ]


COLUMNS = ("metal", "turned", "gap", "strips", "deduction, computed", f"measured ({SURE:.0%} sure)", "springback")


def write_found(found: Sequence[StripFinding], job: Job) -> str:
    """Write deductions of three strips and more, and the springback of square bends, into the shop file (or the job's).

    Raises
    ------
    PlanError
        Too few strips, or an allowance of that kind stands in the file already.
    """
    sure = [f for f in found if f.strips >= LEAST]
    if not sure:
        raise PlanError("Too few strips to write anything down.", help_=f"Measure {LEAST} of a kind at least.")
    have = {(m.metal, round(m.turned, 3), round(inches(m.gap), 6)) for m in job.brake.measured_allowance}
    twice = [f for f in sure if (f.bent.metal, round(f.bent.turned, 3), f.bent.gap) in have]
    file = job.shop or job.file
    if twice:
        raise PlanError(
            f"{file} already holds a measured allowance of {twice[0].bent.metal} turned {twice[0].bent.turned:g}.",
            help_="Take that table out of the file first, then write again.",
        )
    square = [f.springback for f in sure if f.bent.turned == SQUARE and f.bent.gap == 0 and f.springback]
    if square:
        mean = fmean(i.mean for i in square)
        set_keys(Path(file), "brake", {"springback": round(max(0.0, mean), 1)}, shown=file)
    show = job.show
    text = "".join(
        f"\n[[brake.measured_allowance]]  # {f.strips} strips, within {show.fine(f.deduction.off)} ({SURE:.0%} sure)\n"
        f'metal = "{f.bent.metal}"\nturned = {f.bent.turned:g}\ngap = "{show.exact(from_inches(f.bent.gap))}"\n'
        f'deduction = "{show.fine(f.deduction.mean)}"\n'
        for f in sure
    )
    path = Path(file)
    write_file(path, (path.read_text(encoding="utf-8").rstrip("\n") + "\n" + text).encode())
    return file


def strips_page(
    bends: Sequence[Bent], job: Job, metals: Mapping[str, MetalProfile], more: Sequence[Block] = ()
) -> Page:
    """The strips to shear and bend, with room for what is measured."""
    say = Say.of(job)
    flat = FLAT[job.info.units][1]
    table = [
        (
            str(n),
            metals[b.metal].title,
            f"hem, {say.exact_near(b.gap)} open" if b.turned >= 180 and b.gap else "hem, closed" if b.turned >= 180 else
            say.degrees(b.turned) + (f", inside radius {say.exact_near(b.gap / 2)}" if b.gap else ""),
            say.bare(flat),
            "", "", "", "",
        )
        for n, b in enumerate((b for b in bends for _ in range(STRIPS)), 1)
    ]  # fmt: skip
    columns = (
        Column(title="Strip", align="right", strong=True),
        Column(title="Metal", share=1),
        Column(title="Bend", share=1),
        Column(title="Flat", align="right", strong=True),
        *(Column(title=t, share=0.6) for t in ("Leg", "Leg", "Set", "Reads")),
    )
    return Page(
        key="strips",
        kind="cut-list",
        title="Test strips",
        blocks=(Para(text=WORDS, size=10), Table(name="Test strips", columns=columns, rows=tuple(table)), *more),
    )


def write_page(
    bends: Sequence[Bent], job: Job, metals: Mapping[str, MetalProfile], out: Path, more: Sequence[Block] = ()
) -> Path:
    """The page of strips as a PDF."""
    info = job.info
    packet = Packet(
        number=info.number,
        name=info.name,
        revision=info.revision,
        date=info.date,
        paper=info.paper,
        pages=(strips_page(bends, job, metals, more),),
        units=info.units,
    )
    return write_file(out, typeset(packet, file=job.file))
