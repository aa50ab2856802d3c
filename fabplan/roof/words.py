"""How computed sizes are said in notes and errors: rounded to what a tape can show, in the job's units."""

from __future__ import annotations

from fabplan.roof.model import Misfit


def size(value: float, units: str = "in") -> str:
    """A computed length (inches) to 1/100 in or 1/10 mm."""
    if units == "mm":
        return f"{round(value * 25.4, 1) + 0.0:.1f} mm"
    text = f"{round(value, 2) + 0.0:.2f}"
    return f"{text} in"


def many(count: int, one: str, more: str = "") -> str:
    """A count with its noun."""
    return f"{count:,} {one if count == 1 else more or one + 's'}"


def disagree(misfit: Misfit) -> str:
    """That readings do not agree; which tape is off can not be told."""
    one = len(misfit.checks) == 1
    return (
        f"{' and '.join(misfit.checks)} {'does' if one else 'do'} not agree with the other readings; any one of them "
        "may be off, and the readings can not tell which"
    )
