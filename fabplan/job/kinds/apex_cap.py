"""A cap over the point of a spire: a fan of equal facets."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field

from fabplan.errors import JobError
from fabplan.job.kinds.base import HemSpec, PieceBase, Where
from fabplan.job.values import Allowance, PieceLength, whole_within
from fabplan.units import NM_PER_INCH, Nm, Show

WIDEST_FAN = 330.0  # degrees: a flatter cap leaves no room for its own seam


class ApexCapPiece(PieceBase):
    """A cap over the point of a regular spire, in one piece: equal facets, hemmed lower edges, a lap on the seam."""

    PRINTED = "apex cap"
    REFERENCE = (
        "It is made as an `outline`: a fan with its point at corner 1, bent by hand from the point to every lower "
        "corner as the hips turn. Sizes left out come from the spire, where `apex_piece` under `[roof]` names it."
    )
    DEFAULTS = {  # noqa: RUF012
        "hem": "none",
        "lap": "1 in",
    }

    kind: Literal["apex-cap"]
    sides: Annotated[int, whole_within(3, 24)] | None = Field(default=None, description="Facets; from the spire.")
    side: PieceLength | None = Field(
        default=None, description="Width of a facet along the cap's lower edge; from the spire."
    )
    slant: PieceLength | None = Field(
        default=None, description="Up the middle of a facet to the point; from the spire."
    )
    turned: float | None = Field(
        default=None, gt=0, lt=180, description="Degrees turned along each hip; worked out where left out."
    )
    hem: HemSpec | None = Field(default=None, description="Hem along the lower edges.")
    lap: Allowance = Field(default=Nm(NM_PER_INCH), description="Flap on one edge of every seam.")
    seams: Annotated[int, whole_within(1, 24)] = Field(
        default=1,
        description="Made of so many equal fans, with as many seams, where one is too big for sheet or shear.",
    )

    @property
    def fan(self) -> float | None:
        """Degrees of one flat fan."""
        if self.sides is None or self.side is None or self.slant is None:
            return None
        return self.sides / self.seams * 2 * math.degrees(math.atan2(self.side / 2, self.slant))

    def faults(self, at: Where) -> Iterator[JobError]:
        given = [key for key in ("sides", "side", "slant") if getattr(self, key) is not None]
        if given and len(given) < 3:
            missing = " and ".join(key for key in ("sides", "side", "slant") if key not in given)
            yield at.entry.fault(
                (given[0],), f"needs {missing} too", value=at.entry.found((given[0],)),
                write="all three, or none to take them from the spire",
            )  # fmt: skip
        if self.sides is not None and self.sides % self.seams:
            yield at.entry.fault(
                ("seams",), f"must divide the facets, {self.sides}, evenly", value=str(self.seams),
                write=" or ".join(str(n) for n in range(1, self.sides + 1) if self.sides % n == 0),
            )  # fmt: skip
        fan = self.fan
        if fan is not None and fan > WIDEST_FAN:
            yield at.entry.fault(
                ("slant",), f"the facets open flat to {fan:.0f}°: more than {WIDEST_FAN:.0f}° "
                "leaves no room for the seam", value=at.entry.found(("slant",)), write="a longer slant",
            )  # fmt: skip
        for key in ("side", "slant"):
            size = getattr(self, key)
            if size is not None and self.lap * 2 >= size:
                yield at.entry.fault(
                    ("lap",), f"must be less than half of {key}, {at.typed(size)}", value=at.typed(self.lap),
                    write="a narrower lap",
                )  # fmt: skip
                return

    def sizes_said(self, show: Show) -> list[str]:
        if self.side is None or self.slant is None:
            said = ["sizes from the spire"]
        else:
            said = [f"{self.sides} facets {show.exact(self.side)} wide", f"slant {show.exact(self.slant)}"]
        if self.hem is not None:
            said.append(f"hem {self.hem.said(show)}")
        return [*said, f"lap {show.exact(self.lap)}"]
