"""The key of lines and signs, printed once on the first page of a packet, and the parts of the brake by name."""

from __future__ import annotations

from collections.abc import Callable

from fabplan.bending.model import BrakeSection
from fabplan.blanks import clip
from fabplan.plotter.callouts import Balloon
from fabplan.plotter.draft import Draft
from fabplan.plotter.model import Circle, Drawing, Fill, Pen, Point, Shape, Text

ROW = 6.0  # mm
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
    draft.add(
        Shape(points=((x + 8, y - 2), (x + 12, y - 2), (x + 12, y + 2), (x + 8, y + 2)), pen="edge", fill="hatch")
    )
    draft.line(((x + 8, y - 2.2), (x + 8, y + 2.2)), "fold-active")
    draft.line(((x + SAMPLE, y), (x + 1.0, y)), "cut", "end")


def _size(draft: Draft, x: float, y: float) -> None:
    draft.line(((x, y - 2), (x, y + 1)), "dimension")
    draft.line(((x + SAMPLE, y - 2), (x + SAMPLE, y + 1)), "dimension")
    draft.line(((x, y - 1), (x + SAMPLE, y - 1)), "dimension", "both")
    draft.add(Text(at=(x + SAMPLE / 2, y + 1.3), text="14 1⁄2", size=7.5))


def _unmade(draft: Draft, x: float, y: float) -> None:
    draft.line(((x, y), (x + SAMPLE, y)), "metal")
    draft.add(Circle(centre=(x + SAMPLE / 2, y), radius=0.7, pen="dimension"))


ROWS: tuple[tuple[Sample, str], ...] = (
    (_pen("outline"), "border of the stock or of the blank"),
    (_pen("cut"), "first cuts, right across the stock"),
    (_pen("edge"), "later cuts, borders of parts"),
    (_box("hatch", "edge"), "scrap, or metal to snip off"),
    (_balloon("7", (1.0, 0.0)), "cut 7; the point is the back-gauge side"),
    (_keep, "offcut to keep"),
    (_balloon("8–12", None), "cuts 8 to 12 at one setting"),
    (_edge_point, "this edge to the back gauge first"),
    (_balloon("8…12", None), "some of 8 to 12: the table says which"),
    (_pen("fold"), "line to fold on (blank)"),
    (_now, "fold now: this line, hatched part goes up"),
    (_pen("hem"), "fold made, on the side you see"),
    (_pen("hidden"), "fold made, on the side below"),
    (_pen("fold-later"), "fold to come"),
    (_unmade, "metal in section; ring: bend to come"),
    (_pen("former"), "sheared border before snipping"),
    (_size, "size, in the job's units"),
)


ROOF_ROWS: tuple[tuple[Sample, str], ...] = (
    (_pen("snap"), "chalk line to snap (roof)"),
    (_pen("centre"), "centre line"),
)


def draw_key(*, width_mm: float = 180.0, roof: bool = False) -> Drawing:
    """Every line and sign of the packet's drawings beside its meaning, in two columns; `roof` adds the roof's own."""
    draft = Draft()
    rows = ROWS + (ROOF_ROWS if roof else ())
    half = (len(rows) + 1) // 2
    high = half * ROW + 2.0
    for i, (sample, words) in enumerate(rows):
        x = 1.0 + (i // half) * width_mm / 2
        y = high - 1.0 - ROW * (i % half + 0.5)
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
