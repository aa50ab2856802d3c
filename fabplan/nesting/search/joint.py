"""The plans of several metals chosen together: the shear's settings are shared over the whole job.

Each metal is nested by itself, and what is cheapest by itself need not be cheapest in company: a setting two metals
share is paid once, and so is a pile that waits beyond the few that are free. Every plan kept of a metal is a candidate;
so are the simple ways of cutting the whole job, which the plan may then not exceed.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import count

from fabplan.labour import NO_LABOUR
from fabplan.nesting import minutes
from fabplan.nesting.cuts import layouts, panels
from fabplan.nesting.cuts.program import settings_of
from fabplan.nesting.model import Layout
from fabplan.nesting.problem import Group
from fabplan.nesting.search.found import BestOfMetal, Run, kept_credit, missing
from fabplan.nesting.search.orders import descend
from fabplan.nesting.search.work import own_seconds, work_cost

ROUNDS = 3
Plan = tuple[Layout, ...]


def in_order(group: Group, made: Sequence[Layout]) -> list[Layout]:
    """Offcuts first, then the stock in the job's order; long panels and many repeats first."""
    order = {s.name: (s.form != "offcut", n) for n, s in enumerate(group.stock)}
    return sorted(made, key=lambda y: (*order[y.stock], -y.length, -y.repeat))


def together_cost(groups: Sequence[Group], plans: Sequence[Sequence[Layout]], open_stacks: int | None) -> Fraction:
    """What the work of a plan for every metal costs, settings shared over all of them."""
    own = sum(
        (own_seconds(g, y) * g.second for g, made in zip(groups, plans, strict=True) for y in made), Fraction(0)
    )  # fmt: skip
    return own + _shared(groups, plans, open_stacks)


def _shared(
    groups: Sequence[Group], plans: Sequence[Sequence[Layout]], open_stacks: int | None, *, as_printed: bool = False
) -> Fraction:
    """Cost of the settings and the piles; a setting that metals share counts at the dearest."""
    second = max((g.second for g, made in zip(groups, plans, strict=True) if made), default=Fraction(0))
    if not second:
        return Fraction(0)
    sheets = [y for g, made in zip(groups, plans, strict=True) for y in in_order(g, made)]
    labour = groups[0].labour
    found = settings_of(sheets, open_stacks, labour if as_printed else NO_LABOUR)
    return minutes.seconds_of(minutes.settings_work(*found, labour)) * second


def choose_together(found: Sequence[BestOfMetal], run: Run, open_stacks: int | None) -> None:
    """Change the plans of the metals where others cost less together.

    Nothing changes where a metal is short, or where few settings were traded for metal.
    """
    if run.fewer_setups or any(f.short or f.total is None for f in found) or not any(f.group.second for f in found):
        return
    groups = [f.group for f in found]
    plans = [_candidates(f) for f in found]
    worth = [[_worth(g, made, run) for made in own] for g, own in zip(groups, plans, strict=True)]
    known: dict[tuple[int, ...], Fraction] = {}

    def cost(pick: tuple[int, ...]) -> Fraction:
        if pick not in known:
            shared = _shared(groups, [own[i] for own, i in zip(plans, pick, strict=True)], open_stacks)
            known[pick] = shared + sum((w[i] for w, i in zip(worth, pick, strict=True)), Fraction(0))
        return known[pick]

    starts = _starts(found, plans)
    best = min(starts, key=cost)
    for _ in range(ROUNDS):
        before = best
        for n, own in enumerate(plans):
            tries = [(*best[:n], i, *best[n + 1 :]) for i in range(len(own))]
            best = min((best, *tries), key=cost)
        if best == before:
            break
    every = [[own[i] for own, i in zip(plans, pick, strict=True)] for pick in dict.fromkeys((best, *starts))]
    every.insert(0, _arranged(found, every[0], open_stacks))
    chosen = min(every, key=lambda made: _exactly(groups, made, open_stacks, run))
    for f, made in zip(found, chosen, strict=True):
        f.layouts, f.total = made, layouts.cost(f.group, made)
        f.labour = work_cost(f.group, made)
        f.worth = f.total + f.labour - kept_credit(f.group, made, run)
        f.bound = min(f.bound, f.total)
        f.priced_bound = min(f.priced_bound, f.total + f.labour)


def _candidates(found: BestOfMetal) -> list[Plan]:
    """The metal's own plan first, then every other complete plan that was kept, no two alike."""
    every = [found.layouts, *found.kept, *found.given, *(made for _, made in found.least_seen)]
    every += [t.layouts for t in found.rivals if t.layouts is not None]
    group = found.group
    every += [panels.joined(group, made) for made in every]
    fit = [
        made
        for made in every
        if not missing(group, made) and layouts.within_stock(group, made) and layouts.pulls_held(made, group)
    ]
    return [made for n, made in enumerate(fit) if all(made is not old and made != old for old in fit[:n])]


def _starts(found: Sequence[BestOfMetal], plans: Sequence[Sequence[Plan]]) -> list[tuple[int, ...]]:
    """Every metal's own plan, and each simple way of cutting, or plan of the caller's, taken for all of them."""
    ways: list[list[Plan | None]] = [[f.least_seen[0][1] if f.least_seen else None for f in found]]
    ways += [[t.layouts for t in tries] for tries in zip(*(f.rivals for f in found), strict=False)]
    ways += [list(plan) for plan in zip(*(f.given for f in found), strict=True)]
    out = [tuple(0 for _ in found)]
    for way in ways:
        at = [
            next((i for i, p in zip(count(), own) if made is not None and p == made), None)
            for own, made in zip(plans, way, strict=True)
        ]
        if all(i is not None for i in at):
            out.append(tuple(i for i in at if i is not None))
    return out


def _exactly(groups: Sequence[Group], plans: Sequence[Plan], open_stacks: int | None, run: Run) -> Fraction:
    """Metal and work of a plan for every metal, its settings and piles those of the program that is printed."""
    own = sum((_worth(g, made, run) for g, made in zip(groups, plans, strict=True)), Fraction(0))
    return own + _shared(groups, plans, open_stacks, as_printed=True)


def _worth(group: Group, made: Plan, run: Run) -> Fraction:
    """Metal and work of one metal's plan but for the settings, less the credit for offcuts kept."""
    own = sum((own_seconds(group, y) for y in made), Fraction(0)) * group.second
    return layouts.cost(group, made) - kept_credit(group, made, run) + own


def _arranged(found: Sequence[BestOfMetal], plans: Sequence[Plan], open_stacks: int | None) -> list[Plan]:
    """The plans with their cuts in the orders that share settings best over all metals."""
    groups = [f.group for f in found]
    ways = [
        f.orders if _same(made, f.orders) else tuple((y,) for y in made) for f, made in zip(found, plans, strict=True)
    ]
    flat = [w for own in ways for w in own]
    if all(len(w) == 1 for w in flat):
        return list(plans)

    def taken(pick: Sequence[int]) -> list[Plan]:
        turn = iter(pick)
        return [tuple(w[next(turn)] for w in own) for own in ways]

    start = [w.index(y) for w, y in zip(flat, (y for made in plans for y in made), strict=True)]
    own = [[own_seconds(g, y) * g.second for y in w] for g, mine in zip(groups, ways, strict=True) for w in mine]
    return taken(descend(own, start, lambda pick: _shared(groups, taken(pick), open_stacks)))


def _same(made: Plan, orders: Sequence[Sequence[Layout]]) -> bool:
    """Whether these are the layouts whose other orders of cuts are known."""
    return len(made) == len(orders) and all(y in w for y, w in zip(made, orders, strict=True))
