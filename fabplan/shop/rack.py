"""The offcut rack: an SQLite file of pieces kept, with every booking in one transaction.

Planning reserves nothing. `book` takes the used pieces off and puts the kept ones on, once a plan. The file is in
write-ahead mode with full synchronisation, so a kill at any moment leaves either all of a booking or none of it; a
second person waits for the first, up to `WAIT_SECONDS`.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Literal

from fabplan.errors import FabplanError, JobError, PlanError
from fabplan.units import NM_PER_INCH, NM_PER_MM

RACK_MARK = 0x66_61_62_72  # application id of our files: "fabr"
RACK_VERSION = 1
WAIT_SECONDS = 5.0
PREFIX = "rack "

_TABLES = """
CREATE TABLE offcut (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    metal TEXT NOT NULL CHECK (length(metal) BETWEEN 1 AND 200),
    thickness REAL NOT NULL CHECK (thickness > 0),
    width INTEGER NOT NULL CHECK (width > 0),
    length INTEGER NOT NULL CHECK (length > 0),
    grain TEXT NOT NULL CHECK (grain IN ('along', 'across')),
    note TEXT NOT NULL DEFAULT '',
    added TEXT NOT NULL,
    came_from TEXT
) STRICT;
CREATE TABLE booking (
    plan TEXT PRIMARY KEY,
    job TEXT NOT NULL,
    booked TEXT NOT NULL,
    taken INTEGER NOT NULL,
    kept INTEGER NOT NULL
) STRICT;
CREATE TABLE gone (
    id INTEGER PRIMARY KEY,
    why TEXT NOT NULL,
    plan TEXT,
    at TEXT NOT NULL
) STRICT;
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class RackPiece:
    """One offcut on the rack; width and length in nanometres, grain along or across its length."""

    id: int
    metal: str
    thickness: float
    width: int
    length: int
    grain: Literal["along", "across"]
    note: str
    added: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Booked:
    """What a booking did."""

    taken: tuple[int, ...]
    kept: tuple[int, ...]


def _now() -> str:
    return datetime.now(UTC).strftime("%Y-%m-%d %H:%M:%S")


def _connect(path: Path, *, create: bool) -> sqlite3.Connection:
    if path.suffix != ".db":
        raise JobError("an offcut rack is a file ending in .db", file=str(path), write="a name such as rack.db")
    if path.is_dir():
        raise JobError("this is a folder, not an offcut rack", file=str(path), write="the name of a rack file")
    if not create and not path.exists():
        raise JobError("there is no offcut rack here", file=str(path), write="fabplan rack add to start one")
    try:
        db = sqlite3.connect(path, timeout=WAIT_SECONDS, isolation_level=None)
        db.execute("PRAGMA journal_mode=WAL")
        db.execute("PRAGMA synchronous=FULL")
        db.execute("PRAGMA trusted_schema=OFF")
        _ready(db, path, create=create)
    except sqlite3.DatabaseError as fault:
        raise _worded(fault, path) from None
    return db


def _ready(db: sqlite3.Connection, path: Path, *, create: bool) -> None:
    mark = db.execute("PRAGMA application_id").fetchone()[0]
    version = db.execute("PRAGMA user_version").fetchone()[0]
    empty = db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0] == 0
    if empty and create:
        db.execute("BEGIN IMMEDIATE")
        try:
            # Somebody else may have made the tables while this one waited for the lock.
            if db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0] == 0:
                for statement in _TABLES.split(";"):
                    if statement.strip():
                        db.execute(statement)
                db.execute(f"PRAGMA application_id={RACK_MARK}")
                db.execute(f"PRAGMA user_version={RACK_VERSION}")
            db.execute("COMMIT")
        except BaseException:
            db.execute("ROLLBACK")
            raise
        return
    if mark != RACK_MARK:
        raise JobError(
            "this file is not an offcut rack", file=str(path), write="the name of a rack made by fabplan rack add"
        )
    if version != RACK_VERSION:
        raise JobError(
            f"this rack is of version {version}; this fabplan reads version {RACK_VERSION}",
            file=str(path),
            write="a rack of this version, or use the fabplan that made it",
        )


