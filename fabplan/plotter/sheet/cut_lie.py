"""How the metal of a cut lies at the shear: the blade along x, what falls above it, and which side the stop takes."""

from __future__ import annotations

from collections.abc import Sequence
from math import cos, radians, sin

from fabplan import plane
from fabplan.plotter.model import Point
from fabplan.plotter.sheet.cut_marks import border_marks
from fabplan.plotter.sheet.replay import MadeCut, blank_outline, is_rectangle

EXACT, SLACK = 0.02, 1.5  # graduations
LEAST_BEARING = 0.1  # of the cut's length, of a side before the blade that a stop can bear on


class PaperLie:
    """From graduations of the layout to mm on paper, turned so that what falls lies at the top."""

    def __init__(self, made: MadeCut) -> None:
        fx, fy = made.falls or (0.0, 1.0)
        self.origin, self.scale, self.at = made.cut.start, 1.0, (0.0, 0.0)
        self.turn = (fy, fx)  # cosine and sine of the turn that brings (fx, fy) to (0, 1)

    def direction(self, d: Point) -> Point:
        """A direction of the layout on paper."""
        c, s = self.turn
        return d[0] * c - d[1] * s, d[0] * s + d[1] * c

    def point(self, p: Point) -> Point:
        """A point of the layout on paper."""
        x, y = self.direction((p[0] - self.origin[0], p[1] - self.origin[1]))
        return self.at[0] + x * self.scale, self.at[1] + y * self.scale


def alike(one: MadeCut, other: MadeCut) -> bool:
    """Whether two cuts are one to the shear: they differ only in where, and how turned, their metal lay.

    Metal that leans on gauge and stop may be `SLACK` larger or smaller where no printed size shows it; what is scribed
    is the same.
    """
    a, b = one.cut, other.cut
    if (a.back_gauge, round(a.angle, 6)) != (b.back_gauge, round(b.angle, 6)) or _ends(one) != _ends(other):
        return False
    near = EXACT if by_marks(one) or by_marks(other) else SLACK
    if not _near(_lying(one, one.outline), _lying(other, other.outline), near):
        return False
    left = [(p.mark, _lying(other, blank_outline(p))) for p in other.blanks]
    for placed in one.blanks:
        ring = _lying(one, blank_outline(placed))
        found = next((n for n, (mark, r) in enumerate(left) if mark == placed.mark and _near(ring, r, near)), None)
        if found is None:
            return False
        del left[found]
    return not left


def _ends(made: MadeCut) -> list[tuple[bool, int]]:
    """Printed sizes of both ends, in graduations, and which end is which."""
    lie = PaperLie(made)
    marks = border_marks(made.outline, made.cut.start, made.cut.end, laid_off=made.cut.back_gauge is None)
    middle = (lie.point(made.cut.start)[0] + lie.point(made.cut.end)[0]) / 2
    return sorted((lie.point(m.at)[0] > middle, round(m.size)) for m in marks)


def _lying(made: MadeCut, ring: Sequence[Point]) -> list[Point]:
    """Corners as at the shear, counted from the left end of the cut; of two that nearly coincide, one."""
    lie = PaperLie(made)
    left = min(lie.point(made.cut.start)[0], lie.point(made.cut.end)[0])
    out: list[Point] = []
    for x, y in map(lie.point, ring):
        p = x - left, y
        if all(plane.distance(p, q) > 1.0 for q in out):
            out.append(p)
    return out


def _near(some: Sequence[Point], others: Sequence[Point], near: float) -> bool:
    return len(some) == len(others) and all(any(plane.distance(p, q) <= near for q in others) for p in some)


def stop_side(angle: float, ring: Sequence[Point], tips: Sequence[Point]) -> tuple[Point, Point] | None:
    """The side of the metal that lies on the angle stop: where it meets the blade, and its end before the blade.

    `ring` and `tips` lie as at the shear, the blade along x. The stop's angle is counted before the blade, from the
    blade's right-hand part round to the stop: a stop at angle t runs along (cos t, -sin t). None without such a side,
    or when next to nothing of it lies before the blade.
    """
    ux, uy = cos(radians(angle)), -sin(radians(angle))
    best: tuple[float, Point, Point] | None = None
    for a, b in zip(ring, (*ring[1:], ring[0]), strict=True):
        side = plane.distance(a, b)
        if side < 1e-6 or abs((b[0] - a[0]) * uy - (b[1] - a[1]) * ux) / side > 1.5e-3:
            continue
        for tip in tips:
            along, off = plane.beside_line(a, b, tip)
            if off > 0.02 or not -0.02 <= along <= side + 0.02:
                continue
            end = min(a, b, key=lambda p: p[1])
            before = plane.distance(tip, end) if end[1] < tip[1] else 0.0
            if best is None or before > best[0]:
                best = before, tip, end
    if best is None or best[0] < LEAST_BEARING * plane.distance(*tips):
        return None
    return best[1:]


def slanted(made: MadeCut) -> bool:
    """Whether the cut or the metal it is made on is slanted: then it matters which side lies on the stop."""
    return abs(made.cut.angle - 90.0) > 0.05 or not is_rectangle(made.outline)


def stop_of(made: MadeCut) -> tuple[Point, Point] | None:
    """Where the stop's side of the metal meets the blade, and its end before it, as the metal lies, in graduations."""
    if not made.outline:
        return None
    lie = PaperLie(made)
    ring = [lie.point(p) for p in made.outline]
    return stop_side(made.cut.angle, ring, [lie.point(p) for p in (made.cut.start, made.cut.end)])


def stop_hand(made: MadeCut) -> str:
    """On which hand of the metal the angle stop lies at a cut, seen from before the shear; "" when there is none."""
    found = stop_of(made)
    if found is None:
        return ""
    lie = PaperLie(made)
    (fx, fy), (mx, my) = found[0], plane.middle([lie.point(p) for p in made.outline])
    # to the right of the stop's own line, which runs down from the blade
    right = (mx - fx) * sin(radians(made.cut.angle)) + (my - fy) * cos(radians(made.cut.angle))
    return "left" if right > 0 else "right"


def by_marks(made: MadeCut) -> bool:
    """Whether both ends of a cut are marked: without a gauge, or with a corner alone on it and no side on a stop."""
    return made.cut.back_gauge is None or (made.edge is None and not stop_hand(made))
