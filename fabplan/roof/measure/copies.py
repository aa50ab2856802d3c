"""Slopes alike of which one or another is laid in part: each of those is a slope of its own from then on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from fabplan.job.model import Job
from fabplan.job.slopes import copy_of
from fabplan.roof.model import Hip, Measured


def parted(measured: Sequence[Measured], hips: Sequence[Hip], job: Job) -> tuple[tuple[Measured, ...], tuple[Hip, ...]]:
    """The slopes with every copy that `[[laid]]` names (``dormer no. 2``) taken out of its `count`, before the others.

    Hips of a slope all of whose copies are named lie beside the first of them.
    """
    names = {m.name for m in measured}
    counts = {s.name: s.count for s in job.slopes}
    asked: dict[str, list[int]] = {}
    for line in job.laid:
        which = copy_of(line.slope)
        if which is not None and line.slope not in names:
            asked.setdefault(which[0], []).append(which[1])
    out: list[Measured] = []
    gone: dict[str, str] = {}
    for m in measured:
        count = counts[m.entry]
        own = sorted(k for k in asked.get(m.name, []) if 1 <= k <= count) if count > 1 else []
        each = m.times // count
        singles = [replace(m, name=f"{m.name} no. {k}", times=each) for k in own]
        out += singles
        if len(own) < count:
            out.append(replace(m, times=m.times - each * len(own)))
        else:
            gone[m.name] = singles[0].name
    beside = tuple(
        replace(h, slope_left=gone.get(h.slope_left, h.slope_left), slope_right=gone.get(h.slope_right, h.slope_right))
        for h in hips
    )
    return tuple(out), beside
