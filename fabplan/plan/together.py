"""Several jobs nested together: one shear run, each job's own plan, and what each pays."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

from fabplan import plane
from fabplan.blanks.model import FlatPattern
from fabplan.errors import JobError
from fabplan.job.kinds import Piece
from fabplan.job.metals import MetalProfile
from fabplan.job.model import Done, Job, Stock
from fabplan.plan.apart import one_by_one
from fabplan.plan.buy import buying_list, money
from fabplan.plan.check_buy import check_buy
from fabplan.plan.check_handling import check_handling
from fabplan.plan.check_hours import check_hours
from fabplan.plan.check_shares import check_shares
from fabplan.plan.handling import lifts
from fabplan.plan.hours import station_times
from fabplan.plan.make import Offers, Pieces, make_nest, make_plan, proven, with_rack
from fabplan.plan.model import CutElsewhere, JobShare, Plan
from fabplan.plan.shares import run_mark, shares_of
from fabplan.plan.short import to_buy

MOST_JOBS = 12
SAME = ("shear", "nest", "labour", "handling")
SAME_INFO = ("units", "round_to", "currency", "keep_at_least", "scrap_price", "paper")


@dataclass(frozen=True, slots=True, kw_only=True)
class Together:
    """A shear run for several jobs, and the plan of each without its cutting.

    `apart` is what each job would cost cut one after the other, where the stock holds them so.
    """

    run: Plan
    plans: tuple[Plan, ...]
    apart: tuple[Fraction, ...] = ()


def plan_together(
    jobs: Sequence[Job], *, offers: Offers | None = None, include_unbent: bool = False, **nest_options: Any
) -> Together:
    """Plan several jobs whose blanks are cut in one run; every result checked.

    The jobs planned one after the other on the same stock are candidates, so that the run costs no more than they.

    Parameters
    ----------
    jobs : sequence of Job
        With the same shear, times and nest; a stock line of one name is the same metal in all of them.
    offers, include_unbent, **nest_options
        As for `make_plan`.

    Raises
    ------
    JobError
        The jobs cannot be cut in one run; the fault names what differs.
    """
    refuse_unlike(jobs)
    alone = [make_plan(job, include_unbent=include_unbent, cut_elsewhere=True) for job in jobs]
    job, pieces = run_of([p.job for p in alone], [p.patterns for p in alone], [p.metals for p in alone])
    job = with_rack(job, pieces, offers)
    clock = nest_options.get("seconds")
    if clock is not None:  # shared by the jobs one by one and the run
        nest_options["seconds"] = clock / (len(jobs) + 1)
    apart = None
    if pieces.patterns and job.stock:
        runs = [run_of([p.job], [p.patterns], [p.metals]) for p in alone]
        apart = one_by_one(runs, job.stock, **nest_options)
    given = () if apart is None else (apart.layouts,)
    cut_plan = make_nest(job, pieces, given=given, **nest_options) if pieces.patterns else None
    if cut_plan is None:
        raise JobError(
            "the jobs have no stock, or nothing to cut", file=jobs[0].file, write="[[stock]] in the shop file"
        )
    cut_plan = replace(cut_plan, time_limit=clock)
    numbers = tuple(j.info.number for j in jobs)
    owner = {run_mark(p.job.info.number, q.mark): p.job.info.number for p in alone for q in p.patterns}
    run = Plan(
        job=job,
        metals=pieces.metals,
        patterns=pieces.patterns,
        cut_plan=cut_plan,
        schedules=(),
        shares=shares_of(cut_plan, numbers, owner),
    )
    if cut_plan.short:
        asked = {key: value for key, value in nest_options.items() if key in ("effort", "seed", "seconds")}
        run = replace(run, lacking=to_buy(job, pieces.patterns, pieces.metals, **asked))
    hours = station_times(job, run.patterns, cut_plan, (), None)
    run = replace(run, buy=buying_list(run), lifts=lifts(run), hours=hours)
    prove_run(run, numbers)
    shares = {s.number: s for s in run.shares}
    same = apart is not None and apart.objective == cut_plan.objective
    return Together(
        run=run,
        plans=tuple(replace(p, cut_in=pays(shares[p.job.info.number], run)) for p in alone),
        apart=apart.totals if apart is not None and same else (),
    )


def prove_run(run: Plan, numbers: tuple[str, ...]) -> None:
    """Check what follows from a run's cut plan, and its shares.

    Raises
    ------
    ProofError
    """
    assert run.cut_plan is not None
    proven("buying list", check_buy(run.buy, run.cut_plan, run.job, run.metals))
    proven("weights", check_handling(run.lifts, run.cut_plan, run.patterns, None, run.job, run.metals))
    proven("hours", check_hours(run))
    proven("shares", check_shares(run.shares, run.cut_plan, numbers))


def pays(share: JobShare, run: Plan) -> CutElsewhere:
    """What a job's own papers say of the run."""
    priced = run.cut_plan is not None and run.cut_plan.objective == "money"
    return CutElsewhere(
        run=run.job.info.number,
        layouts=share.layouts,
        metal=money(share.metal) if priced else None,
        labour=money(share.labour) if priced else None,
        seconds=round(share.seconds, 2),
        pounds=share.pounds,
    )


