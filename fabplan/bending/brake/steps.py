"""From a bend order to the steps of a section, with its pictures in the brake's frame."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from fabplan.bending.brake.bend_order import BendStroke, Move, SectionProblem
from fabplan.bending.brake.section import BendStrip, Path, mirrored
from fabplan.bending.brake.springback import metal_springback, nose_radius
from fabplan.bending.model import Check, Far, Gauge, Hold, SectionState, Side, Step, Turn
from fabplan.bending.tools import BY_HAND, LEAF_BRAKE
from fabplan.bending.words import end_name
from fabplan.blanks.model import FlatPattern, Point
from fabplan.job.metals import MetalProfile
from fabplan.plane import rotated


@dataclass(frozen=True, slots=True)
class BrakeWork:
    """What the steps are made of."""

    problem: SectionProblem
    metal: MetalProfile


@dataclass(frozen=True, slots=True)
class StripLie:
    """How the strip lies: side up, end in."""

    face_up: bool
    finish_in: bool


def section_steps(bench: BrakeWork, order: Iterable[BendStroke]) -> tuple[Step, ...]:
    """One step a stroke: what is bent past square and then closed makes two, the pre-bend and the closing."""
    steps: list[Step] = []
    lie: StripLie | None = None
    for made, move, face_up, end_after in order:
        now = StripLie(face_up, move.finish_in)
        steps.append(_bend(bench, len(steps) + 1, made, move, lie, now))
        lie = now
        if bench.problem.strokes.twice[move.bend]:
            now = StripLie(face_up, end_after)
            steps.append(_close(bench, len(steps) + 1, made, move, lie, now))
            lie = now
    return tuple(steps)


def hand_steps(
    bench: BrakeWork,
    steps: tuple[Step, ...],
    pattern: FlatPattern,
    by_hand: Mapping[int, float],
    far: FlatPattern | None = None,
) -> tuple[Step, ...]:
    """What is left to the hands, last of all, in order from the start edge; the strip lies as the brake left it."""
    out = list(steps)
    made = sum(1 << k for k in range(bench.problem.strip.n)) & ~bench.problem.strip.skipped
    rest = dict(sorted(by_hand.items()))
    for number in sorted(by_hand):
        degrees, k = rest.pop(number), number - 1
        strip = BendStrip(pattern, rest)
        last = out[-1] if out else None
        toward: Side = "face" if strip.bends[k] > 0 else "back"
        check = Check(what="hem", size=strip.hem_width(k)) if strip.end_hems[k] else _check(strip, k, made)
        size = check.size
        if far is not None and check.to is not None:
            size = check_to(BendStrip(far, rest), k, made, check.to)
        out.append(
            Step(
                step=len(out) + 1,
                edge=number,
                turn=Turn(),
                hold=Hold(way="by hand", by_hand=degrees),
                turns_over=False,
                rotates=False,
                changes_tool=False,
                side_up=last.side_up if last else toward,
                end_in=last.end_in if last else end_name(False),
                action="by hand",
                turned_deg=abs(strip.bends[k]),
                set_deg=abs(strip.bends[k]),
                check_deg=abs(strip.bends[k]),
                tool=BY_HAND,
                stop=0.0,
                gauged_from=Gauge(what="bend", ref=number),
                check=check,
                far=None if far is None else Far(stop=0.0, size=size),
                done=_numbers(made & ~sum(1 << j - 1 for j in (number, *rest))),
                toward=toward,
            )
        )
        made |= 1 << k
    return tuple(out)


def gauge(strip: BendStrip, k: int, clamp_high: bool, made: int) -> tuple[Gauge, float, bool]:
    """What the stop touches, its distance to the bend's mark (outside), and whether it is on the clamped side.

    An edge or hem is better than a bend, and the stop behind the nose better than a tape in front of it.
    """
    sides = [(strip.path(k, clamp_high, made), True), (strip.path(k, not clamp_high, made), False)]
    path, behind = next((s for s in sides if s[0].end[0] != "bend"), sides[0])
    return gauge_of(path), path.run + (0.0 if path.end[0] == "edge" else strip.outer(path.end[1])), behind


def gauge_of(path: Path) -> Gauge:
    """Edge 1 is the start edge, edge 2 the finish edge; bends, folds and hems by their number."""
    what, ref = path.end
    return Gauge(what=what, ref=ref + 1)  # type: ignore[arg-type]


def _bend(bench: BrakeWork, number: int, made: int, move: Move, lie: StripLie | None, now: StripLie) -> Step:
    """The stroke of one move: setting, stop, what is clamped and swung, and what to check afterwards."""
    strip, strokes = bench.problem.strip, bench.problem.strokes
    k, twice = move.bend, strokes.twice[move.bend]
    wanted = strokes.wanted(k)
    setting = wanted if twice else strokes.set_to(k, move.finish_in, made)
    ref, stop, behind = gauge(strip, k, move.finish_in, made)
    before = _state(strip, k, move.finish_in, made, 0.0)
    held = strip.width - strip.marks[k] if now.finish_in else strip.marks[k]
    sharp = nose_radius(strip.thickness, strokes.brake.setback)
    radius = strip.radii[k] if not strip.hems[k] and strip.radii[k] > sharp + 1e-6 else 0.0
    short = 0.0 if twice or radius else wanted + strokes.overbends[k] - setting
    clamped = strip.path(k, move.finish_in, made)
    return Step(
        step=number,
        edge=k + 1,
        turn=_turn(lie, now),
        hold=Hold(
            behind=behind,
            packing=_underneath(strip, k, clamped, strokes.brake.bed_depth),
            wide_swings=held < strip.width / 2 - 1 / 16,
            bar_off=strokes.bar_off(k, move.finish_in, made),
            shims_in=(clamped.end[1] + 1,) if strokes.shimmed(k, move.finish_in, made) else (),
            radius=radius,
            by_hand=short if short > 0.05 else 0.0,
        ),
        turns_over=lie is not None and lie.face_up != now.face_up,
        rotates=False,
        changes_tool=False,
        side_up="face" if now.face_up else "back",
        end_in=end_name(now.finish_in),
        action="pre-bend" if twice else "fold",
        turned_deg=wanted,
        set_deg=setting,
        check_deg=wanted,
        tool=LEAF_BRAKE,
        stop=stop,
        gauged_from=ref,
        check=_check_prebent(strip, k, made, wanted) if twice else _check(strip, k, made),
        done=_numbers(made),
        toward="face" if strip.bends[k] > 0 else "back",
        metal_springback=None if twice else metal_springback(bench.metal, wanted, strip.radii[k]),
        loading="front" if strokes.front_loading(k, move.finish_in, made) else "end",
        before=before,
        after=_state(strip, k, move.finish_in, made, wanted),
    )


def _close(bench: BrakeWork, number: int, made: int, move: Move, lie: StripLie, now: StripLie) -> Step:
    strip, strokes = bench.problem.strip, bench.problem.strokes
    k, full = move.bend, abs(strip.bends[move.bend])
    return Step(
        step=number,
        edge=k + 1,
        turn=_turn(lie, now),
        hold=Hold(
            way="pushed in" if move.pushed_in else "in front",
            shim=strokes.opening(k, made),
            shims_in=_pressed(bench.problem, k, made),
            deep=0.0 if strip.end_hems[k] else strokes.pressed(k, made),
        ),
        turns_over=False,
        rotates=False,
        changes_tool=False,
        side_up="face" if now.face_up else "back",
        end_in=end_name(now.finish_in),
        action="close",
        turned_deg=full,
        set_deg=full,
        check_deg=full,
        tool=LEAF_BRAKE,
        stop=0.0,
        gauged_from=Gauge(what="hem" if strip.end_hems[k] else "fold" if strip.hems[k] else "bend", ref=k + 1),
        check=Check(what="hem", size=strip.hem_width(k)) if strip.end_hems[k] else _check(strip, k, made),
        done=_numbers(made),
        toward="face" if strip.bends[k] > 0 else "back",
        loading="front",
        before=_closing_state(bench.problem, move, made, strokes.wanted(k)),
        after=_closing_state(bench.problem, move, made, full),
    )


def _underneath(strip: BendStrip, k: int, clamped: Path, bed: float) -> bool:
    """Whether a made hem lies between the clamped metal and the bed."""
    what, j = clamped.end
    return what in {"hem", "fold"} and strip.bends[j] * strip.bends[k] < 0 and clamped.run - clamped.hem_width < bed


def _pressed(problem: SectionProblem, k: int, made: int) -> tuple[int, ...]:
    """Open hems that are pressed together with bend k, and keep their shims."""
    strip = problem.strip
    end_hem = strip.end_hems[k]
    paths = [strip.path(k, high, made) for high in ((strip.hem_at_start[k],) if end_hem else (False, True))]
    deep = strip.hem_width(k) if end_hem else problem.strokes.pressed(k, made)
    return tuple(sorted(p.end[1] + 1 for p in paths if p.hem_open and p.run - p.hem_width < deep - 1e-9))


def _turn(lie: StripLie | None, now: StripLie) -> Turn:
    """What changes is the side up and the end in the brake."""
    if lie is None:
        return Turn()
    over, other_end = lie.face_up != now.face_up, lie.finish_in != now.finish_in
    if over:
        return Turn(over="roll" if other_end else "end")
    return Turn(swap=other_end)


def _check(strip: BendStrip, k: int, made: int) -> Check:
    """Outside size to the nearest edge, hem or bend."""
    path = min((strip.path(k, high, made) for high in (False, True)), key=lambda p: p.flat)
    return Check(what="leg", to=gauge_of(path), size=path.flat)


def check_to(strip: BendStrip, k: int, made: int, ref: Gauge) -> float:
    """Outside size of bend k to what is named."""
    return next(p.flat for p in (strip.path(k, high, made) for high in (False, True)) if gauge_of(p) == ref)


def _check_prebent(strip: BendStrip, k: int, made: int, turned: float) -> Check:
    """Outside size of a bend that is not closed yet: of a hem to its raw edge, else to the nearest of both sides."""
    outside = strip.setbacks[k] - strip.allowances[k] * turned / abs(strip.bends[k]) / 2
    if strip.end_hems[k]:  # as the hem is asked for: the blank's rounding, all at one edge, tells nothing of the fold
        flat = strip.allowances[k] * (1 - turned / abs(strip.bends[k])) / 2
        return Check(what="hem", size=strip.hem_width(k) + flat)
    path = min((strip.path(k, high, made) for high in (False, True)), key=lambda p: p.flat)
    return Check(what="leg", to=gauge_of(path), size=path.flat - strip.outer(k) + outside)


def _numbers(made: int) -> tuple[int, ...]:
    return tuple(j + 1 for j in range(made.bit_length()) if made >> j & 1)


# pictures ----------------------------------------------------------------------------------------------------------


def _state(strip: BendStrip, k: int, clamp_high: bool, made: int, turned: float) -> SectionState:
    """The strip with bend k at the bending edge, its swinging side turned so far."""
    behind, front = strip.drawn(k, clamp_high, made), strip.drawn(k, not clamp_high, made)
    a = mirrored(behind.points)
    b = rotated(front.points, turned)
    hems = [mirrored(h) for h in doubled(strip, k, behind)] + [rotated(h, turned) for h in doubled(strip, k, front)]
    unmade = (*mirrored(behind.unmade), *rotated(front.unmade, turned))
    return SectionState(
        line=(*reversed(a), *b[1:]),
        nose_index=len(a) - 1,
        hems=tuple((h[0], h[1]) for h in hems),
        unmade=((0.0, 0.0), *unmade) if turned == 0 else unmade,
    )


def _closing_state(problem: SectionProblem, move: Move, made: int, turned: float) -> SectionState:
    """Bend `move.bend` under the nose, pre-bent or closed."""
    strip, k = problem.strip, move.bend
    if not strip.end_hems[k]:
        return _closing_fold(problem, move, made, turned)
    part = strip.drawn(k, strip.hem_at_start[k], made)
    flap = strip.hem_width(k)
    back = 2 * strip.thickness + (0.0 if move.pushed_in else flap)
    sign = -1.0 if move.pushed_in else 1.0

    def place(points: tuple[Point, ...]) -> tuple[Point, ...]:
        return tuple((sign * x - back, y) for x, y in points)

    line = place(part.points)
    hems = [place(h) for h in doubled(strip, k, part)]
    if turned >= 180:
        lift = strip.thickness + (strip.gaps[k] or 0.0)
        hems.append(place(((0.0, lift), (flap, lift))))
        shown: tuple[Point, ...] = line
        at = 0
    else:
        lean = math.radians(180 - turned)
        shown = (*place(((flap * math.cos(lean), flap * math.sin(lean)),)), *line)
        at = 1
    return SectionState(
        line=shown,
        nose_index=at,
        hems=tuple((h[0], h[1]) for h in hems),
        unmade=place(part.unmade),
    )


def _closing_fold(problem: SectionProblem, move: Move, made: int, turned: float) -> SectionState:
    """A fold between legs, or a sharp bend: both sides of it, what lies under it first."""
    strip, k = problem.strip, move.bend
    under, flap = strip.drawn(k, move.finish_in, made), strip.drawn(k, not move.finish_in, made)
    back = problem.strokes.brake.setback + (0.0 if move.pushed_in else problem.strokes.pressed(k, made))
    lift = strip.thickness + (strip.gaps[k] or 0.0) if turned >= 180 else 0.0

    def place(points: tuple[Point, ...], up: float = 0.0) -> tuple[Point, ...]:
        return tuple(((x if move.pushed_in else -x) - back, y + up) for x, y in points)

    below, above = place(mirrored(under.points)), place(rotated(flap.points, turned), lift)
    hems = [place(mirrored(h)) for h in doubled(strip, k, under)]
    hems += [place(rotated(h, turned), lift) for h in doubled(strip, k, flap)]
    return SectionState(
        line=(*reversed(below), *above[0 if lift else 1 :]),
        nose_index=len(below) - 1,
        hems=tuple((h[0], h[1]) for h in hems),
        unmade=(*place(mirrored(under.unmade)), *place(rotated(flap.unmade, turned), lift)),
    )


def doubled(strip: BendStrip, k: int, path: Path) -> list[tuple[Point, Point]]:
    """The finished hem at the end of a path, as the second layer lying beside its leg."""
    j = path.names[-1]
    if j < 0 or not strip.hems[j] or len(path.points) < 2:
        return []
    (x0, y0), (x1, y1) = path.points[-2:]
    length = math.hypot(x1 - x0, y1 - y0)
    ux, uy = (x0 - x1) / length, (y0 - y1) / length
    up = strip.bends[j] * strip.bends[k] > 0
    lift = (strip.thickness + (strip.gaps[j] or 0.0)) * (1 if up else -1)
    nx, ny = uy * lift, -ux * lift  # left of the path: the side that faces up
    width = min(strip.hem_width(j), length)
    return [((x1 + nx, y1 + ny), (x1 + nx + ux * width, y1 + ny + uy * width))]
