"""The search for one metal: rivals, then the engine, with slanted blanks in strips or alone, whichever is cheaper.

The engine packs rectangles. A blank that is not one reaches it as strips of several head to tail, or alone in its own
rectangle; which edge it stands on and how many make a strip is settled by nesting the likely choices quickly, one blank
at a time, before the long search.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from concurrent.futures import Future
from dataclasses import replace
from fractions import Fraction

from fabplan.nesting.cuts import layouts, panels
from fabplan.nesting.cuts.program import settings_of, settings_taken
from fabplan.nesting.engine import solve as engine
from fabplan.nesting.model import Layout
from fabplan.nesting.problem import Group
from fabplan.nesting.search import to_engine
from fabplan.nesting.search.beaten import bound_that_holds
from fabplan.nesting.search.bound import area_bound
from fabplan.nesting.search.engine_run import (
    FEW,
    bound_of,
    cut_out,
    options_of,
    quick_options,
    relaxed_bound,
    solved,
    tried,
)
from fabplan.nesting.search.found import BestOfMetal, Run, missing
from fabplan.nesting.search.one_size import pencil_plan
from fabplan.nesting.search.pieces import Option, matched, rectangle, strip_options
from fabplan.nesting.search.priced import bound_alone, nest_priced
from fabplan.nesting.search.rivals import Piece, Tried
from fabplan.nesting.search.work import least_work, work_cost
from fabplan.workers import Here

RIVAL_WORK = 30_000  # rectangles placed by the rectangle packer at effort 1
TURNS = 6  # choices of strip tried at effort 1, beside the likeliest
SMALL = 150  # pieces: below this a choice is rated by a quick plan
METAL_SECONDS = 2.0  # and the least time for it, where the time is limited
PLANNED = 600  # blanks: below this a whole job is weighed by a quick plan


def nest_group(group: Group, run: Run) -> BestOfMetal:
    """The best plan for the blanks of one metal."""
    priced = BestOfMetal(group=group, bound=area_bound(group))
    # The other search knows nothing of work, nor of what hands cannot do.
    both = _both(group)
    beside = None
    if both and not isinstance(run.hands, Here):
        beside = run.hands.start(_metal, group, run.aside())
        run.under_way()
    if run.progress is not None:
        _tell_first(priced, run)
    if both:
        nest_priced(priced, run)
    found, pieces = run.wait(beside) if beside is not None else _metal(group, run.unheard() if both else run)
    found.stopped_early |= both and run.stopped()
    found.offer(priced.layouts, run)
    found.priced_bound, found.orders = priced.priced_bound, priced.orders
    if run.fewer_setups and found.total is not None and not run.stopped():
        _fewer(found, pieces, run)
    if found.total is None:
        if not found.short:
            found.short = tuple((b.mark, b.count) for b in group.blanks)
        found.total = layouts.cost(group, found.layouts)
    found.bound = _metal_bound(found, found.total)
    joined = panels.joined(group, found.layouts)
    work, plain = work_cost(group, joined), work_cost(group, found.layouts)
    if not layouts.pulls_held(joined, group):
        joined, work = found.layouts, plain
    if not found.short and (work, len(joined)) > (plain, len(found.layouts)) and group.second:
        joined, work = found.layouts, plain
    found.layouts, found.labour = joined, work
    least = least_work(group) if not found.short else Fraction(0)
    found.priced_bound = min(max(found.priced_bound, found.bound + least), found.total + found.labour)
    return found


def least_cost(group: Group, run: Run) -> Fraction:
    """What no plan of one metal can cost, metal and work together: `nest_group`'s, without its search for a plan."""
    found, _ = _metal(group, run)
    if found.total is None or found.short:
        return nest_group(group, run).priced_bound
    bound = _metal_bound(found, found.total) + least_work(group)
    return max(bound_alone(group, run), bound) if _both(group) else bound


def _both(group: Group) -> bool:
    """Whether plans are priced with their work too."""
    return bool(group.second or group.limits.least_gauge > 1 or group.limits.least_pull)


def _metal_bound(found: BestOfMetal, total: Fraction) -> Fraction:
    """The least metal that is proven, seen what all plans found take."""
    if found.short:
        return min(found.bound, total)
    rivals = [(t.total, t.layouts) for t in found.rivals if t.total is not None and t.layouts is not None]
    plans = [(total, found.layouts), *rivals, *found.least_seen]
    return min(bound_that_holds(found.group, found.bound, plans), total)


