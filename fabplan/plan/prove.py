"""`fabplan prove`: a saved plan against its job file, by the same checkers that ran when it was made.

Blanks and the roof are worked out again from the job and must be said in the file word for word; the cut plan and the
bend schedules are read back from the file and proved by their checkers, and must be said as the program says them;
the proven least is worked out again; the buying list and the weights must follow.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

from fabplan.bending.model import BendSchedule
from fabplan.errors import JobError
from fabplan.job.model import Job
from fabplan.nesting.model import CutPlan
from fabplan.plan.buy import buying_list
from fabplan.plan.from_json import Data, Reader, grid_of, rack_stock, read_cut_plan, read_plan, read_schedule, shaped
from fabplan.plan.handling import heavy_notes, lifts, show_of
from fabplan.plan.make import make_pieces
from fabplan.plan.model import Plan
from fabplan.plan.prove_cuts import (
    bound_faults,
    box_faults,
    label_faults,
    program_faults,
    proven_least,
    rival_faults,
    word_faults,
)
from fabplan.plan.to_json import bending_json, blank_json, buy_json, head, lift_json, nesting_json, scale_of

ROUNDED = 2e-6  # six decimals, rounded on another machine
KEYS = ("blanks", "nesting", "bending", "roof", "buy", "handling", "notes")


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """Faults found, by stage; a stage with none is proved."""

    stages: tuple[tuple[str, tuple[str, ...]], ...]

    @property
    def ok(self) -> bool:
        """Whether every stage is proved."""
        return not any(faults for _, faults in self.stages)

    def lines(self) -> list[str]:
        """The proof in words, a line a stage and a fault."""
        out = []
        for stage, faults in self.stages:
            out.append(f"{stage}: {'proved' if not faults else 'NOT proved'}")
            out += [f"  {fault}" for fault in faults[:20]]
            if len(faults) > 20:
                out.append(f"  and {len(faults) - 20} more")
        out.append("The plan is proved." if self.ok else "The plan is NOT proved: do not cut by it.")
        return out

    def data(self) -> Data:
        """The proof as data."""
        return {"proved": self.ok, "stages": [{"stage": s, "faults": list(f)} for s, f in self.stages]}


class Given:
    """What a job alone gives, worked out once: its pieces, what the file must say of them, and the proven least."""

    def __init__(self, job: Job) -> None:
        from fabplan.bending.schedule import schedule_all

        self.job = job
        self.scale = scale_of(job)
        self.pieces = make_pieces(job)
        self.folded = tuple(p for p in self.pieces.patterns if p.folds)
        self.blanks = [blank_json(p, self.scale) for p in self.pieces.patterns]
        self.roof: Data = {"slopes": [], "courses": [], "kits": []}
        if self.pieces.roof is not None:
            from fabplan.roof.to_json import roof_json

            self.roof = roof_json(self.pieces.roof, job.info.units)
        schedules = schedule_all(self.folded, job, self.pieces.metals)
        self.bending = [bending_json(b, self.scale) for b in schedules]
        self._least: dict[str, Fraction] = {}
        self._replayed: dict[str, list[str]] = {}

    def replay(self, schedules: tuple[BendSchedule, ...]) -> list[str]:
        """Faults of schedules folded stroke by stroke; the same ones are replayed once."""
        from fabplan.bending.check.whole import check_schedules

        key = repr(schedules)
        if key not in self._replayed:
            self._replayed[key] = check_schedules(schedules, self.folded, self.job, self.pieces.metals)
        return self._replayed[key]

    def least(self, job: Job) -> Fraction:
        """The proven least of the job, with the stock of a rack if it has any."""
        key = repr(job.stock)
        if key not in self._least:
            self._least[key] = proven_least(self.pieces.patterns, job, self.pieces.metals)
        return self._least[key]


def prove_file(path: Path, job: Job, given: Given | None = None) -> Proof:
    """Prove a saved plan file against its job.

    Raises
    ------
    JobError
        The file is not a readable plan, or is of another job.
    """
    data = read_plan(path)
    if data["units"] != job.info.units:
        raise JobError("the plan is in other units than the job", file=str(path), key="units", value=data["units"])
    return prove(data, job, given)


def prove(data: Data, job: Job, given: Given | None = None) -> Proof:
    """Prove a saved plan's data against its job; `given` spares working it out again for plans of the same job."""
    given = given or Given(job)
    stages: list[tuple[str, tuple[str, ...]]] = []
    pieces, scale = given.pieces, given.scale
    early = data.get("stopped_early") is True
    expected_head = head(job, stopped_early=early)
    extra = [f"{key} does not belong" for key in data if key not in (*expected_head, *KEYS)]
    said = {k: data[k] for k in expected_head if k in data}
    stages.append(("job", (*_differences(said, expected_head, ""), *extra)))
    stages.append(("blanks", _differences(data.get("blanks"), given.blanks, "blanks")))
    stages.append(("roof", _differences(data.get("roof"), given.roof, "roof")))

    r = Reader(data, grid_of(job))
    cut_plan = None
    if data.get("nesting") is not None:
        racked = shaped(lambda: rack_stock(data, r))
        job = job.model_copy(update={"stock": (*job.stock, *racked)})
        cut_plan = shaped(lambda: read_cut_plan(r))
        stages.append(("cut plan", (*r.faults, *_nest_faults(data, cut_plan, given, job))))
    elif job.stock:
        stages.append(("cut plan", ("the plan has no cut plan and the job has stock",)))

    schedules = shaped(lambda: tuple(read_schedule(r, d) for d in data["bending"]))
    bend_faults = shaped(lambda: given.replay(schedules))
    stages.append(("bend schedules", (*bend_faults, *_differences(data["bending"], given.bending, "bending"))))

    if any(faults for stage, faults in stages if stage == "cut plan"):
        stages += [(stage, ("it rests on the cut plan",)) for stage in ("buying list", "weights", "notes")]
        return Proof(stages=tuple(stages))
    plan = Plan(
        job=job,
        metals=pieces.metals,
        patterns=pieces.patterns,
        cut_plan=cut_plan,
        schedules=schedules,
        roof=pieces.roof,
    )
    buy = [buy_json(line, scale) for line in buying_list(plan)]
    stages.append(("buying list", _differences(data.get("buy"), buy, "buy")))
    handled = lifts(plan)
    weights = [lift_json(item, scale) for item in handled]
    stages.append(("weights", _differences(data.get("handling"), weights, "handling")))
    stages.append(("notes", _differences(data.get("notes"), list(heavy_notes(handled, show_of(job))), "notes")))
    return Proof(stages=tuple(stages))


