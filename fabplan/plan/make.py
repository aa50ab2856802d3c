"""Run the stages in order; nothing leaves a stage before its checker has re-proved it."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import Any, Literal

from fabplan.bending.model import Bends
from fabplan.blanks.model import FlatPattern
from fabplan.errors import ProofError
from fabplan.job.metals import MetalProfile, load_metal
from fabplan.job.model import Job, Piece, Stock
from fabplan.nesting.model import CutPlan, Layout
from fabplan.nesting.remarks import Uncut
from fabplan.plan.buy import buying_list
from fabplan.plan.check_buy import check_buy
from fabplan.plan.check_handling import check_handling
from fabplan.plan.check_hours import check_hours
from fabplan.plan.check_setups import check_setups
from fabplan.plan.handling import lifts
from fabplan.plan.hours import rounds_of, station_times
from fabplan.plan.model import Plan
from fabplan.roof.model import RoofPlan
from fabplan.workers import Hands, Here

Progress = Callable[[Fraction | None, Fraction, float | None], None]
LEAST_GAIN = Fraction(1, 500)  # of the whole cost: less is not worth blanks of another size
Stage = Literal["pieces", "folds", "cut plan", "proof"]
Offers = Callable[["Pieces"], Sequence[Stock]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pieces:
    """First stages of a plan: metals, patterns and the roof they were counted on.

    `whole` are the patterns of the job's own pieces, `parts` those of cut shapes with blanks of their own; `job` is the
    job with the lengths of edge metal chosen for its roof.
    """

    metals: Mapping[str, MetalProfile]
    whole: tuple[FlatPattern, ...]
    parts: tuple[FlatPattern, ...] = ()
    roof: RoofPlan | None
    job: Job

    @property
    def patterns(self) -> tuple[FlatPattern, ...]:
        """Every pattern that is cut."""
        return (*self.whole, *self.parts)

    def without(self, marks: Collection[str]) -> Pieces:
        """The same without the patterns of these marks."""
        whole, parts = (tuple(p for p in some if p.mark not in marks) for some in (self.whole, self.parts))
        return replace(self, whole=whole, parts=parts)


def metals_of(job: Job) -> dict[str, MetalProfile]:
    """Every metal profile a job names, by the name the job uses."""
    names = [job.metal.use]
    names += [p.metal for p in job.pieces if p.metal]
    names += [s.metal for s in job.stock if s.metal]
    base = Path(job.file).parent if job.file else None
    return {name: load_metal(name, base=base) for name in dict.fromkeys(names)}


def proven(stage: str, faults: Sequence[str]) -> None:
    """Raise `ProofError` when a checker found faults."""
    if faults:
        raise ProofError(stage, faults)


def make_pieces(job: Job) -> Pieces:
    """Counts and flat patterns of a job, checked.

    Raises
    ------
    JobError, PlanError
        A piece that cannot be made as asked.
    ProofError
        A result that failed its own check.
    """
    pieces = _counted(job)
    prove_pieces(pieces.job, pieces)
    return pieces


def _counted(job: Job) -> Pieces:
    """Counts and flat patterns of a job, not yet checked."""
    from fabplan.blanks.develop import develop

    metals = metals_of(job)
    asked = job.pieces
    job = _without_made_up(job)
    if job.slopes:
        from fabplan.roof.extras.roof_bends import with_roof_bends

        job = with_roof_bends(job)
    patterns = develop(job, metals)
    if job.slopes and job.roof.cut_pieces == "cheaper":
        from fabplan.plan.cheaper import with_cheaper_way

        job = with_cheaper_way(job, patterns, metals)
    roof: RoofPlan | None = None
    parts: tuple[FlatPattern, ...] = ()
    if job.slopes:
        from fabplan.plan.cheaper import worth_of
        from fabplan.roof.extras.caps import refuse_wrong_caps
        from fabplan.roof.extras.lengths import with_lengths
        from fabplan.roof.parts.ways import with_ways
        from fabplan.roof.plan import plan_roof

        roof = plan_roof(job, patterns)
        refuse_wrong_caps(roof, job)
        job = with_lengths(job, roof.edge_lengths)
        job = _made_up(job, asked, roof)
        patterns, parts, roof = _parted(job, metals, roof)
        roof = with_ways(roof, job, patterns, worth_of(job, patterns, metals))
    elif job.pieces != asked:
        job = _made_up(job, asked, None)
        patterns = develop(job, metals)
    whole, parts = still_to_cut(patterns, job), still_to_cut(parts, job)
    return Pieces(metals=metals, whole=whole, parts=parts, roof=roof, job=job)


def _without_made_up(job: Job) -> Job:
    from fabplan.roof.extras.made_up import without_made_up

    return without_made_up(job)


def _made_up(job: Job, asked: Sequence[Piece], roof: RoofPlan | None) -> Job:
    """The job with the pieces that caps over a point and flashings of openings are made of, checked."""
    from fabplan.roof.check.made_up import check_made_up
    from fabplan.roof.extras.made_up import MADE_UP, with_made_up

    if not any(isinstance(p, MADE_UP) for p in asked):
        return job
    made = with_made_up(job, asked, roof)
    proven("caps and opening sets", check_made_up(asked, made, roof))
    return made


def still_to_cut(patterns: Sequence[FlatPattern], job: Job) -> tuple[FlatPattern, ...]:
    """The patterns less the blanks that are there already; spares are cut last."""
    there = job.done.pieces
    left = [(p, max(0, p.count - there.get(p.mark, 0))) for p in patterns]
    return tuple(replace(p, count=n, spare=min(p.spare, n)) if n < p.count else p for p, n in left)


def prove_pieces(job: Job, pieces: Pieces) -> None:
    """Check the counts and patterns of a job.

    Raises
    ------
    ProofError
    """
    from fabplan.blanks.check.patterns import check_patterns

    if pieces.roof is not None:
        from fabplan.roof.check.whole import check_roof

        proven("roof layout", check_roof(pieces.roof, job, pieces.whole))
    proven("flat patterns", check_patterns(pieces.whole, job, pieces.metals))
    if pieces.roof is not None and pieces.parts:
        from fabplan.roof.check.parts import check_part_blanks

        proven("part blanks", check_part_blanks(pieces.patterns, pieces.roof, job, pieces.metals))


def _parted(
    job: Job, metals: Mapping[str, MetalProfile], roof: RoofPlan
) -> tuple[tuple[FlatPattern, ...], tuple[FlatPattern, ...], RoofPlan]:
    """Patterns with their counts, part blanks and roof: cut shapes from blanks of their own where that costs less."""
    from fabplan.blanks.develop import develop
    from fabplan.roof.parts.part_sizes import part_patterns, with_part_sizes

    patterns = develop(job, metals, counts=dict(roof.counts))
    asked = job.done.part_blanks
    sized = with_part_sizes(roof, job, patterns) if job.stock and asked is not False else roof
    if not sized.part_sizes:
        return patterns, (), roof
    from fabplan.nesting.search.weigh import weigh

    fewer = develop(job, metals, counts=dict(sized.counts))
    parts = part_patterns(sized, job, fewer, metals)
    if asked:
        return fewer, parts, sized
    touched = {p.metal for p in parts}
    cost = weigh([p for p in (*fewer, *parts) if p.metal in touched], job, metals)
    if cost is None:  # short of stock: what saves metal saves it all the more
        job = job.model_copy(update={"stock": tuple(_endless(line) for line in job.stock)})
        cost = weigh([p for p in (*fewer, *parts) if p.metal in touched], job, metals)
    whole = None if cost is None else weigh([p for p in patterns if p.metal in touched], job, metals)
    if cost is None or (whole is not None and cost > whole * (1 - LEAST_GAIN)):
        return patterns, (), roof
    return fewer, parts, sized


def _endless(line: Stock) -> Stock:
    """A coil or sheet with as much of it as needed."""
    return line if line.form == "offcut" else line.model_copy(update={"on_hand": None})


def with_rack(job: Job, pieces: Pieces, offers: Offers | None) -> Job:
    """The job with the rack's offcuts among its stock, and what the rack says of its own lines in their place."""
    return job.model_copy(update={"stock": in_place(job.stock, offers(pieces))}) if offers else job


