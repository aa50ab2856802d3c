"""A part of the installation missing, a rack of another kind, a place that cannot be written, a clock set back."""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from in_process import Said
from real_runs import PLAIN, refused, run

from fabplan.shop import rack

SOON = ("--effort", "0", "--seconds", "0")
NO_FONT = "import fabplan.packet.setting.fonts as w\nw._FILES = ('NoSuchFont.ttf', 'NoSuchFont-Bold.ttf')"
# A clock that says another day; monotonic time, as the system gives it, goes on.
BACK = "import time\nreal = time.time\ntime.time = lambda: real() - 400 * 86400"


@pytest.fixture
def job(tmp_path: Path) -> Path:
    path = tmp_path / "job.toml"
    path.write_text(PLAIN, encoding="utf-8")
    return path


def names(folder: Path) -> set[str]:
    return {p.name for p in folder.iterdir()}


def contents(folder: Path) -> dict[str, bytes]:
    return {p.name: p.read_bytes() for p in folder.iterdir() if p.is_file()}


def test_a_missing_font_says_what_to_do_and_writes_nothing(job: Path) -> None:
    done = run("plan", job, *SOON, cwd=job.parent, before=NO_FONT)
    refused(done, 1, "NoSuchFont.ttf", "was not found", "Install fabplan again")
    assert names(job.parent) == {"job.toml"}


@pytest.mark.slow
def test_a_missing_font_leaves_the_older_packet(job: Path) -> None:
    assert run("plan", job, *SOON, cwd=job.parent).returncode == 0
    old = (job.parent / "W-3-packet" / "packet.pdf").read_bytes()
    refused(run("plan", job, *SOON, cwd=job.parent, before=NO_FONT), 1, "was not found")
    assert (job.parent / "W-3-packet" / "packet.pdf").read_bytes() == old
    assert names(job.parent) == {"job.toml", "W-3-packet"}


def version(number: int) -> str:
    return f"PRAGMA user_version={number}"


def damaged(path: Path, how: str) -> None:
    """A rack file as another program, another version or a bad disk leaves it."""
    if how == "text":
        path.write_text("offcuts: two of copper\n", encoding="utf-8")
    elif how == "empty":
        path.write_bytes(b"")
    elif how == "other tables":
        with sqlite3.connect(path) as db:
            db.execute("CREATE TABLE customers (name TEXT)")
        db.close()
    else:
        rack.add(path, metal="copper-16oz", thickness=0.0216, width=508_000_000, length=762_000_000, count=40)
        with sqlite3.connect(path) as db:
            db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            if how in ("version 0", "version 4"):
                db.execute(version(int(how[-1])))
        db.close()
        if how == "cut short":
            path.write_bytes(path.read_bytes()[:5000])
        elif how == "overwritten":
            whole = path.read_bytes()
            path.write_bytes(whole[:100] + b"\xff" * (len(whole) - 100))


RACKS = {
    "text": "not an offcut rack",
    "empty": "not an offcut rack",
    "other tables": "not an offcut rack",
    "version 0": "version 0; this fabplan reads version 3",
    "version 4": "version 4; this fabplan reads version 3",
    "cut short": "damaged",
    "overwritten": "damaged",
}


