"""A job's record and what is left of the job: nothing cut is planned twice, nothing spoiled is forgotten."""

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
from in_process import Said
from real_runs import HEAD, ROOT, SMALL

from fabplan.errors import JobError, PlanError
from fabplan.job.load import load_job
from fabplan.plan.file import plan_json
from fabplan.plan.make import make_pieces, make_plan
from fabplan.shop import record
from fabplan.shop.rack_file import seal
from fabplan.shop.rest import Rest, rest, rest_lines, rest_text, write_rest

# Two sheets: the first holds 12 of K (4 x 12 in), twice.
JOB = (
    HEAD
    + """[[piece]]
mark = "K"   # kick plates
kind = "rectangle"
count = 24
width = "4 in"
length = "12 in"
[[stock]]
name = "sheet"
form = "sheet"
width = "24 in"
length = "24 in"
on_hand = 10
"""
)


@pytest.fixture
def job(tmp_path: Path) -> Path:
    path = tmp_path / "job.toml"
    path.write_text(JOB)
    return path


_PLANS: dict[str, str] = {}


def planned(job: Path) -> dict[str, Any]:
    text = job.read_text()
    if text not in _PLANS:
        _PLANS[text] = json.dumps(plan_json(make_plan(load_job(job), effort=0)))
    data: dict[str, Any] = json.loads(_PLANS[text])
    return data


def left(job: Path, path: Path) -> Rest:
    return rest(load_job(job), record.done(path))


def test_cut_made_and_spoiled_add_up(job: Path, tmp_path: Path) -> None:
    path = tmp_path / "r.db"
    data = planned(job)
    assert [(y["repeat"], len(y["blanks"])) for y in data["nesting"]["layouts"]] == [(2, 12)]
    record.note(path, data, "cut", {"1": 1})
    record.note(path, data, "made", {"K": 5})
    record.note(path, data, "spoiled", {"K": 2})
    (done,) = record.done(path)
    assert done.marks["K"] == record.Tally(cut=12, made=5, spoiled=2)
    found = left(job, path)
    assert rest_lines(found) == ["K: 10 there, 24 needed, 14 more"]
    assert found.used == (("sheet", 1),)


def test_undo_takes_the_last_back_and_keeps_the_history(job: Path, tmp_path: Path) -> None:
    path = tmp_path / "r.db"
    data = planned(job)
    record.note(path, data, "cut", {"1": 1})
    record.note(path, data, "spoiled", {"K": 2})
    assert [e.what for e in record.undo(path)] == ["spoiled"]
    assert [e.what for e in record.undo(path)] == ["cut"]
    with pytest.raises(PlanError, match="nothing to take back"):
        record.undo(path)
    assert [e.what for e in record.history(path)] == ["cut", "spoiled", "undo", "undo"]
    assert record.done(path)[0].marks["K"] == record.Tally()


@pytest.mark.parametrize(
    ("what", "counts", "says"),
    [
        ("cut", {"1": 3}, "Layout 1 is cut 2 times by this plan"),
        ("made", {"K": 13}, "more than that"),
        ("spoiled", {"K": 13}, "more than that"),
    ],
)
def test_what_cannot_be_is_not_written(job: Path, tmp_path: Path, what: Any, counts: dict[str, int], says: str) -> None:
    path = tmp_path / "r.db"
    data = planned(job)
    record.note(path, data, "cut", {"1": 1})
    with pytest.raises(PlanError, match=says):
        record.note(path, data, what, counts)
    assert len(record.history(path)) == 1


def test_cutting_cannot_be_taken_back_under_what_is_made(job: Path, tmp_path: Path) -> None:
    path = tmp_path / "r.db"
    data = planned(job)
    record.note(path, data, "cut", {"1": 1})
    record.note(path, data, "made", {"K": 12})
    record.undo(path)
    record.undo(path)
    assert record.done(path)[0].marks["K"].cut == 0


