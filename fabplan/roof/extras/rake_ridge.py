"""Rake covers as sections, and ridge ends as outlines sized by the measured ridges."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from typing import Any

from fabplan.errors import JobError
from fabplan.job.kinds.outline import EdgeFold, OutlinePiece
from fabplan.job.kinds.rake_cover import KICKED, RakeCoverPiece
from fabplan.job.kinds.ridge_end import RidgeEndPiece
from fabplan.job.kinds.section import EndHem, SectionPiece
from fabplan.job.model import Job
from fabplan.roof.extras.edges import SHARED_WITHIN
from fabplan.roof.model import Measured, RoofPlan, SlopeEdge
from fabplan.units import Nm

Pitches = tuple[float, float]  # left and right, seen from outside


def cover_section(piece: RakeCoverPiece) -> SectionPiece:
    """A rake cover as the section it is bent to: on the slope, down the board, kicked out."""
    hem = None if not piece.hem else EndHem.model_construct(width=piece.hem, toward="back", turned=180.0, gap=None)
    drip = (piece.kick,) if piece.kick else ()
    return SectionPiece.model_construct(
        kind="section",
        **_shared(piece, piece.note or "rake cover"),
        count=piece.count,
        length=piece.length,
        legs=(piece.on_roof, piece.down, *drip),
        bends=(-piece.turned, *((KICKED,) if piece.kick else ())),
        roof_bend=0,
        inside_radius=Nm(0),
        start_hem=hem,
        end_hem=None,
        lap=piece.lap,
        finish_by_hand=(),
    )


def _shared(piece: RakeCoverPiece | RidgeEndPiece, note: str) -> dict[str, Any]:
    return {
        "mark": piece.mark,
        "spare": piece.spare,
        "metal": piece.metal,
        "grain": piece.grain,
        "finish": piece.finish,
        "allowance": piece.allowance,
        "note": note,
    }


def ends_of(piece: RidgeEndPiece, job: Job, roof: RoofPlan | None) -> list[OutlinePiece]:
    """The plates of one piece: as typed, or one kind for each pair of pitches at the roof's open ridge ends.

    Raises
    ------
    JobError
        No ridge that ends between two rakes, slopes of unknown pitch, a cap with unequal legs.
    """
    if piece.leg is not None and piece.pitches is not None:
        return [plate_of(piece, piece.leg, piece.pitches, piece.count or 1)]
    found: Counter[Pitches] = Counter()
    for one, other, free in _ridges([s.slope for s in roof.slopes] if roof else []):
        if not any(free):
            continue
        if one.pitch is None or other.pitch is None:
            flat = one if one.pitch is None else other
            raise _fault(piece, job, f"the pitch of {flat.name} is not known", f'pitch = 45 on slope "{flat.entry}"')
        a, b = round(one.pitch, 1), round(other.pitch, 1)
        found[b, a] += free[0]  # at the left end of a slope, seen from outside, that slope lies at the right
        found[a, b] += free[1]
    found += Counter()
    if not found:
        raise _fault(piece, job, "no ridge of the job ends between two rakes", "leg and pitches, with a count")
    leg = _leg(piece, job)
    out = []
    for n, (pitches, count) in enumerate(sorted(found.items()), 1):
        mark = piece.mark if n == 1 else f"{piece.mark}-{n}"
        out.append(plate_of(piece.model_copy(update={"mark": mark}), leg, pitches, count))
    return out


def _leg(piece: RidgeEndPiece, job: Job) -> Nm:
    cap = next((p for p in job.pieces if p.mark == job.roof.ridge_piece), None)
    if not isinstance(cap, SectionPiece):
        raise _fault(piece, job, "has no ridge cap to close", "ridge_piece under [roof], or leg and pitches")
    if cap.legs[0] != cap.legs[-1] or len(cap.legs) != 2:
        raise _fault(piece, job, f"{cap.mark} is no cap of two equal legs: its end is made on site", "leg and pitches")
    return cap.legs[0]


def _fault(piece: RidgeEndPiece, job: Job, rule: str, write: str) -> JobError:
    return JobError(rule, file=job.file, key=f'piece "{piece.mark}"', write=write)


def _ridges(slopes: Sequence[Measured]) -> list[tuple[Measured, Measured, tuple[int, int]]]:
    """Ridges between two slopes, paired by length as the runs along them are, with their ends between two rakes: at
    the first slope's left, at its right."""
    edges = sorted(
        ((e.length, s.name, s, e) for s in slopes for e in s.edges for _ in range(s.times) if e.kind == "ridge"),
        key=lambda x: x[:2],
    )
    out = []
    while len(edges) > 1:
        length, _, one, edge = edges.pop()
        if length - edges[-1][0] > SHARED_WITHIN:
            continue
        _, _, other, along = edges.pop()
        a, b = rakes_at(one, edge), rakes_at(other, along)
        out.append((one, other, (int(a[0] and b[1]), int(a[1] and b[0]))))
    return out


def rakes_at(slope: Measured, ridge: SlopeEdge) -> tuple[bool, bool]:
    """Whether a rake comes up to the left and to the right end of a ridge."""
    left, right = sorted((ridge.start, ridge.end))
    rakes = [e for e in slope.edges if e.kind == "rake"]

    def at(end: tuple[float, float]) -> bool:
        return any(math.dist(end, p) < 1e-6 for e in rakes for p in (e.start, e.end))

    return at(left), at(right)


def plate_of(piece: RidgeEndPiece, leg: Nm, pitches: Pitches, count: int) -> OutlinePiece:
    """A ridge end laid flat, seen from outside: the ridge, down the left leg, the lower edge, up the right leg."""
    left, right = (math.radians(p) for p in pitches)
    feet = [(-leg * math.cos(left), -leg * math.sin(left)), (leg * math.cos(right), -leg * math.sin(right))]
    points = [(0.0, 0.0), feet[0]]
    if piece.drop:
        points += [(x, y - piece.drop) for x, y in feet]
    points.append(feet[1])
    lowest, leftmost = min(y for _, y in points), min(x for x, _ in points)
    lower = 3 if piece.drop else 2
    turned_in = [
        EdgeFold.model_construct(edge=e, width=piece.flange, toward="back", turned=90.0, gap=None)
        for e in (1, len(points))
    ]
    hem = [EdgeFold.model_construct(edge=lower, width=piece.hem, toward="back", turned=180.0, gap=None)]
    return OutlinePiece.model_construct(
        kind="outline",
        **_shared(piece, piece.note or "ridge end"),
        count=count,
        points=tuple((Nm(round(x - leftmost)), Nm(round(y - lowest))) for x, y in points),
        folds=(turned_in[0], *(hem if piece.hem else ()), turned_in[1]),
        creases=(),
        finish_by_hand=(),
    )
