"""Lengths as people write them, exact inside.

A length is an integer number of nanometres (`Nm`): 1/64 in = 396 875 nm and 0.001 mm = 1 000 nm are both exact.
"""

from __future__ import annotations

from fractions import Fraction
from typing import NewType

Nm = NewType("Nm", int)
NM_PER_INCH = 25_400_000
NM_PER_MM = 1_000_000


def inches(length: int) -> float:
    """Length in inches as a float, for geometry."""
    return length / NM_PER_INCH


def from_inches(value: float) -> Nm:
    """Nearest whole nanometre to a computed length in inches."""
    return Nm(round(value * NM_PER_INCH))


def to_grid(length: float | Fraction, grid: int, how: str = "nearest") -> int:
    """Number of graduations in a length of nanometres.

    Parameters
    ----------
    length : number
        Nanometres.
    grid : int
        Nanometres in one graduation, > 0.
    how : {"nearest", "up", "down"}
    """
    exact = Fraction(length) / grid
    if how == "up":
        return -((-exact.numerator) // exact.denominator)
    if how == "down":
        return exact.numerator // exact.denominator
    return int((exact + Fraction(1, 2)).__floor__())


def parse_length(value: object, unit: str = "in") -> Nm:
    """Exact length of what a person wrote; a bare number takes `unit` ("in" or "mm")."""
    raise NotImplementedError
