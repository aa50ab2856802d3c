"""What a saved cut plan says beside its figures: the words of each cut, the program's order, the proven least.

The cuts are carried out on the table once more; what lies on either side of the blade must be what the words name.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from fractions import Fraction

from fabplan.blanks.model import FlatPattern
from fabplan.job.metals import MetalProfile
from fabplan.job.model import Job
from fabplan.nesting.check.cuts import Shop, Table
from fabplan.nesting.model import CutPlan, Layout
from fabplan.units import to_grid

XY = tuple[float, float]
_NEAR = 1e-2  # graduations: the file keeps six decimals of an inch
_FLOAT = Fraction(1, 10**6)


def proven_least(patterns: Sequence[FlatPattern], job: Job, metals: Mapping[str, MetalProfile]) -> Fraction:
    """The proven least, worked out again from the job alone. It does not hang on effort or seed."""
    from fabplan.nesting.nest import nest

    return nest(patterns, job, metals, effort=0).bound


def bound_faults(plan: CutPlan, least: Fraction) -> list[str]:
    """Whether the proven least holds; a lower claim is also true."""
    if plan.bound > min(least, plan.total) * (1 + _FLOAT):
        return ["the proven least is above what the job gives: it is not proven"]
    return []


def rival_faults(plan: CutPlan, job: Job) -> list[str]:
    """Other ways of cutting never cost less than the proven least, nor than the plan when cost alone decided."""
    faults = []
    only_cost = not job.nest.fewer_setups and not job.nest.offcut_credit and not plan.short
    for rival in plan.rivals:
        if rival.total is None:
            continue
        if rival.total < plan.bound * (1 - _FLOAT):
            faults.append(f"{rival.name} costs less than the proven least")
        elif only_cost and rival.total < plan.total * (1 - _FLOAT):
            faults.append(f"{rival.name} costs less than the plan")
    return faults


def program_faults(plan: CutPlan, job: Job) -> list[str]:
    """Whether the shear program is the one the layouts give."""
    from fabplan.nesting.cuts.program import shear_program

    wanted = shear_program(plan.layouts, to_grid(job.shear.kerf, plan.grid, "up"), job.nest.open_stacks)
    if wanted is None or plan.program is None:
        return [] if wanted is plan.program else ["a shear program too many or too few"]
    faults = [
        f"the program's {name.replace('_', ' ')} is {getattr(plan.program, name)}, the layouts give {right}"
        for name in ("settings", "settings_layout_by_layout", "most_open_stacks", "least_settings")
        if getattr(plan.program, name) != (right := getattr(wanted, name))
    ]
    if len(plan.program.steps) != len(wanted.steps):
        return [*faults, f"the program has {len(plan.program.steps)} steps, the layouts give {len(wanted.steps)}"]
    faults += [
        f"program step {is_.step} is not the one the layouts give"
        for is_, must in zip(plan.program.steps, wanted.steps, strict=True)
        if is_ != must
    ]
    return faults


def label_faults(plan: CutPlan) -> list[str]:
    """Whether offcuts to keep are named K1, K2 ... in order, and the others not."""
    faults, number = [], 0
    for n, layout in enumerate(plan.layouts, start=1):
        for o in layout.offcuts:
            number += o.keep
            if o.label != (f"K{number}" if o.keep else ""):
                faults.append(f"layout {n}: a leftover is named {o.label!r}")
    return faults


def box_faults(plan: CutPlan) -> list[str]:
    """Whether the width and length of a slanted blank are those of its outline, rounded outward once."""
    faults = []
    for n, layout in enumerate(plan.layouts, start=1):
        for b in layout.blanks:
            if b.outline is None:
                continue
            spare = (b.x + b.width - max(p[0] for p in b.outline), b.y + b.length - max(p[1] for p in b.outline))
            if max(spare) >= 1 + _NEAR:
                faults.append(f"layout {n}: {b.mark} at ({b.x}, {b.y}) is listed larger than it is")
    return faults


def word_faults(plan: CutPlan, job: Job) -> list[str]:
    """Whether the words of every cut name what drops and what stays, and the metal held is what lies there."""
    shop = Shop.of(job, plan.grid)
    return [f"layout {n}, {f}" for n, layout in enumerate(plan.layouts, start=1) for f in _layout_words(layout, shop)]


def _layout_words(layout: Layout, shop: Shop) -> list[str]:
    table = Table(layout, shop, None)
    centres = [(b.mark, _centre(b.outline, b.x, b.y, b.width, b.length)) for b in layout.blanks]
    faults: list[str] = []
    last = 0
    for cut in layout.cuts:
        if layout.form == "coil" and cut.step == 1:
            table.freed_by = [1]
            every = Counter(mark for mark, _ in centres)
            if not _names(cut.comes_off, every, panel=True) or cut.left != "the coil" or cut.stage != 0:
                faults.append("cut 1: its words are not those of the panel cut off the coil")
            if cut.held != max(shop.least_held, 1):
                faults.append("cut 1: the metal held is not the shop's least")
            continue
        if cut.stage < max(1, last):
            faults.append(f"cut {cut.step}: its stage is {cut.stage} after {last}")
        last = cut.stage
        before = list(table.pieces)
        table.cut(cut)
        new = [ring for ring in table.pieces if ring not in before]
        sides = [(_depth(ring, cut.start, cut.end), _inside(ring, centres)) for ring in new]
        if len(sides) == 1:  # a saw turned the trim to dust
            sides.append((0.0, Counter()))
        if cut.back_gauge is None and not -_NEAR <= max(deep for deep, _ in sides) - cut.held < 1:
            faults.append(f"cut {cut.step}: the metal held is not what it leaves")
        if len(sides) != 2 or not _told(cut.comes_off, cut.left, cut.back_gauge, sides):
            faults.append(f"cut {cut.step}: {cut.comes_off!r} and {cut.left!r} are not what it parts")
    return faults


def _told(off: str, left: str, gauge: int | None, sides: list[tuple[float, Counter[str]]]) -> bool:
    for (deep, drops), (_, stays) in (sides, sides[::-1]):
        if gauge is not None and abs(deep - gauge) > _NEAR and off != "dust":
            continue
        if _names(off, drops) and _names(left, stays):
            return True
    return False


def _names(words: str, blanks: Counter[str], *, panel: bool = False) -> bool:
    """Whether words name these blanks."""
    if words in ("scrap", "offcut to keep", "dust"):
        return not blanks and not panel
    start = "panel with " if panel else "piece with "
    if words.startswith(start) or words.startswith("panel with "):
        listed = ", ".join(f"{n} {mark}" for mark, n in sorted(blanks.items()))
        return words.startswith(start) and sorted(words.removeprefix(start).split(", ")) == sorted(listed.split(", "))
    if strip := re.fullmatch(r"strip with (\d+) blanks?|(\d+) more in the strip", words):
        return blanks.total() == int(strip[1] or strip[2])
    return blanks == Counter([words]) or blanks == Counter([words.removesuffix(" to trim")])


def _centre(outline: Sequence[XY] | None, x: int, y: int, width: int, length: int) -> XY:
    if outline is None:
        return x + width / 2, y + length / 2
    return sum(p[0] for p in outline) / len(outline), sum(p[1] for p in outline) / len(outline)


def _inside(ring: Sequence[XY], centres: Sequence[tuple[str, XY]]) -> Counter[str]:
    """Blanks whose middle lies in a convex counter-clockwise ring."""
    return Counter(
        mark
        for mark, (x, y) in centres
        if all(
            (q[0] - p[0]) * (y - p[1]) - (q[1] - p[1]) * (x - p[0]) >= 0
            for p, q in zip(ring, (*ring[1:], ring[0]), strict=True)
        )
    )


def _depth(ring: Sequence[XY], start: XY, end: XY) -> float:
    """How far a piece reaches from the line of the cut."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    run = (dx * dx + dy * dy) ** 0.5 or 1.0
    offs = [((p[0] - start[0]) * dy - (p[1] - start[1]) * dx) / run for p in ring]
    return max(offs) - min(offs)
