"""What a cut plan tells the manager beside its figures: the facts, found from the plan and its search."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise

from fabplan.job.model import Job
from fabplan.nesting.model import CutPlan
from fabplan.nesting.problem import Blank, Group, StockLine
from fabplan.nesting.remarks import (
    Credit,
    FewerSetups,
    LeastMetal,
    LooseLeast,
    NearlyAlike,
    Note,
    OffcutsUsed,
    OpenStacks,
    Paired,
    Snipped,
    TooWide,
    Unpriced,
)
from fabplan.nesting.search.engine_run import FEW
from fabplan.nesting.search.found import BestOfMetal, Run, kept_credit
from fabplan.nesting.search.work import work_seconds

NEAR_MISS = Fraction(1, 20)  # a blank this share too wide for one more strip is worth a second look
MOST = 4


def plan_notes(plan: CutPlan, found: Sequence[BestOfMetal], job: Job, run: Run) -> tuple[Note, ...]:
    """Notes on the objective, offcuts, pairing, bound, near misses and open stacks."""
    notes: list[Note] = [*_objective(plan, job), *_offcuts(plan, found, run)]
    for f in found:
        notes += _pairing(f, run)
    notes += _traded(found)
    notes += _least_metal(found)
    notes += _second_look(found)
    if plan.program is not None and job.nest.open_stacks is not None:
        most = plan.program.most_open_stacks
        if most > job.nest.open_stacks:
            notes.append(OpenStacks(most=most, asked=job.nest.open_stacks))
    return tuple(notes)


def _objective(plan: CutPlan, job: Job) -> list[Note]:
    if plan.objective == "money" or not any(s.price for s in job.stock):
        return []
    bare = tuple(s.name for s in job.stock if s.price is None and s.form != "offcut")
    return [Unpriced(stock=bare)] if bare else []


def _offcuts(plan: CutPlan, found: Sequence[BestOfMetal], run: Run) -> list[Note]:
    notes: list[Note] = []
    used = [u for u in plan.stock if u.form == "offcut"]
    offered = sum(s.form == "offcut" for f in found for s in f.group.stock)
    if offered:
        free = bool(used) and all(u.cost == 0 for u in used)
        notes.append(OffcutsUsed(used=len(used), offered=offered, free=free))
    credit = sum((kept_credit(f.group, f.layouts, run) for f in found), Fraction(0))
    if credit:
        notes.append(Credit(amount=credit))
    return notes


def _pairing(found: BestOfMetal, run: Run) -> list[Note]:
    """What nesting slanted blanks head to tail saved, and how they are cut."""
    slanted = [b for b in found.group.blanks if b.outline is not None]
    if not slanted:
        return []
    marks = tuple(b.mark for b in slanted)
    notes: list[Note] = [*_snipped(found)]
    if not run.pair:
        notes.append(Paired(how="not_asked", marks=marks))
    elif found.alone is not None and found.total is not None and found.alone > found.total:
        saved = found.alone - found.total
        notes.append(Paired(how="head_to_tail", marks=marks, saved=saved, share=float(saved / found.alone)))
    elif found.alone is not None:
        notes.append(Paired(how="saves_nothing", marks=marks))
    if run.pair and sum(b.count <= FEW for b in slanted) > 1:
        notes.append(LooseLeast())
    return notes


def _snipped(found: BestOfMetal) -> list[Note]:
    """Blanks whose slanted sides no cut of this shear makes."""
    made = dict.fromkeys(b.mark for y in found.layouts for b in y.blanks if b.boxed)
    return [Snipped(marks=tuple(made))] if made else []


def _traded(found: Sequence[BestOfMetal]) -> list[Note]:
    """What fewer set-ups cost in metal."""
    traded = [(f, f.cheapest) for f in found if f.cheapest is not None and f.total is not None]
    if not traded:
        return []
    before = sum((c[0] for _, c in traded), Fraction(0))
    after = sum((f.total or Fraction(0) for f, _ in traded), Fraction(0))
    layouts_before, layouts_after = sum(c[1] for _, c in traded), sum(len(f.layouts) for f, _ in traded)
    return [
        FewerSetups(layouts=layouts_after, before=layouts_before, more=float(after / before - 1) if before else 0.0)
    ]


def _least_metal(found: Sequence[BestOfMetal]) -> list[Note]:
    """What the least metal found would save, and how much longer it takes at the shear."""
    if not found or not all(f.group.second and f.least_seen and f.total is not None and not f.short for f in found):
        return []
    saves = sum(((f.total or Fraction(0)) - f.least_seen[0][0] for f in found), Fraction(0))
    if saves <= 0:
        return [LeastMetal(saves=Fraction(0), more=0.0)]
    more = sum(work_seconds(f.group, f.least_seen[0][1]) - work_seconds(f.group, f.layouts) for f in found)
    return [LeastMetal(saves=saves, more=round(float(more), 2))] if more > 0 else []


def _second_look(found: Sequence[BestOfMetal]) -> list[Note]:
    """Blanks a little too wide for one more strip, or a little off another blank's width: worth most metal first."""
    looks: list[tuple[float, TooWide | NearlyAlike]] = []
    for f in found:
        for blank in f.group.blanks:
            looks += _one_more_strip(f, blank)
        looks += _nearly_alike(f.group)
    looks.sort(key=lambda x: (-x[0], x[1].mark, x[1].kind))
    return [note for _, note in looks[:MOST]]


def _one_more_strip(found: BestOfMetal, blank: Blank) -> list[tuple[float, TooWide]]:
    group = found.group
    best: tuple[float, TooWide] | None = None
    used = {y.stock for y in found.layouts}
    for line in group.stock:
        if line.name not in used or line.form == "offcut":
            continue
        for size in _sides(blank, line):
            n = line.usable_width // size
            room = (line.usable_width - n * group.limits.kerf) // (n + 1)
            over = size - room
            if n < 1 or not 0 < over <= NEAR_MISS * size:
                continue
            metal = blank.area * blank.count * over / size
            if best is None or metal > best[0]:
                best = (metal, TooWide(mark=blank.mark, over=over, across=n + 1, stock=line.name, fits=room))
    return [] if best is None else [best]


def _sides(blank: Blank, line: StockLine) -> tuple[int, ...]:
    ways = blank.ways(line)
    return tuple(dict.fromkeys(blank.length if turned else blank.width for turned in ways))


def _nearly_alike(group: Group) -> list[tuple[float, NearlyAlike]]:
    """Two blanks whose widths differ by a hair: one width would serve both strips."""
    out = []
    plain = sorted((b for b in group.blanks if b.outline is None), key=lambda b: (b.width, b.mark))
    for narrow, wide in pairwise(plain):
        gap = wide.width - narrow.width
        if 0 < gap <= max(1, wide.width // 50):
            metal = narrow.area * narrow.count * gap / narrow.width
            out.append((metal, NearlyAlike(mark=narrow.mark, other=wide.mark, differ=gap)))
    return out
