"""Fasteners: so many a piece as the shop file says, and by spacing along edges."""

from __future__ import annotations

import math
from collections.abc import Sequence

from fabplan.job.slopes import Roof
from fabplan.roof.model import EdgeRun, Fastener
from fabplan.units import inches


def count_fasteners(pieces: int, runs: Sequence[EdgeRun], roof: Roof) -> tuple[Fastener, ...]:
    """Nails and cleats of the whole roof.

    Default spacings are those of the *Copper in Architecture Design Handbook* (Copper Development Association): edge
    strips nailed 3 in apart (9.7, 9.12), ridge and hip caps cleated 12 in apart along each lower edge (9.4), two
    fasteners a cleat (7.1A). The count for each shingle is the shop's own: section 12.6 says only that it depends on
    the size.
    """
    source = f" ({roof.fastener_source})" if roof.fastener_source else " (the shop's own count)"
    each = "{} a piece, whole and cut" + source.replace("{", "{{").replace("}", "}}")
    out = []
    if roof.nails_per_piece:
        out.append(
            Fastener(
                what="shingle nails",
                count=pieces * roof.nails_per_piece,
                says=each.format(roof.nails_per_piece),
            )
        )
    cleats = pieces * roof.cleats_per_piece
    if cleats:
        out.append(Fastener(what="shingle cleats", count=cleats, says=each.format(roof.cleats_per_piece)))
    apart = inches(roof.edge_nail_spacing)
    nails = sum(r.times * (math.ceil(r.length / apart - 1e-9) + 1) for r in runs if r.kind == "eave")
    if nails:
        out.append(Fastener(what="edge strip nails", count=nails, says=f"one every {apart:g} in along the eaves"))
    apart = inches(roof.cap_cleat_spacing)
    caps = sum(2 * r.times * (math.ceil(r.length / apart - 1e-9) + 1) for r in runs if r.kind in ("hip", "ridge"))
    if caps:
        out.append(
            Fastener(
                what="cap cleats",
                count=caps,
                says=f"one every {apart:g} in along both lower edges of hip and ridge caps",
            )
        )
    if cleats + caps and roof.nails_per_cleat:
        out.append(
            Fastener(
                what="cleat nails",
                count=(cleats + caps) * roof.nails_per_cleat,
                says=f"{roof.nails_per_cleat} a cleat",
            )
        )
    return tuple(out)
