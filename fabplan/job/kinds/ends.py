"""Turned ends of a bent strip: end dams and returns."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations
from typing import Annotated, Any, ClassVar, Literal

from pydantic import BeforeValidator, Field

from fabplan.errors import JobError
from fabplan.job import defaults
from fabplan.job.kinds.base import Model, Toward, Where, Word
from fabplan.job.values import Allowance, PieceLength, angle_within, whole_within, word
from fabplan.units import Nm, Show

LEAST_TURNED, MOST_TURNED = 30.0, 135.0


def _end(value: Any) -> Any:
    """An end's letter, small or capital."""
    read = word(value)
    return read.upper() if isinstance(read, str) and len(read) == 1 else read


class TurnedEnd(Model):
    """What a dam and a return have in common: a leg's end, turned."""

    DEFAULTS: ClassVar[dict[str, str]] = {
        "toward": "the side that the legs beside it stand to",
        "tabs": "dam: 1/2 in, or 12 mm, and more beside a leg that leans out; return: 0",
        "joined": "soldered, sealed in aluminum and under a finish; a return without tabs is left open",
    }

    leg: Annotated[int, whole_within(1, 30)] = Field(description="Leg whose end is turned, hems not counted.")
    at: Annotated[Literal["A", "B", "both"], BeforeValidator(_end)] = Field(
        default="both", description="Which end of the strip, A or B as on its blank page."
    )
    toward: Toward | None = Field(default=None, description="Side of the metal it is turned to: face or back.")
    turned: Annotated[float, angle_within(LEAST_TURNED, MOST_TURNED)] = Field(
        default=90.0, description="Degrees turned."
    )
    tabs: Allowance | None = Field(
        default=None, description="Tabs of the legs beside it, folded round its corners; 0 leaves a butt corner."
    )
    joined: Annotated[Literal["soldered", "sealed", "riveted", "open"], Word] | None = Field(
        default=None,
        description="How its corners are joined: riveted and soldered, riveted and sealed, only riveted, or left open.",
    )

    @property
    def size(self) -> Nm:
        """How far it goes beyond the end, outside to raw edge."""
        raise NotImplementedError

    @property
    def ends(self) -> tuple[Literal["A", "B"], ...]:
        """The ends it is made at."""
        return ("A", "B") if self.at == "both" else (self.at,)


class EndDam(TurnedEnd):
    """An end dam: the end of a leg turned up between the legs beside it, its corners closed."""

    height: PieceLength = Field(description="Height, outside of the fold to the raw edge.")

    @property
    def size(self) -> Nm:
        return self.height


class EndReturn(TurnedEnd):
    """A return: a leg goes on round the corner at its end, the other legs are notched."""

    length: PieceLength = Field(description="How far it goes round the corner, outside of the fold to the raw edge.")

    @property
    def size(self) -> Nm:
        return self.length


def ends_said(dams: Sequence[EndDam], returns: Sequence[EndReturn], show: Show) -> list[str]:
    """The turned ends, said back."""
    out = []
    for name, turn in [*(("end dam", d) for d in dams), *(("return", r) for r in returns)]:
        where = "both ends" if turn.at == "both" else f"end {turn.at}"
        out.append(f"{name} {show.exact(turn.size)} on leg {turn.leg} at {where}")
    return out


def end_faults(
    at: Where, legs: int, dams: Sequence[EndDam], returns: Sequence[EndReturn], *, tapered: bool
) -> Iterator[JobError]:
    """What is wrong with the turned ends of a strip of so many legs."""
    found = [("end_dams", n, turn) for n, turn in enumerate(dams)]
    turns: list[tuple[str, int, TurnedEnd]] = [*found, *(("returns", n, turn) for n, turn in enumerate(returns))]
    if turns and tapered:
        key, *_ = turns[0]
        yield at.entry.fault(
            (key,), "a tapered strip has no turned ends", value=f"taper_to and {key}",
            write="a strip that does not taper, or an end piece of its own",
        )  # fmt: skip
        return
    for key, n, turn in turns:
        if turn.leg > legs:
            yield at.entry.fault(
                (key, n, "leg"), f"the strip has {legs} {'leg' if legs == 1 else 'legs'}", value=str(turn.leg),
                write="1" if legs == 1 else f"a number from 1 to {legs}",
            )  # fmt: skip
        least = Nm(defaults.LEAST_END[at.show.unit])
        if turn.size < least:
            size = "height" if key == "end_dams" else "length"
            yield at.entry.fault(
                (key, n, size), f"what is turned is at least {at.typed(least)}, or no tool holds it",
                value=at.entry.found((key, n, size)), write=at.typed(least) + " or more",
            )  # fmt: skip
    for (_, _, one), (key, n, other) in combinations(turns, 2):
        if not set(one.ends) & set(other.ends):
            continue
        if one.leg == other.leg:
            yield at.entry.fault(
                (key, n, "leg"), "the end of a leg is turned once", value=str(other.leg), write="another leg or end"
            )
        elif abs(one.leg - other.leg) == 1:
            yield at.entry.fault(
                (key, n, "leg"), "two legs side by side cannot both be turned at one end: their metal is the same",
                value=f"legs {one.leg} and {other.leg}", write="one of them, with tabs of the other round its corner",
            )  # fmt: skip
