"""``[[slope]]`` and ``[roof]``: roof faces as people measure them."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from fabplan.job.values import Angle, Length

EdgeKind = Literal["eave", "ridge", "hip", "rake", "valley", "wall"]


class _Model(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", arbitrary_types_allowed=True)


class Opening(_Model):
    """A hole in a slope, by corner points in the slope's own frame (eave along x, y up the slope)."""

    name: str = ""
    points: tuple[tuple[Length, Length], ...] = Field(min_length=3)


class Slope(_Model):
    """One measured slope, or a group of equal ones.

    Which keys are needed depends on `shape`; all sizes are true sizes on the slope, never plan sizes.
    """

    name: str
    shape: Literal[
        "rectangle", "triangle", "trapezoid", "four-sided", "polygon", "gable", "regular-spire", "irregular-spire"
    ]
    piece: str  # mark of the diamond laid on it
    pitch: Angle | None = None  # slope against level, degrees
    openings: tuple[Opening, ...] = ()


class Roof(_Model):
    """``[roof]``: layout rules for all slopes."""
