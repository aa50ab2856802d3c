"""Prove the job-wide shear program: every cut made as often as its layout needs, in an order that can be followed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from fabplan.nesting.check.cuts import CheckedLimits, parents
from fabplan.nesting.model import CutPlan


def program_faults(plan: CutPlan, shop: CheckedLimits, open_stacks: int | None) -> list[str]:
    """Faults of the shear program, empty when there is none or it holds."""
    program = plan.program
    if program is None:
        return []
    faults = []
    if [s.step for s in program.steps] != list(range(1, len(program.steps) + 1)):
        faults.append("the shear program is not numbered in order")
    before = [parents(y, shop) for y in plan.layouts]
    made: list[set[int]] = [set() for _ in plan.layouts]
    count, last, peak = 0, None, 0
    for s in program.steps:
        setting = (s.back_gauge, s.angle)
        if s.back_gauge is not None and setting != last:
            count, last = count + 1, setting
        for number, cuts, times in s.items:
            if not 1 <= number <= len(plan.layouts):
                return [*faults, f"program step {s.step}: there is no layout {number}"]
            layout = plan.layouts[number - 1]
            if times != layout.repeat:
                faults.append(f"program step {s.step}: layout {number} is cut {times} times, not {layout.repeat}")
            for k in cuts:
                if not 1 <= k <= len(layout.cuts) or k in made[number - 1]:
                    faults.append(f"program step {s.step}: cut {k} of layout {number} is made twice or does not exist")
                    continue
                cut = layout.cuts[k - 1]
                if (cut.back_gauge, cut.angle) != setting:
                    faults.append(f"program step {s.step}: cut {k} of layout {number} has another setting")
                first = before[number - 1][k - 1]
                if first is not None and first not in made[number - 1] and first not in cuts:
                    faults.append(f"program step {s.step}: cut {k} of layout {number} comes before its piece is free")
                made[number - 1].add(k)
        peak = max(peak, _open(made, before))
    for number, (layout, done) in enumerate(zip(plan.layouts, made, strict=True), start=1):
        if len(done) != len(layout.cuts):
            faults.append(f"the program leaves cuts of layout {number} out")
    if count != program.settings:
        faults.append(f"the program has {count} settings, not {program.settings}")
    if program.least_settings > count:
        faults.append("the program has fewer settings than its own least")
    if peak != program.most_open_stacks:
        faults.append(f"{peak} stacks lie open, not {program.most_open_stacks}")
    return faults


def _open(made: Sequence[set[int]], before: Sequence[Sequence[int | None]]) -> int:
    """Stacks waiting for a cut after the cuts made so far."""
    return sum(
        Counter(b in done and k not in done for k, b in enumerate(first, start=1))[True]
        for done, first in zip(made, before, strict=True)
    )
