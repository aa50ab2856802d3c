"""The finished piece, drawn before its first fold: what it looks like and which edge hooks where.

A flat piece is seen from the face as it lies on the roof; a section is seen from its start end, face and back named.
"""

from __future__ import annotations

from math import atan2, cos, degrees, radians, sin

from fabplan import plane
from fabplan.blanks import clip
from fabplan.blanks.model import FlatPattern, Fold
from fabplan.plotter.bend.fold import footprint, outward
from fabplan.plotter.blank.blank import edge_count, fold_words
from fabplan.plotter.blank.finished_section import draw_finished_section
from fabplan.plotter.board import geometry
from fabplan.plotter.board.draft import Draft
from fabplan.plotter.board.measure import on_paper, width
from fabplan.plotter.model import Drawing, Point, Text
from fabplan.speech.format import spans
from fabplan.units import Show

NOTE = 9.0
NUMBER = 12.0
LABEL = 10.0
# What meets an edge on the roof, by kind of piece, side the edge is folded to, and whether it is a hem.
HOOKS = {
    ("diamond", "face", True): "the pieces above hook in here",
    ("diamond", "back", True): "hook onto the pieces below",
    ("starter", "face", True): "the first course hooks in here",
    ("starter", "back", True): "hooks onto the eave edge",
    ("ridge-half", "back", True): "hook onto the pieces below",
    ("ridge-half", "face", False): "turns up at the ridge",
    ("rake-left", "face", True): "the piece above hooks in here",
    ("rake-left", "back", True): "hooks onto the piece below",
    ("rake-left", "face", False): "turns up along the rake",
    ("rake-right", "face", True): "the piece above hooks in here",
    ("rake-right", "back", True): "hooks onto the piece below",
    ("rake-right", "face", False): "turns up along the rake",
    ("flat-seam", "face", True): "the next pans hook in here",
    ("flat-seam", "back", True): "hook onto the pans already laid",
}
ON_ROOF = ("diamond", "starter", "ridge-half", "rake-left", "rake-right")


def draw_finished(
    pattern: FlatPattern, *, show: Show, name: str = "", width_mm: float = 120.0, height_mm: float = 44.0
) -> Drawing:
    """Picture of the finished piece with the words that say where its edges hook."""
    name = name or f"finished-{pattern.mark}"
    if pattern.section is not None:
        return draw_finished_section(pattern, show, name, width_mm, height_mm)
    return _flat(pattern, show, name, width_mm, height_mm)


def _upright(pattern: FlatPattern) -> float:
    """Degrees to turn the blank's frame counter-clockwise so that the piece stands as on the roof."""
    corners = pattern.finished.outline or pattern.outline
    if pattern.kind != "diamond":
        return 0.0
    cx, cy = plane.middle(corners)
    return 90.0 - degrees(atan2(corners[0][1] - cy, corners[0][0] - cx))


def _hook_words(pattern: FlatPattern, fold: Fold) -> str:
    return HOOKS.get((pattern.kind, fold.toward, fold.hem), "")


