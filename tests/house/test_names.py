"""A name says one thing: no two classes of the program share one."""

from __future__ import annotations

import ast
from collections import defaultdict
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2] / "fabplan"


def test_no_two_classes_have_one_name() -> None:
    places: dict[str, list[str]] = defaultdict(list)
    for path in sorted(ROOT.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ClassDef):
                places[node.name].append(f"{path.relative_to(ROOT)}:{node.lineno}")
    assert {name: there for name, there in places.items() if len(there) > 1} == {}
