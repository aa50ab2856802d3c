"""Bend step of a section on the leaf brake: the strip from above, and the brake in section before and after.

Working side at the right, where the operator stands; the strip is clamped at the left. Metal thickness is exaggerated.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from math import atan2, cos, degrees, pi, radians, sin, tan

from fabplan import plane
from fabplan.bending.model import BendSchedule, BrakeSection, SectionState, Step
from fabplan.blanks import clip
from fabplan.blanks.model import FlatPattern
from fabplan.plotter.bend.progress import progress
from fabplan.plotter.board import geometry, labels
from fabplan.plotter.board.draft import Draft, spread
from fabplan.plotter.board.measure import width
from fabplan.plotter.model import Circle, Drawing, Fill, Point, Text
from fabplan.units import NM_PER_INCH

UNDER = 1e-3  # inches
HEM_GAP = 1.3  # mm between the middles of a hem's layers on paper
LIFT = 0.55  # mm the metal's line is drawn above the bed, half its drawn thickness
LEAST_VIEW = 1.6  # inches of brake shown at least


def draw_strip_plan(
    pattern: FlatPattern, schedule: BendSchedule, step: Step, *, width_mm: float = 44.0, height_mm: float = 38.0
) -> Drawing:
    """The strip from above: which end goes in, which side is up, which bend line is worked on."""
    assert pattern.section is not None
    draft = Draft()
    across = pattern.width_units * pattern.grid / NM_PER_INCH
    left, right, low, high = 6.0, width_mm - 10.0, 8.0, height_mm - 10.5
    scale = (right - left) / across
    state = progress(schedule, step)
    start_in = start_clamped(step)

    def at(mark: float) -> float:
        return left + mark * scale if start_in else right - mark * scale

    active = at(pattern.section.marks[step.edge - 1])
    draft.polygon(((left, low), (right, low), (right, high), (left, high)), None, "white")
    moves = right
    if step.action == "close" and step.hold.deep:  # what is folded over lies in front, or goes in first
        moves = right if step.hold.way == "pushed in" else left
    elif step.action == "close":  # only the hem itself is pressed down
        moves = at(0.0) if step.edge == 1 else at(across)
    draft.polygon(((active, low), (moves, low), (moves, high), (active, high)), None, "hatch")
    for x in (left, right):
        draft.line(((x, low), (x, high)), "cut")
    for y, up in ((low, 1.0), (high, -1.0)):
        _zigzag(draft, left, right, y, up)
    spots = []
    for fold in pattern.folds:
        x = at(pattern.section.marks[fold.edge - 1])
        if fold.edge == step.edge:
            draft.line(((x, low), (x, high)), "fold-active")
        elif state.turned.get(fold.edge, 0.0) > 0:
            draft.line(((x, low), (x, high)), "hem" if fold.toward == step.side_up else "hidden")
        else:
            draft.line(((x, low), (x, high)), "fold-later")
        spots.append((x, fold.edge))
    level = (low + high) / 2
    tip = max(left + 2.0, active - 8.0)
    if step.action != "close":
        draft.line(((right + 9.0, high - 2.5), (tip, high - 2.5)), "cut", "end")
    others = [(x, e) for x, e in sorted(spots) if e != step.edge]
    room = [width(str(e), 9.0) / 2 + 1.0 for _, e in others]
    shifted = spread([x for x, _ in others], room, 0.5, width_mm - 0.5) or [x for x, _ in others]
    for (x, edge), text_x in zip(others, shifted, strict=True):
        draft.line(((x, high + 0.4), (text_x, high + 1.4)), "dimension")
        draft.text(Text(at=(text_x, high + 3.0), text=str(edge), size=9.0))
    draft.text(Text(at=(active, low - 4.2), text=str(step.edge), size=14.0, bold=True))
    back = step.side_up == "back"
    name = "BACK UP" if back else "FACE UP"
    face = Text(at=((left + right) / 2, height_mm - 2.6), text=name, size=8.5, bold=True, white_on_black=back)
    draft.text(face)
    ends = ("start edge", "finish edge") if start_in else ("finish edge", "start edge")
    if width("finish edge", 8.0) / 2 > high + 1.0 - level:  # the numbers of the bends stand over it
        ends = ("start", "finish") if start_in else ("finish", "start")
    for x, text in ((left - 2.8, ends[0]), (right + 3.0, ends[1])):
        draft.text(Text(at=(x, level - 1.0), text=text, size=8.0, turned=90.0))
    title = f"Step {step.step}, strip from above, {name.lower()}, {step.end_in or 'strip'} in: bend {step.edge}"
    return draft.done(f"bend-{pattern.mark}-{step.step}-plan", title, width_mm, height_mm, 25.4 / scale)


def start_clamped(step: Step) -> bool:
    """Whether the start edge is on the clamped side."""
    return "finish" not in step.end_in


def _zigzag(draft: Draft, x0: float, x1: float, y: float, up: float) -> None:
    m = (x0 + x1) / 2
    draft.line(
        ((x0 - 1.0, y), (m - 1.2, y), (m - 0.6, y + up * 1.3), (m + 0.6, y - up * 1.3), (m + 1.2, y), (x1 + 1.0, y)),
        "dimension",
    )


def draw_brake(
    pattern: FlatPattern,
    schedule: BendSchedule,
    step: Step,
    when: str,
    *,
    width_mm: float = 52.0,
    height_mm: float = 36.0,
) -> Drawing:
    """The brake in section `when` = "before" or "after" the stroke."""
    draft = Draft()
    state = step.before if when == "before" else step.after
    assert state is not None
    both = [s for s in (step.before, step.after) if s is not None]
    if step.action == "close" and not step.hold.deep:  # the hem lies under the front of the nose
        front = max((x for h in both[-1].hems[-1:] for x, _ in h), default=0.0)
        slide = -2 * pattern.thickness - front
        both = [_moved(s, slide) for s in both]
        state = both[0] if when == "before" else both[-1]
    x0, y0, x1, y1 = _window(_shown(both, step), width_mm, height_mm - 9.0)
    scale = min(width_mm / (x1 - x0), (height_mm - 9.0) / (y1 - y0))
    base = 4.5

    def at(p: Point) -> Point:
        return (p[0] - x0) * scale, base + (p[1] - y0) * scale

    frame = (0.6, base, width_mm - 0.6, height_mm - 4.5)
    if schedule.brake is not None:
        sink = HEM_GAP if step.action != "close" and hems_underneath(state) else 0.0
        _brake(draft, schedule.brake, at, frame, step, when, _nose_lift(step, state, when, scale), sink)
    _metal(draft, pattern, step, state, at, frame, scale)
    draft.text(Text(at=(width_mm / 2, height_mm - 2.3), text=when, size=8.5))
    if when == "after":
        words = f"turned {labels.degrees(step.turned_deg)}"
        inside = f" (inside {labels.degrees(180 - step.turned_deg)})" if 0 < step.turned_deg < 180 else ""
        words += inside if width(words + inside, 8.5, True) < width_mm - 1.0 else ""
        draft.text(Text(at=(width_mm / 2, 2.4), text=words, size=8.5, bold=True))
    else:
        back = step.side_up == "back"
        side = f"{step.side_up.upper()} UP"
        what = "close" if step.action == "close" else "fold UP"
        one, two = width(side, 8.5, True), width(what, 8.5, True)
        gap = min(3.0, max(1.0, width_mm - one - two - 1.0))
        x = (width_mm - one - two - gap) / 2
        draft.text(Text(at=(x, 2.4), text=side, size=8.5, bold=True, anchor="left", white_on_black=back))
        draft.text(Text(at=(x + one + gap, 2.4), text=what, size=8.5, bold=True, anchor="left"))
    title = f"Step {step.step}, brake in section {when} the stroke: bend {step.edge}, {step.side_up} up"
    return draft.done(f"bend-{pattern.mark}-{step.step}-{when}", title, width_mm, height_mm, 25.4 / scale)


def _moved(state: SectionState, by: float) -> SectionState:
    """The metal moved along the bed."""
    return replace(
        state,
        line=tuple((x + by, y) for x, y in state.line),
        hems=tuple(((a[0] + by, a[1]), (b[0] + by, b[1])) for a, b in state.hems),
        unmade=tuple((x + by, y) for x, y in state.unmade),
    )


def _shown(states: list[SectionState], step: Step) -> list[Point]:
    """Points that must be in the picture: the swinging side, and of the clamped side what is not plain flat metal."""
    swinging = [p for s in states for p in s.line[s.nose_index :]]
    clamped = [p for s in states for p in s.line[: s.nose_index]]
    if step.action == "close":
        hem = states[-1].hems[-1] if states[-1].hems else ((0.0, 0.0), (1.0, 0.0))
        reach = max(1.3, 2.4 * (step.hold.deep or plane.distance(*hem)))
        line = [(min(max(x, -reach), reach), y) for s in states for x, y in s.line]
        high = max(y for _, y in states[0].line)
        return [*line, (0.0, _nose_height(step, states[0], high) + 0.5)] if step.hold.deep else line
    reach = max(1.3, 1.6 * max(plane.distance((0.0, 0.0), p) for p in swinging))
    if all(abs(y) < 1e-3 for _, y in clamped):
        clamped = [(max(x, -reach), y) for x, y in clamped]
    return swinging + clamped


def _window(points: list[Point], width_mm: float, height_mm: float) -> tuple[float, float, float, float]:
    """Part of the brake's frame to show, in inches: all the metal and the nose, in the paper's proportion."""
    xs, ys = [p[0] for p in points] + [-0.5, 0.5], [p[1] for p in points] + [-0.45, 0.6]
    x0, y0, x1, y1 = min(xs), min(ys), max(xs), max(ys)
    pad = 0.06 * max(x1 - x0, y1 - y0) + 0.05
    x0, y0, x1, y1 = x0 - pad, y0 - pad, x1 + pad, y1 + pad
    if x1 - x0 < LEAST_VIEW:
        x0, x1 = (x0 + x1 - LEAST_VIEW) / 2, (x0 + x1 + LEAST_VIEW) / 2
    ratio = width_mm / height_mm
    if (x1 - x0) / (y1 - y0) < ratio:
        more = (y1 - y0) * ratio - (x1 - x0)
        x0, x1 = x0 - more / 2, x1 + more / 2
    else:
        more = (x1 - x0) / ratio - (y1 - y0)
        y0, y1 = y0 - more * 0.4, y1 + more * 0.6
    return x0, y0, x1, y1


def hems_underneath(state: SectionState) -> bool:
    """Whether a made hem lies between the clamped metal and the bed."""
    return any(one[0] < 0.0 and other[0] < 0.0 and min(one[1], other[1]) < -UNDER for one, other in state.hems)


def _brake(  # type: ignore[no-untyped-def]
    draft: Draft, brake: BrakeSection, at, frame, step: Step, when: str, lift: float, sink: float
) -> None:
    window = clip.shape(((frame[0], frame[1]), (frame[2], frame[1]), (frame[2], frame[3]), (frame[0], frame[3])))
    swing = step.set_deg if when == "after" and step.action != "close" else 0.0
    c, s = cos(radians(swing)), sin(radians(swing))
    leaf: tuple[Point, ...] = brake.apron
    bar: tuple[Point, ...] = ()
    if brake.narrow:  # the leaf, and the bar on its edge where that stays on
        off = max(x for x, _ in brake.narrow)
        leaf = brake.narrow
        bar = () if step.hold.bar_off else tuple((max(x, off), y) for x, y in brake.apron)
    apron, bar = (tuple((x * c - y * s, x * s + y * c) for x, y in part) for part in (leaf, bar))
    parts: tuple[tuple[str, tuple[Point, ...], Fill], ...] = (
        ("bed", brake.bed, "hatch"),
        ("nose", brake.nose, "hatch-other"),
        ("apron", apron, "hatch"),
        *((("bar", bar, "hatch-other"),) if bar else ()),
    )
    for name, outline, fill in parts:
        on_paper = tuple(_raised(at(p), lift if name == "nose" else -sink) for p in outline)
        for piece in clip.pieces(clip.intersection(clip.shape(on_paper), window)):
            shape = tuple((x, y) for x, y in clip.corners(piece))
            draft.polygon(shape, "edge", fill)


def _up(p: Point) -> Point:
    return p[0], p[1] + LIFT


def _raised(p: Point, lift: float) -> Point:
    return p[0], p[1] + lift


def _nose_lift(step: Step, state: SectionState, when: str, scale: float) -> float:
    """How far (mm) the nose is drawn above the bed: the drawn metal, a closed hem, or clear of a hem not yet closed."""
    if step.action != "close":
        return 2 * LIFT
    if when == "before":
        return _nose_height(step, state, max(y for _, y in state.line)) * scale + 2.5
    if step.turned_deg < 180:
        return (step.hold.shim or 0.0) * scale + 2 * LIFT
    return 2 * LIFT + HEM_GAP


def _metal(  # type: ignore[no-untyped-def]
    draft: Draft, pattern: FlatPattern, step: Step, state: SectionState, at, frame, scale: float
) -> None:
    layers = _Layers(state, [at(p) for p in state.line], scale * pattern.thickness)
    line = [_up(p) for p in layers.line]
    pieces = [part for a, b in pairwise(line) if (part := geometry.clip_to_window((a, b), frame)) is not None]
    joined: list[list[Point]] = []
    for a, b in pieces:
        if joined and plane.distance(joined[-1][-1], a) < 1e-6:
            joined[-1].append(b)
        else:
            joined.append([a, b])
    for run in joined:
        draft.line(run, "metal")
    for one, other in state.hems:
        if frame[0] < at(one)[0] < frame[2] - 1.0 and frame[1] < at(one)[1] < frame[3]:
            dx, dy = layers.end_shift(at(one))
            ends = [(x + dx, y + dy + LIFT) for x, y in (at(one), at(other))]
            _hem(draft, ends[0], ends[1], line)
    for p in state.unmade:
        x, y = layers.moved(at(p))
        if frame[0] < x < frame[2] and frame[1] < y < frame[3]:
            draft.add(Circle(centre=(x, y + LIFT), radius=0.7, pen="dimension"))
    _turn_mark(draft, step, state, at, frame)


class _Layers:
    """The line of the metal on paper, layers folded flat on one another set off so that each can be seen."""

    def __init__(self, state: SectionState, line: list[Point], thick: float) -> None:
        self.plain, self.shifts = line, [(0.0, 0.0)] * len(line)
        for i in range(1, len(line) - 2):
            a, b, c, d = line[i - 1 : i + 3]
            gap = plane.distance(b, c)
            u, v = geometry.toward((0, 0), (b[0] - a[0], b[1] - a[1]), 1.0), (d[0] - c[0], d[1] - c[1])
            if gap > 6 * thick or gap < 1e-9 or u[0] * v[0] + u[1] * v[1] > -0.999 * plane.distance(c, d):
                continue
            wide = HEM_GAP if gap < 1.5 * thick else 2 * HEM_GAP
            far = geometry.toward((0, 0), (c[0] - b[0], c[1] - b[1]), max(0.0, wide - gap))
            after = i >= state.nose_index
            for k in range(i + 1, len(line)) if after else range(i + 1):
                sign = 1.0 if after else -1.0
                x, y = self.shifts[k]
                self.shifts[k] = (x + sign * far[0], y + sign * far[1])
        self.line = [(x + dx, y + dy) for (x, y), (dx, dy) in zip(line, self.shifts, strict=True)]

    def end_shift(self, p: Point) -> Point:
        """How far the end of the line nearest to a point is set off."""
        near = 0 if plane.distance(p, self.plain[0]) < plane.distance(p, self.plain[-1]) else -1
        return self.shifts[near]

    def moved(self, p: Point) -> Point:
        """A point of the line, set off with its layer."""

        def detour(k: int) -> float:
            a, b = self.plain[k], self.plain[k + 1]
            return plane.distance(a, p) + plane.distance(p, b) - plane.distance(a, b)

        k = min(range(len(self.plain) - 1), key=detour)
        return p[0] + self.shifts[k + 1][0], p[1] + self.shifts[k + 1][1]


def _nose_height(step: Step, state: SectionState, high: float) -> float:
    """How far the nose must be up for what is closed, inches: a flap may lean out in front of it."""
    if step.hold.deep and step.hold.way == "in front":
        return min(high, step.hold.deep * tan(radians(180.0 - step_before(state))))
    return high


def step_before(state: SectionState) -> float:
    """Degrees the bend at the nose is turned in a picture."""
    i = state.nose_index
    a, b, c = state.line[i - 1 : i + 2]
    turn = degrees(atan2(c[1] - b[1], c[0] - b[0]) - atan2(b[1] - a[1], b[0] - a[0]))
    return abs((turn + 180) % 360 - 180)


def _hem(draft: Draft, one: Point, other: Point, line: list[Point]) -> None:
    """A finished hem: its second layer, set off from the first so that both can be seen."""
    tip, inner = min(((line[0], line[1]), (line[-1], line[-2])), key=lambda e: plane.distance(e[0], one))
    long = plane.distance(tip, inner) or 1.0
    ux, uy = (inner[0] - tip[0]) / long, (inner[1] - tip[1]) / long
    nx, ny = -uy, ux
    if (one[0] - tip[0]) * nx + (one[1] - tip[1]) * ny < 0:
        nx, ny = -nx, -ny
    deep = max(2.0, plane.distance(one, other))
    r = HEM_GAP / 2
    bow = [
        (
            tip[0] + nx * (r - r * cos(pi * k / 8)) - ux * r * sin(pi * k / 8),
            tip[1] + ny * (r - r * cos(pi * k / 8)) - uy * r * sin(pi * k / 8),
        )
        for k in range(9)
    ]
    bow.append((tip[0] + nx * HEM_GAP + ux * deep, tip[1] + ny * HEM_GAP + uy * deep))
    draft.line(bow, "metal")


def _turn_mark(draft: Draft, step: Step, state: SectionState, at, frame) -> None:  # type: ignore[no-untyped-def]
    """Arc from the flat to the bent leg, in the picture after the stroke."""
    if state is not step.after or step.action == "close" or not 0 < step.turned_deg < 180:
        return
    ox, oy = at((0.0, 0.0))
    r = 6.0
    arc = [
        (ox + r * cos(radians(step.turned_deg * k / 16)), oy + LIFT + r * sin(radians(step.turned_deg * k / 16)))
        for k in range(17)
    ]
    if all(frame[0] < x < frame[2] and frame[1] < y < frame[3] for x, y in arc):
        draft.line(arc, "dimension", "end")
