"""Metal and work of whole jobs side by side with three rivals, all priced the same way, in one run.

    python docs/benchmarks/sum_bench.py JOB.toml|DIRECTORY ... [--effort 0.01] [--rate 60]

The rivals: one size per strip and the best straight packing, as the plan itself lists them; and the least metal, which
is the same job nested with `rate = 0` and its cuts counted at the shop's times. A directory holds workloads in the shop
form of tests/nesting/data/README.md. Work is the program's own count, at the default times and this rate. "NO" behind a
figure would mean that a rival costs less than the plan.
"""

from __future__ import annotations

import argparse
import json
import tempfile
import time
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

from rivals_bench import job_text

from fabplan.job.load import load_job
from fabplan.job.model import Job
from fabplan.nesting import minutes
from fabplan.nesting.cuts.program import shear_program
from fabplan.nesting.model import CutPlan
from fabplan.nesting.nest import nest
from fabplan.nesting.problem import build_groups
from fabplan.nesting.search.work import own_seconds
from fabplan.plan.make import Pieces, make_pieces


def jobs(paths: list[Path]) -> Iterator[tuple[str, Job]]:
    """Every job named, and every workload of a directory."""
    for path in paths:
        if not path.is_dir():
            yield (path.parent.name if path.name == "job.toml" else path.stem), load_job(path)
            continue
        for file in sorted(path.glob("*.json")):
            with tempfile.TemporaryDirectory() as folder:
                written = Path(folder) / "job.toml"
                written.write_text(job_text(json.loads(file.read_text())))
                yield file.stem, load_job(written)


def counted(plan: CutPlan, pieces: Pieces, job: Job) -> Fraction:
    """Metal and work of a plan's layouts at the job's own times."""
    groups = {g.metal: g for g in build_groups(pieces.patterns, job, pieces.metals)}
    own = sum((own_seconds(groups[y.metal], y) * groups[y.metal].second for y in plan.layouts), Fraction(0))
    program = shear_program(plan.layouts, job.nest.open_stacks)
    settings = minutes.seconds_of(minutes.program_work(program, job.labour))
    return plan.metal_total + own + settings * max(g.second for g in groups.values())


def main() -> None:
    """Print the table."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("jobs", nargs="+", type=Path)
    ask.add_argument("--effort", type=float, default=0.01)
    ask.add_argument("--rate", type=float, default=60.0)
    args = ask.parse_args()
    print("| job | metal | labour | total | bound | gap | one size | straight packing | least metal | saved | | | s |")
    print("|---|---|---|---|---|---|---|---|---|---|---|---|---|")
    for name, found in jobs(args.jobs):
        labour = found.labour.__class__(rate=args.rate)
        pieces = make_pieces(found.model_copy(update={"labour": labour}))
        start = time.process_time()
        plan = nest(pieces.patterns, pieces.job, pieces.metals, effort=args.effort)
        took = time.process_time() - start
        free = pieces.job.model_copy(update={"labour": labour.__class__(rate=0.0)})
        least = counted(nest(pieces.patterns, free, pieces.metals, effort=args.effort), pieces, pieces.job)
        rivals = [r.total for way in ("one_size", "packer") for r in plan.rivals if r.way == way] + [least]
        print(row(name, plan, rivals, took), flush=True)


def row(name: str, plan: CutPlan, rivals: list[Fraction | None], took: float) -> str:
    """One row of the table: the rivals' sums, then the share of each that the plan saves."""
    sums = [
        "no plan" if r is None else f"{float(r):,.2f}{' NO' if r < plan.total * (1 - Fraction(1, 10**9)) else ''}"
        for r in rivals
    ]
    saved = ["" if r is None or not r else f"{float(1 - plan.total / r):.1%}" for r in rivals]
    gap = f"{float(plan.total / plan.bound - 1):.1%}" if plan.bound else ""
    figures = (plan.metal_total, plan.labour_total, plan.total, plan.bound)
    return " | ".join(["| " + name, *(f"{float(f):,.2f}" for f in figures), gap, *sums, *saved, f"{took:.1f} |"])


if __name__ == "__main__":
    main()
