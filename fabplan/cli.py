"""The command line: one thin function a command. The work is done in the rooms, imported when a command runs."""

from __future__ import annotations

import signal
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from fabplan.cli_options import AsJson, JobFiles, JobPath, Paper, PlanFile
from fabplan.errors import FabplanError, JobError, PlanError
from fabplan.screen import complete, output
from fabplan.screen.interrupt import Interrupt

if TYPE_CHECKING:
    from fabplan.job.model import Job

INTERRUPTED = 130
"""Exit code after Ctrl-C: 128 and the number of the signal."""
STOPPED = "Stopped. Nothing half-written is left."

app = typer.Typer(
    name="fabplan",
    help="Plans hand-formed sheet metal: blanks, cutting, folding and course lines from one job file.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)


JobPaths = Annotated[
    list[Path],
    typer.Argument(
        metavar="JOB...",
        help="Job file (.toml); several are cut in one shear run.",
        show_default=False,
        autocompletion=complete.job_files,
    ),
]
All = Annotated[bool, typer.Option("--all", help="Show every table whole.")]
Effort = Annotated[
    float | None,
    typer.Option(
        "--search-effort",
        "--effort",
        min=0,
        max=100,
        help="How hard to look for a better cut plan.",
        show_default="the job's, or 1",
    ),
]
Seed = Annotated[
    int | None,
    typer.Option(
        "--try-again", "--seed", min=0, help="Another number tries other plans.", show_default="the job's, or 0"
    ),
]
Seconds = Annotated[
    float | None,
    typer.Option(
        min=0, max=86_400, help="Stop the cut plan after this long; told on the cover.", show_default="no clock"
    ),
]
ChartFile = Annotated[Path | None, typer.Option("--chart", help="Write a chart here (.svg).", show_default=False)]
RackFile = Annotated[
    Path | None,
    typer.Option("--rack", help="Offcut rack to take from.", show_default=False, autocompletion=complete.rack_files),
]


def _version(wanted: bool) -> None:
    if wanted:
        import fabplan

        print(f"fabplan {fabplan.__version__}")
        raise typer.Exit


@app.callback()
def fabplan_command(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    """Plans hand-formed sheet metal: blanks, cutting, folding and course lines from one job file."""


def say(text: str) -> None:
    """A message for the person, on standard error."""
    with suppress(OSError):  # closed or full: there is nobody to tell
        print(text, file=sys.stderr, flush=True)


def print_json(data: Any) -> None:
    """Nothing but JSON on standard output."""
    print(output.json_text(data))


def read(path: Path) -> Job:
    """Load the job, or leave with its faults."""
    from fabplan.job.load import load_job
    from fabplan.speech.renamed import renamed_words

    the_job = load_job(path)
    for words in renamed_words(the_job):
        say(words)
    return the_job


@contextmanager
def interruptible() -> Iterator[Callable[[], bool]]:
    """First Ctrl-C asks the nest to finish with its best plan so far; the second leaves at once."""
    asked: list[bool] = []

    def ask(signum: int, frame: Any) -> None:
        if asked and callable(before):
            before(signum, frame)  # as any Ctrl-C of the run
            return
        asked.append(True)
        say("Stopping with the best plan so far (Ctrl-C again to leave at once) ...")

    try:
        before = signal.signal(signal.SIGINT, ask)
    except ValueError:  # not the main thread
        yield lambda: False
        return
    try:
        yield lambda: bool(asked)
    finally:
        signal.signal(signal.SIGINT, before)


@app.command()
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
    from fabplan.cli_together import write_run
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
        parts += [*hours_parts(the_plan), *spare_notes(the_plan), *notes_of(the_plan)]
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


def offered(rack: Path | None, the_job: Job) -> Any:
    """What gives a plan the offcuts of a rack, or None."""
    if rack is None:
        return None
    from fabplan.shop.offer import offer
    from fabplan.shop.rack import damage_says, look

    damage = look(rack)[1]
    if damage is not None:
        say(damage_says(rack, damage))

    def found(pieces: Any) -> Any:
        from fabplan.speech.buying import hand_words

        lines = offer(rack, pieces.job, pieces.patterns, pieces.metals)
        for line in lines:
            if line.form != "offcut":
                coils = f" on {len(line.coils)} coils" if line.coils else ""
                say(f"{line.name}: {hand_words(line, the_job.show)} on hand{coils} by {rack}, whatever on_hand says.")
        return lines

    return found


MOST_SHORT = 12  # marks named in one message


def refuse_short(cut_plan: Any, allow_short: bool, job: Job, lacking: Sequence[Any] = ()) -> None:
    """Leave with exit 1 when stock runs out and no short packet is wanted."""
    if cut_plan is None or cut_plan.status != "short" or allow_short:
        return
    from fabplan.speech.buying import lacking_words
    from fabplan.speech.status import short_sentence

    missing = ", ".join(f"{n} of {mark}" for mark, n in cut_plan.short[:MOST_SHORT])
    if len(cut_plan.short) > MOST_SHORT:
        missing += f", and some of {len(cut_plan.short) - MOST_SHORT} more marks"
    why = short_sentence(cut_plan)
    more = "Add stock, write buy = true under the stock line that more of can be bought, or run again with "
    if cut_plan.stopped_early:
        more = "Run again and let it end, add stock, or run again with "
    raise PlanError(
        f"{why[0].upper()}{why[1:]}: missing {missing}. {lacking_words(lacking, job)}".strip(),
        help_=f"{more}--allow-short for a packet marked SHORT.",
    )


def refuse_unbent(unbent: Any) -> None:
    """Leave with exit 1 when there are pieces that cannot be folded; the others are planned."""
    if not unbent:
        return
    from fabplan.speech.folds import unbent_words

    raise PlanError("\n".join(unbent_words(u) for u in unbent))


def refuse_unplanned(the_plan: Any) -> None:
    """Leave with exit 1 when there are pieces that cannot be cut or folded; the others are planned."""
    if not the_plan.uncut:
        refuse_unbent(the_plan.unbent)
        return
    from fabplan.nesting.refused import uncut_words
    from fabplan.speech.folds import unbent_words

    words = [uncut_words(u, the_plan.job) for u in the_plan.uncut]
    said = [f"{what} It is NOT PLANNED." for what, _ in words] + [unbent_words(u) for u in the_plan.unbent]
    raise PlanError("\n".join(said), help_=" ".join(dict.fromkeys(help_ for _, help_ in words)))


@app.command()
def check(job: JobPath, as_json: AsJson = False) -> None:
    """Validate a job file and say back what was understood."""
    from fabplan.job.summary import said_rows
    from fabplan.plan.make import make_pieces
    from fabplan.speech.plausible import roof_doubts, roof_rows, size_doubts

    the_job = read(job)
    doubts = size_doubts(the_job)
    try:
        pieces = make_pieces(the_job)
    except FabplanError:
        for doubt in doubts:  # the reason is likely among them
            say(f"Can this be meant? {doubt}")
        raise
    rows = said_rows(the_job)
    if pieces.roof is not None:
        rows += roof_rows(pieces.roof, pieces.job, pieces.patterns)
        doubts += roof_doubts(pieces.roof, pieces.job)
    rows += [("can this be meant?", doubt) for doubt in doubts]
    if as_json:
        from fabplan.plan.file import head

        print_json({**head(the_job), "understood": [{"what": a, "value": b} for a, b in rows]})
        return
    from fabplan.screen.tables import print_all, table

    print_all(
        [table(f"{the_job.info.name}: understood", ("what", "value"), rows)],
    )


@app.command()
def new(file: Annotated[Path, typer.Argument(metavar="FILE", help="Job file to write.")]) -> None:
    """Write a starter job file."""
    from fabplan.job.starter import write_starter

    write_starter(file)
    print(f"Starter job written to {file}. Next: fabplan plan {file}")


@app.command()
def count(job: JobPath, as_json: AsJson = False) -> None:
    """Pieces by roof slope and course."""
    from fabplan.plan.make import make_pieces

    the_job = read(job)
    pieces = make_pieces(the_job)
    if pieces.roof is None:
        raise JobError(
            "the job has no roof slopes to count",
            file=str(job),
            key="[[slope]]",
            write="a [[slope]] with its measured sides, or use the count of each piece",
        )
    from fabplan.plan.file import head, parts_json
    from fabplan.speech.roof_tables import count_tables

    if as_json:
        print_json({**head(the_job), "roof": parts_json(pieces.roof, the_job)})
        return
    from fabplan.screen.tables import print_all, table

    parts = [table(t.title, t.columns, t.rows) for t in count_tables(pieces.roof, the_job)]
    print_all(parts)


@app.command()
def blanks(job: JobPath, as_json: AsJson = False) -> None:
    """Flat size of every piece."""
    from fabplan.plan.make import make_pieces

    the_job = read(job)
    pieces = make_pieces(the_job)
    if as_json:
        from fabplan.plan.file import head, parts_json

        print_json({**head(the_job), "blanks": parts_json(pieces.patterns, the_job)})
        return
    from fabplan.screen.tables import blanks_table, print_all

    notes = [f"{p.mark}: {note}" for p in pieces.patterns for note in p.notes]
    print_all([blanks_table(pieces.patterns, the_job), *notes])


@app.command()
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


@app.command()
def bend(
    job: JobPath,
    piece: Annotated[
        str | None, typer.Option("--piece", metavar="MARK", help="Only this piece.", autocompletion=complete.marks)
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Bend schedule: every fold in an order that works."""
    from fabplan.plan.make import make_bends, make_pieces

    the_job = read(job)
    pieces = make_pieces(the_job)
    known_mark([p.mark for p in the_job.pieces], job, piece)
    bends = make_bends(the_job, pieces, mark=piece)
    schedules = bends.schedules
    if as_json:
        from fabplan.plan.file import head, parts_json

        unbent = parts_json(bends.unbent, the_job)
        print_json({**head(the_job), "bending": parts_json(schedules, the_job), "unbent": unbent})
        refuse_unbent(bends.unbent)
        return
    from fabplan.screen.tables import bend_table, print_all
    from fabplan.speech.folds import notes

    parts: list[Any] = []
    for s in schedules:
        pattern = next(p for p in pieces.patterns if p.mark == s.mark)
        told = notes(s, pattern, the_job, pieces.metals)
        parts += [bend_table(s, the_job), *told.before, *told.after]
    print_all(parts)
    refuse_unbent(bends.unbent)


@app.command()
def strips(
    job: JobPath,
    measured: Annotated[
        Path | None,
        typer.Option("--measured", metavar="FILE.toml", help="Measured strips and diamonds.", show_default=False),
    ] = None,
    write: Annotated[bool, typer.Option("--write", help="Write what they say into the shop file.")] = False,
    out: Annotated[Path | None, typer.Option("--out", help="PDF.", show_default="<number>-strips.pdf")] = None,
) -> None:
    """Test strips and ten diamonds: a page of them; what measured ones say of deduction, springback and spread."""
    from fabplan.packet.output.files import file_stem
    from fabplan.plan.make import make_pieces
    from fabplan.shop import diamonds
    from fabplan.shop import strips as tests
    from fabplan.speech.format import Say

    the_job = read(job)
    pieces = make_pieces(the_job)
    if measured is None:
        bends = tests.wanted(pieces.patterns)
        if not bends:
            raise JobError("the job bends nothing", file=str(job), write="a piece with folds or bends")
        target = out or Path(f"{file_stem(the_job.info.number, 'job')}-strips.pdf")
        more = diamonds.diamond_blocks(pieces.patterns, Say.of(the_job))
        print(f"Strips written to {tests.write_page(bends, the_job, pieces.metals, target, more)}")
        return
    found = tests.fit(tests.read_strips(measured, the_job), the_job, pieces.metals)
    lattices = {p.mark: p.lattice for p in pieces.patterns if p.lattice is not None}
    calipers = diamonds.read_diamonds(measured, the_job)
    hands = [diamonds.hands(mark, some, lattices[mark], the_job) for mark, some in calipers.items()]
    from fabplan.screen.tables import print_all, table

    tables = []
    if found:
        tables.append(table("What the strips say", tests.COLUMNS, tests.rows(found, the_job), right=(3,)))
    if hands:
        tables.append(table("What the diamonds say", diamonds.COLUMNS, diamonds.rows(hands, the_job), right=(1,)))
    print_all(tables)
    if write and found:
        print(f"Written into {tests.write_found(found, the_job)}.")
    if write and hands:
        print(f"Written into {diamonds.write_hands(hands, the_job)}.")


def known_mark(marks: list[str], job: Path, mark: str | None) -> None:
    """Refuse a piece mark the job does not have."""
    if mark is not None and mark not in marks:
        raise JobError(
            "the job has no such piece",
            file=str(job),
            key="--piece",
            value=mark,
            write=" or ".join(marks[:12]),
        )


@app.command()
def draw(
    job: JobPath,
    out: Annotated[
        Path | None, typer.Option("--out", help="Folder for the drawings.", show_default="<number>-drawings")
    ] = None,
    seed: Seed = None,
    effort: Effort = None,
    seconds: Seconds = None,
) -> None:
    """Drawings only, as SVG files."""
    from fabplan.packet.output.write import drawings_folder, write_drawings
    from fabplan.plan.make import make_plan

    the_job = read(job)
    target = drawings_folder(the_job, out)
    with interruptible() as should_stop:
        the_plan = make_plan(the_job, seed=seed, effort=effort, seconds=seconds, should_stop=should_stop)
    print(f"Drawings written to {write_drawings(the_plan, target)}")


@app.command()
def template(
    job: JobPath,
    piece: Annotated[
        str,
        typer.Option(
            "--piece",
            metavar="MARK",
            help="Piece to draw full size.",
            show_default=False,
            autocompletion=complete.marks,
        ),
    ],
    out: Annotated[
        Path | None, typer.Option("--out", help="PDF to write.", show_default="<number>-<mark>-template.pdf")
    ] = None,
    paper: Annotated[Paper | None, typer.Option(help="Paper size.", show_default="the job's, or letter")] = None,
) -> None:
    """Full-scale template of one blank, tiled over pages."""
    from fabplan.packet.output.write import write_template
    from fabplan.plan.make import make_pieces

    the_job = read(job)
    pieces = make_pieces(the_job)
    known_mark([p.mark for p in pieces.patterns], job, piece)
    pattern = next(p for p in pieces.patterns if p.mark == piece)
    written = write_template(the_job, pattern, out, paper=paper.value if paper else the_job.info.paper)
    print(f"Template written to {written}")


@app.command()
def metals(
    name: Annotated[
        str | None,
        typer.Argument(
            metavar="NAME", help="Metal profile to show.", show_default=False, autocompletion=complete.metals
        ),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """List the metal profiles, or show one with its sources."""
    from fabplan.job.metals import list_metals, load_metal
    from fabplan.job.summary import metal_data, metal_list_rows, metal_rows

    if as_json:
        print_json([metal_data(m) for m in ([load_metal(name)] if name else list_metals())])
        return
    from fabplan.screen.tables import print_all, table

    if name:
        shown = table(name, ("what", "value", "source"), metal_rows(load_metal(name)))
    else:
        columns = ("name", "metal", "thickness", "weight", "widths sold")
        shown = table("Metal profiles", columns, metal_list_rows(list_metals()))
    print_all([shown])


@app.command()
def compare(
    job: JobPath,
    rack: RackFile = None,
    sold: Annotated[bool, typer.Option("--sold", help="Also try every width and sheet the metal is sold in.")] = False,
    effort: Annotated[
        float, typer.Option("--search-effort", "--effort", min=0, max=100, help="How hard to look, for each choice.")
    ] = 0.3,
    seed: Seed = None,
    seconds: Seconds = None,
    chart: ChartFile = None,
    price: Annotated[
        list[str] | None,
        typer.Option(
            "--price", help='What if: another price, "coil 24=10.20 per lb"; repeat for more.', show_default=False
        ),
    ] = None,
    with_trade: Annotated[
        bool, typer.Option("--trade/--no-trade", help="Also metal against work: from least metal to fewest settings.")
    ] = True,
    as_json: AsJson = False,
) -> None:
    """Stock against stock, and metal against work: metal, scrap, price, hours and set-ups side by side."""
    from fabplan.plan.make import make_pieces, with_rack
    from fabplan.screen.progress import count_progress
    from fabplan.shop.compare import compare as compare_stock
    from fabplan.shop.decide import best_lines, best_of, priced_otherwise
    from fabplan.shop.report import (
        COMPARE_COLUMNS,
        COMPARE_RIGHT,
        TRADE_COLUMNS,
        TRADE_RIGHT,
        compare_json,
        compare_rows,
        trade_rows,
    )
    from fabplan.shop.trade import trade

    the_job = priced_otherwise(read(job), price or ())
    pieces, left_out = foldable(the_job, make_pieces(the_job))
    offers = offered(rack, the_job)
    with count_progress("Stock choices", quiet=as_json) as done:
        results = compare_stock(
            the_job,
            pieces,
            rack=offers(pieces) if offers else (),
            sold=sold,
            effort=effort,
            seed=seed if seed is not None else the_job.nest.try_again,
            seconds=seconds,
            done=done,
        )
    traded: Any = ()
    if with_trade and any(c.good for c in results):
        with count_progress("Metal against work", quiet=as_json) as done:
            traded = trade(
                with_rack(the_job, pieces, offers),
                pieces,
                effort=effort,
                seed=seed if seed is not None else the_job.nest.try_again,
                seconds=seconds,
                done=done,
            )
    if chart is not None:
        from fabplan.shop.chart import compare_chart, trade_chart, write_chart

        write_chart(compare_chart(results, the_job), chart)
        if traded:
            write_chart(trade_chart(traded, the_job), chart.with_name(f"{chart.stem}-work{chart.suffix}"))
    if as_json:
        print_json(
            {**compare_json(results, the_job, traded, best_of(results, the_job, pieces)), "left_out": left_out[0]}
        )
    else:
        from fabplan.screen.tables import print_all, table

        for line in left_out[1]:
            print(line)
        rows = compare_rows(results, the_job)
        for line in best_lines(best_of(results, the_job, pieces), the_job):
            print(line)
        parts = [table("Stock choices", COMPARE_COLUMNS, rows, right=COMPARE_RIGHT)]
        if traded:
            parts.append(table("Metal against work", TRADE_COLUMNS, trade_rows(traded, the_job), right=TRADE_RIGHT))
        print_all(parts)
    if not any(c.good for c in results):
        raise PlanError("None of the stock choices holds the whole job.", help_="Add stock to the job and try again.")


def foldable(the_job: Any, pieces: Any) -> tuple[Any, tuple[list[str], list[str]]]:
    """The pieces a plan of the job would cut; the marks it leaves out because they cannot be folded, and a line each.

    Where nothing can be folded all pieces stay, and the lines say so.
    """
    from fabplan.plan.make import make_bends
    from fabplan.speech.folds import left_out_words

    unbent = make_bends(the_job, pieces).unbent
    lost = [u.mark for u in unbent]
    rest = pieces.without(set(lost))
    if not rest.patterns:
        return pieces, ([], left_out_words(unbent, counted=True))
    return rest, (lost, left_out_words(unbent))


@app.command("best-size")
def best_size(
    job: JobPath,
    piece: Annotated[
        str | None,
        typer.Option(
            "--piece",
            metavar="MARK",
            help="Which diamond.",
            show_default="the only one",
            autocompletion=complete.marks,
        ),
    ] = None,
    least: Annotated[str | None, typer.Option("--from", help="Least finished side.", show_default="2 in below")] = None,
    most: Annotated[str | None, typer.Option("--to", help="Greatest finished side.", show_default="2 in above")] = None,
    step: Annotated[str | None, typer.Option(help="Step between sizes.", show_default="about 65 sizes")] = None,
    angle: Annotated[
        list[float] | None, typer.Option(min=60, max=120, help="Top angle to try; repeat for more.")
    ] = None,
    nest: Annotated[bool, typer.Option("--nest/--no-nest", help="Nest the whole job at the best sizes.")] = True,
    chart: ChartFile = None,
    as_json: AsJson = False,
) -> None:
    """Which finished size of a diamond wastes least, on each stock."""
    from fabplan.plan.file import parts_json
    from fabplan.plan.make import make_bends, make_pieces, metals_of
    from fabplan.screen.progress import count_progress
    from fabplan.shop.counter import typed_length
    from fabplan.shop.nested_sizes import nested_sizes
    from fabplan.shop.report import (
        NESTED_COLUMNS,
        nested_rows,
        size_columns,
        size_json,
        size_rows,
        suggestion_lines,
    )
    from fabplan.shop.sizes import sweep

    the_job = read(job)
    units = the_job.info.units
    with count_progress("Sizes", quiet=as_json) as done:
        found = sweep(
            the_job,
            metals_of(the_job),
            mark=piece,
            least=typed_length(least, units, "--from"),
            most=typed_length(most, units, "--to"),
            step=typed_length(step, units, "--step"),
            angles=angle or (),
            done=(lambda i, n: done(i, n, "")) if done else None,
        )
    tried: Any = ()
    if nest and the_job.stock:
        with count_progress("Nested", quiet=as_json) as done:
            tried = nested_sizes(the_job, found, (lambda i, n: done(i, n, "")) if done else None)
    if chart is not None:
        from fabplan.shop.chart import size_chart, write_chart

        write_chart(size_chart(found, the_job), chart)
    bends = make_bends(the_job, make_pieces(the_job), mark=found.mark)
    if as_json:
        print_json({**size_json(found, the_job, tried), "unbent": parts_json(bends.unbent, the_job)})
        return
    from fabplan.screen.tables import print_all, table
    from fabplan.speech.folds import left_out_words

    for line in left_out_words(bends.unbent, counted=True):
        print(line)
    columns = size_columns(found, the_job)
    shown = table(f"Piece {found.mark}", columns, size_rows(found, the_job), right=tuple(range(len(columns) - 1)))
    parts = [shown, *suggestion_lines(found, the_job)]
    if tried:
        rows = nested_rows(tried, the_job)
        parts.append(table("The whole job, nested", NESTED_COLUMNS, rows, right=tuple(range(len(NESTED_COLUMNS) - 1))))
    print_all(parts)


@app.command()
def quote(
    job: JobPath,
    out: Annotated[Path | None, typer.Option("--out", help="PDF to write.", show_default="<number>-quote.pdf")] = None,
    paper: Annotated[Paper | None, typer.Option(help="Paper size.", show_default="the job's, or letter")] = None,
    seed: Seed = None,
    effort: Effort = None,
    seconds: Seconds = None,
    rack: RackFile = None,
    as_json: AsJson = False,
) -> None:
    """For the office: metal, hours, spares, scrap, total, for each square."""
    from fabplan.packet.output.write import quote_file
    from fabplan.plan.file import parts_json
    from fabplan.plan.make import make_plan
    from fabplan.screen.progress import nest_progress
    from fabplan.shop.quote_page import proved_quote, quote_lines, write_quote

    the_job = read(job)
    with interruptible() as should_stop, nest_progress(quiet=as_json) as progress:
        the_plan = make_plan(
            the_job,
            seed=seed,
            effort=effort,
            seconds=seconds,
            progress=progress,
            should_stop=should_stop,
            offers=offered(rack, the_job),
        )
    found = proved_quote(the_plan)
    size = paper.value if paper else the_job.info.paper
    written_to = write_quote(found, the_plan, quote_file(the_job, out), paper_size=size)
    if as_json:
        from fabplan.plan.file import head

        print_json({**head(the_job), "quote": parts_json(found, the_job)})
    else:
        for line in quote_lines(found, the_plan):
            print(line)
        print(f"Quote written to {written_to}")
    refuse_unplanned(the_plan)


@app.command()
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


@app.command()
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


def _add_rack() -> None:
    from fabplan.cli_desk import open_job
    from fabplan.cli_rack import rack_app
    from fabplan.cli_record import record_app, rest
    from fabplan.cli_times import times_app

    app.command("open")(open_job)
    app.add_typer(rack_app, name="rack")
    app.add_typer(record_app, name="record")
    app.command()(rest)
    app.add_typer(times_app, name="times")


_add_rack()


def main(argv: Sequence[str] | None = None) -> None:
    """Entry point: every user fault ends in a plain message and exit 1 or 2, never a traceback."""
    output.prepare()
    interrupt = Interrupt()
    interrupt.install()
    try:
        here()
        app(args=None if argv is None else list(argv))
        status: str | int | None = 0
    except FabplanError as fault:
        say(f"{fault}")
        status = fault.exit_code
    except SystemExit as leaving:
        status = leaving.code
        if status == INTERRUPTED:  # typer turns Ctrl-C into this, without a word
            say(STOPPED)
    except (KeyboardInterrupt, Exception) as fault:
        says = STOPPED if interrupt.struck else output.surroundings_say(fault)
        if not says:
            raise
        say(says)
        status = INTERRUPTED if interrupt.struck else 1
    sys.exit(written(status))


def here() -> None:
    """Refuse to run in a folder that was deleted."""
    try:
        Path.cwd()
    except OSError:
        raise PlanError("The folder this runs in is gone.", help_="Change to another folder and run again.") from None


def written(status: str | int | None) -> str | int | None:
    """The exit code, once everything is written out."""
    try:
        output.flush()
    except BrokenPipeError:  # who read has read enough
        return status or 1
    except (OSError, ValueError) as fault:
        say(output.surroundings_say(fault) or "The output cannot be written.")
        return status or 1
    return status


if __name__ == "__main__":
    main()
