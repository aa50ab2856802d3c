"""The metal over a rake: it lies on the slope's edge, turns down over the board and kicks out to drip."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field

from fabplan.errors import JobError
from fabplan.job.kinds.base import PieceBase, Where
from fabplan.job.values import Allowance, PieceLength, StockLength, angle_within
from fabplan.units import NM_PER_INCH, Nm, Show

LONGEST = Nm(120 * NM_PER_INCH)
KICKED = 45.0  # degrees the drip stands out


class RakeCoverPiece(PieceBase):
    """Cover of a rake: a leg on the slope over the shingles' edge, a leg down the board, a drip kicked out below."""

    PRINTED = "rake cover"
    REFERENCE = (
        "It is made as a `section`, hemmed along the slope. Where `rake_piece` under `[roof]` names it, the measured "
        "rakes give its lengths and how many; turned end for end one piece serves left and right. Its end at the eave "
        "is closed on site."
    )
    DEFAULTS = {"length": "120 in, or 3000 mm", "hem": "1/2 in", "kick": "1/2 in"}  # noqa: RUF012

    kind: Literal["rake-cover"]
    on_roof: PieceLength = Field(description="Leg on the slope, rake line to hemmed edge.")
    down: PieceLength = Field(description="Leg down the board.")
    length: StockLength = Field(default=LONGEST, description="Longest that is made; typed counts are of this length.")
    turned: Annotated[float, angle_within(30, 150)] = Field(
        default=90.0, description="Degrees turned over the rake; 90 over a plumb board."
    )
    kick: Allowance = Field(default=Nm(NM_PER_INCH // 2), description="Drip kicked out 45° below; 0 for none.")
    hem: Allowance = Field(default=Nm(NM_PER_INCH // 2), description="Hem to the back on the slope's edge; 0 for none.")
    lap: Allowance | None = Field(default=None, description="Lap of one length over the next, when not the roof's.")

    def faults(self, at: Where) -> Iterator[JobError]:
        if self.hem > self.on_roof:
            yield at.entry.fault(
                ("hem",), f"must be no wider than on_roof, {at.typed(self.on_roof)}", value=at.typed(self.hem),
                write="a narrower hem",
            )  # fmt: skip
        if self.kick >= self.down:
            yield at.entry.fault(
                ("kick",), f"must be less than down, {at.typed(self.down)}", value=at.typed(self.kick),
                write="a narrower kick",
            )  # fmt: skip

    def sizes_said(self, show: Show) -> list[str]:
        said = [f"{show.exact(self.on_roof)} on the slope", f"{show.exact(self.down)} down"]
        if self.kick:
            said.append(f"kick {show.exact(self.kick)}")
        return [*said, f"lengths up to {show.exact(self.length)}"]
