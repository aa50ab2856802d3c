"""Hand-forming variation of one diamond: what drifts, how often to snap a line, what hem that needs."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Drift:
    """Where the course stands after so many courses when no line corrects it (inches; one standard deviation)."""

    courses: int
    height_mean: float
    height_sigma: float
    sideways_sigma: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Interval:
    """A line snapped every `courses`: least hem for the confidence, by lock and by whole roof.

    `course_at_most` is the course height the lines may be laid to so that the points reach them, with the spacing held.
    """

    courses: int
    course_at_most: float
    hem_per_lock: float
    hem_whole_roof: float
    allowed_per_lock: bool  # with the hem the job has
    allowed_whole_roof: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Variation:
    """Variation of one diamond on the roof. `says` states what it rests on."""

    mark: str
    locks: int
    confidence: float
    hem: float
    mean_course: float  # course height expected with half the play taken up
    layout_course: float  # course height the lines are laid to
    stop_error: float  # inches of height after `drifts[-1].courses` for a fold stop off by 1/64 in
    drifts: tuple[Drift, ...]
    intervals: tuple[Interval, ...]
    largest_per_lock: int  # most courses between lines, 0 = the hem is too narrow even for every course
    largest_whole_roof: int
    says: str
