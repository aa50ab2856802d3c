"""The cut plan of a whole job: every way of nesting tried, the cheapest kept and proved.

Work is counted, not timed: effort and seed fix what is tried, so the same job gives the same plan, on any machine and
under any load. `seconds` (told on paper) and `should_stop` only cut it short; the best plan so far is then returned.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from fractions import Fraction
from itertools import count

from fabplan.blanks.model import FlatPattern
from fabplan.errors import ProofError
from fabplan.job.metals import MetalProfile
from fabplan.job.model import Job, Stock
from fabplan.labour import Spent
from fabplan.nesting import minutes
from fabplan.nesting.check.whole import check_plan
from fabplan.nesting.cuts import layouts, panels
from fabplan.nesting.cuts.program import shear_program
from fabplan.nesting.model import CutPlan, Layout, ShearProgram, Status
from fabplan.nesting.notes import plan_notes
from fabplan.nesting.problem import Group, NoRoomError, PricedHere, build_groups
from fabplan.nesting.refused import uncut_words
from fabplan.nesting.remarks import Rival
from fabplan.nesting.search.beaten import bound_that_holds
from fabplan.nesting.search.found import BestOfMetal, Progress, Run
from fabplan.nesting.search.joint import choose_together, in_order, together_cost
from fabplan.nesting.search.limits import uncut
from fabplan.nesting.search.search import least_cost, nest_group
from fabplan.units import Show
from fabplan.workers import Hands, Here

MOST_ON_ONE = 10_000  # blanks on one piece of stock
OTHER_WAYS: tuple[PricedHere, ...] = ("at its price", "alone")


def nest(
    patterns: Sequence[FlatPattern],
    job: Job,
    metals: Mapping[str, MetalProfile],
    *,
    effort: float | None = None,
    seed: int | None = None,
    seconds: float | None = None,
    progress: Progress | None = None,
    should_stop: Callable[[], bool] | None = None,
    rack: Sequence[Stock] = (),
    hands: Hands | None = None,
    meanwhile: Callable[[], None] | None = None,
    given: Sequence[Sequence[Layout]] = (),
) -> CutPlan:
    """Nest a job's blanks on its stock.

    Parameters
    ----------
    patterns : sequence of FlatPattern
        Blanks with final counts.
    job : Job
    metals : mapping of profile name to MetalProfile
    effort, seed : optional
        Override the job's own; they fix the work done.
    seconds : float, optional
        Upper limit on the time taken; the plan is then only the best so far.
    progress : callable, optional
        Called with (cost, bound, gap) of the metal being nested.
    should_stop : callable, optional
        Asked often; True ends the search with the best plan so far.
    rack : sequence of Stock
        Offcuts kept from earlier jobs.
    hands : Hands, optional
        Who works out the rivals and the bound of slanted blanks beside the search; the plan is the same without.
    meanwhile : callable, optional
        Called when `hands` have what the search waits for: other work given to them now is not in its way.
    given : sequence of sequences of Layout
        Plans of the whole job that the caller has: the plan is none of them or better than each.

    Returns
    -------
    CutPlan
        Passed by `check_plan`; with `short` when the stock runs out.

    Raises
    ------
    NoRoomError
        A blank fits on no stock.
    ProofError
        The plan failed its own check (a fault in fabplan).
    """
    run = replace(
        _run(job, effort, seed), progress=progress, should_stop=should_stop, hands=hands or Here(), meanwhile=meanwhile
    )
    groups = build_groups(patterns, job, metals, rack=rack)
    found = _nested(groups, job, run, seconds)
    if any(line.here is not None for group in groups for line in group.stock):
        # Metal that is there counts less than more of the same: looked for in three ways, and the cheapest plan taken.
        for how in OTHER_WAYS:
            with suppress(NoRoomError):
                other = _nested(build_groups(patterns, job, metals, rack=rack, here=how), job, run, seconds)
                for f, o in zip(found, other, strict=True):
                    f.offer(o.layouts, run)
                    f.stopped_early |= o.stopped_early
    _offer_given(found, given, run)
    choose_together(found, run, job.nest.open_stacks)
    plan = replace(assemble(found, job, run), time_limit=seconds)
    faults = check_plan(plan, patterns, job, metals, rack=rack)
    if faults:
        raise ProofError("cut plan", faults)
    return plan


def proven_least(patterns: Sequence[FlatPattern], job: Job, metals: Mapping[str, MetalProfile]) -> Fraction:
    """What no plan of the job's blanks can cost: the bound of `nest`, without its search for a plan.

    Raises
    ------
    NoRoomError
        A blank fits on no stock.
    """
    run = _run(job, 0.0, None)
    groups = build_groups(patterns, job, metals)
    _require(groups, job)
    return sum((least_cost(group, run) for group in groups), Fraction(0))


def _run(job: Job, effort: float | None, seed: int | None) -> Run:
    return Run(
        effort=job.nest.search_effort if effort is None else effort,
        seed=job.nest.try_again if seed is None else seed,
        margin=Fraction(job.nest.good_enough),
        fewer_setups=Fraction(job.nest.fewer_setups),
        offcut_credit=Fraction(job.nest.offcut_credit),
        pair=job.nest.pair,
    )


def _offer_given(found: Sequence[BestOfMetal], given: Sequence[Sequence[Layout]], run: Run) -> None:
    """Offer every metal its part of the caller's plans."""
    for plan in given:
        for f in found:
            mine = panels.short_stacked(f.group, [y for y in plan if y.metal == f.group.metal])
            f.given = (*f.given, mine)
            if f.offer(mine, run):
                cost = layouts.cost(f.group, mine)
                f.bound = min(bound_that_holds(f.group, f.bound, [(cost, mine)]), cost)
                f.priced_bound = min(max(f.priced_bound, f.bound), cost + f.labour)


