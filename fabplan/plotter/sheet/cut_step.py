"""One cut to marks, or on the slant, as it is made: the blade, the metal before it, the gauge, the stop, both ends.

The metal lies as at the shear, face up: the heavy line is the blade, the operator stands below it, and what lies above
falls behind the blade. Sizes along the border run from a corner to where the cut meets the border.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise
from math import atan2, cos, hypot, pi, radians, sin

from fabplan import plane
from fabplan.nesting.model import Layout
from fabplan.plane import half
from fabplan.plotter.board import geometry, labels
from fabplan.plotter.board.draft import OFF, Draft
from fabplan.plotter.board.measure import extent
from fabplan.plotter.model import Circle, Drawing, Point, Text
from fabplan.plotter.sheet.cut_lie import PaperLie, by_marks, stop_of
from fabplan.plotter.sheet.cut_marks import AT_CORNER, BorderMark, border_marks
from fabplan.plotter.sheet.replay import MadeCut, blank_outline, is_rectangle
from fabplan.units import Show

MARK_SIZE, BLANK_SIZES, WORD_SIZE = 10.0, (12.0, 10.0, 8.0), 8.5
OUTS = (4.2, 8.4, 12.6, 17.0)  # mm from the metal's border to a dimension line
TAIL = 3.6  # mm a short dimension's arrows reach past it
PAST = 4.0  # mm the blade's line runs past the metal
BAR = 1.6  # mm, thickness of gauge and stop as drawn
AROUND = (9.0, 7.0)  # mm beside and above the metal, kept for sizes
EDGE = 0.4  # mm kept free at the edge of the drawing
TRIES = 12
LONG, SHOWN = 1.7, 1.15  # metal before the blade is broken off when so many times as deep as what must be seen
# Metal less slender than this is drawn whole: a rectangle's longer side would not show, nor which corner of another.
SLENDER, STRIP = 1.3, 2.5


def draw_cut_step(
    layout: Layout, made: MadeCut, *, grid: int, show: Show, name: str, width_mm: float, height_mm: float
) -> Drawing:
    """Picture of one cut on the metal it is made on.

    Parameters
    ----------
    layout : Layout
    made : MadeCut
        A cut of that layout, replayed; it must part its metal in two.
    grid : int
        Nanometres in one graduation of the layout.
    show : Show
        How sizes are printed.
    name : str
        Name of the drawing (its file).
    width_mm, height_mm : float
        Paper it may take at most, mm; the picture is as wide and high as its marks.
    """

    def size(graduations: float) -> str:
        return labels.steps(show, graduations, grid)

    beside, above = AROUND
    lie = PaperLie(made)
    front = _front(lie, made)
    outline = [lie.point(p) for p in made.outline]
    shown: Sequence[Point] = half(outline, (0.0, -1.0), front, 1e-9) if front else outline
    x0, y0, x1, y1 = plane.bounds(shown)
    for _ in range(TRIES):
        scale = min(max(width_mm - 2 * beside, 12.0) / (x1 - x0), max(height_mm - 2 * above, 8.0) / (y1 - y0))
        lie.scale = scale
        lie.at = (width_mm - (x0 + x1) * scale) / 2, above - y0 * scale
        draft = Draft()
        _draw(draft, lie, made, size, width_mm, front * scale)
        short = _short(draft, width_mm)
        if short <= 0:
            break
        beside += short
    title = f"Cut {made.cut.step}, {layout.stock}"
    return draft.trimmed(name, title, width_mm, 25.4 / (lie.scale * 25_400_000 / grid), sides=True)


def _front(lie: PaperLie, made: MadeCut) -> float:
    """Depth before the blade, in graduations, from which on the metal is not drawn; 0 when all of it is."""
    ys = [lie.point(p)[1] for p in made.outline]
    chord = plane.distance(made.cut.start, made.cut.end)
    seen = [0.35 * chord, 0.8 * max(ys)]
    seen += [-lie.point(mark.corner)[1] for mark in border_marks(made.outline, made.cut.start, made.cut.end)]
    x0, y0, x1, y1 = plane.bounds(made.outline)
    short, long = sorted((x1 - x0, y1 - y0))
    if long < (SLENDER if is_rectangle(made.outline) else STRIP) * short:
        return 0.0
    if is_rectangle(made.outline):  # two sides alike but for their length: all of one must be seen
        seen.append(-sorted(ys)[-2])
    need = max(seen)
    return need * SHOWN if -min(ys) > LONG * need else 0.0


def _short(draft: Draft, width_mm: float) -> float:
    """How far the widest text runs out of the paper, mm."""
    xs = [x for mark in draft.marks if isinstance(mark, Text) for x, _ in extent(mark)]
    return max(EDGE - min(xs), max(xs) - (width_mm - EDGE), 0.0) if xs else 0.0


def _draw(
    draft: Draft, lie: PaperLie, made: MadeCut, size: Callable[[float], str], width_mm: float, front: float
) -> None:
    """The metal on the table, the cut, what drops and what stays, and where the gauge is."""
    level = lie.at[1] - front  # on paper, where the metal is broken off

    def part(ring: Sequence[Point]) -> list[Point]:
        points = [lie.point(p) for p in ring]
        return half(points, (0.0, -1.0), -level, 1e-9) if front else points

    for piece in (made.cut.falls, made.cut.stays):
        if piece is not None:
            draft.polygon(part(piece.outline), None, "hatch" if piece.use == "scrap" else "white")
    ring = part(made.outline)
    sides = list(zip(ring, (*ring[1:], ring[0]), strict=True))
    blanks = [(b.mark, part(blank_outline(b))) for b in made.blanks]
    blanks = [(mark, outline) for mark, outline in blanks if len(outline) > 2]
    near = max(0.1, 1.05 * lie.scale)  # a blank a graduation short of the border is not cut there
    for _, outline in blanks:
        for a, b in zip(outline, (*outline[1:], outline[0]), strict=True):
            middle = geometry.between(a, b, 0.5)
            if not any(plane.on_stretch(*side, middle, near) for side in sides):
                draft.line((a, b), "fold-later")
    for a, b in sides:
        if plane.distance(a, b) < 1e-6:
            continue
        if front and abs(a[1] - level) < 1e-6 and abs(b[1] - level) < 1e-6:
            draft.line(_zigzag(a, b), "dimension")
        else:
            draft.line((a, b), "edge")
        draft.take(geometry.strip_box(a, b, 0.3))
    tips = lie.point(made.cut.start), lie.point(made.cut.end)
    left, right = min(tips), max(tips)
    blade = (left[0] - PAST, left[1]), (right[0] + PAST, right[1])
    draft.line(blade, "outline")
    draft.take(geometry.strip_box(*blade, 0.4))
    bar = _gauge(draft, lie, made) if made.normal is not None else ()
    if bar:
        _stop(draft, made, lie)
    ends = border_marks(made.outline, made.cut.start, made.cut.end, laid_off=not bar)
    marked = by_marks(made)
    middle = plane.middle([lie.point(p) for p in made.outline])
    for end in ends:
        if end.size >= AT_CORNER:
            _size(draft, lie, made.outline, end, size(end.size), bold=marked)
    if is_rectangle(made.outline) or not bar:
        _side(draft, lie, made.outline, [end.side for end in ends], size, level)
    for end in ends:
        if end.size < AT_CORNER:
            _corner(draft, lie.point(end.corner), middle, bold=marked)
    _falls(draft, blade, tips)
    for mark, outline in blanks:
        x, y = plane.middle(outline)
        spots = [(x, y), *(geometry.between((x, y), corner, 0.35) for corner in outline)]
        texts = [Text(at=spot, text=mark, size=s, bold=True) for s in BLANK_SIZES for spot in spots]
        draft.place([t for t in texts if all(plane.contains(outline, p) for p in extent(t, 0.3))], 0.9)


def _side(
    draft: Draft,
    lie: PaperLie,
    outline: Sequence[Point],
    cut: Sequence[int],
    size: Callable[[float], str],
    level: float,
) -> None:
    """The length of one side, thin: which way the metal lies cannot always be seen otherwise."""
    sides = list(zip(outline, (*outline[1:], outline[0]), strict=True))
    long = [plane.distance(*side) for side in sides]
    whole = is_rectangle(outline)
    for k in sorted(range(len(sides)), key=lambda n: (n in cut, 0.0 if whole else -long[n])):
        a, b = (lie.point(p) for p in sides[k])
        if (whole or k not in cut) and (min(a[1], b[1]) > level - 1e-6 or level >= lie.at[1]):
            _dimension(draft, b, a, 1.0, size(long[k]), bold=False, needed=whole)
            return


def _zigzag(a: Point, b: Point) -> list[Point]:
    """A break line: straight, with one jog in the middle."""
    long = plane.distance(a, b)
    jog = min(1.5, long / 6)
    ux, uy = (b[0] - a[0]) / long, (b[1] - a[1]) / long
    m = geometry.between(a, b, 0.5)
    steps = ((-jog, 0.0), (-jog / 2, 1.2), (jog / 2, -1.2), (jog, 0.0))
    return [a, *((m[0] + ux * u - uy * v, m[1] + uy * u + ux * v) for u, v in steps), b]


def _gauge(draft: Draft, lie: PaperLie, made: MadeCut) -> tuple[Point, ...]:
    """The back gauge as a black bar against the metal, and an arrow from the blade to it; returns the bar's corners."""
    blade = lie.at[1]
    falling = [lie.point(p) for p in (made.parts[0] if made.parts else made.outline)]
    top = max(y for _, y in falling)
    touching = sorted(x for x, y in falling if y > top - 0.02)
    low, high = touching[0], touching[-1]
    if high - low < 1.0:  # a corner alone lies against it
        low, high = low - 5.0, high + 5.0
    bar = (low, top), (high, top), (high, top + BAR), (low, top + BAR)
    draft.polygon(bar, None, "black")
    draft.take(bar)
    ends = sorted(lie.point(p)[0] for p in (made.cut.start, made.cut.end))
    x = (max(low, ends[0]) + min(high, ends[1])) / 2 if min(high, ends[1]) > max(low, ends[0]) else (low + high) / 2
    draft.line(((x, blade), (x, top)), "dimension", "both")
    draft.take(geometry.strip_box((x, blade), (x, top), 0.3))
    return bar


