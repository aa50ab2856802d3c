"""Options and arguments that several commands share: each is written, and helped, once."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from fabplan.screen import complete


class Paper(StrEnum):
    """Paper of what is printed."""

    letter = "letter"
    a4 = "a4"


JobPath = Annotated[
    Path, typer.Argument(metavar="JOB", help="Job file (.toml).", show_default=False, autocompletion=complete.job_files)
]
JobFiles = Annotated[
    list[Path],
    typer.Option(
        "--job",
        metavar="JOB",
        help="Its job file; of a shear run for several jobs each of them.",
        show_default=False,
        autocompletion=complete.job_files,
    ),
]
PlanFile = Annotated[
    Path,
    typer.Argument(metavar="PLAN.json", help="Saved plan.", show_default=False, autocompletion=complete.plan_files),
]
PlanPath = Annotated[
    Path | None, typer.Option("--plan", metavar="PLAN.json", help="Saved plan.", show_default="the packet's")
]
AsJson = Annotated[bool, typer.Option("--json", help="Print JSON on standard output, nothing else.")]
