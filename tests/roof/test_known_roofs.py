"""Seven complete roofs counted again, each within one piece a slope.

The counts were worked out by two programs written apart, this one not among them; they are no published values. Whole
pieces that need a snip were there first counted with the unsnipped rhombus and then, as here, with the side tips off.
"""

from __future__ import annotations

from collections import Counter

import pytest
import roof_jobs as rj

from fabplan.roof.lay.layout import centre_line, lay
from fabplan.roof.measure.shapes import polygon_side, regular_spire
from fabplan.roof.model import Point
from fabplan.roof.parts.alike import NumberedShapes
from fabplan.roof.parts.pairing import mirrored, pair_parts, placements

LATTICE = rj.lattice()


def spire(n: int, side: float, **rest: float) -> tuple[int, tuple[Point, ...]]:
    return n, regular_spire(n, side, **rest).face


ROOFS = {
    # slopes, corner points, ideal, whole, snip, cut, of which starters, slivers, pairs
    "square spire 16 ft, slant 30 ft": (*spire(4, 192, slant=360), 1634.3, 1392, 8, 488, 56, 8, 196),
    "octagon spire 10 ft across flats, 24 ft": (
        *spire(8, polygon_side(8, across_flats=120), height=288), 691.5, 376, 0, 688, 16, 16, 320,
    ),
    "octagon spire 5 ft 10 in, 45 ft": (*spire(8, 70, height=540), 1809.2, 1200, 0, 1296, 32, 40, 592),
    "square frustum 40 and 26 in, slant 10 ft": (*spire(4, 40, top_side=26, slant=120), 187.3, 108, 0, 164, 8, 16, 68),
    "hexagon frustum 9 and 4 ft, 11 ft": (*spire(6, 108, top_side=48, height=132), 784.9, 612, 0, 354, 48, 0, 156),
    "rectangle 24 x 14 ft": (1, ((0, 0), (288, 0), (288, 168), (0, 168)), 572.0, 516, 0, 117, 22, 0, 48),
    "octagon cupola 4 ft, 40 in": (
        *spire(8, polygon_side(8, across_flats=48), height=40), 43.9, 8, 0, 104, 0, 0, 48,
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", ROOFS)
def test_counts(name: str) -> None:
    times, points, ideal, whole, snip, cut, starters, slivers, pairs = ROOFS[name]
    slope = rj.measured(points)
    result = lay(slope, LATTICE, rj.roof(), alignment="point", centre_x=centre_line(slope, 0.5), base=0.0)
    kinds = Counter(p.kind for p in result.pieces)
    area = sum(p.share for p in result.pieces) + sum(s.area for s in result.slivers) / LATTICE.cell
    assert area * times == pytest.approx(ideal, abs=0.06)
    assert kinds["whole"] * times == whole
    assert sum(p.trimmed for p in result.pieces) * times == snip
    assert (len(result.pieces) - kinds["whole"]) * times == cut
    only_bottom = sum(p.lost == "B" for p in result.pieces)
    assert only_bottom * times == starters
    assert len(result.slivers) * times == slivers

    sorter = NumberedShapes()
    seen = Counter(sorter.number(p.metal) for p in result.pieces if p.kind != "whole")
    rings = [sorter.metal(i) for i in range(len(sorter.shapes))]
    parts = [(i, flag, mirrored(rings[i]) if flag else rings[i], n * times) for (i, flag), n in seen.items()]
    found, left = pair_parts("A", parts, placements(90.0, flips=False, quarter_turns=True))
    got = sum(p.times for p in found)
    assert 2 * got + sum(p.times for p in left) == cut
    assert abs(got - pairs) <= times, f"{got} pairs"
