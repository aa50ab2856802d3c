"""Sizes as printed on a drawing: from the house's `Show`, fractions set as fractions, a true multiplication sign."""

from __future__ import annotations

import re
from functools import lru_cache

from fabplan.plotter.board.measure import SLASH
from fabplan.units import NM_PER_INCH, Show

_FRACTION = re.compile(r"(?<![\d./])(?:(\d+)-)?(\d+)/(\d+)(?![\d./])")
LONGEST_MARK = 13  # letters of a mark that a picture has room for
_BY = re.compile(r"(?<=\d) x (?=\d)")


def printed(text: str) -> str:
    """A size from `Show` as it is set on paper: ``14-1/32 x 9`` becomes ``14 1⁄32 × 9``.

    For sizes only, never for names a person typed.
    """
    text = _FRACTION.sub(lambda m: f"{m[1] + ' ' if m[1] else ''}{m[2]}{SLASH}{m[3]}", text)
    return _BY.sub(" × ", text)


@lru_cache(maxsize=4096)
def bare(show: Show, inches: float) -> str:
    """A length in inches, without its unit."""
    return printed(show.bare(float(inches)))


def length(show: Show, inches: float) -> str:
    """A length in inches, with its unit."""
    return printed(show.length(float(inches)))


def steps(show: Show, graduations: float, grid: int) -> str:
    """So many graduations of `grid` nanometres, without the unit."""
    return bare(show, graduations * grid / NM_PER_INCH)


def pair(show: Show, one: float, other: float) -> str:
    """Two lengths in inches, without the unit."""
    return f"{bare(show, one)} × {bare(show, other)}"


def degrees(value: float) -> str:
    """An angle to one decimal, without a trailing zero."""
    return f"{value:.1f}".rstrip("0").rstrip(".") + "°"


def clipped(mark: str, most: int = LONGEST_MARK) -> str:
    """A mark as it stands in a picture: its first letters and an ellipsis when it is long.

    >>> clipped("Drip edge at the lower side")
    'Drip edge at…'
    """
    return mark if len(mark) <= most else f"{mark[: most - 1].rstrip(' ,.;:-')}…"


def span(numbers: list[int]) -> str:
    """Numbers as ranges: ``4–10, 12``.

    >>> span([4, 5, 6, 9])
    '4–6, 9'
    """
    out: list[list[int]] = []
    for n in sorted(set(numbers)):
        if out and n == out[-1][-1] + 1:
            out[-1].append(n)
        else:
            out.append([n])
    return ", ".join(f"{g[0]}–{g[-1]}" if len(g) > 2 else ", ".join(map(str, g)) for g in out)
