"""The numbered cuts on a nested-sheet drawing: balloons on the lines with their settings, callouts in the margins."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise

from fabplan import plane
from fabplan.plotter.board import geometry, labels
from fabplan.plotter.board.callouts import POINTER, RADIUS, Balloon, Callout
from fabplan.plotter.board.draft import Boxes, Draft
from fabplan.plotter.board.measure import extent
from fabplan.plotter.board.view import PaperView
from fabplan.plotter.model import Point, Text
from fabplan.plotter.sheet.cut_lie import by_marks
from fabplan.plotter.sheet.edges import NEAR
from fabplan.plotter.sheet.replay import MadeCut
from fabplan.speech.format import spans

SETTING_SIZE = 8.0
MOST_DOTS = 12
LEAST_RUN = 4  # cuts that may share a pill on the first of them
CLOSE = 15.0  # mm between cuts under which they do
LONGEST_NUMBER = 14  # characters in a balloon
Border = tuple[Point, Point]
Setting = tuple[Balloon, str, Point]  # first balloon of a run, words, side of the back gauge


def setting(made: MadeCut, size: Callable[[float], str]) -> str:
    """Back-gauge setting as printed by the cut, with the angle of a slanted one.

    A coil's cut-off is marked along the coil; all other cuts to marks have pictures of their own.
    """
    if made.cut.back_gauge is None:
        return "scribed" if made.pull is None else f"{size(made.pull)} off the coil"
    text = size(made.cut.back_gauge)
    if by_marks(made):
        return f"{text}, scribed"
    return text if abs(made.cut.angle - 90) < 0.05 else f"{text} at {labels.degrees(made.cut.angle)}"


def _runs(made: Sequence[MadeCut]) -> list[list[MadeCut]]:
    """Cuts of one series in a row with one setting."""
    runs: list[list[MadeCut]] = []
    for m in made:
        last = runs[-1][-1] if runs else None
        if (
            last
            and last.series == m.series
            and last.cut.back_gauge == m.cut.back_gauge
            and last.cut.angle == m.cut.angle
            and last.cut.step + 1 == m.cut.step
        ):
            runs[-1].append(m)
        else:
            runs.append([m])
    return runs


def _is_outer(view: PaperView, m: MadeCut) -> str:
    """Side of the paper where a cut across the whole stock gets its callout, or ""."""
    (x0, y0), (x1, y1) = view.point(m.cut.start), view.point(m.cut.end)
    if abs(y0 - y1) < NEAR and max(x0, x1) > view.right - NEAR and abs(x0 - x1) > view.width - NEAR:
        return "right"
    if abs(x0 - x1) < NEAR and abs(y0 - y1) > view.height - NEAR:
        return "top"
    return ""


def outer_callouts(view: PaperView, made: Sequence[MadeCut], size: Callable[[float], str]) -> list[Callout]:
    """Callouts of the cuts that run across the whole stock; close ones with one setting share a callout."""
    out: list[Callout] = []
    for run in _runs(made):
        side = _is_outer(view, run[0])
        if not side:
            continue
        ends = []
        for m in run:
            a, b = view.point(m.cut.start), view.point(m.cut.end)
            ends.append(max(a, b) if side == "right" else max(a, b, key=lambda p: p[1]))
        apart = min((plane.distance(p, q) for p, q in pairwise(ends)), default=99.0)
        pointer = _pointer(view, run[0])
        words = setting(run[0], size)
        if apart < (2 * RADIUS + 0.8 if side == "right" else 22.0) and len(run) > 2:
            number = f"{run[0].cut.step}–{run[-1].cut.step}"
            out.append(
                Callout(anchor=ends[0], text=words, number=number, pointer=pointer, bold=True, side=side, on_line=True)
            )
            continue
        for m, end in zip(run, ends, strict=True):
            out.append(
                Callout(
                    anchor=end,
                    text=words,
                    number=str(m.cut.step),
                    pointer=pointer,
                    bold=True,
                    side=side,
                    on_line=True,
                )
            )
    return out


def _pointer(view: PaperView, m: MadeCut) -> Point | None:
    return view.direction(m.normal) if m.normal else None


def inner_balloons(
    view: PaperView,
    made: Sequence[MadeCut],
    size: Callable[[float], str],
    draft: Draft,
) -> tuple[list[Balloon], list[Setting], list[Callout]]:
    """Balloons on the cuts inside the sheet, their settings, and callouts for cuts too close together for balloons."""
    balloons: list[Balloon] = []
    crowded: list[list[MadeCut]] = []
    settings: list[Setting] = []
    for run in _runs([m for m in made if not _is_outer(view, m)]):
        lines = [(view.point(m.cut.start), view.point(m.cut.end)) for m in run]
        pointer = _pointer(view, run[0])
        words = setting(run[0], size) if run[0].cut.back_gauge is not None else ""
        spots = None
        if len(run) >= LEAST_RUN and _apart(lines) < CLOSE:
            # one pill on the first cut: balloons on all of them would leave no room for the marks of the parts
            spots = _spots(lines[:1], [f"{run[0].cut.step}–{run[-1].cut.step}"], pointer, draft)
        if spots is None:
            spots = _spots(lines, [str(m.cut.step) for m in run], pointer, draft)
        if spots is None:
            crowd = next((c for c in crowded if _alike(view, c[0], run[0], size)), None)
            if crowd is not None:
                crowd.extend(run)
            else:
                crowded.append(list(run))
            continue
        for balloon in spots:
            draft.take(balloon.box(0.2))
            if balloon.pointer:
                x, y = balloon.at
                px, py = balloon.pointer
                tip = (x + px * (balloon.half + POINTER), y + py * (balloon.half + POINTER))
                draft.take(((x, y - 0.5), (tip[0], tip[1] - 0.5), (tip[0], tip[1] + 0.5), (x, y + 0.5)))
        balloons += spots
        settings.append((spots[0], words, pointer or (1.0, 0.0)))
    return balloons, settings, [_crowd_callout(view, run, setting(run[0], size)) for run in crowded]


def _apart(lines: Sequence[tuple[Point, Point]]) -> float:
    """Least distance across the paper between neighbouring cuts."""
    across = [(a[0] + b[0]) / 2 for a, b in lines]
    return min(abs(x - y) or 99.0 for x, y in pairwise(across))


def walls_of(view: PaperView, made: Sequence[MadeCut], borders: Sequence[Border]) -> Boxes:
    """Cuts, and `borders` of parts, that no setting may run into."""
    walls = Boxes()
    for m in made:
        walls.add(geometry.strip_box(view.point(m.cut.start), view.point(m.cut.end), 0.3))
    for a, b in borders:
        if plane.distance(a, b) > 1e-6:
            walls.add(geometry.strip_box(a, b, 0.3))
    return walls


def place_settings(draft: Draft, view: PaperView, settings: Sequence[Setting], walls: Boxes) -> None:
    """Set every run's setting beside its first balloon, where there is room clear of `walls`."""
    for balloon, text, pointer in settings:
        if text:
            _set_setting(draft, view, walls, balloon, text, pointer)