def _flat(pattern: FlatPattern, show: Show, name: str, width_mm: float, height_mm: float) -> Drawing:
    """A flat piece as it is when folded: body, flaps on the face and on the back, sizes."""
    draft = Draft()
    angle = radians(_upright(pattern))
    c, s = cos(angle), sin(angle)

    def turn(p: Point) -> Point:
        return p[0] * c - p[1] * s, p[0] * s + p[1] * c

    flaps = {f.edge: f for f in pattern.folds}
    body = _panel(pattern)
    x0, y0, x1, y1 = plane.bounds([turn(p) for p in body])
    room = 6.5
    scale = min((height_mm - 2 * room) / (y1 - y0), (width_mm * 0.42 - 2 * room) / (x1 - x0), 25.4)
    bottom = (height_mm - (y1 - y0) * scale) / 2

    def at(p: Point) -> Point:
        x, y = turn(p)
        return room + (x - x0) * scale, bottom + (y - y0) * scale

    outline = tuple(at(p) for p in body)
    draft.polygon(outline, "cut", "white")
    for p, q in zip(outline, outline[1:] + outline[:1], strict=True):
        draft.take(geometry.strip_box(p, q, 0.5))
    for fold in pattern.folds:
        pen = "hem" if fold.toward == "face" else "hidden"
        points = [at(p) for p in footprint(fold, fold.turned, 0.9 / scale)]
        on_fold = [plane.off_line(*fold.line, p) < 1e-6 for p in fold.flap]
        for i, p in enumerate(points):
            k = (i + 1) % len(points)
            if not (on_fold[i] and on_fold[k]):
                draft.line((p, points[k]), pen)  # type: ignore[arg-type]
                draft.take(geometry.strip_box(p, points[k], 0.3))
    corners = pattern.finished.outline or pattern.outline
    for edge in range(1, edge_count(pattern) + 1):
        a, b = corners[edge - 1], corners[edge % len(corners)]
        middle = at(geometry.between(a, b, 0.5))
        ox, oy = outward(pattern, edge)
        ux, uy = ox * c - oy * s, ox * s + oy * c
        p, q = at(a), at(b)
        choices = [
            Text(
                at=(middle[0] + ux * away + (q[0] - p[0]) * share, middle[1] + uy * away + (q[1] - p[1]) * share),
                text=str(edge),
                size=NUMBER,
                bold=edge in flaps,
            )
            for away in (3.2, 5.5, 8.0, 10.5)
            for share in (0.0, 0.15, -0.15, 0.3, -0.3)
        ]
        choices = [t for t in choices if on_paper(t, width_mm, height_mm)] or choices
        if not draft.place(choices, 0.1):
            draft.text(choices[0])
    cx, cy = plane.middle(outline)
    draft.place(
        [Text(at=(cx, cy + dy), text="FACE", size=z, bold=True) for z in (9.0, 8.0) for dy in (0.0, 2.5, -2.5)], 0.4
    )
    right = room + (x1 - x0) * scale + room
    if pattern.kind in ON_ROOF:
        level = height_mm / 2
        draft.line(((right + 2.5, level - 9.0), (right + 2.5, level + 9.0)), "edge", "end")
        draft.text(Text(at=(right + 5.6, level), text="up the roof", size=8.0, turned=90.0))
        right += 7.0
    _words(draft, pattern, show, right + 4.0, width_mm, height_mm)
    title = f"Piece {pattern.mark} finished, seen from the face"
    return draft.done(name, title, width_mm, height_mm, 25.4 / scale)


def _panel(pattern: FlatPattern) -> tuple[Point, ...]:
    shape = clip.shape(pattern.snipped)
    for fold in pattern.folds:
        if fold.flap:
            shape = clip.largest(clip.difference(shape, clip.shape(fold.flap)))
    return tuple((x, y) for x, y in clip.corners(shape))


def _broken(text: str, bold: bool, room: float) -> list[str]:
    """The text in lines that fit so many mm at the least size, broken between words."""
    out: list[str] = []
    for word in text.split(" "):
        if out and width(f"{out[-1]} {word}", 8.0, bold) <= room:
            out[-1] += f" {word}"
        else:
            out.append(word)
    return out


def _words(draft: Draft, pattern: FlatPattern, show: Show, left: float, width_mm: float, height_mm: float) -> None:
    """One line for every kind of fold: edges, fold, and where it hooks."""
    groups: dict[tuple[str, str], list[int]] = {}
    for fold in pattern.folds:
        groups.setdefault((fold_words(fold, show), _hook_words(pattern, fold)), []).append(fold.edge)
    rows: list[tuple[str, bool]] = []
    for (words, hooks), edges in groups.items():
        rows.append((f"{spans(sorted(set(edges)))}: {words}", True))
        if hooks:
            rows.append((hooks, False))
    free = [e for e in range(1, edge_count(pattern) + 1) if e not in {f.edge for f in pattern.folds}]
    if free:
        rows.append((f"{spans(sorted(set(free)))}: not folded", False))
    size, room = NOTE, width_mm - left
    rows = [(part, bold) for text, bold in rows for part in _broken(text, bold, room)]
    while size > 8.0 and any(width(t, size, b) > width_mm - left for t, b in rows):
        size -= 0.5
    pitch = min(4.9, (height_mm - 2.0) / max(1, len(rows)))
    y = height_mm / 2 + pitch * (len(rows) - 1) / 2
    for text, bold in rows:
        draft.text(Text(at=(left, y), text=text, size=size, bold=bold, anchor="left"))
        y -= pitch
