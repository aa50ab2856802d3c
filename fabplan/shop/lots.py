"""Coils and sheets in stock: what is there of each, what is set aside for a plan, what is used.

They live in the rack's file beside the offcuts. A lot is one coil, or sheets of one size that came together; what is
there goes down when a plan is booked, and never below nothing. Metal set aside for one plan is not free for another.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from fabplan.errors import JobError, PlanError, visible
from fabplan.shop.rack import Units, gone_says, metal_key, now
from fabplan.shop.rack_file import UNREADABLE, damaged, new_piece_id, reading, seal, writing
from fabplan.units import NM_PER_FOOT, NM_PER_MM

LOT = ("id", "piece", "form", "metal", "thickness", "width", "length", "there", "grain", "units", "note", "added")
DUST = 100  # nanometres: a saved plan has six decimals


@dataclass(frozen=True, slots=True, kw_only=True)
class Lot:
    """A coil or sheets alike.

    `there` is nanometres of a coil or a count, `reserved` of it what is set aside; a coil has a `length` of 0. `id` is
    its number, `piece` its identity.
    """

    id: int
    piece: str
    form: Literal["coil", "sheet"]
    metal: str
    thickness: float
    width: int
    length: int
    there: int
    grain: Literal["along", "across"]
    units: Units
    note: str
    added: str
    reserved: int = 0

    @property
    def free(self) -> int:
        """What no plan has set aside."""
        return max(0, self.there - self.reserved)


def add_lot(
    path: Path,
    *,
    form: Literal["coil", "sheet"],
    metal: str,
    thickness: float,
    width: int,
    length: int,
    there: int,
    grain: Literal["along", "across"] = "along",
    units: Units = "in",
    note: str = "",
) -> int:
    """Put a coil, or sheets alike, into stock (the file is made when it is not there); its number."""
    with writing(path, create=True) as db:
        top = db.execute("SELECT coalesce(max(id), 0) FROM lot").fetchone()[0]
        last = db.execute("SELECT coalesce(max(id), 0) FROM lot_gone").fetchone()[0]
        number = int(max(top, last)) + 1
        row = (
            number, new_piece_id(), form, metal_key(metal), float(thickness), int(width), int(length), int(there),
            grain, units, visible(note), now(),
        )  # fmt: skip
        db.execute(f"INSERT INTO lot VALUES ({','.join('?' * 13)})", (*row, seal(row)))
        return number


def lots(path: Path) -> tuple[Lot, ...]:
    """Coils and sheets in stock, by number.

    Raises
    ------
    JobError
        No rack, or a damaged one: amounts on it cannot be relied on.
    """
    with reading(path) as (db, damage):
        if damage is not None:
            raise damaged(path)
        return tuple(_lots(db))


def known_lines(path: Path) -> frozenset[tuple[str, str, int, int, str]]:
    """Form, metal, width, length and grain of everything that ever was in stock: of these the file knows how much
    there is, were it nothing."""
    with reading(path) as (db, damage):
        if damage is not None:
            raise damaged(path)
        rows = db.execute(
            "SELECT form, metal, width, length, grain FROM lot "
            "UNION SELECT form, metal, width, length, grain FROM lot_gone"
        ).fetchall()
    return frozenset((r[0], r[1], r[2], r[3], r[4]) for r in rows)


def reserved_pieces(path: Path) -> frozenset[str]:
    """Identities of offcuts set aside for plans."""
    with reading(path) as (db, damage):
        if damage is not None:
            return frozenset()
        return frozenset(r[0] for r in db.execute("SELECT piece FROM taking WHERE state = 'reserved'"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Taking:
    """Metal of one piece or lot that a plan has set aside or used."""

    job: str
    plan: str
    piece: str
    amount: int
    state: Literal["reserved", "used"]
    at: str


def takings(path: Path) -> tuple[Taking, ...]:
    """Everything set aside and used, in the order it was written."""
    with reading(path) as (db, damage):
        if damage is not None:
            raise damaged(path)
        rows = db.execute("SELECT job, plan, piece, amount, state, at FROM taking ORDER BY at, plan, piece").fetchall()
    return tuple(Taking(job=r[0], plan=r[1], piece=r[2], amount=r[3], state=r[4], at=r[5]) for r in rows)


def release(path: Path, job: str) -> int:
    """Give back what is set aside for a job, and say how many pieces and lots that were.

    Raises
    ------
    PlanError
        Nothing is set aside for it.
    """
    with writing(path) as db:
        n = db.execute("DELETE FROM taking WHERE state = 'reserved' AND job = ?", (visible(job),)).rowcount
        if not n:
            raise PlanError(f"Nothing is set aside for job {visible(job)}.", help_="Nothing was changed.")
        return int(n)


def drop_lot(path: Path, number: int) -> None:
    """Take a lot out of stock by hand.

    Raises
    ------
    PlanError
        It is not there, or some of it is set aside.
    """
    with writing(path) as db:
        lot = next((x for x in _lots(db) if x.id == number), None)
        if lot is None:
            raise PlanError(f"Lot {number} is not in stock.", help_="fabplan rack list shows what is there.")
        if lot.reserved:
            raise PlanError(f"Some of lot {number} is set aside.", help_="fabplan rack release JOB gives it back.")
        _gone(db, lot, "dropped")


def reserve_in(db: sqlite3.Connection, digest: str, job: str, wanted: Mapping[str, int], pieces: Sequence[str]) -> None:
    """Set lots (identity to amount) and offcuts aside for a plan, inside a change.

    Raises
    ------
    PlanError
        One of them is not free; nothing is set aside.
    """
    if db.execute("SELECT 1 FROM taking WHERE plan = ?", (digest,)).fetchone():
        raise PlanError("Metal is set aside for this plan already.", help_="Nothing was changed.")
    free_in(db, digest, wanted, pieces)
    for piece, amount in (*wanted.items(), *((p, 1) for p in pieces)):
        db.execute("INSERT INTO taking VALUES (?,?,?,?,'reserved',?)", (digest, job, piece, amount, now()))


def free_in(db: sqlite3.Connection, digest: str, wanted: Mapping[str, int], pieces: Sequence[str]) -> None:
    """Refuse unless lots and offcuts are there and not set aside for another plan."""
    there = {x.piece: x for x in _lots(db, but=digest)}
    for piece, amount in wanted.items():
        lot = there.get(piece)
        if lot is None:
            was = db.execute("SELECT id FROM lot_gone WHERE piece = ?", (piece,)).fetchone()
            raise PlanError(
                f"Lot {was[0]} is used up." if was else f"Lot {visible(piece)} was never in this stock.",
                help_="Nothing was changed. Plan again with the stock as it is now.",
            )
        if lot.free + DUST < amount:
            raise PlanError(
                f"Of lot {lot.id} {lot_amount(lot, lot.free)} are free, and the plan takes {lot_amount(lot, amount)}.",
                help_="Nothing was changed. Plan again with the stock as it is now, or give back what is set aside "
                "(fabplan rack release).",
            )
    for piece in pieces:
        held = db.execute(
            "SELECT job FROM taking WHERE piece = ? AND state = 'reserved' AND plan != ?", (piece, digest)
        ).fetchone()
        if held:
            raise PlanError(
                f"An offcut of the plan is set aside for job {held[0]}.",
                help_="Nothing was changed. Plan again, or give it back (fabplan rack release).",
            )
        if db.execute("SELECT 1 FROM offcut WHERE piece = ?", (piece,)).fetchone() is None:
            was = db.execute("SELECT id FROM gone WHERE piece = ?", (piece,)).fetchone()
            raise PlanError(
                f"Offcut {was[0]} is not on the rack{gone_says(db, was[0])}."
                if was
                else f"Piece {visible(piece)} was never on this rack.",
                help_="Nothing was changed. Plan again with the rack as it is now.",
            )


def use_in(db: sqlite3.Connection, digest: str, job: str, wanted: Mapping[str, int], pieces: Sequence[str]) -> None:
    """Take what a plan uses off its lots, inside a change; what was set aside for it is used now.

    Raises
    ------
    PlanError
        A lot does not hold it.
    """
    free_in(db, digest, wanted, pieces)
    db.execute("DELETE FROM taking WHERE plan = ?", (digest,))
    there = {x.piece: x for x in _lots(db)}
    for piece, amount in wanted.items():
        lot = there[piece]
        if lot.there - amount < (NM_PER_MM if lot.form == "coil" else 1):
            _gone(db, lot, f"used for job {job}")
        else:
            _write(db, lot, lot.there - amount)
    for piece, amount in (*wanted.items(), *((p, 1) for p in pieces)):
        db.execute("INSERT INTO taking VALUES (?,?,?,?,'used',?)", (digest, job, piece, amount, now()))


def lots_of(plan: dict[str, Any], nm: int) -> dict[str, int]:
    """What a saved plan pulls of its lots, by identity; sheets alike leave the oldest lot first.

    The plan's line of stock names its lots, the buying list says how much is pulled of it.
    """
    out: dict[str, int] = {}
    pulled = {b["stock"]: b["pull"] for b in plan.get("buy", ())}
    coils = {b["stock"]: b.get("coils") or () for b in plan.get("buy", ())}
    for s in plan["nesting"]["stock"]:
        if s.get("form") not in ("coil", "sheet") or not s.get("rack_pieces"):
            continue
        if coils.get(s["name"]):
            for c in coils[s["name"]]:
                out[c["piece"]] = out.get(c["piece"], 0) + round(c["length"] * nm)
            continue
        pull = pulled.get(s["name"])
        if pull is None:
            raise JobError("the plan does not say what is pulled of its stock", key=f"buy {s['name']}")
        amount = round((pull.get("length") or 0) * nm) if s["form"] == "coil" else int(pull.get("count") or 0)
        if amount:
            out["\n".join(s["rack_pieces"])] = amount
    return out


def spread(db: sqlite3.Connection, wanted: Mapping[str, int], digest: str) -> dict[str, int]:
    """Amounts of groups of lots as amounts of each lot, the first first; what a group lacks stays with its last."""
    free = {x.piece: x.free for x in _lots(db, but=digest)}
    out: dict[str, int] = {}
    for group, amount in wanted.items():
        names = group.split("\n")
        left = amount
        for piece in names[:-1]:
            part = min(left, free.get(piece, 0))
            left -= part
            if part:
                out[piece] = out.get(piece, 0) + part
        if left:
            out[names[-1]] = out.get(names[-1], 0) + left
    return out


def proved_lots(db: sqlite3.Connection) -> list[tuple[Any, ...]]:
    """Rows of lots whose seal holds, for a new rack; of a damaged file those that can still be read."""
    rows: list[tuple[Any, ...]] = []
    with suppress(*UNREADABLE):
        for row in db.execute(f"SELECT {', '.join(LOT)}, seal FROM lot ORDER BY id"):
            if row[-1] == seal(row[:-1]):
                rows.append(tuple(row))
    return rows


def _lots(db: sqlite3.Connection, *, but: str = "") -> list[Lot]:
    """All lots; what the plan `but` has set aside counts as free."""
    held = dict(
        db.execute(
            "SELECT piece, sum(amount) FROM taking WHERE state = 'reserved' AND plan != ? GROUP BY piece", (but,)
        ).fetchall()
    )
    rows = db.execute(f"SELECT {', '.join(LOT)} FROM lot ORDER BY id").fetchall()
    return [Lot(**dict(zip(LOT, row, strict=True)), reserved=held.get(row[1], 0)) for row in rows]


def _write(db: sqlite3.Connection, lot: Lot, there: int) -> None:
    row = tuple(there if key == "there" else getattr(lot, key) for key in LOT)
    db.execute("UPDATE lot SET there = ?, seal = ? WHERE id = ?", (there, seal(row), lot.id))


def _gone(db: sqlite3.Connection, lot: Lot, why: str) -> None:
    db.execute("DELETE FROM lot WHERE id = ?", (lot.id,))
    row = (lot.id, lot.piece, lot.form, lot.metal, lot.width, lot.length, lot.grain, why, now())
    db.execute("INSERT INTO lot_gone VALUES (?,?,?,?,?,?,?,?,?)", row)


def lot_amount(lot: Lot, n: int) -> str:
    """So much of a lot: ``60.0 ft``, ``12``; no more than there is."""
    if lot.form == "sheet":
        return str(n)
    unit, nm = ("m", 1000 * NM_PER_MM) if lot.units == "mm" else ("ft", NM_PER_FOOT)
    return f"{n * 10 // nm / 10:.1f} {unit}"
