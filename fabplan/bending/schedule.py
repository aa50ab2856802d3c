"""Bend schedules: the folds of every piece in an order that works, with settings and check sizes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from fabplan.bending.brake import steps as section_steps
from fabplan.bending.brake.bend_order import bend_order
from fabplan.bending.brake.impossible import reasons
from fabplan.bending.brake.mends import Mends, by_hand
from fabplan.bending.brake.section import BendStrip
from fabplan.bending.brake.springback import overbends
from fabplan.bending.brake.taper import section_at, tapered_steps, tapered_strokes
from fabplan.bending.brake.tool import brake_shape
from fabplan.bending.ends import with_ends
from fabplan.bending.errors import BendError
from fabplan.bending.flat import steps as flat_steps
from fabplan.bending.flat.fold_order import fold_order
from fabplan.bending.flat.impossible import explain_flat
from fabplan.bending.minutes import fold_times
from fabplan.bending.model import Bends, BendSchedule, Mend, Unbent
from fabplan.bending.soft import with_soft
from fabplan.bending.tools import Pace, bench
from fabplan.blanks.model import FlatPattern
from fabplan.job.metals import MetalProfile
from fabplan.job.model import Job
from fabplan.units import Show

FLAT_STATES = 30_000  # twenty times what pieces of eight folds and four tools come to


def schedule_all(patterns: Sequence[FlatPattern], job: Job, metals: Mapping[str, MetalProfile]) -> Bends:
    """Schedules of every piece with folds, in order, and what stops the pieces that cannot be folded."""
    done: list[BendSchedule] = []
    failed: list[Unbent] = []
    for pattern in patterns:
        if not pattern.folds:
            continue
        try:
            done.append(schedule_bends(pattern, job, metals))
        except BendError as error:
            failed.append(error.unbent)
    return Bends(schedules=tuple(done), unbent=tuple(failed))


def schedule_bends(pattern: FlatPattern, job: Job, metals: Mapping[str, MetalProfile]) -> BendSchedule:
    """Schedule of one piece.

    Parameters
    ----------
    pattern : FlatPattern
    job : Job
        Its brake, hand tools and batch.
    metals : mapping
        Profile of each metal name.

    Returns
    -------
    BendSchedule
        Least turn-overs, then swaps of ends or rotations, then the rest; `proven` says whether that is proven.

    Raises
    ------
    BendError
        When no order exists: which fold, why, and what would help.
    """
    order = _flat if pattern.section is None else _section
    schedule = with_soft(order(pattern, job, metals), pattern)
    return replace(schedule, times=fold_times(schedule, pattern, job))


def show_of(job: Job) -> Show:
    """Prints sizes as the job does."""
    return Show(job.info.units, job.info.round_to)


def _flat(pattern: FlatPattern, job: Job, metals: Mapping[str, MetalProfile]) -> BendSchedule:
    hands = by_hand(job, pattern.mark)
    problem, found = fold_order(
        [f for f in pattern.folds if f.edge not in hands],
        bench(job, pattern.thickness),
        pattern.thickness,
        outline=pattern.snipped,
        most_states=FLAT_STATES,
        pace=Pace(labour=job.labour, pieces=max(1, min(pattern.count, job.info.batch))),
    )
    if found.cost is None:
        reasons, mends = explain_flat(problem, found, pattern, job, metals)
        raise BendError(pattern.mark, reasons, mends, proven=found.proven)
    bench_ = flat_steps.FlatWork(problem, metals[pattern.metal], job.brake.springback)
    steps = flat_steps.hand_steps(flat_steps.flat_steps(bench_, found.path), pattern.folds, hands)
    return BendSchedule(
        mark=pattern.mark,
        kind="flat",
        steps=steps,
        proven=found.proven,
        states=found.states,
        turn_overs=found.cost[1],
        rotations=found.cost[2],
        tool_changes=found.cost[3],
    )


def _section(pattern: FlatPattern, job: Job, metals: Mapping[str, MetalProfile]) -> BendSchedule:
    """Schedule of a strip: its order on the brake, what is left to the hands, its turned ends."""
    show = show_of(job)
    hands = by_hand(job, pattern.mark)
    strip, shape = BendStrip(pattern, hands), brake_shape(job.brake, pattern.thickness)
    if strip.length > shape.longest_bend + 1e-9:
        raise BendError(
            pattern.mark,
            [f"The strip is {show.length(strip.length)} long, the brake bends {show.length(shape.longest_bend)}."],
            [Mend(says="Make it in shorter strips, lapped.")],
        )
    over = overbends(strip, metals[pattern.metal], job.brake.springback)
    problem, found = bend_order(strip, shape, over, strokes=tapered_strokes(pattern, hands, shape, over))
    if pattern.far and any(t and not h for t, h in zip(problem.strokes.twice, strip.end_hems, strict=True)):
        raise BendError(pattern.mark, ["A tapered strip takes no bend sharper than the leaf goes."], [])
    if found.cost is None:
        blamed, why = reasons(problem, show)
        mends = Mends(pattern, problem, job, metals, show).offered(blamed)
        raise BendError(pattern.mark, why, mends, proven=found.proven)
    bench_ = section_steps.BrakeWork(problem, metals[pattern.metal])
    order = problem.order(found)
    if pattern.far:
        steps = tapered_steps(problem, BendStrip(section_at(pattern, 1.0), hands), metals[pattern.metal], order)
    else:
        steps = section_steps.section_steps(bench_, order)
    far = section_at(pattern, 1.0) if pattern.far else None
    steps = section_steps.hand_steps(bench_, steps, pattern, hands, far)
    steps, turned_over, swapped = with_ends(steps, pattern, job, metals)
    return BendSchedule(
        mark=pattern.mark,
        kind="section",
        steps=steps,
        proven=found.proven,
        states=found.states,
        turn_overs=found.cost[0] + turned_over,
        rotations=0,
        tool_changes=0,
        turn_arounds=found.cost[2] + swapped,
        end_loadings=found.cost[3],
        brake=shape.drawing(),
    )