def _worded(fault: sqlite3.DatabaseError, path: Path) -> FabplanError:
    text = str(fault)
    if "locked" in text or "busy" in text:
        return PlanError(
            f"{path}: somebody else is booking on this rack.", help_="Nothing was changed. Try again in a moment."
        )
    if "not a database" in text or "malformed" in text:
        return JobError(
            "this file is not an offcut rack, or it is damaged", file=str(path), write="a rack file, or its copy"
        )
    if "readonly" in text or "unable to open" in text:
        return JobError("the rack cannot be opened for writing", file=str(path), write="a place you may write to")
    if "full" in text:
        return PlanError(f"{path}: the disk is full.", help_="Nothing was changed. Make room and try again.")
    if "disk I/O" in text:  # what is said of a full disk while it makes its own files beside the rack
        return PlanError(
            f"{path}: the disk is full, or it fails.", help_="Nothing was changed. Make room and try again."
        )
    return PlanError(f"{path}: the rack could not be used ({text}).", help_="Nothing was changed.")


@contextmanager
def open_rack(path: Path, *, create: bool = False) -> Iterator[sqlite3.Connection]:
    """An open rack; database faults come out worded for the shop."""
    db = _connect(path, create=create)
    try:
        yield db
    except sqlite3.DatabaseError as fault:
        raise _worded(fault, path) from None
    finally:
        db.close()


@contextmanager
def _transaction(db: sqlite3.Connection) -> Iterator[None]:
    db.execute("BEGIN IMMEDIATE")
    try:
        yield
    except BaseException:
        db.execute("ROLLBACK")
        raise
    db.execute("COMMIT")


def _insert(
    db: sqlite3.Connection,
    *,
    metal: str,
    thickness: float,
    width: int,
    length: int,
    grain: str,
    note: str,
    came_from: str | None,
) -> int:
    row = db.execute(
        "INSERT INTO offcut (metal, thickness, width, length, grain, note, added, came_from) VALUES (?,?,?,?,?,?,?,?)",
        (metal, thickness, width, length, grain, note, _now(), came_from),
    )
    return int(row.lastrowid or 0)


def add(
    path: Path,
    *,
    metal: str,
    thickness: float,
    width: int,
    length: int,
    grain: Literal["along", "across"] = "along",
    count: int = 1,
    note: str = "",
) -> tuple[int, ...]:
    """Put pieces on the rack (the file is made when it is not there) and return their ids."""
    with open_rack(path, create=True) as db, _transaction(db):
        return tuple(
            _insert(
                db,
                metal=metal,
                thickness=thickness,
                width=width,
                length=length,
                grain=grain,
                note=note,
                came_from=None,
            )
            for _ in range(count)
        )


def pieces(path: Path, *, metal: str | None = None) -> tuple[RackPiece, ...]:
    """Pieces on the rack by id, of one metal when named."""
    with open_rack(path) as db:
        rows = db.execute(
            "SELECT id, metal, thickness, width, length, grain, note, added FROM offcut"
            " WHERE ?1 IS NULL OR metal = ?1 ORDER BY id",
            (metal,),
        ).fetchall()
    names = ("id", "metal", "thickness", "width", "length", "grain", "note", "added")
    return tuple(RackPiece(**dict(zip(names, row, strict=True))) for row in rows)


def drop(path: Path, ids: Sequence[int], *, why: str = "dropped") -> None:
    """Take pieces off by hand; refuses all when one is not there."""
    with open_rack(path) as db, _transaction(db):
        for piece in ids:
            _take(db, piece, why=why, plan=None)


def _take(db: sqlite3.Connection, piece: int, *, why: str, plan: str | None) -> None:
    if db.execute("DELETE FROM offcut WHERE id = ?", (piece,)).rowcount != 1:
        gone = db.execute("SELECT why, at FROM gone WHERE id = ?", (piece,)).fetchone()
        more = f" ({gone[0]}, {gone[1]})" if gone else ""
        raise PlanError(
            f"Offcut {piece} is not on the rack{more}.",
            help_="Nothing was changed. Plan again with the rack as it is now.",
        )
    db.execute("INSERT OR REPLACE INTO gone (id, why, plan, at) VALUES (?,?,?,?)", (piece, why, plan, _now()))


