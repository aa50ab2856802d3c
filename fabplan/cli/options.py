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
