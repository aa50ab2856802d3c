"""Times the two searches and counts their states: ``python tests/bending/bend_timing.py`` (not a test).

The rows are those of docs/benchmarks.md. Every section and piece is random from a fixed seed, so states repeat exactly.
"""

from __future__ import annotations

import math
import random
import statistics
import time

from bend_pieces import BAR, LEAF, MALLET, SEAMER, T, piece
from bend_sections import brake, job_of, metals, random_section, section

from fabplan.bending.brake.bend_order import bend_order
from fabplan.bending.brake.section import BendStrip
from fabplan.bending.errors import BendError
from fabplan.bending.flat.fold_order import fold_order
from fabplan.bending.schedule import schedule_bends
from fabplan.blanks.model import FlatPattern

RUNS = 20


def gentle(rng: random.Random, bends: int) -> FlatPattern:
    """Small angles: nearly every order is possible, so the search is widest."""
    legs = [rng.choice([1.5, 2.0, 2.5, 3.0]) for _ in range(bends + 1)]
    return section(legs, [rng.choice([-1, 1]) * rng.choice([10.0, 15, 20, 30]) for _ in range(bends)])


def row(name: str, patterns: list[FlatPattern]) -> None:
    times, states, possible, proven = [], [], 0, 0
    for pattern in patterns:
        start = time.process_time()
        _, found = bend_order(BendStrip(pattern), brake(), 2.0)
        times.append(time.process_time() - start)
        states.append(found.states)
        possible += found.cost is not None
        proven += found.proven
    print(
        f"| {name} | {possible} of {len(patterns)} | {proven} | {statistics.median(states):.0f} | {max(states)} "
        f"| {statistics.median(times):.3f} | {max(times):.3f} |"
    )


def main() -> None:
    print("| sections | possible | proven | states, median | most | processor seconds, median | most |")
    for n in (3, 6, 8, 10, 12):
        row(f"{n} bends, any", [random_section(random.Random(1000 * n + i), n, hems=False) for i in range(RUNS)])
    for n in (8, 10, 12):
        row(f"{n} bends, gentle", [gentle(random.Random(1000 * n + i), n) for i in range(RUNS)])
    for n in (14, 18):
        row(f"{n} bends, gentle", [gentle(random.Random(1000 * n + i), n) for i in range(5)])
    refused = []
    for n in (4, 6, 8, 10):
        for i in range(5):
            start = time.process_time()
            try:
                schedule_bends(random_section(random.Random(77 * n + i), n), job_of(), metals())
            except BendError:
                refused.append(time.process_time() - start)
    print(f"reasons and suggestions, {len(refused)} impossible sections: most {max(refused):.2f} s")
    ring = [(10 * math.cos(math.radians(45 * i)), 10 * math.sin(math.radians(45 * i))) for i in range(8)]
    print("| flat pieces | cost | states | processor seconds |")
    for name, sides, gap, tools in (
        ("8 folds, sides in turn, 4 tools", ("face", "back"), 1 / 16, (SEAMER, LEAF, BAR, MALLET)),
        ("8 closed hems, sides in turn, brake, bar, mallet", ("face", "back"), 0.0, (LEAF, BAR, MALLET)),
        ("8 open hems, brake and bar (impossible)", ("face", "back"), 1 / 16, (LEAF, BAR)),
    ):
        pattern = piece(ring, {i + 1: (sides[i % 2], 180.0, 0.5, gap) for i in range(8)})
        start = time.process_time()
        _, found = fold_order(pattern.folds, tools, T)
        print(f"| {name} | {found.cost} | {found.states} | {time.process_time() - start:.2f} |")


if __name__ == "__main__":
    main()
