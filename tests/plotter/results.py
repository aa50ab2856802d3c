"""Results to draw: layouts cut by the house's own cutter, from a plain list of cells."""

from fractions import Fraction

from fabplan.nesting.cuts.order import Cell, order_cuts
from fabplan.nesting.cuts.slant import cell as slanted_cell
from fabplan.nesting.cuts.slant import head_to_tail, poses
from fabplan.nesting.model import Layout, Placed
from fabplan.nesting.problem import Blank, ShearLimits
from fabplan.units import NM_PER_INCH, Show

GRID = NM_PER_INCH // 32
SHOW = Show("in", GRID)
LIMITS = ShearLimits(
    longest_cut=122 * 32,
    reach=48 * 32,
    cut_off_to_mark=True,
    least_held=32,
    angle_stop=(30.0, 150.0),
    stages=3,
    kerf=0,
)


def g(inches: float | str) -> int:
    """Inches (a number or "14 1/32") in graduations of 1/32 in."""
    total = sum(Fraction(part) for part in str(inches).split()) * 32
    assert total.denominator == 1
    return int(total)


def rect(mark: str, x: int, y: int, w: int, h: int) -> Cell:
    return Cell(
        x=x,
        y=y,
        width=w,
        length=h,
        blanks=(Placed(mark=mark, x=x, y=y, width=w, length=h, turned=False),),
    )


def layout(form, width, length, cells, *, keep=(192, 384), repeat=1, stock="coil 24", first="x", limits=LIMITS):
    small, large = sorted(keep)
    cuts, offcuts = order_cuts(
        form,
        width,
        length,
        cells,
        limits,
        lambda a, b: min(a, b) >= small and max(a, b) >= large,
        first=first,
    )
    return Layout(
        stock=stock,
        form=form,
        metal="copper-16oz",
        repeat=repeat,
        width=width,
        length=length,
        blanks=tuple(b for c in cells for b in c.blanks),
        cuts=cuts,
        offcuts=offcuts,
    )


def grid_of(mark, x, y, w, h, across, along):
    return [rect(mark, x + i * w, y + j * h, w, h) for i in range(across) for j in range(along)]


def mixed_sheet() -> Layout:
    """Two strips of shingles, one of starters, a trim strip and an offcut to keep."""
    a, c_w, c_l = g("15 1/2"), g("4 3/4"), g("19 1/2")
    cells = grid_of("A", 0, 0, a, a, 2, 7) + grid_of("C", 2 * a, 0, c_w, c_l, 1, 6)
    return layout("sheet", g(36), g(120), cells, stock="sheet 36 x 120", repeat=18)


def coil_one_row() -> Layout:
    return layout(
        "coil",
        g(24),
        g("42 3/32"),
        [*grid_of("A", 0, 0, g("14 1/32"), g("14 1/32"), 1, 3), rect("S", g("14 1/32"), 0, g("8 1/2"), g("42 3/32"))],
        repeat=12,
    )


def narrow_strips() -> Layout:
    """Cleats by the dozen beside trim strips an inch and a half wide."""
    cells = grid_of("K", 0, 0, g(2), g(3), 1, 40) + grid_of("T", g(2), 0, g("1 1/2"), g(118), 4, 1)
    cells += grid_of("D", g(8), 0, g("6 3/32"), g(48), 2, 2)
    return layout("coil", g(24), g(120), cells)


def slanted() -> Layout:
    """Sixty degree diamonds sheared slantwise out of two strips."""
    import math

    side, high = 12 / math.sin(math.radians(60)), 12
    shift = side * math.cos(math.radians(60))
    points = tuple((x * 32, y * 32) for x, y in ((0, 0), (side, 0), (side + shift, high), (shift, high)))
    blank = Blank(mark="B", width=g(12), length=int(side * 32), count=8, area=1.0, outline=points, drawn=points)
    pose = next(p for p in poses(blank) if p.height == g(12))
    strip = head_to_tail(pose, 5, LIMITS)
    assert strip is not None
    cells = [slanted_cell(strip, 0, 0, False), slanted_cell(strip, g(12), 0, False)]
    return layout("coil", g(24), strip.length, cells)


def rake_halves() -> Layout:
    """Blanks that are not alike when turned over."""
    points = tuple((x * 32.0, y * 32.0) for x, y in ((0, 0), (9, 0), (9, 14), (4, 14)))
    blank = Blank(mark="RL", width=g(9), length=g(14), count=4, area=1.0, outline=points, drawn=points)
    pose = poses(blank)[0]
    strip = head_to_tail(pose, 4, LIMITS)
    assert strip is not None
    return layout("sheet", g(20), g(48), [slanted_cell(strip, 0, 0, False)], stock="sheet 20 x 48")


def offcut_piece() -> Layout:
    return layout("offcut", g(20), g(16), grid_of("A", 0, 0, g(9), g(9), 2, 1), stock="offcut R-12")


LAYOUTS = {
    "mixed-sheet": mixed_sheet,
    "coil-one-row": coil_one_row,
    "narrow-strips": narrow_strips,
    "slanted": slanted,
    "rake-halves": rake_halves,
    "offcut": offcut_piece,
}
