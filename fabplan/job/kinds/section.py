"""A bent strip."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field

from fabplan.errors import JobError
from fabplan.job import defaults
from fabplan.job.kinds.base import HemSpec, PieceBase, Truth, Where, hand_faults
from fabplan.job.kinds.ends import EndDam, EndReturn, end_faults, ends_said
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


class EndHem(HemSpec):
    """A hem on the free edge of a section; `double` folds it over once more, the raw edge inside."""

    double: Truth = Field(
        default=False, description="Folded over a second time, closed, so that the raw edge lies inside."
    )

    def said(self, show: Show) -> str:
        return HemSpec.said(self, show) + (", doubled" if self.double else "")


class SectionPiece(PieceBase):
    """A bent strip: outside legs and signed bends (+ toward the face), with optional end hems."""

    PRINTED = "section"
    REFERENCE = (
        "There is one bend between each two legs. The face is on the left walking from the first leg. The word "
        '`"roof"` in place of a bend (or no `bends` on two legs) takes it from the measured roof: a hip or ridge cap '
        "as the slopes turn there, a drip edge from the slope's pitch, its roof leg on the slope and the leg before it "
        "plumb."
    )
    DEFAULTS = {  # noqa: RUF012
        "lap": "3 in",
        "inside_radius": "0 in",
        "bends": "none, or from the roof",
    }

    kind: Literal["section"]
    length: StockLength = Field(description="Length along the bends.")
    legs: tuple[PieceLength, ...] = Field(
        min_length=1, max_length=30, description="Outside sizes of the legs in order, hems not counted."
    )
    bends: tuple[Annotated[float, angle_within(-180, 180)], ...] = Field(
        default=(),
        max_length=29,
        description="Degrees turned between the legs, + toward the face; 180 folds a leg back on the one before.",
    )
    roof_bend: int = 0  # number of the bend that the roof gives, 0 for none; never in a file
    inside_radius: Lengths = Field(
        default=Nm(0), description="Inside radius of the bends: one, or a list; of a fold of 180 half its opening."
    )
    start_hem: EndHem | None = Field(default=None, description="Hem on the free edge of the first leg.")
    end_hem: EndHem | None = Field(default=None, description="Hem on the free edge of the last leg.")
    taper_to: tuple[PieceLength, ...] = Field(
        default=(), max_length=30, description="Of a tapered strip: outside sizes of the legs at its other end."
    )
    end_dams: tuple[EndDam, ...] = Field(
        default=(), max_length=8, description="Ends of legs turned up as dams; `length` is over them, outside."
    )
    returns: tuple[EndReturn, ...] = Field(
        default=(), max_length=8, description="Ends of legs returned round the corner, the other legs notched."
    )
    lap: Allowance | None = Field(default=None, description="Lap where a strip longer than the brake is split.")
    finish_by_hand: HandBends = Field(
        default=(),
        description="Degrees left to the hands, last of all: [bend, degrees] or a list of such pairs; hems counted.",
    )

    def faults(self, at: Where) -> Iterator[JobError]:
        """What is wrong with the legs, bends and hems taken together."""
        if len(self.bends) != len(self.legs) - 1:
            legs, bends = len(self.legs), len(self.bends)
            yield at.entry.fault(
                ("bends",), "there is one bend between each two legs",
                value=f"{legs} {'leg' if legs == 1 else 'legs'}, {bends} {'bend' if bends == 1 else 'bends'}",
                write=f"{legs - 1} {'bend' if legs == 2 else 'bends'}",
            )  # fmt: skip
        for n, turned in enumerate(self.bends):
            if turned == 0 and n + 1 != self.roof_bend:
                yield at.entry.fault(("bends", n), "a bend of 0 degrees is none", value="0",
                                  write="the degrees turned, or one longer leg")  # fmt: skip
        for n, key, near in ((0, "start_hem", self.legs[:2]), (len(self.bends) - 1, "end_hem", self.legs[:-3:-1])):
            at_end = getattr(self, key) is None and 0 <= n < len(self.bends) and len(near) == 2 and near[0] <= near[1]
            if at_end and abs(self.bends[n]) == 180:
                side = "face" if self.bends[n] > 0 else "back"
                yield at.entry.fault(
                    ("bends", n), "a fold of 180 degrees that lays an end leg on a longer one is a hem",
                    value=f"{self.bends[n]:g}",
                    write=f'one leg less, and {key} = {{width = "{at.typed(near[0])}", toward = "{side}"}}',
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
            if hem is not None and hem.double:
                yield from _double_faults(at, key, hem)
        yield from self._taper_faults(at)
        if len(self.legs) == 1 and self.start_hem is None and self.end_hem is None and (self.end_dams or self.returns):
            yield at.entry.fault(
                ("end_dams" if self.end_dams else "returns",), "a strip with turned ends has a bend or a hem",
                value="one flat leg", write='kind = "outline", with folds on its edges',
            )  # fmt: skip
        yield from end_faults(at, len(self.legs), self.end_dams, self.returns, tapered=bool(self.taper_to))
        ends = [[] if h is None else [h.turned] * (2 if h.double else 1) for h in (self.start_hem, self.end_hem)]
        turned_all = [*ends[0], *(abs(b) for b in self.bends), *ends[1]]
        yield from hand_faults(at, self.finish_by_hand, dict(enumerate(turned_all, 1)), "bend", whole=False)

    def _taper_faults(self, at: Where) -> Iterator[JobError]:
        """Both ends have the same legs and hems; straight bends, no fold that would lie on a leg of another width."""
        if not self.taper_to:
            return
        if len(self.taper_to) != len(self.legs):
            yield at.entry.fault(
                ("taper_to",), "a tapered strip has as many legs at its other end", value=str(len(self.taper_to)),
                write=f"{len(self.legs)} sizes, those that stay as they are included",
            )  # fmt: skip
            return
        if self.taper_to == self.legs:
            yield at.entry.fault(
                ("taper_to",), "the legs at the other end are the same: it does not taper",
                value=listed([at.typed(leg) for leg in self.taper_to], "and"), write="the sizes there, or leave it out",
            )  # fmt: skip
        folded = [n for n, bend in enumerate(self.bends) if abs(bend) == 180]
        double = any(h is not None and h.double for h in (self.start_hem, self.end_hem))
        if folded or double:
            yield at.entry.fault(
                ("taper_to",), "a tapered strip has no fold of 180 degrees between legs and no double hem",
                value=f"bend {folded[0] + 1}" if folded else "double = true", write="single hems, or two pieces",
            )  # fmt: skip
        for key, leg in (("start_hem", self.taper_to[0]), ("end_hem", self.taper_to[-1])):
            hem = getattr(self, key)
            if hem is not None and hem.turned == 180 and hem.width > leg:
                yield at.entry.fault(
                    (key, "width"), f"a hem must be no wider than its leg at the other end, {at.typed(leg)}",
                    value=at.entry.found((key, "width")), write="a narrower hem or a longer leg",
                )  # fmt: skip

    def sizes_said(self, show: Show) -> list[str]:
        said = [f"{show.exact(self.length)} long", "legs " + listed([show.exact(leg) for leg in self.legs], "and")]
        if self.taper_to:
            said.append("tapered to legs " + listed([show.exact(leg) for leg in self.taper_to], "and"))
        if self.bends:
            own = (
                {self.roof_bend - 1: "one from the roof"}
                if self.roof_bend and not self.bends[self.roof_bend - 1]
                else {}
            )
            said.append("bends " + listed([own.get(n, f"{bend:+g}°") for n, bend in enumerate(self.bends)], "and"))
        for name, hem in (("start hem", self.start_hem), ("end hem", self.end_hem)):
            if hem is not None:
                said.append(f"{name} {hem.said(show)}")
        return said + ends_said(self.end_dams, self.returns, show)


def _double_faults(at: Where, key: str, hem: EndHem) -> Iterator[JobError]:
    """A double hem is closed flat, and wide enough that the edge inside it can be folded."""
    if hem.turned != 180:
        yield at.entry.fault(
            (key, "double"), "only a hem of 180 degrees is folded twice", value=f"turned = {hem.turned:g}",
            write="turned = 180, or leave double out",
        )  # fmt: skip
    if hem.gap:
        yield at.entry.fault(
            (key, "gap"), "a double hem is closed flat", value=at.entry.found((key, "gap")), write="gap = 0"
        )
    short = defaults.DOUBLE_SHORT[at.show.unit]
    if hem.width <= 2 * short:
        yield at.entry.fault(
            (key, "width"), f"a double hem is wider than {at.typed(Nm(2 * short))}",
            value=at.entry.found((key, "width")), write="a wider hem, or leave double out",
        )  # fmt: skip
