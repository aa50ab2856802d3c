"""Whether tests notice wrong programs: one line of the program changed at a time, the tests of its own room run.

    python docs/benchmarks/mutate.py                  every change (long: an hour or more)
    python docs/benchmarks/mutate.py --room plan      one room
    python docs/benchmarks/mutate.py --check          only whether every change still applies to the program
    python docs/benchmarks/mutate.py --first          only the first tests of each room; what they miss is open

The program is copied to a temporary folder and changed there. Tests of the room that import the changed file are tried
first, then those of `TESTS` in their order, the whole room last; the first failure is a notice. A change that no longer
applies is told, and counts as neither.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

from mutations import MUTATIONS, TESTS, Change

ROOT = Path(__file__).resolve().parents[2]
COPIED = ("fabplan", "tests", "stock_profiles", "docs", "pyproject.toml", "README.md", "DEVELOPERS.md", "CHANGELOG.md")
MOST_SECONDS = 1200


def applies(change: Change, root: Path) -> bool:
    """Whether the text of a change stands exactly once in its file."""
    path = root / change[0]
    return path.exists() and path.read_text(encoding="utf-8").count(change[1]) == 1


def copied(folder: Path) -> Path:
    """The project in a folder of its own."""
    for name in COPIED:
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(source, folder / name, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy(source, folder / name)
    return folder


def importers(change: Change, room: str) -> tuple[str, ...]:
    """Files of the room's tests that import the changed file themselves, short ones first."""
    *package, name = Path(change[0]).with_suffix("").parts
    ways = (
        f"{'.'.join(package)}.{name} import",
        f"import {'.'.join(package)}.{name}",
        f"{'.'.join(package)} import {name}",
    )
    found = [p for p in (ROOT / TESTS[room][-1]).rglob("test_*.py") if any(w in p.read_text("utf-8") for w in ways)]
    return tuple(str(p.relative_to(ROOT)) for p in sorted(found, key=lambda p: p.stat().st_size))


def failing(root: Path, test: str, left_out: set[str]) -> str | None:
    """The first test that fails in a file or folder, by its id; None when none does."""
    command = [sys.executable, "-m", "pytest", "-x", "-q", "-p", "no:xdist", "-p", "no:cacheprovider", test]
    command += [f"--deselect={name}" for name in sorted(left_out)]
    env = os.environ | {"PYTHONPATH": str(root), "PYTHONDONTWRITEBYTECODE": "1"}
    try:
        done = subprocess.run(
            command, cwd=root, env=env, capture_output=True, text=True, timeout=MOST_SECONDS, check=False
        )
    except subprocess.TimeoutExpired:
        return f"{test} (does not end)"
    if done.returncode in (0, 5):  # 5: nothing left to run
        return None
    if done.returncode not in (1, 2):
        raise SystemExit(f"pytest ended with {done.returncode}: {done.stdout[-500:]}{done.stderr[-500:]}")
    said = [line.split(" ", 1)[1] for line in done.stdout.splitlines() if line.startswith(("FAILED ", "ERROR "))]
    return said[0].split(" - ")[0] if said else test


def noticed(change: Change, tests: tuple[str, ...], root: Path, broken: set[str]) -> str | None:
    """The test of a room that notices a change; `broken` gathers tests that fail without any change."""
    path = root / change[0]
    right = path.read_text(encoding="utf-8")
    wrong = right.replace(change[1], change[2])
    for test in tests:
        while (root / test).exists():
            path.write_text(wrong, encoding="utf-8")
            try:
                by = failing(root, test, broken)
            finally:
                path.write_text(right, encoding="utf-8")
            if by is None:
                break
            if "::" not in by or failing(root, by, set()) is None:
                return by
            broken.add(by)
    return None


def main() -> None:
    """Try the changes and print a line each, then a table by room."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--room", choices=sorted(MUTATIONS), action="append")
    parser.add_argument("--check", action="store_true")
    parser.add_argument("--first", action="store_true")
    asked = parser.parse_args()
    rooms = {room: changes for room, changes in MUTATIONS.items() if not asked.room or room in asked.room}
    stale = [(room, c) for room, changes in rooms.items() for c in changes if not applies(c, ROOT)]
    for room, change in stale:
        print(f"{room}: no longer applies: {change[0]}: {change[1]!r}")
    if asked.check:
        print(f"{sum(map(len, rooms.values())) - len(stale)} changes apply, {len(stale)} do not")
        raise SystemExit(bool(stale))
    table: dict[str, Counter[str]] = {}
    broken: set[str] = set()
    with tempfile.TemporaryDirectory() as folder:
        root = copied(Path(folder))
        for room, changes in rooms.items():
            count = table.setdefault(room, Counter())
            own = TESTS[room][:-1] if asked.first and len(TESTS[room]) > 1 else TESTS[room]
            for change in changes:
                tests = tuple(dict.fromkeys((*importers(change, room), *own)))
                if not applies(change, root):
                    count["stale"] += 1
                    continue
                began = time.perf_counter()
                by = noticed(change, tests, root, broken)
                count["missed" if by is None else "noticed"] += 1
                seconds = time.perf_counter() - began
                what = "MISSED" if by is None else f"noticed by {by}"
                print(f"{room}: {what} ({seconds:.0f} s): {change[0]}: {change[2].strip()!r}", flush=True)
    for name in sorted(broken):
        print(f"fails without any change, so it was left out: {name}")
    print("\n| room | changes | noticed | missed |\n|---|---|---|---|")
    for room, count in table.items():
        print(f"| {room} | {count['noticed'] + count['missed']} | {count['noticed']} | {count['missed']} |")
    total = sum(table.values(), Counter[str]())
    tried = total["noticed"] + total["missed"]
    share = 100 * total["noticed"] / tried if tried else 0
    print(f"| all | {tried} | {total['noticed']} | {total['missed']} |\n\n{share:.0f} % noticed")


if __name__ == "__main__":
    main()