def _nest_faults(data: Data, cut_plan: CutPlan, given: Given, job: Job) -> list[str]:
    """Faults of a saved cut plan; later proofs rest on the earlier ones."""
    from fabplan.nesting.check.whole import check_plan

    patterns, metals = given.pieces.patterns, given.pieces.metals
    faults = shaped(lambda: check_plan(cut_plan, patterns, job, metals))
    if not faults:
        faults += rival_faults(cut_plan, job) + program_faults(cut_plan, job) + label_faults(cut_plan)
        faults += word_faults(cut_plan, job) + box_faults(cut_plan)
        again = shaped(lambda: nesting_json(cut_plan, given.scale, job, metals))
        faults += _differences(data["nesting"], again, "nesting")
    if not faults:
        faults += bound_faults(cut_plan, given.least(job))
    return faults


def _differences(found: Any, wanted: Any, where: str) -> tuple[str, ...]:
    """Places where the file says something else than the job gives, by key path."""
    if isinstance(wanted, dict) and isinstance(found, dict):
        out: list[str] = []
        for key in dict.fromkeys([*wanted, *found]):
            path = f"{where}.{key}" if where else str(key)
            if key not in found:
                out.append(f"{path} is missing")
            elif key not in wanted:
                out.append(f"{path} does not belong")
            else:
                out += _differences(found[key], wanted[key], path)
        return tuple(out)
    if isinstance(wanted, list) and isinstance(found, list):
        if len(found) != len(wanted):
            return (f"{where} has {len(found)} entries, the job gives {len(wanted)}",)
        out = []
        for i, (f, w) in enumerate(zip(found, wanted, strict=True)):
            out += _differences(f, w, f"{where}[{i}]")
        return tuple(out)
    # True == 1 in Python, not on a page.
    same = type(found) is type(wanted) or {type(found), type(wanted)} <= {int, float}
    if same and (found == wanted or (isinstance(wanted, float) and abs(found - wanted) <= ROUNDED)):
        return ()
    return (f"{where} is {_short(found)}, the job gives {_short(wanted)}",)


def _short(value: Any) -> str:
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "..."