def run_number(jobs: Sequence[Job]) -> str:
    """Number of a run: ``1042+1043``, or ``1042 and 5 more`` where that is too long."""
    numbers = [j.info.number for j in jobs]
    text = "+".join(numbers)
    return text if len(text) <= 60 else f"{numbers[0][:40]} and {len(numbers) - 1} more"


def run_of(jobs: Sequence[Job], patterns: Sequence[Sequence[FlatPattern]], metals: Sequence[Any]) -> tuple[Job, Pieces]:
    """The run as a job, and its blanks as they leave the shear, each mark with its job's number before it."""
    profiles: dict[str, MetalProfile] = {}
    for job, own in zip(jobs, metals, strict=True):
        for name, profile in own.items():
            if profiles.setdefault(name, profile) != profile:
                raise _unlike(job, f'metal "{name}"', "is another metal in", jobs[0])
    first = jobs[0]
    info = first.info.model_copy(
        update={"number": run_number(jobs), "name": f"Shear run for {len(jobs)} jobs"[:60], "revision": "", "date": ""}
    )
    made: list[Piece] = []
    for job in jobs:
        for piece in job.pieces:
            names = {"mark": run_mark(job.info.number, piece.mark), "metal": piece.metal or job.metal.use}
            if hasattr(piece, "for_"):
                names["for_"] = run_mark(job.info.number, piece.for_)
            made.append(piece.model_copy(update=names))
    run = first.model_copy(
        update={
            "info": info,
            "pieces": tuple(made),
            "stock": shared_stock(jobs),
            "slopes": (),
            "done": Done(),
            "laid": (),
        }
    )
    whole = tuple(
        _unfolded(p, run_mark(job.info.number, p.mark), profiles[p.metal])
        for job, own in zip(jobs, patterns, strict=True)
        for p in own
    )
    return run, Pieces(metals=profiles, whole=whole, roof=None, job=run)


def _unfolded(p: FlatPattern, mark: str, metal: MetalProfile) -> FlatPattern:
    """A blank as it leaves the shear, neither snipped nor folded."""
    return replace(
        p, mark=mark, folds=(), notches=(), snipped=p.outline, section=None, notes=(),
        weight=abs(plane.area(p.outline)) / 144 * metal.weight,
    )  # fmt: skip


def shared_stock(jobs: Sequence[Job]) -> tuple[Stock, ...]:
    """Stock of all the jobs, each line once: one name is one metal, however many jobs list it.

    Raises
    ------
    JobError
        A line differs between two jobs.
    """
    lines: dict[str, tuple[Stock, Job]] = {}
    for job in jobs:
        for line in job.stock:
            full = line.model_copy(update={"metal": line.metal or job.metal.use})
            same, other = lines.setdefault(line.name.casefold(), (full, job))
            if same != full:
                raise _unlike(job, f'stock "{line.name}"', "is not as in", other)
    return tuple(line for line, _ in lines.values())


def refuse_unlike(jobs: Sequence[Job]) -> None:
    """Refuse jobs that cannot be cut in one run.

    Raises
    ------
    JobError
    """
    first = jobs[0]
    if len(jobs) > MOST_JOBS:
        raise JobError(f"{MOST_JOBS} jobs at most are planned together", key="JOB", value=str(len(jobs)), write="fewer")
    for number, times in Counter(j.info.number for j in jobs).items():
        if times > 1:
            raise JobError("two jobs have one number", key="job > number", value=number, write="another number")
    for job in jobs[1:]:
        for key in SAME_INFO:
            if getattr(job.info, key) != getattr(first.info, key):
                raise _unlike(job, f"job > {key}", "is not as in", first)
        for key in SAME:
            if getattr(job, key) != getattr(first, key):
                raise _unlike(job, f"[{key}]", "is not as in", first)


def _unlike(job: Job, key: str, rule: str, other: Job) -> JobError:
    return JobError(
        f"{rule} {other.file}, and both are cut in one run", file=job.file, key=key,
        write="it once, in a shop file that both jobs name",
    )  # fmt: skip
