"""The offcut rack: bookings are whole or not at all, once a plan, and survive kills and company."""

from __future__ import annotations

import json
import os
import random
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

from fabplan.errors import JobError, PlanError
from fabplan.shop import booking, rack, rack_file
from fabplan.units import NM_PER_INCH, NM_PER_MM

IN = NM_PER_INCH
GRID = IN // 32
OTHER_VERSION = f"CREATE TABLE o (x); PRAGMA application_id={rack_file.RACK_MARK}; PRAGMA user_version=99;"


def book(path: Path, plan: dict[str, Any]) -> booking.Booked:
    return booking.book(path, plan, grid=GRID)


def fill(path: Path, n: int) -> tuple[int, ...]:
    return rack.add(path, metal="copper-16oz", thickness=0.0216, width=10 * IN, length=30 * IN, count=n)


def names_of(path: Path) -> dict[int, str]:
    """Identity of every piece by its number."""
    return {p.id: p.piece for p in rack.pieces(path)}


def saved_plan(number: str, uses: list[int], keeps: int = 0, *, of: dict[int, str]) -> dict[str, Any]:
    """A plan.json cut to what booking reads: it uses rack pieces and keeps offcuts of a coil."""
    keep = {"x": 0, "y": 0, "width": 6.5, "length": 12.25, "keep": True, "label": ""}
    scrap = {"x": 0, "y": 0, "width": 1.0, "length": 2.0, "keep": False, "label": ""}
    metal = {"metal": "copper-16oz", "thickness": 0.0216, "grain": "along"}
    size = {"width": 10.0, "length": 30.0}
    stock: list[dict[str, Any]] = [{"name": f"rack {i}", **metal, **size, "rack_pieces": [of[i]]} for i in uses]
    stock.append({"name": "coil 24", **metal, "width": 24.0, "length": None})
    layouts = [{"stock": f"rack {i}", "repeat": 1, "offcuts": [scrap]} for i in uses]
    layouts.append({"stock": "coil 24", "repeat": keeps, "offcuts": [keep, scrap]})
    return {
        "units": "in",
        "job": {"name": "Boathouse", "number": number},
        "nesting": {"status": "proven", "stock": stock, "layouts": layouts},
    }


def test_booking_takes_the_used_and_keeps_the_new(tmp_path: Path) -> None:
    db = tmp_path / "rack.db"
    a, b, c = fill(db, 3)
    done = book(db, saved_plan("J1", [b], keeps=2, of=names_of(db)))
    assert done.taken == (b,)
    left = {p.id: p for p in rack.pieces(db)}
    assert set(left) == {a, c, *done.kept}
    assert len(done.kept) == 2
    new = left[done.kept[0]]
    assert (new.width, new.length) == (int(6.5 * IN), int(12.25 * IN))
    assert new.thickness == pytest.approx(0.0216)


def test_a_plan_in_millimetres_keeps_exact_sizes(tmp_path: Path) -> None:
    db = tmp_path / "rack.db"
    fill(db, 1)
    plan = saved_plan("J1", [], keeps=1, of=names_of(db))
    plan["units"] = "mm"
    plan["nesting"]["stock"][0]["thickness"] = 0.7
    done = book(db, plan)
    piece = {p.id: p for p in rack.pieces(db)}[done.kept[0]]
    assert (piece.width, piece.length) == (6_500_000, 12_250_000)
    assert piece.thickness == pytest.approx(0.7 / 25.4)


def test_a_plan_is_booked_once_however_it_is_laid_out(tmp_path: Path) -> None:
    db = tmp_path / "rack.db"
    ids = fill(db, 2)
    plan = saved_plan("J1", [ids[0]], keeps=1, of=names_of(db))
    book(db, plan)
    before = rack.pieces(db)
    shuffled = dict(reversed(list(plan.items())))
    with pytest.raises(PlanError, match="was booked on"):
        book(db, shuffled)
    assert rack.pieces(db) == before


def test_a_piece_gone_meanwhile_refuses_the_whole_booking(tmp_path: Path) -> None:
    db = tmp_path / "rack.db"
    a, b = fill(db, 2)
    plan = saved_plan("J1", [a, b], keeps=3, of=names_of(db))
    rack.drop(db, [b])
    before = rack.pieces(db)
    with pytest.raises(PlanError, match=f"Offcut {b} is not on the rack"):
        book(db, plan)
    assert rack.pieces(db) == before


