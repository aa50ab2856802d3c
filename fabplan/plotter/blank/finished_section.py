"""A finished section, seen from its start end: legs with their outside sizes, bends by number, hems, face and back."""

from __future__ import annotations

from itertools import pairwise
from math import cos, pi, radians, sin

from fabplan import plane
from fabplan.blanks.model import FlatPattern, SectionShape
from fabplan.plotter.board import geometry, labels
from fabplan.plotter.board.draft import Draft
from fabplan.plotter.board.measure import extent, on_paper
from fabplan.plotter.model import Drawing, Line, Point, Text
from fabplan.units import Show

NOTE = 9.0
LABEL = 9.0
HEM_OPEN, HEM_CLOSED = 2.2, 1.2


def draw_finished_section(pattern: FlatPattern, show: Show, name: str, width_mm: float, height_mm: float) -> Drawing:
    """The bent section seen from its start end, with its leg sizes, bend numbers, face and back."""
    shape = pattern.section
    assert shape is not None
    draft = Draft()
    points: list[Point] = [(0.0, 0.0)]
    heading = 0.0
    hems: dict[int, float] = {}
    folds: dict[int, float] = {}  # folds between legs: corner of the line, and the side it turns to
    ends = [shape.hem_at(k) for k in range(len(shape.bends))]
    for i, leg in enumerate(shape.legs):
        flap = (i == 0 and ends[:1] == ["start"]) or (i == len(shape.bends) and ends[-1:] == ["end"])
        if not flap:
            x, y = points[-1]
            points.append((x + leg * cos(radians(heading)), y + leg * sin(radians(heading))))
        if i < len(shape.bends):
            if ends[i]:
                hems[i] = leg if ends[i] == "start" else shape.legs[i + 1]
            else:
                heading += shape.bends[i]
                if abs(shape.bends[i]) >= 180:
                    folds[len(points) - 1] = shape.bends[i]
    if len(points) < 2:
        points.append((max(shape.legs), 0.0))
    x0, y0, x1, y1 = plane.bounds(points)
    # lay the longer extent across the paper
    if y1 - y0 > x1 - x0:
        points = [(y, -x) for x, y in points]
        x0, y0, x1, y1 = plane.bounds(points)
    side, top, bottom = 37.0 if hems else 30.0, 8.0, 8.0
    height_mm = min(90.0, max(38.0, height_mm) + 6.0 * max(0, len(points) - 4))  # legs need room for their sizes
    wide, high = max(x1 - x0, 1e-6), max(y1 - y0, 1e-6)
    scale = min((width_mm - 2 * side) / wide, (height_mm - top - bottom) / high, 25.4)
    left = (width_mm - wide * scale) / 2
    low = bottom + (height_mm - top - bottom - high * scale) / 2

    def at(p: Point) -> Point:
        return left + (p[0] - x0) * scale, low + (p[1] - y0) * scale

    legs = _opened([at(p) for p in points], folds)
    line = [legs[0][0], *(p for leg in legs for p in leg[1:])]
    for k in folds:
        line.insert(line.index(legs[k - 1][1]) + 1, legs[k][0])
    draft.line(line, "metal")
    for a, b in legs:
        draft.take(geometry.strip_box(a, b, 0.9))
    for i, deep in hems.items():
        _hem(draft, line, shape.hem_at(i) == "start", shape.bends[i], shape.gaps[i] or 0.0, deep * scale)
    _bend_labels(draft, shape, hems, legs, (width_mm, height_mm), show)
    _leg_sizes(draft, shape.legs, legs, 1 if 0 in hems else 0, show, (width_mm, height_mm))
    _side_names(draft, legs, (width_mm, height_mm))
    if pattern.far is not None:
        draft.text(Text(at=(8.0, height_mm - 3.0), text="end A", size=NOTE, bold=True))
    title = f"Section {pattern.mark} finished, seen from its start end"
    return draft.done(name, title, width_mm, height_mm, 25.4 / scale)


Leg = tuple[Point, Point]


def _opened(line: list[Point], folds: dict[int, float]) -> list[Leg]:
    """The legs on paper, those beyond a fold between legs set off so that both layers can be seen."""
    legs: list[Leg] = []
    off = (0.0, 0.0)
    for k, (a, b) in enumerate(pairwise(line)):
        if k in folds:
            back, tip = line[k - 1], line[k]
            u = geometry.toward((0, 0), (tip[0] - back[0], tip[1] - back[1]), HEM_CLOSED)
            side = 1.0 if folds[k] > 0 else -1.0
            off = (off[0] - side * u[1], off[1] + side * u[0])
        legs.append(((a[0] + off[0], a[1] + off[1]), (b[0] + off[0], b[1] + off[1])))
    return legs


