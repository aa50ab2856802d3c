"""The rack's file: an SQLite database whose every row and whole is sealed, so that damage is seen before it is used.

One file and no other beside it at rest, so that a copy of it is a whole rack; a change is in it altogether or not at
all. Seals are against accidents (a bad disk, a copy cut short), not against somebody who wants to cheat himself.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from secrets import choice
from typing import Any

from fabplan.errors import FabplanError, JobError, PlanError

RACK_MARK = 0x66_61_62_72  # application id of our files: "fabr"
RACK_VERSION = 3
WAIT_SECONDS = 5.0
UNREADABLE = (sqlite3.Error, UnicodeDecodeError)
"""What reading a spoiled file raises; the second when the spoiled text is part of SQLite's own message."""
_LETTERS = "23456789abcdefghjkmnpqrstuvwxyz"  # none that is read as another on a greasy label
_LONG = 10

TABLES = """
CREATE TABLE offcut (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    piece TEXT NOT NULL UNIQUE CHECK (length(piece) BETWEEN 1 AND 20),
    metal TEXT NOT NULL CHECK (length(metal) BETWEEN 1 AND 200),
    thickness REAL NOT NULL CHECK (thickness > 0),
    width INTEGER NOT NULL CHECK (width > 0),
    length INTEGER NOT NULL CHECK (length > 0),
    grain TEXT NOT NULL CHECK (grain IN ('along', 'across')),
    units TEXT NOT NULL CHECK (units IN ('in', 'mm')),
    note TEXT NOT NULL DEFAULT '',
    added TEXT NOT NULL,
    came_from TEXT,
    seal TEXT NOT NULL
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
    piece TEXT NOT NULL,
    why TEXT NOT NULL,
    plan TEXT,
    at TEXT NOT NULL
) STRICT;
CREATE TABLE whole (
    one INTEGER PRIMARY KEY CHECK (one = 1),
    seal TEXT NOT NULL
) STRICT;
"""
LOT_TABLES = """
CREATE TABLE lot (
    id INTEGER PRIMARY KEY,
    piece TEXT NOT NULL UNIQUE CHECK (length(piece) BETWEEN 1 AND 20),
    form TEXT NOT NULL CHECK (form IN ('coil', 'sheet')),
    metal TEXT NOT NULL CHECK (length(metal) BETWEEN 1 AND 200),
    thickness REAL NOT NULL CHECK (thickness > 0),
    width INTEGER NOT NULL CHECK (width > 0),
    length INTEGER NOT NULL CHECK (length >= 0),
    there INTEGER NOT NULL CHECK (there > 0),
    grain TEXT NOT NULL CHECK (grain IN ('along', 'across')),
    units TEXT NOT NULL CHECK (units IN ('in', 'mm')),
    note TEXT NOT NULL DEFAULT '',
    added TEXT NOT NULL,
    seal TEXT NOT NULL
) STRICT;
CREATE TABLE lot_gone (
    id INTEGER PRIMARY KEY,
    piece TEXT NOT NULL,
    form TEXT NOT NULL,
    metal TEXT NOT NULL,
    width INTEGER NOT NULL,
    length INTEGER NOT NULL,
    grain TEXT NOT NULL,
    why TEXT NOT NULL,
    at TEXT NOT NULL
) STRICT;
CREATE TABLE taking (
    plan TEXT NOT NULL,
    job TEXT NOT NULL,
    piece TEXT NOT NULL,
    amount INTEGER NOT NULL CHECK (amount > 0),
    state TEXT NOT NULL CHECK (state IN ('reserved', 'used')),
    at TEXT NOT NULL,
    PRIMARY KEY (plan, piece)
) STRICT;
"""
OFFCUT = ("id", "piece", "metal", "thickness", "width", "length", "grain", "units", "note", "added", "came_from")
_SEALED = (
    ("offcut", "SELECT * FROM offcut ORDER BY id"),
    ("booking", "SELECT * FROM booking ORDER BY plan"),
    ("gone", "SELECT * FROM gone ORDER BY id"),
    ("lot", "SELECT * FROM lot ORDER BY id"),
    ("lot_gone", "SELECT * FROM lot_gone ORDER BY id"),
    ("taking", "SELECT * FROM taking ORDER BY plan, piece"),
    ("sqlite_sequence", "SELECT name, seq FROM sqlite_sequence ORDER BY name"),
    ("sqlite_master", "SELECT type, name, tbl_name, sql FROM sqlite_master ORDER BY name"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Damage:
    """What is known of a damaged rack: how many of its pieces could not be proved, when that can be told."""

    unproved: int | None = None


def new_piece_id() -> str:
    """A name for one piece of metal that no other piece on any rack has."""
    return "".join(choice(_LETTERS) for _ in range(_LONG))


def seal(row: tuple[Any, ...]) -> str:
    """Digest of a row, values and their kinds; bytes, which no row of ours holds, come of damage and match no seal."""
    text = json.dumps(row, ensure_ascii=True, default=lambda value: {"bytes": repr(value)})
    return hashlib.sha256(text.encode()).hexdigest()[:24]


@contextmanager
def reading(path: Path) -> Iterator[tuple[sqlite3.Connection, Damage | None]]:
    """A rack to read from, and whether it is damaged; the file is not written to.

    Raises
    ------
    JobError
        No rack, or one of which nothing can be read.
    """
    _named(path)
    if not path.exists():
        raise JobError("there is no offcut rack here", file=str(path), write="fabplan rack add to start one")
    with _worded(path):
        version = _version(path)
        if version < RACK_VERSION:
            with writing(path):
                pass  # brings it to this version
        db = _open(path, write=False)
        try:
            yield db, _damage(db)
        finally:
            db.close()


@contextmanager
def writing(path: Path, *, create: bool = False) -> Iterator[sqlite3.Connection]:
    """A rack inside one change: all of it is kept when the block ends well, and none of it otherwise.

    Raises
    ------
    JobError
        No rack, or a damaged one: it is left as it is.
    """
    _named(path)
    if not create and not path.exists():
        raise JobError("there is no offcut rack here", file=str(path), write="fabplan rack add to start one")
    with _worded(path):
        db = _open(path, write=True)
        try:
            _ready(db, path, create=create)
            db.execute("BEGIN IMMEDIATE")
            try:
                if _damage(db) is not None:
                    raise damaged(path)
                yield db
                _close_up(db)
                db.execute("COMMIT")
            except BaseException:
                with suppress(sqlite3.Error):
                    db.execute("ROLLBACK")
                raise
        finally:
            db.close()


def proved_offcuts(db: sqlite3.Connection) -> list[dict[str, Any]]:
    """Rows of the rack whose seal holds, by id; of a damaged file those that can still be read."""
    columns = ", ".join((*OFFCUT, "seal"))
    rows: dict[int, dict[str, Any]] = {}
    # Both ways round, for damage in the middle ends a reading there.
    for order in ("ASC", "DESC"):
        with suppress(*UNREADABLE):
            for row in db.execute(f"SELECT {columns} FROM offcut ORDER BY id {order}"):
                if row[-1] == seal(row[:-1]):
                    rows[row[0]] = dict(zip(OFFCUT, row[:-1], strict=True))
    return [rows[i] for i in sorted(rows)]


def insert_offcut(db: sqlite3.Connection, **values: Any) -> int:
    """Put one piece on the rack, sealed; `values` are the columns but `id` and `piece`."""
    top = db.execute("SELECT seq FROM sqlite_sequence WHERE name = 'offcut'").fetchone()
    values = {"id": (top[0] if top else 0) + 1, "piece": new_piece_id(), **values}
    row = tuple(values[key] for key in OFFCUT)
    marks = ", ".join("?" * (len(row) + 1))
    db.execute(f"INSERT INTO offcut ({', '.join((*OFFCUT, 'seal'))}) VALUES ({marks})", (*row, seal(row)))
    return int(values["id"])


def damaged(path: Path) -> JobError:
    """The refusal to write to a damaged rack."""
    return JobError(
        "this rack is damaged and is left as it is",
        file=str(path),
        write="its copy, or move what can be proved to a new rack with fabplan rack rescue",
    )


def _named(path: Path) -> None:
    if path.suffix != ".db":
        raise JobError("an offcut rack is a file ending in .db", file=str(path), write="a name such as rack.db")
    if path.is_dir():
        raise JobError("this is a folder, not an offcut rack", file=str(path), write="the name of a rack file")
    if path.exists() and not path.is_file():
        raise JobError("this is not a file", file=str(path), write="the name of a rack file")


def _open(path: Path, *, write: bool) -> sqlite3.Connection:
    if write:
        db = sqlite3.connect(path, timeout=WAIT_SECONDS, isolation_level=None)
    else:
        try:
            db = _readonly(path, "mode=ro")
            db.execute("PRAGMA user_version").fetchone()
        except sqlite3.OperationalError:
            # A change cut short by a crash is undone first, which needs the right to write.
            db = sqlite3.connect(path, timeout=WAIT_SECONDS, isolation_level=None)
    db.text_factory = lambda raw: raw.decode("utf-8", "replace")
    db.execute("PRAGMA synchronous=EXTRA")
    db.execute("PRAGMA trusted_schema=OFF")
    return db


def _readonly(path: Path, how: str) -> sqlite3.Connection:
    uri = f"{path.resolve().as_uri()}?{how}"
    return sqlite3.connect(uri, uri=True, timeout=WAIT_SECONDS, isolation_level=None)


def _version(path: Path) -> int:
    """The version of a rack; refuses what is no rack."""
    db = _open(path, write=False)
    try:
        mark = db.execute("PRAGMA application_id").fetchone()[0]
        version = int(db.execute("PRAGMA user_version").fetchone()[0])
        db.execute("SELECT count(*) FROM sqlite_master").fetchone()
    finally:
        db.close()
    if mark != RACK_MARK:
        raise JobError(
            "this file is not an offcut rack", file=str(path), write="the name of a rack made by fabplan rack add"
        )
    if not 1 <= version <= RACK_VERSION:
        raise JobError(
            f"this rack is of version {version}; this fabplan reads version {RACK_VERSION}",
            file=str(path),
            write="a rack of this version, or use the fabplan that made it",
        )
    return version


def _ready(db: sqlite3.Connection, path: Path, *, create: bool) -> None:
    """Tables of this version: made in an empty file, brought up from an older one."""
    if create and db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0] == 0:
        with _change(db):
            # Somebody else may have made the tables while this one waited for the lock.
            if db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0] == 0:
                _make_tables(db)
    if _version(path) == 1:
        _upgrade(db, path)
    if _version(path) == 2:
        with _change(db):
            if _damage(db) is not None:  # nothing is made of what cannot be relied on
                raise damaged(path)
            if db.execute("PRAGMA user_version").fetchone()[0] == 2:
                _make_lot_tables(db)
                _close_up(db)


