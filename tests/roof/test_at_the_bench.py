"""Cut pieces made at the bench: shapes alike are one, and each is a flat pattern with the hems and snips left of it."""

from __future__ import annotations

from typing import Any

import pytest
import roof_jobs as rj
import shapely

from fabplan.roof.check.whole import check_roof
from fabplan.roof.model import RoofPlan
from fabplan.roof.parts.shape_patterns import shape_patterns
from fabplan.roof.plan import plan_roof

SPIRE = {"shape": "regular-spire", "sides": 8, "across_flats": "60 in", "height": "110 in"}
UNEVEN = {
    "shape": "irregular-spire",
    "eaves": ["60 in", "60.5 in", "59.5 in", "60 in"],
    "hips": ["120 in", "120.25 in", "119.75 in", "120 in"],
}
HIP_END = {"shape": "triangle", "bottom": "150 in", "left": "211 in", "right": "233 in"}
WALL = {"shape": "rectangle", "bottom": "95 in", "height": "80 in"}


def planned(keys: dict[str, Any], **rules: Any) -> RoofPlan:
    job = rj.job_with(rj.slope(**keys), rules=rj.roof(**rules))
    out = plan_roof(job, rj.patterns())
    assert check_roof(out, job, rj.patterns()) == []
    return out


@pytest.mark.parametrize("keys", [HIP_END, UNEVEN])
def test_shapes_alike_under_a_cap_are_made_one_that_holds_them_all(keys: dict[str, Any]) -> None:
    apart, one = planned(keys, alike_within="0 in"), planned(keys, alike_within="1 in" if keys is HIP_END else "1/2 in")
    assert len(one.shapes) < 0.75 * len(apart.shapes)
    shapes = {s.number: shapely.Polygon(s.metal).buffer(1 / 32 + 1e-6) for s in one.shapes}
    for s in one.slopes:
        for p in s.pieces:
            if p.shape:
                ring = [(-x, y) for x, y in p.metal] if p.mirrored else p.metal
                assert shapes[p.shape].covers(shapely.Polygon(ring))


def test_shapes_at_a_rake_are_not_sized_up() -> None:
    """What lies at a rake is seen: only shapes equal to 1/32 in are one there."""
    assert len(planned(WALL, alike_within="1 in").shapes) == len(planned(WALL, alike_within="0 in").shapes)


def test_a_shape_is_not_sized_up_past_its_hip() -> None:
    """With the metal already reaching the hip there is no room, whatever is asked."""
    rules = {"cap_leg": "2 in", "underlap": "1-1/2 in", "cut_edge_fold": "1/2 in"}
    assert len(planned(SPIRE, alike_within="1 in", **rules).shapes) == len(
        planned(SPIRE, alike_within="0 in", **rules).shapes
    )


@pytest.mark.parametrize("keys", [SPIRE, WALL])
def test_every_shape_is_a_flat_pattern_on_its_blank(keys: dict[str, Any]) -> None:
    out = planned(keys)
    diamond = rj.patterns()[0]
    whole, plain = shapely.Polygon(diamond.outline), shapely.Polygon(diamond.snipped)
    patterns = shape_patterns(out, rj.patterns())
    assert [p.count for p in patterns] == [s.same + s.mirrored for s in out.shapes]
    for shape, p in zip(out.shapes, patterns, strict=True):
        left = shapely.Polygon(p.snipped)
        assert plain.buffer(1e-6).covers(left)
        # metal left + metal cut off is the sheared blank; the shape is as big as the roof asks, less snips and stubs
        off = sum(shapely.Polygon(n.removed).area for n in p.notches if n.removed)
        assert left.area + off == pytest.approx(whole.area, abs=1.5)
        assert left.area <= shapely.Polygon(shape.metal).area * (whole.area / shapely.Polygon(shape.blank).area) + 1e-6
        assert p.weight == pytest.approx(diamond.weight * left.area / plain.area)
        own = {f.edge: f for f in diamond.folds}
        for f in p.folds:
            flap = shapely.Polygon(f.flap)
            assert left.buffer(1e-6).covers(flap)
            assert shapely.Polygon(own[f.edge].flap).buffer(1e-6).covers(flap)
            assert (f.toward, f.width, f.turned) == (own[f.edge].toward, own[f.edge].width, own[f.edge].turned)
            assert shapely.LineString(f.line).length >= f.width - 1e-9
    # a piece cut on its left has lost most of its left hems and keeps those on the right
    left_cut = {
        p.shape for s in out.slopes for p in s.pieces if p.kind == "cut-left" and p.share < 0.4 and not p.mirrored
    }
    for shape, p in zip(out.shapes, patterns, strict=True):
        if shape.number in left_cut:
            lengths = {f.edge: shapely.LineString(f.line).length for f in p.folds}
            assert lengths.get(4, 0) + lengths.get(3, 0) > lengths.get(1, 0) + lengths.get(2, 0)


def test_pieces_cut_on_the_roof_have_no_bench_pages() -> None:
    assert shape_patterns(planned(SPIRE, cut_pieces="on the roof"), rj.patterns()) == ()
