"""A plain blank."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from fabplan.job.kinds.base import PieceBase, Truth, size_said
from fabplan.job.values import (
    PieceLength,
)
from fabplan.units import Show


class RectanglePiece(PieceBase):
    """A plain blank: no folds."""

    PRINTED = "plain blank"

    kind: Literal["rectangle"]
    width: PieceLength = Field(description="Width of the blank.")
    length: PieceLength = Field(description="Length of the blank.")
    may_turn: Truth = Field(default=True, description="Whether it may be turned 90° on the stock.")

    def sizes_said(self, show: Show) -> list[str]:
        return [size_said(show, self.width, self.length), "may be turned" if self.may_turn else "not turned"]
