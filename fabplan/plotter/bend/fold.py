"""Bend step of a flat piece: seen from above with the working edge at the right, and in section before and after.

The picture shows the side that faces up, so it is mirrored when the back is up. The flap being folded is hatched, its
fold line thick and dashed; folds already made show as continuous lines on the side that is up and dashed ones on the
side that is down; folds still to come are dotted.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import chain
from math import cos, hypot, pi, radians, sin

from fabplan import plane
from fabplan.bending.model import BendSchedule, Step
from fabplan.blanks import clip
from fabplan.blanks.model import FlatPattern, Fold
from fabplan.plotter.bend.progress import Progress, progress
from fabplan.plotter.blank.blank import edge_count
from fabplan.plotter.board import geometry, labels
from fabplan.plotter.board.draft import Draft
from fabplan.plotter.board.measure import extent, on_paper, width
from fabplan.plotter.model import Drawing, Point, Text
from fabplan.units import Show

NUMBER, ACTIVE_NUMBER = 10.0, 15.0
MARGIN = 6.0  # mm round the piece for the numbers
ARROW_ROOM = 9.0  # mm at the right for the arrow's tail and the number
Move = Callable[[Point], Point]


def draw_fold_plan(
    pattern: FlatPattern, schedule: BendSchedule, step: Step, *, width_mm: float = 44.0, height_mm: float = 38.0
) -> Drawing:
    """The piece as it lies before the stroke, seen from above, working edge at the right."""
    draft = Draft()
    scale = min(_scale(pattern, s, width_mm, height_mm) for s in schedule.steps)
    state = progress(schedule, step)
    turn = _turner(pattern, step)
    body = _body(pattern, state)
    placed = [turn(p) for p in body]
    x0, y0, x1, y1 = plane.bounds(placed)
    left = MARGIN + (width_mm - MARGIN - ARROW_ROOM - (x1 - x0) * scale) / 2
    bottom = (height_mm - (y1 - y0) * scale) / 2

    def at(p: Point) -> Point:
        x, y = turn(p)
        return left + (x - x0) * scale, bottom + (y - y0) * scale

    outline = tuple(at(p) for p in body)
    draft.polygon(outline, "cut", "white")
    for fold in pattern.folds:
        turned = state.turned.get(fold.edge, 0.0)
        if fold.edge == step.edge:
            continue
        if turned == 0.0:
            draft.line((at(fold.line[0]), at(fold.line[1])), "fold-later")
            draft.take(geometry.strip_box(at(fold.line[0]), at(fold.line[1]), 0.3))
        else:
            pen = "hem" if fold.toward == step.side_up else "hidden"
            flap = [at(p) for p in footprint(fold, turned, 0.9 / scale)]
            on_fold = [_off_line(p, fold) < 1e-6 for p in fold.flap]
            for i, p in enumerate(flap):
                k = (i + 1) % len(flap)
                if not (on_fold[i] and on_fold[k]):
                    draft.line((p, flap[k]), pen)  # type: ignore[arg-type]
                    draft.take(geometry.strip_box(p, flap[k], 0.3))
    active = next(f for f in pattern.folds if f.edge == step.edge)
    _active(draft, active, state, at, outline)
    _numbers(draft, pattern, state, at, outline, (width_mm, height_mm))
    side = "face" if step.side_up == "face" else "back"
    title = f"Step {step.step}, seen from above, {side} up: edge {step.edge} at the right is worked on"
    return draft.done(f"bend-{pattern.mark}-{step.step}-plan", title, width_mm, height_mm, 25.4 / scale)


def _scale(pattern: FlatPattern, step: Step, width_mm: float, height_mm: float) -> float:
    turn = _turner(pattern, step)
    x0, y0, x1, y1 = plane.bounds([turn(p) for p in pattern.snipped])
    return min((width_mm - MARGIN - ARROW_ROOM) / (x1 - x0), (height_mm - 2 * MARGIN) / (y1 - y0), 25.4)


def outward(pattern: FlatPattern, edge: int) -> Point:
    """Unit vector out of the piece across an edge, blank frame."""
    corners = pattern.finished.outline or pattern.outline
    a, b = corners[edge - 1], corners[edge % len(corners)]
    long = plane.distance(a, b)
    return (b[1] - a[1]) / long, -(b[0] - a[0]) / long


def _turner(pattern: FlatPattern, step: Step) -> Move:
    """From the blank's frame to the table: mirrored when the back is up, working edge turned to the right."""
    mirror = -1.0 if step.side_up == "back" else 1.0
    nx, ny = outward(pattern, step.edge)
    nx *= mirror

    def turn(p: Point) -> Point:
        x, y = p[0] * mirror, p[1]
        return x * nx + y * ny, -x * ny + y * nx

    return turn


