"""Time and memory of whole packets against the number of pieces, 10,000 to 1,000,000.

    python docs/benchmarks/large_jobs.py [--from 10000] [--to 1000000] [JOB ...]

Each run is `fabplan plan --effort 0` as a process of its own. Seconds are processor time of it and all it starts, MB
the most the largest of its processes held; the last column is the time against the job's first row.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[2]
SIZES = (10_000, 100_000, 1_000_000)
HEAD = '[job]\nname = "Many"\nnumber = "M"\n[metal]\nuse = "copper-16oz"\n'
COIL = '[[stock]]\nname = "coil 24"\nform = "coil"\nwidth = "24 in"\n'
SHEET = '[[stock]]\nname = "sheet"\nform = "sheet"\nwidth = "36 in"\nlength = "120 in"\n'


def piece(mark: str, kind: str, count: int, sizes: str) -> str:
    """One piece of a job file."""
    return f'[[piece]]\nmark = "{mark}"\nkind = "{kind}"\ncount = {count}\n{sizes}\n'


def cleats(n: int) -> str:
    """Cleats of 2 x 4 in off a coil."""
    return HEAD + piece("K", "rectangle", n, "width = 2\nlength = 4") + COIL


def shingles(n: int) -> str:
    """Diamonds, and a cleat for each, off sheets."""
    diamond = piece("A", "diamond", n // 2, 'side = "9-1/4 in"\nhem = "3/4 in"')
    return HEAD + diamond + piece("K", "rectangle", n // 2, "width = 2\nlength = 4") + SHEET


def forty(n: int) -> str:
    """Forty sizes of rectangles off a coil."""
    kinds = (piece(f"P{k}", "rectangle", n // 40, f"width = {1 + k % 7}\nlength = {2 + k % 11}") for k in range(40))
    return HEAD + "".join(kinds) + COIL


def inch(n: int) -> str:
    """Squares of 1 in off sheets: 4,320 on one."""
    return HEAD + piece("C", "rectangle", n, "width = 1\nlength = 1") + SHEET


JOBS = {f.__name__: f for f in (cleats, shingles, forty, inch)}


def run(text: str) -> tuple[float, float, dict[str, object]]:
    """Processor seconds, megabytes and the plan of a job."""
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "job.toml").write_text(text, encoding="utf-8")
        child = subprocess.Popen(
            [sys.executable, "-m", "fabplan", "plan", "job.toml", "--effort", "0"],
            cwd=folder, stdout=subprocess.DEVNULL, env={**os.environ, "PYTHONPATH": str(ROOT)},
        )  # fmt: skip
        _, code, used = os.wait4(child.pid, 0)
        child.returncode = os.waitstatus_to_exitcode(code)
        if child.returncode:
            raise SystemExit(f"fabplan ended with {child.returncode}")
        plan = json.loads((Path(folder) / "M-packet" / "plan.json").read_text(encoding="utf-8"))
        return used.ru_utime + used.ru_stime, used.ru_maxrss / 1000, plan


def main() -> None:
    """Print a row for every job and size."""
    ask = argparse.ArgumentParser()
    ask.add_argument("jobs", nargs="*", default=list(JOBS), metavar="JOB")
    ask.add_argument("--from", dest="least", type=int, default=SIZES[0])
    ask.add_argument("--to", dest="most", type=int, default=SIZES[-1])
    asked = ask.parse_args()
    print("job | pieces | patterns | cuts told | strokes | seconds | MB | against the first")
    for name in asked.jobs:
        first: float | None = None
        for n in (s for s in SIZES if asked.least <= s <= asked.most):
            seconds, memory, plan = run(JOBS[name](n))
            layouts = plan["nesting"]["layouts"]  # type: ignore[index]
            told = sum(len(y["cuts"]) for y in layouts)
            strokes = sum(len(y["cuts"]) * y["repeat"] for y in layouts)
            first = first or seconds
            row = (name, f"{n:,}", len(layouts), f"{told:,}", f"{strokes:,}", f"{seconds:.1f}", f"{memory:.0f}")
            print(" | ".join(map(str, row)), "|", f"{seconds / first:.2f}", flush=True)


if __name__ == "__main__":
    main()
