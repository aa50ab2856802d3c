"""`fabplan rack`: one thin function a command."""

from __future__ import annotations

import sys
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from fabplan.cli.options import AsJson, JobFiles, Paper, PlanFile
from fabplan.screen import complete


class Units(StrEnum):
    """Units of bare numbers."""

    inch = "in"
    mm = "mm"


class RackForm(StrEnum):
    """What is put into stock."""

    offcut = "offcut"
    coil = "coil"
    sheet = "sheet"


rack_app = typer.Typer(
    help="Stock: coils, sheets, and offcuts kept for later jobs.",
    no_args_is_help=True,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)
Rack = Annotated[
    Path,
    typer.Argument(metavar="RACK.db", help="Rack file.", show_default=False, autocompletion=complete.rack_files),
]


@rack_app.command("add")
def rack_add(
    rack: Rack,
    metal: Annotated[
        str,
        typer.Argument(help="Metal profile, e.g. copper-16oz.", show_default=False, autocompletion=complete.metals),
    ],
    size: Annotated[str, typer.Argument(help='Width x length, e.g. "8 x 30-1/2 in".', show_default=False)],
    count: Annotated[int, typer.Option(min=1, max=10_000, help="How many alike.")] = 1,
    grain: Annotated[str, typer.Option(help="Rolling direction: along or across the length.")] = "along",
    note: Annotated[str, typer.Option(help="A note for the label.")] = "",
    form: Annotated[RackForm, typer.Option(help="What it is; of a coil SIZE is its width alone.")] = RackForm.offcut,
    there: Annotated[
        str, typer.Option("--there", help='How much of a coil there is, e.g. "120 ft".', show_default=False)
    ] = "",
    units: Annotated[
        Units | None, typer.Option(help="Units of bare numbers.", show_default="the rack's last, or in")
    ] = None,
) -> None:
    """Put offcuts, a coil or sheets into stock; makes the file when it is not there."""
    if form is not RackForm.offcut:
        from fabplan.shop.counter import add_stock

        number = add_stock(
            rack, form=form.value, metal=metal, size=size, there=there, count=count, grain=grain, note=note, units=units
        )
        print(f"In stock: lot {number}")
        return
    from fabplan.shop.counter import add_piece

    ids = add_piece(rack, metal=metal, size=size, count=count, grain=grain, note=note, units=units)
    print("On the rack: " + ", ".join(str(i) for i in ids))


@rack_app.command("list")
def rack_list(rack: Rack, as_json: AsJson = False) -> None:
    """What is there, set aside and used."""
    from fabplan.shop import counter
    from fabplan.shop.lots import lots, takings
    from fabplan.shop.rack import damage_says, look

    there, damage = look(rack)
    if damage is not None:
        print(damage_says(rack, damage), file=sys.stderr)
    stock, taken = ((), ()) if damage is not None else (lots(rack), takings(rack))
    if as_json:
        from fabplan.screen.output import json_text

        print(json_text({**counter.rack_data(there), **counter.stock_data(stock, taken)}))
        return
    from fabplan.screen.tables import print_all, table

    held = {t.piece: t.job for t in taken if t.state == "reserved"}
    parts = [table(str(rack), counter.RACK_COLUMNS, counter.rack_rows(there, held), right=(0,))]
    if stock:
        parts.append(table("Coils and sheets", counter.LOT_COLUMNS, counter.lot_rows(stock), right=(0, 5, 6, 7)))
    if taken:
        parts.append(table("Set aside and used", counter.TAKEN_COLUMNS, counter.taken_rows(taken, stock, there)))
    print_all(parts)


@rack_app.command("label")
def rack_label(
    rack: Rack,
    out: Annotated[Path, typer.Option("--out", help="PDF to write.")] = Path("rack-labels.pdf"),
    ids: Annotated[
        list[int] | None, typer.Option("--id", help="Only this piece; repeat for more.", show_default=False)
    ] = None,
    paper: Annotated[Paper, typer.Option(help="Paper size.")] = Paper.letter,
) -> None:
    """Printable labels with number, size and metal."""
    from fabplan.shop.labels import write_labels

    print(f"Labels written to {write_labels(rack, out, ids=ids, paper=paper.value)}")


@rack_app.command("use")
def rack_use(rack: Rack, plan_file: PlanFile, job: JobFiles) -> None:
    """Prove a plan and book it: what it uses leaves the stock, offcuts it keeps enter, once."""
    from fabplan.job.load import load_job
    from fabplan.shop.booking import book_file

    done = book_file(rack, plan_file, [load_job(path) for path in job])
    taken = ", ".join(map(str, done.taken)) or "none"
    kept = ", ".join(map(str, done.kept)) or "none"
    print(f"Booked. Off the rack: {taken}. Onto the rack: {kept}.")


@rack_app.command("reserve")
def rack_reserve(rack: Rack, plan_file: PlanFile, job: JobFiles) -> None:
    """Prove a plan and set its metal aside, so that no other plan counts it."""
    from fabplan.job.load import load_job
    from fabplan.shop.booking import book_file

    jobs = [load_job(path) for path in job]
    book_file(rack, plan_file, jobs, only_reserve=True)
    print("Set aside. fabplan rack use books it when it is cut; fabplan rack release gives it back.")


@rack_app.command("release")
def rack_release(
    rack: Rack, number: Annotated[str, typer.Argument(metavar="NUMBER", help="Job number.", show_default=False)]
) -> None:
    """Give back what is set aside for a job."""
    from fabplan.shop.lots import release

    print(f"Given back: {release(rack, number)}.")


@rack_app.command("drop")
def rack_drop(
    rack: Rack,
    ids: Annotated[list[int], typer.Argument(metavar="ID...", show_default=False)],
    lot: Annotated[bool, typer.Option("--lot", help="The numbers are of coils and sheets.")] = False,
) -> None:
    """Take pieces off by hand."""
    from fabplan.shop.lots import drop_lot
    from fabplan.shop.rack import drop

    if lot:
        for number in ids:
            drop_lot(rack, number)
        print("Out of stock: lot " + ", ".join(str(i) for i in ids))
        return

    drop(rack, ids)
    print("Off the rack: " + ", ".join(str(i) for i in ids))


@rack_app.command("rescue")
def rack_rescue(
    rack: Rack, fresh: Annotated[Path, typer.Argument(metavar="NEW.db", help="Rack to make.", show_default=False)]
) -> None:
    """Move what can be proved of a damaged rack to a new one."""
    from fabplan.shop.rack import rescue

    print(f"{rescue(rack, fresh)} pieces are on {fresh}. Compare them with the metal itself.")
