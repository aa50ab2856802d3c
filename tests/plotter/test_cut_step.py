"""Pictures of single cuts: as the metal lies at the shear, with the marks laid off, the gauge and the stop."""

from __future__ import annotations

import math
from dataclasses import replace
from random import Random

import pytest
import results
from cut_facts import line, told
from hypothesis import given
from hypothesis import strategies as st
from legible import assert_legible, clashes, off_paper, texts, words

from fabplan import plane
from fabplan.nesting.model import Cut, Layout, Placed
from fabplan.plane import half
from fabplan.plotter.board import geometry
from fabplan.plotter.model import Circle, Shape
from fabplan.plotter.sheet.cut_lie import PaperLie, alike, by_marks, stop_hand, stop_side
from fabplan.plotter.sheet.cut_marks import AT_CORNER, border_marks
from fabplan.plotter.sheet.cut_step import draw_cut_step
from fabplan.plotter.sheet.replay import MadeCut, is_rectangle, likeness, replay

SQUARE = ((0.0, 0.0), (320.0, 0.0), (320.0, 320.0), (0.0, 320.0))  # 10 in


def draw(layout: Layout, made: MadeCut):
    return draw_cut_step(layout, made, grid=results.GRID, show=results.SHOW, name="cut", width_mm=78.0, height_mm=38.0)


def unset(layout: Layout) -> list[MadeCut]:
    """Cuts that have a picture of their own."""
    return [m for m in replay(layout) if m.parts and (m.cut.back_gauge is None or abs(m.cut.angle - 90) > 0.05)]


def sheared(seed: int) -> tuple[Layout, MadeCut]:
    """A sheet cut across at random some times, and the last of these cuts."""
    luck = Random(seed)
    w, h = luck.randint(200, 1500), luck.randint(200, 1500)
    ring: list[tuple[float, float]] = [(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)]
    cuts = []
    for step in range(1, luck.randint(1, 3) + 1):
        (ax, ay), (bx, by) = (
            geometry.between(ring[k], ring[(k + 1) % len(ring)], luck.uniform(0.1, 0.9))
            for k in luck.sample(range(len(ring)), 2)
        )
        n = (by - ay, ax - bx)
        c = n[0] * ax + n[1] * ay
        long = math.hypot(*n)
        pieces = half(ring, n, c, 1e-6), half(ring, (-n[0], -n[1]), -c, 1e-6)
        ring = max(pieces, key=lambda r: abs(plane.area(r)))
        deep = max((c - n[0] * x - n[1] * y) / long for x, y in pieces[0])
        gauge = round(deep) if luck.random() < 0.3 and abs(deep - round(deep)) < 1e-6 else None
        cuts.append(line(step=step, start=(ax, ay), end=(bx, by), back_gauge=gauge, held=1, angle=45.0))
    x, y = plane.middle(ring)
    blank = Placed(mark="A", x=int(x) - 20, y=int(y) - 20, width=40, length=40, turned=False)
    layout = Layout(
        stock="sheet",
        form="sheet",
        metal="copper-16oz",
        repeat=1,
        width=w,
        length=h,
        blanks=(blank,),
        cuts=tuple(cuts),
        offcuts=(),
    )
    layout = told(layout)
    return layout, replay(layout)[-1]


@pytest.mark.parametrize("kind", ["rake_halves", "slanted"])
def test_every_picture_can_be_read_and_shows_the_gauge(kind):
    layout = getattr(results, kind)()
    made = unset(layout)
    assert made
    for m in made:
        drawing = draw(layout, m)
        assert_legible(drawing)
        assert not any(w.startswith(("gauge", "stop")) for w in words(drawing))  # said over the picture
        bars = [s for s in drawing.marks if isinstance(s, Shape) and s.fill == "black"]
        assert len(bars) == (m.cut.back_gauge is not None)


@given(st.integers(0, 10**9))
def test_no_words_overlap_and_none_leave_the_paper(seed):
    layout, made = sheared(seed)
    if made.parts:
        drawing = draw(layout, made)
        assert not off_paper(drawing)
        assert not clashes(drawing)


