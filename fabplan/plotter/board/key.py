"""The key of lines and signs, printed once on the first page of a packet, and the parts of the brake by name."""

from __future__ import annotations

from collections.abc import Callable

from fabplan.bending.model import BrakeSection
from fabplan.blanks import clip
from fabplan.plotter.board.callouts import Balloon
from fabplan.plotter.board.draft import Draft
from fabplan.plotter.model import Circle, Drawing, Fill, Pen, Point, Shape, Text
from fabplan.units import Units

ROW = 4.9  # mm
SAMPLE = 17.0
TEXT = 8.5

Sample = Callable[[Draft, float, float], None]


def _pen(pen: Pen) -> Sample:
    def draw(draft: Draft, x: float, y: float) -> None:
        draft.line(((x, y), (x + SAMPLE, y)), pen)

    return draw


def _box(fill: Fill, pen: Pen) -> Sample:
    def draw(draft: Draft, x: float, y: float) -> None:
        corners = ((x, y - 2.0), (x + SAMPLE, y - 2.0), (x + SAMPLE, y + 2.0), (x, y + 2.0))
        draft.add(Shape(points=corners, pen=pen, fill=fill))

    return draw


def _keep(draft: Draft, x: float, y: float) -> None:
    _box("white", "edge")(draft, x, y)
    inner = ((x + 0.9, y - 1.2), (x + SAMPLE - 0.9, y - 1.2), (x + SAMPLE - 0.9, y + 1.2), (x + 0.9, y + 1.2))
    draft.add(Shape(points=inner, pen="keep"))


def _balloon(number: str, pointer: Point | None) -> Sample:
    def draw(draft: Draft, x: float, y: float) -> None:
        Balloon((x + SAMPLE / 2, y), number, pointer).draw(draft)

    return draw


def _edge_point(draft: Draft, x: float, y: float) -> None:
    draft.line(((x, y - 1.2), (x + SAMPLE, y - 1.2)), "outline")
    m = x + SAMPLE / 2
    draft.add(Shape(points=((m, y + 1.6), (m - 1.5, y - 1.2), (m + 1.5, y - 1.2)), pen=None, fill="black"))


def _now(draft: Draft, x: float, y: float) -> None:
    corners = ((x, y - 1.9), (x + SAMPLE, y - 1.9), (x + SAMPLE, y), (x, y))
    draft.add(Shape(points=corners, pen=None, fill="hatch"))
    draft.line(((x, y), (x + SAMPLE, y)), "fold-active")


def _size(draft: Draft, x: float, y: float, text: str = "14 1⁄2") -> None:
    draft.line(((x, y - 2), (x, y + 1)), "dimension")
    draft.line(((x + SAMPLE, y - 2), (x + SAMPLE, y + 1)), "dimension")
    draft.line(((x, y - 1), (x + SAMPLE, y - 1)), "dimension", "both")
    draft.add(Text(at=(x + SAMPLE / 2, y + 1.3), text=text, size=8.0))


def _unmade(draft: Draft, x: float, y: float) -> None:
    draft.line(((x, y), (x + SAMPLE, y)), "metal")
    draft.add(Circle(centre=(x + SAMPLE / 2, y), radius=0.7, pen="dimension"))


def _bar(draft: Draft, x: float, y: float) -> None:
    draft.line(((x, y - 1.8), (x + SAMPLE, y - 1.8)), "edge")
    bar = ((x + 4, y + 1.6), (x + SAMPLE - 4, y + 1.6), (x + SAMPLE - 4, y), (x + 4, y))
    draft.add(Shape(points=bar, pen=None, fill="black"))


def _rolled(draft: Draft, x: float, y: float) -> None:
    draft.line(((x + 2.0, y), (x + SAMPLE - 2.0, y)), "edge", "both")


