"""Hand-forming variation: what drifts, how often a line is needed, and the hem that needs.

Model (our own derivation, not yet tried on a mock-up): the advance of one lock is the sheared width less the lap, the
lap being the wider of the two hems that meet plus the metal and the play. Each diagonal row hands its error on whole.
The first line holds the spacing, so an error square to the edge goes into the course height divided by the sine of half
the top angle.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist

from fabplan.blanks.model import Lattice
from fabplan.roof.extras.variation_model import Drift, Interval, Variation

SHORT_OF_LINE = 1 / 16  # inches a point may stay short of its line
SINGLE_COURSE = 1 / 32  # added when every course has a line: the smaller of two hems is not normal
FLOOR = 1 / 16  # a hem is never narrower than hook, metal, play and this
LONGEST_INTERVAL = 60
DRIFT_AT = (10, 25, 50)
INTERVALS = (1, 2, 3, 5, 8, 12)


def wider_hem(apart: float, fold: float) -> tuple[float, float]:
    """Mean over the wider nominal width, and variance, of the wider of two folded hems.

    Parameters
    ----------
    apart : float
        How much the two nominal widths differ, inches.
    fold : float
        Standard deviation of either.

    Notes
    -----
    The greatest of two normal variables: C. E. Clark, "The greatest of a finite set of random variables", Operations
    Research 9(2), 1961. Of equal hems the mean is fold / sqrt(pi) more; of very unequal ones the wider decides alone.
    """
    theta = fold * math.sqrt(2)
    if theta == 0:
        return 0.0, 0.0
    unit, a = NormalDist(), abs(apart) / theta
    less, dense = unit.cdf(-a), unit.pdf(a)
    mean = theta * dense - abs(apart) * less
    square = fold**2 + apart**2 * less - abs(apart) * theta * dense
    return mean, max(0.0, square - mean**2)


def lock_variance(shear: float, fold: float, play: float, apart: float = 0.0) -> float:
    """Variance one course adds along a diagonal, from standard deviations of shear and fold and the greatest play.

    Two folds of a piece, the wider hem of a lock, and twice what they have in common: 4 fold^2 and the wider's own.
    """
    return shear**2 + 4 * fold**2 + wider_hem(apart, fold)[1] + play**2 / 12


def drift(
    courses: int,
    top_angle: float,
    shear: float,
    fold: float,
    play: float,
    *,
    shear_stop: float = 0.0,
    fold_stop: float = 0.0,
    apart: float = 0.0,
    ahead: float = 0.0,
) -> Drift:
    """Height and side error after so many courses with no line (inches).

    `ahead` is how much the nominal course is higher than what the height is told from; the hems differ by `apart`.
    """
    half = math.radians(top_angle) / 2
    spread = math.sqrt(courses * lock_variance(shear, fold, play, apart) / 2)
    mean = courses * ((shear_stop - 3 * fold_stop - wider_hem(apart, fold)[0]) / math.sin(half) + ahead)
    return Drift(
        courses=courses,
        height_mean=mean,
        height_sigma=spread / math.sin(half),
        sideways_sigma=spread / math.cos(half),
    )


def block_sigma(
    every: int, top_angle: float, shear: float, fold: float, play: float, *, apart: float = 0.0, step: float = 0.0
) -> float:
    """Standard deviation, square to the edge, of so many courses against two lines marked to `step`, inches."""
    # two rounded marks are one of two whole numbers of steps apart: at most a quarter of a step squared
    marks = (step * math.sin(math.radians(top_angle) / 2)) ** 2 / 4
    return math.sqrt(max(0.0, every * lock_variance(shear, fold, play, apart) - fold**2 + marks))


def margin(
    every: int,
    top_angle: float,
    shear: float,
    fold: float,
    play: float,
    confidence: float,
    *,
    apart: float = 0.0,
    step: float = 0.0,
) -> float:
    """How much closer than the mean advance each course is laid (square to the edge) so that a line is reached."""
    z = NormalDist().inv_cdf(confidence)
    sigma = block_sigma(every, top_angle, shear, fold, play, apart=apart, step=step)
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
    apart: float = 0.0,
    step: float = 0.0,
) -> float:
    """Least hem for a line every so many courses, so that a lock keeps its least hook with the confidence asked."""
    z = NormalDist().inv_cdf(confidence)
    sigma2 = block_sigma(every, top_angle, shear, fold, play, apart=apart, step=step) ** 2
    extra = every * margin(every, top_angle, shear, fold, play, confidence, apart=apart, step=step)
    bias, wider = wider_hem(apart, fold)
    hem = (
        least_hook
        + thickness
        + play / 2
        + extra
        + bias
        + z * math.sqrt(sigma2 + play**2 / 12 + wider)
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
    apart: float = 0.0,
    step: float = 0.0,
) -> int:
    """Most courses between lines that a hem allows; 0 when not even every course."""
    best = 0
    for m in range(1, LONGEST_INTERVAL + 1):
        need = hem_needed(
            m, top_angle, thickness, shear, fold, play,
            least_hook=least_hook, confidence=confidence, apart=apart, step=step,
        )  # fmt: skip
        if need <= hem + 1e-9:
            best = m
    return best


@dataclass(frozen=True, slots=True, kw_only=True)
class Evenness:
    """How evenly a shop works, inches: standard deviations of shear and fold, the greatest play of a lock, the step
    lines are marked to, and how much longer than asked the shear's graduation makes a finished side."""

    shear: float
    fold: float
    play: float
    step: float
    rounding: float


