"""`fabplan plan`, `nest` and `prove`, `diff` of what they save."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from fabplan.cli.options import (
    All,
    AsJson,
    Effort,
    JobFiles,
    JobPath,
    JobPaths,
    Paper,
    PlanFile,
    RackFile,
    Seconds,
    Seed,
)
from fabplan.cli.shared import (
    interruptible,
    offered,
    print_json,
    read,
    refuse_short,
    refuse_unbent,
    refuse_unplanned,
)
from fabplan.errors import JobError, PlanError
from fabplan.screen import complete

if TYPE_CHECKING:
    from fabplan.job.model import Job


def plan(
    jobs: JobPaths,
    out: Annotated[Path | None, typer.Option("--out", help="Packet folder.", show_default="<number>-packet")] = None,
    paper: Annotated[Paper | None, typer.Option(help="Paper size.", show_default="the job's, or letter")] = None,
    seed: Seed = None,
    effort: Effort = None,
    seconds: Seconds = None,
    rack: RackFile = None,
    allow_short: Annotated[
        bool, typer.Option("--allow-short", help="Write a packet marked SHORT when stock runs out.")
    ] = False,
    force: Annotated[
        bool, typer.Option("--force", help="When stopped early, also replace a packet with a better plan.")
    ] = False,
    include_unbent: Annotated[
        bool, typer.Option("--include-unbent", help="Cut and buy blanks of pieces that cannot be bent, too.")
    ] = False,
    for_: Annotated[
        str, typer.Option("--for", help="Whose sheets: office, shear, bench, brake, roof.", show_default="all")
    ] = "",
    show_all: All = False,
    as_json: AsJson = False,
) -> None:
    """Everything: writes the packet folder."""
    from fabplan.workers import beside

    with beside("fabplan.plan.aside") as hands:
        from fabplan.packet.output.write import packet_folder, write_packet
        from fabplan.plan.file import plan_json
        from fabplan.plan.make import make_plan
        from fabplan.screen.progress import nest_progress, stage_progress

        stations = stations_of(for_)
        if len(jobs) > 1:
            asked = {"seed": seed, "effort": effort, "seconds": seconds, "include_unbent": include_unbent}
            papers = {"out": out, "paper": paper.value if paper else None, "stations": stations}
            plan_several([read(path) for path in jobs], rack, allow_short, asked, papers, as_json=as_json)
            return
        the_job = read(jobs[0])
        target = packet_folder(the_job, out)
        with interruptible() as should_stop, nest_progress(quiet=as_json) as progress:
            the_plan = make_plan(
                the_job,
                seed=seed,
                effort=effort,
                seconds=seconds,
                progress=progress,
                should_stop=should_stop,
                offers=offered(rack, the_job),
                hands=hands,
                include_unbent=include_unbent,
            )
    refuse_short(the_plan.cut_plan, allow_short, the_plan.job, the_plan.lacking)
    if not force:
        keep_better(the_plan, target)
    with stage_progress("Pages", quiet=as_json):
        folder = write_packet(the_plan, target, paper=paper.value if paper else the_job.info.paper, stations=stations)
    if as_json:
        print_json(plan_json(the_plan))
    else:
        show(the_plan, folder, show_all=show_all)
    refuse_unplanned(the_plan)


def plan_several(
    jobs: Sequence[Job],
    rack: Path | None,
    allow_short: bool,
    asked: dict[str, Any],
    papers: dict[str, Any],
    *,
    as_json: bool,
) -> None:
    """Nest jobs together and write a packet of the run and one of each; nothing when the stock is short.

    `asked` are options of the nest, `papers` where the packets go, their paper and their stations.
    """
    from fabplan.cli.together import write_run
    from fabplan.plan.file import plan_json
    from fabplan.plan.together import plan_together
    from fabplan.screen.answer import run_lines
    from fabplan.screen.progress import nest_progress

    with interruptible() as should_stop, nest_progress(quiet=as_json) as progress:
        found = plan_together(jobs, offers=offered(rack, jobs[0]), progress=progress, should_stop=should_stop, **asked)
    refuse_short(found.run.cut_plan, allow_short, found.run.job, found.run.lacking)
    folders = write_run(found, quiet=as_json, **papers)
    if as_json:
        print_json({"run": plan_json(found.run), "jobs": [plan_json(p) for p in found.plans]})
    else:
        for line in run_lines(found.run, found.plans, folders, found.apart):
            print(line)
    refuse_unbent([u for p in found.plans for u in p.unbent])


def stations_of(typed: str) -> tuple[Any, ...]:
    """Stations named after ``--for``, with commas between them; all of them when there is no name."""
    from fabplan.packet.model import STATIONS

    names = [name.strip().lower() for name in typed.split(",") if name.strip()]
    wrong = [name for name in names if name not in STATIONS]
    if wrong:
        raise JobError(
            "names a station",
            key="--for",
            value=f'"{wrong[0]}"',
            write=f"{', '.join(STATIONS)}, or several with commas",
        )
    return tuple(s for s in STATIONS if not names or s in names)


def show(the_plan: Any, folder: Path, *, show_all: bool) -> None:
    """The answer in short; before it, when wanted, every table."""
    from fabplan.screen.answer import answer_lines, notes_of
    from fabplan.screen.tables import blanks_table, buy_table, hours_parts, nest_tables, print_all
    from fabplan.speech.spares import spare_notes

    if show_all:
        parts: list[Any] = [blanks_table(the_plan.patterns, the_plan.job)]
        if the_plan.cut_plan is not None:
            parts += nest_tables(the_plan.cut_plan, the_plan.job)
            parts.append(buy_table(the_plan))
        parts += [*hours_parts(the_plan), *spare_notes(the_plan), *notes_of(the_plan, everything=True)]
        print_all(parts)
    for line in answer_lines(the_plan, folder):
        print(line)
    if not show_all:
        print("Every table: the same command with --all.")


def keep_better(the_plan: Any, target: Path) -> None:
    """Leave with exit 1 when the run was stopped early and the packet that is there has the better plan."""
    if the_plan.cut_plan is None or not the_plan.cut_plan.stopped_early:
        return
    from fabplan.packet.output.write import DATA
    from fabplan.plan.standing import better_saved
    from fabplan.screen.tables import total_says

    old = better_saved(target / DATA, the_plan)
    if old is not None:
        new, job = the_plan.cut_plan, the_plan.job
        raise PlanError(
            f"Stopped early with a plan of {total_says(new, job)}. The packet in {target} has a better one of the same "
            f"job ({total_says(old, job)}) and was left as it is.",
            help_="Run again for longer, or with --force to replace it, or with --out for another folder.",
        )


def nest(
    job: JobPath,
    seed: Seed = None,
    effort: Effort = None,
    seconds: Seconds = None,
    rack: RackFile = None,
    show_all: All = False,
    as_json: AsJson = False,
) -> None:
    """Cut plan: how the blanks come off the stock, and the proven least."""
    from fabplan.plan.file import head, parts_json
    from fabplan.plan.make import make_nest, make_pieces, with_rack
    from fabplan.screen.progress import nest_progress

    the_job = read(job)
    pieces = make_pieces(the_job)
    the_job = with_rack(the_job, pieces, offered(rack, the_job))
    with interruptible() as should_stop, nest_progress(quiet=as_json) as progress:
        cut_plan = make_nest(
            the_job,
            pieces,
            seed=seed,
            effort=effort,
            seconds=seconds,
            progress=progress,
            should_stop=should_stop,
        )
    if cut_plan is None:
        raise JobError(
            "the job has no stock to cut from", file=str(job), key="[[stock]]", write="at least one [[stock]]"
        )
    if as_json:
        print_json(
            {
                **head(the_job, stopped_early=cut_plan.stopped_early),
                "blanks": parts_json(pieces.patterns, the_job),
                "nesting": parts_json(cut_plan, the_job, cut_plan),
            }
        )
    else:
        from fabplan.screen.tables import nest_tables, print_all

        print_all(nest_tables(cut_plan, the_job, most=None if show_all else 8))
    if cut_plan.status == "short":
        from fabplan.plan.short import to_buy

        lacking = to_buy(pieces.job, pieces.patterns, pieces.metals, effort=effort, seed=seed, seconds=seconds)
        refuse_short(cut_plan, False, the_job, lacking)


def prove(
    plan_file: PlanFile,
    job: JobFiles,
    as_json: AsJson = False,
) -> None:
    """Re-prove a saved plan against its job file."""
    from fabplan.plan.prove import prove_file

    jobs = [read(path) for path in job]
    if len(jobs) > 1:
        from fabplan.plan.prove_run import prove_run_file

        proof = prove_run_file(plan_file, jobs)
    else:
        proof = prove_file(plan_file, jobs[0])
    if as_json:
        print_json(proof.data())
    else:
        for line in proof.lines():
            print(line)
    if not proof.ok:
        raise typer.Exit(1)


def diff(
    old: Annotated[Path, typer.Argument(metavar="OLD.json", help="Saved plan.", autocompletion=complete.plan_files)],
    new: Annotated[Path, typer.Argument(metavar="NEW.json", help="Later plan.", autocompletion=complete.plan_files)],
    as_json: AsJson = False,
) -> None:
    """What changed for the shop between two plans, in ten lines."""
    from fabplan.plan.changes import changes
    from fabplan.plan.file import read_plan, saved
    from fabplan.speech.changes import change_lines
    from fabplan.units import Show

    plans = [saved(read_plan(path)) for path in (old, new)]
    found = changes(*plans)
    if as_json:
        from fabplan.plan.codec import written
        from fabplan.plan.forms import Scale

        print_json(written(found, Scale(plans[1].units, plans[1].round_to)))
        return
    for line in change_lines(found, Show(plans[1].units, plans[1].round_to)):
        print(line)
