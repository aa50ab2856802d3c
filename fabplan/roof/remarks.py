"""What the crew should know of a slope or a hip beside its counts, as facts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from fabplan.quantities import Degrees, Inches


@dataclass(frozen=True, slots=True, kw_only=True)
class EaveDrop:
    """The eave drops to one end: courses follow it, or are `level` from its low or high end or its middle."""

    kind: Literal["eave_drop"] = "eave_drop"
    drop: Inches
    low_end: Literal["left", "right"]
    level: Literal["low", "high", "middle"] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class NoApexCap:
    """A cap so wide would cover the slope down to its first course, so none is planned."""

    kind: Literal["no_apex_cap"] = "no_apex_cap"
    slope: str
    width: Inches


@dataclass(frozen=True, slots=True, kw_only=True)
class ApexCap:
    """The cap's length up the slope and the course line it starts at; `narrow` its length if it were 6 in wide."""

    kind: Literal["apex_cap"] = "apex_cap"
    slope: str
    length: Inches
    line: int
    narrow: Inches | None


@dataclass(frozen=True, slots=True, kw_only=True)
class EvenCourses:
    """Courses that come out even at the ridge when each is closed up, and whether they are.

    `hooked` is what stays hooked then; they are "refused" when that is under the least hook.
    """

    kind: Literal["even_courses"] = "even_courses"
    slope: str
    courses: int
    closed: Inches
    hooked: Inches
    how: Literal["refused", "done", "offered"]


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldCourses:
    """Courses up to this one lie on the roof: the slope's lines stay where they were snapped."""

    kind: Literal["held_courses"] = "held_courses"
    slope: str
    courses: int


@dataclass(frozen=True, slots=True, kw_only=True)
class NoLevelRidge:
    """Even courses are asked for and the slope has no level ridge to come out at."""

    kind: Literal["no_level_ridge"] = "no_level_ridge"
    slope: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LeanUnknown:
    """A lean smaller than two standard deviations of the tape."""

    kind: Literal["lean_unknown"] = "lean_unknown"
    amount: Inches
    sigma: Inches


@dataclass(frozen=True, slots=True, kw_only=True)
class SpirePoint:
    """How far the point of a spire stands from over the middle of its corners, and the corners seen in plan."""

    kind: Literal["spire_point"] = "spire_point"
    entry: str
    off: Inches
    sigma: Inches
    corners: tuple[Degrees, ...]
    corner_sigma: Degrees


@dataclass(frozen=True, slots=True, kw_only=True)
class TapeDiagonal:
    """A diagonal taped across the base of a spire would check its sizes."""

    kind: Literal["tape_diagonal"] = "tape_diagonal"
    entry: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HipsMeet:
    """The courses of both slopes of a wrapped hip meet within so much."""

    kind: Literal["hips_meet"] = "hips_meet"
    hip: str
    within: Inches


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """A top angle at which the cuts along a slope's hips repeat, with fewer templates; `..._now` as planned."""

    kind: Literal["choice"] = "choice"
    slope: str
    angle: Degrees
    every: int
    shapes: int
    shapes_now: int
    blanks: int
    blanks_now: int


@dataclass(frozen=True, slots=True, kw_only=True)
class NotHooked:
    """With its roof leg on the slope no edge of the drip edge lies so that the starters hook it.

    The nearest points so many degrees off the slope and lies so far off its plane.
    """

    kind: Literal["not_hooked"] = "not_hooked"
    starter: str
    section: str
    turned: Degrees
    off: Inches


@dataclass(frozen=True, slots=True, kw_only=True)
class NotPlumb:
    """The face of a drip edge hangs out of plumb on a slope: it is bent `found`, the pitch asks for `bend`."""

    kind: Literal["not_plumb"] = "not_plumb"
    section: str
    slope: str
    pitch: Degrees
    bend: Degrees
    found: Degrees


SlopeNote = (
    EaveDrop | NoApexCap | ApexCap | EvenCourses | HeldCourses | NoLevelRidge | LeanUnknown | SpirePoint | TapeDiagonal
)
RoofNote = HipsMeet | Choice | NotHooked | NotPlumb
