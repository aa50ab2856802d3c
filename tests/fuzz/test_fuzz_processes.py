"""Damaged jobs through real processes: they end in time, in words, within 1 GB, and leave nothing half-written."""

from __future__ import annotations

import os
import random
import shutil
import signal
import subprocess
import sys
import threading
from dataclasses import dataclass
from pathlib import Path

import pytest
from job_grammar import broken
from real_runs import environment

LIMIT = 1_000_000_000  # bytes of memory held at once
SECONDS = 60.0
WHOLE = {"packet.pdf", "plan.json", "plan.html", "cutlist.csv"}
COMMAND = shutil.which("fabplan", path=str(Path(sys.executable).parent)) or ""

pytestmark = [
    pytest.mark.skipif(not hasattr(os, "wait4"), reason="memory of one process cannot be read here"),
    pytest.mark.skipif(not COMMAND, reason="the command is not installed beside this Python"),
]


@dataclass(frozen=True)
class End:
    """How a process ended: exit status (negative: the signal), standard error, most memory held, seconds of work."""

    status: int
    said: str
    most: int
    seconds: float


def ended(argv: list[str], folder: Path) -> End:
    """Run a command to its end, or stop it when its time is up."""
    errors = folder / "errors.txt"
    with errors.open("wb") as err:
        child = subprocess.Popen([COMMAND, *argv], cwd=folder, stdout=subprocess.DEVNULL, stderr=err, env=environment())
        clock = threading.Timer(SECONDS, child.kill)
        clock.start()
        try:
            _, code, used = os.wait4(child.pid, 0)
        finally:
            clock.cancel()
        child.returncode = os.waitstatus_to_exitcode(code)
    kib = used.ru_maxrss if sys.platform != "darwin" else used.ru_maxrss // 1024
    said = errors.read_text(encoding="utf-8", errors="replace")
    return End(child.returncode, said, kib * 1024, used.ru_utime + used.ru_stime)


def one(seed: int, folder: Path) -> End:
    """A damaged job through `check`, or through `plan --effort 0` every other time."""
    folder.mkdir()
    (folder / "job.toml").write_bytes(broken(random.Random(seed)))
    argv = ["check", "job.toml"]
    if seed % 2:
        argv = ["plan", "job.toml", "--effort", "0", "--seconds", "5", "--out", "packet"]
    end = ended(argv, folder)
    what = f"seed {seed}, {argv[0]}: exit {end.status}\n{end.said}"
    assert end.status != -signal.SIGKILL, f"{what}\nstopped after {SECONDS:g} s"
    assert end.status in (0, 1, 2), what
    assert end.status == 0 or end.said.strip(), what
    assert "Traceback" not in end.said, what
    assert not any(c < " " and c not in "\n\t" for c in end.said), what
    assert end.most <= LIMIT, f"{what}\nheld {end.most / 1e6:.0f} MB"
    left = {p.name for p in folder.iterdir()} - {"job.toml", "errors.txt"}
    assert left == ({"packet"} if argv[0] == "plan" and end.status == 0 else set()), what
    if left:
        assert {p.name for p in (folder / "packet").iterdir()} >= WHOLE
    shutil.rmtree(folder)
    return end


def test_four_damaged_jobs_as_processes(tmp_path: Path) -> None:
    ends = [one(seed, tmp_path / str(seed)) for seed in (40_000, 40_001, 40_002, 40_003)]
    assert {end.status for end in ends} >= {2}


@pytest.mark.slow
def test_five_hundred_damaged_jobs_as_processes(tmp_path: Path) -> None:
    ends = [one(seed, tmp_path / str(seed)) for seed in range(40_000, 40_500)]
    count = {status: sum(end.status == status for end in ends) for status in (0, 1, 2)}
    print(
        f"exits {count}, most memory {max(e.most for e in ends) / 1e6:.0f} MB, "
        f"most work {max(e.seconds for e in ends):.1f} s of processor"
    )
    assert count[0] >= 20
    assert count[2] >= 200
