"""A bent strip."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field

from fabplan.errors import JobError
from fabplan.job.kinds.base import HemSpec, PieceBase, Where, hand_faults
from fabplan.job.values import (
    Allowance,
    HandBends,
    Lengths,
    PieceLength,
    StockLength,
    angle_within,
)
from fabplan.job.wording import listed
from fabplan.units import Nm, Show


class SectionPiece(PieceBase):
    """A bent strip: outside legs and signed bends (+ toward the face), with optional end hems."""

    PRINTED = "section"
    REFERENCE = "There is one bend between each two legs. The face is on the left walking from the first leg."
    DEFAULTS = {  # noqa: RUF012
        "lap": "3 in",
        "inside_radius": "0 in",
    }

    kind: Literal["section"]
    length: StockLength = Field(description="Length along the bends.")
    legs: tuple[PieceLength, ...] = Field(
        min_length=1, max_length=30, description="Outside sizes of the legs in order, hems not counted."
    )
    bends: tuple[Annotated[float, angle_within(-180, 180)], ...] = Field(
        default=(), max_length=29, description="Degrees turned between the legs, + toward the face."
    )
    inside_radius: Lengths = Field(default=Nm(0), description="Inside radius of the bends: one, or a list.")
    start_hem: HemSpec | None = Field(default=None, description="Hem on the free edge of the first leg.")
    end_hem: HemSpec | None = Field(default=None, description="Hem on the free edge of the last leg.")
    lap: Allowance | None = Field(default=None, description="Lap where a strip longer than the brake is split.")
    finish_by_hand: HandBends = Field(
        default=(),
        description="Degrees left to the hands, last of all: [bend, degrees] or a list of such pairs; hems counted.",
    )

    def faults(self, at: Where) -> Iterator[JobError]:
        if len(self.bends) != len(self.legs) - 1:
            legs, bends = len(self.legs), len(self.bends)
            yield at.entry.fault(
                ("bends",), "there is one bend between each two legs",
                value=f"{legs} {'leg' if legs == 1 else 'legs'}, {bends} {'bend' if bends == 1 else 'bends'}",
                write=f"{legs - 1} {'bend' if legs == 2 else 'bends'}",
            )  # fmt: skip
        for n, turned in enumerate(self.bends):
            if turned == 0:
                yield at.entry.fault(("bends", n), "a bend of 0 degrees is none", value="0",
                                  write="the degrees turned, or one longer leg")  # fmt: skip
            elif abs(turned) == 180:
                yield at.entry.fault(
                    ("bends", n), "a fold of 180 degrees is a hem", value=f"{turned:g}",
                    write='start_hem or end_hem = {width = "1/2 in", toward = "back"}',
                )  # fmt: skip
        if isinstance(self.inside_radius, tuple) and len(self.inside_radius) != len(self.bends):
            yield at.entry.fault(
                ("inside_radius",), "a list of radii has one for each bend",
                value=f"{len(self.inside_radius)} for {len(self.bends)} bends",
                write="one radius, or one for each bend",
            )  # fmt: skip
        if len(self.legs) == 1 and self.start_hem is not None and self.end_hem is not None:
            both = Nm(self.start_hem.width + self.end_hem.width)
            same = self.start_hem.toward == self.end_hem.toward
            if same and self.start_hem.turned == self.end_hem.turned == 180 and both > self.legs[0]:
                yield at.entry.fault(
                    ("end_hem", "width"), f"two hems to one side of a leg overlap: they need {at.typed(both)}",
                    value=f"a leg of {at.typed(self.legs[0])}", write="narrower hems, or one of them to the other side",
                )  # fmt: skip
        for key, leg in (("start_hem", self.legs[0]), ("end_hem", self.legs[-1])):
            hem = getattr(self, key)
            if hem is not None and hem.turned == 180 and hem.width > leg:
                yield at.entry.fault(
                    (key, "width"), f"a hem must be no wider than its leg, {at.typed(leg)}",
                    value=at.entry.found((key, "width")), write="a narrower hem or a longer leg",
                )  # fmt: skip
        ends = [[h.turned] if h is not None else [] for h in (self.start_hem, self.end_hem)]
        turned_all = [*ends[0], *(abs(b) for b in self.bends), *ends[1]]
        yield from hand_faults(at, self.finish_by_hand, dict(enumerate(turned_all, 1)), "bend", whole=False)

    def sizes_said(self, show: Show) -> list[str]:
        said = [f"{show.exact(self.length)} long", "legs " + listed([show.exact(leg) for leg in self.legs], "and")]
        if self.bends:
            said.append("bends " + listed([f"{bend:+g}°" for bend in self.bends], "and"))
        for name, hem in (("start hem", self.start_hem), ("end hem", self.end_hem)):
            if hem is not None:
                said.append(f"{name} {hem.said(show)}")
        return said
