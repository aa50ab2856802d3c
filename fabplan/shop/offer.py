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
from fabplan.job.model import Job, RackStock, Stock
from fabplan.job.values import OnHand
from fabplan.shop.booking import SAME_THICKNESS
from fabplan.shop.lots import known_lines, lots, reserved_pieces
from fabplan.shop.rack import PREFIX, RackPiece, metal_key, pieces, rack_name
from fabplan.units import Nm

MOST_SIZES = 32
MOST_COILS = 12  # coils alike, the fullest


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
    held = reserved_pieces(path)
    alike: dict[tuple[str, int, int, str], list[RackPiece]] = {}
    for piece in pieces(path):
        if piece.piece in held:
            continue
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
    return (
        *_in_stock(path, job, metals),
        *(
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
        ),
    )


def _in_stock(path: Path, job: Job, metals: Mapping[str, MetalProfile]) -> list[RackStock]:
    """The job's coils and sheets of which the rack's file has some free: it says how much is on hand.

    Several coils alike are offered together, those with least on them first: which panel comes off which is settled
    when the plan is made (`fabplan.plan.coils`).
    """
    try:
        found, known = [x for x in lots(path) if x.free], known_lines(path)
    except JobError:  # damaged: told where it is read; amounts on it cannot be relied on
        return []
    out = []
    for line in job.stock:
        name = line.metal or job.metal.use
        length = 0 if line.form == "coil" else int(line.length or 0)
        kind = (line.form, metal_key(name), int(line.width), length, line.grain)
        if kind not in known:
            continue
        same = [
            x
            for x in found
            if (x.form, x.metal, x.width, x.length, x.grain) == kind
            and abs(metals[name].thickness - x.thickness) <= SAME_THICKNESS
        ]
        if line.form == "coil":
            same = sorted(sorted(same, key=lambda x: (-x.free, x.id))[:MOST_COILS], key=lambda x: (x.free, x.id))
            hand = OnHand(length=Nm(sum(x.free for x in same)))
        else:
            hand = OnHand(count=sum(x.free for x in same))
        own = {key: getattr(line, key) for key in Stock.model_fields}
        own |= {"on_hand": hand, "buy": line.buy or line.on_hand is None}
        coils = tuple((x.id, x.free) for x in same) if line.form == "coil" and len(same) > 1 else ()
        out.append(RackStock.model_construct(**own, pieces=tuple(x.piece for x in same), coils=coils))
        found = [x for x in found if x not in same]
    return out
