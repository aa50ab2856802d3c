"""`fabplan times`: one thin function a command."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from fabplan.cli.options import AsJson, JobPath, PlanPath
from fabplan.errors import JobError

if TYPE_CHECKING:
    from fabplan.plan.file import PlanFile

times_app = typer.Typer(
    help="The shop's own times: write down what work took, and let the plan count with it.",
    no_args_is_help=True,
    rich_markup_mode=None,
)
Log = Annotated[
    Path | None, typer.Option("--log", help="Log of times.", show_default="times.db beside the shop or job file")
]


@times_app.command("add")
def times_add(
    job: JobPath,
    minutes: Annotated[float, typer.Option(min=0.1, max=60_000, help="How long it took.", show_default=False)],
    layout: Annotated[int | None, typer.Option(help="A layout, by its number.", show_default=False)] = None,
    fold: Annotated[str | None, typer.Option(metavar="MARK", help="Pieces folded.", show_default=False)] = None,
    cutting: Annotated[bool, typer.Option("--cutting", help="All cutting, by the shear program.")] = False,
    roof: Annotated[bool, typer.Option("--roof", help="Laying the whole roof.")] = False,
    times: Annotated[
        int | None, typer.Option(min=1, help="Repeats of the layout made.", show_default="all of them")
    ] = None,
    pieces: Annotated[int | None, typer.Option(min=1, help="Pieces folded.", show_default="all of them")] = None,
    plan: PlanPath = None,
    log: Log = None,
) -> None:
    """Write down what a layout, a fold, all cutting or the roof took."""
    from fabplan.job.load import load_job
    from fabplan.packet.output.write import packet_folder
    from fabplan.shop import times_file, timings

    the_job = load_job(job)
    asked = [layout is not None, fold is not None, cutting, roof]
    if sum(asked) != 1:
        raise JobError("say what was timed, one thing", write="--layout 3, --fold A, --cutting or --roof")
    saved: PlanFile = timings.plan_of(the_job, plan or packet_folder(the_job) / "plan.json")
    if layout is not None:
        what, work = f"layout {layout}", timings.layout_work(saved, the_job, layout, times)
        what += f", {times} times" if times is not None else ""
    elif fold is not None:
        what, work = f"folding {fold}", timings.fold_work(saved, the_job, fold, pieces)
        what += f", {pieces} pieces" if pieces is not None else ""
    elif cutting:
        what, work = "all cutting", timings.cutting_work(saved, the_job)
    else:
        what, work = "the roof", timings.roof_work(saved)
    path = timings.log_path(the_job, log)
    number = times_file.add(path, job=the_job.info.number, what=what, seconds=60 * minutes, work=work)
    print(
        f"Written down as timing {number} in {path}: {what}, {minutes:g} min ({timings.expected_says(the_job, work)})."
    )


@times_app.command("list")
def times_list(job: JobPath, log: Log = None, as_json: AsJson = False) -> None:
    """What was written down."""
    import json

    from fabplan.job.load import load_job
    from fabplan.shop import timings
    from fabplan.shop.times_file import entries

    the_job = load_job(job)
    path = timings.log_path(the_job, log)
    found = entries(path)
    if as_json:
        print(json.dumps(timings.log_data(found), ensure_ascii=False, indent=1, allow_nan=False))
        return
    from fabplan.screen.tables import print_all, table

    print_all([table(str(path), timings.LOG_COLUMNS, timings.log_rows(found, the_job), right=(0, 4, 5))])


@times_app.command("drop")
def times_drop(
    job: JobPath,
    numbers: Annotated[list[int], typer.Argument(metavar="NUMBER...", show_default=False)],
    log: Log = None,
) -> None:
    """Take timings out again."""
    from fabplan.job.load import load_job
    from fabplan.shop import times_file, timings

    times_file.drop(timings.log_path(load_job(job), log), numbers)
    print("Taken out: " + ", ".join(str(n) for n in numbers))


@times_app.command("fit")
def times_fit(
    job: JobPath,
    log: Log = None,
    look: Annotated[bool, typer.Option("--look", help="Only show the times, write nothing.")] = False,
    as_json: AsJson = False,
) -> None:
    """Work out the shop's own times, and write the sure ones under [labour]."""
    import json

    from fabplan.job.load import load_job
    from fabplan.shop import timings
    from fabplan.shop.fit_times import fit_times
    from fabplan.shop.times_file import entries

    the_job = load_job(job)
    fit = fit_times(entries(timings.log_path(the_job, log)), the_job.labour)
    if as_json:
        print(json.dumps(timings.fit_data(fit), ensure_ascii=False, indent=1, allow_nan=False))
    else:
        from fabplan.screen.tables import print_all, table

        rows = timings.fit_rows(fit, the_job)
        title = f"Times from {fit.timings} timings"
        print_all([table(title, timings.FIT_COLUMNS, rows, right=(1, 2, 3)), *timings.fit_notes(fit)])
    if not look:
        file, keys = timings.write_times(the_job, fit)
        if not as_json:
            print(f"Written under [labour] in {file}: {', '.join(keys)}.")
