"""Hours of a whole job by station: shear, bench, brake, roof."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence

from fabplan.bending.model import BendSchedule, Round
from fabplan.bending.setups import set_up_rounds
from fabplan.bending.tools import LEAF_BRAKE
from fabplan.blanks.model import FlatPattern
from fabplan.blanks.snip_count import cuts_along, snips_of
from fabplan.job.model import Job
from fabplan.labour import Labour, Spent
from fabplan.nesting.model import CutPlan
from fabplan.plan.model import StationTime
from fabplan.roof.model import CutShape, RoofPlan
from fabplan.units import inches

SETTING = "set_bench"


def station_times(
    job: Job,
    patterns: Sequence[FlatPattern],
    cut_plan: CutPlan | None,
    schedules: Sequence[BendSchedule],
    roof: RoofPlan | None,
    setups: Sequence[Round] | None = None,
) -> tuple[StationTime, ...]:
    """Time at each station that has any work, in the order the metal goes.

    Tools are set as the set-up sheet says (`setups`, made when it is not given): a setting that several pieces share
    counts once.
    """
    if setups is None:
        setups = rounds_of(job, patterns, schedules)
    by_station: dict[str, list[Spent]] = {"shear": [], "bench": [], "brake": [], "roof": []}
    if cut_plan is not None:
        by_station["shear"] += cut_plan.spent
    count = {p.mark: p.count + job.done.unfolded.get(p.mark, 0) for p in patterns}
    whole = {mark: max(0, n - cut_up(roof, mark)) for mark, n in count.items()}
    snips = sum(whole[p.mark] * sum(snips_of(n, p.outline) for n in p.notches) for p in patterns)
    by_station["bench"].append(_times("snip", snips, job.labour))
    by_station["bench"].append(_creases(patterns, count, job.labour))
    for schedule in schedules:
        for time in schedule.times:
            once = [s for s in time.batch if s.what != SETTING]
            made = whole[schedule.mark]
            by_station[time.station] += batch_work(time.each, (), made, job.info.batch)
            by_station[time.station] += batch_work((), once, count[schedule.mark], job.info.batch)
            by_station[time.station] += _cut_folds(time.each, schedule.mark, patterns, roof)
    if roof is not None:
        by_station["bench"] += cut_work(roof, job.labour)
    for station in ("bench", "brake"):
        times = sum(r.times * sum((s.tool == LEAF_BRAKE) == (station == "brake") for s in r.setups) for r in setups)
        by_station[station].append(_times(SETTING, times, job.labour))
    if roof is not None:
        by_station["roof"] += roof_work(roof, job.labour)
        by_station["roof"].append(bent_round(roof, job))
    found = [
        StationTime(station=station, spent=_together(work))  # type: ignore[arg-type]
        for station, work in by_station.items()
    ]
    return tuple(s for s in found if s.spent)


def rounds_of(job: Job, patterns: Sequence[FlatPattern], schedules: Sequence[BendSchedule]) -> tuple[Round, ...]:
    """The set-up sheet of a job, what lies cut and unfolded included."""
    batches = {p.mark: -(-(p.count + job.done.unfolded.get(p.mark, 0)) // job.info.batch) for p in patterns}
    return set_up_rounds(schedules, batches, inches(job.info.round_to))


def batch_work(each: Iterable[Spent], batch: Iterable[Spent], pieces: int, size: int) -> list[Spent]:
    """Time of some pieces of one mark, made in batches of `size`."""
    batches = -(-pieces // size)
    return [_scaled(s, pieces) for s in each] + [_scaled(s, batches) for s in batch]


def cut_up(roof: RoofPlan | None, mark: str) -> int:
    """Whole blanks of a mark that are cut up for cut shapes at the bench, one or two from each."""
    if roof is None:
        return 0
    paired = sum(p.times for p in roof.pairs if p.mark == mark)
    return paired + sum(p.times for p in roof.leftover if p.mark == mark)


def cut_work(roof: RoofPlan, labour: Labour) -> list[Spent]:
    """At the bench: every cut piece marked by its template and snipped; every template read, and cut out of card."""
    marked = sum(s.times for s in roof.shapes)
    snips = sum(s.times * s.snips for s in roof.shapes)
    snips += sum(template_snips(s) for s in roof.shapes)
    templates = len(roof.shapes)
    return [_times("scribe", marked, labour), _times("snip", snips, labour), _times("layout", templates, labour)]


def template_snips(shape: CutShape) -> int:
    """Cuts of the snips round a template."""
    sides = zip(shape.metal, (*shape.metal[1:], *shape.metal[:1]), strict=True)
    return cuts_along(math.fsum(math.dist(p, q) for p, q in sides))


def _cut_folds(each: Iterable[Spent], mark: str, patterns: Sequence[FlatPattern], roof: RoofPlan | None) -> list[Spent]:
    """Hems left on the cut shapes of a diamond, each as its share of the whole piece's folds."""
    left = sum(s.times * s.folds for s in roof.shapes if s.mark == mark) if roof is not None else 0
    if not left:
        return []
    of = len(next(p for p in patterns if p.mark == mark).folds)
    return [
        Spent(what=s.what, times=(s.times * left + of // 2) // of, seconds=round(s.seconds * left / of, 2))
        for s in each
    ]


def _creases(patterns: Iterable[FlatPattern], count: Mapping[str, int], labour: Labour) -> Spent:
    """Lines across outlines bent by hand, dressed with the mallet along their length."""
    times, feet = 0, 0.0
    for p in patterns:
        times += count[p.mark] * len(p.creases)
        feet += count[p.mark] * math.fsum(math.dist(*c.line) for c in p.creases) / 12
    return Spent(what="mallet", times=times, seconds=round(feet * labour.mallet, 2))


def bent_round(roof: RoofPlan, job: Job) -> Spent:
    """Pieces bent round the wrapped hips in place, one a course on either side, dressed along both sides of the hip."""
    times, feet = 0, 0.0
    if job.roof.hips == "wrapped":
        by_name = {s.slope.name: s for s in roof.slopes}
        for hip in roof.hips:
            for side in (by_name[hip.slope_left], by_name[hip.slope_right]):
                there = len(side.courses)
                left = sum(side.to_lay(c.course) for c in side.courses)
                times += left
                feet += hip.length / 12 * left / max(1, there)
    return Spent(what="mallet", times=times, seconds=round(feet * job.labour.mallet, 2))


def roof_work(roof: RoofPlan, labour: Labour) -> list[Spent]:
    """Pieces laid, pieces trimmed in place, and lines snapped: those its sheet tells to snap, and a centre line.

    Pieces that come up cut, of their own mark or from the bench, are laid like whole ones.
    """
    lay = cut = lines = 0
    for slope in roof.slopes:
        times = slope.slope.times
        courses = [c for c in slope.courses if slope.to_lay(c.course)]
        trimmed = sum(c.trimmed + c.total - c.whole - c.ready for c in courses)
        cut += times * trimmed
        lay += times * (sum(c.total for c in courses) - trimmed)
        # of a slope laid in part the centre line is there, and so are the lines below the courses to lay
        every = next((max(1, v.largest_per_lock) for v in roof.variation if v.mark == slope.slope.piece), 1)
        snapped = [n.course for n in slope.lines if n.course % every == 0]
        lines += times * sum(slope.laid is None or slope.to_lay(course + 1) for course in snapped)
        lines += times * (slope.laid is None)
    lay += sum(run.times * run.pieces for run in roof.edge_runs)
    return [_times("lay", lay, labour), _times("lay_cut", cut, labour), _times("snap_line", lines, labour)]


def _times(what: str, times: int, labour: Labour) -> Spent:
    return Spent(what=what, times=times, seconds=round(times * float(getattr(labour, what)), 2))


def _scaled(s: Spent, times: int) -> Spent:
    return Spent(what=s.what, times=s.times * times, seconds=round(s.seconds * times, 2))


def _together(work: Iterable[Spent]) -> tuple[Spent, ...]:
    found: dict[str, Spent] = {}
    for w in work:
        old = found.get(w.what)
        if w.times:
            found[w.what] = w if old is None else Spent(
                what=w.what, times=old.times + w.times, seconds=round(old.seconds + w.seconds, 2)
            )  # fmt: skip
    return tuple(found.values())
