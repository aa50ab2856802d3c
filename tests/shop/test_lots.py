"""Coils and sheets in stock: no metal is counted by two plans, and what is used is gone once, whatever happens."""

from __future__ import annotations

import json
import os
import random
import signal
import sqlite3
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from real_runs import HEAD, ROOT, refused, run

from fabplan.errors import JobError, PlanError
from fabplan.job.load import load_job
from fabplan.plan.check_buy import check_buy
from fabplan.plan.file import plan_json
from fabplan.plan.make import make_plan
from fabplan.plan.model import Plan
from fabplan.plan.prove import prove
from fabplan.shop import booking, lots, rack, rack_file
from fabplan.shop.counter import add_stock, lot_rows
from fabplan.shop.offer import offer
from fabplan.units import NM_PER_INCH

IN = NM_PER_INCH
METAL = {"metal": "copper-16oz", "thickness": 0.0216}
JOB = (
    HEAD
    + """[[piece]]
mark = "K"
kind = "rectangle"
count = 8
width = "24 in"
length = "10 in"
may_turn = false
[[stock]]
name = "coil 24"
form = "coil"
width = "24 in"
longest_cut_off = "40 in"
price = "2 per foot"
[labour]
rate = 0
"""
)


def coil(path: Path, inches: int) -> int:
    return lots.add_lot(path, form="coil", width=24 * IN, length=0, there=inches * IN, **METAL)  # type: ignore[arg-type]


def sheets(path: Path, count: int) -> int:
    return lots.add_lot(path, form="sheet", width=24 * IN, length=40 * IN, there=count, **METAL)  # type: ignore[arg-type]


def planned(folder: Path, db: Path, text: str = JOB, *, soon: bool = False) -> Plan:
    path = folder / "job.toml"
    path.write_text(text)
    stop = (lambda: True) if soon else None
    job = load_job(path)
    return make_plan(job, effort=0, should_stop=stop, offers=lambda p: offer(db, p.job, p.patterns, p.metals))


def saved_plan(number: str, pulls: dict[str, tuple[str, float]], pieces: dict[str, list[str]]) -> dict[str, Any]:
    """A plan.json cut to what booking reads: of each line of stock its form and what is pulled."""
    metal = {"metal": "copper-16oz", "thickness": 0.0216, "grain": "along", "width": 24.0}
    return {
        "units": "in",
        "job": {"name": "Bay", "number": number},
        "nesting": {
            "status": "proven",
            "stock": [{"name": n, "form": f, "rack_pieces": pieces[n], **metal} for n, (f, _) in pulls.items()],
            "layouts": [{"stock": n, "repeat": 1, "offcuts": []} for n in pulls],
        },
        "buy": [
            {"stock": n, "pull": {"length": x, "count": None} if f == "coil" else {"length": None, "count": x}}
            for n, (f, x) in pulls.items()
        ],
    }


