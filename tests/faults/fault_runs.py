"""Real runs of the program for the fault tests, with what each left behind."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
SMALL = """
[job]
name = "Well house"
number = "W-3"
[metal]
use = "copper-16oz"
[[piece]]
mark = "K"
kind = "rectangle"
count = 12
width = "2 in"
length = "4 in"
[[stock]]
name = "coil 24"
form = "coil"
width = "24 in"
"""


def run(*args: object, cwd: Path, before: str = "", **env: str) -> subprocess.CompletedProcess[str]:
    """Run a command in a process of its own; `before` is Python run in it first, to bring a fault about."""
    code = f"{before}\nimport sys\nfrom fabplan.cli import main\nmain(sys.argv[1:])"
    start = ["-c", code] if before else ["-m", "fabplan"]
    return subprocess.run(
        [sys.executable, *start, *map(str, args)],
        cwd=cwd,
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
        env={**os.environ, "PYTHONPATH": str(ROOT), **env},
    )


def refused(done: subprocess.CompletedProcess[str], status: int, *words: str) -> None:
    """Assert that a run ended with this status and a message that says these words, and no traceback."""
    assert done.returncode == status, done.stderr
    assert "Traceback" not in done.stderr
    assert all(word in done.stderr for word in words), done.stderr
