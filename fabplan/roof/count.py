"""Pieces by course."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace

from fabplan.roof.model import CourseCount, LaidPiece


def count_courses(pieces: Iterable[LaidPiece], cell: float) -> tuple[CourseCount, ...]:
    """One row a course, bottom to top; `cell` is the visible area of a whole piece (square inches)."""
    rows: dict[int, dict[str, float]] = {}
    for p in pieces:
        row = rows.setdefault(p.course, {})
        row[p.kind] = row.get(p.kind, 0) + 1
        row["under_cap"] = row.get("under_cap", 0) + p.under_cap
        row["trimmed"] = row.get("trimmed", 0) + p.trimmed
        row["covered"] = row.get("covered", 0.0) + p.share * cell
    return tuple(
        CourseCount(
            course=k,
            whole=int(row.get("whole", 0)),
            trimmed=int(row.get("trimmed", 0)),
            starter=int(row.get("starter", 0)),
            ridge_half=int(row.get("ridge-half", 0)),
            cut_left=int(row.get("cut-left", 0)),
            cut_right=int(row.get("cut-right", 0)),
            cut_both=int(row.get("cut-both", 0)),
            notched=int(row.get("notched", 0)),
            covered=row["covered"],
            under_cap=int(row["under_cap"]),
        )
        for k, row in sorted(rows.items())
    )


def with_ready(courses: Sequence[CourseCount], pieces: Iterable[LaidPiece], diamond: str) -> tuple[CourseCount, ...]:
    """The rows with how many pieces come up cut, once every piece has its mark and shape."""
    ready = Counter(p.course for p in pieces if p.kind != "whole" and (p.shape or p.mark != diamond))
    return tuple(replace(c, ready=ready[c.course]) for c in courses)
