"""Files one can find things in: short enough, and of names that do not clash."""

from __future__ import annotations

import ast
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


LONG = 100  # lines from which a module is worth a test of its own
TESTED_BY = {
    "screen": "cli"
}  # rooms whose tests stand in another's folder; a file of the ground has those of the units


def imported(path: Path) -> set[str]:
    """Modules a test imports, and names of modules."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found |= {node.module, *(f"{node.module}.{alias.name}" for alias in node.names)}
    return found


def test_every_long_module_is_imported_by_a_test_of_its_own_room() -> None:
    tests = {p: imported(p) for p in (TOP / "tests").rglob("*.py")}
    without = []
    for path in sorted((TOP / "fabplan").rglob("*.py")):
        inside = path.relative_to(TOP)
        if path.read_text(encoding="utf-8").count("\n") <= LONG or path.name == "__init__.py":
            continue
        room = inside.parts[1].removesuffix(".py")
        own = TOP / "tests" / (TESTED_BY.get(room, room) if len(inside.parts) > 2 else "units")
        module = ".".join(inside.with_suffix("").parts)
        if not any(own in test.parents and module in names for test, names in tests.items()):
            without.append(str(inside))
    assert without == []
