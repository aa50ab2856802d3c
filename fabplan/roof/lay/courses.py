"""Lines to snap and points to mark, each rounded by itself so that no error adds up; closing courses up."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from fabplan.blanks.model import Lattice
from fabplan.roof.lay.lattice import Grid
from fabplan.roof.model import CourseLine
from fabplan.units import NM_PER_INCH


@dataclass(frozen=True, slots=True, kw_only=True)
class Closing:
    """Courses closed up to come out even: `courses` of height `course`, each closed by `closed`; `hooked` is what stays
    in the lock, `allowed` whether that is enough."""

    courses: int
    course: float
    closed: float
    hooked: float
    allowed: bool


def close_up(height: float, lattice: Lattice, least_hook: float) -> Closing:
    """Make courses come out even over a height by closing them up, never by opening: opening bares the joint below.

    Closing by d with the spacing held lengthens the lap by d sin(half the top angle) and takes the same from the hooked
    depth.
    """
    courses = max(1, math.ceil(height / lattice.course - 1e-9))
    course = height / courses
    closed = max(0.0, lattice.course - course)
    hooked = lattice.hooked - closed * math.sin(math.radians(lattice.top_angle) / 2)
    return Closing(courses=courses, course=course, closed=closed, hooked=hooked, allowed=hooked >= least_hook - 1e-9)


def to_step(value: float, step: int) -> int:
    """A length in inches as the nearest whole number of `step` nanometres."""
    return math.floor(Fraction(value) * NM_PER_INCH / step + Fraction(1, 2))


def course_lines(grid: Grid, lattice: Lattice, first: int, last: int, step: int) -> tuple[CourseLine, ...]:
    """Lines from the base line up: the points of course k + 1 stand on line k.

    `top_line` is the line that stays in sight above the hems: the finished top tips of course k.
    """
    half = math.radians(lattice.top_angle) / 2
    tall = 2 * lattice.course + lattice.lap / math.sin(half)
    lines = []
    for k in range(first, last + 1):
        height = k * grid.course
        top = (k - 1) * grid.course + tall
        lines.append(
            CourseLine(course=k, height=height, mark=to_step(height, step), top_line=top, top_mark=to_step(top, step))
        )
    return tuple(lines)


def first_marks(grid: Grid, left: float, right: float, step: int) -> tuple[tuple[float, int], ...]:
    """Where the points of course 1 stand on the base line, from the centre line (negative to the left)."""
    shift = grid.shift(1)
    low = math.ceil((left - grid.centre_x) / grid.spacing - shift - 1e-9)
    high = math.floor((right - grid.centre_x) / grid.spacing - shift + 1e-9)
    marks = [(i + shift) * grid.spacing for i in range(low, high + 1)]
    return tuple((m, to_step(m, step) if m >= 0 else -to_step(-m, step)) for m in marks)