def in_place(own: Sequence[Stock], offered: Sequence[Stock]) -> tuple[Stock, ...]:
    """Stock lines with others of the same name in their place, the rest after them."""
    by_name = {line.name: line for line in offered}
    names = {line.name for line in own}
    return (*(by_name.get(line.name, line) for line in own), *(line for line in offered if line.name not in names))


def make_nest(
    job: Job,
    pieces: Pieces,
    *,
    effort: float | None = None,
    seed: int | None = None,
    seconds: float | None = None,
    progress: Progress | None = None,
    should_stop: Callable[[], bool] | None = None,
    hands: Hands | None = None,
    meanwhile: Callable[[], None] | None = None,
    given: Sequence[Sequence[Layout]] = (),
) -> CutPlan | None:
    """Cut plan of the pieces, checked; None when the job lists no stock."""
    if not job.stock:
        if meanwhile is not None:
            meanwhile()
        return None
    from fabplan.nesting.nest import nest
    from fabplan.plan.coils import nest_on_whole_coils

    def nested(some: Job) -> CutPlan:
        return nest(  # nest() returns only what its own checker has passed
            pieces.patterns,
            some,
            pieces.metals,
            effort=job.nest.search_effort if effort is None else effort,
            seed=job.nest.try_again if seed is None else seed,
            seconds=seconds,
            progress=progress,
            should_stop=should_stop,
            hands=hands,
            meanwhile=meanwhile,
            given=given,
        )

    return nest_on_whole_coils(job, pieces.metals, pieces.patterns, nested)


