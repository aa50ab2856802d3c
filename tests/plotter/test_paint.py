"""Painting: escaped, light, repeatable SVG with text as text, and a font that is never guessed."""

import re
import xml.etree.ElementTree as ET

import pytest
from fontTools.ttLib import TTFont
from hypothesis import given
from hypothesis import strategies as st

from fabplan import plane
from fabplan.plotter.board import geometry, measure, paint
from fabplan.plotter.board.pens import PENS
from fabplan.plotter.model import Circle, Drawing, Line, Shape, Text

SVG = "{http://www.w3.org/2000/svg}"


def drawing(*marks, title="t", width=100.0, height=60.0):
    return Drawing(name="d", title=title, width=width, height=height, marks=marks)


def test_text_is_escaped_and_stays_text():
    typed = """A <b> & "C" $5 and $6 </text><script>x</script>"""
    root = ET.fromstring(paint.svg(drawing(Text(at=(5, 5), text=typed, size=9), title='<&"')))
    texts = root.findall(f"{SVG}text")
    assert ["".join(t.itertext()) for t in texts] == [typed]
    assert root.attrib["aria-label"] == '<&"'
    assert {e.tag for e in root.iter()} == {SVG + "svg", SVG + "title", SVG + "text"}


def test_fraction_is_set_small_and_reads_as_typed():
    root = ET.fromstring(paint.svg(drawing(Text(at=(50, 30), text="15 17⁄32 in", size=10))))
    (text,) = root.findall(f"{SVG}text")
    assert "".join(text.itertext()) == "15 17⁄32 in"
    size = float(text.attrib["font-size"])
    spans = text.findall(f"{SVG}tspan")
    assert [s.text for s in spans] == [" ", "17", "⁄32"]
    assert [round(float(s.attrib.get("font-size", size)) / size, 2) for s in spans] == [0.4, 0.82, 0.82]
    lifts = [float(s.attrib.get("dy", 0)) / size for s in spans]
    assert lifts == pytest.approx([0, -0.24, 0.24], abs=0.01)


@pytest.mark.parametrize("text", ["emoji 🏠", "tab\there", "line\nbreak", "\x07", "漢字"])
def test_missing_glyphs_are_refused(text):
    with pytest.raises(paint.GlyphError) as caught:
        paint.svg(drawing(Text(at=(5, 5), text=text, size=9)))
    assert caught.value.lacking
    assert caught.value.text == text


def test_y_runs_up_and_sizes_are_millimetres():
    root = ET.fromstring(paint.svg(drawing(Line(points=((10, 10), (10, 50)), pen="outline"))))
    assert root.attrib["width"] == "100mm" and root.attrib["viewBox"] == "0 0 100 60"
    (path,) = root.findall(f"{SVG}path")
    assert path.attrib["d"] == "M10 50L10 10"
    assert float(path.attrib["stroke-width"]) == pytest.approx(2 * 25.4 / 72, abs=1e-3)


def test_only_black_and_white():
    marks = [Line(points=((1, 1), (9, 9)), pen=pen, arrow="both") for pen in PENS]
    marks += [Shape(points=((1, 1), (20, 1), (20, 20)), pen="edge", fill=f) for f in ("white", "hatch", "black")]
    marks += [Circle(centre=(30, 30), radius=3, pen="edge"), Text(at=(5, 5), text="x", size=9, white_on_black=True)]
    colours = re.findall(r'(?:fill|stroke)="([^"]+)"', paint.svg(drawing(*marks)))
    assert set(colours) == {"#000", "#fff", "none"}


def test_same_drawing_same_bytes():
    d = drawing(
        Shape(points=((1, 1), (20, 1), (20, 20)), pen="edge", fill="hatch"), Text(at=(50, 30), text="$3 1⁄2", size=9)
    )
    assert paint.svg(d) == paint.svg(d)
    assert ">$3<" in paint.svg(d)  # as typed, not as mathematics


@pytest.mark.parametrize("bold", [False, True])
@pytest.mark.parametrize("text", ["Back gauge", "14 × 120 in", "W°→…"])
def test_widths_agree_with_the_font_file(text, bold):
    # Reference: the hmtx table of the font file, read with fontTools.
    font = TTFont(measure.font_files()[bold])
    names, table = font.getBestCmap(), font["hmtx"]
    em = sum(table[names[ord(c)]][0] for c in text) / font["head"].unitsPerEm
    assert measure.width(text, 12, bold) == pytest.approx(em * 12 * 25.4 / 72, rel=1e-3)
    capital = font["glyf"]["H"].yMax / font["head"].unitsPerEm
    assert capital == pytest.approx(measure.CAP, abs=1e-3)


@given(st.text(alphabet="0123456789⁄ in-", max_size=20))
def test_runs_lose_nothing(text):
    assert "".join(string for string, _, _ in measure.runs(text)) == text


@given(
    st.lists(st.tuples(st.floats(0, 100), st.floats(0, 100)), min_size=3, max_size=3),
    st.sampled_from([45.0, 135.0]),
)
def test_hatch_lines_stay_inside_and_carry_the_area(triangle, angle):
    lines = geometry.hatch_lines(triangle, angle, 0.25)
    x0, y0, x1, y1 = plane.bounds(triangle)
    for line in lines:
        for x, y in line:
            assert x0 - 1e-6 <= x <= x1 + 1e-6 and y0 - 1e-6 <= y <= y1 + 1e-6
    inked = 0.25 * sum(plane.distance(*line) for line in lines)
    around = sum(plane.distance(a, b) for a, b in zip(triangle, triangle[1:] + triangle[:1], strict=True))
    assert abs(inked - abs(plane.area(triangle))) <= 0.25 * around + 0.1


def test_fit_and_shorten():
    size = measure.fit("14 1⁄2 × 20", 20, 12, 6)
    assert size is not None and measure.width("14 1⁄2 × 20", size) <= 20 < measure.width("14 1⁄2 × 20", size + 0.5)
    assert measure.fit("a long label", 3, 12, 6) is None
    short = measure.shorten("a very long label", 20, 9)
    assert short.endswith("…") and measure.width(short, 9) <= 20