def test_pieces_alike_leave_oldest_first(tmp_path: Path) -> None:
    db = tmp_path / "rack.db"
    a, b, c, d = fill(db, 4)
    plan = saved_plan("J1", [], keeps=0, of=names_of(db))
    line = {
        "name": f"rack {a}-{d}",
        "metal": "copper-16oz",
        "thickness": 0.0216,
        "grain": "along",
        "width": 10.0,
        "length": 30.0,
        "rack_pieces": [names_of(db)[i] for i in (a, b, c, d)],
    }
    plan["nesting"]["stock"].append(line)
    plan["nesting"]["layouts"] += [{"stock": line["name"], "repeat": n, "offcuts": []} for n in (2, 1)]
    assert book(db, plan).taken == (a, b, c)
    assert [p.id for p in rack.pieces(db)] == [d]


def test_a_short_plan_is_not_booked(tmp_path: Path) -> None:
    db = tmp_path / "rack.db"
    ids = fill(db, 1)
    plan = saved_plan("J1", list(ids), of=names_of(db))
    plan["nesting"]["status"] = "short"
    with pytest.raises(PlanError, match="SHORT"):
        book(db, plan)


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda p: p, "there is no offcut rack here"),
        (lambda p: p.mkdir(), "this is a folder"),
        (lambda p: p.write_bytes(b"not a database at all, just words" * 40), "not an offcut rack"),
        (lambda p: sqlite3.connect(p).executescript("CREATE TABLE other (x);").close(), "not an offcut rack"),
        (
            lambda p: sqlite3.connect(p).executescript(OTHER_VERSION).close(),
            "version 99",
        ),
    ],
)
def test_files_that_are_no_rack_are_named(tmp_path: Path, make: Any, says: str) -> None:
    db = tmp_path / "rack.db"
    make(db)
    with pytest.raises(JobError, match=says):
        rack.pieces(db)


def test_only_db_files_are_touched(tmp_path: Path) -> None:
    with pytest.raises(JobError, match=r"ending in \.db"):
        fill(tmp_path / "notes.txt", 1)
    assert not (tmp_path / "notes.txt").exists()