def to_fold(p: FlatPattern, job: Job) -> int:
    """Blanks of a pattern still to snip and fold: those to cut, and those that lie cut."""
    return p.count + job.done.unfolded.get(p.mark, 0)


def uncut_blanks(job: Job, pieces: Pieces) -> tuple[Uncut, ...]:
    """Blanks that cannot be cut from the job's stock; the others are planned."""
    if not job.stock:
        return ()
    from fabplan.nesting.search.limits import what_cannot_be_cut

    return what_cannot_be_cut(pieces.patterns, job, pieces.metals)


def make_bends(job: Job, pieces: Pieces, *, mark: str | None = None) -> Bends:
    """Bend schedules of all pieces to make that have folds (or of one mark), checked, and what stops the others."""
    from fabplan.bending.check.whole import check_schedules
    from fabplan.bending.schedule import schedule_all

    chosen = tuple(p for p in pieces.patterns if (to_fold(p, job) if mark is None else p.mark == mark))
    bends = schedule_all(chosen, job, pieces.metals)
    unbent = [u.mark for u in bends.unbent]
    proven("bend schedule", check_schedules(bends.schedules, chosen, job, pieces.metals, unbent))
    return bends


def make_plan(
    job: Job,
    *,
    offers: Offers | None = None,
    hands: Hands | None = None,
    should_stop: Callable[[], bool] | None = None,
    include_unbent: bool = False,
    cut_elsewhere: bool = False,
    tell: Callable[[Stage], None] | None = None,
    **nest_options: Any,
) -> Plan:
    """The whole plan of a job, every stage checked.

    Parameters
    ----------
    job : Job
    offers : callable, optional
        Given the pieces, the offcuts of a rack as stock lines; the plan's job then lists them too.
    hands : Hands, optional
        Who folds, and checks the pieces, beside the nest; the plan is the same without.
    should_stop : callable, optional
        As for `make_nest`.
    include_unbent : bool
        Cut, buy and count the blanks of pieces that cannot be folded, too.
    cut_elsewhere : bool
        Its blanks are cut in a run for several jobs: nothing is nested or bought here.
    tell : callable, optional
        Told of every stage as it begins.
    **nest_options
        `effort`, `seed`, `seconds`, `progress`, as for `make_nest`.
    """
    hands = hands or Here()
    tell = tell or (lambda _stage: None)
    tell("pieces")
    pieces = _counted(job)
    job = with_rack(pieces.job, pieces, offers)
    proof = hands.start(prove_pieces, job, pieces)
    uncut = uncut_blanks(job, pieces)
    lost = {u.mark for u in uncut}
    tell("folds")
    bends = make_bends(job, pieces.without(lost))  # before the nest: what cannot be bent is not cut
    if not include_unbent:
        lost |= {u.mark for u in bends.unbent}
    cut, left_out = pieces, tuple(p for p in pieces.patterns if p.mark in lost)
    if left_out:
        cut = pieces.without({p.mark for p in left_out})

    def stop() -> bool:
        return (proof.done() and proof.exception() is not None) or (should_stop is not None and should_stop())

    cut_plan = None
    if cut.patterns and not cut_elsewhere:
        tell("cut plan")
        cut_plan = make_nest(job, cut, hands=hands, should_stop=stop, **nest_options)
    tell("proof")
    proof.result()
    plan = Plan(
        job=job,
        metals=pieces.metals,
        patterns=cut.patterns,
        cut_plan=cut_plan,
        schedules=bends.schedules,
        unbent=bends.unbent,
        uncut=uncut,
        left_out=left_out,
        roof=pieces.roof,
    )
    if cut_plan is not None and cut_plan.short:
        from fabplan.plan.short import to_buy

        asked = {key: value for key, value in nest_options.items() if key in ("effort", "seed", "seconds")}
        plan = replace(plan, lacking=to_buy(job, cut.patterns, pieces.metals, **asked))
    rounds = rounds_of(job, plan.patterns, plan.schedules)
    hours = station_times(job, plan.patterns, plan.cut_plan, plan.schedules, plan.roof, rounds)
    plan = replace(plan, buy=buying_list(plan), lifts=lifts(plan), hours=hours, setups=rounds)
    proven("buying list", check_buy(plan.buy, cut_plan, job, plan.metals))
    proven("weights", check_handling(plan.lifts, cut_plan, plan.patterns, plan.roof, job, plan.metals))
    proven("set-ups", check_setups(plan))
    proven("hours", check_hours(plan))
    return plan