def test_a_changed_size_no_longer_fits(job: Path, tmp_path: Path) -> None:
    path = tmp_path / "r.db"
    record.note(path, planned(job), "cut", {"1": 2})
    job.write_text(JOB.replace("count = 24", "count = 26"))
    assert rest_lines(left(job, path)) == ["K: 24 there, 26 needed, 2 more"]
    job.write_text(JOB.replace("4 in", "4-1/4 in"))
    assert rest_lines(left(job, path)) == ["K: 0 there, 24 needed, 24 more", "K: 24 that are cut no longer fit"]
    job.write_text(JOB.replace('number = "W-3"', 'number = "W-4"'))
    with pytest.raises(JobError, match="another job"):
        left(job, path)


def test_folded_pieces_fit_until_their_folds_change(tmp_path: Path) -> None:
    job, path = tmp_path / "job.toml", tmp_path / "r.db"
    job.write_text(SMALL)
    data = planned(job)
    record.note(path, data, "cut", {str(n): y["repeat"] for n, y in enumerate(data["nesting"]["layouts"], 1)})
    record.note(path, data, "made", {"A": 6})
    lines = rest_lines(left(job, path))
    assert not any("no longer fit" in line for line in lines)
    assert all(m.left == 0 for m in left(job, path).marks)
    job.write_text(SMALL.replace('side = "9-1/4 in"\nhem = "3/4 in"', 'side = "9-1/4 in"\nhem = "1 in"'))
    assert any(line.startswith("A: ") and "no longer fit" in line for line in rest_lines(left(job, path)))


def test_the_rest_is_a_job_that_plans_what_is_left_and_no_more(job: Path, tmp_path: Path) -> None:
    path = tmp_path / "r.db"
    record.note(path, planned(job), "cut", {"1": 1})
    record.note(path, planned(job), "spoiled", {"K": 2})
    the_job = load_job(job)
    text = rest_text(job.read_text(), the_job, left(job, path))
    assert "# kick plates" in text
    again = tmp_path / "rest.toml"
    again.write_text(text)
    rest_job = load_job(again)
    assert [(p.mark, p.count) for p in make_pieces(rest_job).patterns] == [("K", 14)]
    assert rest_job.stock[0].on_hand is not None
    assert rest_job.stock[0].on_hand.count == 9
    plan = make_plan(rest_job, effort=0)
    assert plan.cut_plan is not None
    assert sum(y.repeat * len(y.blanks) for y in plan.cut_plan.layouts) >= 14


def test_kept_offcuts_of_the_job_come_first(tmp_path: Path) -> None:
    job = tmp_path / "job.toml"
    keeps = JOB.replace('number = "W-3"', 'number = "W-3"\nkeep_at_least = "3 x 6 in"')
    job.write_text(keeps.replace("count = 24", "count = 22"))
    path = tmp_path / "r.db"
    data = planned(job)
    layouts = data["nesting"]["layouts"]
    assert any(o["keep"] for y in layouts for o in y["offcuts"])
    record.note(path, data, "cut", {str(n): y["repeat"] for n, y in enumerate(layouts, 1)})
    record.note(path, data, "spoiled", {"K": 1})
    the_job = load_job(job)
    again = tmp_path / "rest.toml"
    again.write_text(rest_text(job.read_text(), the_job, left(job, path)))
    plan = make_plan(load_job(again), effort=0)
    assert plan.cut_plan is not None
    assert {u.form for u in plan.cut_plan.stock} == {"offcut"}


def test_nothing_left_is_told(job: Path, tmp_path: Path) -> None:
    path = tmp_path / "r.db"
    record.note(path, planned(job), "cut", {"1": 2})
    the_job = load_job(job)
    with pytest.raises(PlanError, match="Nothing is left to cut"):
        rest_text(job.read_text(), the_job, left(job, path))


