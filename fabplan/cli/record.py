"""`fabplan record` and `fabplan rest`: what is cut, made and spoiled, and what is left."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from fabplan.cli.options import JobPath, PlanPath
from fabplan.errors import JobError
from fabplan.screen import complete

if TYPE_CHECKING:
    from fabplan.job.model import Job
    from fabplan.shop.record import RecordEntry

record_app = typer.Typer(
    help="What is cut, made and spoiled of a job, written down as it happens.",
    no_args_is_help=True,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)
RecordPath = Annotated[
    Path | None,
    typer.Option("--record", help="Record of the job.", show_default="<number>-record.db beside the job file"),
]
Counts = Annotated[list[str], typer.Argument(metavar="MARK=COUNT...", help="For example A=2 AS=1.", show_default=False)]

Courses = Annotated[
    list[str], typer.Argument(metavar="SLOPE=COURSE...", help="For example north=6.", show_default=False)
]


def record_of(the_job: Job, job: Path, given: Path | None) -> Path:
    """The record of a job."""
    from fabplan.packet.output.files import file_stem

    return given or job.parent / f"{file_stem(the_job.info.number, 'job')}-record.db"


def plan_data(the_job: Job, given: Path | None) -> dict[str, Any]:
    """The plan work is done by; it must have a cut plan."""
    from fabplan.packet.output.write import DATA, packet_folder
    from fabplan.plan.file import read_plan, saved
    from fabplan.shop.booking import bookable

    path = given or packet_folder(the_job) / DATA
    data = read_plan(path)
    if data.get("cut_in") is None:
        bookable(data)
    if saved(data).job.number != the_job.info.number:
        raise JobError("this is the plan of another job", file=str(path), write="a plan.json of this job")
    return data


def counts_of(typed: list[str], marks: list[str]) -> dict[str, int]:
    """``A=2`` as a mark and a count."""
    out: dict[str, int] = {}
    for text in typed:
        mark, equals, count = text.rpartition("=")
        if not equals or not count.isdecimal() or not 0 < int(count) <= 1_000_000:
            raise JobError("must be a mark and a count", key="MARK=COUNT", value=text, write="for example A=2")
        if mark not in marks:
            raise JobError("the plan has no such piece", key="MARK", value=mark, write=" or ".join(marks[:12]))
        out[mark] = out.get(mark, 0) + int(count)
    return out


@record_app.command("cut")
def record_cut(
    job: JobPath,
    layout: Annotated[
        int | None, typer.Option("--layout", min=1, help="A layout, by its number.", show_default="all layouts")
    ] = None,
    times: Annotated[int | None, typer.Option("--times", min=1, help="Of them cut.", show_default="all")] = None,
    blanks: Annotated[
        list[str] | None,
        typer.Option(
            "--blanks", metavar="MARK=COUNT", help="Of a job cut in a run for several: so many.", show_default="all"
        ),
    ] = None,
    plan: PlanPath = None,
    record: RecordPath = None,
) -> None:
    """Write down that layouts are cut."""
    from fabplan.job.load import load_job
    from fabplan.plan.file import saved
    from fabplan.shop.record import note, times_words

    the_job = load_job(job)
    data = plan_data(the_job, plan)
    said = saved(data)
    if said.cut_in is not None or blanks:
        if said.cut_in is None or layout is not None or times is not None:
            raise JobError(
                "blanks are counted where a job is cut in a run for several, layouts where it is cut by itself",
                key="--blanks" if blanks else "--layout", write="the other",
            )  # fmt: skip
        each = counts_of(blanks or [], [p.mark for p in said.blanks])
        each = each or {p.mark: p.count for p in said.blanks if p.count}
        note(record_of(the_job, job, record), data, "blanks", each)
        print("Written down: cut " + ", ".join(f"{n} {mark}" for mark, n in each.items()))
        return
    nesting = said.nesting
    layouts = nesting.layouts if nesting else ()
    after = the_job.done.layouts  # as the pages number them
    if layout is not None and not 0 < layout - after <= len(layouts):
        raise JobError(
            "the plan has no such layout", key="--layout", value=str(layout),
            write=f"a number from {after + 1} to {after + len(layouts)}",
        )  # fmt: skip
    if layout is None and times is not None:
        raise JobError("say which layout", key="--times", write="--layout with its number")
    numbers = [layout - after] if layout is not None else list(range(1, len(layouts) + 1))
    counts = {str(n): times or layouts[n - 1].repeat for n in numbers}
    note(record_of(the_job, job, record), data, "cut", counts, after=after)
    print("Written down: cut " + ", ".join(f"layout {int(n) + after}, {times_words(c)}" for n, c in counts.items()))


def _noted(job: Path, what: Any, typed: list[str], plan: Path | None, record: Path | None) -> None:
    from fabplan.job.load import load_job
    from fabplan.plan.file import saved
    from fabplan.shop.record import note

    the_job = load_job(job)
    data = plan_data(the_job, plan)
    counts = counts_of(typed, [p.mark for p in saved(data).blanks])
    note(record_of(the_job, job, record), data, what, counts)
    print(f"Written down: {what} " + ", ".join(f"{n} {mark}" for mark, n in counts.items()))


@record_app.command("made")
def record_made(job: JobPath, counts: Counts, plan: PlanPath = None, record: RecordPath = None) -> None:
    """Write down that pieces are finished."""
    _noted(job, "made", counts, plan, record)


@record_app.command("spoiled")
def record_spoiled(job: JobPath, counts: Counts, plan: PlanPath = None, record: RecordPath = None) -> None:
    """Write down that blanks or pieces are spoiled."""
    _noted(job, "spoiled", counts, plan, record)


@record_app.command("laid")
def record_laid(job: JobPath, courses: Courses, plan: PlanPath = None, record: RecordPath = None) -> None:
    """Write down how far slopes are laid, by the course they are laid up to ("dormer no. 2=6": one of several)."""
    from fabplan.job.load import load_job
    from fabplan.plan.file import saved
    from fabplan.shop.on_roof import slope_of
    from fabplan.shop.record import note

    the_job = load_job(job)
    data = plan_data(the_job, plan)
    said = saved(data)
    up_to: dict[str, int] = {}
    for text in courses:
        name, equals, course = text.rpartition("=")
        if not equals or not course.isdecimal():
            raise JobError("must be a slope and a course", key="SLOPE=COURSE", value=text, write="for example north=6")
        last = max(c.course for c in slope_of(said, name).courses)
        if int(course) > last:
            raise JobError(f"{name} has {last} courses", key="SLOPE=COURSE", value=text, write=f"{name}={last}")
        up_to[name] = int(course)
    note(record_of(the_job, job, record), data, "laid", up_to)
    print("Written down: laid " + ", ".join(f"{name} up to course {n}" for name, n in up_to.items()))
    for name, n in up_to.items():
        one = slope_of(said, name).slope
        if one.name == name and one.times > 1 and any(s.name == one.entry and s.count > 1 for s in the_job.slopes):
            print(f'{name} is {one.times} slopes alike: that is of each of them. Of one: "{name} no. 2={n}".')


def _said(e: RecordEntry, the_job: Job) -> str:
    """An entry in words, its layout numbered as the pages number it."""
    from fabplan.shop.record import times_words

    if e.what == "cut":
        return f"cut layout {int(e.name) + the_job.done.layouts}, {times_words(e.count)}"
    if e.what == "laid":
        return f"laid {e.name} up to course {e.count}"
    return f"{e.what} {e.count} {e.name}"


@record_app.command("undo")
def record_undo(job: JobPath, record: RecordPath = None) -> None:
    """Take the last step back; it stays in the history."""
    from fabplan.job.load import load_job
    from fabplan.shop.record import undo

    the_job = load_job(job)
    last = undo(record_of(the_job, job, record))
    said = ", ".join(_said(e, the_job) for e in last)
    print(f"Taken back: {said} (written {last[0].at} UTC)")


@record_app.command("show")
def record_show(job: JobPath, record: RecordPath = None) -> None:
    """What is done, and the history."""
    from fabplan.job.load import load_job
    from fabplan.screen.tables import print_all, table
    from fabplan.shop.record import done, history

    the_job = load_job(job)
    path = record_of(the_job, job, record)
    rows = [(mark, t.cut, t.made, t.spoiled, t.good) for each in done(path) for mark, t in each.marks.items() if t.cut]
    after = the_job.done.layouts
    events = [(e.id, e.at, e.what, int(e.name) + after if e.what == "cut" else e.name, e.count) for e in history(path)]
    print_all(
        [
            table("Done", ("mark", "cut", "made", "spoiled", "good"), rows, right=(1, 2, 3, 4)),
            table("History", ("no", "when (UTC)", "what", "of", "count"), events, right=(0, 4)),
        ]
    )


def rest(
    job: JobPath,
    out: Annotated[
        Path | None, typer.Option("--out", help="Job file of the rest.", show_default="<job>-rest.toml beside it")
    ] = None,
    record: RecordPath = None,
    rack: Annotated[
        Path | None,
        typer.Option(
            "--rack",
            help="Offcut rack its plans are booked on: their offcuts are taken from there.",
            show_default=False,
            autocompletion=complete.rack_files,
        ),
    ] = None,
) -> None:
    """What is left of a job that is partly cut, as a job file of its own."""
    from fabplan.job.load import load_job
    from fabplan.packet.output.files import sheets_in
    from fabplan.packet.output.write import PDF, packet_folder
    from fabplan.shop.booking import booked_plans
    from fabplan.shop.record import done
    from fabplan.shop.rest import next_number, prove_rest, refuse_begun, rest_lines, rest_text, write_rest
    from fabplan.shop.rest import rest as what_is_left

    the_job = load_job(job)
    target = out or job.with_name(f"{next_stem(job.stem)}.toml")
    rest_info = the_job.info.model_copy(update={"number": next_number(the_job.info.number)})
    refuse_begun(record_of(the_job.model_copy(update={"info": rest_info}), job, None), target)
    found = what_is_left(
        the_job,
        done(record_of(the_job, job, record)),
        sheets=sheets_in(packet_folder(the_job) / PDF),
        racked=booked_plans(rack) if rack is not None else (),
    )
    for line in rest_lines(found):
        print(line)
    text = rest_text(job.read_text(encoding="utf-8-sig"), the_job, found)
    written = write_rest(job, target, text)
    prove_rest(load_job(written), found)
    print(f"Job file of the rest written to {written}. Next: fabplan plan {written}")


def next_stem(stem: str) -> str:
    """Name of the file of the rest: that of the job's number, made of the job's file name."""
    from fabplan.shop.rest import next_number

    return next_number(stem)
