"""Files one can find things in: short enough, and of names that do not clash."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

TOP = Path(__file__).resolve().parents[2]
MOST = 600  # lines of a module; about 300 is usual


def test_no_module_is_longer_than_one_can_read() -> None:
    lines = {p: p.read_text(encoding="utf-8").count("\n") for p in (TOP / "fabplan").rglob("*.py")}
    assert {p.name: n for p, n in lines.items() if n > MOST} == {}


def test_no_two_files_of_tests_have_one_name() -> None:
    """The test runner takes the second for the first, and stops."""
    names = Counter(p.name for p in (TOP / "tests").rglob("*.py") if p.name != "conftest.py")
    assert [name for name, n in names.items() if n > 1] == []
