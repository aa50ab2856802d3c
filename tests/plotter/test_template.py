"""Full-scale templates: true to size, fitting both papers, and their tiles rejoin to the blank."""

from itertools import pairwise

import pieces
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from legible import assert_legible, texts, words

from fabplan import plane
from fabplan.plotter.blank.template import BOTTOM, HEIGHT, LEFT, WIDTH, draw_template
from fabplan.plotter.board import geometry, paint
from fabplan.plotter.model import Line

PAPERS = {"letter": (215.9, 279.4), "a4": (210.0, 297.0)}  # ISO 216 and the North American size, mm
PRINTER = 6.0  # mm a printer cannot reach at an edge (common practice, no source)


@pytest.mark.parametrize("mark", pieces.MARKS)
def test_tiles_rejoin_to_the_blank(mark):
    pattern = pieces.patterns()[mark]
    x0, y0 = LEFT, BOTTOM
    pieces_of_border = []
    for tile in draw_template(pattern, show=pieces.show()):
        for line in tile.drawing.marks:
            if isinstance(line, Line) and line.pen == "edge" and len(line.points) >= 2 and not _bar(tile, line):
                moved = [(tile.corner[0] + (x - x0) / 25.4, tile.corner[1] + (y - y0) / 25.4) for x, y in line.points]
                pieces_of_border.append(shapely.LineString(moved))
    joined = shapely.union_all(pieces_of_border)
    border = shapely.LinearRing(pattern.snipped)
    assert joined.hausdorff_distance(border) * 25.4 < 0.1
    assert joined.length * 25.4 == pytest.approx(border.length * 25.4, abs=0.1)


def _bar(tile, line) -> bool:
    """Whether a line is one of the two check bars."""
    return (
        round(plane.distance(line.points[0], line.points[-1]), 3) in (101.6, 152.4)
        and len(line.points) == 2
        and (line.points[0][1] < BOTTOM or _upright_bar(tile, line))
    )


def _upright_bar(tile, line) -> bool:
    label = next(t for t in texts(tile.drawing) if t.text == "check: 4 in")
    return abs(line.points[0][0] - label.at[0]) < 6


@pytest.mark.parametrize("mark", ["A", "K", "X"])
def test_check_bars_names_and_map_on_every_tile(mark):
    tiles = draw_template(pieces.patterns()[mark], show=pieces.show(), job="T1 rev 2")
    for tile in tiles:
        drawing = tile.drawing
        assert_legible(drawing)
        bars = [
            plane.distance(a, b)
            for m in drawing.marks
            if isinstance(m, Line)
            for a, b in pairwise(m.points)
            if _bar(tile, m)
        ]
        assert {round(b, 6) for b in bars} == {152.4, 101.6}
        said = words(drawing)
        assert f"Template {mark}, row {tile.row} column {tile.column}" in said
        assert any("100 %" in w for w in said)
        assert any("T1 rev 2" in w for w in said)
        names = {w for w in said if w.startswith("joins ")}
        expected = {
            f"joins row {t.row} column {t.column}"
            for t in tiles
            if abs(t.row - tile.row) + abs(t.column - tile.column) == 1
        }
        assert names == expected


@pytest.mark.parametrize("paper", PAPERS)
def test_a_tile_fits_the_paper_at_full_size(paper):
    wide, high = PAPERS[paper]
    assert wide >= WIDTH + 2 * PRINTER
    assert high >= HEIGHT + 2 * PRINTER


def test_svg_coordinates_are_true():
    tile = draw_template(pieces.patterns()["K"], show=pieces.show())[0]
    root = paint.svg(tile.drawing)
    assert f'width="{WIDTH:g}mm"' in root
    assert tile.drawing.scale == 1.0


PLACES = st.integers(-192, 768).map(lambda n: n / 64)  # inches


@given(PLACES, PLACES, PLACES, PLACES)
def test_clipping_to_a_window_agrees_with_shapely(ax, ay, bx, by):
    window = (0.0, 0.0, 7.0, 9.0)
    ours = geometry.clip_to_window(((ax, ay), (bx, by)), window)
    theirs = shapely.LineString([(ax, ay), (bx, by)]).intersection(shapely.box(*window))
    length = plane.distance(*ours) if ours else 0.0
    assert length == pytest.approx(theirs.length, abs=1e-6)