@given(st.integers(0, 10**9))
def test_what_falls_lies_at_the_top_and_nothing_is_turned_over(seed):
    _, made = sheared(seed)
    if not made.parts:
        return
    lie = PaperLie(made)
    falling, staying = ([lie.point(p) for p in part] for part in made.parts)
    assert min(y for _, y in falling) > -1e-3
    assert max(y for _, y in staying) < 1e-3
    ring = [lie.point(p) for p in made.outline]
    assert plane.area(ring) == pytest.approx(plane.area(made.outline))


@given(st.integers(0, 10**9))
def test_marks_laid_off_give_the_cut(seed):
    _, made = sheared(seed)
    if not made.outline:
        return
    ends = border_marks(made.outline, made.cut.start, made.cut.end)
    assert len(ends) == 2
    for end, tip in zip(ends, (made.cut.start, made.cut.end), strict=True):
        assert end.corner in made.outline
        assert math.dist(end.at, tip) < AT_CORNER / math.sin(math.radians(1))  # moved only where the other end is
        assert end.size == 0.0 or end.size >= min(AT_CORNER, math.dist(end.corner, tip)) - 1e-9


def test_a_cut_close_to_a_corner_is_made_through_it_in_its_own_direction():
    (near, far) = border_marks(SQUARE, (1.0, 0.0), (320.0, 319.0))  # both ends next to a corner
    assert (near.at, far.at) == ((0.0, 0.0), (320.0, 320.0))
    (near, far) = border_marks(SQUARE, (1.0, 0.0), (161.0, 320.0))
    assert far.at == pytest.approx((160.0, 320.0))  # moved by the same graduation
    (near, far) = border_marks(SQUARE, (1.0, 0.0), (161.0, 320.0), laid_off=False)
    assert (near.size, far.at) == (1.0, (161.0, 320.0))


@pytest.mark.parametrize(
    ("angle", "hand", "side"),
    [
        # By the definition in the docstring: before the blade, from its right-hand part round to the stop.
        (45.0, "left", ((-10.0, 0.0), (0.0, -10.0))),  # the stop runs down to the right, under the metal's left side
        (135.0, "right", ((10.0, 0.0), (0.0, -10.0))),
        (90.0, "left", ((-10.0, 0.0), (-10.0, -10.0))),
    ],
)
def test_the_stop_is_counted_from_the_blades_right_hand_part(angle, hand, side):
    foot, end = side
    other = (10.0, 0.0) if foot[0] < 0 else (-10.0, 0.0)
    ring = (foot, end, other, (0.0, 10.0))
    ring = ring if plane.area(ring) > 0 else ring[::-1]
    assert stop_side(angle, ring, [foot, other]) == (foot, end)
    cut = line(step=1, start=min(foot, other), end=max(foot, other), back_gauge=10, held=10, angle=angle)
    made = MadeCut(cut=cut, normal=(0.0, 1.0), edge=None, series=0, outline=ring, falls=(0.0, 1.0))
    assert stop_hand(made) == hand


@pytest.mark.parametrize(
    ("edge", "angle", "marks"),
    [
        (((-8.0, 10.0), (8.0, 10.0)), 90.0, False),
        (None, 90.0, False),  # a side lies on the stop
        (None, 45.0, True),  # no side of the metal runs at 45 degrees
    ],
)
def test_a_cut_with_neither_gauge_nor_stop_is_marked_at_both_ends(edge, angle, marks):
    top = edge or ((0.0, 10.0), (0.0, 10.0))
    ring = ((-10.0, -10.0), (10.0, -10.0), (10.0, 0.0), top[1], top[0], (-10.0, 0.0))
    cut = line(step=1, start=(-10.0, 0.0), end=(10.0, 0.0), back_gauge=10, held=10, angle=angle)
    made = MadeCut(cut=cut, normal=(0.0, 1.0), edge=edge, series=0, outline=ring, falls=(0.0, 1.0))
    assert by_marks(made) == marks


def test_the_stop_of_a_planned_cut_is_on_a_side_of_its_metal():
    for layout in (results.rake_halves(), results.slanted()):
        for made in unset(layout):
            if made.cut.back_gauge is not None:
                assert stop_hand(made) in ("left", "right"), made.cut


