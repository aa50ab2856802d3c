"""Output that lacks a letter, is closed, full or cut off; files that are no files: a sentence and an exit code."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from in_process import Said
from real_runs import PLAIN, environment, refused, run

pytestmark = pytest.mark.skipif(os.name != "posix", reason="pipes, devices and limits of a POSIX system")
SIGNS = PLAIN.replace("Well house", "Caf\u00e9 \u9285")


@pytest.fixture
def job(tmp_path: Path) -> Path:
    path = tmp_path / "job.toml"
    path.write_text(PLAIN, encoding="utf-8")
    return path


def shell(line: str, cwd: Path) -> subprocess.CompletedProcess[str]:
    """A line of shell in which ``fabplan`` is this program."""
    call = f'fabplan() {{ "{sys.executable}" -m fabplan "$@"; }}\n{line}'
    return subprocess.run(
        ["bash", "-c", call], cwd=cwd, capture_output=True, text=True, timeout=300, check=False, env=environment()
    )


@pytest.mark.parametrize("encoding", ["ascii", *(pytest.param(e, marks=pytest.mark.slow) for e in ("cp1252", "utf-8"))])
def test_any_encoding_shows_every_answer(job: Path, encoding: str) -> None:
    job.write_text(SIGNS, encoding="utf-8")

    def checked(*more: str) -> str:
        call = [sys.executable, "-m", "fabplan", "check", str(job), *more]
        env = environment(PYTHONIOENCODING=encoding)
        return subprocess.run(call, capture_output=True, check=True, env=env).stdout.decode(encoding)

    shown = checked()
    data = json.loads(checked("--json"))
    assert data["job"]["name"] == "Caf\u00e9 \u9285"
    name, stop = {
        "ascii": ("Caf\\xe9 \\u9285", "30 deg to 150 deg"),
        "cp1252": ("Caf\u00e9 \\u9285", "30\u00b0 to 150\u00b0"),
        "utf-8": ("Caf\u00e9 \u9285", "30\u00b0 to 150\u00b0"),
    }[encoding]
    assert name in shown
    assert f"angle stop {stop}" in shown


def test_a_fault_is_told_in_any_encoding(job: Path) -> None:
    job.write_text(SIGNS.replace("count = 12", "count = -1"), encoding="utf-8")
    refused(run("check", job, PYTHONIOENCODING="ascii"), 2, "count")


@pytest.mark.parametrize(
    ("line", "status", "says"),
    [
        ("fabplan metals >&-", 1, "it is closed"),
        ("fabplan metals --json > /dev/full", 1, "the disk is full"),
        ("fabplan --help > /dev/full", 1, "the disk is full"),
        ("fabplan metals 2>&-", 0, ""),
        ("fabplan metals nosuch 2> /dev/full", 2, ""),
        ("fabplan metals | true; exit ${PIPESTATUS[1]}", 0, ""),
        ("mkdir gone; cd gone; rmdir ../gone; fabplan metals 2>&1 | grep -v shell-init >&2", 0, "is gone"),
        ("mkfifo plan.json; fabplan prove plan.json --job job.toml", 2, "not an ordinary file"),
        ("fabplan template job.toml --piece K --out /dev/null", 1, "was left alone"),
        ("ulimit -n 16; fabplan nest job.toml --effort 0 --seconds 0 > nest.txt", 0, ""),
        ("ulimit -n 12; fabplan plan job.toml --effort 0", 1, "too few files at a time"),
    ],
)
def test_what_cannot_be_written_or_read_ends_with_a_sentence(job: Path, line: str, status: int, says: str) -> None:
    done = shell(line, job.parent)
    assert (done.returncode, "Traceback" in done.stderr) == (status, False), done.stderr
    assert says in done.stderr, done.stderr


@pytest.mark.parametrize(
    ("name", "command", "says"),
    [
        ("plan.json", ("prove", "plan.json", "--job", "job.toml"), "not an ordinary file"),
        ("rack.db", ("rack", "list", "rack.db"), "not a file"),
    ],
)
def test_a_device_is_not_read(
    job: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    name: str,
    command: tuple[str, ...],
    says: str,
) -> None:
    monkeypatch.chdir(job.parent)
    Path(name).symlink_to("/dev/zero")
    done = Said(capsys, *command)
    assert done.status == 2 and says in done.err


def test_a_starter_on_a_full_disk_leaves_no_empty_file(tmp_path: Path) -> None:
    disk = tmp_path / "disk"
    disk.mkdir()
    made = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=4k", "none", str(disk)], capture_output=True, check=False
    )
    if made.returncode:
        pytest.skip("no small disk can be mounted here")
    try:
        (disk / "fill").write_bytes(bytes(4096))
        refused(run("new", disk / "job.toml"), 2, "no space left")
        assert [p.name for p in disk.iterdir()] == ["fill"]
    finally:
        subprocess.run(["umount", str(disk)], check=False)
