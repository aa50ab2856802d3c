"""Whether one stroke of the leaf brake can be made: reach, standing collisions, the sweep, and closing a hem."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from fabplan.bending.brake.collide import depth, edges_of, highest_angle, line_enters, sweep_hit
from fabplan.bending.brake.section import BendStrip, Path, mirrored
from fabplan.bending.brake.tool import TOUCH, BrakeShape
from fabplan.blanks.model import Point
from fabplan.plane import rotated

LEAST_PREBEND = 90.0  # a hem turned less than this cannot be closed
END_TOUCH = 0.1  # degrees: metal that comes to lie against a tool at the very end of the stroke only touches it


@dataclass(frozen=True, slots=True)
class Hit:
    """What stops a stroke.

    Attributes
    ----------
    what : str
        "angle", "flange", "clamp", "throat", "bed", "nose", "apron", "metal", "deep hem", "short leg",
        "jaw", "layer".
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

    def __init__(
        self, strip: BendStrip, brake: BrakeShape, springback: float | Sequence[float], *, measure: bool = False
    ) -> None:
        self.strip, self.brake = strip, brake
        self.overbends = (
            (springback,) * strip.n if isinstance(springback, (int, float)) else tuple(springback)
        )  # degrees past each bend's own
        self.measure = measure  # also find how deep metal enters a tool: slow, and only for the words
        self._clamped: dict[tuple[int, bool, int], Hit | None] = {}
        self._edges = {what: edges_of(o, closed=True) for what, o in (("bed", brake.bed), ("nose", brake.nose))}
        self._begins = {"bed": 180.0, "nose": min(math.degrees(math.atan2(y, x)) for x, y in brake.nose)}
        self._front: dict[tuple[int, bool, int], bool] = {}
        self._swinging: dict[tuple[int, bool, int], tuple[Hit | None, float, bool]] = {}
        self._both: dict[tuple[int, bool, int, int], tuple[Hit | None, float]] = {}
        self._close: dict[tuple[int, bool, int, int, bool], Hit | None] = {}
        # hems, folds between legs and bends sharper than leaf and nose allow: past square on the leaf, then closed
        self.twice = tuple(
            hem or (abs(b) > brake.reach + END_TOUCH and not strip.skipped >> k & 1)
            for k, (hem, b) in enumerate(zip(strip.hems, strip.bends, strict=True))
        )

    def measuring(self) -> Strokes:
        """The same, finding also how deep metal enters a tool."""
        return Strokes(self.strip, self.brake, self.overbends, measure=True)

    def wanted(self, k: int) -> float:
        """Degrees this stroke leaves in the metal: the bend's own, or as far as the leaf goes before it is closed."""
        return self.brake.reach if self.twice[k] else abs(self.strip.bends[k])

    def setting(self, k: int) -> float:
        """Degrees to swing the leaf: wanted plus the shop's springback, at most as far as leaf and nose let it."""
        if self.twice[k]:
            return self.wanted(k)
        return min(self.wanted(k) + self.overbends[k], max(self.brake.reach, self.wanted(k)))

    def set_to(self, k: int, clamp_high: bool, mask: int) -> float:
        """The setting of a stroke that can be made: the swing stops where metal comes to lie against something."""
        key = (k, not clamp_high, self.strip.side_mask(k, not clamp_high, mask))
        self.swinging(*key)
        self.together(k, clamp_high, mask)
        low, high = self.strip.side_mask(k, False, mask), self.strip.side_mask(k, True, mask)
        free = self._both[k, clamp_high, low, high][1] if (low or high) else math.inf
        return max(self.wanted(k), min(self.setting(k), self._swinging[key][1], free))

    def bar_off(self, k: int, clamp_high: bool, mask: int) -> bool:
        """Whether the apron's bar must be off for the swinging side to lie on the leaf."""
        key = (k, not clamp_high, self.strip.side_mask(k, not clamp_high, mask))
        self.swinging(*key)
        return self._swinging[key][2]

    def shimmed(self, k: int, clamp_high: bool, mask: int) -> bool:
        """Whether an open hem comes under the nose, which its shim must hold open."""
        path = self.strip.path(k, clamp_high, mask)
        return path.hem_open and path.run - path.hem_width - self.brake.setback - self.brake.land < -1e-9

    # -- one stroke -----------------------------------------------------------------------------------------------
    def alone(self, k: int) -> Hit | None:
        """Whether the leaf swings far enough for bend k at all."""
        if not self.twice[k]:
            return None
        if self.brake.reach < LEAST_PREBEND:
            return Hit("angle", wanted=min(LEAST_PREBEND, abs(self.strip.bends[k])), contact=self.brake.reach)
        return self._hem_alone(k) if self.strip.end_hems[k] else None

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
        if path.flat < brake.least_clamp - self.strip.slack:
            return Hit("clamp", brake.least_clamp - path.flat, bend=path.end[1] if path.end[0] != "edge" else -1)
        if path.past > self.strip.slack:
            return Hit("layer", path.past, bend=path.end[1])
        return self._at_rest(mirrored(path.points), path)

    def swinging(self, k: int, high: bool, mask: int) -> Hit | None:
        """The side on the leaf, at rest and swept past bed and nose."""
        key = (k, high, self.strip.side_mask(k, high, mask))
        if key not in self._swinging:
            self._swinging[key] = self._check_swinging(k, self.strip.path(*key))
        return self._swinging[key][0]

    def _check_swinging(self, k: int, path: Path) -> tuple[Hit | None, float, bool]:
        """What stops it before the angle wanted; how far it swings at all; whether the bar is off."""
        brake = self.brake
        if path.flat < brake.least_flange - self.strip.slack:
            bend = path.end[1] if path.end[0] != "edge" else -1
            return Hit("flange", brake.least_flange - path.flat, bend=bend), 0.0, False
        if path.past > self.strip.slack:
            return Hit("layer", path.past, bend=path.end[1]), 0.0, False
        rest = self._at_rest(path.points, path, leaf=brake.apron)
        off = rest is not None and rest.what == "apron" and bool(brake.narrow)
        if off:
            rest = self._at_rest(path.points, path, leaf=brake.narrow)
        if rest is not None:
            return rest, 0.0, off
        turn, wanted = self.setting(k), self.wanted(k)
        worst: Hit | None = None
        free = math.inf
        highest, own = highest_angle(path.points) + turn, None
        for what, outline in (("bed", brake.bed), ("nose", brake.nose)):
            if highest < self._begins[what]:
                continue  # it does not swing as far as that
            own = edges_of(path.points) if own is None else own
            hit = sweep_hit(path.points, outline, turn, closed=True, edges=self._edges[what], own=own)
            if hit is None or hit[0] >= free:
                continue
            free = hit[0]
            if hit[0] < wanted - END_TOUCH:
                deep = depth(rotated(path.points, wanted), outline) if self.measure else 0.0
                worst = Hit(what, deep, hit[0], wanted, path.names[hit[2]] if hit[1] else None)
        return worst, max(wanted, free), off

    def together(self, k: int, clamp_high: bool, mask: int) -> Hit | None:
        """The swinging side against the clamped side."""
        low, high = self.strip.side_mask(k, False, mask), self.strip.side_mask(k, True, mask)
        if low == 0 and high == 0:
            return None  # flat on both sides
        key = (k, clamp_high, low, high)
        if key not in self._both:
            fixed = mirrored(self.strip.path(k, clamp_high, mask).points)
            moving = self.strip.path(k, not clamp_high, mask)
            wanted = self.wanted(k)
            hit = sweep_hit(moving.points, fixed, self.setting(k), closed=False)
            stopped = None
            if hit is not None and hit[0] < wanted - END_TOUCH:
                stopped = Hit("metal", 0.0, hit[0], wanted, moving.names[hit[2]] if hit[1] else None)
            self._both[key] = stopped, math.inf if hit is None else max(wanted, hit[0])
        return self._both[key][0]

    def first_problem(self, k: int, clamp_high: bool, mask: int) -> Hit | None:
        """What stops bend k with that side clamped, or None."""
        return (
            self.alone(k)
            or self.clamped(k, clamp_high, mask)
            or self.swinging(k, not clamp_high, mask)
            or self.together(k, clamp_high, mask)
        )

    # -- closing ----------------------------------------------------------------------------------------------------
    def closing(self, k: int, under_high: bool, pushed_in: bool, mask: int) -> Hit | None:
        """Closing bend k under the nose: pushed in from where it was bent, or with the part out in front.

        `under_high` says which side lies underneath; of a hem at an end that is always the part beside it.
        """
        low, high = self.strip.side_mask(k, False, mask), self.strip.side_mask(k, True, mask)
        key = (k, under_high, low, high, pushed_in)
        if key not in self._close:
            under = self.strip.path(k, under_high, mask)
            if self.strip.end_hems[k]:
                self._close[key] = self._check_hem(k, under, pushed_in)
            else:
                self._close[key] = self._check_fold(k, under, self.strip.path(k, not under_high, mask), pushed_in)
        return self._close[key]

    def _check_hem(self, k: int, path: Path, pushed_in: bool) -> Hit | None:
        w = self.strip.hem_width(k)
        if path.flat < w - self.strip.slack:
            return Hit("short leg", w - path.flat, bend=path.end[1] if path.end[0] != "edge" else -1)
        stands = w * math.sin(math.radians(self.wanted(k)))
        if stands > self.brake.jaw + 1e-9:
            return Hit("jaw", stands - self.brake.jaw)
        if pushed_in:  # the fold comes to the front of the nose, which presses the flap from there back
            return self._at_rest(tuple((-x - self.brake.setback, y) for x, y in path.points), path)
        back = self.brake.setback + w
        return self._at_rest(tuple((x - back, y) for x, y in path.points), path, leaf=self.brake.apron)

    def pressed(self, k: int, mask: int) -> float:
        """How deep a fold between legs, or a sharp bend, comes under the nose: as far as its flats and the brake go."""
        low, high = (self.strip.path(k, high, mask) for high in (False, True))
        return _deep(low, high, self.brake, math.radians(180.0 - abs(self.strip.bends[k])))

    def opening(self, k: int, mask: int) -> float:
        """Height under the nose that closes bend k to its angle: the opening of a fold, or what a sharp bend leaves."""
        left = math.radians(180.0 - abs(self.strip.bends[k]))
        return (self.strip.gaps[k] or 0.0) if self.strip.hems[k] else self.pressed(k, mask) * math.tan(left)

    def _check_fold(self, k: int, under: Path, flap: Path, pushed_in: bool) -> Hit | None:
        """A fold between legs or a sharp bend: what lies over swings on to its angle and must strike nothing."""
        full, brake = abs(self.strip.bends[k]), self.brake
        hit = sweep_hit(flap.points, mirrored(under.points), full, closed=False)
        if hit is not None and hit[0] < full - END_TOUCH:
            return Hit("metal", 0.0, hit[0], full, flap.names[hit[2]] if hit[1] else None)
        left = math.radians(180.0 - full)
        over = min(under.run, flap.run) - brake.deepest_hem
        if self.strip.hems[k] and over > self.strip.slack:
            return Hit("deep hem", over)
        deep = _deep(under, flap, brake, left)
        standing = rotated(flap.points, self.wanted(k))
        stands = max(y for _, y in standing)
        if not pushed_in:  # the flap leans out in front of the nose
            stands = min(stands, deep * math.tan(math.radians(180.0 - self.wanted(k))))
        if stands > brake.jaw + 1e-9:
            return Hit("jaw", stands - brake.jaw)
        back = brake.setback + (0.0 if pushed_in else deep)
        raised = 0.0 if self.strip.hems[k] else deep * math.tan(left)  # the nose, on its blocks
        leaf = () if pushed_in else brake.apron
        for path, points in ((under, mirrored(under.points)), (flap, rotated(flap.points, full))):
            placed = tuple(((x if pushed_in else -x) - back, y) for x, y in points)
            hit_ = self._at_rest(placed, path, leaf=leaf, raised=raised)
            if hit_ is not None:
                return hit_
        return None

    # -- standing metal -------------------------------------------------------------------------------------------
    def _at_rest(
        self, points: tuple[Point, ...], path: Path, *, leaf: tuple[Point, ...] = (), raised: float = 0.0
    ) -> Hit | None:
        brake = self.brake
        reach = -min(x for x, _ in points)
        if reach > brake.throat + 1e-9:
            return Hit("throat", reach - brake.throat)
        nose = tuple((x, y + raised) for x, y in brake.nose) if raised else brake.nose
        tools = [("bed", brake.bed), ("nose", nose)] + ([("apron", leaf)] if leaf else [])
        for what, outline in tools:
            if line_enters(points, outline):
                deep = depth(points, outline) if self.measure else 0.0
                return Hit(what, deep, bend=_nearest_bend(points, path, outline))
        return None

    def front_loading(self, k: int, clamp_high: bool, mask: int) -> bool:
        """Whether everything behind the nose, standing or hanging, goes through the jaw opening."""
        key = (k, clamp_high, self.strip.side_mask(k, clamp_high, mask))
        if key not in self._front:
            heights = [y for _, y in self.strip.path(*key).points]
            self._front[key] = max(heights) - min(heights) <= self.brake.jaw + 1e-9
        return self._front[key]


def _deep(low: Path, high: Path, brake: BrakeShape, left: float) -> float:
    """How far both flats beside a bend go under the nose together, one leaning over the other by `left` radians."""
    return min(min(low.run, high.run) * math.cos(left), brake.deepest_hem) - TOUCH


def _nearest_bend(points: tuple[Point, ...], path: Path, outline: tuple[Point, ...]) -> int | None:
    """The bend where the line starts to enter (the raw edge is -1)."""
    for i in range(1, len(points)):
        if line_enters(points[i - 1 : i + 1], outline):
            return path.names[i]
    return None
