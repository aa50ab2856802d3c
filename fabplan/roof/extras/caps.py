"""Are the caps bent as the hips and ridges of the roof ask?"""

from __future__ import annotations

import math

from fabplan.errors import JobError
from fabplan.job.model import Job, SectionPiece
from fabplan.roof.extras.roof_bends import MOST_OFF, wanted_turns
from fabplan.roof.model import RoofPlan


def refuse_wrong_caps(plan: RoofPlan, job: Job) -> None:
    """Compare the bends of the hip and ridge caps with the measured slopes.

    A cap over a hip is bent toward the back by as much as the two slopes turn there.

    Raises
    ------
    JobError
        A cap bent the wrong way, or more than 5 degrees off a hip or ridge.
    """
    measured = [layout.slope for layout in plan.slopes]
    for mark in dict.fromkeys((job.roof.hip_piece, job.roof.ridge_piece)):
        piece = next((p for p in job.pieces if p.mark == mark), None)
        if not isinstance(piece, SectionPiece) or not piece.bends or mark == job.roof.eave_piece:
            continue
        turns = wanted_turns(piece.mark, job, measured, plan.hips)
        if turns:
            turned = -math.fsum(piece.bends)
            _refuse(piece, turned, *max(turns, key=lambda t: abs(t[1] - turned)), job)


def _refuse(piece: SectionPiece, turned: float, where: str, bend: float, job: Job) -> None:
    if abs(bend - turned) <= MOST_OFF:
        return
    inside_out = abs(bend + turned) <= MOST_OFF
    raise JobError(
        ("is bent inside out" if inside_out else f"is turned {turned:.1f}° toward the back")
        + f": {where} asks for {bend:.1f}° toward the back",
        file=job.file,
        key=f'piece "{piece.mark}" > bends',
        value=str([round(b, 2) for b in piece.bends]),
        write=f"bends that add up to {-bend:.1f}"
        + ("" if piece.roof_bend else ', or "roof" for the one the roof gives'),
    )
