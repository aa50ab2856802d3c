"""The engine beside the strongest general solver for straight-cut packing found, at equal processor time.

Usage: python docs/benchmarks/rival_bench.py --rival PYTHON [--seconds 10] [--first 0] [--jobs 60] [--shop DIRECTORY]

The rival is F. Fontan's open-source packing solver, `packingsolver` on the Python registry, in an environment of its
own with Python 3.12; PYTHON is that environment's interpreter. Both sides get the same pieces, sheets and rules: three
stages with trims (panels across the sheet, strips, pieces, one trim), the first cut either way, the shop's four limits
at 0, no shear limits, sheets only. Both are ended when their process has had so many seconds of processor time.

The jobs are generated: 10 to 100 pieces, few of each, 1 to 3 sheet sizes, turning or not; `--shop` adds the workloads
of sheets alone from a directory of shop jobs. Each plan of the engine is proved by the checker of its tests.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import resource
import subprocess
import sys
import time
from fractions import Fraction
from pathlib import Path

from fabplan.nesting.engine.problem import Item, Limits, Options, Problem, StockSize
from fabplan.nesting.engine.solve import solve

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests" / "nesting" / "engine"))
from engine_problems import prove  # noqa: E402

SIDE = Path(__file__).with_name("rival_side.py")
GRADE = 8  # to the inch
SHEETS = ((36, 96, 290), (36, 120, 365), (48, 96, 380), (48, 120, 470), (36, 48, 150), (24, 96, 200))


def low_demand(seed: int) -> Problem:
    """A small crew's job: few of each of some kinds, on one to three sizes of sheet."""
    rng = random.Random(seed)
    pieces, turn = rng.randint(10, 100), rng.random() < 0.6
    items: list[Item] = []
    while sum(i.count for i in items) < pieces:
        width, length = (rng.randint(3 * GRADE, most * GRADE) for most in (20, 34))
        items.append(
            Item(key=len(items), width=width, length=length, count=rng.choice((1, 1, 2, 2, 3, 4)), may_turn=turn)
        )
    stock = tuple(
        StockSize(key=k, form="sheet", width=w * GRADE, length=length * GRADE, cost=Fraction(cost))
        for k, (w, length, cost) in enumerate(rng.sample(SHEETS, rng.randint(1, 3)))
    )
    return Problem(items=tuple(items), stock=stock, limits=Limits())


def shop_jobs(directory: Path) -> list[tuple[str, Problem]]:
    """The workloads on sheets and offcuts alone, without a shear's limit."""
    out = []
    for path in sorted(directory.glob("*.json")):
        data = json.loads(path.read_text())
        if any(s["kind"] == "coil" for s in data["stock"]) or data.get("kerf"):
            continue
        den = 1
        for p in (*data["pieces"], *data["stock"]):
            for side in (p["w"], p["h"] if "h" in p else p["l"]):
                den = max(den, Fraction(str(side)).denominator)
        items = tuple(
            Item(key=i, width=int(Fraction(str(p["w"])) * den), length=int(Fraction(str(p["h"])) * den), count=p["n"],
                 may_turn=p["rot"])
            for i, p in enumerate(data["pieces"])
        )  # fmt: skip
        stock = tuple(
            StockSize(key=i, form="sheet", width=int(Fraction(str(s["w"])) * den),
                      length=int(Fraction(str(s["l"])) * den), cost=Fraction(str(s["cost"])), available=s["count"])
            for i, s in enumerate(data["stock"])
        )  # fmt: skip
        out.append((path.stem, Problem(items=items, stock=stock, limits=Limits())))
    return out


def ours(problem: Problem, seconds: float) -> tuple[float | None, float, float, bool]:
    """Cost, bound, processor seconds and whether proven."""
    begin = time.process_time()
    answer = solve(problem, Options(effort=4, should_stop=lambda: time.process_time() - begin >= seconds))
    took = time.process_time() - begin
    prove(problem, answer)
    return (None if answer.short else float(answer.cost)), float(answer.bound), took, answer.cost == answer.bound


def rivals(problem: Problem, seconds: float, python: str) -> tuple[float | None, float, bool]:
    """Cost, processor seconds and whether proven."""
    data = {
        "items": [
            {"width": i.width, "length": i.length, "count": i.count, "may_turn": i.may_turn} for i in problem.items
        ],
        "stock": [
            {"width": s.width, "length": s.length, "cost": float(s.cost), "available": s.available}
            for s in problem.stock
        ],
        "wall": 20 * seconds,
    }
    limit = int(seconds) + 1  # it takes most of a second to load; costs are counted by its own clock

    def held() -> None:
        resource.setrlimit(resource.RLIMIT_CPU, (limit, limit + 1))

    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    run = subprocess.run(
        [python, str(SIDE)], input=json.dumps(data), capture_output=True, text=True, check=False, preexec_fn=held,
        env={k: v for k, v in os.environ.items() if k != "PYTHONPATH"},
    )  # fmt: skip
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    lines = run.stdout.split("\n")
    costs = [float(line.split()[1]) for line in lines if line and line != "proven"]
    took = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return min(costs, default=None), took, "proven" in lines


def main() -> None:
    """Print a row a job, and the count."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rival", required=True)
    parser.add_argument("--seconds", type=float, default=10.0)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--jobs", type=int, default=60)
    parser.add_argument("--shop", type=Path)
    args = parser.parse_args()
    jobs = [(f"g{seed}", low_demand(seed)) for seed in range(args.first, args.first + args.jobs)]
    if args.shop:
        jobs += shop_jobs(args.shop)
    print("| job | kinds | pieces | sheets | bound | plan | s | rival | s | of the rival |")
    print("|---|---|---|---|---|---|---|---|---|---|")
    count = dict.fromkeys(("cheaper", "same", "dearer"), 0)
    proven = 0
    for name, problem in jobs:
        cost, bound, took, closed = ours(problem, args.seconds)
        other, their, _ = rivals(problem, args.seconds, args.rival)
        proven += closed
        ratio = None if cost is None or other is None else cost / other
        how = "same" if ratio is not None and abs(ratio - 1) < 1e-9 else "cheaper"
        if cost is None or (ratio is not None and ratio > 1 + 1e-9):
            how = "dearer"
        count[how] += 1
        kinds, pieces = len(problem.items), sum(i.count for i in problem.items)
        plan, theirs = ("none" if c is None else f"{c:g}" for c in (cost, other))
        said = "-" if ratio is None else f"{ratio:.4f}"
        row = (name, kinds, pieces, len(problem.stock), f"{bound:g}", plan, f"{took:.1f}", theirs, f"{their:.1f}", said)
        print("| " + " | ".join(map(str, row)) + " |", flush=True)
    print(f"\n{count}, plan = own bound on {proven} of {len(jobs)}")


if __name__ == "__main__":
    main()
