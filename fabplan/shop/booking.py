"""Booking a plan on the rack: what it takes leaves, what it keeps enters, in one change, once a plan.

The plan is proved against its job first. A piece is taken by its identity and must be the metal, the size and the
grain the plan was made with; a number or a name alone takes nothing.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fabplan.errors import JobError, PlanError, visible
from fabplan.shop.lots import lots_of, reserve_in, spread, use_in
from fabplan.shop.rack import gone_says, metal_key, now, take
from fabplan.shop.rack_file import damaged, insert_offcut, reading, writing
from fabplan.units import NM_PER_INCH, NM_PER_MM

if TYPE_CHECKING:
    from fabplan.job.model import Job

SAME_THICKNESS = 5e-5  # inches: profiles print four decimals
_ROUNDED = 100  # nanometres: six decimals of an inch are 25

Data = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Booked:
    """What a booking did: numbers of the pieces taken and kept."""

    taken: tuple[int, ...]
    kept: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _PlanLine:
    """A stock line of the plan; sizes in nanometres, thickness in inches."""

    name: str
    metal: str
    thickness: float
    grain: str
    width: int
    length: int
    pieces: list[str]
    offcut: bool


def plan_digest(plan: Data) -> str:
    """Identity of a saved plan: the same content is the same plan, however the file is named or laid out."""
    text = json.dumps(plan, sort_keys=True, ensure_ascii=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def book_file(rack: Path, plan_file: Path, job: Job | Sequence[Job], *, only_reserve: bool = False) -> Booked:
    """Prove a saved plan against its job, or a run against its jobs, and book it, or only set its metal aside.

    Raises
    ------
    PlanError
        The plan is not proved, was booked before, or a piece it takes is not on this rack; nothing is changed.
    JobError
        Not a plan of this job, or one without a cut plan.
    """
    from fabplan.plan.file import read_plan
    from fabplan.plan.prove import prove

    data = read_plan(plan_file)
    jobs = list(job) if isinstance(job, Sequence) else [job]
    first = jobs[0]
    if data["units"] != first.info.units:
        raise JobError("the plan is in other units than the job", file=str(plan_file), key="units", value=data["units"])
    bookable(data)
    if len(jobs) > 1:
        from fabplan.plan.prove_run import prove_run

        proof = prove_run(data, jobs, shown=str(plan_file))
    else:
        proof = prove(data, first)
    if not proof.ok:
        faults = [f"{stage}: {fault}" for stage, found in proof.stages for fault in found]
        raise PlanError(
            f"{visible(str(plan_file))} is not proved against {visible(first.file)}: {visible(faults[0])}"
            + (f" and {len(faults) - 1} more faults." if len(faults) > 1 else "."),
            help_="Nothing was booked. Plan the job again, or name the job file this plan was made from.",
        )
    if only_reserve:
        reserve(rack, data)
        return Booked(taken=(), kept=())
    return book(rack, data, grid=int(first.info.round_to))


def reserve(path: Path, plan: Data) -> None:
    """Set aside what a proved plan takes, so that no other plan counts it; it stays where it is.

    Raises
    ------
    PlanError
        Some of it is not free, or the plan was booked or set aside before; nothing is changed.
    """
    bookable(plan)
    digest = plan_digest(plan)
    nm = NM_PER_MM if plan["units"] == "mm" else NM_PER_INCH
    with writing(path) as db:
        before = db.execute("SELECT booked FROM booking WHERE plan = ?", (digest,)).fetchone()
        if before:
            raise PlanError(f"This plan was booked on {before[0]} (UTC).", help_="Nothing was changed.")
        wanted, pieces = spread(db, lots_of(plan, nm), digest), _offcuts(plan)
        if not wanted and not pieces:
            raise PlanError(
                "This plan takes nothing of this rack.", help_="Plan it with --rack, so that it takes from the stock."
            )
        reserve_in(db, digest, visible(str(plan["job"]["number"])), wanted, pieces)


def _offcuts(plan: Data) -> list[str]:
    """Identities of the offcuts a plan takes."""
    lines = {s["name"]: [str(p) for p in s.get("rack_pieces", ())] for s in plan["nesting"]["stock"]
             if s.get("form", "offcut") == "offcut"}  # fmt: skip
    out: list[str] = []
    for layout in plan["nesting"]["layouts"]:
        waiting = lines.get(str(layout["stock"]), [])
        out += waiting[: int(layout["repeat"])]
        del waiting[: int(layout["repeat"])]
    return out


def booked_plans(rack: Path) -> tuple[str, ...]:
    """Digests of the plans booked on a rack."""
    with reading(rack) as (db, damage):
        if damage is not None:
            raise damaged(rack)
        return tuple(row[0] for row in db.execute("SELECT plan FROM booking ORDER BY plan"))


def bookable(plan: Data) -> None:
    """Refuse a plan without a cut plan, or one short of stock."""
    nesting = plan.get("nesting")
    if not isinstance(nesting, dict):
        raise JobError("this plan has no cut plan to book", write="a plan.json written by fabplan plan")
    if nesting.get("status") == "short":
        raise PlanError("This plan is SHORT of stock.", help_="It cannot be booked; plan again with enough stock.")


def book(path: Path, plan: Data, *, grid: int) -> Booked:
    """Book a proved plan: used pieces leave, kept offcuts enter, in one change, once a plan.

    Parameters
    ----------
    path : Path
    plan : dict
        A saved plan that was proved against its job (`book_file`).
    grid : int
        The job's graduation, nanometres: a piece may be that much larger than the plan says.

    Raises
    ------
    PlanError
        The plan was booked before, or a piece it takes is not on this rack as planned; nothing is changed.
    JobError
        The plan has no cut plan to book.
    """
    bookable(plan)
    nesting = plan["nesting"]
    digest = plan_digest(plan)
    job = visible(str(plan["job"]["number"]))
    nm = NM_PER_MM if plan["units"] == "mm" else NM_PER_INCH
    lines = {s["name"]: _line(s, nm) for s in nesting["stock"]}
    taken: list[int] = []
    kept: list[int] = []
    with writing(path) as db:
        before = db.execute("SELECT booked FROM booking WHERE plan = ?", (digest,)).fetchone()
        if before:
            raise PlanError(
                f"This plan was booked on {before[0]} (UTC).", help_="A plan is booked once; nothing was changed."
            )
        waiting = {name: list(line.pieces) for name, line in lines.items()}
        use_in(db, digest, job, spread(db, lots_of(plan, nm), digest), _offcuts(plan))
        for layout in nesting["layouts"]:
            line = lines[str(layout["stock"])]
            for _ in range(int(layout["repeat"]) if line.pieces and line.offcut else 0):
                if not waiting[line.name]:
                    raise PlanError(f"The plan takes more of {line.name} than there is.", help_="Nothing was changed.")
                number = _there(db, waiting[line.name].pop(0), line, grid)
                take(db, number, why=f"used for job {job}", plan=digest)
                taken.append(number)
            for offcut in layout["offcuts"]:
                for _ in range(int(layout["repeat"]) if offcut["keep"] else 0):
                    number = insert_offcut(
                        db,
                        metal=line.metal,
                        thickness=line.thickness,
                        width=round(offcut["width"] * nm),
                        length=round(offcut["length"] * nm),
                        grain=line.grain,
                        units=plan["units"],
                        note=f"left from job {job}",
                        added=now(),
                        came_from=digest,
                    )
                    kept.append(number)
        db.execute(
            "INSERT INTO booking (plan, job, booked, taken, kept) VALUES (?,?,?,?,?)",
            (digest, job, now(), len(taken), len(kept)),
        )
    return Booked(taken=tuple(taken), kept=tuple(kept))


def _line(stock: Data, nm: int) -> _PlanLine:
    return _PlanLine(
        name=str(stock["name"]),
        metal=metal_key(str(stock["metal"])),
        thickness=float(stock["thickness"]) * nm / NM_PER_INCH,
        grain=str(stock.get("grain", "along")),
        width=round(float(stock.get("width") or 0) * nm),
        length=round(float(stock.get("length") or 0) * nm),
        pieces=[str(p) for p in stock.get("rack_pieces", ())],
        offcut=stock.get("form", "offcut") == "offcut",
    )


def _there(db: sqlite3.Connection, piece: str, line: _PlanLine, grid: int) -> int:
    """The number of the piece with this identity, when it is the metal the plan was made with."""
    row = db.execute(
        "SELECT id, metal, thickness, width, length, grain FROM offcut WHERE piece = ?", (piece,)
    ).fetchone()
    if row is None:
        was = db.execute("SELECT id FROM gone WHERE piece = ?", (piece,)).fetchone()
        raise PlanError(
            f"Offcut {was[0]} is not on the rack{gone_says(db, was[0])}."
            if was
            else f"Piece {visible(piece)} of {visible(line.name)} was never on this rack.",
            help_="Nothing was changed. Plan again with the rack as it is now.",
        )
    number, metal, thickness, width, length, grain = row
    wrong = [
        what
        for what, same in (
            ("metal", metal == line.metal),
            ("thickness", abs(thickness - line.thickness) <= SAME_THICKNESS),
            ("width", -_ROUNDED <= width - line.width <= grid),
            ("length", -_ROUNDED <= length - line.length <= grid),
            ("rolling direction", grain == line.grain),
        )
        if not same
    ]
    if wrong:
        raise PlanError(
            f"Offcut {number} is not as the plan has it: another {' and '.join(wrong)}.",
            help_="Nothing was changed. Plan again with the rack as it is now.",
        )
    return int(number)
