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
from hypothesis import given
from hypothesis import strategies as st

from fabplan.errors import JobError, PlanError
from fabplan.shop import rack
from fabplan.units import NM_PER_INCH

IN = NM_PER_INCH


def fill(path: Path, n: int) -> tuple[int, ...]:
    return rack.add(path, metal="copper-16oz", thickness=0.0216, width=10 * IN, length=30 * IN, count=n)


def saved_plan(number: str, uses: list[int], keeps: int = 0) -> dict[str, Any]:
    """A plan.json cut to what booking reads: it uses rack pieces and keeps offcuts of a coil."""
    keep = {"x": 0, "y": 0, "width": 6.5, "length": 12.25, "keep": True, "label": ""}
    scrap = {"x": 0, "y": 0, "width": 1.0, "length": 2.0, "keep": False, "label": ""}
    stock = [{"name": f"rack {i}", "metal": "copper-16oz", "thickness": 0.0216, "grain": "along"} for i in uses]
    stock.append({"name": "coil 24", "metal": "copper-16oz", "thickness": 0.0216, "grain": "along"})
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
    done = rack.book(db, saved_plan("J1", [b], keeps=2))
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
    plan = saved_plan("J1", [], keeps=1)
    plan["units"] = "mm"
    plan["nesting"]["stock"][0]["thickness"] = 0.7
    done = rack.book(db, plan)
    piece = {p.id: p for p in rack.pieces(db)}[done.kept[0]]
    assert (piece.width, piece.length) == (6_500_000, 12_250_000)
    assert piece.thickness == pytest.approx(0.7 / 25.4)


def test_a_plan_is_booked_once_however_it_is_laid_out(tmp_path: Path) -> None:
    db = tmp_path / "rack.db"
    ids = fill(db, 2)
    plan = saved_plan("J1", [ids[0]], keeps=1)
    rack.book(db, plan)
    before = rack.pieces(db)
    shuffled = dict(reversed(list(plan.items())))
    with pytest.raises(PlanError, match="was booked on"):
        rack.book(db, shuffled)
    assert rack.pieces(db) == before


def test_a_piece_gone_meanwhile_refuses_the_whole_booking(tmp_path: Path) -> None:
    db = tmp_path / "rack.db"
    a, b = fill(db, 2)
    rack.drop(db, [b])
    before = rack.pieces(db)
    with pytest.raises(PlanError, match=f"Offcut {b} is not on the rack"):
        rack.book(db, saved_plan("J1", [a, b], keeps=3))
    assert rack.pieces(db) == before


@given(st.sets(st.integers(1, 10**6), min_size=1, max_size=40))
def test_names_of_pieces_alike_give_their_numbers_back(ids: set[int]) -> None:
    assert rack.ids_of(rack.rack_name(list(ids))) == sorted(ids)


def test_pieces_alike_leave_oldest_first(tmp_path: Path) -> None:
    db = tmp_path / "rack.db"
    a, b, c, d = fill(db, 4)
    plan = saved_plan("J1", [], keeps=0)
    line = {"name": f"rack {a}-{d}", "metal": "copper-16oz", "thickness": 0.0216, "grain": "along"}
    plan["nesting"]["stock"].append(line)
    plan["nesting"]["layouts"] += [{"stock": line["name"], "repeat": n, "offcuts": []} for n in (2, 1)]
    assert rack.book(db, plan).taken == (a, b, c)
    assert [p.id for p in rack.pieces(db)] == [d]


@pytest.mark.parametrize("name", ["rack ", "rack x", "rack 1-", "rack -3", "rack 1;2", "rack 1-99999999"])
def test_a_line_that_is_none_of_the_racks_is_refused(name: str) -> None:
    with pytest.raises(JobError, match="not a line of the offcut rack"):
        rack.ids_of(name)


def test_a_short_plan_is_not_booked(tmp_path: Path) -> None:
    db = tmp_path / "rack.db"
    ids = fill(db, 1)
    plan = saved_plan("J1", list(ids))
    plan["nesting"]["status"] = "short"
    with pytest.raises(PlanError, match="SHORT"):
        rack.book(db, plan)


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda p: p, "there is no offcut rack here"),
        (lambda p: p.mkdir(), "this is a folder"),
        (lambda p: p.write_bytes(b"not a database at all, just words" * 40), "not an offcut rack"),
        (lambda p: sqlite3.connect(p).executescript("CREATE TABLE other (x);").close(), "not an offcut rack"),
        (
            lambda p: (
                sqlite3.connect(p)
                .executescript(f"CREATE TABLE o (x); PRAGMA application_id={rack.RACK_MARK}; PRAGMA user_version=99;")
                .close()
            ),
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
    monkeypatch.setattr(rack, "WAIT_SECONDS", 0.05)
    other = sqlite3.connect(db, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    try:
        with pytest.raises(PlanError, match="somebody else is booking"):
            rack.book(db, saved_plan("J1", list(ids)))
    finally:
        other.execute("ROLLBACK")
        other.close()
    assert len(rack.pieces(db)) == 1


_BOOKER = """
import json, sys
from pathlib import Path
from fabplan.shop import rack
from fabplan.errors import FabplanError
db, plans = Path(sys.argv[1]), json.load(open(sys.argv[2]))
print("ready", flush=True)
for plan in plans:
    try:
        rack.book(db, plan)
    except FabplanError:
        pass
"""


def _kills(tmp_path: Path, rounds: int) -> None:
    """Kill a booking process at random moments; the rack must always add up."""
    db = tmp_path / "rack.db"
    rng = random.Random(7)
    start = set(fill(db, 60))
    plans_file = tmp_path / "plans.json"
    plans = [saved_plan(f"J{i}", [i + 1], keeps=2) for i in range(60)]
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
    _kills(tmp_path, 200)


def test_two_people_booking_at_once_both_count(tmp_path: Path) -> None:
    db = tmp_path / "rack.db"
    fill(db, 20)
    script = tmp_path / "booker.py"
    script.write_text(_BOOKER)
    children = []
    for who in range(2):
        plans_file = tmp_path / f"plans{who}.json"
        plans = [saved_plan(f"P{who}-{i}", [i * 2 + who + 1], keeps=1) for i in range(10)]
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