def of_one_cut(cut: Cut, length: int) -> tuple[Layout, MadeCut]:
    """A sheet 320 wide with one blank and one cut, and that cut as made."""
    layout = Layout(
        stock="sheet",
        form="sheet",
        metal="m",
        repeat=1,
        width=320,
        length=length,
        blanks=(Placed(mark="A", x=200, y=20, width=80, length=80, turned=False),),
        cuts=(cut,),
        offcuts=(),
    )
    layout = told(layout)
    (made,) = replay(layout)
    return layout, made


def test_a_size_too_short_to_lay_off_becomes_a_ring_at_the_corner():
    cut = line(step=1, start=(1.0, 0.0), end=(161.0, 320.0), back_gauge=None, held=1, angle=63.4)
    layout, made = of_one_cut(cut, 320)
    drawing = draw(layout, made)
    said = words(drawing)
    assert said.count("corner") == 1
    assert "5" in said  # 160 graduations of 1/32 in
    assert len([m for m in drawing.marks if isinstance(m, Circle)]) == 1


def test_a_nearly_square_piece_tells_the_length_of_a_side():
    cut = line(step=1, start=(80.0, 0.0), end=(0.0, 64.0), back_gauge=None, held=1, angle=45.0)
    layout, made = of_one_cut(cut, 336)
    thin = [t.text for t in texts(draw(layout, made)) if not t.bold]
    assert {"10", "10 1⁄2"} & set(thin)


def test_cuts_on_metal_of_one_shape_are_alike_wherever_it_lies():
    cut = line(step=1, start=(40.0, 0.0), end=(0.0, 40.0), back_gauge=None, held=1, angle=45.0)
    blank = Placed(mark="A", x=60, y=60, width=40, length=40, turned=False)
    ring = ((0.0, 0.0), (160.0, 0.0), (160.0, 160.0), (0.0, 160.0))
    one = MadeCut(cut=cut, normal=None, edge=None, series=0, outline=ring, falls=(-0.7, -0.7))
    moved = tuple((x + 320.0, y) for x, y in ring)
    other = replace(
        one,
        cut=replace(cut, step=2, start=(360.0, 0.0), end=(320.0, 40.0)),
        outline=moved,
    )
    one, other = replace(one, blanks=(blank,)), replace(other, blanks=(replace(blank, x=380),))
    assert likeness(one) == likeness(other)
    assert likeness(one) != likeness(replace(other, blanks=()))
    assert is_rectangle(ring) and not is_rectangle(((0.0, 0.0), (9.0, 3.0), (9.0, 9.0), (0.0, 6.0)))


def test_cuts_are_one_to_the_shear_however_their_metal_lay():
    """Turned half round, and half a graduation larger; not mirrored, and not where a printed size would differ."""
    cut = line(step=1, start=(64.0, 0.0), end=(0.0, 64.0), back_gauge=45, held=1, angle=45.0)
    ring = ((0.0, 0.0), (160.0, 0.0), (160.0, 320.0), (0.0, 320.0))
    one = MadeCut(cut=cut, normal=(-0.7, -0.7), edge=None, series=0, outline=ring, falls=(-(0.5**0.5), -(0.5**0.5)))

    def turned(by: float = 0.0) -> MadeCut:
        far = tuple((500.0 - x, 500.0 - y - (by if y > 100 else 0.0)) for x, y in ring)
        moved = replace(cut, step=2, start=(436.0, 500.0), end=(500.0, 436.0))
        return replace(one, cut=moved, outline=far, falls=(0.5**0.5, 0.5**0.5))

    assert alike(one, turned()) and alike(one, turned(0.4))
    assert not alike(one, turned(3.0))
    mirrored = tuple((y, x) for x, y in ring)
    assert not alike(one, replace(one, outline=mirrored))
    assert not alike(one, replace(turned(), cut=replace(turned().cut, back_gauge=46)))
    scribed = replace(one, cut=replace(cut, back_gauge=None))
    other = replace(turned(0.4), cut=replace(turned().cut, back_gauge=None))
    assert not alike(scribed, other)
