"""Are apex caps and opening sets the size of the spire and the openings they are for?"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import pairwise

from fabplan.job.kinds.apex_cap import ApexCapPiece
from fabplan.job.kinds.opening_set import OpeningSetPiece
from fabplan.job.kinds.outline import OutlinePiece
from fabplan.job.kinds.rake_cover import RakeCoverPiece
from fabplan.job.kinds.ridge_end import RidgeEndPiece
from fabplan.job.kinds.section import SectionPiece
from fabplan.job.model import Job, Piece
from fabplan.roof.model import RoofPlan, SlopeLayout
from fabplan.units import NM_PER_INCH

ROUNDED = 0.001  # inches


def check_made_up(asked: Sequence[Piece], job: Job, roof: RoofPlan | None) -> list[str]:
    """Faults of the pieces that `asked` caps and sets were made into; the job holds them."""
    faults: list[str] = []
    for piece in asked:
        if isinstance(piece, ApexCapPiece):
            faults += _cap(piece, job, roof)
        elif isinstance(piece, OpeningSetPiece):
            faults += _set(piece, job, roof)
        elif isinstance(piece, RakeCoverPiece):
            faults += _cover(piece, job)
        elif isinstance(piece, RidgeEndPiece):
            faults += _ends(piece, job, roof)
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
        if any(abs(abs(c - point) - hip) > ROUNDED for c in low):
            yield f"{cap.mark}: a hip is not {hip:.3f} in long"
        if any(abs(abs(b - a) - side) > ROUNDED for a, b in pairwise(low)) or len(low) != facets + 1:
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


def _cover(piece: RakeCoverPiece, job: Job) -> Iterator[str]:
    """Faults of a rake cover's sections, walked leg by leg: its board leg hangs as turned, its drip stands out."""
    made = [p for p in job.pieces if isinstance(p, SectionPiece) and p.note == (piece.note or "rake cover")]
    made = [p for p in made if p.mark == piece.mark or p.mark.startswith(f"{piece.mark}-")]
    if not made:
        yield f"{piece.mark}: no section"
    for p in made:
        at, way, corners = 0j, 1 + 0j, [0j]  # the face lies to the left
        for leg, bend in zip(p.legs, (*p.bends, 0.0), strict=True):
            at += way * (leg / NM_PER_INCH)
            corners.append(at)
            way *= complex(math.cos(math.radians(bend)), math.sin(math.radians(bend)))
        down = complex(math.cos(math.radians(piece.turned)), -math.sin(math.radians(piece.turned)))
        want = [0j, piece.on_roof / NM_PER_INCH + 0j]
        want.append(want[-1] + down * (piece.down / NM_PER_INCH))
        if piece.kick:
            out = down * complex(math.cos(math.pi / 4), math.sin(math.pi / 4))
            want.append(want[-1] + out * (piece.kick / NM_PER_INCH))
        if len(want) != len(corners) or any(abs(a - b) > ROUNDED for a, b in zip(want, corners, strict=True)):
            yield f"{p.mark}: its legs are not on the slope, down the board and out to drip"
        hem = p.start_hem.width if p.start_hem else 0
        toward = p.start_hem.toward if p.start_hem else "back"
        if hem != piece.hem or toward != "back" or p.end_hem is not None:
            yield f"{p.mark}: its hem is not as asked"


def _ends(piece: RidgeEndPiece, job: Job, roof: RoofPlan | None) -> Iterator[str]:
    """Faults of the ridge ends: as many as open ends, each the triangle under a cap on slopes of two pitches."""
    made = [p for p in job.pieces if isinstance(p, OutlinePiece) and p.note == (piece.note or "ridge end")]
    made = [p for p in made if p.mark == piece.mark or p.mark.startswith(f"{piece.mark}-")]
    if piece.leg is not None and piece.pitches is not None:
        want = Counter({piece.pitches: piece.count or 1})
        leg = piece.leg / NM_PER_INCH
    else:
        want = _open_ends(roof)
        cap = next((p for p in job.pieces if p.mark == job.roof.ridge_piece), None)
        leg = cap.legs[0] / NM_PER_INCH if isinstance(cap, SectionPiece) else 0.0
    found: Counter[tuple[float, float]] = Counter()
    for p in made:
        spots = [complex(x, y) / NM_PER_INCH for x, y in p.points]
        left, right = spots[1] - spots[0], spots[-1] - spots[0]
        if max(abs(abs(left) - leg), abs(abs(right) - leg)) > ROUNDED:
            yield f"{p.mark}: its upper sides are not the cap's legs of {leg:.3f} in"
        slopes = (math.degrees(math.atan2(-left.imag, -left.real)), math.degrees(math.atan2(-right.imag, right.real)))
        near = next((w for w in want if max(abs(a - b) for a, b in zip(w, slopes, strict=True)) < 0.06), None)
        if near is None:
            yield f"{p.mark}: lies on slopes of {slopes[0]:.1f} and {slopes[1]:.1f} degrees, which end nowhere"
            continue
        found[near] += p.count or 0
        drop = piece.drop / NM_PER_INCH
        low = [spots[1] - 1j * drop, spots[-1] - 1j * drop] if drop else [spots[1], spots[-1]]
        if len(spots) != (5 if drop else 3) or any(min(abs(q - s) for s in spots) > ROUNDED for q in low):
            yield f"{p.mark}: it does not hang {drop:.3f} in below the cap"
        lower = {3} if drop else {2}
        edges = {(f.edge, f.turned, f.toward, f.width) for f in p.folds}
        asked = {(e, 90.0, "back", piece.flange) for e in (1, len(spots))}
        asked |= {(e, 180.0, "back", piece.hem) for e in lower if piece.hem}
        if edges != asked:
            yield f"{p.mark}: its flanges or its hem are not as asked"
    if found != want:
        yield f"{piece.mark}: {dict(found)} ends for {dict(want)}"


def _open_ends(roof: RoofPlan | None) -> Counter[tuple[float, float]]:
    """Ends of ridges between two rakes by the pitches at their left and right, seen from outside.

    Ridges are longest first; the two slopes of one are next to each other in that order, no inch apart.
    """
    edges = [
        (e.length, s.slope.name, s.slope.pitch, _gabled(s, e.start, e.end))
        for s in (roof.slopes if roof else ())
        for e in s.slope.edges
        if e.kind == "ridge"
        for _ in range(s.slope.times)
    ]
    edges.sort(key=lambda e: (e[0], e[1]), reverse=True)
    out: Counter[tuple[float, float]] = Counter()
    k = 0
    while k + 1 < len(edges):
        (long, _, one, ends), (short, _, other, facing) = edges[k], edges[k + 1]
        if long - short > 1.0:
            k += 1
            continue
        if one is not None and other is not None:
            a, b = round(one, 1), round(other, 1)
            out[b, a] += ends[0] and facing[1]
            out[a, b] += ends[1] and facing[0]
        k += 2
    return Counter({pitches: n for pitches, n in out.items() if n})


def _gabled(layout: SlopeLayout, start: tuple[float, float], end: tuple[float, float]) -> tuple[bool, bool]:
    """Whether a rake touches the left end and the right end of an edge."""
    touched = [p for e in layout.slope.edges if e.kind == "rake" for p in (e.start, e.end)]
    left, right = (start, end) if start[0] < end[0] else (end, start)
    return (
        any(abs(complex(*p) - complex(*left)) < ROUNDED for p in touched),
        any(abs(complex(*p) - complex(*right)) < ROUNDED for p in touched),
    )
