"""Whether one stroke of the leaf brake can be made: reach, standing collisions, the sweep, and closing a hem."""

from __future__ import annotations

import math
from dataclasses import dataclass

from fabplan.bending.brake.collide import depth, line_enters, sweep_hit
from fabplan.bending.brake.section import Path, Strip, mirrored, rotated
from fabplan.bending.brake.tool import BrakeShape
from fabplan.blanks.model import Point

LEAST_PREBEND = 90.0  # a hem turned less than this cannot be closed
END_TOUCH = 0.1  # degrees: metal that comes to lie against a tool at the very end of the stroke only touches it


@dataclass(frozen=True, slots=True)
class Hit:
    """What stops a stroke.

    Attributes
    ----------
    what : str
        "angle", "flange", "clamp", "throat", "bed", "nose", "apron", "metal", "open hem", "deep hem", "short leg",
        "jaw".
    amount : float
        Inches too short, too deep or entered; 0 when only the angle tells.
    contact : float or None
        Degrees turned when it touches, for a sweep.
    wanted : float
        Degrees that were wanted.
    bend : int or None
        Bend (index) of the metal that touches; -1 a raw edge.
    """

    what: str
    amount: float = 0.0
    contact: float | None = None
    wanted: float = 0.0
    bend: int | None = None


