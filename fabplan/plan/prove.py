"""`fabplan prove`: a saved plan against its job file, by the same checkers that ran when it was made.

Blanks and the roof are worked out again from the job and must be said in the file word for word; the cut plan and the
bend schedules are read back from the file and proved by their checkers, and must be said as the program says them;
the proven least is worked out again; the buying list and the weights must follow.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import Any, TypeVar

from fabplan.bending.model import BendSchedule
from fabplan.blanks.model import FlatPattern
from fabplan.errors import JobError
from fabplan.job.model import Job, RackStock, Stock
from fabplan.job.values import OnHand
from fabplan.nesting.model import CutPlan
from fabplan.plan.buy import buying_list
from fabplan.plan.check_buy import check_buy
from fabplan.plan.check_handling import check_handling
from fabplan.plan.check_hours import check_hours
from fabplan.plan.check_setups import check_setups
from fabplan.plan.file import PlanFile, head, parts_json, read_plan, saved
from fabplan.plan.forms import Data
from fabplan.plan.handling import lifts
from fabplan.plan.make import Pieces, in_place, make_pieces, to_fold, uncut_blanks
from fabplan.plan.model import Plan
from fabplan.plan.prove_cuts import (
    bound_faults,
    box_faults,
    label_faults,
    program_faults,
    rival_faults,
)
from fabplan.units import Nm

ROUNDED = 2e-6  # six decimals, rounded on another machine
T = TypeVar("T")


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

    def __init__(self, job: Job, pieces: Pieces | None = None) -> None:
        from fabplan.bending.schedule import schedule_all

        self.job = job
        self.pieces = make_pieces(job) if pieces is None else pieces
        job = self.job = self.pieces.job
        self.folded = tuple(p for p in self.pieces.patterns if p.folds and to_fold(p, job))
        self.roof = parts_json(self.pieces.roof, job)
        bends = schedule_all(self.folded, job, self.pieces.metals)
        self.bends = bends
        self.unbent_marks = {u.mark for u in bends.unbent}
        self._least: dict[str, Fraction] = {}
        self._replayed: dict[str, list[str]] = {}

    def replay(self, schedules: tuple[BendSchedule, ...], uncut: Collection[str]) -> list[str]:
        """Faults of schedules folded stroke by stroke; the same ones are replayed once. `uncut` are not folded."""
        from fabplan.bending.check.whole import check_schedules

        key = repr((sorted(uncut), schedules))
        if key not in self._replayed:
            folded = tuple(p for p in self.folded if p.mark not in uncut)
            self._replayed[key] = check_schedules(
                schedules, folded, self.job, self.pieces.metals, sorted(self.unbent_marks - set(uncut))
            )
        return self._replayed[key]

    def cut(self, left_out: bool, uncut: Collection[str]) -> tuple[FlatPattern, ...]:
        """What is cut: everything that can be, or all but what cannot be bent either."""
        lost = {*uncut, *(self.unbent_marks if left_out else ())}
        return tuple(p for p in self.pieces.patterns if p.mark not in lost)

    def least(self, job: Job, patterns: tuple[FlatPattern, ...]) -> Fraction:
        """The proven least of the job's blanks that are cut, with the stock of a rack if it has any."""
        from fabplan.nesting.nest import proven_least

        key = repr((job.stock, [p.mark for p in patterns]))
        if key not in self._least:
            self._least[key] = proven_least(patterns, job, self.pieces.metals)
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
    pieces = given.pieces
    said = saved(data)
    if said.round_to != int(job.info.round_to):
        raise JobError("the plan is on another graduation than the job", key="round_to", value=data["round_to"])
    expected = head(job, stopped_early=said.stopped_early)
    stages.append(("job", _differences({k: data[k] for k in expected}, expected, "")))
    racked = () if said.nesting is None else rack_stock(said.nesting)
    stocked = job.model_copy(update={"stock": in_place(lots_stock(job, said), racked)})
    uncut = uncut_blanks(stocked, pieces)
    lost = {u.mark for u in uncut}
    patterns = given.cut(_without_unbent(said, given), lost)
    left_out = tuple(p for p in pieces.patterns if p not in patterns)
    blank_faults = _differences(data["blanks"], parts_json(patterns, job), "blanks")
    blank_faults += _differences(data["left_out"], parts_json(left_out, job), "left_out")
    blank_faults += _differences(data["uncut"], parts_json(uncut, job), "uncut")
    stages.append(("blanks", blank_faults))
    stages.append(("roof", _differences(data["roof"], given.roof, "roof")))

    if said.nesting is not None:
        twice = sorted({line.name for line in job.stock} & {line.name for line in racked})
        own = [f"{_short(name)} is a line of the job's own stock, not of a rack" for name in twice]
        job = stocked
        stages.append(("cut plan", tuple(own or _nest_faults(data, said, said.nesting, given, job))))
    elif said.cut_in is not None:
        stages.append(("cut plan", ()))  # that of the run, proved with all its jobs
    elif job.stock and patterns:
        stages.append(("cut plan", ("the plan has no cut plan and the job has stock",)))

    bend_faults = shaped(lambda: given.replay(said.bending, lost))
    bends = tuple(s for s in given.bends.schedules if s.mark not in lost)
    unbent = tuple(u for u in given.bends.unbent if u.mark not in lost)
    stages.append(
        (
            "bend schedules",
            (
                *bend_faults,
                *_differences(data["bending"], parts_json(bends, job), "bending"),
                *_differences(data["unbent"], parts_json(unbent, job), "unbent"),
            ),
        )
    )

    if any(faults for stage, faults in stages if stage == "cut plan"):
        stages += [(stage, ("it rests on the cut plan",)) for stage in ("buying list", "weights", "set-ups", "hours")]
        return Proof(stages=tuple(stages))
    plan = Plan(
        job=job,
        metals=pieces.metals,
        patterns=patterns,
        cut_plan=said.nesting,
        schedules=said.bending,
        unbent=said.unbent,
        uncut=uncut,
        left_out=left_out,
        roof=pieces.roof,
    )
    faults = shaped(lambda: check_buy(said.buy, said.nesting, job, pieces.metals))
    faults += _differences(data["buy"], parts_json(buying_list(plan), job), "buy")
    stages.append(("buying list", tuple(faults)))
    faults = shaped(lambda: check_handling(said.handling, said.nesting, patterns, pieces.roof, job, pieces.metals))
    faults += _differences(data["handling"], parts_json(lifts(plan), job), "handling")
    stages.append(("weights", tuple(faults)))
    timed = replace(plan, hours=said.hours, setups=said.setups)
    told = _differences(data["setups"], parts_json(said.setups, job), "setups")
    stages.append(("set-ups", (*shaped(lambda: check_setups(timed)), *told)))
    hours = shaped(lambda: check_hours(timed))
    stages.append(("hours", (*hours, *_differences(data["hours"], parts_json(said.hours, job), "hours"))))
    return Proof(stages=tuple(stages))


