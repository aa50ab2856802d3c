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
    out = []
    if roof.nails_per_piece:
        nails = pieces * roof.nails_per_piece
        out.append(Fastener(what="shingle nails", count=nails, each=roof.nails_per_piece))
    cleats = pieces * roof.cleats_per_piece
    if cleats:
        out.append(Fastener(what="shingle cleats", count=cleats, each=roof.cleats_per_piece))
    apart = inches(roof.edge_nail_spacing)
    nails = sum(r.times * (math.ceil(r.length / apart - 1e-9) + 1) for r in runs if r.kind == "eave")
    if nails:
        out.append(Fastener(what="edge strip nails", count=nails, apart=apart))
    apart = inches(roof.cap_cleat_spacing)
    caps = sum(2 * r.times * (math.ceil(r.length / apart - 1e-9) + 1) for r in runs if r.kind in ("hip", "ridge"))
    if caps:
        out.append(Fastener(what="cap cleats", count=caps, apart=apart))
    if cleats + caps and roof.nails_per_cleat:
        nails = (cleats + caps) * roof.nails_per_cleat
        out.append(Fastener(what="cleat nails", count=nails, each=roof.nails_per_cleat))
    return tuple(out)