def _body(pattern: FlatPattern, state: Progress) -> tuple[Point, ...]:
    """Outline of the piece seen from above: the blank less the flaps that are folded (or stand)."""
    shape = clip.shape(pattern.snipped)
    for fold in pattern.folds:
        if state.turned.get(fold.edge, 0.0) > 0 and fold.flap:
            shape = clip.largest(clip.difference(shape, clip.shape(fold.flap)))
    return tuple((x, y) for x, y in clip.corners(shape))


def footprint(fold: Fold, turned: float, least: float) -> tuple[Point, ...]:
    """Where a folded flap lies in plan: its depth times the cosine of the turn, at least `least` inside the fold."""
    (ax, ay), (bx, by) = fold.line
    long = hypot(bx - ax, by - ay)
    nx, ny = -(by - ay) / long, (bx - ax) / long
    deepest = max(abs((x - ax) * nx + (y - ay) * ny) for x, y in fold.flap)
    share = cos(radians(turned))
    if deepest * abs(share) < least:
        share = -least / deepest
    out = []
    for x, y in fold.flap:
        d = (x - ax) * nx + (y - ay) * ny
        out.append((x - nx * d * (1 - share), y - ny * d * (1 - share)))
    return tuple(out)


def _off_line(p: Point, fold: Fold) -> float:
    (ax, ay), (bx, by) = fold.line
    return abs((bx - ax) * (p[1] - ay) - (by - ay) * (p[0] - ax)) / hypot(bx - ax, by - ay)


def _active(draft: Draft, fold: Fold, state: Progress, at: Move, body: tuple[Point, ...]) -> None:
    before = state.before
    flap = fold.flap if before == 0 else footprint(fold, before, 0.0)
    draft.polygon((at(p) for p in flap), "edge", "hatch")
    a, b = at(fold.line[0]), at(fold.line[1])
    draft.line((a, b), "fold-active")
    draft.take(geometry.strip_box(a, b, 0.5))
    middle = geometry.between(a, b, 0.5)
    reach = max(at(p)[0] for p in (*flap, *fold.line))
    tail = (max(reach, middle[0]) + 5.5, middle[1] + 3.0)
    depth = middle[0] - min((x for x in _level_crossings(body, middle[1] + 3.0)), default=middle[0] - 20.0)
    tip = (middle[0] - max(2.5, min(8.5, depth - 3.0)), middle[1] + 3.0)
    draft.line((tail, tip), "cut", "end")
    draft.take(((tip[0], tip[1] - 1.2), (tail[0], tip[1] - 1.2), (tail[0], tip[1] + 1.2), (tip[0], tip[1] + 1.2)))
    draft.text(
        Text(at=(max(reach, middle[0]) + 4.8, middle[1] - 1.6), text=str(fold.edge), size=ACTIVE_NUMBER, bold=True)
    )


def _level_crossings(outline: tuple[Point, ...], y: float) -> list[float]:
    return [
        x0 + (x1 - x0) * (y - y0) / (y1 - y0)
        for (x0, y0), (x1, y1) in zip(outline, outline[1:] + outline[:1], strict=True)
        if (y0 <= y) != (y1 <= y)
    ]


def _numbers(
    draft: Draft,
    pattern: FlatPattern,
    state: Progress,
    at: Move,
    outline: tuple[Point, ...],
    frame: tuple[float, float],
) -> None:
    corners = pattern.finished.outline or pattern.outline
    flaps = {f.edge: f for f in pattern.folds}
    for edge in range(1, edge_count(pattern) + 1):
        if edge == state.active:
            continue
        a, b = at(corners[edge - 1]), at(corners[edge % len(corners)])
        middle = geometry.between(a, b, 0.5)
        tip = at(_add(geometry.between(corners[edge - 1], corners[edge % len(corners)], 0.5), outward(pattern, edge)))
        long = plane.distance(middle, tip) or 1.0
        ux, uy = (tip[0] - middle[0]) / long, (tip[1] - middle[1]) / long
        reach = 0.0
        if edge in flaps and state.turned.get(edge, 0.0) == 0.0:
            reach = max((at(p)[0] - middle[0]) * ux + (at(p)[1] - middle[1]) * uy for p in flaps[edge].flap)
        choices = [
            Text(
                at=(
                    middle[0] + ux * (reach + away) + (b[0] - a[0]) * share,
                    middle[1] + uy * (reach + away) + (b[1] - a[1]) * share,
                ),
                text=str(edge),
                size=NUMBER,
            )
            for away in (3.0, 5.0, 7.5, 10.0)
            for share in (0.0, 0.15, -0.15, 0.3, -0.3)
        ]
        choices = [t for t in choices if on_paper(t, *frame)] or choices
        if not draft.place(choices, 0.2):
            draft.text(choices[0])
    _side_up(draft, state.step, outline)


