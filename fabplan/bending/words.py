"""Names that the faults of this room are told with."""

from __future__ import annotations


def end_name(finish: bool) -> str:
    """Which end of a strip."""
    return "finish end" if finish else "start end"


def join(words: list[str]) -> str:
    """``a``, ``a and b``, ``a, b and c``."""
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1]
