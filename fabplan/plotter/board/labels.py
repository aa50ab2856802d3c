"""Sizes as printed on a drawing: from the house's `Show`, fractions set as fractions, a true multiplication sign."""

from __future__ import annotations

from functools import lru_cache

from fabplan.speech.format import paper
from fabplan.units import NM_PER_INCH, Show

LONGEST_MARK = 13  # letters of a mark that a picture has room for


@lru_cache(maxsize=4096)
def bare(show: Show, inches: float) -> str:
    """A length in inches, without its unit."""
    return paper(show.bare(float(inches)))


def length(show: Show, inches: float) -> str:
    """A length in inches, with its unit."""
    return paper(show.length(float(inches)))


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
