"""The search priced whole, for one metal: what it finds is offered beside every other plan.

Small jobs are also searched with less stock and with shorter panels: every plan of the smaller shop is a plan of this
one, and a search with less to choose from may end cheaper.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

import numpy as np

from fabplan.nesting.cuts import layouts
from fabplan.nesting.engine.leaveout import fewer_lines
from fabplan.nesting.priced.charges import Charges
from fabplan.nesting.priced.pool import plan_cost
from fabplan.nesting.priced.search import Search
from fabplan.nesting.problem import Group
from fabplan.nesting.search.found import BestOfMetal, Run
from fabplan.nesting.search.orders import ordered, ways_of
from fabplan.nesting.search.work import least_work

FEW = 40  # blanks: up to here smaller shops are searched too
KINDS = 6  # from so many on settings are worth gathering more than their own time
TURNS = 4  # plans begun anew, with what the ones before left in the pool
MENDS = 4  # parts cut anew of each
NODES = 1  # of the first integer program
PATIENCE = 14  # parts of a plan cut anew in a row without a gain before the search ends
MORE = 4  # and more of them at effort 1
MEND = 40  # and at most, twice as many at effort 1
MEND_WORK, MORE_WORK = 2_000.0, 5_000.0  # of the pricer all this may take, and so much more at effort 1


def nest_priced(found: BestOfMetal, run: Run) -> None:
    """Search with every layout priced whole, and offer the best plan found."""
    group = found.group
    _search_whole(found, run)
    if run.effort <= 0 or sum(b.count for b in group.blanks) > FEW:
        return
    short = replace(run, effort=0.0, progress=None, meanwhile=None)
    for less in _smaller(group):
        if run.stopped() or (found.worth is not None and found.worth <= found.priced_bound):
            return
        other = BestOfMetal(group=less)
        _search_whole(other, short)
        if other.total is not None and found.offer(other.layouts, run):
            found.orders = other.orders


def _smaller(group: Group) -> Iterator[Group]:
    """The metal with less stock, or with no panel longer than its widest stock."""
    for stock in fewer_lines(group.stock):
        yield replace(group, stock=stock)
    longest = max(min(s.width, s.length) for s in group.stock)
    if longest < group.limits.longest_cut and any(s.form != "coil" for s in group.stock):
        yield replace(group, limits=replace(group.limits, longest_cut=longest))


def _search_whole(found: BestOfMetal, run: Run) -> None:
    search = _closed(found.group, run)
    if search is None:
        return
    found.priced_bound = max(found.priced_bound, whole_bound(found.group, search))
    least = max(found.priced_bound, found.bound + least_work(found.group))
    _tell(search, least, run)
    patience = PATIENCE + round(MORE * run.effort)
    since = 0
    end = search.pricer.spent + MEND_WORK + MORE_WORK * run.effort
    for _ in range(MEND + round(MEND * run.effort)):
        if since >= patience or search.pricer.spent > end or _near(search, found.priced_bound, run):
            break
        before = search.cost
        search.mend(1, NODES)
        since = since + 1 if search.cost >= before else 0
        _tell(search, least, run)
    ways = ways_of(layouts.pulled(search.drafts(), found.group), found.group)
    if ways:
        found.orders = tuple(tuple(w) for w in ways)
        found.offer(ordered(ways, found.group), run)


def _near(search: Search, bound: Fraction, run: Run) -> bool:
    """Whether the search may end: stopped, or near enough the bound."""
    if run.stopped():
        return True
    cost = plan_cost(search.pool.columns, search.plan, Charges.of(search.group)) if search.plan else float("inf")
    return cost <= float(bound * (1 + run.margin))


def _tell(search: Search, bound: Fraction, run: Run) -> None:
    """Tell who watches how far the search is."""
    if run.progress is not None and search.plan is not None:
        cost = Fraction(search.cost).limit_denominator(10**6)
        run.progress(cost, bound, float(cost / bound - 1) if bound else None)


def quick_worth(group: Group, run: Run) -> Fraction | None:
    """Rough cost of a metal's blanks with their work; None when the stock does not make them all."""
    search = Search(group, Charges.of(group), pair=run.pair, stopped=run.interrupted, seed=run.seed)
    lp = search.close()
    if lp is None or search.short(lp):
        return None
    once = plan_cost(search.pool.columns, {int(j): 0 for j in np.flatnonzero(lp.x > 1e-7)}, search.charges)
    return Fraction(lp.cost + once).limit_denominator(10**6)


def _closed(group: Group, run: Run) -> Search | None:
    charges = Charges.of(group)
    many = group.second > 0 and len(group.blanks) >= KINDS and sum(b.count for b in group.blanks) > FEW
    search = Search(
        group, charges.prudent() if many else charges, pair=run.pair, stopped=run.interrupted, seed=run.seed
    )
    lp = search.close()
    if lp is None:
        return None
    turns = TURNS if many and run.effort > 0 else 1
    for turn in range(turns):
        before = search.plan, search.cost
        search.plan, search.cost = None, float("inf")
        picks = search.gather(lp)
        for nodes in (NODES, 50 * NODES) if before[0] is None else (NODES,):
            search.choose(picks, nodes)
            if search.plan is not None:
                break
        if turn < turns - 1:
            search.mend(MENDS, NODES)
        if search.cost > before[1]:
            search.plan, search.cost = before
        if run.stopped():
            break
    return search


def bound_alone(group: Group, run: Run) -> Fraction:
    """The bound `nest_priced` finds, without looking for a plan."""
    search = Search(group, Charges.of(group), pair=run.pair, stopped=run.interrupted, seed=run.seed)
    return whole_bound(group, search) if search.close() is not None else Fraction(0)


def whole_bound(group: Group, search: Search) -> Fraction:
    """What no plan cut in strips can cost, metal and work together; 0 where this search does not see every plan."""
    if not group.second:  # its little weight of work is no cost
        return Fraction(0)
    if group.limits.stages == 3 or any(b.outline is not None for b in group.blanks) or not search.pricer.complete:
        return Fraction(0)
    once = search.charges.money(Charges.of(group).layout)
    return Fraction(max(0.0, search.bound * (1 - 1e-9))).limit_denominator(10**9) * Fraction(10**9 - 4, 10**9) + once
