"""Which limit of the shear keeps a blank from being cut, and what it would take."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from fabplan.blanks.model import FlatPattern
from fabplan.job.metals import MetalProfile
from fabplan.job.model import Job
from fabplan.nesting.problem import Blank, Group, NoRoomError, ShearLimits, build_groups
from fabplan.nesting.remarks import InTheWay, Uncut
from fabplan.nesting.search.pieces import can_cut, rectangle, strip_options

Eased = Callable[[ShearLimits, int], ShearLimits]

_AT_MOST: dict[str, Eased] = {
    "least_held": lambda m, v: replace(m, least_held=v),
    "least_gauge": lambda m, v: replace(m, least_gauge=max(1, v), least_scribed=min(m.least_scribed, max(1, v))),
    "width_tolerance": lambda m, v: replace(m, least_scribed=max(1, v)),
}
_AT_LEAST: dict[str, Eased] = {
    "longest_cut": lambda m, v: replace(m, longest_cut=v),
    "back_gauge_reach": lambda m, v: replace(m, reach=v),
}
_NOW: dict[str, Callable[[ShearLimits], int]] = {
    "least_held": lambda m: m.least_held,
    "least_gauge": lambda m: m.least_gauge,
    "width_tolerance": lambda m: m.least_scribed,
    "longest_cut": lambda m: m.longest_cut,
    "back_gauge_reach": lambda m: m.reach,
}


def what_cannot_be_cut(
    patterns: Sequence[FlatPattern], job: Job, metals: Mapping[str, MetalProfile]
) -> tuple[Uncut, ...]:
    """Blanks that no stock holds or that the shear cannot cut out; empty when nothing else is left to cut.

    A job none of whose blanks can be cut is refused by the nest.
    """
    try:
        groups = build_groups(patterns, job, metals)
    except NoRoomError:
        return ()
    out = tuple(u for g in groups for b in g.blanks if (u := uncut(b, g)) is not None)
    return out if len(out) < sum(len(g.blanks) for g in groups) else ()


def uncut(blank: Blank, group: Group) -> Uncut | None:
    """Why a blank cannot be cut, None where it can."""
    fits, cuts = cuts_out(blank, group)
    if cuts:
        return None
    grid = group.grid
    return Uncut(
        mark=blank.mark,
        width=blank.width * grid,
        length=blank.length * grid,
        metal=group.metal,
        fits=fits,
        ways=in_the_way(blank, group) if fits else (),
    )


def in_the_way(blank: Blank, group: Group) -> tuple[InTheWay, ...]:
    """Every limit that, eased alone, lets the shear cut the blank; empty when none alone does."""
    out = []
    for key, ease in _AT_MOST.items():
        now = _NOW[key](group.limits)
        if now > 0 and _cuts(blank, group, ease(group.limits, 0)):
            needs = _between(0, now, lambda v, e=ease: _cuts(blank, group, e(group.limits, v)))  # type: ignore[misc]
            out.append(InTheWay(key=key, needs=needs * group.grid))
    most = max(max(s.width, s.length) for s in group.stock)
    for key, ease in _AT_LEAST.items():
        now = _NOW[key](group.limits)
        if now < most and _cuts(blank, group, ease(group.limits, most)):
            needs = most - _between(
                0,
                most - now,
                lambda v, e=ease: _cuts(blank, group, e(group.limits, most - v)),  # type: ignore[misc]
            )
            out.append(InTheWay(key=key, needs=needs * group.grid))
    if group.limits.angle_stop != (1.0, 179.0) and _cuts(blank, group, replace(group.limits, angle_stop=(1.0, 179.0))):
        out.append(InTheWay(key="angle_stop", needs=None))
    return tuple(out)


def _between(good: int, bad: int, cuts: Callable[[int], bool]) -> int:
    """The value nearest to `bad` that still cuts; `good` does."""
    while bad - good > 1:
        middle = (good + bad) // 2
        if cuts(middle):
            good = middle
        else:
            bad = middle
    return good


def _cuts(blank: Blank, group: Group, limits: ShearLimits) -> bool:
    return cuts_out(blank, replace(group, limits=limits))[1]


def cuts_out(blank: Blank, group: Group) -> tuple[bool, bool]:
    """Whether one of a blank fits inside some stock, and whether the shear can also cut it out."""
    only = replace(group, blanks=(replace(blank, count=1),))
    one = only.blanks[0]
    pieces: Sequence = [rectangle(one)] if one.outline is None else strip_options(one, only, pair=False)[-1].pieces  # type: ignore[type-arg]
    found = [can_cut(piece, group) for piece in pieces]
    return any(f for f, _ in found), any(c for _, c in found)