def _without_unbent(said: PlanFile, given: Given) -> bool:
    """Whether the file leaves out what cannot be bent."""
    return any(p.mark in given.unbent_marks for p in said.left_out)


def _nest_faults(data: Data, said: PlanFile, cut_plan: CutPlan, given: Given, job: Job) -> list[str]:
    """Faults of a saved cut plan; later proofs rest on the earlier ones."""
    from fabplan.nesting.check.whole import check_plan

    lost = {u.mark for u in uncut_blanks(job, given.pieces)}
    patterns, metals = given.cut(_without_unbent(said, given), lost), given.pieces.metals
    if said.stopped_early != cut_plan.stopped_early:
        return ["whether it was stopped early is said in two ways"]
    faults = shaped(lambda: check_plan(cut_plan, patterns, job, metals))
    if not faults:
        faults += rival_faults(cut_plan, job) + program_faults(cut_plan, job) + label_faults(cut_plan, job)
        faults += box_faults(cut_plan)
        faults += _differences(data["nesting"], shaped(lambda: parts_json(cut_plan, job, cut_plan)), "nesting")
    if not faults:
        faults += bound_faults(cut_plan, given.least(job, patterns))
    return faults


def shaped(work: Callable[[], T]) -> T:
    """Run a proof of what a file says; where its figures make no sense at all, that is a worded fault."""
    try:
        return work()
    except (KeyError, TypeError, ValueError, IndexError, AttributeError, ZeroDivisionError, OverflowError) as fault:
        raise JobError(
            f"the figures of the saved plan make no sense together ({type(fault).__name__}: {fault})",
            write="a plan.json as fabplan wrote it",
        ) from None


def lots_stock(job: Job, said: PlanFile) -> tuple[Stock, ...]:
    """The job's stock, on hand of it what the plan says was free of its lots."""
    lots = {lot.stock: lot for lot in said.in_stock}
    out: list[Stock] = []
    for line in job.stock:
        lot = lots.get(line.name)
        if lot is None or line.form == "offcut":
            out.append(line)
            continue
        hand = OnHand(length=Nm(lot.length or 0)) if line.form == "coil" else OnHand(count=lot.count or 0)
        own = {key: getattr(line, key) for key in Stock.model_fields}
        own |= {"on_hand": hand, "buy": line.buy or line.on_hand is None}
        if len(lot.coils) not in {0, len(lot.lots)} or (lot.coils and sum(n for _, n in lot.coils) < (lot.length or 0)):
            raise JobError(
                "the saved plan's coils are not its lots", key=lot.stock, write="a plan.json as it was written"
            )
        out.append(RackStock.model_construct(**own, pieces=lot.lots, coils=lot.coils))
    return tuple(out)


def rack_stock(cut_plan: CutPlan) -> tuple[RackStock, ...]:
    """Stock lines of a saved plan that came from an offcut rack, not from the job file.

    Raises
    ------
    JobError
        One piece of the rack is named twice.
    """
    racked = [use for use in cut_plan.stock if use.rack_pieces and use.form == "offcut"]
    pieces = [piece for use in cut_plan.stock for piece in use.rack_pieces]
    if len(set(pieces)) < len(pieces):
        raise JobError("the saved plan names a piece of the rack twice", write="a plan.json as fabplan wrote it")
    return shaped(
        lambda: tuple(
            RackStock.model_construct(
                name=use.name,
                form="offcut",
                width=Nm(use.width * cut_plan.grid),
                length=Nm((use.length or 0) * cut_plan.grid),
                longest_cut_off=None,
                trim_each_edge=Nm(0),
                on_hand=OnHand(count=len(use.rack_pieces)),
                price=None,
                metal=use.metal,
                grain=use.grain,
                pieces=use.rack_pieces,
            )
            for use in racked
        )
    )


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
