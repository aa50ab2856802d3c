"""Are apex caps and opening sets the size of the spire and the openings they are for?"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import pairwise

from fabplan.job.kinds.apex_cap import ApexCapPiece
from fabplan.job.kinds.opening_set import OpeningSetPiece
from fabplan.job.kinds.outline import OutlinePiece
from fabplan.job.kinds.section import SectionPiece
from fabplan.job.model import Job, Piece
from fabplan.roof.model import RoofPlan, SlopeLayout
from fabplan.units import NM_PER_INCH

NEAR = 0.001  # inches


def check_made_up(asked: Sequence[Piece], job: Job, roof: RoofPlan | None) -> list[str]:
    """Faults of the pieces that `asked` caps and sets were made into; the job holds them."""
    faults: list[str] = []
    for piece in asked:
        if isinstance(piece, ApexCapPiece):
            faults += _cap(piece, job, roof)
        elif isinstance(piece, OpeningSetPiece):
            faults += _set(piece, job, roof)
    return faults


def _cap(piece: ApexCapPiece, job: Job, roof: RoofPlan | None) -> Iterator[str]:
    """Faults of the caps made of a measured point: how many, facets, hips, flap, creases, hems and count."""
    made = [p for p in job.pieces if isinstance(p, OutlinePiece) and p.mark.startswith(piece.mark) and p.creases]
    if piece.sides is not None and piece.side is not None and piece.slant is not None:
        wanted = [(piece.sides, piece.side / NM_PER_INCH, piece.slant / NM_PER_INCH, piece.count or 1)]
    else:
        wanted = [
            (s.slope.times, _wide_at(s, s.cap_line), max(y for _, y in s.slope.outline) - s.cap_line, 1)
            for s in (roof.slopes if roof else ())
            if s.cap_line is not None
            and any(e.name == s.slope.entry and e.shape == "regular-spire" for e in job.slopes)
        ]
    if len(made) != len(wanted):
        yield f"{piece.mark}: {len(made)} caps for {len(wanted)} points"
        return
    for cap, (sides, side, slant, count) in zip(made, wanted, strict=True):
        facets = sides // piece.seams
        spots = [complex(x, y) / NM_PER_INCH for x, y in cap.points]
        point, low = spots[0], spots[1 : facets + 2]
        hip = math.hypot(slant, side / 2)
        if any(abs(abs(c - point) - hip) > NEAR for c in low):
            yield f"{cap.mark}: a hip is not {hip:.3f} in long"
        if any(abs(abs(b - a) - side) > NEAR for a, b in pairwise(low)) or len(low) != facets + 1:
            yield f"{cap.mark}: not {facets} facets of {side:.3f} in"
        flap = len(spots) - facets - 2
        if (flap == 2) != (piece.lap > 0) or len(cap.creases) != facets - (piece.lap == 0):
            yield f"{cap.mark}: the seam's flap or the creases are not as asked"
        if any(c.from_ != 1 or not 3 <= c.to <= facets + 2 for c in cap.creases):
            yield f"{cap.mark}: a crease runs from elsewhere than the point"
        if {f.edge for f in cap.folds} != (set(range(2, facets + 2)) if piece.hem else set()):
            yield f"{cap.mark}: the hems are not on the lower edges"
        if cap.count != count * piece.seams:
            yield f"{cap.mark}: {cap.count} for {count * piece.seams}"
        # at the hips of a pyramid the facets' normals stand this far apart
        tilt = math.acos(min(1.0, side / 2 / math.tan(math.pi / sides) / slant))
        normals = [
            (math.sin(tilt) * math.cos(a), math.sin(tilt) * math.sin(a), math.cos(tilt)) for a in (0, math.tau / sides)
        ]
        turn = math.degrees(math.acos(sum(a * b for a, b in zip(*normals, strict=True))))
        if any(abs(c.turned - (piece.turned or turn)) > 0.051 or c.toward != "back" for c in cap.creases):
            yield f"{cap.mark}: a crease is not turned {turn:.1f} degrees to the back"


def _wide_at(layout: SlopeLayout, y: float) -> float:
    """Width of a slope at a height, by crossing its edges."""
    ring = layout.slope.outline
    xs = []
    for (xa, ya), (xb, yb) in zip(ring, (*ring[1:], ring[0]), strict=True):
        if (ya - y) * (yb - y) <= 0 and ya != yb:
            xs.append(xa + (xb - xa) * (y - ya) / (yb - ya))
    return max(xs) - min(xs)


def _set(piece: OpeningSetPiece, job: Job, roof: RoofPlan | None) -> Iterator[str]:
    made = [p for p in job.pieces if isinstance(p, SectionPiece) and p.mark.startswith(piece.mark)]
    want: Counter[tuple[str, int]] = Counter()
    if piece.width is not None and piece.height is not None:
        openings = [(piece.width / NM_PER_INCH, piece.height / NM_PER_INCH, piece.count or 1)]
    else:
        openings = [
            (max(x) - min(x), max(y) - min(y), s.slope.times)
            for s in (roof.slopes if roof else ())
            for h in s.slope.holes
            for x, y in [tuple(zip(*h.outline, strict=True))]
        ]
    flange, lap = piece.flange / NM_PER_INCH, piece.lap / NM_PER_INCH
    for wide, high, times in openings:
        for name, length, many in (
            ("apron", wide + 2 * flange, 1), ("side", high + 2 * lap, 2), ("back", wide + 2 * flange, 1),
        ):  # fmt: skip
            want[name, round(length * 1000)] += many * times
    found: Counter[tuple[str, int]] = Counter()
    for p in made:
        name = p.mark.rsplit("-", 1)[-1]
        found[name, round(p.length / NM_PER_INCH * 1000)] += p.count or 0
        if (
            p.bends != (90.0,)
            or p.legs[1] != piece.upstand
            or p.legs[0] != (piece.above if name == "back" else piece.flange)
        ):
            yield f"{p.mark}: its legs are not the flange and the upstand, square to each other"
        if (p.start_hem is None) == (piece.hem > 0) or (p.start_hem and p.start_hem.width != piece.hem):
            yield f"{p.mark}: its hem is not as asked"
    if found != want:
        yield f"{piece.mark}: {dict(found)} pieces by length for {dict(want)}"