def test_what_is_there_is_pulled_and_the_rest_bought(tmp_path: Path) -> None:
    db = tmp_path / "stock.db"
    coil(db, 50)
    plan = planned(tmp_path, db)
    (line,) = plan.buy
    assert (line.pull.length, line.buy.length) == (40 * IN, 40 * IN)
    data = json.loads(json.dumps(plan_json(plan)))
    assert prove(data, load_job(tmp_path / "job.toml")).ok
    booking.book(db, data, grid=IN // 32)
    (left,) = lots.lots(db)
    assert (left.there, left.free) == (10 * IN, 10 * IN)


def test_metal_set_aside_is_not_counted_again(tmp_path: Path) -> None:
    db = tmp_path / "stock.db"
    coil(db, 100)
    first = json.loads(json.dumps(plan_json(planned(tmp_path, db))))
    booking.reserve(db, first)
    (lot,) = lots.lots(db)
    assert (lot.there, lot.reserved, lot.free) == (100 * IN, 80 * IN, 20 * IN)
    second = planned(tmp_path, db, JOB.replace('number = "W-3"', 'number = "W-4"'))
    (line,) = second.buy
    assert (line.pull.length or 0) <= 20 * IN
    with pytest.raises(PlanError, match="set aside for this plan already"):
        booking.reserve(db, first)
    booking.book(db, first, grid=IN // 32)  # of its own it takes what is set aside
    (lot,) = lots.lots(db)
    assert (lot.there, lot.reserved) == (20 * IN, 0)
    assert [(t.job, t.state) for t in lots.takings(db)] == [("W-3", "used")]


def test_a_plan_made_before_cannot_take_what_is_set_aside_since(tmp_path: Path) -> None:
    db = tmp_path / "stock.db"
    coil(db, 100)
    first, second = (
        json.loads(json.dumps(plan_json(planned(tmp_path, db, JOB.replace('"W-3"', f'"{n}"'))))) for n in ("W-3", "W-4")
    )
    booking.reserve(db, first)
    for take in (booking.reserve, lambda p, d: booking.book(p, d, grid=IN // 32)):
        with pytest.raises(PlanError, match=r"Of lot 1 1\.6 ft are free, and the plan takes 6\.6 ft"):
            take(db, second)
    assert lots.release(db, "W-3") == 1
    booking.reserve(db, second)
    with pytest.raises(PlanError, match="Nothing is set aside"):
        lots.release(db, "W-3")


def test_stock_that_is_all_set_aside_or_used_is_none(tmp_path: Path) -> None:
    db = tmp_path / "stock.db"
    sheets(db, 2)
    text = JOB.replace('form = "coil"', 'form = "sheet"\nlength = "40 in"\non_hand = 9').replace(
        'longest_cut_off = "40 in"\nprice = "2 per foot"', 'price = "7 per sheet"'
    )
    plan = planned(tmp_path, db, text)
    assert plan.cut_plan is not None
    assert not plan.cut_plan.short
    data = json.loads(json.dumps(plan_json(plan)))
    booking.book(db, data, grid=IN // 32)
    assert lots.lots(db) == ()
    again = planned(tmp_path, db, text.replace('"W-3"', '"W-4"'))
    assert again.cut_plan is not None
    assert again.cut_plan.short  # the job file still says 9, the stock knows better


def test_panels_come_off_the_coils_that_are_there(tmp_path: Path) -> None:
    """Of 80 in, in panels of 40 at most: the smallest coil that holds it; else several; then the rest is bought,
    for 30 in hold no panel."""
    for there, pulled in (((200, 90, 50), {2: 80}), ((50, 60), {1: 40, 2: 40}), ((50, 30), {1: 40})):
        db = tmp_path / f"{len(there)}{there[0]}{there[1]}.db"
        for inches in there:
            coil(db, inches)
        plan = planned(tmp_path, db, soon=True)
        (line,) = plan.buy
        assert {c.lot: c.length // IN for c in line.coils} == pulled
        assert line.buy.length == 80 * IN - sum(pulled.values()) * IN
        data = json.loads(json.dumps(plan_json(plan)))
        if len(pulled) > 1:
            assert prove(data, load_job(tmp_path / "job.toml")).ok
        booking.book(db, data, grid=IN // 32)
        left = {n: x - pulled.get(n, 0) for n, x in enumerate(there, 1)}
        assert {x.id: x.there // IN for x in lots.lots(db)} == {n: x for n, x in left.items() if x}


def test_ends_of_coils_that_hold_no_panel_are_not_counted(tmp_path: Path) -> None:
    """Two coils of 45 in are 90, and 80 are wanted; of blanks of 20 in each holds two."""
    db = tmp_path / "stock.db"
    for _ in range(2):
        coil(db, 45)
    hard = JOB.replace('price = "2 per foot"', 'price = "2 per foot"\non_hand = "1 ft"')
    plan = planned(tmp_path, db, hard.replace("count = 8", "count = 4").replace('"10 in"', '"20 in"'), soon=True)
    assert [(c.lot, c.length) for c in plan.buy[0].coils] == [(1, 40 * IN), (2, 40 * IN)]
    short = planned(tmp_path, db, hard.replace("count = 8", "count = 3").replace('"10 in"', '"30 in"'))
    assert short.cut_plan is not None
    assert short.cut_plan.short == (("K", 1),)  # 90 in of metal, and no third panel of 30 in whole
    assert [(b.stock, b.buy.length) for b in short.lacking] == [("coil 24", 30 * IN)]


def test_a_panel_off_no_coil_is_found(tmp_path: Path) -> None:
    db = tmp_path / "stock.db"
    for inches in (60, 50):
        coil(db, inches)
    plan = planned(tmp_path, db, soon=True)
    assert plan.cut_plan is not None
    (line,) = plan.buy
    first, second = line.coils
    for wrong in (
        (first,),
        (first, first),
        (replace(first, lot=9), second),
        (replace(first, length=first.length + IN), second),
        (replace(first, layouts=((1, 9),)), second),
    ):
        assert check_buy([replace(line, coils=wrong)], plan.cut_plan, plan.job, plan.metals)
    assert check_buy([line], plan.cut_plan, plan.job, plan.metals) == []


def test_sheets_of_several_lots_leave_the_oldest_first(tmp_path: Path) -> None:
    db = tmp_path / "stock.db"
    a, b = sheets(db, 3), sheets(db, 4)
    names = {x.id: x.piece for x in lots.lots(db)}
    booking.book(db, saved_plan("1", {"sheet": ("sheet", 5)}, {"sheet": [names[a], names[b]]}), grid=IN // 32)
    assert [(x.id, x.there) for x in lots.lots(db)] == [(b, 2)]
    assert sheets(db, 1) == 3  # the number of a lot that is gone is not given again


def test_the_last_of_a_coil_leaves_it_gone(tmp_path: Path) -> None:
    db = tmp_path / "stock.db"
    coil(db, 100)
    (lot,) = lots.lots(db)
    booking.book(db, saved_plan("1", {"c": ("coil", 99.98)}, {"c": [lot.piece]}), grid=IN // 32)
    assert lots.lots(db) == ()
    with pytest.raises(PlanError, match="Lot 1 is used up"):
        booking.reserve(db, saved_plan("2", {"c": ("coil", 1.0)}, {"c": [lot.piece]}))


def test_a_lot_that_is_set_aside_is_not_dropped(tmp_path: Path) -> None:
    db = tmp_path / "stock.db"
    number = coil(db, 100)
    (lot,) = lots.lots(db)
    booking.reserve(db, saved_plan("1", {"c": ("coil", 10.0)}, {"c": [lot.piece]}))
    with pytest.raises(PlanError, match="is set aside"):
        lots.drop_lot(db, number)
    lots.release(db, "1")
    lots.drop_lot(db, number)
    assert lots.lots(db) == ()


def test_an_offcut_that_is_set_aside_stays(tmp_path: Path) -> None:
    db = tmp_path / "stock.db"
    rack.add(db, width=10 * IN, length=30 * IN, **METAL)  # type: ignore[arg-type]
    (piece,) = rack.pieces(db)
    plan = saved_plan("1", {"rack 1": ("offcut", 1)}, {"rack 1": [piece.piece]})
    booking.reserve(db, plan)
    assert lots.reserved_pieces(db) == {piece.piece}
    with pytest.raises(PlanError, match="set aside for job 1"):
        rack.drop(db, [piece.id])
    with pytest.raises(PlanError, match="set aside for job 1"):
        booking.reserve(db, {**plan, "job": {"name": "Bay", "number": "2"}})


def test_a_rack_of_the_second_version_is_brought_up(tmp_path: Path) -> None:
    db = tmp_path / "rack.db"
    rack.add(db, width=10 * IN, length=30 * IN, **METAL)  # type: ignore[arg-type]
    truth = rack.pieces(db)
    with sqlite3.connect(db, isolation_level=None) as old:
        for table in ("lot", "lot_gone", "taking"):
            old.execute(f"DROP TABLE {table}")
        old.execute("PRAGMA user_version=2")
        rack_file._close_up(old)
    old.close()
    whole = db.read_bytes()
    assert rack.pieces(db) == truth
    assert coil(db, 10) == 1
    spoiled = whole.replace(b"copper-16oz", b"copper-20oz")
    db.write_bytes(spoiled)
    with pytest.raises(JobError, match="damaged"):
        coil(db, 10)
    assert db.read_bytes() == spoiled


def test_a_full_disk_changes_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    db = tmp_path / "stock.db"
    coil(db, 100)
    before = lots.lots(db)
    opened = rack_file._open

    def small(path: Path, *, write: bool) -> sqlite3.Connection:
        found = opened(path, write=write)
        found.execute(f"PRAGMA max_page_count={found.execute('PRAGMA page_count').fetchone()[0]}")
        return found

    monkeypatch.setattr(rack_file, "_open", small)
    with pytest.raises(PlanError, match="the disk is full"):
        for _ in range(200):
            coil(db, 5)
    monkeypatch.undo()
    assert lots.lots(db)[0] == before[0]
    assert rack.look(db)[1] is None


def test_typed_stock_reads_back(tmp_path: Path) -> None:
    db = tmp_path / "stock.db"
    common: dict[str, Any] = {"metal": "copper-16oz", "grain": "along", "note": ""}
    add_stock(db, form="coil", size="24 in", there="60 ft", count=1, **common)
    add_stock(db, form="sheet", size="36 x 96 in", there="", count=4, **common)
    assert [row[1:8] for row in lot_rows(lots.lots(db))] == [
        ("coil", "copper-16oz", "24 in", "", "60.0 ft", "", "60.0 ft"),
        ("sheet", "copper-16oz", "36 in", "96 in", "4", "", "4"),
    ]
    with pytest.raises(JobError, match="say how much of the coil there is"):
        add_stock(db, form="coil", size="24 in", there="", count=1, **common)
    with pytest.raises(JobError, match="is for a coil"):
        add_stock(db, form="sheet", size="36 x 96 in", there="60 ft", count=1, **common)


_BOOKER = """
import json, sys
from pathlib import Path
from fabplan.errors import FabplanError
from fabplan.shop.booking import book, reserve
db, plans = Path(sys.argv[1]), json.load(open(sys.argv[2]))
print("ready", flush=True)
for n, plan in enumerate(plans):
    for take in (reserve, lambda p, d: book(p, d, grid=793750)) if n % 2 else (lambda p, d: book(p, d, grid=793750),):
        try:
            take(db, plan)
        except FabplanError:
            pass
"""


def _sums(db: Path, start: dict[str, int]) -> None:
    """What is there and what is used are what there was; nothing more is set aside than is there."""
    there = {x.piece: x for x in lots.lots(db)}
    used = dict.fromkeys(start, 0)
    for t in lots.takings(db):
        if t.state == "used":
            used[t.piece] += t.amount
    for piece, n in start.items():
        lot = there.get(piece)
        assert (lot.there if lot else 0) + used[piece] == n
        assert lot is None or lot.reserved <= lot.there


def _plans(db: Path, who: str, n: int) -> list[dict[str, Any]]:
    names = {x.form: x.piece for x in lots.lots(db)}
    return [
        saved_plan(f"{who}{i}", {"c": ("coil", 3.0), "s": ("sheet", 1)}, {"c": [names["coil"]], "s": [names["sheet"]]})
        for i in range(n)
    ]


def _start(tmp_path: Path) -> tuple[Path, dict[str, int], Path]:
    db = tmp_path / "stock.db"
    coil(db, 150)
    sheets(db, 60)
    script = tmp_path / "booker.py"
    script.write_text(_BOOKER)
    return db, {x.piece: x.there for x in lots.lots(db)}, script


def _child(script: Path, db: Path, plans: Path) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        [sys.executable, str(script), str(db), str(plans)], stdout=subprocess.PIPE,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip


def _kills(tmp_path: Path, rounds: int) -> None:
    db, start, script = _start(tmp_path)
    plans = tmp_path / "plans.json"
    plans.write_text(json.dumps(_plans(db, "J", 40)))
    rng = random.Random(5)
    for _ in range(rounds):
        child = _child(script, db, plans)
        assert child.stdout is not None
        child.stdout.readline()
        time.sleep(rng.uniform(0, 0.12))
        child.send_signal(signal.SIGKILL)
        child.wait()
        child.stdout.close()
        _sums(db, start)


@pytest.mark.skipif(os.name != "posix", reason="needs kill")
def test_kills_lose_and_double_nothing(tmp_path: Path) -> None:
    _kills(tmp_path, 10)


@pytest.mark.slow
@pytest.mark.skipif(os.name != "posix", reason="needs kill")
def test_many_kills_lose_and_double_nothing(tmp_path: Path) -> None:
    _kills(tmp_path, 1000)


def test_two_people_never_take_the_same_metal(tmp_path: Path) -> None:
    db, start, script = _start(tmp_path)
    children = []
    for who in "AB":
        plans = tmp_path / f"{who}.json"
        plans.write_text(json.dumps(_plans(db, who, 30)))
        children.append(_child(script, db, plans))
    assert [c.wait(120) for c in children] == [0, 0]
    for c in children:
        assert c.stdout is not None
        c.stdout.close()
    _sums(db, start)
    assert sum(t.state == "used" for t in lots.takings(db)) == 2 * 50  # 150 in of coil, 3 in a plan


@pytest.mark.slow
def test_the_commands(tmp_path: Path) -> None:
    (tmp_path / "job.toml").write_text(JOB)
    here = {"cwd": tmp_path}
    assert (
        run("rack", "add", "s.db", "copper-16oz", "24 in", "--form", "coil", "--there", "9 ft", **here).returncode == 0
    )
    assert run("plan", "job.toml", "--rack", "s.db", "--effort", "0", **here).returncode == 0
    plan = ("W-3-packet/plan.json", "--job", "job.toml")
    assert run("rack", "reserve", "s.db", *plan, **here).returncode == 0
    refused(run("rack", "drop", "s.db", "1", "--lot", **here), 1, "set aside")
    assert "2.3 ft" in run("rack", "list", "s.db", **here).stdout
    assert run("rack", "use", "s.db", *plan, **here).returncode == 0
    refused(run("rack", "release", "s.db", "W-3", **here), 1, "Nothing is set aside")
