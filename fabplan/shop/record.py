"""A job's record: what layouts are cut, pieces made and spoiled, courses laid; an SQLite file beside the job.

Nothing is ever changed in it: a step of one or more entries is added, or one that takes the last step back. Every entry
is sealed over the one before it, so that a damaged record is seen, and refused. A change is in the file altogether or
not at all.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from fabplan.errors import JobError, PlanError, visible
from fabplan.job.slopes import copy_of
from fabplan.plan.file import PlanFile, saved
from fabplan.shop.booking import plan_digest
from fabplan.shop.rack import now
from fabplan.shop.rack_file import UNREADABLE, WAIT_SECONDS, seal

RECORD_MARK = 0x66_61_62_6A  # application id of our files: "fabj"
RECORD_VERSION = 2
_TABLES = (
    "CREATE TABLE plan (digest TEXT PRIMARY KEY, at TEXT NOT NULL, data TEXT NOT NULL, seal TEXT NOT NULL) STRICT",
    "CREATE TABLE entry (id INTEGER PRIMARY KEY, at TEXT NOT NULL, plan TEXT NOT NULL, what TEXT NOT NULL,"
    " name TEXT NOT NULL, count INTEGER NOT NULL, step INTEGER NOT NULL, seal TEXT NOT NULL) STRICT",
    "CREATE TABLE tip (one INTEGER PRIMARY KEY CHECK (one = 1), entries INTEGER NOT NULL, seal TEXT NOT NULL) STRICT",
)
What = Literal["cut", "blanks", "made", "spoiled", "laid", "undo"]


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordEntry:
    """One thing written down. `name` is a layout's number, a mark, a slope, or the step an undo takes back; `count` of
    a slope is the course it is laid up to. Entries written down together have one `step`."""

    id: int
    at: str
    plan: str
    what: What
    name: str
    count: int
    step: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Tally:
    """What is done of one mark by one plan: blanks cut, of them finished, and spoiled."""

    cut: int = 0
    made: int = 0
    spoiled: int = 0

    @property
    def good(self) -> int:
        """Blanks and pieces that can be used."""
        return self.cut - self.spoiled


@dataclass(frozen=True, slots=True, kw_only=True)
class DoneByPlan:
    """Everything done by one plan: how often each layout is cut (by its number), each mark's tally, and the course each
    slope is laid up to."""

    digest: str
    plan: PlanFile
    layouts: dict[int, int]
    marks: dict[str, Tally]
    laid: dict[str, int] = field(default_factory=dict)


def note(
    path: Path,
    data: dict[str, Any],
    what: Literal["cut", "blanks", "made", "spoiled", "laid"],
    counts: dict[str, int],
    *,
    after: int = 0,
) -> None:
    """Write down what is done, all or none.

    `counts` are layouts cut (number to times), blanks cut in a run for several jobs, pieces made or spoiled (mark to
    count), or slopes laid (name to the course they are laid up to). Layouts are numbered on after `after` on the pages.

    Raises
    ------
    PlanError
        More than the plan has, or more than is there; nothing is written.
    JobError
        The record cannot be used.
    """
    digest = plan_digest(data)
    with _changing(path, create=True) as db:
        if db.execute("SELECT 1 FROM plan WHERE digest = ?", (digest,)).fetchone() is None:
            row = (digest, now(), json.dumps(data, ensure_ascii=True))
            db.execute("INSERT INTO plan VALUES (?,?,?,?)", (*row, seal(row)))
        step = _next(db)
        for name, count in counts.items():
            _add(db, digest, what, name, count, step)
        _possible(_done(db)[digest], after)


def times_words(n: int) -> str:
    """``once``, ``3 times``."""
    return "once" if n == 1 else f"{n} times"


def undo(path: Path) -> tuple[RecordEntry, ...]:
    """Take the last step back, and say which entries it was.

    Raises
    ------
    PlanError
        There is none.
    """
    with _changing(path) as db:
        standing = _standing(_entries(db))
        if not standing:
            raise PlanError(f"{visible(str(path))}: there is nothing to take back.")
        last = [e for e in standing if e.step == standing[-1].step]
        _add(db, last[-1].plan, "undo", str(last[-1].step), 1, _next(db))
        for done in _done(db).values():
            _possible(done)
        return tuple(last)


def history(path: Path) -> tuple[RecordEntry, ...]:
    """Every entry, oldest first, those taken back too."""
    with _reading(path) as db:
        return tuple(_entries(db))


def done(path: Path) -> tuple[DoneByPlan, ...]:
    """What is done, plan by plan."""
    with _reading(path) as db:
        return tuple(_done(db).values())


def _next(db: sqlite3.Connection) -> int:
    """Number of the next step: that of its first entry."""
    return int(db.execute("SELECT entries FROM tip").fetchone()[0]) + 1


def _add(db: sqlite3.Connection, digest: str, what: str, name: str, count: int, step: int) -> None:
    entries, before = db.execute("SELECT entries, seal FROM tip").fetchone()
    _insert(db, before, (entries + 1, now(), digest, what, name, count, step))


def _insert(db: sqlite3.Connection, before: str, row: tuple[Any, ...]) -> str:
    mark = seal((before, *row))
    db.execute("INSERT INTO entry VALUES (?,?,?,?,?,?,?,?)", (*row, mark))
    db.execute("UPDATE tip SET entries = ?, seal = ?", (row[0], mark))
    return mark


def _entries(db: sqlite3.Connection) -> list[RecordEntry]:
    rows = db.execute("SELECT id, at, plan, what, name, count, step FROM entry ORDER BY id").fetchall()
    return [RecordEntry(id=r[0], at=r[1], plan=r[2], what=r[3], name=r[4], count=r[5], step=r[6]) for r in rows]


def _standing(entries: list[RecordEntry]) -> list[RecordEntry]:
    back = {int(e.name) for e in entries if e.what == "undo"}
    return [e for e in entries if e.what != "undo" and e.step not in back]


def _done(db: sqlite3.Connection) -> dict[str, DoneByPlan]:
    plans = {r[0]: saved(json.loads(r[1])) for r in db.execute("SELECT digest, data FROM plan ORDER BY at, digest")}
    standing = _standing(_entries(db))
    return {digest: _of(digest, plan, [e for e in standing if e.plan == digest]) for digest, plan in plans.items()}


def _of(digest: str, plan: PlanFile, entries: list[RecordEntry]) -> DoneByPlan:
    layouts: dict[int, int] = {}
    laid: dict[str, int] = {}
    sums: dict[str, dict[str, int]] = {p.mark: {"cut": 0, "made": 0, "spoiled": 0} for p in plan.blanks}
    for e in entries:
        if e.what == "cut":
            layouts[int(e.name)] = layouts.get(int(e.name), 0) + e.count
        elif e.what == "laid":
            own = {s.slope.name for s in plan.roof.slopes} if plan.roof is not None else set()
            for name in [n for n in laid if n not in own and (copy_of(n) or ("",))[0] == e.name]:
                del laid[name]  # what is said of all of them later is true of each
            laid[e.name] = e.count
        elif e.what == "blanks":
            sums[e.name]["cut"] += e.count
        else:
            sums[e.name][e.what] += e.count
    for number, times in layouts.items():
        for blank in plan.nesting.layouts[number - 1].blanks if plan.nesting else ():
            sums[blank.mark]["cut"] += times
    return DoneByPlan(
        digest=digest, plan=plan, layouts=layouts, marks={mark: Tally(**each) for mark, each in sums.items()}, laid=laid
    )


def _possible(done: DoneByPlan, after: int = 0) -> None:
    """Refuse what cannot be: a layout cut more often than planned, more pieces than blanks."""
    wanted = {p.mark: p.count for p in done.plan.blanks}
    for mark, t in done.marks.items():
        if done.plan.nesting is None and t.cut > wanted[mark]:
            raise PlanError(
                f"Of {mark} {wanted[mark]} are cut for this job, and this would make {t.cut}.",
                help_="Nothing was written down.",
            )
    for number, times in done.layouts.items():
        most = done.plan.nesting.layouts[number - 1].repeat if done.plan.nesting else 0
        if times > most:
            raise PlanError(
                f"Layout {number + after} is cut {times_words(most)} by this plan, and this would make it {times}.",
                help_="Nothing was written down.",
            )
    for mark, t in done.marks.items():
        if t.made + t.spoiled > t.cut:
            raise PlanError(
                f"Of {mark} {t.cut} are cut, and {t.made} made and {t.spoiled} spoiled are more than that.",
                help_="Nothing was written down. Write the layouts that are cut down first: fabplan record cut.",
            )


@contextmanager
def _reading(path: Path) -> Iterator[sqlite3.Connection]:
    with _open(path, create=False) as db:
        if _version(db, path) == 1:
            with _changing(path):
                pass  # brings it to this version
        _sound(db, path)
        yield db


@contextmanager
def _changing(path: Path, *, create: bool = False) -> Iterator[sqlite3.Connection]:
    with _open(path, create=create) as db:
        db.execute("BEGIN IMMEDIATE")
        try:
            if create and db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0] == 0:
                for table in _TABLES:
                    db.execute(table)
                db.execute("INSERT INTO tip VALUES (1, 0, '')")
                db.execute(f"PRAGMA application_id={RECORD_MARK}")
                db.execute(f"PRAGMA user_version={RECORD_VERSION}")
            if _version(db, path) == 1:
                _upgrade(db, path)
            _sound(db, path)
            yield db
            db.execute("COMMIT")
        except BaseException:
            with suppress(sqlite3.Error):
                db.execute("ROLLBACK")
            raise


@contextmanager
def _open(path: Path, *, create: bool) -> Iterator[sqlite3.Connection]:
    shown = str(path)
    if path.suffix != ".db":
        raise JobError("a job's record is a file ending in .db", file=shown, write="a name such as 1042-record.db")
    if path.exists() and not path.is_file():
        raise JobError("this is not a file", file=shown, write="the name of a record")
    if not create and not path.exists():
        raise JobError("there is no record here", file=shown, write="fabplan record cut to start one")
    try:
        db = sqlite3.connect(path, timeout=WAIT_SECONDS, isolation_level=None)
        try:
            db.execute("PRAGMA synchronous=EXTRA")
            db.execute("PRAGMA trusted_schema=OFF")
            yield db
        finally:
            db.close()
    except UNREADABLE as fault:
        text = str(fault)
        if "locked" in text or "busy" in text:
            raise PlanError(f"{visible(shown)}: somebody else is writing in this record.") from None
        if "full" in text or "disk I/O" in text:
            raise PlanError(f"{visible(shown)}: the disk is full, or it fails.", help_="Nothing was changed.") from None
        if "readonly" in text or "unable to open" in text:
            raise JobError("the record cannot be opened for writing", file=shown) from None
        raise _damaged(path) from None


def _damaged(path: Path) -> JobError:
    return JobError("this file is not a job's record, or it is damaged", file=str(path), write="a sound copy of it")


def _version(db: sqlite3.Connection, path: Path) -> int:
    """The version of a record; refuses what is none, or of a later fabplan."""
    if db.execute("PRAGMA application_id").fetchone()[0] != RECORD_MARK:
        raise _damaged(path)
    version = int(db.execute("PRAGMA user_version").fetchone()[0])
    if not 1 <= version <= RECORD_VERSION:
        raise JobError(
            f"this record is of version {version}; this fabplan reads version {RECORD_VERSION}", file=str(path),
            write="a record of this version, or use the fabplan that made it",
        )  # fmt: skip
    return version


def _upgrade(db: sqlite3.Connection, path: Path) -> None:
    """Version 1 took entries back one by one: each is a step of its own."""
    _sound(db, path, columns="id, at, plan, what, name, count")
    rows = db.execute("SELECT id, at, plan, what, name, count FROM entry ORDER BY id").fetchall()
    db.execute("DROP TABLE entry")
    db.execute(_TABLES[1])
    before = ""
    for row in rows:
        before = _insert(db, before, (*row, row[0]))
    db.execute(f"PRAGMA user_version={RECORD_VERSION}")


def _sound(db: sqlite3.Connection, path: Path, *, columns: str = "id, at, plan, what, name, count, step") -> None:
    """Refuse a record that is not as it was written."""
    _version(db, path)
    try:
        sound = db.execute("PRAGMA integrity_check(1)").fetchall() == [("ok",)]
        before, number = "", 0
        for number, *row in db.execute(f"SELECT {columns}, seal FROM entry ORDER BY id"):
            sound &= row[-1] == seal((before, number, *row[:-1]))
            before = row[-1]
        sound &= db.execute("SELECT entries, seal FROM tip").fetchall() == [(number, before)]
        for *plan, its in db.execute("SELECT digest, at, data, seal FROM plan"):
            sound &= its == seal(tuple(plan)) and plan_digest(json.loads(plan[2])) == plan[0]
    except (TypeError, ValueError):
        sound = False
    if not sound:
        raise _damaged(path)
