"""The cut plan of a whole job: every way of nesting tried, the cheapest kept and proved.

Work is counted, not timed: effort and seed fix what is tried, so the same job gives the same plan. `seconds` and
`should_stop` only cut it short; the best plan so far is then returned.
"""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from fabplan.blanks.model import FlatPattern
from fabplan.errors import ProofError
from fabplan.job.metals import MetalProfile
from fabplan.job.model import Job, Stock
from fabplan.nesting import bridge, layouts, rivals
from fabplan.nesting.bound import area_bound
from fabplan.nesting.check import check_plan
from fabplan.nesting.cuts import NotCuttableError
from fabplan.nesting.engine import solve as engine
from fabplan.nesting.engine.problem import Options
from fabplan.nesting.model import CutPlan, Layout, Rival, Status
from fabplan.nesting.pieces import Option, rectangle, strip_options
from fabplan.nesting.problem import Blank, Group, NoRoomError, build_groups
from fabplan.nesting.program import shear_program
from fabplan.nesting.rivals import Piece, Tried

Progress = Callable[[Fraction | None, Fraction, float | None], None]
RIVAL_WORK = 30_000  # rectangles placed by the rectangle packer at effort 1


@dataclass(slots=True)
class Run:
    """What the caller allows: effort, seed, a deadline, callbacks."""

    effort: float
    seed: int
    margin: Fraction
    fewer_setups: Fraction
    offcut_credit: Fraction
    pair: bool
    deadline: float | None = None
    progress: Progress | None = None
    should_stop: Callable[[], bool] | None = None

    def stopped(self) -> bool:
        """Whether time is up or the caller wants to stop."""
        late = self.deadline is not None and time.monotonic() >= self.deadline
        return late or (self.should_stop is not None and self.should_stop())

    def seconds_left(self) -> float | None:
        """Seconds to the deadline, None when there is none."""
        return None if self.deadline is None else max(0.0, self.deadline - time.monotonic())


@dataclass(slots=True)
class Found:
    """The best plan of one metal so far."""

    group: Group
    layouts: tuple[Layout, ...] = ()
    total: Fraction | None = None
    bound: Fraction = Fraction(0)
    short: tuple[tuple[str, int], ...] = ()
    rivals: tuple[Tried, ...] = ()
    notes: list[str] = field(default_factory=list)
    stopped_early: bool = False


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
    groups = build_groups(patterns, job, metals, rack=rack)
    run = Run(
        effort=job.nest.effort if effort is None else effort,
        seed=job.nest.seed if seed is None else seed,
        margin=Fraction(job.nest.margin),
        fewer_setups=Fraction(job.nest.fewer_setups),
        offcut_credit=Fraction(job.nest.offcut_credit),
        pair=job.nest.pair,
        progress=progress,
        should_stop=should_stop,
    )
    end = None if seconds is None else time.monotonic() + seconds
    found = []
    for n, group in enumerate(groups):
        _require_room(group, run)
        if end is not None:  # the time left, shared over the metals still to do
            now = time.monotonic()
            run.deadline = now + max(0.0, end - now) / (len(groups) - n)
        found.append(nest_group(group, run))
    plan = assemble(found, job, run)
    faults = check_plan(plan, patterns, job, metals, rack=rack)
    if faults:
        raise ProofError("cut plan", faults)
    return plan


def nest_group(group: Group, run: Run) -> Found:
    """The best plan for the blanks of one metal."""
    pieces = [p for b in group.blanks for p in _choices(b, group, run)[0].pieces]
    found = Found(group=group, bound=area_bound(group))
    work = max(0, round(RIVAL_WORK * run.effort))
    tries = (rivals.best_rectpack(group, pieces, work=work), rivals.pencil_plan(group, pieces))
    found.rivals = tries
    for t in tries:
        if t.total is not None and t.layouts is not None and (found.total is None or t.total < found.total):
            found.layouts, found.total = t.layouts, t.total
    _engine(found, group, pieces, run)
    if found.total is None:
        found.short = tuple((b.mark, b.count) for b in group.blanks)
        found.total = Fraction(0)
    return found


def _choices(blank: Blank, group: Group, run: Run) -> list[Option]:
    if blank.outline is None:
        return [Option(mark=blank.mark, strip=1, pieces=(rectangle(blank),), score=0.0)]
    return strip_options(blank, group, pair=run.pair)


def _engine(found: Found, group: Group, pieces: Sequence[Piece], run: Run) -> None:
    """The engine's plan, taken when it beats what is there and can be cut."""
    problem = bridge.engine_problem(group, pieces)
    options = Options(
        effort=run.effort,
        seed=run.seed,
        seconds=run.seconds_left(),
        margin=run.margin,
        fewer_setups=run.fewer_setups,
        credit=bridge.credit(group, run.offcut_credit),
        progress=run.progress,
        should_stop=run.stopped,
    )
    try:
        answer = engine.solve(problem, options)
    except NotImplementedError:
        return
    drafts = bridge.drafts(answer.patterns, group, pieces)
    try:
        made = tuple(layouts.finish(d, group) for d in drafts)
    except NotCuttableError:
        return
    found.bound = max(found.bound, answer.bound)
    total = layouts.cost(group, made)
    if found.total is None or (not answer.short and total < found.total):
        found.layouts, found.total = made, total
        found.short = _short(group, made)
    found.stopped_early |= answer.stopped_early