@pytest.mark.parametrize("how", RACKS)
def test_a_rack_that_cannot_be_read_is_refused_and_left_as_it_is(
    job: Path, how: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(job.parent)
    path = job.parent / "rack.db"
    damaged(path, how)
    before = path.read_bytes()
    listed = Said(capsys, "rack", "list", path)
    assert listed.status == 2 and "rack.db" in listed.err and RACKS[how] in listed.err
    if how in ("cut short", "version 4"):
        planned = Said(capsys, "plan", job, *SOON, "--rack", path)
        assert planned.status == 2 and "rack.db" in planned.err and RACKS[how] in planned.err
    if how != "empty":
        assert path.read_bytes()[100:] == before[100:]  # SQLite marks its header when a file is opened
    assert names(job.parent) <= {"job.toml", "rack.db", "rack.db-wal", "rack.db-shm"}


@pytest.mark.parametrize("how", ["text", "version 4", "overwritten"])
def test_a_rack_that_cannot_be_read_takes_no_piece(tmp_path: Path, how: str) -> None:
    path = tmp_path / "rack.db"
    damaged(path, how)
    before = path.read_bytes()
    done = run("rack", "add", path, "copper-16oz", "8 x 30 in", cwd=tmp_path)
    refused(done, 2, "rack.db", RACKS[how])
    assert path.read_bytes()[100:] == before[100:]


def test_a_file_in_place_of_the_folder_is_left_alone(
    job: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(job.parent)
    (job.parent / "packet").write_text("mine", encoding="utf-8")
    into = Said(capsys, "plan", job, *SOON, "--out", "packet")
    assert into.status == 1 and "is a file, not a folder" in into.err and "--out" in into.err
    under = Said(capsys, "plan", job, *SOON, "--out", "packet/in")
    assert under.status == 1 and "packet" in under.err and "--out" in under.err
    assert (job.parent / "packet").read_text(encoding="utf-8") == "mine"
    assert names(job.parent) == {"job.toml", "packet"}


@pytest.fixture
def sealed(tmp_path: Path) -> Iterator[Path]:
    """A small disk that holds a packet and a rack, and then can only be read."""
    if os.name != "posix" or os.geteuid() != 0:
        pytest.skip("needs root to mount a small disk")
    disk = tmp_path / "disk"
    disk.mkdir()
    if subprocess.run(["mount", "-t", "tmpfs", "-o", "size=20m", "none", str(disk)], check=False).returncode != 0:
        pytest.skip("no small disk can be mounted here")
    try:
        (disk / "job.toml").write_text(PLAIN, encoding="utf-8")
        assert run("plan", "job.toml", *SOON, "--out", "packet", cwd=disk).returncode == 0
        rack.add(disk / "rack.db", metal="copper-16oz", thickness=0.0216, width=508_000_000, length=762_000_000)
        if subprocess.run(["mount", "-o", "remount,ro", str(disk)], check=False).returncode != 0:
            pytest.skip("the small disk cannot be made read-only here")
        yield disk
    finally:
        subprocess.run(["umount", str(disk)], check=False)


def test_a_disk_that_can_only_be_read_says_so(
    sealed: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(sealed)
    before = {p: p.read_bytes() for p in sealed.rglob("*") if p.is_file()}
    done = Said(capsys, "plan", "job.toml", *SOON, "--out", "packet")
    assert done.status == 1 and all(w in done.err for w in ("read-only", "Nothing was changed there", "--out"))
    added = Said(capsys, "rack", "add", "rack.db", "copper-16oz", "8 x 30 in")
    assert added.status == 2 and "rack.db" in added.err and "writing" in added.err
    assert {p: p.read_bytes() for p in sealed.rglob("*") if p.is_file()} == before
    # What only reads goes on.
    assert Said(capsys, "prove", "packet/plan.json", "--job", "job.toml").status == 0
    monkeypatch.chdir("/")  # a disk one stands on cannot be taken away


@pytest.fixture(scope="module")
def usual(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """The packet as it is made here and now."""
    folder = tmp_path_factory.mktemp("usual")
    (folder / "job.toml").write_text(PLAIN, encoding="utf-8")
    done = run("plan", folder / "job.toml", "--effort", "0", "--out", "here", cwd=folder)
    assert done.returncode == 0, done.stderr
    return contents(folder / "here")


def test_a_clock_set_back_changes_no_packet(job: Path, usual: dict[str, bytes]) -> None:
    done = run("plan", job, "--effort", "0", "--out", "then", cwd=job.parent, before=BACK)
    assert done.returncode == 0, done.stderr
    assert contents(job.parent / "then") == usual


@pytest.mark.parametrize(
    "env",
    [
        {"TZ": "Pacific/Kiritimati", "LC_ALL": "C", "LANG": "C", "PYTHONHASHSEED": "7", "COLUMNS": "40"},
        pytest.param(
            {"TZ": "America/Adak", "LC_ALL": "de_DE.UTF-8", "PYTHONHASHSEED": "12345", "COLUMNS": "300"},
            marks=pytest.mark.slow,
        ),
    ],
    ids=["east", "west"],
)
def test_place_language_and_terminal_change_no_packet(job: Path, usual: dict[str, bytes], env: dict[str, str]) -> None:
    done = run("plan", job, "--effort", "0", "--out", "there", cwd=job.parent, **env)
    assert done.returncode == 0, done.stderr
    assert contents(job.parent / "there") == usual


def test_a_clock_set_back_loses_no_piece_of_the_rack(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "rack.db"
    size = {"thickness": 0.0216, "width": 508_000_000, "length": 762_000_000}
    now = datetime.now(UTC)
    for days in (0, -400, 1):
        said = (now + timedelta(days=days)).strftime("%Y-%m-%d %H:%M:%S")
        monkeypatch.setattr(rack, "now", lambda said=said: said)
        rack.add(path, metal="copper-16oz", **size)  # type: ignore[arg-type]
    there = rack.pieces(path)
    assert [p.id for p in there] == [1, 2, 3]
    assert there[1].added < there[0].added < there[2].added


def test_a_rack_on_a_full_disk_keeps_what_it_had(tmp_path: Path) -> None:
    if os.name != "posix" or os.geteuid() != 0:
        pytest.skip("needs root to mount a small disk")
    disk = tmp_path / "disk"
    disk.mkdir()
    if subprocess.run(["mount", "-t", "tmpfs", "-o", "size=300k", "none", str(disk)], check=False).returncode != 0:
        pytest.skip("no small disk can be mounted here")
    try:
        assert run("rack", "add", "rack.db", "copper-16oz", "8 x 30 in", "--count", "3", cwd=disk).returncode == 0
        (disk / "filler").write_bytes(b"x" * max(0, shutil.disk_usage(disk).free - 4096))
        done = run("rack", "add", "rack.db", "copper-16oz", "8 x 30 in", "--count", "2000", cwd=disk)
        refused(done, 1, "full", "Nothing was changed")
        (disk / "filler").unlink()
        assert len(rack.pieces(disk / "rack.db")) == 3
    finally:
        subprocess.run(["umount", str(disk)], check=False)
