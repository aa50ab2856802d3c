"""Hand-forming variation: what drifts, how often a line is needed, and the hem that needs.

Model (our own derivation, not yet tried on a mock-up): the advance of one lock is the sheared width less the lap, the
lap being the wider of the two hems that meet plus the metal and the play. Each diagonal row hands its error on whole.
The first line holds the spacing, so an error square to the edge goes into the course height divided by the sine of half
the top angle.
"""

from __future__ import annotations

import math
from statistics import NormalDist

from fabplan.blanks.model import Lattice
from fabplan.roof.extras.variation_model import Drift, Interval, Variation

SHORT_OF_LINE = 1 / 16  # inches a point may stay short of its line
SINGLE_COURSE = 1 / 32  # added when every course has a line: the smaller of two hems is not normal
FLOOR = 1 / 16  # a hem is never narrower than hook, metal, play and this
LONGEST_INTERVAL = 60
DRIFT_AT = (10, 25, 50)
INTERVALS = (1, 2, 3, 5, 8, 12)
RESTS_ON = (
    "These figures rest on a geometric model of the lock and on the spreads in the shop file, not on a mock-up: lay up "
    "ten courses and measure them before relying on them."
)


def lock_variance(shear: float, fold: float, play: float) -> float:
    """Variance one course adds along a diagonal, from standard deviations of shear and fold and the greatest play."""
    return shear**2 + (5 - 1 / math.pi) * fold**2 + play**2 / 12


def drift(
    courses: int,
    top_angle: float,
    shear: float,
    fold: float,
    play: float,
    *,
    shear_stop: float = 0.0,
    fold_stop: float = 0.0,
) -> Drift:
    """Height and side error after so many courses with no line, from the mean advance (inches)."""
    half = math.radians(top_angle) / 2
    spread = math.sqrt(courses * lock_variance(shear, fold, play) / 2)
    mean = courses * (shear_stop - 3 * fold_stop - fold / math.sqrt(math.pi)) / math.sin(half)
    return Drift(
        courses=courses,
        height_mean=mean,
        height_sigma=spread / math.sin(half),
        sideways_sigma=spread / math.cos(half),
    )


def margin(every: int, top_angle: float, shear: float, fold: float, play: float, confidence: float) -> float:
    """How much closer than the mean advance each course is laid (square to the edge) so that a line is reached."""
    z = NormalDist().inv_cdf(confidence)
    sigma = math.sqrt(max(0.0, every * lock_variance(shear, fold, play) - fold**2))
    return max(0.0, (z * sigma - SHORT_OF_LINE * math.sin(math.radians(top_angle) / 2)) / every)


def hem_needed(
    every: int,
    top_angle: float,
    thickness: float,
    shear: float,
    fold: float,
    play: float,
    *,
    least_hook: float,
    confidence: float,
) -> float:
    """Least hem for a line every so many courses, so that a lock keeps its least hook with the confidence asked."""
    z = NormalDist().inv_cdf(confidence)
    sigma2 = max(0.0, every * lock_variance(shear, fold, play) - fold**2)
    extra = every * margin(every, top_angle, shear, fold, play, confidence)
    hem = (
        least_hook
        + thickness
        + play / 2
        + extra
        + fold / math.sqrt(math.pi)
        + z * math.sqrt(sigma2 + play**2 / 12 + (1 - 1 / math.pi) * fold**2)
        + (SINGLE_COURSE if every == 1 else 0.0)
    )
    return max(hem, least_hook + thickness + play + FLOOR)


def whole_roof(confidence: float, locks: int) -> float:
    """Confidence each lock needs so that all locks of a roof hold with the confidence asked."""
    return math.exp(math.log(confidence) / max(1, locks))


def largest_interval(
    hem: float,
    top_angle: float,
    thickness: float,
    shear: float,
    fold: float,
    play: float,
    *,
    least_hook: float,
    confidence: float,
) -> int:
    """Most courses between lines that a hem allows; 0 when not even every course."""
    best = 0
    for m in range(1, LONGEST_INTERVAL + 1):
        need = hem_needed(m, top_angle, thickness, shear, fold, play, least_hook=least_hook, confidence=confidence)
        if need <= hem + 1e-9:
            best = m
    return best


def vary(
    mark: str,
    lattice: Lattice,
    pieces: int,
    *,
    shear: float,
    fold: float,
    play: float,
    least_hook: float,
    confidence: float,
) -> Variation:
    """Variation of one diamond; every piece hooks two below it."""
    alpha, t = lattice.top_angle, lattice.thickness
    half = math.radians(alpha) / 2
    hem = min(lattice.upper_hem, lattice.lower_hem)
    locks = 2 * pieces
    each, whole = confidence, whole_roof(confidence, locks)

    def need(m: int, c: float) -> float:
        return hem_needed(m, alpha, t, shear, fold, play, least_hook=least_hook, confidence=c)

    def most(c: float) -> int:
        return largest_interval(hem, alpha, t, shear, fold, play, least_hook=least_hook, confidence=c)

    mean = lattice.course + (lattice.slack - play / 2) / math.sin(half)
    intervals = tuple(
        Interval(
            courses=m,
            course_at_most=mean - margin(m, alpha, shear, fold, play, each) / math.sin(half),
            hem_per_lock=need(m, each),
            hem_whole_roof=need(m, whole),
            allowed_per_lock=need(m, each) <= hem + 1e-9,
            allowed_whole_roof=need(m, whole) <= hem + 1e-9,
        )
        for m in INTERVALS
    )
    return Variation(
        mark=mark,
        locks=locks,
        confidence=confidence,
        hem=hem,
        mean_course=mean,
        layout_course=lattice.course,
        stop_error=3 * DRIFT_AT[-1] / 64 / math.sin(half),
        drifts=tuple(drift(n, alpha, shear, fold, play) for n in DRIFT_AT),
        intervals=intervals,
        largest_per_lock=most(each),
        largest_whole_roof=most(whole),
        says=RESTS_ON,
    )
