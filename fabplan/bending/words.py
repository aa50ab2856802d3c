"""Plain words for the bench: turning pieces, naming what a size is measured from."""

from __future__ import annotations

from fabplan.units import Show

TURNS = {45: "an eighth turn", 90: "a quarter turn", 135: "three eighths of a turn", 180: "half a turn"}


def rotate_words(degrees: float, show: Show) -> str:
    """Rotation on the table as seen from above; positive to the left (counter-clockwise)."""
    degrees = (degrees + 180) % 360 - 180
    size = abs(degrees)
    part = next((words for turn, words in TURNS.items() if abs(size - turn) < 0.5), show.degrees(size))
    if abs(size - 180) < 0.5:
        return f"rotate {part}"
    return f"rotate {part} to the {'left' if degrees > 0 else 'right'}"


def end_name(finish: bool) -> str:
    """Which end of a strip."""
    return "finish end" if finish else "start end"


def turn_words(over: bool, swap_ends: bool) -> str:
    """How a strip is brought round: what changes is the side up and the end in the brake."""
    if over and swap_ends:
        return "turn over (roll it over: the other end goes in)"
    if over:
        return "turn over end for end (the same end goes in)"
    return "swap ends" if swap_ends else ""


def join(words: list[str]) -> str:
    """``a``, ``a and b``, ``a, b and c``."""
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1]


def angle_words(turned: float, show: Show) -> str:
    """``turned 45° (inside 135°)``."""
    return f"turned {show.degrees(turned)} (inside {show.degrees(180 - turned)})"