Row = tuple[Sample, str]
SHEAR: tuple[Row, ...] = (
    (_pen("outline"), "border of the stock; one cut's picture: blade"),
    (_pen("cut"), "first cuts, right across the stock"),
    (_pen("edge"), "later cuts, borders of parts"),
    (_balloon("7", (1.0, 0.0)), "cut 7; the point is the back-gauge side"),
    (_box("hatch", "edge"), "scrap"),
    (_balloon("8–12", None), "cuts 8 to 12 at one setting; 8…12: some"),
    (_keep, "offcut to keep"),
    (_edge_point, "edge to the gauge first; then each new one"),
    (_bar, "one cut's picture: the back gauge"),
    (_pen("fold-later"), "one cut's picture: cuts to come"),
)
BLANKS: tuple[Row, ...] = (
    (_size, "size, in the job's units"),
    (_pen("outline"), "border of the blank, snipped"),
    (_pen("former"), "sheared border; hatched: metal to snip off"),
    (_pen("fold"), "line to fold on"),
)
ROLLED: tuple[Row, ...] = ((_rolled, "rolling direction of the metal"),)
FOLDING: tuple[Row, ...] = (
    (_now, "fold now: this line, hatched part goes up"),
    (_pen("hem"), "fold made, on the side you see"),
    (_pen("hidden"), "fold made, on the side below"),
    (_pen("fold-later"), "fold to come"),
    (_unmade, "metal in section; ring: bend to come"),
)
ROOF: tuple[Row, ...] = (
    (_pen("snap"), "chalk line to snap"),
    (_pen("centre"), "centre line"),
)


def _millimetres(draft: Draft, x: float, y: float) -> None:
    _size(draft, x, y, "368.5")


def draw_key(
    *,
    width_mm: float = 180.0,
    shear: bool = True,
    folding: bool = True,
    roof: bool = False,
    rolled: bool = False,
    units: Units = "in",
) -> Drawing:
    """Every line and sign of the packet's drawings beside its meaning, by kind of page, in two columns.

    `shear`, `folding` and `roof` tell which pages the packet has besides those of the blanks, `rolled` whether blanks
    show the rolling direction.
    """
    draft = Draft()
    sized = _size if units == "in" else _millimetres
    kinds = [("Blank pages", ((sized, BLANKS[0][1]), *BLANKS[1:], *(ROLLED if rolled else ())))]
    kinds += [("Fold pages", FOLDING)] if folding else []
    first = [("Shear pages", SHEAR)] if shear else []
    first += [("Roof pages", ROOF)] if roof else []
    columns = [first, kinds] if first else [kinds[:1], kinds[1:]]
    high = max(sum(1 + len(rows) for _, rows in column) for column in columns) * ROW + 2.0
    for n, column in enumerate(columns):
        x, y = 1.0 + n * width_mm / 2, high - 1.0 + ROW / 2
        for title, rows in column:
            y -= ROW
            draft.text(Text(at=(x, y), text=title, size=TEXT, bold=True, anchor="left"))
            for sample, words in rows:
                y -= ROW
                sample(draft, x, y)
                draft.text(Text(at=(x + SAMPLE + 4.0, y), text=words, size=TEXT, anchor="left"))
    return draft.done("line-key", "Key of lines and signs", width_mm, high)


def draw_brake_key(brake: BrakeSection, *, width_mm: float = 60.0, height_mm: float = 40.0) -> Drawing:
    """The leaf brake in section with its parts named; the operator stands at the right."""
    draft = Draft()
    scale = height_mm / 5.5  # mm per inch: the jaw and the apron bar stay in the picture
    origin = (width_mm * 0.52, height_mm * 0.42)
    window = clip.shape(((0.3, 0.3), (width_mm - 0.3, 0.3), (width_mm - 0.3, height_mm - 0.3), (0.3, height_mm - 0.3)))
    parts: tuple[tuple[str, tuple[Point, ...], Fill], ...] = (
        ("bed", brake.bed, "hatch"),
        ("nose bar", brake.nose, "hatch-other"),
        ("apron", brake.apron, "hatch"),
    )
    spots = {
        "bed": (origin[0] - 9.0, origin[1] - 7.0),
        "nose bar": (origin[0] - 13.0, origin[1] + 13.0),
        "apron": (origin[0] + 13.0, origin[1] - 9.0),
    }
    for name, outline, fill in parts:
        moved = tuple(
            (origin[0] + x * scale, origin[1] + y * scale + (1.1 if name == "nose bar" else 0.0)) for x, y in outline
        )
        for piece in clip.pieces(clip.intersection(clip.shape(moved), window)):
            draft.polygon(clip.corners(piece), "edge", fill)
    metal = origin[1] + 0.55
    draft.line(((1.0, metal), (origin[0] + 12.0, metal)), "metal")
    for name, at in spots.items():
        draft.text(Text(at=at, text=name, size=TEXT, boxed=True))
    draft.text(Text(at=(origin[0] + 17.0, metal + 3.5), text="you stand here", size=TEXT))
    return draft.done("brake-key", "Parts of the brake in section", width_mm, height_mm, 25.4 / scale)
