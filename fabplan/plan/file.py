"""The plan as data: `plan.json`, and what every command prints with `--json`.

Numbers are in the job's units (in, in², lb, or mm, mm², kg). The form of each part follows from its type
(`fabplan.plan.codec`); the whole is described in ``docs/plan.schema.json``.
"""

from __future__ import annotations

import json
import stat
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import fabplan
from fabplan.bending.model import BendSchedule, Round, Unbent
from fabplan.blanks.model import FlatPattern
from fabplan.errors import JobError
from fabplan.job.model import Job, RackStock
from fabplan.nesting.model import CutPlan
from fabplan.nesting.remarks import Uncut
from fabplan.plan.codec import form_of, read_as, written
from fabplan.plan.forms import Data, Scale, UnfitError
from fabplan.plan.model import BuyLine, CutElsewhere, JobShare, Lift, Plan, StationTime, StockLot
from fabplan.quantities import Nanometres
from fabplan.roof.model import RoofPlan
from fabplan.units import NM_PER_INCH, NM_PER_MM, Units

SCHEMA = 2  # rises once a release in which a field changes
MOST_BYTES = 100_000_000
WRITE = "the plan.json of a packet"
_plain = json.JSONEncoder(ensure_ascii=False, allow_nan=False).encode


@dataclass(frozen=True, slots=True, kw_only=True)
class JobName:
    """Which job a plan is of; revision and date are empty when the job gives none."""

    name: str
    number: str
    revision: str
    date: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanFile:
    """A saved plan. `round_to` is the shop's graduation; parts a job does not have are null or empty.

    `left_out` are the blanks of pieces that cannot be bent, or cut, neither cut nor counted.
    """

    schema: int
    fabplan: str
    units: Units
    round_to: Nanometres
    job: JobName
    stopped_early: bool
    blanks: tuple[FlatPattern, ...]
    nesting: CutPlan | None
    bending: tuple[BendSchedule, ...]
    unbent: tuple[Unbent, ...]
    uncut: tuple[Uncut, ...]
    left_out: tuple[FlatPattern, ...]
    roof: RoofPlan | None
    buy: tuple[BuyLine, ...]
    handling: tuple[Lift, ...]
    hours: tuple[StationTime, ...]
    in_stock: tuple[StockLot, ...]
    shares: tuple[JobShare, ...]
    cut_in: CutElsewhere | None
    setups: tuple[Round, ...]


def scale_of(job: Job, cut_plan: CutPlan | None = None) -> Scale:
    """The scale of a job's numbers, and of a cut plan's costs."""
    objective = "money" if cut_plan is None else cut_plan.objective
    return Scale(job.info.units, int(job.info.round_to), objective)


def head(job: Job, *, stopped_early: bool = False) -> Data:
    """Schema, version, units and job, first in every answer."""
    info = job.info
    return {
        "schema": SCHEMA,
        "fabplan": fabplan.__version__,
        "units": info.units,
        "round_to": form_of(Nanometres).write(info.round_to, scale_of(job)),
        "job": {"name": info.name, "number": info.number, "revision": info.revision, "date": info.date},
        "stopped_early": stopped_early,
    }


def plan_json(plan: Plan) -> Data:
    """The whole plan, as `PlanFile` says."""
    info = plan.job.info
    whole = PlanFile(
        schema=SCHEMA,
        fabplan=fabplan.__version__,
        units=info.units,
        round_to=int(info.round_to),
        job=JobName(name=info.name, number=info.number, revision=info.revision, date=info.date),
        stopped_early=plan.cut_plan is not None and plan.cut_plan.stopped_early,
        blanks=plan.patterns,
        nesting=plan.cut_plan,
        bending=plan.schedules,
        unbent=plan.unbent,
        uncut=plan.uncut,
        left_out=plan.left_out,
        roof=plan.roof,
        buy=plan.buy,
        handling=plan.lifts,
        hours=plan.hours,
        in_stock=in_stock(plan.job),
        shares=plan.shares,
        cut_in=plan.cut_in,
        setups=plan.setups,
    )
    data: Data = written(whole, scale_of(plan.job, plan.cut_plan))
    return data


def in_stock(job: Job) -> tuple[StockLot, ...]:
    """Lines of a job of which the rack's file says how much is on hand."""
    return tuple(
        StockLot(
            stock=line.name, length=line.on_hand.length, count=line.on_hand.count, lots=line.pieces, coils=line.coils
        )
        for line in job.stock
        if isinstance(line, RackStock) and line.form != "offcut" and line.on_hand is not None
    )


