"""The offcut rack: pieces of metal kept for later jobs.

Every piece has a number people say aloud, and an identity of its own that a plan carries: a plan made with one rack
never takes a piece of another. Planning reserves nothing; `fabplan.shop.booking` takes and keeps.
"""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path, PurePosixPath
from typing import Literal

from fabplan.errors import JobError, PlanError, visible
from fabplan.job.readers import word
from fabplan.shop.rack_file import UNREADABLE, Damage, insert_offcut, proved_offcuts, reading, writing

PREFIX = "rack "
MOST_ID = 2**63 - 1  # of an SQLite row
LONGEST_NOTE = 200
Units = Literal["in", "mm"]


@dataclass(frozen=True, slots=True, kw_only=True)
class RackPiece:
    """One offcut on the rack; width and length in nanometres, grain along or across its length.

    `id` is the number on its label, `piece` its identity, `units` those its size was given in.
    """

    id: int
    piece: str
    metal: str
    thickness: float
    width: int
    length: int
    grain: Literal["along", "across"]
    units: Units
    note: str
    added: str


def now() -> str:
    """The time, UTC, as the rack keeps it."""
    return datetime.now(UTC).strftime("%Y-%m-%d %H:%M:%S")


def metal_key(name: str) -> str:
    """A metal as the rack keeps it, however it was typed; a profile of the shop's own keeps its file's name.

    >>> metal_key("Copper_16OZ"), metal_key("metals/My Copper.toml")
    ('copper-16oz', 'My Copper.toml')
    """
    if re.search(r"[/\\]|\.toml$", name, re.I):
        return PurePosixPath(name.replace("\\", "/")).name
    return str(word(name))


def add(
    path: Path,
    *,
    metal: str,
    thickness: float,
    width: int,
    length: int,
    grain: Literal["along", "across"] = "along",
    units: Units = "in",
    count: int = 1,
    note: str = "",
) -> tuple[int, ...]:
    """Put pieces on the rack (the file is made when it is not there) and return their ids.

    Hidden characters of the note are kept spelled out, so that they steer no terminal.
    """
    with writing(path, create=True) as db:
        return tuple(
            insert_offcut(
                db,
                metal=metal_key(metal),
                thickness=float(thickness),
                width=int(width),
                length=int(length),
                grain=grain,
                units=units,
                note=visible(note),
                added=now(),
                came_from=None,
            )
            for _ in range(count)
        )


def look(path: Path, *, metal: str | None = None) -> tuple[tuple[RackPiece, ...], Damage | None]:
    """Pieces on the rack by id, of one metal when named; of a damaged rack those that can be proved, and its damage.

    Raises
    ------
    JobError
        No rack, or one of which nothing can be proved.
    """
    with reading(path) as (db, damage):
        rows = proved_offcuts(db)
    if damage is not None and not rows:
        raise JobError(
            "this rack is damaged, and no piece on it can be proved", file=str(path), write="a copy of the rack"
        )
    wanted = None if metal is None else metal_key(metal)
    there = tuple(
        RackPiece(**{key: value for key, value in row.items() if key != "came_from"})
        for row in rows
        if wanted is None or row["metal"] == wanted
    )
    return there, damage


def pieces(path: Path, *, metal: str | None = None) -> tuple[RackPiece, ...]:
    """`look` without the damage."""
    return look(path, metal=metal)[0]


def damage_says(path: Path, damage: Damage) -> str:
    """What a person is told of a damaged rack."""
    lost = (
        "some of its pieces may be missing"
        if not damage.unproved
        else f"{damage.unproved} of its pieces cannot be proved and {'is' if damage.unproved == 1 else 'are'} left out"
    )
    return (
        f"{visible(str(path))}: this rack is damaged: {lost}. Nothing is written to it. "
        "fabplan rack rescue moves what is proved to a new rack; then compare it with the metal itself."
    )


def drop(path: Path, ids: Sequence[int], *, why: str = "dropped") -> None:
    """Take pieces off by hand; refuses all when one is not there."""
    with writing(path) as db:
        for number in dict.fromkeys(ids):
            held = db.execute(
                "SELECT job FROM taking JOIN offcut USING (piece) WHERE id = ? AND state = 'reserved'",
                (number if 0 <= number <= MOST_ID else -1,),
            ).fetchone()
            if held:
                raise PlanError(
                    f"Offcut {number} is set aside for job {held[0]}.",
                    help_="Nothing was changed. fabplan rack release gives it back.",
                )
            take(db, number, why=why, plan=None)


def take(db: sqlite3.Connection, number: int, *, why: str, plan: str | None) -> None:
    """Take one piece off, inside a change.

    Raises
    ------
    PlanError
        It is not there.
    """
    there = None
    if 0 <= number <= MOST_ID:
        there = db.execute("SELECT piece FROM offcut WHERE id = ?", (number,)).fetchone()
    if there is None:
        raise PlanError(
            f"Offcut {number} is not on the rack{gone_says(db, number)}.",
            help_="Nothing was changed. fabplan rack list shows what is there.",
        )
    db.execute("DELETE FROM offcut WHERE id = ?", (number,))
    db.execute(
        "INSERT OR REPLACE INTO gone (id, piece, why, plan, at) VALUES (?,?,?,?,?)",
        (number, there[0], why, plan, now()),
    )


def gone_says(db: sqlite3.Connection, number: int) -> str:
    """Why a piece left the rack and when, in brackets; nothing when it never was there."""
    gone = None
    if 0 <= number <= MOST_ID:
        gone = db.execute("SELECT why, at FROM gone WHERE id = ?", (number,)).fetchone()
    return f" ({visible(gone[0])}, {gone[1]})" if gone else ""


def rescue(path: Path, fresh: Path) -> int:
    """Write every piece that can be proved to a new rack, and say how many; the damaged one is left as it is.

    Raises
    ------
    JobError
        Nothing can be proved, or the new rack is there already.
    """
    if fresh.exists():
        raise JobError("is there already and is left as it is", file=str(fresh), write="the name of a new rack file")
    from fabplan.shop.lots import proved_lots

    there, _ = look(path)
    with reading(path) as (db, _):
        rows = proved_offcuts(db)
        stock = proved_lots(db)
        bookings, takings = [], []
        with suppress(*UNREADABLE):
            bookings = db.execute("SELECT plan, job, booked, taken, kept FROM booking").fetchall()
        with suppress(*UNREADABLE):
            takings = db.execute("SELECT plan, job, piece, amount, state, at FROM taking").fetchall()
    with writing(fresh, create=True) as db:
        for row in rows:
            insert_offcut(db, **row)
        for row in bookings:
            with suppress(sqlite3.IntegrityError):
                db.execute("INSERT INTO booking VALUES (?,?,?,?,?)", row)
        for lot in stock:
            db.execute(f"INSERT INTO lot VALUES ({','.join('?' * len(lot))})", lot)
        for row in takings:
            with suppress(sqlite3.IntegrityError):
                db.execute("INSERT INTO taking VALUES (?,?,?,?,?,?)", row)
    return len(there)


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
