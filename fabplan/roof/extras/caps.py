"""Are the caps bent as the hips of the roof ask?"""

from __future__ import annotations

import math

from fabplan.errors import JobError
from fabplan.job.model import Job, SectionPiece
from fabplan.roof.model import RoofPlan

MOST_OFF = 5.0  # degrees a cap may be off its hip


def refuse_wrong_caps(plan: RoofPlan, job: Job) -> None:
    """Compare the bends typed for the hip cap with the measured hips.

    A cap over a hip is bent toward the back by as much as the two slopes turn there.

    Raises
    ------
    JobError
        A cap bent the wrong way, or more than 5 degrees off a hip.
    """
    piece = next((p for p in job.pieces if p.mark == job.roof.hip_piece), None)
    if not isinstance(piece, SectionPiece) or not piece.bends or not plan.hips or job.roof.hips != "capped":
        return
    turned = -math.fsum(piece.bends)
    worst = max(plan.hips, key=lambda h: abs(h.bend - turned))
    off = abs(worst.bend - turned)
    if off <= MOST_OFF:
        return
    inside_out = abs(worst.bend + turned) <= MOST_OFF
    raise JobError(
        ("is bent inside out" if inside_out else f"is turned {turned:.1f}° toward the back")
        + f": {worst.name} asks for {worst.bend:.1f}° toward the back",
        file=job.file,
        key=f'piece "{piece.mark}" > bends',
        value=str([round(b, 2) for b in piece.bends]),
        write=f"bends that add up to {-worst.bend:.1f}",
    )