def _alike(view: PaperView, a: MadeCut, b: MadeCut, size: Callable[[float], str]) -> bool:
    """Whether two crowded cuts may share a callout: one setting, from the same side, in one row of the picture."""
    if setting(a, size) != setting(b, size) or (a.normal is None) != (b.normal is None):
        return False
    if a.normal and b.normal and plane.distance(a.normal, b.normal) > 1e-6:
        return False
    (ax, ay), (bx, by) = (geometry.between(view.point(m.cut.start), view.point(m.cut.end), 0.5) for m in (a, b))
    return min(abs(ax - bx), abs(ay - by)) < 2.0


def _crowd_callout(view: PaperView, run: list[MadeCut], text: str) -> Callout:
    """One callout for cuts too close together for balloons: a dot on the last cut of every series."""
    steps = sorted(m.cut.step for m in run)
    ends = {m.series: geometry.between(view.point(m.cut.start), view.point(m.cut.end), 0.5) for m in run}
    points = sorted(ends.values(), key=lambda p: (p[1], p[0]))
    if max(p[1] for p in points) > (view.bottom + view.top) / 2:
        points.reverse()  # nearest border first, so that the leader runs on inward
    if len(points) > MOST_DOTS:
        points = [points[0], points[-1]]
    number = spans(sorted(set(steps)))
    if len(number) > LONGEST_NUMBER:
        number = f"{steps[0]}…{steps[-1]}"
    return Callout(
        anchor=points[0],
        more=tuple(points[1:]),
        text=text,
        number=number,
        pointer=_pointer(view, run[0]),
        bold=True,
        cuts=len(run),
    )


