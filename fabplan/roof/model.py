"""Roof results: shapes of the measured slopes, counts by course, course lines, edge pieces and kits."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class RoofPlan:
    """All slopes of a job laid out."""

    counts: tuple[tuple[str, int], ...] = ()  # piece mark -> pieces needed before spare
