"""Which pieces of a large rack are worth offering to a nest.

A rack of thousands would drown the nest in stock lines, and most of them hold nothing the job needs. Each piece is
scored by the best it could do with one kind of blank cut in rows; the best `MOST_OFFERED` are offered.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from fabplan.blanks.model import FlatPattern
from fabplan.errors import JobError
from fabplan.job.metals import MetalProfile
from fabplan.job.model import Job, Stock
from fabplan.job.values import OnHand
from fabplan.shop.rack import PREFIX, RackPiece, pieces
from fabplan.units import Nm

MOST_OFFERED = 120
SAME_THICKNESS = 5e-5  # inches: profiles print four decimals


def score(piece: RackPiece, patterns: Sequence[FlatPattern]) -> float:
    """Best share of the piece that rows of one blank would use; 0 when nothing fits."""
    best = 0.0
    for p in patterns:
        w, h = p.width_units * p.grid, p.length_units * p.grid
        for a, b, way in ((w, h, "along"), (h, w, "across")):
            if p.grain not in ("any", way if piece.grain == "along" else _other(way)):
                continue
            fits = min((piece.width // a) * (piece.length // b), p.count)
            best = max(best, fits * w * h / (piece.width * piece.length))
    return best


def _other(way: str) -> str:
    return "across" if way == "along" else "along"


def offer(
    path: Path, job: Job, patterns: Sequence[FlatPattern], metals: Mapping[str, MetalProfile]
) -> tuple[Stock, ...]:
    """Stock lines for the pieces of a rack that suit a job.

    Metal and thickness must match; the grain is kept. Lines are named ``rack <id>``.

    Raises
    ------
    JobError
        The rack cannot be read, or one of the job's own stock lines has a rack name.
    """
    for line in job.stock:
        if line.name.startswith(PREFIX):
            raise JobError(
                "stock names that begin with 'rack ' are kept for the offcut rack",
                file=job.file,
                key=f'stock "{line.name}" > name',
                write="another name",
            )
    by_metal: dict[str, list[FlatPattern]] = {}
    for p in patterns:
        by_metal.setdefault(p.metal, []).append(p)
    scored: list[tuple[float, RackPiece]] = []
    for piece in pieces(path):
        profile = metals.get(piece.metal)
        if profile is None or abs(profile.thickness - piece.thickness) > SAME_THICKNESS:
            continue
        value = score(piece, by_metal.get(piece.metal, []))
        if value > 0:
            scored.append((value, piece))
    # Fuller first; of equals the larger, then the older: the order never depends on the file's layout.
    scored.sort(key=lambda item: (-item[0], -item[1].width * item[1].length, item[1].id))
    return tuple(
        Stock.model_construct(  # already exact: validating would read the numbers as typed lengths
            name=f"{PREFIX}{piece.id}",
            form="offcut",
            width=Nm(piece.width),
            length=Nm(piece.length),
            trim_each_edge=Nm(0),
            on_hand=OnHand(count=1),
            longest_cut_off=None,
            price=None,
            metal=piece.metal,
            grain=piece.grain,
        )
        for _, piece in scored[:MOST_OFFERED]
    )
