"""The interlocking diamond shingle."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field

from fabplan.errors import JobError
from fabplan.job.kinds.base import PieceBase, Where, gap_said
from fabplan.job.values import (
    Allowance,
    PieceLength,
    angle_within,
)
from fabplan.units import Nm, Show


class DiamondPiece(PieceBase):
    """Interlocking diamond shingle: two upper edges folded over the face, two lower to the back."""

    PRINTED = "diamond shingle"
    REFERENCE = (
        "Give `side` or `blank`, and `hem` or both `upper_hem` and `lower_hem`. A gap below the metal's thickness is a "
        "fault: such a hem cannot hook."
    )
    DEFAULTS = {  # noqa: RUF012
        "side": "`side` or `blank`",
        "blank": "`side` or `blank`",
        "hem": "`hem` or both",
        "upper_hem": "`hem`",
        "lower_hem": "`hem`",
        "hem_gap": "1/16 in, or 1.5 mm",
        "upper_gap": "`hem_gap`",
        "lower_gap": "`hem_gap`",
        "slack": "1/32 in",
        "joint": "1/16 in",
        "snip_past": "0 in",
    }

    kind: Literal["diamond"]
    side: PieceLength | None = Field(default=None, description="Finished side, outside of fold to outside of fold.")
    blank: PieceLength | None = Field(default=None, description="Or the flat side of the blank; one of the two.")
    top_angle: Annotated[float, angle_within(60, 120)] = Field(default=90.0, description="Angle at the top corner.")
    hem: PieceLength | None = Field(default=None, description="Finished width of all four hems.")
    upper_hem: PieceLength | None = Field(default=None, description="Width of the two upper hems, when not `hem`.")
    lower_hem: PieceLength | None = Field(default=None, description="Width of the two lower hems, when not `hem`.")
    hem_gap: Allowance | None = Field(default=None, description="Opening inside all four hems; they must hook.")
    upper_gap: Allowance | None = Field(default=None, description="Opening of the upper hems, when not `hem_gap`.")
    lower_gap: Allowance | None = Field(default=None, description="Opening of the lower hems, when not `hem_gap`.")
    snip_past: Allowance = Field(default=Nm(0), description="Snip past the fold crossing, where no open joint results.")
    slack: Allowance | None = Field(default=None, description="Slack of a lock beyond the metal's thickness.")
    joint: Allowance | None = Field(default=None, description="Clearance between clipped side tips.")

    def faults(self, at: Where) -> Iterator[JobError]:
        if self.side is not None and self.blank is not None:
            yield at.entry.fault(
                ("blank",), "side and blank say the same thing",
                value=f"side {at.typed(self.side)}, blank {at.typed(self.blank)}", write="one of the two",
            )  # fmt: skip
        side = self.side or self.blank
        if side is None:
            yield at.entry.fault((), '"side" is missing', write='side = "12 in" (finished), or blank = "14-1/32 in"')
        both = self.upper_hem is not None and self.lower_hem is not None
        if self.hem is None and not both:
            missing = "hem" if self.upper_hem is self.lower_hem is None else (
                "lower_hem" if self.lower_hem is None else "upper_hem"
            )  # fmt: skip
            yield at.entry.fault((), f'"{missing}" is missing', write=f'{missing} = "1 in"')
        for which in ("upper", "lower"):
            key = f"{which}_hem" if getattr(self, f"{which}_hem") is not None else "hem"
            width: Nm | None = getattr(self, key)
            if side is not None and width is not None and 2 * width >= side:
                yield at.entry.fault(
                    (key,), f"a hem must be narrower than half the side, {at.typed(side)}",
                    value=at.entry.found((key,)), write="a narrower hem or a longer side",
                )  # fmt: skip
            gap_key = f"{which}_gap" if getattr(self, f"{which}_gap") is not None else "hem_gap"
            yield from at.hook_gap((gap_key,), getattr(self, gap_key))

    def sizes_said(self, show: Show) -> list[str]:
        side = (
            f"side {show.exact(self.side)} finished" if self.side else f"blank side {show.exact(self.blank or Nm(0))}"
        )
        upper, lower = self.upper_hem or self.hem, self.lower_hem or self.hem
        hems = f"hems {show.exact(upper or Nm(0))}"
        if upper != lower:
            hems = f"upper hems {show.exact(upper or Nm(0))}, lower hems {show.exact(lower or Nm(0))}"
        return [side, f"top angle {show.degrees(self.top_angle)}", hems, gap_said(self.hem_gap, show)]
