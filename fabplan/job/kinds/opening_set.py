"""The flashing round an opening: apron, side pieces, back pan."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from pydantic import Field

from fabplan.errors import JobError
from fabplan.job.kinds.base import PieceBase, Where, size_said
from fabplan.job.values import Allowance, PieceLength
from fabplan.units import NM_PER_INCH, Nm, Show


class OpeningSetPiece(PieceBase):
    """Flashing round a square opening (chimney, skylight): an apron below, two side pieces, a back pan above."""

    PRINTED = "opening set"
    REFERENCE = (
        "It is made as three sections, marked with `-apron`, `-side` and `-back` after the set's mark; the corners are "
        "closed on site. Without `width` and `height` there is a set for every opening of the slopes, by its own size, "
        "where `opening_piece` under `[roof]` names it."
    )
    DEFAULTS = {"back": "`flange` and half of it", "hem": "1/2 in", "lap": "3 in"}  # noqa: RUF012

    kind: Literal["opening-set"]
    width: PieceLength | None = Field(default=None, description="Of the opening, along the eave; from the slopes.")
    height: PieceLength | None = Field(default=None, description="Of the opening, up the slope; from the slopes.")
    upstand: PieceLength = Field(description="Metal standing up at the curb or wall, square to the slope.")
    flange: PieceLength = Field(description="Metal on the slope beside and below the opening.")
    back: PieceLength | None = Field(default=None, description="Metal on the slope above it.")
    hem: Allowance = Field(
        default=Nm(NM_PER_INCH // 2),
        description="Hem on the outer edges: the apron's to the back, the others' to the face; 0 for none.",
    )
    lap: Allowance = Field(
        default=Nm(3 * NM_PER_INCH), description="How far the side pieces run past the opening, at each end."
    )

    @property
    def above(self) -> Nm:
        """Metal on the slope above the opening."""
        return Nm(self.flange * 3 // 2) if self.back is None else self.back

    def faults(self, at: Where) -> Iterator[JobError]:
        if (self.width is None) != (self.height is None):
            one, other = ("width", "height") if self.height is None else ("height", "width")
            yield at.entry.fault(
                (one,), f"needs {other} too", value=at.entry.found((one,)),
                write="both, or none to take them from the slopes",
            )  # fmt: skip
        for key, size in (("flange", self.flange), ("back", self.above)):
            if self.hem > size:
                yield at.entry.fault(
                    ("hem",), f"must be no wider than {key}, {at.typed(size)}", value=at.typed(self.hem),
                    write="a narrower hem",
                )  # fmt: skip
                return

    def sizes_said(self, show: Show) -> list[str]:
        if self.width is None or self.height is None:
            said = ["for every opening of the slopes"]
        else:
            said = [f"opening {size_said(show, self.width, self.height)}"]
        return [*said, f"upstand {show.exact(self.upstand)}", f"on the slope {show.exact(self.flange)}, above "
                f"{show.exact(self.above)}"]  # fmt: skip
