"""Labels for the offcuts on the rack: number, size, metal; two across, to cut apart."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from fabplan.errors import PlanError
from fabplan.packet.model import Packet, Page, Picture
from fabplan.packet.output.folder import write_file
from fabplan.packet.setting.fonts import spelled
from fabplan.packet.setting.typeset import typeset
from fabplan.plotter.board.measure import fit, shorten
from fabplan.plotter.model import Drawing, Line, Mark, Shape, Text
from fabplan.shop.counter import shown_size
from fabplan.shop.rack import RackPiece, pieces
from fabplan.speech.format import paper

WIDE, TALL = 86.0, 46.0  # mm
ACROSS, DOWN = 2, 4


def _line(text: str, at: tuple[float, float], largest: float, *, bold: bool = False) -> Text:
    room = WIDE - 10
    size = fit(text, room, largest, 8.0, bold)
    shown, size = (text, size) if size is not None else (shorten(text, room, 8.0, bold), 8.0)
    return Text(at=at, text=shown, size=size, bold=bold)


def label_marks(piece: RackPiece, x: float, y: float) -> list[Mark]:
    """One label with its lower left corner at (x, y) mm: frame, number, size, metal, grain, note, identity."""
    width, length = (text.removesuffix(f" {piece.units}") for text in shown_size(piece))
    size = paper(f"{width} x {length} {piece.units}")
    corners = ((x, y), (x + WIDE, y), (x + WIDE, y + TALL), (x, y + TALL))
    middle = x + WIDE / 2
    marks: list[Mark] = [
        Shape(points=corners, pen="edge", fill="white"),
        _line(f"Offcut {piece.id}", (middle, y + 36), 22, bold=True),
        _line(size, (middle, y + 25.5), 17, bold=True),
        _line(spelled(piece.metal), (middle, y + 17), 12),
        _line(f"rolled {piece.grain} the length · {piece.piece}", (middle, y + 10.5), 9),
    ]
    # The arrow lies the way the metal was rolled when the label is stuck along the piece's length.
    if piece.grain == "along":
        marks.append(Line(points=((x + 6, y + 31.5), (x + WIDE - 6, y + 31.5)), pen="dimension", arrow="both"))
    if piece.note:
        marks.append(_line(spelled(piece.note), (middle, y + 4.5), 9))
    return marks


def label_pages(there: Sequence[RackPiece]) -> tuple[Page, ...]:
    """Pages of labels, eight a page."""
    per = ACROSS * DOWN
    out = []
    for first in range(0, len(there), per):
        marks: list[Mark] = []
        some = there[first : first + per]
        for i, piece in enumerate(some):
            across, down = i % ACROSS, i // ACROSS
            marks += label_marks(piece, 2 + across * (WIDE + 4), 2 + (DOWN - 1 - down) * (TALL + 4))
        number = first // per + 1
        drawing = Drawing(
            name=f"labels-{number}",
            title=f"Labels of offcuts {some[0].id} to {some[-1].id}",
            width=2 * WIDE + 8,
            height=DOWN * (TALL + 4),
            marks=tuple(marks),
        )
        says = "; ".join(f"offcut {p.id}, {spelled(p.metal)}" for p in some)
        out.append(
            Page(
                key=f"labels-{number}",
                kind="cut-list",
                title="Labels for the rack",
                blocks=(Picture(drawing=drawing, alt=f"Labels: {says}."),),
                on_screen=False,
            )
        )
    return tuple(out)


def write_labels(rack: Path, out: Path, *, ids: Sequence[int] | None = None, paper: str = "letter") -> Path:
    """Write labels of all pieces, or of the named ones, as a PDF.

    Raises
    ------
    PlanError
        A named piece is not on the rack, or the rack is empty.
    """
    there = pieces(rack)
    if ids:
        wanted = set(ids)
        missing = sorted(wanted - {p.id for p in there})
        if missing:
            raise PlanError(f"Not on the rack: {', '.join(map(str, missing))}.", help_="See fabplan rack list.")
        there = tuple(p for p in there if p.id in wanted)
    if not there:
        raise PlanError("The rack is empty.", help_="There is nothing to label.")
    packet = Packet(
        number="Rack",
        name=spelled(rack.stem),
        revision="",
        date="",
        paper="a4" if paper == "a4" else "letter",
        pages=label_pages(there),
        units=there[0].units,
    )
    return write_file(out, typeset(packet, file=str(rack)))