def _stop(draft: Draft, made: MadeCut, lie: PaperLie) -> None:
    """The angle stop as a white bar along its side of the metal, with the arc of its angle."""
    found = stop_of(made)
    if found is None:
        return
    angle = made.cut.angle
    foot, end = ((lie.at[0] + x * lie.scale, lie.at[1] + y * lie.scale) for x, y in found)
    ring = [lie.point(p) for p in made.outline]
    ux, uy = cos(radians(angle)), -sin(radians(angle))
    long = max(6.0, min(plane.distance(foot, end), 16.0))
    mx, my = plane.middle(ring)
    nx, ny = -uy, ux
    if (mx - foot[0]) * nx + (my - foot[1]) * ny > 0:  # outside the metal
        nx, ny = -nx, -ny
    a = (foot[0] + ux * 1.2, foot[1] + uy * 1.2)
    b = (foot[0] + ux * long, foot[1] + uy * long)
    bar = a, b, (b[0] + nx * BAR, b[1] + ny * BAR), (a[0] + nx * BAR, a[1] + ny * BAR)
    draft.polygon(bar, "edge", "white")
    draft.take(bar)
    if abs(angle - 90.0) > 0.05:
        radius = min(5.0, 0.8 * long)
        turns = [-radians(angle) * k / 12 for k in range(13)]
        arc = [(foot[0] + radius * cos(t), foot[1] + radius * sin(t)) for t in turns]
        draft.line(arc, "dimension")
        for p, q in pairwise(arc):
            draft.take(geometry.strip_box(p, q, 0.3))