def _make_tables(db: sqlite3.Connection) -> None:
    for statement in TABLES.split(";"):
        if statement.strip():
            db.execute(statement)
    db.execute(f"PRAGMA application_id={RACK_MARK}")
    _make_lot_tables(db)
    _close_up(db)


def _make_lot_tables(db: sqlite3.Connection) -> None:
    for statement in LOT_TABLES.split(";"):
        if statement.strip():
            db.execute(statement)
    db.execute(f"PRAGMA user_version={RACK_VERSION}")


def _upgrade(db: sqlite3.Connection, path: Path) -> None:
    """Version 1 had no piece ids, units or seals, and kept a journal file beside it."""
    if db.execute("PRAGMA integrity_check(1)").fetchone()[0] != "ok":
        raise damaged(path)
    db.execute("PRAGMA journal_mode=DELETE")
    with _change(db):
        if db.execute("PRAGMA user_version").fetchone()[0] != 1:
            return
        old = ("id", "metal", "thickness", "width", "length", "grain", "note", "added", "came_from")
        offcuts = db.execute(f"SELECT {', '.join(old)} FROM offcut ORDER BY id").fetchall()
        bookings = db.execute("SELECT plan, job, booked, taken, kept FROM booking").fetchall()
        gone = db.execute("SELECT id, why, plan, at FROM gone").fetchall()
        top = db.execute("SELECT seq FROM sqlite_sequence WHERE name = 'offcut'").fetchone()
        for table in ("offcut", "booking", "gone"):
            db.execute(f"DROP TABLE {table}")
        _make_tables(db)
        for row in offcuts:
            insert_offcut(db, units="in", **dict(zip(old, row, strict=True)))
        db.executemany("INSERT INTO booking VALUES (?,?,?,?,?)", bookings)
        db.executemany("INSERT INTO gone (id, piece, why, plan, at) VALUES (?,'',?,?,?)", gone)
        if top:
            db.execute("DELETE FROM sqlite_sequence WHERE name = 'offcut'")
            db.execute("INSERT INTO sqlite_sequence (name, seq) VALUES ('offcut', ?)", top)
        _close_up(db)


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