def _hem(draft: Draft, line: list[Point], start: bool, bend: float, gap: float, deep: float) -> None:
    """A hem at an end of the drawn line; the face is on the left walking from the start."""
    tip, inner = (line[0], line[1]) if start else (line[-1], line[-2])
    long = plane.distance(tip, inner) or 1.0
    ux, uy = (inner[0] - tip[0]) / long, (inner[1] - tip[1]) / long
    walk = (ux, uy) if start else (-ux, -uy)
    face = (-walk[1], walk[0])
    sign = 1.0 if bend > 0 else -1.0
    nx, ny = face[0] * sign, face[1] * sign
    r = (HEM_OPEN if gap > 0 else HEM_CLOSED) / 2
    bow = [
        (
            tip[0] + nx * (r - r * cos(pi * k / 10)) - ux * r * sin(pi * k / 10),
            tip[1] + ny * (r - r * cos(pi * k / 10)) - uy * r * sin(pi * k / 10),
        )
        for k in range(11)
    ]
    reach = max(3.0, deep)
    end = (tip[0] + nx * 2 * r + ux * reach, tip[1] + ny * 2 * r + uy * reach)
    draft.line([*bow, end], "metal")
    draft.take(geometry.strip_box(bow[-1], end, 0.9))


def _bend_labels(
    draft: Draft,
    shape: SectionShape,
    hems: dict[int, float],
    legs: list[Leg],
    frame: tuple[float, float],
    show: Show,
) -> None:
    """Number of every bend, how far it is turned, and the width of hems, on the outside of the bend."""
    corner = 0
    for i, bend in enumerate(shape.bends):
        if i in hems:
            tip, inner = legs[0] if shape.hem_at(i) == "start" else legs[-1][::-1]
            kind = "open" if (shape.gaps[i] or 0.0) > 0 else "closed"
            words = f"{i + 1}: {kind} hem {labels.bare(show, hems[i])}"
            away = geometry.toward((0, 0), (tip[0] - inner[0], tip[1] - inner[1]), 1.0)
        else:
            (before, tip), (_, after) = legs[corner], legs[corner + 1]
            corner += 1
            u = geometry.toward((0, 0), (tip[0] - before[0], tip[1] - before[1]), 1.0)
            v = geometry.toward((0, 0), (tip[0] - after[0], tip[1] - after[1]), 1.0)
            away = geometry.toward((0, 0), (u[0] + v[0], u[1] + v[1]), 1.0)
            words = f"{i + 1}: {'folded back' if abs(bend) >= 180 else labels.degrees(abs(bend))}"
        choices = []
        for d in (3.4, 5.0, 7.0, 9.0, 12.0, 15.0):
            for e in (0.0, 3.0, -3.0, 6.0, -6.0, 9.0, -9.0):
                x, y = tip[0] + away[0] * d - away[1] * e, tip[1] + away[1] * d + away[0] * e
                anchors = ("left",) if away[0] > 0.5 else ("right",) if away[0] < -0.5 else ("centre", "left", "right")
                choices += [Text(at=(x, y), text=words, size=LABEL, bold=True, anchor=a) for a in anchors]  # type: ignore[arg-type]
        inside = [t for t in choices if on_paper(t, *frame)]
        if not draft.place(inside or choices, 0.3):
            draft.text((inside or choices)[0])


def _leg_sizes(
    draft: Draft,
    legs: tuple[float, ...],
    drawn: list[Leg],
    first_plain: int,
    show: Show,
    frame: tuple[float, float],
) -> None:
    """Size of every leg: dimensioned where there is room, else written beside it."""
    for k, (a, b) in enumerate(drawn):
        text = labels.bare(show, legs[first_plain + k])
        for offset in (5.5, -5.5, 8.5, -8.5, 11.5, -11.5):
            trial = Draft()
            trial.dimension(a, b, offset, text, size=NOTE)
            label = next(m for m in trial.marks if isinstance(m, Text))
            words = [extent(m, 0.2) for m in draft.marks if isinstance(m, Text)]
            ink = [
                geometry.strip_box(p, q, 0.2) for m in trial.marks if isinstance(m, Line) for p, q in pairwise(m.points)
            ]
            clear = not any(geometry.boxes_touch(i, w) for i in ink for w in words)
            inside = all(0.3 < x < frame[0] - 0.3 and 0.3 < y < frame[1] - 0.3 for box in ink for x, y in box)
            if clear and inside and on_paper(label, *frame) and draft.free(extent(label, 0.3)):
                draft.dimension(a, b, offset, text, size=NOTE)
                break
        else:
            draft.place([t for t in _beside(a, b, text, NOTE, False) if on_paper(t, *frame)], 0.3)


def _beside(a: Point, b: Point, text: str, size: float, bold: bool) -> list[Text]:
    """Places for a word along a line, on either side of it."""
    long = plane.distance(a, b) or 1.0
    nx, ny = -(b[1] - a[1]) / long, (b[0] - a[0]) / long
    out = []
    for d in (3.4, 5.0, 9.5, 12.0):
        for share in (0.5, 0.3, 0.7, 0.15, 0.85):
            for sign in (1.0, -1.0):
                x, y = geometry.between(a, b, share)
                out.append(Text(at=(x + sign * nx * d, y + sign * ny * d), text=text, size=size, bold=bold))
    return out


def _side_names(draft: Draft, drawn: list[Leg], frame: tuple[float, float]) -> None:
    """Face and back beside a long leg: the face lies on the left walking from the start edge."""
    legs = sorted(drawn, key=lambda e: -plane.distance(*e))
    for name, bold in (("face", True), ("back", False)):
        side = slice(0, None, 2) if name == "face" else slice(1, None, 2)  # left places, right places
        choices = [t for a, b in legs for t in _beside(a, b, name, 8.5, bold)[side]]
        draft.place([t for t in choices if on_paper(t, *frame)], 0.3)
