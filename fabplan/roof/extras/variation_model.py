"""Hand-forming variation of one diamond: what drifts, how often to snap a line, what hem that needs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from fabplan.quantities import Inches, Key, Share


@dataclass(frozen=True, slots=True, kw_only=True)
class Drift:
    """Where a course stands against its printed line when no line corrects it (inches; one standard deviation)."""

    courses: int
    height_mean: Inches
    height_sigma: Inches
    sideways_sigma: Inches


@dataclass(frozen=True, slots=True, kw_only=True)
class Interval:
    """A line snapped every `courses`: least hem for the confidence, by lock and by whole roof.

    `course_at_most` is the course height the lines may be laid to so that the points reach them, with the spacing held;
    `short_of_printed` how many points stay more than 1/16 in short of the lines as this plan prints them.
    """

    courses: int
    course_at_most: Inches
    short_of_printed: Share
    hem_per_lock: Inches
    hem_whole_roof: Inches
    allowed_per_lock: bool  # with the hem the job has
    allowed_whole_roof: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Variation:
    """Variation of one diamond on the roof."""

    mark: str
    locks: int
    confidence: Share
    hem: Inches
    mean_course: Inches  # course height expected: half the play taken up, hems as they fall, the side as sheared
    layout_course: Inches  # course height the lines are laid to
    stop_error: Inches  # inches of height after `drifts[-1].courses` for a fold stop off by 1/64 in
    drifts: Annotated[tuple[Drift, ...], Key("drift")]
    intervals: Annotated[tuple[Interval, ...], Key("line_every")]
    largest_per_lock: int  # most courses between lines, 0 = the hem is too narrow even for every course
    largest_whole_roof: int
