"""The rectangular flat-lock pan."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field

from fabplan.errors import JobError
from fabplan.job.kinds.base import PieceBase, Where, gap_said, size_said
from fabplan.job.values import (
    Allowance,
    PieceLength,
    whole_within,
)
from fabplan.units import Show


class FlatSeamPiece(PieceBase):
    """Rectangular flat-lock pan: top and left folded to the face, bottom and right to the back."""

    PRINTED = "flat-seam pan"
    DEFAULTS = {  # noqa: RUF012
        "hem_gap": "1/16 in, or 1.5 mm",
        "face_edges": "top and left",
    }

    kind: Literal["flat-seam"]
    width: PieceLength = Field(description="Finished width, outside to outside.")
    length: PieceLength = Field(description="Finished length, outside to outside.")
    hem: PieceLength = Field(description="Finished width of all four hems.")
    hem_gap: Allowance | None = Field(default=None, description="Opening inside the hems; they must hook.")
    face_edges: tuple[Annotated[int, whole_within(1, 4)], ...] | None = Field(
        default=None, max_length=4, description="Edges folded to the face, when not top and left."
    )

    def faults(self, at: Where) -> Iterator[JobError]:
        short = min(self.width, self.length)
        if 2 * self.hem >= short:
            yield at.entry.fault(
                ("hem",), f"a hem must be narrower than half the pan, {at.typed(short)}",
                value=at.entry.found(("hem",)),
                write="a narrower hem or a larger pan",
            )  # fmt: skip
        if self.face_edges is not None and len(set(self.face_edges)) != len(self.face_edges):
            yield at.entry.fault(("face_edges",), "names an edge twice", value=str(list(self.face_edges)),
                              write="each edge once")  # fmt: skip
        yield from at.hook_gap(("hem_gap",), self.hem_gap)

    def sizes_said(self, show: Show) -> list[str]:
        size = f"{size_said(show, self.width, self.length)} finished"
        return [size, f"hems {show.exact(self.hem)}", gap_said(self.hem_gap, show)]
