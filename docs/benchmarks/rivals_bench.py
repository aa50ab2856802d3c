"""Nest whole jobs as the command does and set the plans beside a rectangle packer and one size per strip.

Usage: python docs/benchmarks/rivals_bench.py DIRECTORY [--seconds 20] [--effort 1] [--seed 0] [--only TEXT]

Reads the shop form described in tests/nesting/data/README.md, writes each workload as a job file and nests it. The
packer is rectpack, guillotine packers only, merging off: three rules of fit by four of splitting by three orders, every
kind of stock singly after the offcuts, the cheapest kept. All of them are tried here, where the command stops early.
The seconds of the plan are the process's own.
"""

from __future__ import annotations

import argparse
import json
import tempfile
import time
from fractions import Fraction
from pathlib import Path
from statistics import median

from fabplan.job.load import load_job
from fabplan.nesting.nest import nest
from fabplan.nesting.problem import build_groups
from fabplan.nesting.search.pieces import rectangle
from fabplan.nesting.search.rivals import best_rectpack
from fabplan.plan.make import make_pieces

MANY = 10  # kinds of piece from which on the ratio counts


def job_text(data: dict) -> str:  # type: ignore[type-arg]
    """A workload as a job file; copper stands for any metal, the money is the workload's."""
    out = [f'[job]\nname = "{data["name"]}"\nnumber = "1"\n[metal]\nuse = "copper-16oz"\n']
    for i, p in enumerate(data["pieces"]):
        out.append(f'[[piece]]\nmark = "P{i}"\nkind = "rectangle"\ncount = {p["n"]}\n')
        out.append(f'width = "{p["w"]} in"\nlength = "{p["h"]} in"\n')
        out.append("" if p["rot"] else 'grain = "along"\n')
    for i, s in enumerate(data["stock"]):
        form = {"coil": "coil", "sheet": "sheet", "rem": "offcut"}[s["kind"]]
        out.append(f'[[stock]]\nname = "S{i}"\nform = "{form}"\nwidth = "{s["w"]} in"\n')
        if form == "coil":
            per_foot = Fraction(str(s["cost"])) * 12
            out.append(f'longest_cut_off = "{s["l"]} in"\nprice = "{float(per_foot):.6f} per foot"\n')
        else:
            out.append(f'length = "{s["l"]} in"\nprice = "{s["cost"]} per {"sheet" if form == "sheet" else "piece"}"\n')
        if s["count"] is not None:
            out.append(f"on_hand = {s['count']}\n")
    out.append(f'[shear]\nlongest_cut = "{data.get("shear") or 380} in"\n')
    out.append(f'back_gauge_reach = "380 in"\nleast_held = "0 in"\nkerf = "{data.get("kerf") or 0} in"\n')
    return "".join(out)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("directory", type=Path)
    parser.add_argument("--seconds", type=float, default=20.0)
    parser.add_argument("--effort", type=float, default=1.0)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--only", default="")
    args = parser.parse_args()
    print("| job | kinds | bound | plan | gap | s | of the packer's | of one size per strip |")
    print("|---|---|---|---|---|---|---|---|")
    ratios = []
    for path in sorted(args.directory.glob("*.json")):
        if args.only not in path.stem:
            continue
        data = json.loads(path.read_text())
        with tempfile.TemporaryDirectory() as folder:
            file = Path(folder) / "job.toml"
            file.write_text(job_text(data))
            job = load_job(file)
        made = make_pieces(job)
        begin = time.process_time()
        end = begin + args.seconds
        plan = nest(
            made.patterns,
            job,
            made.metals,
            effort=args.effort,
            seed=args.seed,
            should_stop=lambda end=end: time.process_time() >= end,  # type: ignore[misc]
        )
        took = time.process_time() - begin
        packed = [
            best_rectpack(group, [rectangle(b) for b in group.blanks], work=1 << 40).total
            for group in build_groups(made.patterns, job, made.metals)
        ]
        packer = None if None in packed else sum((p for p in packed if p is not None), Fraction(0))
        pencil = next(r.total for r in plan.rivals if r.name.startswith("one size"))
        ratio = [None if other is None else float(plan.total / other) for other in (packer, pencil)]
        if ratio[0] is not None and len(data["pieces"]) >= MANY:
            ratios.append(ratio[0])
        said = ["no plan" if r is None else f"{r:.3f}" for r in ratio]
        gap = f"{float(plan.total / plan.bound - 1):.3%}" if plan.bound else "-"
        print(
            f"| {path.stem} | {len(data['pieces'])} | {float(plan.bound):.2f} | {float(plan.total):.2f} | {gap} "
            f"| {took:.1f} | {said[0]} | {said[1]} |",
            flush=True,
        )
    if ratios:
        print(f"\nJobs of {MANY} kinds or more against the packer: median {median(ratios):.3f}, most {max(ratios):.3f}")


if __name__ == "__main__":
    main()
