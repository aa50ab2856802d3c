"""The layout of the house holds: who may import whom, and what stays unloaded."""

from __future__ import annotations

import ast
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest
from house_trees import tree

ROOT = Path(__file__).resolve().parents[2] / "fabplan"

# Each room may import the rooms before it, and those on no later floor. Rooms in one group are side by side.
FLOORS: list[set[str]] = [
    {"errors"},
    {"units", "workers", "quantities", "plane", "check_plane"},
    {"labour"},
    {"job"},
    {"blanks"},
    {"roof"},
    {"nesting", "bending"},
    {"plan"},
    {"speech"},
    {"plotter"},
    {"packet"},
    {"shop"},
    {"screen"},
    {"desk"},
    {"cli"},
    {"__main__"},
]
LEVEL = {room: i for i, floor in enumerate(FLOORS) for room in floor}


@cache
def imported_rooms(path: Path) -> set[tuple[str, str]]:
    """(room, full module) of each import of the package in a file, imports inside functions included."""
    found: set[tuple[str, str]] = set()
    for node in ast.walk(tree(path)):
        names: list[str] = []
        if isinstance(node, ast.Import):
            names = [a.name for a in node.names]
        elif isinstance(node, ast.ImportFrom) and node.module and node.level == 0:
            # `from fabplan.room import file` names a file of the room, `from fabplan import plane` a room.
            whole = node.module == "fabplan" or (
                len(node.module.split(".")) == 2 and (ROOT / node.module.split(".")[1]).is_dir()
            )
            names = [f"{node.module}.{a.name}" for a in node.names] if whole else [node.module]
        for name in names:
            parts = name.split(".")
            if parts[0] == "fabplan" and len(parts) > 1:
                found.add((parts[1], name))
    return found


FILES = sorted(p for p in ROOT.rglob("*.py") if p.name != "__init__.py" or p.parent != ROOT)


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(ROOT)))
def test_a_room_imports_only_lower_rooms(path: Path) -> None:
    room = path.relative_to(ROOT).parts[0].removesuffix(".py")
    assert room in LEVEL, f"{room} has no floor: add it to FLOORS"
    for other, module in imported_rooms(path):
        if other == room:
            continue
        assert LEVEL[other] < LEVEL[room], f"{path.name} on floor {room} imports {module}"


CHECKERS = sorted({*ROOT.rglob("check*.py"), *ROOT.glob("*/check/*.py")})


@pytest.mark.parametrize("path", CHECKERS, ids=lambda p: str(p.relative_to(ROOT)))
def test_checkers_import_no_solver(path: Path) -> None:
    allowed = {"model", "clip", "check", "metals", "values", "slopes"}
    for other, module in imported_rooms(path):
        if other in {"errors", "units", "quantities", "labour"}:
            continue
        last = module.split(".")[-1]
        own = ".check." in f"{module}." or last.startswith("check") or module.startswith("fabplan.job.kinds")
        assert last in allowed or own, f"{path.relative_to(ROOT)} imports {module}"


def test_only_checkers_use_the_geometry_of_checkers() -> None:
    for path in set(FILES) - set(CHECKERS):
        assert "fabplan.check_plane" not in {module for _, module in imported_rooms(path)}, path.name


def test_help_loads_neither_matplotlib_nor_scipy() -> None:
    code = (
        "import sys\n"
        "from fabplan.cli import main\n"
        "try:\n    main(['--help'])\nexcept SystemExit:\n    pass\n"
        "heavy = ('matplotlib', 'scipy', 'numpy', 'shapely', 'typst', 'pydantic', 'werkzeug', 'jinja2')\n"
        "bad = sorted(m for m in heavy if m in sys.modules)\n"
        "print('LOADED', bad)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert "LOADED []" in done.stdout