def test_a_changed_byte_is_seen_or_does_no_harm(job: Path, tmp_path: Path) -> None:
    path = tmp_path / "r.db"
    data = planned(job)
    record.note(path, data, "cut", {"1": 1})
    record.note(path, data, "spoiled", {"K": 2})
    whole, truth = path.read_bytes(), record.done(path)
    rng = random.Random(5)
    for _ in range(60):
        spoiled = bytearray(whole)
        spoiled[rng.randrange(len(whole))] ^= rng.randrange(1, 256)
        path.write_bytes(spoiled)
        try:
            assert record.done(path) == truth
        except (JobError, PlanError):
            with pytest.raises((JobError, PlanError)):
                record.note(path, data, "spoiled", {"K": 1})
            assert path.read_bytes() == spoiled


_WRITER = """
import json, sys
from pathlib import Path
from fabplan.shop import record
from fabplan.shop.rack_file import seal
path, data = Path(sys.argv[1]), json.load(open(sys.argv[2]))
print("ready", flush=True)
while True:
    record.note(path, data, "spoiled", {"K": 1})
    record.undo(path)
"""


def _kills(job: Path, tmp_path: Path, rounds: int) -> None:
    path = tmp_path / "r.db"
    data = planned(job)
    (tmp_path / "plan.json").write_text(json.dumps(data))
    (tmp_path / "writer.py").write_text(_WRITER)
    record.note(path, data, "cut", {"1": 1})
    rng = random.Random(3)
    for _ in range(rounds):
        child = subprocess.Popen(
            [sys.executable, str(tmp_path / "writer.py"), str(path), str(tmp_path / "plan.json")],
            stdout=subprocess.PIPE,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
        )
        assert child.stdout is not None
        child.stdout.readline()
        time.sleep(rng.uniform(0, 0.1))
        child.send_signal(signal.SIGKILL)
        child.wait()
        child.stdout.close()
        (done,) = record.done(path)
        assert done.marks["K"].cut == 12
        assert done.marks["K"].spoiled in (0, 1)
        if done.marks["K"].spoiled:
            record.undo(path)


@pytest.mark.skipif(os.name != "posix", reason="needs kill")
def test_kills_lose_and_double_nothing(job: Path, tmp_path: Path) -> None:
    _kills(job, tmp_path, 3)


@pytest.mark.slow
@pytest.mark.skipif(os.name != "posix", reason="needs kill")
def test_many_kills_lose_and_double_nothing(job: Path, tmp_path: Path) -> None:
    _kills(job, tmp_path, 1000)


