"""Real runs of the program, in processes of their own, and a small job for them."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
HEAD = """
[job]
name = "Well house"
number = "W-3"
[metal]
use = "copper-16oz"
"""
STOCK = """[[stock]]
name = "coil 24"
form = "coil"
width = "24 in"
"""
PLAIN = (
    HEAD
    + """[[piece]]
mark = "K"
kind = "rectangle"
count = 12
width = "2 in"
length = "4 in"
"""
    + STOCK
)
SMALL = (
    HEAD
    + """[[piece]]
mark = "A"
kind = "diamond"
count = 8
side = "9-1/4 in"
hem = "3/4 in"
[[piece]]
mark = "K"
kind = "rectangle"
count = 12
width = "2 in"
length = "4 in"
"""
    + STOCK
)


def environment(**more: str) -> dict[str, str]:
    """Variables under which a process finds this copy of the program, and what it compiled once is kept."""
    kept = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    return {**kept, "PYTHONPATH": str(ROOT), **more}


def run(*args: object, cwd: Path | None = None, before: str = "", **env: str) -> subprocess.CompletedProcess[str]:
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
        env=environment(**env),
    )


def refused(done: subprocess.CompletedProcess[str], status: int, *words: str) -> None:
    """Assert that a run ended with this status and a message that says these words, and no traceback."""
    assert done.returncode == status, done.stderr
    assert "Traceback" not in done.stderr
    assert all(word in done.stderr for word in words), done.stderr
