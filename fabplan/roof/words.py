"""How computed sizes are said in notes and errors: rounded to what a tape can show, in the job's units."""

from __future__ import annotations


def size(value: float, units: str = "in") -> str:
    """A computed length (inches) to 1/100 in or 1/10 mm."""
    if units == "mm":
        return f"{round(value * 25.4, 1) + 0.0:.1f} mm"
    text = f"{round(value, 2) + 0.0:.2f}"
    return f"{text} in"


def many(count: int, one: str, more: str = "") -> str:
    """A count with its noun."""
    return f"{count:,} {one if count == 1 else more or one + 's'}"
