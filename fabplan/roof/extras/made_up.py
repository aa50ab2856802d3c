"""Pieces made up of others: apex caps as fans, opening sets as three sections each, sized by hand or by the slopes."""

from __future__ import annotations

import cmath
import math
from collections import Counter
from collections.abc import Sequence
from itertools import pairwise
from typing import Literal

from fabplan.errors import JobError
from fabplan.job.kinds.apex_cap import WIDEST_FAN, ApexCapPiece
from fabplan.job.kinds.opening_set import OpeningSetPiece
from fabplan.job.kinds.outline import Crease, EdgeFold, OutlinePiece
from fabplan.job.kinds.rake_cover import RakeCoverPiece
from fabplan.job.kinds.ridge_end import RidgeEndPiece
from fabplan.job.kinds.section import EndHem, SectionPiece
from fabplan.job.model import Job, Piece
from fabplan.roof.extras.rake_ridge import cover_section, ends_of
from fabplan.roof.model import Hole, RoofPlan, SlopeLayout
from fabplan.units import Nm, from_inches

MADE_UP = (ApexCapPiece, OpeningSetPiece, RakeCoverPiece, RidgeEndPiece)
SQUARE_WITHIN = 0.01  # inches the sides of a square opening may differ


def without_made_up(job: Job) -> Job:
    """The job without such pieces, to lay out its roof; a rake cover is its section already."""
    if not any(isinstance(p, MADE_UP) for p in job.pieces):
        return job
    left = (p for p in job.pieces if not isinstance(p, ApexCapPiece | OpeningSetPiece | RidgeEndPiece))
    pieces = tuple(cover_section(p) if isinstance(p, RakeCoverPiece) else p for p in left)
    return job.model_copy(update={"pieces": pieces})


def with_made_up(job: Job, asked: Sequence[Piece], roof: RoofPlan | None) -> Job:
    """The job with the pieces such `asked` pieces are made of, in their places.

    Raises
    ------
    JobError
        No spire or opening to size one by, or one beyond the program: it says what is made on site.
    """
    made: list[Piece] = []
    for piece in asked:
        if isinstance(piece, ApexCapPiece):
            made += _caps(piece, job, roof)
        elif isinstance(piece, OpeningSetPiece):
            made += _sets(piece, job, roof)
        elif isinstance(piece, RidgeEndPiece):
            made += ends_of(piece, job, roof)
        else:
            made += [p for p in job.pieces if getattr(p, "mark", "") == piece.mark]
    known = {p.mark for p in asked}
    made += [p for p in job.pieces if p.mark not in known]  # further lengths of edge metal
    seen = Counter(p.mark for p in made)
    twice = next((m for m, n in seen.items() if n > 1), None)
    if twice is not None:
        raise JobError(
            "a piece that is made up of others needs this mark too", file=job.file, key=f'piece "{twice}" > mark',
            value=f'"{twice}"', write="another mark",
        )  # fmt: skip
    return job.model_copy(update={"pieces": tuple(made)})


# apex caps --------------------------------------------------------------------------------------------------


def _caps(piece: ApexCapPiece, job: Job, roof: RoofPlan | None) -> list[Piece]:
    if piece.sides is not None and piece.side is not None and piece.slant is not None:
        return [fan_of(piece, piece.count or 1)]
    spires = [s for s in (roof.slopes if roof else ()) if s.cap_line is not None and _is_spire(s, job)]
    entries = dict.fromkeys(s.slope.entry for s in spires)
    if not entries:
        raise JobError(
            "no spire of the job comes to a point under a cap", file=job.file, key=f'piece "{piece.mark}"',
            write="sides, side and slant",
        )  # fmt: skip
    out: list[Piece] = []
    for n, entry in enumerate(entries, 1):
        mine = [s for s in spires if s.slope.entry == entry]
        if len(mine) > 1:
            raise JobError(
                f"the slopes of {entry} are not alike: a cap with unlike facets is made on site, to the point itself",
                file=job.file, key=f'piece "{piece.mark}"', write="sides, side and slant of a cap that is near enough",
            )  # fmt: skip
        slant, side = _of_spire(mine[0])
        sized = piece.model_copy(
            update={
                "mark": piece.mark if n == 1 else f"{piece.mark}-{n}",
                "sides": mine[0].slope.times,
                "side": from_inches(side),
                "slant": from_inches(slant),
            }
        )
        if mine[0].slope.times % piece.seams:
            raise JobError(
                f"must divide the {mine[0].slope.times} facets of {entry} evenly", file=job.file,
                key=f'piece "{piece.mark}" > seams', value=str(piece.seams), write="1 or 2",
            )  # fmt: skip
        if (sized.fan or 0.0) > WIDEST_FAN:
            raise JobError(
                f"the point of {entry} is too flat for a cap in one piece: its facets open to {sized.fan:.0f}°",
                file=job.file, key=f'piece "{piece.mark}"', write="seams = 2: it is made in halves",
            )  # fmt: skip
        out.append(fan_of(sized, 1))
    return out


def _is_spire(layout: SlopeLayout, job: Job) -> bool:
    return any(s.name == layout.slope.entry and s.shape.endswith("spire") for s in job.slopes)


def _of_spire(layout: SlopeLayout) -> tuple[float, float]:
    """Slant of the cap and the width of its facet at the lower edge, inches."""
    outline = layout.slope.outline
    top = max(outline, key=lambda p: p[1])
    slant = top[1] - (layout.cap_line or 0.0)
    bottom = [p for p in outline if p is not top]
    rise = top[1] - min(p[1] for p in bottom)
    wide = max(p[0] for p in bottom) - min(p[0] for p in bottom)
    return slant, wide * slant / rise


