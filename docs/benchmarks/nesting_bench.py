"""Run the cutting engine over a directory of instances and print one table row each.

Usage: python docs/benchmarks/nesting_bench.py DIRECTORY
           [--seconds 20] [--effort 1] [--seed 0] [--stages 2] [--only TEXT]

The seconds are the process's own (the engine runs on one core), so other work on the machine does not count.
Reads both forms described in tests/nesting/data/README.md. Every plan is re-checked for counts, overlap and stock.
"""

from __future__ import annotations

import argparse
import json
import resource
import time
from fractions import Fraction
from functools import partial
from math import lcm
from pathlib import Path

from fabplan.nesting.engine.problem import Item, Limits, Options, Pattern, Problem, StockSize, leaves
from fabplan.nesting.engine.solve import solve


def read(path: Path, stages: int = 2) -> tuple[Problem, list[dict[str, object]]]:
    """One instance as a problem, and its published values."""
    data = json.loads(path.read_text())
    return (_shop(data, stages), []) if "pieces" in data else (_open(data, stages), data.get("published", []))


def _shop(data: dict, stages: int) -> Problem:  # type: ignore[type-arg]
    den = 1
    for p in data["pieces"]:
        den = lcm(den, Fraction(str(p["w"])).denominator, Fraction(str(p["h"])).denominator)

    def steps(value: object) -> int:
        return int(Fraction(str(value)) * den)

    return Problem(
        items=tuple(
            Item(key=i, width=steps(p["w"]), length=steps(p["h"]), count=p["n"], may_turn=p["rot"])
            for i, p in enumerate(data["pieces"])
        ),
        stock=tuple(
            StockSize(
                key=i,
                form="coil" if s["kind"] == "coil" else "sheet",
                width=steps(s["w"]),
                length=steps(s["l"]),
                cost=Fraction(str(s["cost"])) / (den if s["kind"] == "coil" else 1),
                available=s["count"],
            )
            for i, s in enumerate(data["stock"])
        ),
        limits=Limits(
            longest_cut=steps(data["shear"]) if data.get("shear") else None,
            kerf=steps(data.get("kerf", 0)),
            stages=3 if stages == 3 else 2,
        ),
    )


def _open(data: dict, stages: int) -> Problem:  # type: ignore[type-arg]
    section = data.get("shear_max_section")  # sheets named by their long side first: lay it along the length
    return Problem(
        items=tuple(
            Item(
                key=i,
                width=p["h"] if section else p["w"],
                length=p["w"] if section else p["h"],
                count=p["demand"],
                may_turn=p["rotate"],
            )
            for i, p in enumerate(data["items"])
        ),
        stock=tuple(
            StockSize(
                key=i,
                form="sheet",
                width=s["h"] if section else s["w"],
                length=s["w"] if section else s["h"],
                cost=Fraction(s["cost"] if s["cost"] is not None else 1),
                available=s["available"],
            )
            for i, s in enumerate(data["stock"])
        ),
        limits=Limits(longest_cut=section, stages=3 if stages == 3 else 2),
    )


def recheck(problem: Problem, patterns: tuple[Pattern, ...]) -> None:
    """Fail unless the patterns make every piece, inside the stock and apart from each other."""
    made: dict[object, int] = {}
    for pattern in patterns:
        boxes = leaves(pattern.root)
        stock = next(s for s in problem.stock if s.key == pattern.stock)
        for n, a in enumerate(boxes):
            made[a.piece] = made.get(a.piece, 0) + pattern.repeat
            assert a.x >= 0 and a.x + a.width <= stock.width and a.y >= 0 and a.y + a.length <= pattern.length
            for b in boxes[:n]:
                apart_x = a.x + a.width <= b.x or b.x + b.width <= a.x
                assert apart_x or a.y + a.length <= b.y or b.y + b.length <= a.y
    assert all(made.get(i.key, 0) >= i.count for i in problem.items)


def _past(end: float) -> bool:
    return time.process_time() >= end


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("directory", type=Path)
    parser.add_argument("--seconds", type=float, default=20.0)
    parser.add_argument("--effort", type=float, default=1.0)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--stages", type=int, default=2)
    parser.add_argument("--only", default="")
    args = parser.parse_args()
    print(
        "| instance | types / pieces | bound | cost | gap | status | s | published |\n|---|---|---|---|---|---|---|---|"
    )
    for path in sorted(args.directory.glob("*.json")):
        if args.only not in path.stem:
            continue
        problem, published = read(path, args.stages)
        end = time.process_time() + args.seconds
        stop = partial(_past, end)
        answer = solve(problem, Options(should_stop=stop, effort=args.effort, seed=args.seed))
        took = args.seconds + time.process_time() - end
        recheck(problem, answer.patterns)
        gap = f"{float(answer.cost / answer.bound - 1):.3%}" if answer.bound else "-"
        values = "; ".join(
            f"{p['value']} ({str(p['variant'])[:44]}, {str(p['status'])[:14]})"
            for p in published
            if "INCONSISTENT" not in str(p["status"]) and "weak" not in str(p["status"])
        )
        pieces = sum(i.count for i in problem.items)
        print(
            f"| {path.stem} | {len(problem.items)} / {pieces} | {float(answer.bound):.2f} "
            f"| {float(answer.cost):.2f} | {gap} "
            f"| {answer.status}{', cut short' if answer.stopped_early else ''} | {took:.1f} | {values} |",
            flush=True,
        )
    print(f"\nMost memory: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024} MB")


if __name__ == "__main__":
    main()
