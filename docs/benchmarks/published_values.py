"""How many figures that somebody else printed are compared with what the program gives, by source.

    python docs/benchmarks/published_values.py

A test that compares such figures is marked ``published(source, values)``: `values` printed figures a case. Counted are
figures, not assertions; a figure tried in inches and in millimetres is one. Values worked out by us from a source's
formula, and the sources' texts themselves, are not marked. Nothing is run.
"""

from __future__ import annotations

import contextlib
import io
from collections import Counter
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


class Counted:
    """Sums the marks of the tests collected."""

    def __init__(self) -> None:
        self.values: Counter[str] = Counter()

    def pytest_collection_finish(self, session: pytest.Session) -> None:
        """Read the marks."""
        for item in session.items:
            for mark in item.iter_markers("published"):
                source, values = (*mark.args, 1)[:2]
                self.values[source] += values


def main() -> None:
    """Print a line a source and the sum."""
    counted = Counted()
    told = io.StringIO()
    with contextlib.redirect_stdout(told):
        status = pytest.main(["--collect-only", "-m", "", f"--rootdir={ROOT}", str(ROOT / "tests")], plugins=[counted])
    if status:
        raise SystemExit(f"the tests cannot be collected\n{told.getvalue()[-2000:]}")
    for source, n in sorted(counted.values.items(), key=lambda at: (-at[1], at[0])):
        print(f"{n:4} {source}")
    print(f"{counted.values.total():4} in all")


if __name__ == "__main__":
    main()
