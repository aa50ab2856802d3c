"""Labels of the rack's offcuts: each piece once, its number, size, metal, rolling direction and note readable."""

from __future__ import annotations

import io
from pathlib import Path

import pdfplumber
import pytest

from fabplan.errors import PlanError
from fabplan.plotter.model import Line, Text
from fabplan.shop import rack
from fabplan.shop.labels import label_marks, label_pages, write_labels
from fabplan.units import NM_PER_INCH

IN = NM_PER_INCH


@pytest.fixture
def shelf(tmp_path: Path) -> Path:
    path = tmp_path / "rack.db"
    for n in range(9):
        rack.add(
            path,
            metal="copper-16oz",
            thickness=0.0216,
            width=(10 + n) * IN + IN // 2,
            length=30 * IN,
            grain="across" if n == 4 else "along",
            note="from the boathouse" if n == 2 else "",
        )
    return path


def pages(path: Path) -> list[str]:
    with pdfplumber.open(io.BytesIO(path.read_bytes())) as pdf:
        return [page.extract_text() or "" for page in pdf.pages]


def test_every_offcut_has_one_label_eight_a_sheet(shelf: Path, tmp_path: Path) -> None:
    said = pages(write_labels(shelf, tmp_path / "out.pdf"))
    numbers = [p.id for p in rack.pieces(shelf)]
    assert [[n for n in numbers if f"Offcut {n}" in page.replace("\n", " ")] for page in said] == [
        numbers[:8],
        numbers[8:],
    ]
    assert "from the boathouse" in said[0]
    assert sum(page.count("copper-16oz") for page in said) == 9


def test_only_the_named_offcuts_are_labelled(shelf: Path, tmp_path: Path) -> None:
    ids = [p.id for p in rack.pieces(shelf)]
    (said,) = pages(write_labels(shelf, tmp_path / "out.pdf", ids=[ids[1], ids[5]], paper="a4"))
    assert [n for n in ids if f"Offcut {n}" in said] == [ids[1], ids[5]]


def test_a_piece_that_is_not_there_is_named(shelf: Path, tmp_path: Path) -> None:
    with pytest.raises(PlanError, match="Not on the rack: 77, 98"):
        write_labels(shelf, tmp_path / "out.pdf", ids=[98, 1, 77])
    assert not (tmp_path / "out.pdf").exists()


def test_an_empty_rack_has_nothing_to_label(tmp_path: Path) -> None:
    path = tmp_path / "rack.db"
    rack.add(path, metal="copper-16oz", thickness=0.0216, width=IN, length=IN)
    rack.drop(path, [p.id for p in rack.pieces(path)])
    with pytest.raises(PlanError, match="empty"):
        write_labels(path, tmp_path / "out.pdf")


def test_the_arrow_lies_along_the_rolling_direction_only(shelf: Path) -> None:
    for piece in rack.pieces(shelf):
        marks = label_marks(piece, 0, 0)
        assert any(isinstance(m, Line) for m in marks) == (piece.grain == "along")
        words = " ".join(m.text for m in marks if isinstance(m, Text))
        assert f"rolled {piece.grain} the length" in words


def test_a_size_is_given_in_the_units_it_was_measured_in(tmp_path: Path) -> None:
    path = tmp_path / "rack.db"
    metal = {"metal": "copper-0.7mm", "thickness": 0.7 / 25.4}
    rack.add(path, **metal, width=266_500_000, length=762_000_000, units="mm")  # type: ignore[arg-type]
    (page,) = label_pages(rack.pieces(path))
    drawing = page.blocks[0].drawing  # type: ignore[union-attr]
    assert any("266.5 × 762 mm" in m.text for m in drawing.marks if isinstance(m, Text))


def test_a_note_with_odd_characters_is_spelled_out(tmp_path: Path) -> None:
    path = tmp_path / "rack.db"
    rack.add(path, metal="copper-16oz", thickness=0.0216, width=IN, length=IN, note="\x1b[31mred\t銅")
    assert rack.pieces(path)[0].note == "\\x1b[31mred\\x09銅"
    write_labels(path, tmp_path / "out.pdf")
    assert "\\u9285" in "".join(pages(tmp_path / "out.pdf"))
