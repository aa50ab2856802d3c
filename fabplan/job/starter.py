"""A starter job: a dozen live lines, the rest commented with their defaults.

A line that begins with ``#`` shows a default, one with ``##`` an example. Defaults and their meaning are taken from the
models, so the starter cannot say anything else than what fabplan does.
"""

from __future__ import annotations

import os
from contextlib import suppress
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

from pydantic import BaseModel

from fabplan.errors import JobError
from fabplan.job import defaults
from fabplan.job.model import Brake, HemTool, JobInfo, LabourTimes, NestOptions, Shear
from fabplan.job.values import Spare

_LIVE_JOB = """\
[job]
name = "First job"
number = "1"
"""
_LIVE_REST = """\
[metal]
use = "copper-16oz"               # `fabplan metals` lists the profiles; or a path to your own

[[piece]]
mark = "A"
kind = "diamond"              # starter, ridge-half, rake-left, rake-right, flat-seam, rectangle, disc, outline,
                                  # section, apex-cap, opening-set
count = 40
side = "10 in"                    # finished, outside of fold to outside of fold
hem = "3/4 in"
# top_angle = 90
# hem_gap = "1/16 in"             # opening inside the hems; no less than the metal's thickness
# allowance = "computed"          # "plain": a fold takes its width
# grain = "any"

## [[piece]]
## mark = "S"
## kind = "starter"
## for = "A"
## count = 8
## hooks = "D"

## [[piece]]
## mark = "D"
## kind = "section"
## count = 4
## length = "48 in"
## legs = ["3/4 in", "2-1/2 in", "3 in"]
## bends = [90, -45]
## end_hem = {width = "1/2 in", toward = "back", gap = "1/16 in"}

[[stock]]
name = "coil 24"
form = "coil"                     # coil, sheet or offcut; sheet and offcut also take length
width = "24 in"
# longest_cut_off = "120 in"
# trim_each_edge = "0 in"
# grain = "along"
## on_hand = "250 ft"
## price = "9.40 per lb"
"""
_EXAMPLES = {
    "keep_at_least": '"6 x 12 in"',
    "scrap_price": '"3.10 per lb"',
    "revision": '"A"',
    "date": '"2026-05-01"',
    "currency": '"USD"',
    "rate": "60",
}
_HEAD = """\
# A fabplan job. Lengths as you write them: "14-1/2 in", "1 ft 2-1/2 in", "368.3 mm".
# One # before a key: its default, change it and take the # away. Two: an example.

## shop = "shop.toml"             # stock, prices and tools that several jobs share

"""


def starter_text() -> str:
    """The starter job file."""
    parts = [
        _HEAD,
        _LIVE_JOB,
        *_keys(JobInfo, {key: pair[0] for key, pair in defaults.JOB.items()}, leave=("name", "number")),
        "\n",
        _LIVE_REST,
        "\n# [shear]\n",
        *_keys(Shear, {key: pair[0] for key, pair in defaults.SHEAR.items()}, leave=("kerf",)),
        "\n# [nest]\n",
        *_keys(NestOptions, defaults.NEST, leave=("open_stacks",)),
        "\n# [labour]                       # common practice, no source: write your own times\n",
        *_keys(LabourTimes, defaults.LABOUR, leave=()),
        "\n# [brake]                        # common practice, no source: measure your own\n",
        *_keys(Brake, defaults.BRAKE, leave=("measured_allowance", "assumed")),
    ]
    for tool in defaults.HEM_TOOLS:
        parts += ["\n# [[hem_tool]]\n", *_keys(HemTool, tool, leave=())]
    folder = _keys(HemTool, defaults.BAR_FOLDER, leave=())
    parts += ["\n## A bar folder set to any depth makes a straight hem in one stroke. Used only where it is listed.\n"]
    parts += ["## [[hem_tool]]\n", *(f"#{line}" if not line.startswith("##") else line for line in folder)]
    return "".join(parts)


def write_starter(path: str | os.PathLike[str]) -> None:
    """Write the starter job to a new file.

    Raises
    ------
    JobError
        The file is there already, or cannot be written.
    """
    shown = os.fspath(path)
    text = starter_text()
    made = False
    try:
        with Path(path).open("x", encoding="utf-8", newline="\n") as stream:
            made = True
            stream.write(text)
    except FileExistsError:
        raise JobError("is there already and is left as it is", file=shown, write="another file name") from None
    except (OSError, ValueError) as fault:
        if made:  # a full disk: no empty file that the next run would refuse
            with suppress(OSError):
                Path(path).unlink()
        reason = os.strerror(fault.errno) if isinstance(fault, OSError) and fault.errno else "not a file name"
        raise JobError(f"cannot be written: {reason.lower()}", file=shown) from None


def _keys(model: type[BaseModel], given: dict[str, Any], leave: tuple[str, ...]) -> list[str]:
    lines = []
    for key, info in model.model_fields.items():
        if key in leave:
            continue
        default = given.get(key, info.default)
        if default in (None, ""):
            if key not in _EXAMPLES:
                continue
            left = f"## {key} = {_EXAMPLES[key]}"
        else:
            left = f"# {key} = {_toml(default)}"
        lines.append(f"{left:<33} # {info.description}\n")
    return lines


def _toml(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Spare):
        return '"0 %"'
    if isinstance(value, (tuple, list)):
        return "[" + ", ".join(_toml(item) for item in value) + "]"
    if isinstance(value, (float, Decimal, Fraction)):
        return f"{float(value):g}"
    return f'"{value}"' if isinstance(value, str) else str(value)
