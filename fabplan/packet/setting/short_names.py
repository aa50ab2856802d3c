"""Long marks made short for pictures and cut tables: the first letters and an ellipsis, no two alike.

The full mark stands in the page's title and in the line that says what a pattern gives.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from fabplan.nesting.model import Layout
from fabplan.plotter.board.labels import LONGEST_MARK, clipped


def short_marks(marks: Iterable[str]) -> dict[str, str]:
    """What stands for each mark too long for a picture; marks short enough are left out.

    >>> short_marks(["A", "Drip edge, upper", "Drip edge, lower"])
    {'Drip edge, upper': 'Drip edge, u…', 'Drip edge, lower': 'Drip edge, l…'}
    """
    every = list(dict.fromkeys(marks))
    taken = {mark for mark in every if len(mark) <= LONGEST_MARK}
    out: dict[str, str] = {}
    for mark in every:
        if mark in taken:
            continue
        short, n = clipped(mark), 1
        while short in taken:
            n += 1
            short = f"{clipped(mark, LONGEST_MARK - len(str(n)))}{n}"
        taken.add(short)
        out[mark] = short
    return out


def short_layout(layout: Layout, short: Mapping[str, str]) -> Layout:
    """A pattern with its long marks made short; the pattern itself when it has none."""
    if not any(blank.mark in short for blank in layout.blanks):
        return layout
    return replace(layout, blanks=tuple(replace(b, mark=short.get(b.mark, b.mark)) for b in layout.blanks))