def _size(draft: Draft, lie: PaperLie, outline: Sequence[Point], end: BorderMark, label: str, *, bold: bool) -> None:
    """The size from a corner to one end of the cut, outside the metal; thin where it only checks."""
    # the border runs counter-clockwise: outside is at its right
    side = -1.0 if end.corner == outline[end.side] else 1.0
    _dimension(draft, lie.point(end.corner), lie.point(end.at), side, label, bold=bold)


def _dimension(
    draft: Draft, start: Point, stop: Point, side: float, label: str, *, bold: bool, needed: bool = True
) -> None:
    """A size along the border, as near to it as there is room; a long value stands past the corner it starts at.

    One that is not `needed` is left out where it has no room.
    """
    nx, ny = geometry.toward((0.0, 0.0), (-(stop[1] - start[1]), stop[0] - start[0]), side)

    def off(p: Point, by: float) -> Point:
        return p[0] + nx * by, p[1] + ny * by

    def clear(out: float) -> bool:
        a, b = off(start, out), off(stop, out)
        far = plane.distance(a, b) + TAIL
        lines = [(geometry.toward(b, a, far), geometry.toward(a, b, far))]
        lines += [(off(foot, OFF + 0.6), off(foot, out + 1.6)) for foot in (start, stop)]
        value = geometry.strip_box(off(start, out + 1.5), off(stop, out + 1.5), 2.6)
        return draft.free(value) and all(draft.free(geometry.strip_box(*line, 0.3)) for line in lines)

    size = MARK_SIZE if bold else WORD_SIZE
    for out in (*(out for out in OUTS if clear(out)), *(OUTS if needed else ())):
        if draft.dimension(stop, start, -side * out, label, size=size, bold=bold, only_clear=True):
            break
    else:
        if not needed:
            return
        out = OUTS[0]
        draft.dimension(stop, start, -side * out, label, size=size, bold=bold)
    for foot in (start, stop):
        draft.take(geometry.strip_box(foot, off(foot, out + 1.6), 0.3))
    a, b = off(start, out), off(stop, out)
    far = plane.distance(a, b) + TAIL
    draft.take(geometry.strip_box(geometry.toward(b, a, far), geometry.toward(a, b, far), 0.4))