def _short(group: Group, made: Sequence[Layout]) -> tuple[tuple[str, int], ...]:
    have = Counter[str]()
    for layout in made:
        for b in layout.blanks:
            have[b.mark] += layout.repeat
    return tuple((b.mark, b.count - have[b.mark]) for b in group.blanks if have[b.mark] < b.count)


def _require_room(group: Group, run: Run) -> None:
    """Refuse a job with a blank that fits on no stock, saying why."""
    lost: list[tuple[Blank, bool]] = []
    for blank in group.blanks:
        fits = cuts = False
        for option in reversed(_choices(blank, replace_count(group, blank), run)):
            piece = option.pieces[0]
            for line in group.stock:
                for turned in piece.ways(line):
                    w, h = (piece.length, piece.width) if turned else (piece.width, piece.length)
                    if w > line.usable_width or h > line.usable_length:
                        continue
                    fits = True
                    end = 0 if line.form == "coil" else line.trim
                    length = h if line.form == "coil" else line.length
                    draft = layouts.Draft(stock=line.name, length=length, cells=(piece.make(line.trim, end, turned),))
                    try:
                        layouts.finish(draft, group)
                    except NotCuttableError:
                        continue
                    cuts = True
                    break
                if cuts:
                    break
            if cuts:
                break
        if not cuts:
            lost.append((blank, fits))
    if not lost:
        return
    marks = [b.mark for b, _ in lost]
    blank, fits = lost[0]
    inch = blank.width * group.grid / 25_400_000, blank.length * group.grid / 25_400_000
    size = f"{inch[0]:.5g} x {inch[1]:.5g} in"
    if fits:
        what = f'Blank "{blank.mark}" ({size}) fits the stock, but this shear cannot cut it out.'
        help_ = "Check longest_cut, back_gauge_reach and least_held in [shear]."
    else:
        what = f'Blank "{blank.mark}" ({size}) fits on no stock of {group.metal}.'
        help_ = "Add wider or longer stock, let the blank turn, or split the piece."
    if len(marks) > 1:
        what += f" So do {len(marks) - 1} more: {', '.join(marks[1:6])}."
    raise NoRoomError(what, help_=help_, marks=marks)


def replace_count(group: Group, blank: Blank) -> Group:
    """The group with one blank only."""
    return replace(group, blanks=(blank,))


def assemble(found: Sequence[Found], job: Job, run: Run) -> CutPlan:
    """One cut plan from the plans of the metals."""
    total = sum((f.total or Fraction(0) for f in found), Fraction(0))
    bound = min(total, sum((f.bound for f in found), Fraction(0)))
    short = tuple(s for f in found for s in f.short)
    use = tuple(u for f in found for u in layouts.stock_use(f.group, f.layouts))
    blanks_area = sum(b.area * _made(f, b.mark) for f in found for b in f.group.blanks)
    stock_area = float(sum(u.area for u in use))
    kept = float(sum(y.repeat * o.width * o.length for f in found for y in f.layouts for o in y.offcuts if o.keep))
    gap = None if bound == 0 else total / bound - 1
    status: Status = "not_proven"
    if short:
        status = "short"
    elif total == bound:
        status = "proven"
    elif gap is not None and gap <= run.margin:
        status = "within_margin"
    order = {s.name: (s.form != "offcut", n) for f in found for n, s in enumerate(f.group.stock)}
    sheets = tuple(y for f in found for y in sorted(f.layouts, key=lambda y: (order[y.stock], -y.length, -y.repeat)))
    program = shear_program(sheets, found[0].group.limits.kerf, job.nest.open_stacks) if found else None
    return CutPlan(
        grid=found[0].group.grid if found else job.info.round_to,
        objective=found[0].group.objective if found else "area",
        total=total,
        bound=bound,
        status=status,
        stopped_early=any(f.stopped_early for f in found),
        layouts=sheets,
        stock=use,
        short=short,
        scrap_share=(stock_area - blanks_area - kept) / stock_area if stock_area else 0.0,
        kept_share=kept / stock_area if stock_area else 0.0,
        blanks_area=float(blanks_area),
        stock_area=stock_area,
        rivals=_rivals(found),
        program=program,
        notes=tuple(note for f in found for note in f.notes),
    )


def _made(found: Found, mark: str) -> int:
    return sum(y.repeat * sum(b.mark == mark for b in y.blanks) for y in found.layouts)


def _rivals(found: Sequence[Found]) -> tuple[Rival, ...]:
    out = []
    for tries in zip(*(f.rivals for f in found), strict=True):
        totals = [t.total for t in tries]
        failed = next((t for t in tries if t.total is None), None)
        whole = None if failed else sum((t for t in totals if t is not None), Fraction(0))
        says = failed.says if failed else "; ".join(dict.fromkeys(t.says for t in tries))
        out.append(Rival(name=tries[0].name, total=whole, says=says))
    return tuple(out)
