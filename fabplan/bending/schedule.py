"""Bend schedules: the folds of every piece in an order that works, with settings and check sizes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from fabplan.bending.brake import steps as section_steps
from fabplan.bending.brake.bend_order import bend_order
from fabplan.bending.brake.impossible import explain_section
from fabplan.bending.brake.section import Strip
from fabplan.bending.brake.tool import brake_shape
from fabplan.bending.errors import BendError, BendErrors
from fabplan.bending.flat import steps as flat_steps
from fabplan.bending.flat.fold_order import fold_order
from fabplan.bending.flat.impossible import explain_flat
from fabplan.bending.model import BendSchedule
from fabplan.bending.tools import bench
from fabplan.blanks.model import FlatPattern
from fabplan.job.metals import MetalProfile
from fabplan.job.model import Job
from fabplan.units import Show

FLAT_STATES = 30_000  # twenty times what pieces of eight folds and four tools come to


def schedule_all(
    patterns: Sequence[FlatPattern], job: Job, metals: Mapping[str, MetalProfile]
) -> tuple[BendSchedule, ...]:
    """Schedules of every piece with folds, in order.

    Raises
    ------
    BendError
        With the reasons of every piece that cannot be folded.
    """
    done: list[BendSchedule] = []
    failed: list[BendError] = []
    for pattern in patterns:
        if not pattern.folds:
            continue
        try:
            done.append(schedule_bends(pattern, job, metals))
        except BendError as error:
            failed.append(error)
    if len(failed) == 1:
        raise failed[0]
    if failed:
        raise BendErrors(failed)
    return tuple(done)


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
    if pattern.section is not None:
        return _section(pattern, job, metals[pattern.metal])
    return _flat(pattern, job, metals[pattern.metal])


def show_of(job: Job) -> Show:
    """Prints sizes as the job does."""
    return Show(job.info.units, job.info.round_to)


def _flat(pattern: FlatPattern, job: Job, metal: MetalProfile) -> BendSchedule:
    show = show_of(job)
    problem, found = fold_order(
        pattern.folds,
        bench(job, pattern.thickness),
        pattern.thickness,
        outline=pattern.snipped,
        most_states=FLAT_STATES,
    )
    if found.cost is None:
        reasons, helps = explain_flat(problem, found, show)
        raise BendError(pattern.mark, reasons, helps, proven=found.proven)
    steps = flat_steps.flat_steps(flat_steps.Bench(problem, metal, job.brake.springback), found.path)
    return BendSchedule(
        mark=pattern.mark,
        kind="flat",
        steps=steps,
        proven=found.proven,
        states=found.states,
        turn_overs=found.cost[0],
        rotations=found.cost[1],
        tool_changes=found.cost[2],
    )


def _section(pattern: FlatPattern, job: Job, metal: MetalProfile) -> BendSchedule:
    show = show_of(job)
    strip, shape = Strip(pattern), brake_shape(job.brake, pattern.thickness)
    if strip.length > shape.longest_bend + 1e-9:
        raise BendError(
            pattern.mark,
            [f"The strip is {show.length(strip.length)} long, the brake bends {show.length(shape.longest_bend)}."],
            ["Make it in shorter strips, lapped."],
        )
    problem, found = bend_order(strip, shape, job.brake.springback)
    if found.cost is None:
        reasons, helps = explain_section(pattern, problem, job, show)
        raise BendError(pattern.mark, reasons, helps, proven=found.proven)
    steps = section_steps.section_steps(section_steps.Bench(problem, metal), problem.order(found))
    return BendSchedule(
        mark=pattern.mark,
        kind="section",
        steps=steps,
        proven=found.proven,
        states=found.states,
        turn_overs=found.cost[0],
        rotations=0,
        tool_changes=0,
        turn_arounds=found.cost[1],
        end_loadings=found.cost[2],
        brake=shape.drawing(),
    )