def _tell_first(found: BestOfMetal, run: Run) -> None:
    """Tell who watches what the plan drawn by hand comes to, long before the search has a better one."""
    group = found.group
    plain = [rectangle(b) for b in group.blanks if b.outline is None]
    alone = (strip_options(b, group, pair=run.pair)[-1] for b in group.blanks if b.outline is not None)
    made = pencil_plan(group, _supplied(plain, alone)).layouts
    least = found.bound + least_work(group)
    cost = None
    if made is not None and not missing(group, made) and layouts.within_stock(group, made):
        cost = layouts.cost(group, made) + work_cost(group, made)
    assert run.progress is not None
    run.progress(cost, least, float(cost / least - 1) if cost is not None and least else None)


def _metal(group: Group, run: Run) -> tuple[BestOfMetal, list[Piece]]:
    """The least metal, looked for as hard as where work costs nothing, and the rectangles it was made of."""
    found = BestOfMetal(group=group, bound=area_bound(group))
    return found, _search(found, run.with_share(1.0, METAL_SECONDS))


def quick_cost(group: Group, run: Run) -> Fraction | None:
    """Rough cost of a metal's blanks, each supplied the likeliest way; None when the stock does not make them all."""
    plain = [rectangle(b) for b in group.blanks if b.outline is None]
    slanted = [strip_options(b, group, pair=run.pair)[0] for b in group.blanks if b.outline is not None]
    found = BestOfMetal(group=group, slanted=bool(slanted))
    pieces = _supplied(plain, slanted)
    if sum(b.count for b in group.blanks) <= PLANNED:
        return solved(found, pieces, run, quick_options(run), quick=True)[0]
    return _rate(found, pieces, run)


