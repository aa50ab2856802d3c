"""The plate that closes the end of a ridge cap over a gable."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field

from fabplan.errors import JobError
from fabplan.job.kinds.base import PieceBase, Where
from fabplan.job.values import Allowance, PieceLength, angle_within
from fabplan.units import NM_PER_INCH, Nm, Show


class RidgeEndPiece(PieceBase):
    """Closing plate under the open end of a ridge cap: the cap's triangle, flanges turned in under its legs."""

    PRINTED = "ridge end"
    REFERENCE = (
        "It is made as an `outline`: corner 1 is the ridge, the edges beside it are turned in 90 degrees under the "
        "cap, the lower edge hangs `drop` below the cap's edges and is hemmed to the back. Sizes left out come from "
        "the roof, where `ridge_end_piece` under `[roof]` names it: legs from `ridge_piece`, pitches from the slopes, "
        "one for every end of a ridge between two rakes. Where a ridge meets hips, its end is made on site."
    )
    DEFAULTS = {"flange": "3/4 in", "drop": "1 in", "hem": "1/2 in"}  # noqa: RUF012

    kind: Literal["ridge-end"]
    leg: PieceLength | None = Field(default=None, description="Leg of the ridge cap; from `ridge_piece`.")
    pitches: tuple[Annotated[float, angle_within(1, 85)], Annotated[float, angle_within(1, 85)]] | None = Field(
        default=None, description="Degrees of the two slopes, left and right seen from outside; from the slopes."
    )
    flange: PieceLength = Field(default=Nm(NM_PER_INCH * 3 // 4), description="Turned in under the cap's legs.")
    drop: Allowance = Field(default=Nm(NM_PER_INCH), description="How far it hangs below the edges of the cap.")
    hem: Allowance = Field(default=Nm(NM_PER_INCH // 2), description="Hem on the lower edge; 0 for none.")

    def faults(self, at: Where) -> Iterator[JobError]:
        if (self.leg is None) != (self.pitches is None):
            one, other = ("leg", "pitches") if self.pitches is None else ("pitches", "leg")
            yield at.entry.fault(
                (one,), f"needs {other} too", value=at.entry.found((one,)),
                write="both, or none to take them from the roof",
            )  # fmt: skip
        if self.leg is not None and self.flange * 2 > self.leg:
            yield at.entry.fault(
                ("flange",), f"must be no more than half of leg, {at.typed(self.leg)}", value=at.typed(self.flange),
                write="a narrower flange",
            )  # fmt: skip
        if self.leg is not None and self.pitches is not None:
            high = self.leg * min(math.sin(math.radians(p)) for p in self.pitches) + self.drop
            if self.hem >= high:
                yield at.entry.fault(
                    ("hem",), f"must be less than the plate is high, {at.typed(Nm(round(high)))}",
                    value=at.typed(self.hem), write="a narrower hem, or a deeper drop",
                )  # fmt: skip

    def sizes_said(self, show: Show) -> list[str]:
        if self.leg is None or self.pitches is None:
            said = ["sizes from the roof"]
        else:
            said = [f"under legs of {show.exact(self.leg)}", f"slopes of {self.pitches[0]:g}° and {self.pitches[1]:g}°"]
        return [*said, f"flanges {show.exact(self.flange)}", f"drop {show.exact(self.drop)}"]