def rack_name(ids: Sequence[int]) -> str:
    """Name of a stock line of pieces alike: ``rack 4`` or ``rack 4, 7-9``.

    >>> rack_name([9, 4, 7, 8])
    'rack 4, 7-9'
    """
    runs: list[list[int]] = []
    for i in sorted(ids):
        if runs and i == runs[-1][1] + 1:
            runs[-1][1] = i
        else:
            runs.append([i, i])
    return PREFIX + ", ".join(str(a) if a == b else f"{a}-{b}" for a, b in runs)


def ids_of(name: str) -> list[int]:
    """Pieces a stock line's name stands for, the oldest first.

    >>> ids_of("rack 4, 7-9")
    [4, 7, 8, 9]
    """
    out: list[int] = []
    for run in name.removeprefix(PREFIX).split(", "):
        first, dash, last = run.partition("-")
        if (
            (dash and not last)
            or not (first.isdecimal() and (last or first).isdecimal())
            or int(last or first) - int(first) > 100_000
        ):
            raise JobError("this is not a line of the offcut rack", key="stock", value=name)
        out += range(int(first), int(last or first) + 1)
    return out


def plan_digest(plan: dict[str, Any]) -> str:
    """Identity of a saved plan: the same content is the same plan, however the file is named or laid out."""
    text = json.dumps(plan, sort_keys=True, ensure_ascii=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def book(path: Path, plan: dict[str, Any]) -> Booked:
    """Book a saved plan: used pieces leave, kept offcuts enter, in one transaction, once a plan.

    Raises
    ------
    PlanError
        The plan was booked before, or a piece it uses has left the rack meanwhile; nothing is changed.
    JobError
        The plan has no cut plan to book.
    """
    nesting = plan.get("nesting")
    if not isinstance(nesting, dict):
        raise JobError("this plan has no cut plan to book", write="a plan.json written by fabplan plan")
    if nesting.get("status") == "short":
        raise PlanError("This plan is SHORT of stock.", help_="It cannot be booked; plan again with enough stock.")
    digest = plan_digest(plan)
    job = str(plan["job"]["number"])
    nm = NM_PER_MM if plan["units"] == "mm" else NM_PER_INCH
    metals = {
        s["name"]: (s["metal"], float(s["thickness"]) * nm / NM_PER_INCH, s.get("grain", "along"))
        for s in nesting["stock"]
    }
    with open_rack(path) as db, _transaction(db):
        before = db.execute("SELECT booked FROM booking WHERE plan = ?", (digest,)).fetchone()
        if before:
            raise PlanError(
                f"This plan was booked on {before[0]} (UTC).", help_="A plan is booked once; nothing was changed."
            )
        taken: list[int] = []
        kept: list[int] = []
        waiting: dict[str, list[int]] = {}
        for layout in nesting["layouts"]:
            name = str(layout["stock"])
            if name.startswith(PREFIX):
                alike = waiting.setdefault(name, ids_of(name))
                for _ in range(int(layout["repeat"])):
                    if not alike:
                        raise PlanError(f"The plan takes more of {name} than there is.", help_="Nothing was changed.")
                    taken.append(alike.pop(0))
                    _take(db, taken[-1], why=f"used for job {job}", plan=digest)
            metal, thickness, grain = metals[name]
            for offcut in layout["offcuts"]:
                if not offcut["keep"]:
                    continue
                for _ in range(int(layout["repeat"])):
                    kept.append(
                        _insert(
                            db,
                            metal=metal,
                            thickness=thickness,
                            width=round(offcut["width"] * nm),
                            length=round(offcut["length"] * nm),
                            grain=grain,
                            note=f"left from job {job}",
                            came_from=digest,
                        )
                    )
        db.execute(
            "INSERT INTO booking (plan, job, booked, taken, kept) VALUES (?,?,?,?,?)",
            (digest, job, _now(), len(taken), len(kept)),
        )
    return Booked(taken=tuple(taken), kept=tuple(kept))