def mean_course(lattice: Lattice, bench: Evenness) -> float:
    """Course height expected with the spacing held: half the play taken up, hems as they fall, the side as sheared."""
    half = math.radians(lattice.top_angle) / 2
    bias, _ = wider_hem(lattice.upper_hem - lattice.lower_hem, bench.fold)
    return lattice.course + (lattice.slack - bench.play / 2 - bias) / math.sin(half) + side_gives(lattice, bench)


def greatest_course(lattice: Lattice, bench: Evenness) -> float:
    """Course height with every lock pulled open as far as it goes, as the hems are asked."""
    half = math.radians(lattice.top_angle) / 2
    return lattice.course + lattice.slack / math.sin(half) + side_gives(lattice, bench)


def side_gives(lattice: Lattice, bench: Evenness) -> float:
    """Course height a longer side gives with the spacing held: all of it goes up, twice what it would by itself."""
    return 2 * bench.rounding * math.cos(math.radians(lattice.top_angle) / 2)


def vary(
    mark: str, lattice: Lattice, pieces: int, bench: Evenness, *, least_hook: float, confidence: float
) -> Variation:
    """Variation of one diamond; every piece hooks two below it."""
    alpha, t = lattice.top_angle, lattice.thickness
    half = math.radians(alpha) / 2
    hem, apart = min(lattice.upper_hem, lattice.lower_hem), lattice.upper_hem - lattice.lower_hem
    locks = 2 * pieces
    each, whole = confidence, whole_roof(confidence, locks)
    spread = alpha, bench.shear, bench.fold, bench.play
    more = {"apart": apart, "step": bench.step}

    def need(m: int, c: float) -> float:
        return hem_needed(
            m, alpha, t, bench.shear, bench.fold, bench.play, least_hook=least_hook, confidence=c, **more
        )  # fmt: skip

    def most(c: float) -> int:
        return largest_interval(
            hem, alpha, t, bench.shear, bench.fold, bench.play, least_hook=least_hook, confidence=c, **more
        )  # fmt: skip

    mean = mean_course(lattice, bench)

    def short(m: int) -> float:
        room = m * (mean - lattice.course) * math.sin(half) + SHORT_OF_LINE * math.sin(half)
        sigma = block_sigma(m, *spread, **more)
        return NormalDist().cdf(-room / sigma) if sigma else float(room < 0)

    intervals = tuple(
        Interval(
            courses=m,
            course_at_most=mean - margin(m, *spread, each, **more) / math.sin(half),
            short_of_printed=short(m),
            hem_per_lock=need(m, each),
            hem_whole_roof=need(m, whole),
            allowed_per_lock=need(m, each) <= hem + 1e-9,
            allowed_whole_roof=need(m, whole) <= hem + 1e-9,
        )
        for m in sorted({*INTERVALS, max(1, most(each))})  # with the spacing the slopes' sheets ask for
    )
    ahead = lattice.slack / math.sin(half) - bench.play / 2 / math.sin(half) + side_gives(lattice, bench)
    return Variation(
        mark=mark,
        locks=locks,
        confidence=confidence,
        hem=hem,
        mean_course=mean,
        layout_course=lattice.course,
        stop_error=3 * DRIFT_AT[-1] / 64 / math.sin(half),
        drifts=tuple(drift(n, *spread, apart=apart, ahead=ahead) for n in DRIFT_AT),
        intervals=intervals,
        largest_per_lock=most(each),
        largest_whole_roof=most(whole),
    )
