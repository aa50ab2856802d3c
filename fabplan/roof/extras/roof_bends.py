"""Bends that the measured roof gives: caps as two slopes turn at a hip or ridge, drip edges as the pitch asks."""

from __future__ import annotations

import math
from collections.abc import Sequence

from fabplan.errors import JobError
from fabplan.job.model import Job, SectionPiece
from fabplan.roof.extras.edges import SHARED_WITHIN
from fabplan.roof.measure.tape import measure_slopes
from fabplan.roof.model import Hip, Measured

MOST_OFF = 5.0  # degrees a cap may be off its hip, and the edges of one mark apart (common practice, no source)
Turn = tuple[str, float]  # where, and degrees turned toward the back


def with_roof_bends(job: Job) -> Job:
    """The job with degrees in place of the bends that are to be taken from the roof, rounded to a tenth.

    Raises
    ------
    JobError
        A roof that does not say them, or edges of one mark that turn more than 5 degrees apart.
    """
    waiting = [p for p in job.pieces if isinstance(p, SectionPiece) and p.roof_bend and not p.bends[p.roof_bend - 1]]
    if not waiting or not job.slopes:
        return job
    measured, hips = measure_slopes(job, {})
    made = {p.mark: _bent(p, job, measured, hips) for p in waiting}
    return job.model_copy(update={"pieces": tuple(made.get(p.mark, p) for p in job.pieces)})


def _bent(piece: SectionPiece, job: Job, measured: Sequence[Measured], hips: Sequence[Hip]) -> SectionPiece:
    turns = wanted_turns(piece.mark, job, measured, hips)
    others = 0.0
    if piece.mark != job.roof.eave_piece:  # a cap's bends add up to the whole turn; a drip edge's is its own
        others = math.fsum(b for n, b in enumerate(piece.bends, 1) if n != piece.roof_bend)
    if not turns:
        raise _fault(piece, job, "no edge of the roof says how it is bent", "its degrees")
    low, high = min(turns, key=lambda t: t[1]), max(turns, key=lambda t: t[1])
    if high[1] - low[1] > MOST_OFF:
        raise _fault(
            piece,
            job,
            f"{low[0]} asks for {low[1]:.1f}° and {high[0]} for {high[1]:.1f}°: one bend does not fit both",
            "pieces of their own, with their degrees and counts",
        )
    turn = round(-(low[1] + high[1]) / 2 - others, 1)
    if not 0 < abs(turn) < 180:
        raise _fault(piece, job, f"the roof leaves {turn:g}° for this bend", "the bends")
    bends = tuple(turn if n == piece.roof_bend else b for n, b in enumerate(piece.bends, 1))
    return piece.model_copy(update={"bends": bends})


def _fault(piece: SectionPiece, job: Job, rule: str, write: str) -> JobError:
    return JobError(rule, file=job.file, key=f'piece "{piece.mark}" > bends', value='"roof"', write=write)


def wanted_turns(mark: str, job: Job, measured: Sequence[Measured], hips: Sequence[Hip]) -> list[Turn]:
    """Degrees toward the back that the hips, ridges or eaves along which a mark runs ask for, as far as they say.

    Over a hip or ridge a cap turns as the two slopes turn there (at a ridge by the sum of their pitches). The roof leg
    of a drip edge lies on the slope and its face hangs plumb: 90 degrees less the pitch.
    """
    roof = job.roof
    out: list[Turn] = []
    if mark == roof.hip_piece and roof.hips == "capped":
        out += [(h.name, h.bend) for h in hips]
    if mark == roof.ridge_piece:
        out += _ridges(measured)
    if mark == roof.eave_piece:
        out += [
            (f"the eave of {s.name}", 90.0 - s.pitch)
            for s in measured
            if s.pitch is not None and any(e.kind == "eave" for e in s.edges)
        ]
    return out


def _ridges(measured: Sequence[Measured]) -> list[Turn]:
    """Ridges between two slopes of known pitch, paired by their lengths as the runs along them are."""
    edges = sorted(
        ((e.length, s) for s in measured for e in s.edges for _ in range(s.times) if e.kind == "ridge"),
        key=lambda e: e[0],
    )
    out = []
    while len(edges) > 1:
        length, one = edges.pop()
        if length - edges[-1][0] > SHARED_WITHIN:
            continue
        other = edges.pop()[1]
        if one.pitch is not None and other.pitch is not None:
            out.append((f"the ridge of {other.name} with {one.name}", one.pitch + other.pitch))
    return out