class Strokes:
    """Answers of one strip on one brake, kept for each side's own set of finished bends."""

    def __init__(self, strip: Strip, brake: BrakeShape, springback: float, *, measure: bool = False) -> None:
        self.strip, self.brake, self.springback = strip, brake, springback
        self.measure = measure  # also find how deep metal enters a tool: slow, and only for the words
        self._clamped: dict[tuple[int, bool, int], Hit | None] = {}
        self._swinging: dict[tuple[int, bool, int], Hit | None] = {}
        self._both: dict[tuple[int, bool, int, int], Hit | None] = {}
        self._close: dict[tuple[int, bool, int, bool], Hit | None] = {}

    def wanted(self, k: int) -> float:
        """Degrees this stroke leaves in the metal: the bend's own, or the pre-bend of a hem."""
        if not self.strip.hems[k]:
            return abs(self.strip.bends[k])
        return self.brake.reach

    def setting(self, k: int) -> float:
        """Degrees to swing the leaf: wanted plus the shop's springback, at most as far as leaf and nose let it."""
        if self.strip.hems[k]:
            return self.wanted(k)
        return min(self.wanted(k) + self.springback, max(self.brake.reach, self.wanted(k)))

    # -- one stroke -----------------------------------------------------------------------------------------------
    def alone(self, k: int) -> Hit | None:
        """Whether the leaf swings far enough for bend k at all."""
        most = self.brake.largest_angle
        if self.strip.hems[k]:
            if self.brake.reach < LEAST_PREBEND:
                return Hit("angle", wanted=LEAST_PREBEND, contact=self.brake.reach)
            return self._hem_alone(k)
        if self.wanted(k) > most + 1e-9:
            return Hit("angle", wanted=self.wanted(k), contact=most)
        return None

    def _hem_alone(self, k: int) -> Hit | None:
        w = self.strip.hem_width(k)
        if w > self.brake.deepest_hem + 1e-9:
            return Hit("deep hem", w - self.brake.deepest_hem)
        return None

    def clamped(self, k: int, high: bool, mask: int) -> Hit | None:
        """The side under the nose, at rest (`high`: the finish edge's side is clamped)."""
        key = (k, high, self.strip.side_mask(k, high, mask))
        if key not in self._clamped:
            self._clamped[key] = self._check_clamped(self.strip.path(*key))
        return self._clamped[key]

    def _check_clamped(self, path: Path) -> Hit | None:
        brake = self.brake
        if path.flat < brake.least_clamp - 1e-9:
            return Hit("clamp", brake.least_clamp - path.flat, bend=path.end[1] if path.end[0] != "edge" else -1)
        if path.hem_open:
            room = path.run - path.hem_width - brake.setback - brake.land
            if room < -1e-9:
                return Hit("open hem", -room, bend=path.end[1])
        return self._at_rest(mirrored(path.points), path, apron=False)

    def swinging(self, k: int, high: bool, mask: int) -> Hit | None:
        """The side on the leaf, at rest and swept past bed and nose."""
        key = (k, high, self.strip.side_mask(k, high, mask))
        if key not in self._swinging:
            self._swinging[key] = self._check_swinging(k, self.strip.path(*key))
        return self._swinging[key]

    def _check_swinging(self, k: int, path: Path) -> Hit | None:
        brake = self.brake
        if path.flat < brake.least_flange - 1e-9:
            return Hit("flange", brake.least_flange - path.flat, bend=path.end[1] if path.end[0] != "edge" else -1)
        rest = self._at_rest(path.points, path, apron=True)
        if rest is not None:
            return rest
        turn = self.setting(k)
        worst: Hit | None = None
        for what, outline in (("bed", brake.bed), ("nose", brake.nose)):
            hit = sweep_hit(path.points, outline, turn, closed=True)
            if hit is not None and hit[0] < turn - END_TOUCH and (worst is None or hit[0] < (worst.contact or 0.0)):
                deep = depth(rotated(path.points, turn), outline) if self.measure else 0.0
                worst = Hit(what, deep, hit[0], turn, path.names[hit[2]] if hit[1] else None)
        return worst

    def together(self, k: int, clamp_high: bool, mask: int) -> Hit | None:
        """The swinging side against the clamped side."""
        low, high = self.strip.side_mask(k, False, mask), self.strip.side_mask(k, True, mask)
        if low == 0 and high == 0:
            return None  # flat on both sides
        key = (k, clamp_high, low, high)
        if key not in self._both:
            fixed = mirrored(self.strip.path(k, clamp_high, mask).points)
            moving = self.strip.path(k, not clamp_high, mask)
            hit = sweep_hit(moving.points, fixed, self.setting(k), closed=False)
            self._both[key] = (
                None
                if hit is None
                else Hit("metal", 0.0, hit[0], self.setting(k), moving.names[hit[2]] if hit[1] else None)
            )
        return self._both[key]

    def first_problem(self, k: int, clamp_high: bool, mask: int) -> Hit | None:
        """What stops bend k with that side clamped, or None."""
        return (
            self.alone(k)
            or self.clamped(k, clamp_high, mask)
            or self.swinging(k, not clamp_high, mask)
            or self.together(k, clamp_high, mask)
        )

    # -- closing a hem --------------------------------------------------------------------------------------------
    def closing(self, k: int, pushed_in: bool, mask: int) -> Hit | None:
        """Closing hem k under the nose: pushed in from where it was bent, or with the part out in front."""
        high = self.strip.hem_at_start[k]  # the part lies on that side of the hem
        key = (k, high, self.strip.side_mask(k, high, mask), pushed_in)
        if key not in self._close:
            self._close[key] = self._check_closing(k, self.strip.path(*key[:3]), pushed_in)
        return self._close[key]

    def _check_closing(self, k: int, path: Path, pushed_in: bool) -> Hit | None:
        w = self.strip.hem_width(k)
        if path.flat < w - 1e-9:
            return Hit("short leg", w - path.flat, bend=path.end[1] if path.end[0] != "edge" else -1)
        if path.hem_open and path.run - path.hem_width < w - 1e-9:
            return Hit("open hem", w - path.run + path.hem_width, bend=path.end[1])
        stands = w * math.sin(math.radians(self.wanted(k)))
        if stands > self.brake.jaw + 1e-9:
            return Hit("jaw", stands - self.brake.jaw)
        back = self.brake.setback + w
        if pushed_in:
            placed = tuple((-x - back, y) for x, y in path.points)
            return self._at_rest(placed, path, apron=False)
        placed = tuple((x - back, y) for x, y in path.points)
        return self._at_rest(placed, path, apron=True)

    # -- standing metal -------------------------------------------------------------------------------------------
    def _at_rest(self, points: tuple[Point, ...], path: Path, *, apron: bool) -> Hit | None:
        brake = self.brake
        reach = -min(x for x, _ in points)
        if reach > brake.throat + 1e-9:
            return Hit("throat", reach - brake.throat)
        tools = [("bed", brake.bed), ("nose", brake.nose)] + ([("apron", brake.apron)] if apron else [])
        for what, outline in tools:
            if line_enters(points, outline):
                deep = depth(points, outline) if self.measure else 0.0
                return Hit(what, deep, bend=_nearest_bend(points, path, outline))
        return None

    def front_loading(self, k: int, clamp_high: bool, mask: int) -> bool:
        """Whether everything behind the nose is lower than the jaw opening."""
        return max(y for _, y in self.strip.path(k, clamp_high, mask).points) <= self.brake.jaw + 1e-9


def _nearest_bend(points: tuple[Point, ...], path: Path, outline: tuple[Point, ...]) -> int | None:
    """The bend where the line starts to enter (the raw edge is -1)."""
    for i in range(1, len(points)):
        if line_enters(points[i - 1 : i + 1], outline):
            return path.names[i]
    return None
