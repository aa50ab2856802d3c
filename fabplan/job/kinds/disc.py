"""A round flat patch."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from fabplan.job.kinds.base import PieceBase
from fabplan.job.values import PieceLength
from fabplan.units import Show


class DiscPiece(PieceBase):
    """A round flat patch: sheared as a square, marked out with dividers, snipped to the circle."""

    PRINTED = "disc"

    kind: Literal["disc"]
    diameter: PieceLength = Field(description="Diameter of the finished disc.")

    def sizes_said(self, show: Show) -> list[str]:
        return [f"diameter {show.exact(self.diameter)}"]
