"""Time of the cuts, their proof and the shear program against the number of cuts of one pattern.

    python docs/benchmarks/large_bench.py

One sheet of 1 in blanks, 36 across and more and more along. Seconds are processor time; the ratio a cut matters.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent.parent.parent / "tests" / "nesting"))

from nesting_jobs import GRID, METALS, make_job, rect, stock

from fabplan.nesting.check.cuts import CheckedLimits, PiecesOnTable, parents
from fabplan.nesting.check.parts import part_faults
from fabplan.nesting.cuts.layouts import LayoutDraft, finish
from fabplan.nesting.cuts.program import shear_program
from fabplan.nesting.problem import build_groups
from fabplan.nesting.search.pieces import rectangle


def timed(work: Callable[[], Any]) -> tuple[float, Any]:
    """Processor seconds and result."""
    start = time.process_time()
    out = work()
    return time.process_time() - start, out


def main() -> None:
    """Print a row for every length of sheet."""
    base: float | None = None
    print("cuts | ordering | proof | program | all, microseconds a cut | against the first")
    for long in (15, 30, 60, 120):
        blanks = [rect("C", 32, 32, 36 * long)]
        job = make_job([stock("s", "sheet", 36, long)], effort=0, reach=300, longest_cut=300)
        (group,) = build_groups(blanks, job, METALS)
        piece = rectangle(group.blanks[0])
        cells = tuple(piece.make(32 * x, 32 * y, False) for y in range(long) for x in range(36))
        draft = LayoutDraft(stock="s", length=32 * long, cells=cells, first="y")
        order, layout = timed(lambda draft=draft, group=group: finish(draft, group))
        shop = CheckedLimits.of(job, GRID)

        def proof(layout: Any = layout, shop: CheckedLimits = shop) -> list[str]:
            found = PiecesOnTable(layout, shop, None).faults([True] * len(layout.blanks))
            parents(layout, shop)
            return found + part_faults(layout, shop, None)

        check, faults = timed(proof)
        assert faults == [], faults[:3]
        program, _ = timed(lambda layout=layout: shear_program([layout], 0))
        each = (order + check + program) / len(layout.cuts) * 1e6
        base = base or each
        times = f"{order:.2f} | {check:.2f} | {program:.2f}"
        print(f"{len(layout.cuts):,} | {times} | {each:,.0f} | {each / base:.2f}", flush=True)


if __name__ == "__main__":
    main()