def _set_setting(
    draft: Draft,
    view: PaperView,
    walls: Boxes,
    balloon: Balloon,
    text: str,
    pointer: Point,
) -> None:
    """The run's setting beside its first balloon, when there is room."""
    x, y = balloon.at
    step = balloon.half + 1.0
    choices = []
    away = -1.0 if pointer[0] > 0.5 else 1.0
    for way in (away, -away):
        shift = step + (POINTER if way * pointer[0] > 0.5 else 0.0)
        choices.append(
            Text(
                at=(x + way * shift, y),
                text=text,
                size=SETTING_SIZE,
                bold=True,
                anchor="left" if way > 0 else "right",
            )
        )
    up = RADIUS + 1.9 + (POINTER if abs(pointer[1]) > 0.5 else 0.0)
    for way in (1.0, -1.0):
        choices.append(Text(at=(x, y + way * up), text=text, size=SETTING_SIZE, bold=True))
    sets = [(text_mark,) for text_mark in choices] + _two_lines(choices[:2], text)
    for texts in sets:
        boxes = [extent(t, 0.2) for t in texts]
        inside = all(
            view.left + 0.3 < u < view.right - 0.3 and view.bottom + 0.3 < v < view.top - 0.3
            for box in boxes
            for u, v in box
        )
        clear = inside and all(draft.free(box) for box in boxes)
        if clear and not any(walls.touches(box) for box in boxes):
            for text_mark in texts:
                draft.text(text_mark)
            return


def _two_lines(beside: Sequence[Text], text: str) -> list[tuple[Text, ...]]:
    """A slanted cut's setting over its angle, for where one line is too long."""
    size, at, angle = text.partition(" at ")
    if not at or not size:
        return []
    return [
        (
            replace(t, text=size, at=(t.at[0], t.at[1] + 1.7)),
            replace(t, text=f"at {angle}", at=(t.at[0], t.at[1] - 1.7)),
        )
        for t in beside
    ]


def _spots(
    lines: Sequence[tuple[Point, Point]],
    numbers: Sequence[str],
    pointer: Point | None,
    draft: Draft,
) -> list[Balloon] | None:
    """A balloon for every line of a run, all at the same height on their lines; None when they would touch."""
    long = min(plane.distance(a, b) for a, b in lines)
    if long < 2 * RADIUS + 0.4:
        return None
    near = (RADIUS + 0.9) / long
    for share in dict.fromkeys((min(near, 0.5), 0.5, max(1 - near, 0.5), 0.3, 0.7)):
        spots = []
        for (a, b), number in zip(lines, numbers, strict=True):
            start, end = (a, b) if (a[1], -a[0]) > (b[1], -b[0]) else (b, a)  # from the upper (or left) end
            if abs(a[1] - b[1]) < NEAR:
                start, end = end, start  # along the paper: from the right end
            spots.append(Balloon(geometry.between(start, end, share), number, pointer))
        boxes = [s.box(0.25) for s in spots]
        apart = all(not geometry.boxes_touch(p, q) for p, q in pairwise(boxes))
        if apart and all(draft.free(box) for box in boxes):
            return spots
    return None
