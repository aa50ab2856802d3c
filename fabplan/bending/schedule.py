"""Bend schedules: the folds of every piece in an order that works, with settings and check sizes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from fabplan.bending.brake import steps as section_steps
from fabplan.bending.brake.bend_order import bend_order
from fabplan.bending.brake.impossible import explain_section
from fabplan.bending.brake.section import Strip
from fabplan.bending.brake.springback import metal_springback
from fabplan.bending.brake.tool import assumed_words, brake_shape
from fabplan.bending.errors import BendError, BendErrors
from fabplan.bending.flat import steps as flat_steps
from fabplan.bending.flat.fold_order import fold_order
from fabplan.bending.flat.impossible import explain_flat
from fabplan.bending.model import BendSchedule, Step
from fabplan.bending.tools import LEAF_BRAKE, bench
from fabplan.bending.words import join
from fabplan.blanks.model import FlatPattern
from fabplan.job.metals import MetalProfile
from fabplan.job.model import Job
from fabplan.units import Show

WIDE_GAP = 1 / 4 + 1e-6  # inches: above it a hem is more than a doubled edge
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
    steps = flat_steps.flat_steps(flat_steps.Bench(problem, metal, job.brake.springback, show), found.path)
    used = {s.tool for s in steps}
    assumed: tuple[str, ...] = ()
    if "hem_tool" in job.assumed and used - {LEAF_BRAKE}:
        tools = {t.name: t for t in bench(job, pattern.thickness)}
        jaws = [f"{name} {show.length(tools[name].longest_fold)} wide" for name in sorted(used - {LEAF_BRAKE})]
        assumed += (f"{join(jaws)}, as usual",)
    if LEAF_BRAKE in used:
        assumed += assumed_words(job.brake, show)
    return BendSchedule(
        mark=pattern.mark,
        kind="flat",
        steps=steps,
        proven=found.proven,
        states=found.states,
        turn_overs=found.cost[0],
        rotations=found.cost[1],
        tool_changes=found.cost[2],
        assumed=assumed,
        notes=_batch_notes(pattern, steps, job, show),
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
    steps = section_steps.section_steps(section_steps.Bench(problem, metal, show), problem.order(found))
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
        assumed=assumed_words(job.brake, show),
        notes=(*_section_notes(pattern, job, metal, steps, show), *_batch_notes(pattern, steps, job, show)),
    )


def _section_notes(
    pattern: FlatPattern, job: Job, metal: MetalProfile, steps: tuple[Step, ...], show: Show
) -> tuple[str, ...]:
    strip = Strip(pattern)
    notes = [
        f"The start edge is {_end_words(strip, 0, show)}, the finish edge {_end_words(strip, strip.n, show)}: "
        "mark the start edge on both sides of every strip. Bends and hems count from it."
    ]
    if pattern.parts > 1:
        notes.append(
            f"Longer than the shop cuts or bends in one: every piece is made in {pattern.parts} strips of "
            f"{show.length(strip.length)}, bent alike and lapped on the roof."
        )
    bends = [s for s in steps if s.metal_springback is not None]
    if bends:
        worst = max(bends, key=lambda s: (s.metal_springback or 0.0, s.turned_deg))
        radius = strip.radii[worst.edge - 1]
        low = metal_springback(metal, worst.turned_deg, radius, pick=min)
        high = metal_springback(metal, worst.turned_deg, radius)
        own = (
            f"Settings are {show.degrees(job.brake.springback)} past the angle wanted, the shop's springback. "
            f"The metal's own part is {show.number(low)} to {show.number(high)} degrees at bend {worst.edge}, "
            f"turned {show.degrees(worst.turned_deg)}, from its yield and modulus"
        )
        more = high > job.brake.springback
        notes.append(own + (": more than the shop's. Make a test bend first." if more else "; the rest is play."))
    wide = [k + 1 for k, gap in enumerate(strip.gaps) if gap is not None and gap > WIDE_GAP]
    notes += [f"Hem {k} opens more than 1/4 in: it is drawn as a doubled edge; watch it at the nose." for k in wide]
    return tuple(notes)


def _end_words(strip: Strip, i: int, show: Show) -> str:
    """``that of hem 1``, ``the free one of the 2 in leg at bend 3``: as the finished section shows it."""
    name = leg_name(strip, i)
    if name.startswith("hem"):
        return f"that of {name}"
    return f"the free one of the {show.length(strip.legs[i])} leg at bend {1 if i == 0 else strip.n}"


def leg_name(strip: Strip, i: int) -> str:
    """Name of leg i (from 0, hems counted in) as the job file counts legs."""
    if any(
        hem and (i == 0 if first else i == strip.n) for hem, first in zip(strip.hems, strip.hem_at_start, strict=True)
    ):
        return f"hem {1 if i == 0 else strip.n}"
    return f"leg {i + (0 if strip.hems[0] and strip.hem_at_start[0] else 1)}"


def _batch_notes(pattern: FlatPattern, steps: tuple[Step, ...], job: Job, show: Show) -> tuple[str, ...]:
    """Strokes of one setting are made one after another over the whole batch."""
    notes: list[str] = []
    if pattern.count > 1:
        if pattern.count > job.info.batch:
            many = f"all of a batch (up to {job.info.batch} pieces)"
        else:
            many = f"all {pattern.count} pieces"
        notes.append(
            f"Take one piece through all steps and check it; then do each step on {many} before the next step."
        )
    alike: dict[tuple[str, str, float], list[int]] = {}
    for s in steps:
        if s.action != "close":
            alike.setdefault((s.tool, show.bare(s.stop), round(s.set_deg, 2)), []).append(s.step)
    for (tool, stop, angle), numbers in alike.items():
        if len(numbers) > 1:
            notes.append(
                f"Steps {join([str(n) for n in numbers])} share one setting of the {tool}: "
                f"{stop} {show.unit}, {show.degrees(angle)}."
            )
    return tuple(notes)
