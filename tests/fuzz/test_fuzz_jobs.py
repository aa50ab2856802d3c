"""Damaged job files through the commands: exit 0, 1 or 2 with a message, never a traceback."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from job_grammar import broken

from fabplan.cli import main


def outcome(argv: list[str], capsys: pytest.CaptureFixture[str]) -> tuple[int, str]:
    """Exit status and standard error of a command run here; anything but SystemExit is a bug and passes through."""
    try:
        main(argv)
        status = 0
    except SystemExit as end:
        status = int(end.code or 0)
    return status, capsys.readouterr().err


def run_cases(first: int, last: int, folder: Path, capsys: pytest.CaptureFixture[str], planned: int) -> dict[int, int]:
    seen = {0: 0, 1: 0, 2: 0}
    for seed in range(first, last):
        rng = random.Random(seed)
        text = broken(rng)
        path = folder / "job.toml"
        path.write_bytes(text)
        argv = ["check", str(path)]
        if seed % planned == 0:
            argv = ["plan", str(path), "--effort", "0", "--seconds", "5", "--out", str(folder / f"out{seed}")]
        try:
            status, said = outcome(argv, capsys)
        except Exception as bug:
            raise AssertionError(f"seed {seed}: {argv[0]} ended with {type(bug).__name__}: {bug}") from bug
        assert status in seen, f"seed {seed}: exit {status}"
        assert status == 0 or said.strip(), f"seed {seed}: exit {status} without a message"
        assert "Traceback" not in said, f"seed {seed}"
        assert "\x1b" not in said and "\x00" not in said, f"seed {seed}: a control character reached the terminal"
        seen[status] += 1
    return seen


def test_damaged_jobs(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    seen = run_cases(40, 120, tmp_path, capsys, planned=40)
    assert seen[2] > 40
    assert seen[0] >= 1


@pytest.mark.slow
def test_twenty_thousand_damaged_jobs(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    seen = run_cases(120, 20_120, tmp_path, capsys, planned=40)
    print(f"exits {seen}")
