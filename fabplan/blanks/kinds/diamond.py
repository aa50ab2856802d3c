"""The interlocking diamond: its sizes, its lattice on the roof, and its blank.

The lock geometry is this program's own (see docs/how-numbers-are-computed.md): pulled up tight, the fold of each hem
stops at the raw edge of the other, so two locked edges lap by ``max(w_u, w_l) + t + slack``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from fabplan.blanks.flat.corner import OutlineFold
from fabplan.blanks.flat.lay import FlatPiece, Snip, lay_flat
from fabplan.blanks.flat.pattern import flat_pattern
from fabplan.blanks.model import Finished, FlatPattern, Lattice, Point, Polygon
from fabplan.blanks.piece_rules import DEFAULT_JOINT, DEFAULT_SLACK, PieceRules
from fabplan.job.model import DiamondPiece
from fabplan.units import Nm, inches


@dataclass(frozen=True, slots=True, kw_only=True)
class DiamondSizes:
    """A diamond's sizes, inches: as asked (`lattice`, `side`) and as sheared (`strip` on the grid)."""

    lattice: Lattice
    upper: OutlineFold
    lower: OutlineFold
    side: float  # finished, as asked
    blank: float  # exact flat side
    strip_units: int

    strip: float  # sheared strip height

    @property
    def angle(self) -> float:
        return math.radians(self.lattice.top_angle)

    @property
    def sheared(self) -> float:
        """Flat side as sheared."""
        return self.strip / math.sin(self.angle)

    @property
    def rounding(self) -> float:
        """Sheared flat side less the exact one."""
        return self.sheared - self.blank

    @property
    def made(self) -> float:
        """Finished side the sheared blank gives, hems gauged from its raw edges."""
        return self.side + self.rounding


def make_lattice(
    *,
    side: float,
    top_angle: float,
    hems: tuple[float, float],
    allowances: tuple[float, float],
    thickness: float,
    slack: float,
    joint: float,
) -> Lattice:
    """How a finished diamond repeats on the roof, inches and degrees; `hems` and `allowances`: upper, lower."""
    upper, lower = hems
    alpha = math.radians(top_angle)
    lap = max(upper, lower) + thickness + slack
    exposed = side - lap / math.sin(alpha)
    return Lattice(
        side=side,
        top_angle=top_angle,
        upper_hem=upper,
        lower_hem=lower,
        upper_allowance=allowances[0],
        lower_allowance=allowances[1],
        lap=lap,
        hooked=upper + lower - lap,
        exposed=exposed,
        spacing=2 * exposed * math.sin(alpha / 2),
        course=exposed * math.cos(alpha / 2),
        cell=exposed**2 * math.sin(alpha),
        joint=joint,
        slack=slack,
        side_snip=lap / (2 * math.cos(alpha / 2)) + joint / 2,
        thickness=thickness,
    )


def _first(*values: Nm | None) -> Nm | None:
    return next((v for v in values if v is not None), None)


def diamond_sizes(bench: PieceRules) -> DiamondSizes:
    """Sizes of the bench's diamond.

    Raises
    ------
    JobError
        No hem width, or neither or both of side and blank.
    """
    piece = bench.piece
    assert isinstance(piece, DiamondPiece)
    upper_width, lower_width = _first(piece.upper_hem, piece.hem), _first(piece.lower_hem, piece.hem)
    if upper_width is None or lower_width is None:
        raise bench.fault("hem", "a diamond needs its hem widths", write='hem = "1 in", or upper_hem and lower_hem')
    if (piece.side is None) == (piece.blank is None):
        raise bench.fault("side", "a diamond needs its side or its blank, and not both", write='side = "12 in"')
    upper_gap, lower_gap = _first(piece.upper_gap, piece.hem_gap), _first(piece.lower_gap, piece.hem_gap)
    upper = bench.fold(inches(upper_width), "face", gap=None if upper_gap is None else inches(upper_gap))
    lower = bench.fold(inches(lower_width), "back", gap=None if lower_gap is None else inches(lower_gap))
    alpha = math.radians(piece.top_angle)
    taken = (upper.allowance + lower.allowance) / math.sin(alpha)
    if piece.side is not None:
        side = inches(piece.side)
        blank = side + taken
        strip = bench.units(blank * math.sin(alpha))
    else:
        assert piece.blank is not None
        blank = inches(piece.blank)
        side = blank - taken
        square = piece.top_angle == 90
        strip = bench.units(piece.blank, "up") if square else bench.units(blank * math.sin(alpha))
    lattice = make_lattice(
        side=side,
        top_angle=piece.top_angle,
        hems=(upper.width, lower.width),
        allowances=(upper.allowance, lower.allowance),
        thickness=bench.metal.thickness,
        slack=inches(DEFAULT_SLACK if piece.slack is None else piece.slack),
        joint=inches(DEFAULT_JOINT if piece.joint is None else piece.joint),
    )
    return DiamondSizes(
        lattice=lattice,
        upper=upper,
        lower=lower,
        side=side,
        blank=blank,
        strip_units=strip,
        strip=bench.inches(strip),
    )


def rhombus(side: float, top_angle: float) -> Polygon:
    """Diamond with edges 2 and 4 along y: point 1 the top tip, 2 left tip, 3 bottom tip, 4 right tip.

    A square one (90 degrees) comes out with edge 1 on top, 2 left, 3 below, 4 right.
    """
    a = math.radians(top_angle)
    low = (side * math.sin(a), side * math.cos(a) - side)
    if top_angle == 90:
        low = (side, -side)
    return ((low[0], low[1] + side), (0.0, 0.0), (0.0, -side), low)


def lay_diamond(sizes: DiamondSizes) -> FlatPiece:
    """The diamond laid out, hems at their distance from the sheared edges."""
    points = rhombus(sizes.made, sizes.lattice.top_angle)
    left, right = points[1], points[3]
    run = math.dist(left, right)
    across: Point = ((right[0] - left[0]) / run, (right[1] - left[1]) / run)
    depth = sizes.lattice.side_snip
    snips = (
        Snip(
            corner=2,
            through=(left[0] + depth * across[0], left[1] + depth * across[1]),
            normal=(-across[0], -across[1]),
        ),
        Snip(corner=4, through=(right[0] - depth * across[0], right[1] - depth * across[1]), normal=across),
    )
    folds = {1: sizes.upper, 4: sizes.upper, 2: sizes.lower, 3: sizes.lower}
    return lay_flat(points, folds, snips=snips)


def diamond_pattern(
    bench: PieceRules, sizes: DiamondSizes, *, count: int, spare: int, notes: tuple[str, ...]
) -> FlatPattern:
    """Flat pattern of a diamond."""
    piece, lattice = bench.piece, sizes.lattice
    assert isinstance(piece, DiamondPiece)
    square = piece.top_angle == 90
    return flat_pattern(
        bench,
        lay_diamond(sizes),
        finished=Finished(side=sizes.side, exposed_side=lattice.exposed, covers_area=lattice.cell),
        width_units=sizes.strip_units,
        length_units=sizes.strip_units if square else bench.units(sizes.sheared),
        count=count,
        spare=spare,
        grain=piece.grain,
        finish=piece.finish or "bare",
        rounding=sizes.rounding,
        lattice=lattice,
        notes=notes,
    )
