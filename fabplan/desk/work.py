"""The slow work, done in processes of its own: the whole of what `check` looks at, and the plan with its pages."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from fabplan.desk.board import Facts, slope_pictures
from fabplan.desk.figures import Figures, figures
from fabplan.errors import FabplanError
from fabplan.job.lines import Path as KeyPath
from fabplan.job.model import Job

if TYPE_CHECKING:
    from fabplan.blanks.model import FlatPattern
    from fabplan.packet.output.html import ScreenPages
    from fabplan.plan.make import Pieces, Stage
    from fabplan.plan.model import Plan


WHOLE = "w"  # begins the names in the style of these pictures


@dataclass(frozen=True, slots=True, kw_only=True)
class JobOverview:
    """What is known of a whole job so far.

    `blanks` are (mark, kind, pieces, size of the blank, weight of all); `slopes` the table of pieces by slope; `done`
    tells that nothing more follows.
    """

    serial: int
    pictures: Figures | None = None
    facts: Facts = ()
    blanks: tuple[tuple[str, ...], ...] = ()
    slopes: tuple[tuple[str, ...], ...] = ()
    faults: tuple[FabplanError, ...] = ()
    done: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanStage:
    """How far a plan is: its stage, and what the search has."""

    stage: str
    best: str = ""
    bound: str = ""
    above: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """A finished plan: the answer in lines, what changed since the last one, its pages by station, the shear's as PDF.

    `faults` are what was said in place of a packet, or beside it; `folder` is where the packet was written.
    """

    answer: tuple[str, ...] = ()
    changed: tuple[str, ...] = ()
    faults: tuple[str, ...] = ()
    folder: str = ""
    pages: tuple[tuple[str, ScreenPages], ...] = ()
    shear: bytes = b""
    layouts: tuple[Any, ...] = ()
    stopped: bool = False


class Looker:
    """Looks at whole jobs, one after another, and keeps what the next one may share."""

    def __init__(self) -> None:
        self._last: tuple[Job, Pieces] | None = None
        self._patterns: tuple[Job, tuple[FlatPattern, ...]] | None = None
        self._centre: dict[str, Literal["point", "joint"]] = {}

    def look(self, serial: int, job: Job, at: KeyPath, name: str) -> Iterator[JobOverview]:
        """What is known, more with every step; the consumer may stop in between. Counts and weights, then hours."""
        slope = name if at[:1] == ("slope",) and len(at) > 1 else ""
        pictures: Figures | None = None
        try:
            pieces = self._pieces(job)
        except FabplanError as fault:
            yield JobOverview(serial=serial, pictures=pictures, faults=(fault,), done=True)
            return
        facts, blanks, slopes = _counted(pieces)
        if slope and pieces.roof is not None:
            own = tuple(s for s in pieces.roof.slopes if s.slope.entry == slope)
            pictures = figures(slope_pictures(own, pieces.roof.variation, pieces.job), WHOLE)
        yield JobOverview(serial=serial, pictures=pictures, facts=facts, blanks=blanks, slopes=slopes)
        faults: tuple[FabplanError, ...] = ()
        try:
            facts = (*facts, *_hours(pieces))
        except FabplanError as fault:
            faults = (fault,)
        yield JobOverview(
            serial=serial, pictures=pictures, facts=facts, blanks=blanks, slopes=slopes, faults=faults, done=True
        )

    def slope(self, serial: int, job: Job, name: str) -> Iterator[JobOverview]:
        """The pictures of one slope as soon as it is laid."""
        if not any(s.name == name for s in job.slopes):
            return
        try:
            for pictures in self._slope(job, name):
                yield JobOverview(serial=serial, pictures=pictures)
        except FabplanError as fault:
            yield JobOverview(serial=serial, pictures=Figures(), faults=(fault,))

    def _slope(self, job: Job, name: str) -> Iterator[Figures]:
        """Elevations of one entry before the rest of the roof is laid out: at once as laid, then proved.

        Where the better of two centre lines is asked for, the first picture has the one that was better last.
        """
        from fabplan.plan.make import proven
        from fabplan.roof.check.whole import check_roof
        from fabplan.roof.extras.made_up import without_made_up
        from fabplan.roof.plan import lay_entry, plan_roof

        job = without_made_up(job)
        entry = next(s for s in job.slopes if s.name == name)
        patterns = self._developed(job)
        layouts, variation = lay_entry(job, patterns, name, self._centre.get(name, "point"))
        laid = slope_pictures(layouts, variation, job)
        yield figures([replace(p, title=f"{p.title}, being checked") for p in laid], WHOLE)
        alone = job.model_copy(update={"slopes": (entry,)})
        roof = plan_roof(alone, patterns)
        self._centre[name] = roof.slopes[0].alignment
        proven("roof layout", check_roof(roof, alone, patterns))
        if roof.slopes != layouts:
            laid = slope_pictures(roof.slopes, roof.variation, job)
        yield figures(laid, WHOLE)

    def _developed(self, job: Job) -> tuple[FlatPattern, ...]:
        from fabplan.blanks.develop import develop
        from fabplan.plan.make import metals_of

        same = job.model_copy(update={"slopes": ()})
        if self._patterns is None or self._patterns[0] != same:
            self._patterns = (same, develop(job, metals_of(job)))
        return self._patterns[1]

    def _pieces(self, job: Job) -> Pieces:
        from fabplan.plan.make import make_pieces

        if self._last is None or self._last[0] != job:
            self._last = (job, make_pieces(job))
        return self._last[1]


def _counted(pieces: Pieces) -> tuple[Facts, tuple[tuple[str, ...], ...], tuple[tuple[str, ...], ...]]:
    from fabplan.speech.format import count

    job = pieces.job
    show = job.show
    made = [p for p in pieces.patterns if p.count]
    area = sum(p.width_units * p.length_units * p.count * (p.grid / 25_400_000) ** 2 for p in made)
    facts = [
        ("pieces", f"{count(sum(p.count for p in made), 'piece')}, {count(len(made), 'mark')}"),
        ("metal in blanks", f"{show.area(area)}, {show.weight(sum(p.weight * p.count for p in made))} after snipping"),
    ]
    blanks = tuple(
        (p.mark, p.kind, f"{p.count:,}", show.size(p.width_units * p.grid, p.length_units * p.grid),
         show.weight(p.weight * p.count))
        for p in pieces.patterns
    )  # fmt: skip
    slopes: tuple[tuple[str, ...], ...] = ()
    if pieces.roof is not None:
        from fabplan.speech.roof_tables import count_table

        table = count_table(pieces.roof, job)
        slopes = (table.columns, *table.rows)
    return tuple(facts), blanks, slopes


def _hours(pieces: Pieces) -> Facts:
    """Hours of folding and laying; those at the shear follow from the cut plan."""
    from fabplan.plan.hours import station_times
    from fabplan.plan.make import make_bends
    from fabplan.speech.labour import STATION, time_words

    bends = make_bends(pieces.job, pieces)
    times = station_times(pieces.job, pieces.patterns, None, bends.schedules, pieces.roof)
    said = ", ".join(f"{STATION[t.station].lower()} {time_words(t.seconds)}" for t in times)
    facts = [("hours", f"{said or 'none'}; the shear's when it is planned")]
    if bends.unbent:
        from fabplan.speech.folds import unbent_words

        facts += [("cannot be folded", unbent_words(u)) for u in bends.unbent]
    return tuple(facts)


# -- the plan ---------------------------------------------------------------------------------------------------------

STAGES: dict[Stage, str] = {
    "pieces": "Pieces and counts", "folds": "Folds", "cut plan": "Cut plan, first layouts", "proof": "Proof",
}  # fmt: skip


def plan(
    job: Job,
    folder: str,
    tell: Callable[[PlanStage], None],
    should_stop: Callable[[], bool],
    seconds: float | None = None,
) -> Planned:
    """Plan a job, write its packet into a folder beside the job file, and set its pages for the screen."""
    from fabplan.errors import visible
    from fabplan.plan.make import make_plan
    from fabplan.workers import beside

    says = _costs(job)
    told = PlanStage(stage="")

    def stage(name: Stage) -> None:
        nonlocal told
        told = replace(told, stage=STAGES[name])
        tell(told)

    def report(cost: Fraction | None, bound: Fraction, gap: float | None) -> None:
        nonlocal told
        above = "" if cost is None or gap is None else f"{gap:.2%}"
        told = PlanStage(stage="Cut plan", best="" if cost is None else says(cost), bound=says(bound), above=above)
        tell(told)

    with beside("fabplan.plan.aside") as hands:
        made = make_plan(job, seconds=seconds, progress=report, should_stop=should_stop, hands=hands, tell=stage)
    tell(PlanStage(stage="Pages"))
    try:
        return _paged(made, Path(folder), tell)
    except FabplanError as fault:
        return Planned(faults=(visible(str(fault)),))


def _costs(job: Job) -> Callable[[Fraction], str]:
    """How the totals of a search are said: money where all that is bought has a price, else metal."""
    from fabplan.plan.make import metals_of
    from fabplan.speech.format import Say

    say = Say.of(job)
    bought = [line for line in job.stock if line.form != "offcut"]
    if bought and all(line.price is not None for line in bought):
        return say.money
    square = (int(job.info.round_to) / 25_400_000) ** 2
    if not any(p.metal and p.metal != job.metal.use for p in job.pieces):
        weight = metals_of(job)[job.metal.use].weight / 144
        return lambda cost: f"{say.weight(float(cost) * square * weight)} of metal and work"
    return lambda cost: f"{say.area(float(cost) * square)} of metal and work"


def _paged(made: Plan, folder: Path, tell: Callable[[PlanStage], None]) -> Planned:
    from fabplan.packet.model import STATIONS
    from fabplan.packet.output.html import screen_pages
    from fabplan.packet.output.write import DATA, packet_folder, write_packet
    from fabplan.packet.pages.build import FOR_ALL, build_packets
    from fabplan.packet.setting.typeset import typeset
    from fabplan.plan.standing import better_saved
    from fabplan.screen.answer import answer_lines
    from fabplan.speech.folds import unbent_words

    job, cut = made.job, made.cut_plan
    paper = job.info.paper
    target = folder / packet_folder(job)
    changed = _changed(target / DATA, made)
    faults = [unbent_words(u) for u in made.unbent]
    whole, *single = build_packets(made, (STATIONS, *((s,) for s in STATIONS)), paper=paper)
    found = [(s, screen_pages(packet)) for s, packet in zip(STATIONS, single, strict=True)]
    pages = tuple((s, p) for s, p in found if any(key not in FOR_ALL for key, _ in p.titles))
    shear = typeset(single[STATIONS.index("shear")], file=job.file)
    tell(PlanStage(stage="Packet"))
    written: Path | None = None
    if cut is not None and cut.stopped_early and better_saved(target / DATA, made) is not None:
        faults.append(f"Stopped early: {target.name} has a better plan of the same job and was left as it is.")
    else:
        written = write_packet(made, target, paper=paper, whole=whole)
    return Planned(
        answer=tuple(answer_lines(made, None, everything=True)),
        changed=changed,
        faults=tuple(faults),
        folder="" if written is None else written.name,
        pages=pages,
        shear=shear,
        layouts=() if cut is None else cut.layouts,
        stopped=cut is not None and cut.stopped_early,
    )


def _changed(last: Path, made: Plan) -> tuple[str, ...]:
    """What is another than in the last plan's packet; nothing when there is none, or none of this fabplan."""
    from fabplan.plan.changes import changes
    from fabplan.plan.file import plan_json, read_plan, saved
    from fabplan.speech.changes import change_lines

    if not last.is_file():
        return ()
    try:
        old = saved(read_plan(last))
        found = changes(old, saved(plan_json(made)))
    except FabplanError as fault:
        return (f"The last plan cannot be compared: {fault}",)
    return tuple(change_lines(found, made.job.show, made.job.info.currency))
