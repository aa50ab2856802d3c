"""Faults while a packet is made, with real processes: whole or not at all, and a message that says what to do."""

from __future__ import annotations

import json
import os
import random
import signal
import subprocess
import sys
import time
from contextlib import suppress
from pathlib import Path

import pytest
from real_runs import PLAIN, SMALL, environment

SOON = ("--effort", "0", "--seconds", "0")
WHOLE = {"packet.pdf", "plan.json", "plan.html", "cutlist.csv"}


@pytest.fixture
def job(tmp_path: Path) -> Path:
    path = tmp_path / "job.toml"
    path.write_text(PLAIN)
    return path


def start(*args: object, cwd: Path, start_new_session: bool = False) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "fabplan", *map(str, args)],
        cwd=cwd,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=start_new_session,
        env=environment(),
    )


def whole(folder: Path) -> bool:
    names = {p.name for p in folder.iterdir()}
    if not names >= WHOLE:
        return False
    json.loads((folder / "plan.json").read_text())
    return (folder / "packet.pdf").read_bytes().rstrip().endswith(b"%%EOF")


def test_no_seconds_still_gives_a_proved_packet(job: Path) -> None:
    run = start("plan", job, "--seconds", "0", "--json", cwd=job.parent)
    out, err = run.communicate(timeout=120)
    assert run.returncode == 0, err
    assert json.loads(out)["nesting"]["layouts"]
    assert whole(job.parent / "W-3-packet")


def test_an_interrupt_during_the_nest_writes_the_best_plan_so_far(job: Path) -> None:
    marks = "BCDEFGHJL"
    rng = random.Random(3)
    more = "".join(
        f'[[piece]]\nmark = "{m}"\nkind = "rectangle"\ncount = {rng.randint(60, 200)}\n'
        f'width = "{rng.randint(40, 200)}/16 in"\nlength = "{rng.randint(80, 400)}/16 in"\n'.replace("/16 in", " mm")
        for m in marks
    )
    job.write_text(SMALL + more)
    run = start("plan", job, "--effort", "100", "--seconds", "600", cwd=job.parent)
    time.sleep(4)
    run.send_signal(signal.SIGINT)
    _, err = run.communicate(timeout=120)
    assert "Traceback" not in err
    if run.returncode == 130:  # the interrupt came before or after the nest
        assert "Nothing half-written" in err
        assert not (job.parent / "W-3-packet").exists()
        return
    assert run.returncode == 0, err
    plan = json.loads((job.parent / "W-3-packet" / "plan.json").read_text())
    if "Stopping with the best plan so far" in err:
        assert plan["stopped_early"] is True
    assert whole(job.parent / "W-3-packet")


def interrupted(job: Path, moments: list[float], *command: str) -> None:
    """Ctrl-C as a terminal sends it, to the whole group of processes."""
    for moment in moments:
        run = start(command[0], job, *command[1:], cwd=job.parent, start_new_session=True)
        time.sleep(moment)
        with suppress(ProcessLookupError):
            os.killpg(run.pid, signal.SIGINT)
        _, err = run.communicate(timeout=120)
        assert "Traceback" not in err, err
        folder = job.parent / "W-3-packet"
        if run.returncode == 1:  # an interrupted plan that is dearer than the packet of an earlier run
            assert "was left as it is" in err
            assert whole(folder)
            continue
        # Python itself ends by the signal while it starts and while it winds up.
        assert run.returncode in (0, 130, -signal.SIGINT), (moment, run.returncode, err)
        assert not folder.exists() or whole(folder)


@pytest.mark.skipif(os.name == "nt", reason="groups of processes are not stopped this way there")
def test_an_interrupt_at_any_moment_ends_plainly(job: Path) -> None:
    interrupted(job, [0.4, 1.2], "plan", "--effort", "0")
    interrupted(job, [1.0], "compare", "--effort", "0")


@pytest.mark.slow
def test_many_interrupts_end_plainly(job: Path) -> None:
    rng = random.Random(9)
    interrupted(job, [rng.uniform(0.25, 3) for _ in range(60)], "plan", "--effort", "0")
    interrupted(job, [rng.uniform(0.4, 4) for _ in range(20)], "compare", "--effort", "0")


def killed(job: Path, rounds: int) -> None:
    """Kill a run that replaces an older packet; a whole one must always be left, here or beside it."""
    first = start("plan", job, *SOON, cwd=job.parent)
    first.communicate(timeout=120)
    folder = job.parent / "W-3-packet"
    assert whole(folder)
    rng = random.Random(5)
    for _ in range(rounds):
        run = start("plan", job, *SOON, cwd=job.parent)
        time.sleep(rng.uniform(0.4, 2.5))
        run.kill()
        run.communicate()
        left = [p for p in job.parent.iterdir() if p.is_dir()]
        assert any(whole(p) for p in left), [p.name for p in left]
    last = start("plan", job, *SOON, cwd=job.parent)
    last.communicate(timeout=120)
    assert last.returncode == 0
    assert whole(folder)


def test_kills_leave_a_whole_packet(job: Path) -> None:
    killed(job, 1)


@pytest.mark.slow
def test_many_kills_leave_a_whole_packet(job: Path) -> None:
    killed(job, 60)


def test_two_runs_into_one_folder_leave_one_whole_packet(job: Path) -> None:
    runs = [start("plan", job, *SOON, "--out", "same", cwd=job.parent) for _ in range(2)]
    ends = [run.communicate(timeout=120) for run in runs]
    assert {run.returncode for run in runs} <= {0, 1}
    assert any(run.returncode == 0 for run in runs), ends
    assert all("Traceback" not in err for _, err in ends)
    assert whole(job.parent / "same")


def test_a_full_disk_leaves_the_old_packet_and_says_so(job: Path, tmp_path: Path) -> None:
    small = tmp_path / "small"
    small.mkdir()
    if os.name != "posix" or os.geteuid() != 0:
        pytest.skip("needs root to mount a small disk")
    done = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=60k", "none", str(small)], capture_output=True, check=False
    )
    if done.returncode != 0:
        pytest.skip("no small disk can be mounted here")
    try:
        run = start("plan", job, *SOON, "--out", small / "packet", cwd=job.parent)
        _, err = run.communicate(timeout=120)
        assert run.returncode == 1
        assert "Traceback" not in err
        assert "full" in err or "room" in err or "space" in err, err
        assert list(small.iterdir()) == []
    finally:
        subprocess.run(["umount", str(small)], check=False)
