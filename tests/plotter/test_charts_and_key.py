"""Charts in black and white and the key of lines."""

import math

import pytest
from legible import assert_legible, words

from fabplan.plane import bounds
from fabplan.plotter.board import paint
from fabplan.plotter.board.key import BLANKS, FOLDING, ROOF, SHEAR, draw_key
from fabplan.plotter.charts import (
    Series,
    StockBar,
    draw_size_curve,
    draw_stock_bars,
)
from fabplan.plotter.model import Circle, Line, Shape


def bars():
    return [
        StockBar(name="coil 24", amount=800.0, blanks=0.9, kept=0.04, scrap=0.06, says="$800.00", best=True),
        StockBar(name="a very long name of a sheet somebody typed", amount=400.0, blanks=0.7, scrap=0.3, says="$4"),
        StockBar(name="coil 12", amount=None, says="does not hold the job"),
    ]


def test_stock_bars_are_as_long_as_what_they_count():
    drawing = draw_stock_bars(bars(), title="Stock options")
    assert_legible(drawing)
    boxes = [m for m in drawing.marks if isinstance(m, Shape) and m.pen in ("edge", "outline")]
    spans = [bounds(b.points) for b in boxes]
    best = next(s for s, b in zip(spans, boxes, strict=True) if b.pen == "outline")
    second = max((s for s in spans if s[3] < best[1]), key=lambda s: s[2] - s[0])
    assert (best[2] - best[0]) / (second[2] - second[0]) == pytest.approx(2.0, abs=1e-6)
    scrap = max((s for s, b in zip(spans, boxes, strict=True) if b.fill == "hatch" and s[1] > second[3]), default=None)
    assert scrap is not None and (scrap[2] - scrap[0]) / (best[2] - best[0]) == pytest.approx(0.06, abs=1e-6)
    assert "does not hold the job" in words(drawing)


def test_size_curve_breaks_where_nothing_fits():
    points = ((8.0, 200.0), (9.0, 190.0), (10.0, math.inf), (11.0, 240.0), (12.0, 230.0))
    series = [
        Series(name="24 in coil", points=points, marked=(1,)),
        Series(name="best", points=points[:2], strong=True),
    ]
    drawing = draw_size_curve(
        series,
        x_name="finished side, in",
        y_name="metal, sq ft",
        x_text="{:g}".format,
        y_text="{:g}".format,
        title="Sizes",
        asked=9.0,
    )
    assert_legible(drawing)
    runs = [m for m in drawing.marks if isinstance(m, Line) and m.pen == "edge" and len(m.points) == 2]
    assert len(runs) >= 2  # two stretches of the first series
    assert {"24 in coil", "best", "asked for"} <= set(words(drawing))
    with pytest.raises(ValueError, match="nothing to draw"):
        draw_size_curve(
            [Series(name="x", points=((1.0, math.inf),))], x_name="", y_name="", x_text=str, y_text=str, title=""
        )


def test_key_shows_every_line_once():
    drawing = draw_key(roof=True)
    assert_legible(drawing)
    for _, meaning in (*SHEAR, *BLANKS, *FOLDING, *ROOF):
        assert words(drawing).count(meaning) == 1
    assert paint.svg(drawing) == paint.svg(draw_key(roof=True))


@pytest.mark.parametrize("name", ["offcut 7", "coil 24", "sheet 36 x 96", "K12", "zinc 670"])
def test_a_short_name_of_stock_is_written_out(name):
    drawing = draw_stock_bars([StockBar(name=name, amount=5.0, blanks=0.9, scrap=0.1, says="5 lb")], title="Stock")
    assert name in words(drawing)


def curve(points, **more):
    return draw_size_curve(
        [Series(name="coil 24", points=points, marked=tuple(range(len(points))))],
        title="Metal against size",
        x_name="finished side, in",
        y_name="metal, sq ft",
        x_text=lambda x: f"{x:g}",
        y_text=lambda y: f"{y:g}",
        **more,
    )


@pytest.mark.parametrize(("asked", "shown"), [(9.0, True), (12.0, False), (None, False)])
def test_the_size_asked_for_is_marked_when_it_is_among_those_tried(asked, shown):
    drawing = curve(((8.0, 200.0), (9.0, 190.0), (10.0, 210.0)), asked=asked)
    assert_legible(drawing)
    assert ("asked for" in words(drawing)) == shown


def test_a_size_that_barely_fits_does_not_flatten_the_curve():
    usual = tuple((8.0 + k / 10, 200.0 + k) for k in range(20))
    tall = curve((*usual, (10.0, 9000.0)))
    assert_legible(tall)
    rings = [m for m in tall.marks if isinstance(m, Circle) and m.radius == pytest.approx(1.2)]
    assert len(rings) == 20  # the last is above the frame
    assert not any(w.isdigit() and int(w) > 1000 for w in words(tall))


def test_a_curve_of_sizes_that_never_fit_is_refused():
    with pytest.raises(ValueError, match="no finite point"):
        curve(((8.0, math.inf), (9.0, math.inf)))


def test_long_sizes_are_written_under_every_second_tick_or_fewer():
    crowded = draw_size_curve(
        [Series(name="coil 24 in wide", points=((8.0, 2000.0), (9.0, 2100.0)))],
        title="t",
        x_name="x",
        y_name="y",
        x_text=lambda x: f"nine and then {x:.2f}",
        y_text=lambda y: f"{y:g}",
    )
    assert_legible(crowded)
    assert 1 <= sum(w.startswith("nine") for w in words(crowded)) < 6
