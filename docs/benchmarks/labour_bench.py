"""Metal and work of cut plans, counted from their cuts with fixed times, not by the program's own count.

    python docs/benchmarks/labour_bench.py JOB.toml [JOB.toml ...] [--effort 1] [--rate 75] [--old-limits]

Jobs are planned at the rate they are counted at.

Times (from memory, common practice, no source): a stroke 10 s, a setting 45 s, a cut to a scribed line 75 s more, coil
pulled 40 s, a sheet fetched 60 s, an offcut found and squared 60 s, a new layout 180 s. A setting held over from one
cut of the shear program to the next is paid once; the first cut of a coil is made to a mark and is a pull, no scribing.
"""

from __future__ import annotations

import argparse
import time
from collections import Counter
from dataclasses import dataclass, replace
from pathlib import Path

from fabplan.job.load import load_job
from fabplan.nesting.model import CutPlan
from fabplan.nesting.nest import nest
from fabplan.plan.make import make_pieces
from fabplan.units import NM_PER_INCH

STROKE, SETTING, SCRIBE, PULL, SHEET, LAYOUT = 10, 45, 75, 40, 60, 180


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """What a plan takes at the shear."""

    strokes: int
    scribed: int
    slanted: int
    settings: int
    layouts: int
    pulls: int
    sheets: int

    @property
    def seconds(self) -> int:
        """All of it."""
        return (
            self.strokes * STROKE
            + self.settings * SETTING
            + self.scribed * SCRIBE
            + self.pulls * PULL
            + self.sheets * SHEET
            + self.layouts * LAYOUT
        )


def work_of(plan: CutPlan) -> Work:
    """Count a plan's cuts, and its settings by walking through the shear program."""
    n = Counter[str]()
    for y in plan.layouts:
        n["layouts"] += 1
        n["pulls" if y.form == "coil" else "sheets"] += y.repeat
        for cut in y.cuts:
            n["strokes"] += y.repeat
            n["slanted"] += y.repeat * (abs(cut.angle - 90) > 1e-6)
            n["scribed"] += y.repeat * (cut.back_gauge is None and not (y.form == "coil" and cut.step == 1))
    last: tuple[int, float] | None = None
    for step in plan.program.steps if plan.program is not None else ():
        if step.back_gauge is not None and last != (step.back_gauge, step.angle):
            n["settings"] += 1
            last = (step.back_gauge, step.angle)
    return Work(**{k: n[k] for k in Work.__slots__})


def main() -> None:
    """Plan each job and print a row of a table."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("jobs", nargs="+", type=Path)
    ask.add_argument("--effort", type=float)
    ask.add_argument("--at-the-bench", action="store_true", help='as if every job said cut_pieces = "at the bench"')
    ask.add_argument("--rate", type=float, default=75.0)
    ask.add_argument("--old-limits", action="store_true", help="1/16 in gauged, 1 in held, pulls of any length")
    args = ask.parse_args()
    print("| job | metal | labour | total | hours | strokes | scribed | slanted | settings | layouts | s |")
    print("|---|---|---|---|---|---|---|---|---|---|---|")
    for path in args.jobs:
        job = load_job(path)
        if args.at_the_bench:
            job = job.model_copy(update={"roof": job.roof.model_copy(update={"cut_pieces": "at the bench"})})
        job = job.model_copy(update={"labour": replace(job.labour, rate=args.rate)})
        if args.old_limits:
            inch = NM_PER_INCH
            old = {"least_gauge": inch // 16, "least_held": inch, "width_tolerance": inch // 16, "least_pull": 0}
            job = job.model_copy(update={"shear": job.shear.model_copy(update=old)})
        pieces = make_pieces(job)
        start = time.process_time()
        plan = nest(pieces.patterns, job, pieces.metals, effort=args.effort)
        took = time.process_time() - start
        print(row(path.parent.name if path.name == "job.toml" else path.stem, plan, args.rate, took))


def row(name: str, plan: CutPlan, rate: float, took: float) -> str:
    """One row of the table."""
    w = work_of(plan)
    labour = w.seconds / 3600 * rate
    metal = float(plan.metal_total)
    return (
        f"| {name} | {metal:,.2f} | {labour:,.2f} | {metal + labour:,.2f} | {w.seconds / 3600:.2f} | {w.strokes} | "
        f"{w.scribed} | {w.slanted} | {w.settings} | {w.layouts} | {took:.1f} |"
    )


if __name__ == "__main__":
    main()
