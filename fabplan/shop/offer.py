"""Which pieces of a large rack are worth offering to a nest.

A rack of thousands would drown the nest in stock lines, and most of them hold nothing the job needs. Pieces alike are
one line with a count; each size is scored by the best it could do with one kind of blank cut in rows, and the best
`MOST_SIZES` are offered.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from fabplan.blanks.model import FlatPattern
from fabplan.errors import JobError
from fabplan.job.metals import MetalProfile
from fabplan.job.model import Job, RackStock
from fabplan.job.values import OnHand
from fabplan.shop.booking import SAME_THICKNESS
from fabplan.shop.rack import PREFIX, RackPiece, metal_key, pieces, rack_name
from fabplan.units import Nm

MOST_SIZES = 32


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
) -> tuple[RackStock, ...]:
    """Stock lines for the pieces of a rack that suit a job.

    Metal and thickness must match; the grain is kept. Lines are named by their pieces: ``rack 4`` or ``rack 4, 7-9``.

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
    named = {metal_key(name): (name, profile) for name, profile in metals.items()}
    alike: dict[tuple[str, int, int, str], list[RackPiece]] = {}
    for piece in pieces(path):
        name, profile = named.get(piece.metal, ("", None))
        if profile is None or abs(profile.thickness - piece.thickness) > SAME_THICKNESS:
            continue
        alike.setdefault((name, piece.width, piece.length, piece.grain), []).append(piece)
    scored = [(score(group[0], by_metal.get(key[0], [])), key[0], group) for key, group in alike.items()]
    # Fuller first; of equals the larger, then the older: the order never depends on the file's layout.
    scored = sorted(
        (item for item in scored if item[0] > 0),
        key=lambda item: (-item[0], -item[2][0].width * item[2][0].length, item[2][0].id),
    )
    return tuple(
        RackStock.model_construct(  # already exact: validating would read the numbers as typed lengths
            name=rack_name([p.id for p in group]),
            form="offcut",
            width=Nm(group[0].width),
            length=Nm(group[0].length),
            trim_each_edge=Nm(0),
            on_hand=OnHand(count=len(group)),
            longest_cut_off=None,
            price=None,
            metal=metal,
            grain=group[0].grain,
            pieces=tuple(p.piece for p in group),
        )
        for _, metal, group in scored[:MOST_SIZES]
    )