def _corner(draft: Draft, at: Point, middle: Point, *, bold: bool) -> None:
    """A ring and the word where the cut meets a corner."""
    draft.add(Circle(centre=at, radius=1.3, pen="edge", fill="none"))
    away = hypot(at[0] - middle[0], at[1] - middle[1]) or 1.0
    turn = atan2((at[1] - middle[1]) / away, (at[0] - middle[0]) / away)
    turns = (0.0, 0.6, -0.6, 1.2, -1.2, 1.8, -1.8, 2.4, -2.4, pi)
    spots = [(at[0] + 1.7 * r * cos(turn + t), at[1] + r * sin(turn + t)) for r in (4.0, 5.5, 7.0, 9.0) for t in turns]
    draft.place([Text(at=s, text="corner", size=WORD_SIZE, bold=bold) for s in spots])


def _falls(draft: Draft, blade: tuple[Point, Point], tips: tuple[Point, Point]) -> None:
    """An arrow up from the blade, to the part that falls behind it."""
    (left, y), (right, _) = blade
    inside = [geometry.between(*tips, share)[0] for share in (0.5, 0.35, 0.65, 0.2, 0.8)]
    for x in (right - 1.0, left + 1.0, *inside):
        for reach in (5.0, 3.6):
            label = Text(at=(x, y + reach + 1.8), text="falls", size=WORD_SIZE, bold=True, boxed=True)
            arrow = geometry.strip_box((x, y + 0.5), (x, y + reach), 0.4)
            if draft.free(extent(label, 0.2)) and draft.free(arrow):
                draft.line(((x, y), (x, y + reach)), "cut", "end")
                draft.text(label)
                draft.take(arrow)
                return