def _nested(groups: Sequence[Group], job: Job, run: Run, seconds: float | None) -> list[BestOfMetal]:
    """The best plan of every metal alone."""
    _require(groups, job)
    end = None if seconds is None else time.monotonic() + seconds
    found = []
    for n, group in enumerate(groups):
        if end is not None:  # the time left, shared over the metals still to do
            now = time.monotonic()
            run.deadline = now + max(0.0, end - now) / (len(groups) - n)
        found.append(nest_group(group, run))
    run.under_way()
    return found


def _require(groups: Sequence[Group], job: Job) -> None:
    show = Show(job.info.units, job.info.round_to)
    for group in groups:
        _require_few(group, show)
        _require_room(group, job)


def _require_few(group: Group, show: Show) -> None:
    """Refuse a pattern nobody can follow: more blanks on one piece of stock than its page and its proof can hold."""
    if sum(b.count for b in group.blanks) <= MOST_ON_ONE:
        return
    held, area = 0, 0.0
    for blank in sorted(group.blanks, key=lambda b: (b.area, b.mark)):
        more = min(blank.count, MOST_ON_ONE - held)
        held, area = held + more, area + more * blank.area
        if held == MOST_ON_ONE:
            break
    large = [s for s in group.stock if s.usable_width * s.usable_length > area + blank.area]
    if not large:
        return
    line = large[0]
    write = "List smaller sheets"
    if line.form == "coil":
        longest = show.exact(int(area // line.usable_width) * group.grid)
        write = f'Write longest_cut_off = "{longest}" or less under "{line.name}"'
    raise NoRoomError(
        f'More than {MOST_ON_ONE:,} blanks would lie on one piece of "{line.name}": "{blank.mark}" is '
        f"{show.size(blank.width * group.grid, blank.length * group.grid)}, and nobody can follow a layout of so many.",
        help_=f"{write}, or plan strips of it and count those.",
        marks=(blank.mark,),
    )


def _require_room(group: Group, job: Job) -> None:
    """Refuse a job with a blank that fits on no stock, or that this shear cannot cut out, saying why."""
    lost = [u for blank in group.blanks if (u := uncut(blank, group)) is not None]
    if not lost:
        return
    what, help_ = uncut_words(lost[0], job)
    others = [u.mark for u in lost[1:]]
    if others:
        what += f" The same goes for {', '.join(others[:8])}{' and more' if len(others) > 8 else ''}."
    raise NoRoomError(what, help_=help_, marks=[u.mark for u in lost])


def assemble(found: Sequence[BestOfMetal], job: Job, run: Run) -> CutPlan:
    """One cut plan from the plans of the metals."""
    total = sum((f.total or Fraction(0) for f in found), Fraction(0))
    bound = sum((f.bound for f in found), Fraction(0))
    short = tuple(s for f in found for s in f.short)
    use = tuple(u for f in found for u in layouts.stock_use(f.group, f.layouts))
    sheets = _numbered([y for f in found for y in in_order(f.group, f.layouts)], job.done.offcuts)
    blanks_area = sum(b.area * _made(f, b.mark) for f in found for b in f.group.blanks)
    stock_area = float(sum(u.area for u in use))
    kept = float(sum(y.repeat * o.width * o.length for y in sheets for o in y.offcuts if o.keep))
    program = shear_program(sheets, job.nest.open_stacks, job.labour)
    sheets, settings = _timed(found, sheets, program)
    labour = minutes.labour_cost(sheets, settings, {f.group.metal: f.group.second for f in found})
    plan = CutPlan(
        grid=found[0].group.grid if found else job.info.round_to,
        objective=found[0].group.objective if found else "area",
        total=total + labour,
        bound=min(sum((f.priced_bound for f in found), Fraction(0)), total + labour),
        status=_status(total + labour, sum((f.priced_bound for f in found), Fraction(0)), bool(short), run.margin),
        stopped_early=any(f.stopped_early for f in found),
        layouts=sheets,
        stock=use,
        short=short,
        scrap_share=(stock_area - blanks_area - kept) / stock_area if stock_area else 0.0,
        kept_share=kept / stock_area if stock_area else 0.0,
        blanks_area=float(blanks_area),
        stock_area=stock_area,
        rivals=_rivals(found, job.nest.open_stacks),
        program=program,
        metal_total=total,
        labour_total=labour,
        metal_bound=bound,
        spent=minutes.together([*(s for y in sheets for s in y.spent), *settings]),
    )
    return replace(plan, notes=plan_notes(plan, found, job, run))


def _timed(
    found: Sequence[BestOfMetal], sheets: Sequence[Layout], program: ShearProgram | None
) -> tuple[tuple[Layout, ...], tuple[Spent, ...]]:
    """The layouts with the time each takes, and the time of the settings they share."""
    groups = {f.group.metal: f.group for f in found}
    timed = []
    for y in sheets:
        group = groups[y.metal]
        line = group.line(y.stock)
        pounds = line.pounds / (line.width * (1 if line.form == "coil" else line.length))
        timed.append(replace(y, spent=minutes.layout_work(y, group.labour, pounds)))
    return tuple(timed), minutes.program_work(program, found[0].group.labour) if found else ()


def _status(total: Fraction, bound: Fraction, short: bool, margin: Fraction) -> Status:
    if short:
        return "short"
    if total == bound:
        return "proven"
    if bound and total / bound - 1 <= margin:
        return "within_margin"
    return "not_proven"


def _numbered(sheets: Sequence[Layout], after: int) -> tuple[Layout, ...]:
    """Number the offcuts to keep over the whole job, on from those that have a number."""
    numbers = count(after + 1)
    return tuple(
        replace(y, offcuts=tuple(replace(o, number=next(numbers)) if o.keep else o for o in y.offcuts)) for y in sheets
    )


def _made(found: BestOfMetal, mark: str) -> int:
    return sum(y.repeat * sum(b.mark == mark for b in y.blanks) for y in found.layouts)


def _rivals(found: Sequence[BestOfMetal], open_stacks: int | None) -> tuple[Rival, ...]:
    """The rivals of all metals together, priced as the plan is; one that fails on any metal has no total."""
    if not all(f.rivals for f in found):
        return ()
    groups = [f.group for f in found]
    out = []
    for tries in zip(*(f.rivals for f in found), strict=True):
        failed = next((t for t in tries if t.total is None), None)
        outcomes = (failed.outcome,) if failed else tuple(dict.fromkeys(t.outcome for t in tries))
        total = None
        if failed is None:
            total = sum((t.total for t in tries if t.total is not None), Fraction(0))
            total += together_cost(groups, [t.layouts or () for t in tries], open_stacks)
        out.append(Rival(way=tries[0].way, total=total, outcomes=outcomes))
    return tuple(out)
