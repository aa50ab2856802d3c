"""`fabplan open`: one thin function."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from fabplan.screen import complete


def open_job(
    job: Annotated[
        Path,
        typer.Argument(
            metavar="JOB",
            help="Job file (.toml); begun when it is not there.",
            show_default=False,
            autocompletion=complete.job_files,
        ),
    ],
    port: Annotated[int, typer.Option(min=0, max=65_535, help="Port.", show_default="any free one")] = 0,
    browser: Annotated[bool, typer.Option("--browser/--no-browser", help="Open the browser on it.")] = True,
) -> None:
    """The desk: the job as a page in the browser of this machine, drawn as it is typed, planned and printed."""
    from fabplan.desk.serve import serve

    serve(job, port, browser=browser)
