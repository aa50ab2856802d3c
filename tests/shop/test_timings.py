"""The log of times and what is written from it: whole entries or none, a damaged log is refused, the shop file kept."""

from __future__ import annotations

import random
import signal
import sqlite3
import subprocess
import sys
import time
import tomllib
from pathlib import Path

import pytest

from fabplan.cli import app
from fabplan.errors import JobError, PlanError
from fabplan.job.load import load_job
from fabplan.labour import Labour
from fabplan.nesting.minutes import program_work
from fabplan.plan.file import PlanFile, plan_json, saved
from fabplan.plan.make import make_plan
from fabplan.shop import times_file, timings
from fabplan.shop.fit_times import fit_times

JOB = """
shop = "shop.toml"
[job]
name = "Well house"
number = "W-3"
batch = 10
[metal]
use = "copper-16oz"
[[piece]]
mark = "A"
kind = "diamond"
count = 24
side = "9-1/4 in"
hem = "3/4 in"
[[piece]]
mark = "K"
kind = "rectangle"
count = 9
width = "2-1/8 in"
length = "4 in"
[[stock]]
name = "coil 24"
form = "coil"
width = "24 in"
longest_cut_off = "60 in"
"""
SHOP = '# ours\n[shear]\nlongest_cut = "52 in" # treadle\n'


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("times")
    (folder / "job.toml").write_text(JOB, encoding="utf-8")
    (folder / "shop.toml").write_text(SHOP, encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def plan(folder: Path) -> PlanFile:
    import json

    data = plan_json(make_plan(load_job(folder / "job.toml"), effort=0, should_stop=lambda: True))
    (folder / "plan.json").write_text(json.dumps(data), encoding="utf-8")
    return saved(data)


def test_work_of_a_pattern_is_what_the_plan_counts(folder: Path, plan: PlanFile) -> None:
    job = load_job(folder / "job.toml")
    assert plan.nesting is not None
    layout = plan.nesting.layouts[0]
    work = timings.layout_work(plan, job, 1, None)
    assert {s.what: s.times for s in layout.spent}.items() <= work.items()
    assert work["set_gauge"] >= 1  # its own settings: timed by itself, it shares none
    if layout.repeat > 1:
        one = timings.layout_work(plan, job, 1, 1)
        assert one["stroke"] == pytest.approx(work["stroke"] / layout.repeat)
        assert one["layout"] == work["layout"] == 1
        assert one["set_gauge"] == work["set_gauge"]
    whole = timings.cutting_work(plan, job)
    assert whole["set_gauge"] == next(s.times for s in program_work(plan.nesting.program, job.labour))
    fold = timings.fold_work(plan, job, "A", 10)
    both = timings.fold_work(plan, job, "A", None)
    assert both["bite"] == pytest.approx(2.4 * fold["bite"])
    assert both["set_bench"] == 3 * fold["set_bench"]


@pytest.mark.parametrize(
    ("ask", "says"),
    [
        (lambda p, j: timings.layout_work(p, j, 99, None), "no such layout"),
        (lambda p, j: timings.layout_work(p, j, 1, 999), "is made"),
        (lambda p, j: timings.fold_work(p, j, "K", None), "no piece of this mark is folded"),
        (lambda p, j: timings.fold_work(p, j, "A", 25), "there are 24 of A"),
        (lambda p, j: timings.roof_work(p), "has no roof"),
    ],
)
def test_what_cannot_be_timed(folder: Path, plan: PlanFile, ask: object, says: str) -> None:
    with pytest.raises(JobError, match=says):
        ask(plan, load_job(folder / "job.toml"))  # type: ignore[operator]


def test_entries_come_back_as_written(tmp_path: Path) -> None:
    log = tmp_path / "times.db"
    assert times_file.add(log, job="J", what="pattern 1", seconds=600, work={"stroke": 40.5, "pull": 3}) == 1
    assert times_file.add(log, job="J", what="pattern 2", seconds=90, work={"stroke": 4}) == 2
    first, second = times_file.entries(log)
    assert (first.seconds, dict(first.work)) == (600.0, {"stroke": 40.5, "pull": 3.0})
    assert second.what == "pattern 2"
    times_file.drop(log, [1])
    assert [e.id for e in times_file.entries(log)] == [2]
    with pytest.raises(PlanError, match="no timing 1"):
        times_file.drop(log, [2, 1])
    assert [e.id for e in times_file.entries(log)] == [2]


def test_a_changed_entry_is_seen(tmp_path: Path) -> None:
    log = tmp_path / "times.db"
    times_file.add(log, job="J", what="pattern 1", seconds=600, work={"stroke": 40})
    with sqlite3.connect(log) as db:
        db.execute("UPDATE timed SET seconds = 60")
    with pytest.raises(JobError, match="timing 1 is not as it was written"):
        times_file.entries(log)


@pytest.mark.parametrize("content", [b"not a database at all, but long enough to be read as one" * 20, None])
def test_another_file_is_refused_and_left(tmp_path: Path, content: bytes | None) -> None:
    log = tmp_path / "times.db"
    if content is None:
        with sqlite3.connect(log) as db:
            db.execute("CREATE TABLE mine (x)")
    else:
        log.write_bytes(content)
    before = log.read_bytes()
    with pytest.raises(JobError, match="not a log of times"):
        times_file.add(log, job="J", what="x", seconds=1, work={})
    assert log.read_bytes() == before


def test_no_log_yet(tmp_path: Path) -> None:
    with pytest.raises(JobError, match="no log of times here"):
        times_file.entries(tmp_path / "times.db")
    with pytest.raises(JobError, match=r"ending in \.db"):
        times_file.add(tmp_path / "times.txt", job="J", what="x", seconds=1, work={})


def test_fitted_times_reach_the_shop_file_and_the_next_plan(folder: Path, tmp_path: Path) -> None:
    """Forty timings of a shop that is quicker at strokes and slower at settings than assumed."""
    for name in ("job.toml", "shop.toml"):
        (tmp_path / name).write_bytes((folder / name).read_bytes())
    job = load_job(tmp_path / "job.toml")
    log = timings.log_path(job, None)
    assert log == tmp_path / "times.db"
    rng = random.Random(1)
    for _ in range(40):
        repeat = rng.randint(1, 9)
        work = {"stroke": repeat * rng.randint(3, 20), "pull": repeat, "layout": 1, "set_gauge": rng.randint(1, 9)}
        true = {"stroke": 7.0, "pull": 50.0, "layout": 150.0, "set_gauge": 80.0}
        seconds = sum(true[k] * n for k, n in work.items()) * rng.lognormvariate(0, 0.05)
        times_file.add(log, job="W-3", what="pattern 1", seconds=seconds, work=work)
    fit = fit_times(times_file.entries(log), job.labour)
    file, keys = timings.write_times(job, fit)
    assert Path(file) == tmp_path / "shop.toml"
    text = (tmp_path / "shop.toml").read_text(encoding="utf-8")
    assert text.startswith(SHOP)
    assert set(tomllib.loads(text)["labour"]) == set(keys)
    assert "95% sure, 40 timings" in text
    labour = load_job(tmp_path / "job.toml").labour
    assert labour.stroke == pytest.approx(7.0, rel=0.1)
    assert labour.set_gauge == pytest.approx(80.0, rel=0.2)
    assert "stroke" not in labour.assumed
    assert "scribe" in labour.assumed


def test_nothing_sure_writes_nothing(folder: Path) -> None:
    job = load_job(folder / "job.toml")
    with pytest.raises(PlanError, match="Nothing is sure enough"):
        timings.write_times(job, fit_times([], Labour()))
    assert (folder / "shop.toml").read_text(encoding="utf-8") == SHOP


def test_from_the_command_line(folder: Path, plan: PlanFile, capsys: pytest.CaptureFixture[str]) -> None:
    def run(*words: str) -> str:
        with pytest.raises(SystemExit) as left:
            app(args=list(words))
        assert left.value.code in (0, None)
        return capsys.readouterr().out

    job, saved_plan = str(folder / "job.toml"), str(folder / "plan.json")
    said = run("times", "add", job, "--layout", "1", "--minutes", "22", "--plan", saved_plan)
    assert "Written down as timing 1" in said
    assert "the plan counts" in said
    run("times", "add", job, "--fold", "A", "--pieces", "10", "--minutes", "40", "--plan", saved_plan)
    assert "folding A, 10 pieces" in run("times", "list", job)
    assert '"timings": 2' in run("times", "fit", job, "--look", "--json")
    run("times", "drop", job, "1")
    assert "layout 1" not in run("times", "list", job)
    with pytest.raises(JobError, match="one thing"):
        app(args=["times", "add", job, "--minutes", "22", "--plan", saved_plan], standalone_mode=False)


@pytest.mark.slow
def test_killed_while_writing(tmp_path: Path) -> None:
    """Kills at 40 moments: every entry that was answered for is there, and the log is sound."""
    log = tmp_path / "times.db"
    code = (
        "import sys; from pathlib import Path; from fabplan.shop.times_file import add\n"
        "while True:\n"
        "    n = add(Path(sys.argv[1]), job='J', what='p', seconds=60, work={'stroke': 3})\n"
        "    print(n, flush=True)\n"
    )
    for moment in range(40):
        with subprocess.Popen([sys.executable, "-c", code, str(log)], stdout=subprocess.PIPE, text=True) as work:
            assert work.stdout is not None
            work.stdout.readline()
            time.sleep(0.004 * (moment % 10))
            work.send_signal(signal.SIGKILL)
            answered = [int(line) for line in work.stdout.read().split()]
        there = {e.id for e in times_file.entries(log)}
        assert set(answered[:-1]) <= there