def hip_turn(sides: int, side: float, slant: float) -> float:
    """Degrees a cap of a regular spire turns along each hip."""
    run = side / 2 / math.tan(math.pi / sides)
    cos = min(1.0, run / slant)
    sine = 1 - cos * cos
    return math.degrees(math.acos(sine * math.cos(2 * math.pi / sides) + cos * cos))


def fan_of(piece: ApexCapPiece, count: int) -> OutlinePiece:
    """An apex cap laid flat: corner 1 the point, then the lower corners, then the flap of the seam."""
    assert piece.sides is not None and piece.side is not None and piece.slant is not None
    facets = piece.sides // piece.seams
    half = math.atan2(piece.side / 2, piece.slant)
    edge = math.hypot(piece.side / 2, piece.slant)
    start = -math.pi / 2 - facets * half  # the fan hangs below its point
    corners = [cmath.rect(edge, start + 2 * half * k) for k in range(facets + 1)]
    points = [0j, *corners]
    creases = [(1, k + 2) for k in range(1, facets)]
    if piece.lap:
        last = corners[-1] / edge
        out = last * 1j
        points += [corners[-1] + piece.lap * (out - last), piece.lap * (out + last)]
        creases.append((1, facets + 2))
    turned = piece.turned or round(hip_turn(piece.sides, float(piece.side), float(piece.slant)), 1)
    folds = () if piece.hem is None else tuple(
        EdgeFold.model_construct(
            edge=k + 2, width=piece.hem.width, toward=piece.hem.toward, turned=piece.hem.turned, gap=piece.hem.gap,
        )
        for k in range(facets)
    )  # fmt: skip
    low = complex(min(p.real for p in points), min(p.imag for p in points))
    return OutlinePiece.model_construct(
        kind="outline",
        mark=piece.mark,
        count=count * piece.seams,
        spare=piece.spare,
        metal=piece.metal,
        grain=piece.grain,
        finish=piece.finish,
        allowance=piece.allowance,
        note=piece.note or "apex cap",
        points=tuple((Nm(round((p - low).real)), Nm(round((p - low).imag))) for p in points),
        folds=folds,
        creases=tuple(Crease(**{"from": a, "to": b, "turned": turned, "toward": "back"}) for a, b in creases),
        finish_by_hand=(),
    )


# opening sets -----------------------------------------------------------------------------------------------


def _sets(piece: OpeningSetPiece, job: Job, roof: RoofPlan | None) -> list[Piece]:
    if piece.width is not None and piece.height is not None:
        return set_of(piece, piece.mark, int(piece.width), int(piece.height), piece.count or 1)
    sizes: Counter[tuple[int, int]] = Counter()
    for layout in roof.slopes if roof else ():
        for hole in layout.slope.holes:
            wide, high = _square(hole, layout, piece, job)
            sizes[from_inches(wide), from_inches(high)] += layout.slope.times
    if not sizes:
        raise JobError(
            "no slope of the job has an opening", file=job.file, key=f'piece "{piece.mark}"', write="width and height"
        )
    out: list[Piece] = []
    for n, ((wide, high), count) in enumerate(sorted(sizes.items()), 1):
        out += set_of(piece, piece.mark if n == 1 else f"{piece.mark}{n}", wide, high, count)
    return out


def _square(hole: Hole, layout: SlopeLayout, piece: OpeningSetPiece, job: Job) -> tuple[float, float]:
    ring = [complex(*p) for p in hole.outline]
    steps = [b - a for a, b in pairwise([*ring, *ring[:1]])]
    square = len(steps) == 4 and all(min(abs(s.real), abs(s.imag)) < SQUARE_WITHIN for s in steps)
    if not square or any(e.kind == "open" for e in hole.edges):
        raise JobError(
            f"{hole.name or 'an opening'} of {layout.slope.name} is not square to the eave or bites its edge: its "
            "flashing is made on site",
            file=job.file, key=f'piece "{piece.mark}"', write="width and height of the openings that are square",
        )  # fmt: skip
    return max(abs(s.real) for s in steps), max(abs(s.imag) for s in steps)


def set_of(piece: OpeningSetPiece, mark: str, wide: int, high: int, count: int) -> list[Piece]:
    """Apron, side pieces and back pan of an opening: sections bent square to the slope at the curb."""

    def section(
        name: str, length: int, flange: int, many: int, toward: Literal["face", "back"], note: str
    ) -> SectionPiece:
        hem = None if not piece.hem else EndHem.model_construct(
            width=piece.hem, toward=toward, turned=180.0, gap=None
        )  # fmt: skip
        return SectionPiece.model_construct(
            kind="section",
            mark=f"{mark}-{name}",
            count=many,
            spare=piece.spare,
            metal=piece.metal,
            grain=piece.grain,
            finish=piece.finish,
            allowance=piece.allowance,
            note=f"{piece.note} {note}".strip(),
            length=Nm(length),
            legs=(Nm(flange), piece.upstand),
            bends=(90.0,),
            roof_bend=0,
            inside_radius=Nm(0),
            start_hem=hem,
            end_hem=None,
            lap=None,
            finish_by_hand=(),
        )

    ear = "At both ends snip the upstand off along the bend as far as it passes the opening; the flange runs on"
    side = (
        "The lower end laps over the apron, the upper runs under the back pan; turned end for end it is the other side"
    )
    across = wide + 2 * piece.flange
    return [
        section("apron", across, piece.flange, count, "back", f"{ear} below the side pieces, which lap over it"),
        section("side", high + 2 * piece.lap, piece.flange, 2 * count, "face", side),
        section("back", across, piece.above, count, "face", f"{ear} over the side pieces"),
    ]