def _side_up(draft: Draft, step: Step, outline: tuple[Point, ...]) -> None:
    """Which side faces up, on the metal where there is room, else in a corner of the picture."""
    back = step.side_up == "back"
    text = "BACK UP" if back else "FACE UP"
    cx, cy = plane.middle(outline)
    x0, y0, x1, y1 = plane.bounds(outline)
    choices = (
        Text(at=(cx + dx, cy + dy), text=text, size=size, bold=True, white_on_black=back)
        for size in (8.5, 8.0)
        for dy in (-5.0, -3.5, -7.0, 9.0, 11.0, -9.0)
        for dx in (-2.0, -4.0, 0.0, -6.0, 2.0, 4.0)
    )
    inside = (t for t in choices if all(plane.contains(outline, p) for p in extent(t, 1.2)))
    corners = [
        Text(at=(x, y), text=text, size=8.0, bold=True, white_on_black=back)
        for y in (y0 - 3.0, y1 + 3.0)
        for x in (max(x0, 9.0), min(x1, 35.0))
    ]
    draft.place(chain(inside, corners), 0.7)


def _add(a: Point, b: Point) -> Point:
    return a[0] + b[0], a[1] + b[1]


# section ----------------------------------------------------------------------------------------------------------

FLAP = 8.5  # mm, length of a flap in section
OPEN, CLOSED = 2.3, 1.15  # mm between the middles of the two layers of a hem


def draw_fold_section(
    pattern: FlatPattern,
    schedule: BendSchedule,
    step: Step,
    *,
    show: Show,
    width_mm: float = 52.0,
    height_mm: float = 30.0,
) -> Drawing:
    """Section through the working edge before and after the stroke, looking along the fold; thickness exaggerated."""
    draft = Draft()
    state = progress(schedule, step)
    fold = next(f for f in pattern.folds if f.edge == step.edge)
    half = width_mm / 2
    level = max(height_mm * 0.42, 9.7)  # the side underneath is named between the metal and the words
    up, down = ("face", "back") if step.side_up == "face" else ("back", "face")
    for left, name, turned in ((0.0, "before", state.before), (half, "after", step.turned_deg)):
        # at the right: the flap stands in the middle, and the size of a hem over it
        draft.text(Text(at=(left + half - 0.8, height_mm - 3.0), text=name, size=8.5, anchor="right"))
        x0, x1 = left + 1.5, left + half - FLAP - 2.5
        points = flap_line((x1, level), turned, _gap(fold, step, turned))
        draft.line(((x0, level), *points), "metal")
        _broken(draft, (x0, level))
        if turned == 0:
            draft.line(((x1, level - 3.2), (x1, level + 3.2)), "hidden")
        if name == "before":
            beside = x1 + 1.5 if turned > 90 else x0 + 1.0  # a flap that leans back reaches over the sheet
            draft.text(Text(at=(beside, level + 3.4), text=up, size=8.5, bold=True, anchor="left"))
            draft.text(Text(at=(x0 + 1.0, level - 3.4), text=down, size=8.5, anchor="left"))
    _size_of_flap(draft, fold, step, (half + half - FLAP - 2.5, level), show)
    words = f"{'close' if step.action == 'close' else 'fold UP'}, turned {labels.degrees(step.turned_deg)}"
    short = words if width(words, 9.0, True) < width_mm - 1.0 else words.replace(", turned", "")
    draft.text(Text(at=(half, 2.8), text=short, size=9.0, bold=True))
    title = f"Step {step.step} in section: edge {step.edge} before and after, {words}"
    return draft.done(f"bend-{pattern.mark}-{step.step}-section", title, width_mm, height_mm)


def _gap(fold: Fold, step: Step, turned: float) -> float:
    return OPEN if fold.gap > 0 and turned >= 180 else CLOSED


def flap_line(at: Point, turned: float, gap: float, flap: float = FLAP) -> list[Point]:
    """The metal from the fold on: straight up to 180 degrees, then a half circle and back."""
    x, y = at
    if turned < 180:
        return [at, (x + flap * cos(radians(turned)), y + flap * sin(radians(turned)))]
    r = gap / 2
    bow = [(x + r * sin(pi * k / 12), y + r - r * cos(pi * k / 12)) for k in range(13)]
    return [*bow, (x + r - flap, y + gap)]


def _broken(draft: Draft, at: Point) -> None:
    """A short break line where the metal runs on."""
    x, y = at
    draft.line(((x - 0.4, y - 1.8), (x + 0.4, y - 0.5), (x - 0.4, y + 0.5), (x + 0.4, y + 1.8)), "dimension")


def _size_of_flap(draft: Draft, fold: Fold, step: Step, at: Point, show: Show) -> None:
    if fold.width <= 0:
        return
    text = labels.bare(show, fold.width)
    points = flap_line(at, step.turned_deg, _gap(fold, step, step.turned_deg))
    tip = points[-1]
    if step.turned_deg >= 180:
        edge = max(p[0] for p in points)
        draft.dimension((tip[0], tip[1] + 0.3), (edge, tip[1] + 0.3), 4.2, text, size=9.0)
        return
    draft.dimension(at, tip, -4.8, text, size=9.0)
