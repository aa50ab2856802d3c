"""Full-scale templates: measured in the printed PDF, not in the drawing."""

from __future__ import annotations

import io
from math import dist

import packet_sample
import pdfplumber
import pytest

from fabplan.packet.output.write import write_template
from fabplan.packet.pages.build import template_packet
from fabplan.packet.setting.page_estimate import PAPER_SIZE
from fabplan.packet.setting.typeset import typeset
from fabplan.plotter.blank.template import BOTTOM, HEIGHT, LEFT, WIDTH, draw_template
from fabplan.units import Show

POINTS_PER_MM = 72 / 25.4
TRUE = 0.1  # mm


def drawn_points(page: pdfplumber.page.Page) -> list[tuple[float, float]]:
    """Corners of every line on the page, mm from its lower left."""
    out = []
    for item in (*page.lines, *page.curves, *page.rects):
        for x, y in item["pts"]:
            out.append((float(x) / POINTS_PER_MM, (float(page.height) - float(y)) / POINTS_PER_MM))
    return out


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_true_to_a_tenth_of_a_millimetre(paper: str) -> None:
    pattern, job = packet_sample.diamond(), packet_sample.job()
    tiles = draw_template(pattern, show=Show("in", packet_sample.GRID), job="LP-07")
    pdf = typeset(template_packet(job, pattern, paper=paper))
    wide, high = PAPER_SIZE[paper]
    corner = LEFT, BOTTOM
    left, bottom = (wide - WIDTH) / 2 + corner[0], (high - HEIGHT) / 2 + corner[1]
    found = set()
    with pdfplumber.open(io.BytesIO(pdf)) as document:
        assert len(document.pages) == len(tiles)
        for page, tile in zip(document.pages, tiles, strict=True):
            points = drawn_points(page)
            for n, (x, y) in enumerate(pattern.snipped):
                inside_x, inside_y = x - tile.corner[0], y - tile.corner[1]
                if 0 < inside_x < 7 and 0 < inside_y < 9:
                    spot = (left + inside_x * 25.4, bottom + inside_y * 25.4)
                    assert min(dist(spot, p) for p in points) < TRUE
                    found.add(n)
            lengths = [
                (abs(float(line["x1"]) - float(line["x0"])) / 72, abs(float(line["bottom"]) - float(line["top"])) / 72)
                for line in page.lines
            ]
            assert any(abs(w - 6) * 25.4 < TRUE and h < 1e-6 for w, h in lengths), "the 6 in bar"
            assert any(abs(h - 4) * 25.4 < TRUE and w < 1e-6 for w, h in lengths), "the 4 in bar"
    assert found == set(range(len(pattern.snipped)))


def test_tiles_rejoin_to_the_blank() -> None:
    tiles = draw_template(packet_sample.diamond(), show=Show("in", packet_sample.GRID))
    corners = {(t.row, t.column): t.corner for t in tiles}
    for (row, column), (x, y) in corners.items():
        if (row, column + 1) in corners:
            assert corners[row, column + 1] == pytest.approx((x + 7, y))
        if (row + 1, column) in corners:
            assert corners[row + 1, column] == pytest.approx((x, y - 9))


def test_written_by_itself(tmp_path, monkeypatch) -> None:  # type: ignore[no-untyped-def]
    monkeypatch.chdir(tmp_path)
    path = write_template(packet_sample.job(number="../x"), packet_sample.diamond("A/1"))
    assert path.name == "x-A-1-template.pdf"
    assert path.parent == tmp_path
    assert path.read_bytes().startswith(b"%PDF-")
