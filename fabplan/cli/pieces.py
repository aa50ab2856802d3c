"""`fabplan check`, `new` and the commands that show one stage: counts, blanks, folds, drawings, metals."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from fabplan.cli.options import (
    AsJson,
    Effort,
    JobPath,
    Paper,
    Seconds,
    Seed,
)
from fabplan.cli.shared import (
    interruptible,
    known_mark,
    print_json,
    read,
    refuse_unbent,
    say,
)
from fabplan.errors import FabplanError, JobError
from fabplan.screen import complete

if TYPE_CHECKING:
    pass


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


def new(file: Annotated[Path, typer.Argument(metavar="FILE", help="Job file to write.")]) -> None:
    """Write a starter job file."""
    from fabplan.job.starter import write_starter

    write_starter(file)
    print(f"Starter job written to {file}. Next: fabplan plan {file}")


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