def _whole_seal(db: sqlite3.Connection) -> str:
    digest = hashlib.sha256()
    version = db.execute("PRAGMA user_version").fetchone()[0]
    for name, query in _SEALED:
        if version == 2 and name in ("lot", "lot_gone", "taking"):
            continue  # there were none
        digest.update(name.encode())
        for row in db.execute(query):
            digest.update(seal(row).encode())
    return digest.hexdigest()


def _close_up(db: sqlite3.Connection) -> None:
    db.execute("INSERT OR REPLACE INTO whole (one, seal) VALUES (1, ?)", (_whole_seal(db),))


def _damage(db: sqlite3.Connection) -> Damage | None:
    """None when the whole file is as it was left."""
    with suppress(*UNREADABLE, TypeError):
        said = db.execute("SELECT seal FROM whole").fetchall()
        sound = db.execute("PRAGMA integrity_check(1)").fetchall() == [("ok",)]
        if sound and said == [(_whole_seal(db),)]:
            return None
    try:
        there = int(db.execute("SELECT count(*) FROM offcut").fetchone()[0])
    except UNREADABLE:
        return Damage()
    return Damage(unproved=max(0, there - len(proved_offcuts(db))))


@contextmanager
def _worded(path: Path) -> Iterator[None]:
    try:
        yield
    except (*UNREADABLE, OverflowError) as fault:
        raise _in_words(fault, path) from None


def _in_words(fault: Exception, path: Path) -> FabplanError:
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
    return JobError(
        f"this file is not an offcut rack, or it is damaged ({text})", file=str(path), write="a rack file, or its copy"
    )
