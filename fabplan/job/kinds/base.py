"""What every piece kind shares: the model's base, folds, and where a piece stands when its rules are looked at."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, ClassVar, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from fabplan.errors import JobError, quoted
from fabplan.job import defaults
from fabplan.job.lines import Path
from fabplan.job.merge import TableEntry
from fabplan.job.metals import Finish, MetalProfile
from fabplan.job.values import (
    Allowance,
    Label,
    MetalName,
    Note,
    PieceLength,
    SpareRule,
    angle_within,
    whole_within,
    word,
)
from fabplan.units import Nm, Show, from_inches

Word = BeforeValidator(word)
Toward = Annotated[Literal["face", "back"], Word]
Grain = Annotated[Literal["any", "along", "across"], Word]
Truth = Annotated[bool, Field(strict=True)]
MOST_PIECES = 1_000_000


class Model(BaseModel):
    """Base: frozen, unknown keys refused."""

    model_config = ConfigDict(frozen=True, extra="forbid", arbitrary_types_allowed=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Where:
    """Where a piece stands: its entry in the file, its metal (None when that could not be read), the job's print."""

    entry: TableEntry
    metal: MetalProfile | None
    show: Show

    def typed(self, length: Nm) -> str:
        """A length as the job prints it."""
        return self.show.exact(length)

    def hook_gap(self, path: Path, gap: Nm | None) -> Iterator[JobError]:
        """A hem that must hook needs room for the metal of its neighbour."""
        if self.metal is None:
            return
        least = from_inches(self.metal.thickness)
        wide = defaults.hem_gap(self.show.unit) if gap is None else gap
        if wide < least:
            value = f"{self.typed(wide)}, the default" if gap is None else self.entry.found(path)
            yield self.entry.fault(
                path, f"a hem that must hook needs a gap of at least the metal's thickness, {self.show.fine(least)}",
                value=value, write=f"{path[-1]} = {quoted(self.typed(round_up(least, self.show.grid)))} or more",
            )  # fmt: skip


def round_up(length: Nm, grid: int) -> Nm:
    """The next whole graduation."""
    return Nm(math.ceil(length / grid) * grid)


class HemSpec(Model):
    """A fold on an edge: `turned` degrees (180 = hem), `gap` inside an open hem."""

    width: PieceLength = Field(description="Finished width, outside of the fold to the raw edge.")
    toward: Toward = Field(description="Side of the metal it is folded to: face or back.")
    turned: Annotated[float, angle_within(1, 180)] = Field(default=180.0, description="Degrees turned; 180 is a hem.")
    gap: Allowance | None = Field(default=None, description="Opening inside the hem; 0 is closed flat.")

    def said(self, show: Show) -> str:
        """The fold in a few words."""
        turned = "" if self.turned == 180 else f" turned {show.degrees(self.turned)}"
        gap = (
            ""
            if self.gap is None or self.turned != 180
            else ", closed"
            if self.gap == 0
            else f", gap {show.exact(self.gap)}"
        )
        return f"{show.exact(self.width)} to the {self.toward}{turned}{gap}"


def gap_said(gap: Nm | None, show: Show) -> str:
    """A hem's opening, or the default."""
    if gap is None:
        return f"gap {show.exact(defaults.hem_gap(show.unit))} (default)"
    return f"gap {show.exact(gap)}"


def size_said(show: Show, width: Nm, length: Nm) -> str:
    return f"{show.exact(width)} x {show.exact(length)}"


class PieceBase(Model):
    """Keys every ``[[piece]]`` may carry."""

    PRINTED: ClassVar[str] = "piece"  # name of the kind on paper
    REFERENCE: ClassVar[str] = ""  # what docs/job-file.md says beside the model's first line
    DEFAULTS: ClassVar[dict[str, str]] = {}  # defaults that depend on something, in words

    mark: Label = Field(description="Mark of the piece on every page; no two alike.")
    count: Annotated[int, whole_within(1, MOST_PIECES)] | None = Field(
        default=None,
        description='How many; left out when the slopes count it; `"cleats"`: as many as the roof has cleats.',
    )
    spare: SpareRule | None = Field(
        default=None, description="Extra pieces of this mark, in place of the job's `spare`."
    )
    metal: MetalName | None = Field(default=None, description="Metal of this piece, when not the job's.")
    grain: Grain = Field(default="any", description="How the blank must lie to the rolling direction.")
    finish: Annotated[Finish, Word] | None = Field(
        default=None,
        description="Finish of its face: bare, coated or pre-patinated. A face with a finish is never scribed, is laid "
        "down and pressed soft, and its blanks lie one way to the rolling direction.",
    )
    allowance: Annotated[Literal["computed", "plain"], Word] = Field(
        default="computed", description="computed: the bend allowance; plain: a fold takes its width."
    )
    note: Note = Field(default="", description="Printed with the piece.")

    def faults(self, at: Where) -> Iterator[JobError]:
        """Every fault of a piece whose keys could be read one by one."""
        yield from ()

    def sizes_said(self, show: Show) -> list[str]:
        """Its sizes and folds, said back."""
        return []


def hand_faults(
    at: Where, pairs: Sequence[tuple[int, float]], turned: Mapping[int, float], what: str, *, whole: bool
) -> Iterator[JobError]:
    """Faults of `finish_by_hand`: it names what is there, and no more than its angle; `whole`, all of it."""
    for number, degrees in pairs:
        if number not in turned:
            known = ", ".join(str(n) for n in turned) or "none"
            yield at.entry.fault(
                ("finish_by_hand",), f"must name a {what} of the piece (there is {known})", value=str(number),
                write=f"[{what}, degrees]; bends are counted from the start edge, hems too",
            )  # fmt: skip
        elif degrees > turned[number] + 1e-9 or (whole and degrees < turned[number] - 1e-9):
            rule = f"{what} {number} turns {turned[number]:g} degrees" + (" and is left whole" if whole else "")
            yield at.entry.fault(
                ("finish_by_hand",), rule, value=f"{degrees:g}", write=f"[{number}, {turned[number]:g}]"
            )