def plan_text(data: Any, *, _in: str = "") -> str:
    """Data as text: a line a key, and a list of plain values (points, marks) on one line."""
    rows: list[str]
    if isinstance(data, dict) and data:
        ends = "{}"
        rows = [f"{_plain(k)}: {plan_text(v, _in=_in + ' ')}" for k, v in data.items()]
    elif isinstance(data, list) and any(isinstance(v, dict) for v in data):
        ends = "[]"
        rows = [plan_text(v, _in=_in + " ") for v in data]
    else:
        return _plain(data)
    inside = f",\n{_in} ".join(rows)
    return f"{ends[0]}\n{_in} {inside}\n{_in}{ends[1]}"


def parts_json(parts: Any, job: Job, cut_plan: CutPlan | None = None) -> Any:
    """Any result of a job, or several, as the plan file says them."""
    return written(parts, scale_of(job, cut_plan))


def read_plan(path: Path) -> Data:
    """The saved plan as data, of this schema.

    Raises
    ------
    JobError
        Not a readable plan.json, larger than 100 MB, or of another schema.
    """
    name = str(path)
    if path.suffix != ".json":
        raise JobError("a saved plan is a file ending in .json", file=name, write=WRITE)
    try:
        kind = path.stat()
        if not stat.S_ISREG(kind.st_mode):  # a pipe would wait for ever, a device never end
            raise JobError("the file cannot be read (this is not an ordinary file)", file=name, write=WRITE)
        if kind.st_size > MOST_BYTES:
            raise JobError(f"the file is too large for a plan (at most {MOST_BYTES // 1_000_000} MB)", file=name)
        data = json.loads(path.read_text(encoding="utf-8"), parse_constant=_no_constant)
    except FileNotFoundError:
        raise JobError("there is no such file", file=name, write=WRITE) from None
    except OSError as fault:
        raise JobError(f"the file cannot be read ({fault.strerror})", file=name) from None
    except (ValueError, RecursionError):
        raise JobError("the file is not a plan: it is not valid JSON", file=name, write=WRITE) from None
    if not isinstance(data, dict) or "fabplan" not in data or not isinstance(data.get("job"), dict):
        raise JobError("the file is not a plan written by fabplan", file=name, write=WRITE)
    if type(data.get("schema")) is not int or data["schema"] != SCHEMA:
        raise JobError(
            f"this fabplan reads plans of schema {SCHEMA}, and this is one of another fabplan",
            file=name,
            key="schema",
            value=data.get("schema", "none"),
            write="a plan.json made again with fabplan plan",
        )
    if data.get("units") not in ("in", "mm"):
        raise JobError("the plan's units are neither in nor mm", file=name, key="units")
    return data


def _no_constant(word: str) -> float:
    raise ValueError(word)


def saved(data: Data) -> PlanFile:
    """The plan a file's data say.

    Raises
    ------
    JobError
        Something is missing, does not belong, or is of the wrong kind; the fault names the place.
    """
    units = data.get("units")
    nest = data.get("nesting")
    objective = nest.get("objective") if isinstance(nest, dict) else None
    try:
        grid = form_of(Nanometres).read(data.get("round_to"), Scale(str(units), 1))
        if not 0 < grid < 10 * (NM_PER_MM if units == "mm" else NM_PER_INCH):
            raise UnfitError("the graduation is out of range")
        return read_as(PlanFile, data, Scale(str(units), grid, str(objective)))
    except UnfitError as fault:
        raise JobError(
            f"the saved plan is not complete or has a value of the wrong kind: {fault.place}: {fault}",
            write="a plan.json as fabplan wrote it",
        ) from None


def plan_schema() -> Data:
    """JSON schema of plan.json (draft 2020-12)."""
    defs: Data = {}
    root = form_of(PlanFile).schema(defs)
    defs["PlanFile"]["properties"]["schema"] = {"const": SCHEMA}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": f"plan.json, schema {SCHEMA}",
        **root,
        "$defs": dict(sorted(defs.items())),
    }


def main() -> None:
    """Print the schema: ``python -m fabplan.plan.file > docs/plan.schema.json``."""
    print(json.dumps(plan_schema(), ensure_ascii=False, indent=1))


if __name__ == "__main__":
    main()