def test_the_commands(job: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.chdir(job.parent)
    Path("plan.json").write_text(json.dumps(planned(job)))
    plan = ("--plan", "plan.json")
    assert Said(capsys, "record", "cut", job, "--layout", "1", "--times", "1", *plan).status == 0
    assert Said(capsys, "record", "spoiled", job, "K=3", *plan).status == 0
    wrong = Said(capsys, "record", "made", job, "Z=1", *plan)
    assert wrong.status == 2 and "no such piece" in wrong.err
    done = Said(capsys, "rest", job)
    assert done.status == 0, done.err
    assert "K: 9 there, 24 needed, 15 more" in done.out
    assert make_pieces(load_job(Path("job-rest.toml"))).patterns[0].count == 15


def test_the_rest_stands_beside_its_job(job: Path, tmp_path: Path) -> None:
    with pytest.raises(JobError, match="the job file itself"):
        write_rest(job, job, "")
    (tmp_path / "other").mkdir()
    with pytest.raises(JobError, match="beside its job"):
        write_rest(job, tmp_path / "other" / "rest.toml", "")


def test_one_undo_takes_back_what_one_command_wrote(job: Path, tmp_path: Path) -> None:
    path = tmp_path / "r.db"
    data = planned(job)
    record.note(path, data, "cut", {"1": 1})
    record.note(path, data, "spoiled", {"K": 1})
    record.note(path, data, "made", {"K": 2})
    record.note(path, data, "made", {"K": 3})
    assert [(e.what, e.count) for e in record.undo(path)] == [("made", 3)]
    assert [(e.what, e.count) for e in record.undo(path)] == [("made", 2)]
    assert record.done(path)[0].marks["K"] == record.Tally(cut=12, made=0, spoiled=1)


def _as_first_version(path: Path) -> None:
    """Make a record what it was in its first version: entries without steps, each taken back by itself."""
    with sqlite3.connect(path, isolation_level=None) as db:
        rows = db.execute("SELECT id, at, plan, what, name, count FROM entry ORDER BY id").fetchall()
        db.execute("DROP TABLE entry")
        db.execute(
            "CREATE TABLE entry (id INTEGER PRIMARY KEY, at TEXT NOT NULL, plan TEXT NOT NULL, what TEXT NOT NULL,"
            " name TEXT NOT NULL, count INTEGER NOT NULL, seal TEXT NOT NULL) STRICT"
        )
        before = ""
        for row in rows:
            before = seal((before, *row))
            db.execute("INSERT INTO entry VALUES (?,?,?,?,?,?,?)", (*row, before))
        db.execute("UPDATE tip SET seal = ?", (before,))
        db.execute("PRAGMA user_version=1")
    db.close()


def test_a_record_of_the_first_version_is_brought_up(job: Path, tmp_path: Path) -> None:
    path = tmp_path / "r.db"
    data = planned(job)
    record.note(path, data, "cut", {"1": 1})
    record.note(path, data, "spoiled", {"K": 2})
    record.undo(path)
    record.note(path, data, "spoiled", {"K": 3})
    truth, told = record.done(path), record.history(path)
    _as_first_version(path)
    old = path.read_bytes()
    assert record.done(path) == truth
    assert record.history(path) == told
    record.note(path, data, "made", {"K": 1})
    path.write_bytes(old.replace(b"spoiled", b"spoilt ", 1))
    spoiled = path.read_bytes()
    with pytest.raises(JobError, match="damaged"):
        record.done(path)
    assert path.read_bytes() == spoiled


def test_a_record_of_a_later_fabplan_is_left_alone(job: Path, tmp_path: Path) -> None:
    path = tmp_path / "r.db"
    record.note(path, planned(job), "cut", {"1": 1})
    with sqlite3.connect(path, isolation_level=None) as db:
        db.execute("PRAGMA user_version=9")
    db.close()
    with pytest.raises(JobError, match="this record is of version 9"):
        record.done(path)


def test_a_full_disk_changes_nothing(job: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "r.db"
    data = planned(job)
    record.note(path, data, "cut", {"1": 1})
    connect = sqlite3.connect

    def small(*args: Any, **options: Any) -> sqlite3.Connection:
        db = connect(*args, **options)
        db.execute(f"PRAGMA max_page_count={db.execute('PRAGMA page_count').fetchone()[0]}")
        return db

    monkeypatch.setattr(sqlite3, "connect", small)
    with pytest.raises(PlanError, match="the disk is full"):
        for _ in range(200):
            record.note(path, data, "spoiled", {"K": 1})
            record.undo(path)
    monkeypatch.undo()
    (done,) = record.done(path)
    assert done.marks["K"].cut == 12
    assert done.marks["K"].spoiled in (0, 1)


_MAKER = """
import json, sys
from pathlib import Path
from fabplan.shop import record
from fabplan.shop.rack_file import seal
path, data = Path(sys.argv[1]), json.load(open(sys.argv[2]))
for _ in range(5):
    record.note(path, data, "made", {"K": 1})
"""


def test_two_people_writing_at_once_both_count(job: Path, tmp_path: Path) -> None:
    path = tmp_path / "r.db"
    data = planned(job)
    record.note(path, data, "cut", {"1": 1})
    (tmp_path / "plan.json").write_text(json.dumps(data))
    (tmp_path / "maker.py").write_text(_MAKER)
    command = [sys.executable, str(tmp_path / "maker.py"), str(path), str(tmp_path / "plan.json")]
    children = [subprocess.Popen(command, env={**os.environ, "PYTHONPATH": str(ROOT)}) for _ in range(2)]
    assert [c.wait(120) for c in children] == [0, 0]
    assert record.done(path)[0].marks["K"].made == 10
