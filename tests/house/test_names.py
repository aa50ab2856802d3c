"""A name says one thing and is used: no two classes share one, nothing stands twice in a file or for tests alone."""

from __future__ import annotations

import ast
import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from pathlib import Path

from house_trees import tree

ROOT = Path(__file__).resolve().parents[2] / "fabplan"


def test_no_two_classes_have_one_name() -> None:
    places: dict[str, list[str]] = defaultdict(list)
    for path in sorted(ROOT.rglob("*.py")):
        for node in ast.walk(tree(path)):
            if isinstance(node, ast.ClassDef):
                places[node.name].append(f"{path.relative_to(ROOT)}:{node.lineno}")
    assert {name: there for name, there in places.items() if len(there) > 1} == {}


def defined_at_top(whole: ast.Module) -> Iterator[str]:
    for node in whole.body:
        if isinstance(node, ast.Assign):
            yield from (target.id for target in node.targets if isinstance(target, ast.Name))
        elif isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
            yield node.target.id
        elif isinstance(node, ast.FunctionDef | ast.ClassDef):
            yield node.name


def test_nothing_is_defined_twice_in_a_file() -> None:
    """The second of two constants of one name is what both places get."""
    for path in sorted(ROOT.rglob("*.py")):
        many = Counter(defined_at_top(tree(path)))
        assert {name for name, n in many.items() if n > 1} == set(), path.name


def test_one_near_a_room() -> None:
    """How near is the same place is said once for what a room makes, and once for its checker."""
    places: dict[tuple[str, bool], list[str]] = defaultdict(list)
    for path in sorted(ROOT.rglob("*.py")):
        names = {name.strip("_") for name in defined_at_top(tree(path))}
        if "NEAR" in names:
            inside = path.relative_to(ROOT)
            checker = "check" in inside.parts or path.name.startswith(("check", "prove"))
            places[inside.parts[0], checker].append(str(inside))
    assert {room: there for room, there in places.items() if len(there) > 1} == {}


# Called by a library by their names.
HOOKS = {
    "version_string", "service_actions", "process_request", "process_request_thread", "handle_error",  # werkzeug
    "_select_fittest_section",  # rectpack
}  # fmt: skip
CALLED = ("command", "callback", "validator", "serializer", "stated")  # decorators after which nobody need call


def definitions(whole: ast.AST) -> Iterator[tuple[str, int]]:
    """Functions, methods, classes and constants of a file, with their lines."""
    for node in ast.walk(whole):
        if not isinstance(node, ast.FunctionDef | ast.ClassDef) or node.name.startswith("__"):
            continue
        if not any(word in ast.unparse(mark) for mark in node.decorator_list for word in CALLED):
            yield node.name, node.lineno
    for node in whole.body if isinstance(whole, ast.Module) else ():
        if isinstance(node, ast.Assign | ast.AnnAssign):
            for target in node.targets if isinstance(node, ast.Assign) else [node.target]:
                if isinstance(target, ast.Name) and not target.id.startswith("__"):
                    yield target.id, node.lineno


def uses(node: ast.AST, found: set[str], inside: frozenset[str] = frozenset()) -> set[str]:
    """Names read in a file, those of a function within itself left out; they join what was `found`."""
    if isinstance(node, ast.FunctionDef | ast.ClassDef):
        for mark in node.decorator_list:
            uses(mark, found, inside)
        inside = inside | {node.name}
    name = None
    if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Load):
        name = node.id
    elif isinstance(node, ast.Attribute):
        name = node.attr
    elif isinstance(node, ast.ImportFrom):
        found.update(alias.name for alias in node.names if alias.asname and alias.asname != alias.name)
    if name and name not in inside:
        found.add(name)
    for child in ast.iter_child_nodes(node):
        uses(child, found, inside)
    return found


def unused(trees: dict[str, ast.Module], pages: Iterable[str] = ()) -> list[str]:
    """What is defined in these files and read in none of them, nor in a page."""
    used = set(HOOKS)
    for whole in trees.values():
        uses(whole, used)
    used |= {word for page in pages for word in re.findall(r"\w+", page)}
    return [
        f"{file}:{line} {name}"
        for file, whole in trees.items()
        for name, line in definitions(whole)
        if name not in used
    ]


def test_everything_defined_is_used_by_the_program() -> None:
    files = {str(p.relative_to(ROOT)): tree(p) for p in sorted(ROOT.rglob("*.py"))}
    pages = [p.read_text(encoding="utf-8") for p in ROOT.rglob("*") if p.suffix in {".html", ".js"}]
    assert unused(files, pages) == []


def test_what_only_calls_itself_is_found() -> None:
    text = "SIZE = 1\n\ndef lone(n):\n    return lone(n - 1)\n\ndef called():\n    pass\n\ncalled()\n"
    assert unused({"a.py": ast.parse(text)}) == ["a.py:3 lone", "a.py:1 SIZE"]
