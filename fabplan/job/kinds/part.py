"""Parts of a diamond: starter, ridge half, rake halves."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field

from fabplan.errors import JobError, quoted
from fabplan.job.kinds.base import HemSpec, PieceBase, Where
from fabplan.job.values import (
    Label,
    word,
)
from fabplan.units import Show


def _cut_fold(value: Any) -> Any:
    return word(value) if isinstance(value, str) else value


class CutPiece(PieceBase):
    """A part of a diamond: starter, ridge half, or rake half (left and right seen facing the roof)."""

    PRINTED = "part of a diamond"
    REFERENCE = "`rake-left` is the piece along the left rake, `ridge-half` the lower half that meets the ridge."
    DEFAULTS = {  # noqa: RUF012
        "cut_fold": "starter: to the back 180°, as wide as the lower hem; others: to the face 90°, 1 in",
    }

    kind: Literal["starter", "ridge-half", "rake-left", "rake-right"]
    for_: Label = Field(alias="for", description="Mark of the diamond it is a part of.")
    hooks: Label | None = Field(default=None, description="Mark of the section its fold hooks: checked.")
    cut_fold: Annotated[HemSpec | Literal["none"] | None, BeforeValidator(_cut_fold)] = Field(
        default=None, description="Fold on the cut edge, or none."
    )

    def faults(self, at: Where) -> Iterator[JobError]:
        fold = self.cut_fold
        if self.hooks is not None and fold == "none":
            yield at.entry.fault(
                ("hooks",), "a piece without a fold on its cut edge hooks nothing", value=quoted(self.hooks),
                write='a cut_fold, or take out "hooks"',
            )  # fmt: skip
        if self.kind == "starter" and fold is not None and fold != "none" and fold.turned == 180:
            yield from at.hook_gap(("cut_fold", "gap"), fold.gap)

    def sizes_said(self, show: Show) -> list[str]:
        said = [f"part of {self.for_}"]
        if self.hooks:
            said.append(f"hooks {self.hooks}")
        if self.cut_fold == "none":
            said.append("no fold on the cut edge")
        elif self.cut_fold is not None:
            said.append(f"cut edge: {self.cut_fold.said(show)}")
        return said