def test_somebody_else_booking_gives_a_plain_message(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    db = tmp_path / "rack.db"
    ids = fill(db, 1)
    monkeypatch.setattr(rack_file, "WAIT_SECONDS", 0.05)
    other = sqlite3.connect(db, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    try:
        with pytest.raises(PlanError, match="somebody else is booking"):
            book(db, saved_plan("J1", list(ids), of=names_of(db)))
    finally:
        other.execute("ROLLBACK")
        other.close()
    assert len(rack.pieces(db)) == 1


_BOOKER = """
import json, sys
from pathlib import Path
from fabplan.shop.booking import book
from fabplan.errors import FabplanError
db, plans = Path(sys.argv[1]), json.load(open(sys.argv[2]))
print("ready", flush=True)
for plan in plans:
    try:
        book(db, plan, grid=793750)
    except FabplanError:
        pass
"""


def _kills(tmp_path: Path, rounds: int) -> None:
    """Kill a booking process at random moments; the rack must always add up."""
    db = tmp_path / "rack.db"
    rng = random.Random(7)
    start = set(fill(db, 60))
    plans_file = tmp_path / "plans.json"
    plans = [saved_plan(f"J{i}", [i + 1], keeps=2, of=names_of(db)) for i in range(60)]
    plans_file.write_text(json.dumps(plans))
    script = tmp_path / "booker.py"
    script.write_text(_BOOKER)
    for _ in range(rounds):
        child = subprocess.Popen(
            [sys.executable, str(script), str(db), str(plans_file)],
            stdout=subprocess.PIPE,
            env={**os.environ, "PYTHONPATH": str(Path(__file__).resolve().parents[2])},
        )
        assert child.stdout is not None
        child.stdout.readline()
        time.sleep(rng.uniform(0, 0.12))
        child.send_signal(signal.SIGKILL)
        child.wait()
        child.stdout.close()
        rack.pieces(db)  # undoes what was cut short
        with sqlite3.connect(db) as seen:
            assert seen.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
            booked, taken, kept = seen.execute(
                "SELECT count(*), coalesce(sum(taken), 0), coalesce(sum(kept), 0) FROM booking"
            ).fetchone()
        seen.close()
        now = {p.id for p in rack.pieces(db)}
        assert taken == booked == len(start - now)
        assert kept == 2 * booked == len(now - start)


def test_kills_while_booking_lose_and_double_nothing(tmp_path: Path) -> None:
    _kills(tmp_path, 10)


@pytest.mark.slow
def test_many_kills_while_booking_lose_and_double_nothing(tmp_path: Path) -> None:
    _kills(tmp_path, 1000)


def test_two_people_booking_at_once_both_count(tmp_path: Path) -> None:
    db = tmp_path / "rack.db"
    fill(db, 20)
    start = names_of(db)
    script = tmp_path / "booker.py"
    script.write_text(_BOOKER)
    children = []
    for who in range(2):
        plans_file = tmp_path / f"plans{who}.json"
        plans = [saved_plan(f"P{who}-{i}", [i * 2 + who + 1], keeps=1, of=start) for i in range(10)]
        plans_file.write_text(json.dumps(plans))
        children.append(
            subprocess.Popen(
                [sys.executable, str(script), str(db), str(plans_file)],
                stdout=subprocess.DEVNULL,
                env={**os.environ, "PYTHONPATH": str(Path(__file__).resolve().parents[2])},
            )
        )
    assert [c.wait(60) for c in children] == [0, 0]
    left = rack.pieces(db)
    assert len(left) == 20
    assert all(p.note.startswith("left from job P") for p in left)


@pytest.mark.parametrize(
    ("key", "value", "says"),
    [
        ("metal", "zinc-0.7mm", "another metal"),
        ("thickness", 0.027, "another thickness"),
        ("width", 12.0, "another width"),
        ("length", 29.0, "another length"),
        ("grain", "across", "another rolling direction"),
        ("rack_pieces", ["nowhere234"], "was never on this rack"),
    ],
)
def test_a_piece_that_is_not_the_plans_stays(tmp_path: Path, key: str, value: object, says: str) -> None:
    db = tmp_path / "rack.db"
    (a,) = fill(db, 1)
    before = rack.pieces(db)
    plan = saved_plan("J1", [a], keeps=1, of=names_of(db))
    plan["nesting"]["stock"][0][key] = value
    with pytest.raises(PlanError, match=says):
        book(db, plan)
    assert rack.pieces(db) == before


def test_a_plan_of_one_rack_takes_nothing_from_another(tmp_path: Path) -> None:
    ours, theirs = tmp_path / "ours.db", tmp_path / "theirs.db"
    (a,) = fill(ours, 1)
    fill(theirs, 1)
    plan = saved_plan("J1", [a], of=names_of(ours))
    with pytest.raises(PlanError, match="never on this rack"):
        book(theirs, plan)
    assert len(rack.pieces(theirs)) == 1
    assert book(ours, plan).taken == (a,)


def test_a_stock_line_named_like_a_rack_piece_takes_none(tmp_path: Path) -> None:
    db = tmp_path / "rack.db"
    (a,) = fill(db, 1)
    plan = saved_plan("J1", [a], of=names_of(db))
    del plan["nesting"]["stock"][0]["rack_pieces"]
    assert book(db, plan).taken == ()
    assert [p.id for p in rack.pieces(db)] == [a]


def test_metals_are_one_however_typed(tmp_path: Path) -> None:
    db = tmp_path / "rack.db"
    rack.add(db, metal="Copper_16OZ", thickness=0.0216, width=10 * IN, length=30 * IN)
    assert [p.metal for p in rack.pieces(db, metal="copper 16oz")] == ["copper-16oz"]


@pytest.mark.parametrize("number", [0, -1, 7, 2**63 - 1, 2**63, 99999999999999999999])
def test_a_number_no_piece_has_is_told(tmp_path: Path, number: int) -> None:
    db = tmp_path / "rack.db"
    fill(db, 2)
    with pytest.raises(PlanError, match=f"Offcut {number} is not on the rack"):
        rack.drop(db, [1, number])
    assert len(rack.pieces(db)) == 2


def _flips(tmp_path: Path, rounds: int) -> tuple[int, int]:
    """Change one byte at a time: the rack is refused, or what it shows is true and it takes no writing if damaged."""
    db = tmp_path / "rack.db"
    ids = fill(db, 30)
    rack.drop(db, ids[5:9])
    book(db, saved_plan("J1", [ids[0]], keeps=3, of=names_of(db)))
    whole = db.read_bytes()
    truth = {p.id: p for p in rack.pieces(db)}
    rng = random.Random(11)
    refused = short = 0
    for _ in range(rounds):
        spoiled = bytearray(whole)
        at = rng.randrange(len(whole))
        spoiled[at] ^= rng.randrange(1, 256)
        db.write_bytes(spoiled)
        try:
            there, damage = rack.look(db)
        except (JobError, PlanError):
            refused += 1
            assert db.read_bytes() == spoiled
        else:
            assert all(truth[p.id] == p for p in there)
            if damage is None:
                assert len(there) == len(truth)
                continue
            short += 1
        with pytest.raises((JobError, PlanError)):
            fill(db, 1)
        with pytest.raises((JobError, PlanError)):
            rack.drop(db, [ids[1]])
        assert db.read_bytes() == spoiled, f"byte {at} was changed, and the damaged rack was written to"
    return refused, short


def test_a_changed_byte_is_seen_or_does_no_harm(tmp_path: Path) -> None:
    refused, short = _flips(tmp_path, 120)
    assert refused + short > 15


@pytest.mark.slow
def test_many_changed_bytes_are_seen_or_do_no_harm(tmp_path: Path) -> None:
    _flips(tmp_path, 10_000)


def test_bytes_that_damage_put_in_a_row_match_no_seal_of_text() -> None:
    """SQLite reads a text as bytes when one bit of the row's header is wrong."""
    found = {rack_file.seal((1, value)) for value in (b"copper", "copper", repr(b"copper"), b"coppes")}
    assert len(found) == 4


def test_what_can_be_proved_moves_to_a_new_rack(tmp_path: Path) -> None:
    db = tmp_path / "rack.db"
    fill(db, 20)
    truth = rack.pieces(db)
    with sqlite3.connect(db) as other:
        other.execute("UPDATE offcut SET width = width + 1 WHERE id = 7")
    other.close()
    there, damage = rack.look(db)
    assert damage == rack_file.Damage(unproved=1)
    assert there == tuple(p for p in truth if p.id != 7)
    with pytest.raises(JobError, match="damaged and is left as it is"):
        fill(db, 1)
    fresh = tmp_path / "new.db"
    assert rack.rescue(db, fresh) == 19
    assert rack.look(fresh) == (there, None)
    with pytest.raises(JobError, match="is there already"):
        rack.rescue(db, fresh)


def test_a_rack_of_the_first_version_is_brought_up(tmp_path: Path) -> None:
    db = tmp_path / "rack.db"
    with sqlite3.connect(db, isolation_level=None) as old:
        old.executescript(
            """
            PRAGMA journal_mode=WAL;
            CREATE TABLE offcut (
                id INTEGER PRIMARY KEY AUTOINCREMENT, metal TEXT NOT NULL, thickness REAL NOT NULL,
                width INTEGER NOT NULL, length INTEGER NOT NULL, grain TEXT NOT NULL, note TEXT NOT NULL DEFAULT '',
                added TEXT NOT NULL, came_from TEXT) STRICT;
            CREATE TABLE booking (plan TEXT PRIMARY KEY, job TEXT NOT NULL, booked TEXT NOT NULL,
                taken INTEGER NOT NULL, kept INTEGER NOT NULL) STRICT;
            CREATE TABLE gone (id INTEGER PRIMARY KEY, why TEXT NOT NULL, plan TEXT, at TEXT NOT NULL) STRICT;
            INSERT INTO offcut VALUES (1, 'copper-16oz', 0.0216, 254000000, 762000000, 'along', 'n', '2026-01-0', NULL);
            INSERT INTO offcut VALUES (9, 'copper-16oz', 0.0216, 254000000, 762000000, 'across', '', '2026-01-02', 'x');
            DELETE FROM offcut WHERE id = 9;
            INSERT INTO gone VALUES (9, 'dropped', NULL, '2026-01-03');
            """
        )
        old.execute(f"PRAGMA application_id={rack_file.RACK_MARK}")
        old.execute("PRAGMA user_version=1")
    old.close()
    there, damage = rack.look(db)
    assert damage is None
    assert [(p.id, p.width, p.note, p.units) for p in there] == [(1, 254000000, "n", "in")]
    assert len(there[0].piece) >= 8
    assert fill(db, 1) == (10,)  # the number of a piece that left is not given again
    assert [f.name for f in tmp_path.iterdir()] == ["rack.db"]


def test_no_file_is_left_beside_the_rack(tmp_path: Path) -> None:
    db = tmp_path / "rack.db"
    fill(db, 3)
    rack.pieces(db)
    rack.drop(db, [1])
    assert [f.name for f in tmp_path.iterdir()] == ["rack.db"]


def test_millimetres_stay_millimetres(tmp_path: Path) -> None:
    from fabplan.shop.counter import add_piece, rack_data, rack_rows

    db = tmp_path / "rack.db"
    metal = {"metal": "copper-0.7mm", "grain": "along", "count": 1, "note": ""}
    add_piece(db, size="200 x 812.5 mm", **metal)  # type: ignore[arg-type]
    add_piece(db, size="300 x 400", **metal)  # type: ignore[arg-type]
    assert [p.width for p in rack.pieces(db)] == [200 * NM_PER_MM, 300 * NM_PER_MM]
    assert [row[3:5] for row in rack_rows(rack.pieces(db))] == [("200 mm", "812.5 mm"), ("300 mm", "400 mm")]
    data = rack_data(rack.pieces(db))
    assert (data["units"], data["offcuts"][0]["length"]) == ("mm", 812.5)
    add_piece(db, size="8 x 30-1/2 in", **metal)  # type: ignore[arg-type]
    assert rack_rows(rack.pieces(db))[2][3:5] == ("8 in", "30-1/2 in")
    for small in ("0.0000001 x 30 in", "8 x 1 mm"):
        with pytest.raises(JobError, match="nothing is cut from an offcut this small"):
            add_piece(db, size=small, **metal)  # type: ignore[arg-type]
