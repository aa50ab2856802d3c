"""The shop's log of timed work: an SQLite file beside the rack's; every entry is sealed, and whole or not there."""

from __future__ import annotations

import json
import math
import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from fabplan.errors import FabplanError, JobError, PlanError
from fabplan.labour import TIME_KEYS
from fabplan.shop.rack_file import seal

LOG_MARK = 0x66_61_62_74  # application id of our files: "fabt"
LOG_VERSION = 1
WAIT_SECONDS = 5.0
LONGEST = 1000 * 3600.0  # seconds
_TABLES = """
CREATE TABLE timed (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    at TEXT NOT NULL,
    job TEXT NOT NULL,
    what TEXT NOT NULL,
    seconds REAL NOT NULL CHECK (seconds > 0),
    work TEXT NOT NULL,
    seal TEXT NOT NULL
) STRICT
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Timed:
    """One timing.

    Attributes
    ----------
    id : int
    at : str
        When it was written down, UTC.
    job, what : str
        Job number, and what of it was timed.
    seconds : float
    work : mapping of key of [labour] to float
        How often each kind of work was done; a heavy stroke counts as the light ones it takes the time of.
    """

    id: int
    at: str
    job: str
    what: str
    seconds: float
    work: Mapping[str, float]


def add(path: Path, *, job: str, what: str, seconds: float, work: Mapping[str, float]) -> int:
    """Write a timing down (the file is made when it is not there) and return its number."""
    at = datetime.now(UTC).strftime("%Y-%m-%d %H:%M:%S")
    row = (at, job, what, float(seconds), json.dumps(dict(work), sort_keys=True))
    with _changing(path, create=True) as db:
        found = db.execute(
            "INSERT INTO timed (at, job, what, seconds, work, seal) VALUES (?,?,?,?,?,?)", (*row, seal(row))
        )
        return int(found.lastrowid or 0)


def entries(path: Path) -> tuple[Timed, ...]:
    """Every timing, oldest first.

    Raises
    ------
    JobError
        There is no log, or an entry is not as it was written: nothing is worked out from a damaged log.
    """
    if not path.exists():
        raise JobError("there is no log of times here", file=str(path), write="fabplan times add to start one")
    with _open(path) as db:
        rows = db.execute("SELECT id, at, job, what, seconds, work, seal FROM timed ORDER BY id").fetchall()
    out = []
    for number, *row, sealed in rows:
        if sealed != seal(tuple(row)):
            raise JobError(
                f"timing {number} is not as it was written: the log is damaged", file=str(path),
                write=f"a sound copy of it, or fabplan times drop with number {number}",
            )  # fmt: skip
        at, job, what, seconds, work = row
        out.append(Timed(id=number, at=at, job=job, what=what, seconds=seconds, work=_work(work)))
    return tuple(out)


def drop(path: Path, numbers: list[int]) -> None:
    """Take timings out again; refuses all when one is not there."""
    if not path.exists():
        raise JobError("there is no log of times here", file=str(path), write="fabplan times add to start one")
    with _changing(path, create=False) as db:
        for number in numbers:
            if db.execute("DELETE FROM timed WHERE id = ?", (number,)).rowcount != 1:
                raise PlanError(f"There is no timing {number} in {path}.", help_="Nothing was changed.")


def _work(text: str) -> dict[str, float]:
    return {k: float(v) for k, v in json.loads(text).items() if k in TIME_KEYS and math.isfinite(float(v))}


@contextmanager
def _open(path: Path) -> Iterator[sqlite3.Connection]:
    if path.suffix != ".db":
        raise JobError("a log of times is a file ending in .db", file=str(path), write="a name such as times.db")
    if path.is_dir():
        raise JobError("this is a folder, not a log of times", file=str(path), write="the name of a file")
    db = None
    try:
        db = sqlite3.connect(path, timeout=WAIT_SECONDS, isolation_level=None)
        db.execute("PRAGMA synchronous=FULL")
        db.execute("PRAGMA trusted_schema=OFF")
        mark = db.execute("PRAGMA application_id").fetchone()[0]
        version = db.execute("PRAGMA user_version").fetchone()[0]
        empty = db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0] == 0
        if not empty and mark != LOG_MARK:
            raise JobError("this file is not a log of times", file=str(path), write="one made by fabplan times add")
        if not empty and version != LOG_VERSION:
            raise JobError(
                f"this log is of version {version}; this fabplan reads version {LOG_VERSION}", file=str(path),
                write="a log of this version, or use the fabplan that made it",
            )  # fmt: skip
        if empty and mark == 0:
            with _change(db):
                if db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0] == 0:
                    db.execute(_TABLES)
                    db.execute(f"PRAGMA application_id={LOG_MARK}")
                    db.execute(f"PRAGMA user_version={LOG_VERSION}")
        yield db
    except (sqlite3.Error, UnicodeDecodeError) as fault:
        raise _in_words(fault, path) from None
    finally:
        if db is not None:
            db.close()


@contextmanager
def _changing(path: Path, *, create: bool) -> Iterator[sqlite3.Connection]:
    if create and not path.parent.is_dir():
        raise JobError("the folder is not there", file=str(path), write="a folder that exists")
    with _open(path) as db, _change(db):
        yield db


@contextmanager
def _change(db: sqlite3.Connection) -> Iterator[None]:
    db.execute("BEGIN IMMEDIATE")
    try:
        yield
    except BaseException:
        with suppress(sqlite3.Error):
            db.execute("ROLLBACK")
        raise
    db.execute("COMMIT")


def _in_words(fault: Exception, path: Path) -> FabplanError:
    text = str(fault)
    if "locked" in text or "busy" in text:
        return PlanError(f"{path}: somebody else is writing times down.", help_="Nothing was changed. Try again.")
    if "readonly" in text or "unable to open" in text:
        return JobError("the log cannot be opened for writing", file=str(path), write="a place you may write to")
    if "full" in text or "disk I/O" in text:
        return PlanError(f"{path}: the disk is full, or it fails.", help_="Nothing was changed. Make room first.")
    return JobError("this file is not a log of times, or it is damaged", file=str(path), write="a sound copy of it")
