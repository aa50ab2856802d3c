"""Can the starters hook the drip edge where it lies? Seen in section, in the plane of the slope.

The longer of the two outer legs of the section lies on the slope. The hem of a starter comes down the slope and returns
up it, so the edge it goes round must point down the slope, and lie near its plane.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence
from itertools import accumulate

from fabplan.job.model import CutPiece, Job, SectionPiece
from fabplan.roof.model import SlopeLayout
from fabplan.roof.remarks import NotHooked, NotPlumb
from fabplan.units import inches

MOST_TURNED = 30.0  # degrees an edge may point off the slope and still be hooked (common practice, no source)
MOST_BELOW = 0.25  # inches it may lie off the slope's plane
MOST_OUT_OF_PLUMB = 5.0  # degrees


def hook_notes(layouts: Sequence[SlopeLayout], job: Job) -> list[NotHooked | NotPlumb]:
    """What of the drip edge does not suit the starters or the pitch of the slopes it lies on."""
    piece = next((p for p in job.pieces if p.mark == job.roof.eave_piece), None)
    if not isinstance(piece, SectionPiece) or not any(e.kind == "eave" for s in layouts for e in s.slope.edges):
        return []
    out: list[NotHooked | NotPlumb] = []
    edges = hooked_edges(piece)
    best = min(edges, key=lambda e: (max(0.0, abs(e[0]) - MOST_TURNED), max(0.0, abs(e[1]) - MOST_BELOW), abs(e[0])))
    if abs(best[0]) > MOST_TURNED or abs(best[1]) > MOST_BELOW:
        out += [
            NotHooked(starter=p.mark, section=piece.mark, turned=abs(best[0]), off=abs(best[1]))
            for p in job.pieces
            if isinstance(p, CutPiece) and p.kind == "starter" and p.hooks == piece.mark
        ]
    beside = [abs(b) for b in (piece.bends[-1:] if piece.legs[-1] >= piece.legs[0] else piece.bends[:1])]
    if beside and beside[0] < 180:
        for layout in layouts:
            pitch = layout.slope.pitch
            if pitch is None or not any(e.kind == "eave" for e in layout.slope.edges):
                continue
            if abs(90 - pitch - beside[0]) > MOST_OUT_OF_PLUMB:
                name = layout.slope.name
                out.append(NotPlumb(section=piece.mark, slope=name, pitch=pitch, bend=90 - pitch, found=beside[0]))
    return out


def hooked_edges(piece: SectionPiece) -> list[tuple[float, float]]:
    """(degrees it points below the slope, inches it lies under the slope's plane) of each edge that could be hooked.

    Edges are the free end on the far side from the leg on the slope, and folds of 180 degrees between legs.
    """
    legs, bends = [inches(leg) for leg in piece.legs], list(piece.bends)
    walks = [(legs, bends)] if legs[-1] >= legs[0] else []
    walks += [(legs[::-1], [-b for b in bends[::-1]])] if legs[0] >= legs[-1] else []
    out = []
    for lengths, turns in walks:
        # walking from the edge toward the slope: directions of the legs against that of the last one, up the slope
        way = [0.0, *accumulate(turns)]
        way = [w - way[-1] for w in way]
        side = 1.0 if lengths is legs else -1.0  # the face is on the left of the walk from the first leg
        steps = [cmath.rect(n, math.radians(w)) for n, w in zip(lengths, way, strict=True)]
        ends = [0j, *accumulate(steps)]
        start = ends[-1] - steps[-1]  # where the roof leg begins: the eave
        at = [0, *(k + 1 for k, turn in enumerate(turns) if abs(turn) == 180)]
        for k in at:
            if k == 0:
                out.append((_within(side * way[0]), -side * (ends[0] - start).imag))
            elif k < len(steps):  # the fold points as the leg behind it comes
                out.append((_within(side * way[k]), -side * (ends[k] - start).imag))
    return out


def _within(degrees: float) -> float:
    """The same direction from -180 to 180."""
    return (degrees + 180.0) % 360.0 - 180.0