def _search(found: BestOfMetal, run: Run) -> list[Piece]:
    """The cheapest plan; returns the rectangles it was made of."""
    group = found.group
    plain = [rectangle(b) for b in group.blanks if b.outline is None]
    slanted = {b.mark: strip_options(b, group, pair=run.pair) for b in group.blanks if b.outline is not None}
    found.slanted = bool(slanted)
    work = max(0, round(RIVAL_WORK * run.effort))
    apart = _supplied(plain, (options[-1] for options in slanted.values()))
    likely = _supplied(plain, (options[0] for options in slanted.values()))
    rate = None
    if slanted and run.pair and _many(likely):
        rate = run.hands.start(bound_of, group, likely, run.aside())
    others = run.hands.start(tried, group, apart, work, run.aside())
    run.under_way()
    if not slanted:
        solved(found, plain, run, options_of(run))
        _beside(found, others, run)
        return plain
    least = run.hands.start(relaxed_bound, group, run.aside())
    bound = solved(found, apart, run, quick_options(run), quick=True)[1]
    first = found.total
    if not _many(apart):
        _beside(found, others, run)
        bound = found.worth
    rated = _choose(found, plain, slanted, (bound, apart), rate, run) if run.pair else []
    if _many(apart):
        _beside(found, others, run)
    found.alone = min((t for t in (first, *(r.total for r in found.rivals)) if t is not None), default=None)
    best = apart
    if run.pair:
        best = _settle(found, rated, run)
        others = run.hands.start(tried, group, best, work // 4, run.aside())
    solved(found, best, run, options_of(run))
    if run.pair:
        _beside(found, others, run)
    relaxed, cut_short = run.wait(least)
    found.bound = max(found.bound, relaxed)
    found.stopped_early |= cut_short
    return best


def _beside(found: BestOfMetal, work: Future[tuple[tuple[Tried, ...], bool]], run: Run) -> None:
    """Take what the packer and the pencil plan gave; each rival keeps its cheapest outcome."""
    tries, cut_short = run.wait(work)
    found.stopped_early |= cut_short
    for t in tries:
        if t.layouts is not None:
            found.offer(t.layouts, run)
    found.rivals = tuple(
        new if old.total is None or (new.total is not None and new.total < old.total) else old
        for old, new in zip(found.rivals or tries, tries, strict=True)
    )


def _fewer(found: BestOfMetal, pieces: Sequence[Piece], run: Run) -> None:
    """Trade metal for set-ups: within the share allowed, the plan with the fewest back-gauge settings."""
    group = found.group
    assert found.total is not None
    found.cheapest = (found.total, len(found.layouts), _settings(group, found.layouts))
    options = replace(options_of(run), fewer_setups=run.fewer_setups, progress=None)
    answer = engine.solve(to_engine.engine_problem(group, pieces), options)
    plans = [cut_out(answer, group, pieces), *(t.layouts for t in found.rivals if t.layouts is not None)]
    most = found.total * (1 + run.fewer_setups)
    best = (found.cheapest[2], found.total)
    for made in plans:
        total = layouts.cost(group, made)
        if total > most or missing(group, made) or not layouts.within_stock(group, made):
            continue
        rank = (_settings(group, made), total)
        if rank < best:
            best = rank
            found.layouts, found.total = tuple(made), total


def _settings(group: Group, made: Sequence[Layout]) -> int:
    return settings_taken(settings_of(made)[0])


def _supplied(plain: Sequence[Piece], options: Iterable[Option]) -> list[Piece]:
    """The rectangles of a choice: plain blanks, and slanted ones each supplied its way."""
    return [*plain, *(p for o in options for p in o.pieces)]


def _many(pieces: Sequence[Piece]) -> bool:
    """Whether a choice of pieces is rated by a bound, not by a quick plan."""
    return sum(p.count for p in pieces) > SMALL


def _choose(
    found: BestOfMetal,
    plain: list[Piece],
    slanted: dict[str, list[Option]],
    alone: tuple[Fraction | None, list[Piece]],
    likeliest: Future[Fraction | None] | None,
    run: Run,
) -> list[tuple[Fraction, list[Piece]]]:
    """Rate ways to supply the slanted blanks by quick nests, those with most metal first; each with its rate.

    The first is the likeliest, whatever its rate, worked out beside this when given. `alone` is every blank in
    its own rectangle, and the rate of that, None when the stock does not take them so.
    """
    group = found.group
    turns = round(TURNS * run.effort)
    picked = {mark: options[0] for mark, options in slanted.items()}
    metal = {b.mark: b.area * b.count for b in group.blanks}
    rated: list[tuple[Fraction, list[Piece]]] = []

    def best(pieces: list[Piece], rate: Fraction | None) -> bool:
        if rate is None:
            return False
        first = all(rate < r for r, _ in rated)
        rated.append((rate, pieces))
        return first

    likely = _supplied(plain, picked.values())
    best(likely, _rate(found, likely, run) if likeliest is None else run.wait(likeliest))
    rate, apart = alone
    if rate is not None:
        rated.append((rate, apart))
    for mark in sorted(slanted, key=lambda m: (-metal[m], m)):
        for option in slanted[mark]:
            if option is picked[mark]:
                continue
            if turns <= 0 or run.stopped():
                break
            turns -= 1
            before = picked[mark]
            picked[mark] = option
            choice = _supplied(plain, picked.values())
            if not best(choice, _rate(found, choice, run)):
                picked[mark] = before
    few = [b for b in group.blanks if b.mark in slanted and b.count <= FEW]
    if len(few) > 1 and not run.stopped():
        rest = _supplied(plain, (o for mark, o in picked.items() if mark not in {b.mark for b in few}))
        mixed = [*rest, *matched(few, group)]
        best(mixed, _rate(found, mixed, run))
    return rated or [(Fraction(0), apart)]


def _settle(found: BestOfMetal, rated: list[tuple[Fraction, list[Piece]]], run: Run) -> list[Piece]:
    """The choice worth a long search: the one rated best, or the likeliest when a quick plan of it is cheaper.

    A rate is a bound on a large job, and the lower bound does not always give the better plan.
    """
    first = min(range(len(rated)), key=lambda i: (rated[i][0], i))
    if first == 0:
        return rated[0][1]
    planned = []
    for turn, i in enumerate((first, 0)):
        worth, _ = solved(found, rated[i][1], run, quick_options(run), quick=True)
        planned.append((worth is None, worth or Fraction(0), turn, i))
    return rated[min(planned)[-1]][1]


def _rate(found: BestOfMetal, pieces: Sequence[Piece], run: Run) -> Fraction | None:
    """How good a choice of pieces is: a quick plan of a small job, the engine's bound of a large one."""
    if _many(pieces):
        return bound_of(found.group, pieces, run)
    return solved(found, pieces, run, quick_options(run), quick=True)[0]
