"""What a docstring says of fields and parameters is what the code has; long functions say what they do."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest
from house_trees import tree

ROOT = Path(__file__).resolve().parents[2] / "fabplan"
FILES = sorted(ROOT.rglob("*.py"))
LONG = 40  # lines from which a function needs a docstring
Definition = ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef


def section(doc: str, *titles: str) -> set[str] | None:
    """Names of a numpydoc section of one of these titles; None where there is none."""
    for title in titles:
        found = re.search(rf"^{title}\n-+\n(.*?)(?=\n\n\w[\w ]*\n-{{3,}}|\Z)", doc, flags=re.S | re.M)
        if found:
            heads = [row.split(" :")[0] for row in found[1].split("\n") if row and not row.startswith(" ")]
            return {name.strip().strip("`*") for head in heads for name in head.split(",")}
    return None


def fields(node: ast.ClassDef) -> set[str]:
    """Public fields of a dataclass."""
    named = [s.target.id for s in node.body if isinstance(s, ast.AnnAssign) and isinstance(s.target, ast.Name)]
    return {name for name in named if not name.startswith("_")}


def parameters(node: ast.FunctionDef | ast.AsyncFunctionDef) -> set[str]:
    """Names of all parameters but that of the object itself."""
    a = node.args
    every = [*a.posonlyargs, *a.args, *a.kwonlyargs, *(x for x in (a.vararg, a.kwarg) if x)]
    return {x.arg for x in every} - {"self", "cls"}


def faults(tree: ast.Module) -> list[str]:
    """What docstrings of a file get wrong."""
    found = []
    for node in ast.walk(tree):
        if not isinstance(node, Definition):
            continue
        doc, where = ast.get_docstring(node) or "", f"line {node.lineno}, {node.name}"
        if isinstance(node, ast.ClassDef):
            made = any("dataclass" in ast.unparse(d) for d in node.decorator_list)
            said = section(doc, "Attributes", "Parameters") if made else None
            there = fields(node)
        else:
            if not doc and (node.end_lineno or 0) - node.lineno + 1 >= LONG:
                found.append(f"{where}: {LONG} lines and no docstring")
            said, there = section(doc, "Parameters"), parameters(node)
            there &= said or set()  # a parameter that explains itself may be left out, a field may not
        if said is not None and said != there:
            found.append(f"{where}: says {sorted(said - there)} that is not there, leaves out {sorted(there - said)}")
    return found


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(ROOT)))
def test_docstrings_agree_with_the_code(path: Path) -> None:
    assert faults(tree(path)) == []


def test_a_wrong_docstring_is_found() -> None:
    text = '''
@dataclass(frozen=True)
class Sheet:
    """One.

    Attributes
    ----------
    width, depth : float
    """

    width: float
    length: float
'''
    (fault,) = faults(ast.parse(text))
    assert "['depth'] that is not there, leaves out ['length']" in fault
    assert faults(ast.parse("def f():\n" + "    pass\n" * LONG))
