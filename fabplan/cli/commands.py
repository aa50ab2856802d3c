"""The command line: its commands in their order, and what ends a run. The work is done in the rooms, imported when a
command runs."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer

from fabplan.cli import choosing, desk, pieces, planning, rack, record, times
from fabplan.cli.shared import say
from fabplan.errors import FabplanError, PlanError
from fabplan.screen import output
from fabplan.screen.interrupt import Interrupt

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


app.command()(planning.plan)
app.command()(pieces.check)
app.command()(pieces.new)
app.command()(pieces.count)
app.command()(pieces.blanks)
app.command()(planning.nest)
app.command()(pieces.bend)
app.command()(pieces.strips)
app.command()(pieces.draw)
app.command()(pieces.template)
app.command()(pieces.metals)
app.command()(choosing.compare)
app.command("best-size")(choosing.best_size)
app.command()(choosing.quote)
app.command()(planning.prove)
app.command()(planning.diff)
app.command("open")(desk.open_job)
app.add_typer(rack.rack_app, name="rack")
app.add_typer(record.record_app, name="record")
app.command()(record.rest)
app.add_typer(times.times_app, name="times")


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
