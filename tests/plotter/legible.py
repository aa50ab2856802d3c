"""What makes a drawing legible, read off its marks: all on the paper, no words over words, no line through words."""

from itertools import combinations, pairwise

from fabplan import plane
from fabplan.plotter.board import geometry
from fabplan.plotter.board.measure import extent, missing
from fabplan.plotter.board.pens import PENS
from fabplan.plotter.model import Circle, Drawing, Line, Shape, Text

MM_PER_POINT = 25.4 / 72
LEAST_SIZE = 8.0  # points; nothing on a drawing is set smaller


def texts(drawing: Drawing) -> list[Text]:
    return [m for m in drawing.marks if isinstance(m, Text)]


def words(drawing: Drawing) -> list[str]:
    return [t.text for t in texts(drawing)]


def balloons(drawing: Drawing) -> list[Circle]:
    return [m for m in drawing.marks if isinstance(m, Circle) and m.radius > 2 and m.fill == "white"]


def off_paper(drawing: Drawing) -> list[object]:
    """Marks that leave the paper."""
    out = []
    for mark in drawing.marks:
        match mark:
            case Text():
                points, half = extent(mark), 0.0
            case Circle():
                (x, y), r = mark.centre, mark.radius
                points, half = ((x - r, y - r), (x + r, y + r)), PENS[mark.pen].width * MM_PER_POINT / 2
            case Line():
                points, half = mark.points, PENS[mark.pen].width * MM_PER_POINT / 2
            case Shape():
                points = mark.points
                half = PENS[mark.pen].width * MM_PER_POINT / 2 if mark.pen else 0.0
        if any(
            not (half - 0.02 <= x <= drawing.width - half + 0.02 and half - 0.02 <= y <= drawing.height - half + 0.02)
            for x, y in points
        ):
            out.append(mark)
    return out


def clashes(drawing: Drawing) -> list[tuple[str, str]]:
    """Pairs of texts whose boxes overlap."""
    boxes = [(t, extent(t, -0.1)) for t in texts(drawing)]
    return [(a.text, b.text) for (a, p), (b, q) in combinations(boxes, 2) if geometry.boxes_touch(p, q)]


def over_balloons(drawing: Drawing) -> list[str]:
    """Texts other than its own number that run into a balloon, and balloons that touch."""
    out = []
    for ring in balloons(drawing):
        (x, y), r = ring.centre, ring.radius * 0.97
        disc = tuple((x + r * c, y + r * s) for c, s in OCTAGON)
        for text in texts(drawing):
            if plane.distance(text.at, ring.centre) > 1e-6 and geometry.boxes_touch(extent(text, -0.1), disc):
                out.append(f"{text.text} over a balloon")
    for a, b in combinations(balloons(drawing), 2):
        if plane.distance(a.centre, b.centre) < a.radius + b.radius - 0.01:
            out.append(f"balloons touch at {a.centre}")
    return out


def over_points(drawing: Drawing) -> list[str]:
    """Texts that run into a black point, of a balloon or of an edge."""
    points = [m.points for m in drawing.marks if isinstance(m, Shape) and m.fill == "black" and len(m.points) == 3]
    return [t.text for t in texts(drawing) for p in points if geometry.boxes_touch(extent(t, -0.1), p)]


OCTAGON = tuple(
    (c, s)
    for c, s in ((1, 0), (0.707, 0.707), (0, 1), (-0.707, 0.707), (-1, 0), (-0.707, -0.707), (0, -1), (0.707, -0.707))
)


def struck(drawing: Drawing) -> list[tuple[str, str]]:
    """Texts with a line through them that is drawn neither under a white box nor under the text's own balloon."""
    covers = [m.centre for m in drawing.marks if isinstance(m, Circle)]
    pills = [m for m in drawing.marks if isinstance(m, Shape) and m.fill in ("white", "black") and len(m.points) > 8]
    out = []
    lines: list[tuple[str, tuple, tuple]] = []
    for mark in drawing.marks:
        if isinstance(mark, Line):
            lines += [(mark.pen, a, b) for a, b in pairwise(mark.points)]
        elif isinstance(mark, Shape) and mark.pen and len(mark.points) <= 8:
            lines += [(mark.pen, a, b) for a, b in pairwise((*mark.points, mark.points[0]))]
    for text in texts(drawing):
        if text.boxed or text.white_on_black:
            continue
        if any(plane.distance(text.at, c) < 1e-6 for c in covers):
            continue
        if any(
            (plane.contains(p.points, text.at) and text.bold and "–" in text.text)
            or plane.distance(plane.middle(p.points), text.at) < 0.5
            for p in pills
        ):
            continue
        box = extent(text, -0.15)
        for pen, a, b in lines:
            if plane.distance(a, b) < 1e-9:
                continue
            if geometry.boxes_touch(box, (a, b, b)):
                out.append((text.text, pen))
                break
    return out


def assert_legible(drawing: Drawing) -> None:
    assert not off_paper(drawing)
    assert not clashes(drawing)
    assert not over_balloons(drawing)
    assert not over_points(drawing)
    assert not struck(drawing)
    for text in texts(drawing):
        assert not missing(text.text)
        assert text.size >= LEAST_SIZE
