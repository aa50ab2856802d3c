"""The program's files, each parsed once for all tests of the house."""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path


@cache
def tree(path: Path) -> ast.Module:
    """The parsed file; nobody changes it."""
    return ast.parse(path.read_text(encoding="utf-8"))
