"""Panels on several coils alike: which coil each comes off, and a plan whose panels all find one.

A panel comes off one coil. A shop mounts as few coils as hold the job, and of those it takes the ones with the least on
them, so that the full ones stay whole; where all of them do not hold it, each is used up as far as whole panels go.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from itertools import combinations

from fabplan.blanks.model import FlatPattern
from fabplan.errors import ProofError
from fabplan.job.metals import MetalProfile
from fabplan.job.model import Job, RackStock, Stock
from fabplan.job.values import OnHand
from fabplan.nesting.check.whole import check_plan
from fabplan.nesting.model import CutPlan
from fabplan.units import Nm, to_grid

Panels = Sequence[tuple[int, int, int]]
"""Layout number, length with its kerf in graduations, times."""
Taken = tuple[tuple[int, int], ...]
"""Layout number and times."""
TRIES = 40  # sets of coils tried before all are used
ROUNDS = 3  # nests tried with less on the coils


def off_coils(panels: Panels, coils: Sequence[int]) -> tuple[Taken, ...]:
    """What comes off each coil.

    Parameters
    ----------
    panels : sequence of (int, int, int)
    coils : sequence of int
        Graduations on each.

    Returns
    -------
    tuple of Taken
        For each coil; what is in none of them finds no coil.

    Examples
    --------
    >>> off_coils([(1, 40, 3)], [130, 90, 400])
    (((1, 3),), (), ())
    >>> off_coils([(1, 40, 9)], [130, 90])
    (((1, 3),), ((1, 2),))
    """
    total = sum(length * times for _, length, times in panels)
    tried = 0
    for size in range(1, len(coils) + 1):
        sets = [s for s in combinations(range(len(coils)), size) if sum(coils[k] for k in s) >= total]
        for some in sorted(sets, key=lambda s: (sum(coils[k] for k in s), s)):
            found, left = _filled(panels, coils, some)
            if not left:
                return found
            tried += 1
            if tried >= TRIES:
                break
        if tried >= TRIES:
            break
    return _filled(panels, coils, range(len(coils)))[0]


def _filled(panels: Panels, coils: Sequence[int], some: Sequence[int]) -> tuple[tuple[Taken, ...], list[list[int]]]:
    """Coils filled one after another, the one with least on it first; and the panels left over."""
    left = [list(p) for p in panels]
    out: list[Taken] = [() for _ in coils]
    for k in sorted(some, key=lambda k: (coils[k], k)):
        if not left:
            break
        out[k] = fullest(left, coils[k])
        had = dict(out[k])
        left = [[n, length, times - had.get(n, 0)] for n, length, times in left if times > had.get(n, 0)]
    return tuple(out), left


def fullest(panels: Sequence[Sequence[int]], room: int) -> Taken:
    """Panels that together come nearest to a length, and not above.

    >>> fullest([(1, 30, 2), (2, 40, 1)], 95)
    ((1, 1), (2, 1))
    """
    whole = (1 << (room + 1)) - 1
    parts: list[tuple[int, int, int]] = []  # layout, times, length together
    for n, length, times in panels:
        left, step = times, 1
        while left > 0:  # 1, 2, 4 ... and the rest make up every number of them
            now = min(step, left)
            parts.append((n, now, length * now))
            left -= now
            step *= 2
    reached = [1]  # bit n: a length of n can be made up of the parts so far
    for _, _, length in parts:
        reached.append((reached[-1] | reached[-1] << length) & whole)
    at = reached[-1].bit_length() - 1
    found: dict[int, int] = {}
    for (n, times, length), before in zip(reversed(parts), reversed(reached[:-1]), strict=True):
        if not before >> at & 1:
            at -= length
            found[n] = found.get(n, 0) + times
    return tuple(sorted(found.items()))


def panels_of(cut: CutPlan, stock: str, kerf: int) -> list[tuple[int, int, int]]:
    """The panels of a line of coil; `kerf` in graduations."""
    return [(n, y.length + kerf, y.repeat) for n, y in enumerate(cut.layouts, 1) if y.stock == stock]


def nest_on_whole_coils(
    job: Job, metals: Mapping[str, MetalProfile], patterns: Sequence[FlatPattern], make: Callable[[Job], CutPlan]
) -> CutPlan:
    """A cut plan every panel of which comes off one of the coils that are there, where no more is bought.

    The coils of a line are nested as one length; where their ends do not hold the plan's panels, the line is nested
    again with what they held. The bound stays that of the whole length, and so stays true.
    """
    first = cut = make(job)
    now = job
    for _ in range(ROUNDS):
        less = _held(job, cut)
        if not less:
            break
        lines = [
            line.model_copy(update={"on_hand": OnHand(length=Nm(less[line.name]))}) if line.name in less else line
            for line in now.stock
        ]
        now = now.model_copy(update={"stock": tuple(lines)})
        cut = make(now)
    else:
        if _held(job, cut):  # one coil alone: nothing can be in between
            cut = make(job.model_copy(update={"stock": tuple(_fullest_alone(line) for line in job.stock)}))
    if cut is first:
        return cut
    bound = min(first.bound, cut.bound)
    status = cut.status if cut.status in ("short", "not_proven") or bound == cut.bound else "not_proven"
    cut = replace(cut, bound=bound, metal_bound=min(first.metal_bound, cut.metal_bound), status=status)
    faults = check_plan(cut, patterns, job, metals)
    if faults:
        raise ProofError("cut plan", faults)
    return cut


def _held(job: Job, cut: CutPlan) -> dict[str, int]:
    """Nanometres the coils of a line hold of the plan, where that is not all of it and no more is bought."""
    out: dict[str, int] = {}
    kerf = to_grid(job.shear.kerf, cut.grid, "up")
    for line in job.stock:
        if not isinstance(line, RackStock) or len(line.coils) < 2 or line.buy:
            continue
        panels = panels_of(cut, line.name, kerf)
        lengths = {n: length for n, length, _ in panels}
        got = off_coils(panels, [free // cut.grid for _, free in line.coils])
        held = sum(lengths[n] * times for taken in got for n, times in taken)
        if held < sum(length * times for _, length, times in panels):
            out[line.name] = held * cut.grid
    return out


def _fullest_alone(line: Stock) -> Stock:
    if not isinstance(line, RackStock) or len(line.coils) < 2 or line.buy:
        return line
    return line.model_copy(update={"on_hand": OnHand(length=Nm(max(free for _, free in line.coils)))})
