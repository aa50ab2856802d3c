"""What the page tells the manager beside the figures of a cut plan: plain sentences."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise

from fabplan.job.model import Job
from fabplan.job.wording import listed
from fabplan.nesting.model import CutPlan
from fabplan.nesting.problem import Blank, Group, StockLine
from fabplan.nesting.search.engine_run import FEW
from fabplan.nesting.search.found import Found, Run, kept_credit
from fabplan.units import NM_PER_INCH, Show

NEAR_MISS = Fraction(1, 20)  # a blank this share too wide for one more strip is worth a second look
MOST = 4


def plan_notes(plan: CutPlan, found: Sequence[Found], job: Job, run: Run) -> list[str]:
    """Notes on the objective, offcuts, pairing, bound, near misses and open stacks."""
    show = Show(job.info.units, job.info.round_to)
    notes = [*_objective(plan, job), *_offcuts(plan, found, job, run)]
    for f in found:
        notes += _pairing(f, plan, job, run)
    notes += _traded(found)
    notes += _second_look(found, show)
    if plan.program is not None and job.nest.open_stacks is not None:
        most = plan.program.most_open_stacks
        if most > job.nest.open_stacks:
            notes.append(f"One panel alone leaves {most} stacks lying open: {job.nest.open_stacks} cannot be held.")
    return notes


def _objective(plan: CutPlan, job: Job) -> list[str]:
    if plan.objective == "money" or not any(s.price for s in job.stock):
        return []
    bare = [s.name for s in job.stock if s.price is None and s.form != "offcut"]
    return [f"Planned for the least metal, not money: {listed(bare, 'and')} has no price."] if bare else []


def _offcuts(plan: CutPlan, found: Sequence[Found], job: Job, run: Run) -> list[str]:
    notes = []
    used = [u for u in plan.stock if u.form == "offcut"]
    offered = sum(s.form == "offcut" for f in found for s in f.group.stock)
    if offered:
        free = all(u.cost == 0 for u in used)
        tail = " They are paid for and count for nothing in the total." if used and free else ""
        notes.append(f"{len(used)} of {offered} offcuts on hand are used.{tail}")
    credit = sum((kept_credit(f.group, f.layouts, run) for f in found), Fraction(0))
    if credit:
        notes.append(
            f"Offcuts going back on the rack are credited at {_value(credit, plan, job)}; "
            "the total is before that credit."
        )
    return notes


def _pairing(found: Found, plan: CutPlan, job: Job, run: Run) -> list[str]:
    """What nesting slanted blanks head to tail saved, and how they are cut."""
    slanted = [b for b in found.group.blanks if b.outline is not None]
    if not slanted:
        return []
    names = listed((b.mark for b in slanted), "and")
    notes = _snipped(found, job)
    if not run.pair:
        notes.append(f"{names}: each cut from its own rectangle, as the job asks (pair = false).")
    elif found.alone is not None and found.total is not None and found.alone > found.total:
        saved = found.alone - found.total
        share = float(saved / found.alone) * 100
        notes.append(
            f"{names}: nested head to tail by slanted cuts, which saves about {_value(saved, plan, job)} "
            f"({share:.1f} %) against cutting each from its own rectangle."
        )
    elif found.alone is not None:
        notes.append(f"{names}: nesting head to tail saves nothing here; each comes from its own rectangle.")
    if run.pair and sum(b.count <= FEW for b in slanted) > 1:
        notes.append("The proven least counts only the bare area of the few slanted blanks that share a strip.")
    return notes


def _snipped(found: Found, job: Job) -> list[str]:
    """Blanks whose slanted sides no cut of this shear makes."""
    made = dict.fromkeys(b.mark for y in found.layouts for b in y.blanks if b.boxed)
    if not made:
        return []
    low, high = job.shear.angle_stop
    return [
        f"{listed(made, 'and')}: the angle stop ({low:g} to {high:g} degrees) does not reach every slanted side. The "
        "shear leaves a box, and the sides are scribed and snipped at the bench."
    ]


def _traded(found: Sequence[Found]) -> list[str]:
    """What fewer set-ups cost in metal."""
    traded = [(f, f.cheapest) for f in found if f.cheapest is not None and f.total is not None]
    if not traded:
        return []
    before = sum((c[0] for _, c in traded), Fraction(0))
    after = sum((f.total or Fraction(0) for f, _ in traded), Fraction(0))
    layouts_before, layouts_after = sum(c[1] for _, c in traded), sum(len(f.layouts) for f, _ in traded)
    if after == before and layouts_before == layouts_after:
        return ["No plan with fewer set-ups was found within the metal allowed for it."]
    share = float(after / before - 1) * 100 if before else 0.0
    return [f"For fewer set-ups: {layouts_after} layouts instead of {layouts_before}, for {share:.2f} % more metal."]


def _value(amount: Fraction, plan: CutPlan, job: Job) -> str:
    if plan.objective == "money":
        return f"{job.info.currency} {float(amount):,.2f}".strip()
    show = Show(job.info.units, job.info.round_to)
    return show.area(float(amount) * (plan.grid / NM_PER_INCH) ** 2)


def _second_look(found: Sequence[Found], show: Show) -> list[str]:
    """Blanks a little too wide for one more strip, or a little off another blank's width: worth most metal first."""
    looks: list[tuple[float, str]] = []
    for f in found:
        for blank in f.group.blanks:
            looks += _one_more_strip(f, blank, show)
        looks += _nearly_alike(f.group, show)
    looks.sort(key=lambda x: (-x[0], x[1]))
    return [text for _, text in looks[:MOST]]


def _one_more_strip(found: Found, blank: Blank, show: Show) -> list[tuple[float, str]]:
    group = found.group
    best: tuple[float, str] | None = None
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
            text = (
                f"{blank.mark} is {show.length(over * group.grid)} too wide to come {n + 1} across {line.name}: "
                f"at {show.length(room * group.grid)} it would, if its size may change."
            )
            if best is None or metal > best[0]:
                best = (metal, text)
    return [] if best is None else [best]


def _sides(blank: Blank, line: StockLine) -> tuple[int, ...]:
    ways = blank.ways(line)
    return tuple(dict.fromkeys(blank.length if turned else blank.width for turned in ways))


def _nearly_alike(group: Group, show: Show) -> list[tuple[float, str]]:
    """Two blanks whose widths differ by a hair: one width would serve both strips."""
    out = []
    plain = sorted((b for b in group.blanks if b.outline is None), key=lambda b: (b.width, b.mark))
    for narrow, wide in pairwise(plain):
        gap = wide.width - narrow.width
        if 0 < gap <= max(1, wide.width // 50):
            metal = narrow.area * narrow.count * gap / narrow.width
            text = (
                f"{narrow.mark} and {wide.mark} differ by {show.length(gap * group.grid)} in width: "
                "one width would share a strip and a setting."
            )
            out.append((metal, text))
    return out
