"""Roof results: measured slopes, pieces by course, course lines, edge pieces, underlayment, fasteners and kits.

Frame of a slope: looked at from outside in true shape, inches, x along the eave to the right, y up the slope. A slope
laid level over a leaning eave is turned so that x is level. Course 0 is the starters; course k has its widest line at
`base + k * course`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated, Literal

from fabplan import plane
from fabplan.quantities import (
    BY_NAME,
    NOT_KEPT,
    Degrees,
    Fields,
    Inches,
    Key,
    Nanometres,
    Number,
    Pounds,
    Seconds,
    Share,
    SquareInches,
    stated,
)
from fabplan.roof.extras.variation_model import Variation
from fabplan.roof.remarks import RoofNote, SlopeNote

Point = tuple[Inches, Inches]
Polygon = tuple[Point, ...]
ByMark = Annotated[tuple[tuple[str, int], ...], BY_NAME]
PieceKind = Literal["whole", "starter", "ridge-half", "cut-left", "cut-right", "cut-both", "notched"]
KINDS: tuple[PieceKind, ...] = ("whole", "starter", "ridge-half", "cut-left", "cut-right", "cut-both", "notched")


@dataclass(frozen=True, slots=True, kw_only=True)
class SlopeEdge:
    """One edge of a slope or of an opening, counter-clockwise (openings clockwise), named as in the job file.

    `reach` is how far the visible metal goes past the edge (negative: stops short); `fold` the metal a cut piece keeps
    beyond that.
    """

    name: str
    kind: str  # eave, ridge, hip, rake, valley, wall; sill, jamb, head at an opening
    start: Annotated[Point, Key("from")]
    end: Annotated[Point, Key("to")]
    reach: Inches = 0.0
    fold: Inches = 0.0

    @stated
    def length(self) -> Inches:
        """Inches."""
        return math.dist(self.start, self.end)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hole:
    """An opening: its edges, clockwise so that the metal lies on the left of each."""

    name: str
    edges: tuple[SlopeEdge, ...]

    @property
    def outline(self) -> Polygon:
        """Corner points."""
        return tuple(e.start for e in self.edges)


@dataclass(frozen=True, slots=True, kw_only=True)
class TapeReading:
    """One reading after adjusting them all together: `correction` = fitted less read; `alone` = how much this reading
    by itself would have to change for everything to close (None when it cannot)."""

    name: str
    read: Inches
    correction: Inches
    alone: Inches | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Misfit:
    """How far more readings than needed disagree. It never says which tape is wrong: the readings cannot tell."""

    disagreement: Inches  # largest of `alone` by size for one redundancy: what the check reading is off by
    readings: tuple[TapeReading, ...]
    redundancy: int
    sigmas: Number  # disagreement in standard deviations of the tape
    checks: tuple[str, ...]  # the readings that are more than needed


@dataclass(frozen=True, slots=True, kw_only=True)
class Lean:
    """How far the top stands to the right of the eave's middle, with one standard deviation."""

    amount: Inches
    sigma: Inches

    @stated
    def known(self) -> bool:
        """Whether the lean is larger than two standard deviations."""
        return abs(self.amount) > 2 * self.sigma


@dataclass(frozen=True, slots=True, kw_only=True)
class Hip:
    """A hip of a spire: `bend` = degrees a cap is turned along it; `plan_corner` = eave corner seen in plan."""

    name: str
    length: Inches
    bend: Annotated[Degrees, Key("bend_deg")]
    plan_corner: Annotated[Degrees, Key("plan_corner_deg")]
    slope_left: str  # slope on the left of the hip seen from outside
    slope_right: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """A slope as reconstructed from its tape readings; `times` equal slopes share it."""

    name: str
    entry: str  # name of the [[slope]] it comes from
    piece: str
    times: int
    edges: tuple[SlopeEdge, ...]
    holes: Annotated[tuple[Hole, ...], Key("openings")] = ()
    pitch: Annotated[Degrees | None, Key("pitch_deg")] = None  # degrees from level
    lean: Lean | None = None
    misfit: Misfit | None = None
    notes: tuple[SlopeNote, ...] = ()

    @property
    def outline(self) -> Polygon:
        """Corner points, counter-clockwise from the left end of the eave."""
        return tuple(e.start for e in self.edges)

    @stated
    def area(self) -> SquareInches:
        """Square inches less openings."""
        return plane.area(self.outline) - sum(abs(plane.area(h.outline)) for h in self.holes)


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidPiece:
    """One piece on a slope.

    Attributes
    ----------
    course, column : int
        Lattice place.
    centre : point
        Middle of its visible rhombus.
    kind : PieceKind
    lost : str
        Tips it lost, of L, R, B, T.
    standard : bool
        Exactly the half a starter, ridge half or rake half is.
    trimmed : bool
        Whole to the eye, but the metal behind needs a snip at an edge.
    visible : polygon
        What shows.
    inner : tuple of polygon
        Holes in it, left by an opening inside the piece.
    share : float
        Visible area over that of a whole piece.
    metal : polygon
        Metal needed, in the frame of the flat blank's centre (face up); empty for whole pieces.
    shape : int
        Number of its cut shape (0 = none, or cut on the roof); mirrored shapes share one.
    mirrored : bool
        It is the mirror image of its cut shape.
    mark : str
        Mark of the blank it is made from.
    under_cap : bool
        Wholly under a cap: nothing of it shows.
    """

    course: int
    column: int
    kind: PieceKind
    lost: str
    standard: bool
    trimmed: bool
    centre: Point
    visible: Polygon
    inner: tuple[Polygon, ...]
    share: Share
    metal: Polygon
    shape: int
    mark: str
    mirrored: bool = False
    under_cap: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class CourseCount:
    """Pieces of one course of one slope (all its equal slopes count `times` as often)."""

    course: int
    whole: int
    trimmed: int  # of the whole ones
    starter: int
    ridge_half: int
    cut_left: int
    cut_right: int
    cut_both: int
    notched: int
    covered: Annotated[SquareInches, Key("covered_area")]  # visible area, square inches
    under_cap: int = 0  # of all, those wholly under a cap
    ready: int = 0  # of those not whole, pieces that come up cut: of their own mark, or cut at the bench

    @stated
    def total(self) -> int:
        """All pieces of the course."""
        return (
            self.whole + self.starter + self.ridge_half + self.cut_left + self.cut_right + self.cut_both + self.notched
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class CourseLine:
    """A line to snap: `height` exact, `mark` as taped (graduations of `SlopeLayout.mark_step`), `top_line` the line the
    installer still sees, through the finished top tips of this course."""

    course: int
    height: Inches
    mark: int
    top_line: Inches
    top_mark: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Sliver:
    """A part left out under a cap, which its neighbours still run under: too thin to make, or left out as asked."""

    course: int
    column: int
    area: SquareInches
    visible: Polygon = ()
    why: Literal["sliver", "under a cap"] = "sliver"


@dataclass(frozen=True, slots=True, kw_only=True)
class CutShape:
    """One distinct cut shape of a job, mirrored ones counted with it: metal about the middle of its `blank`."""

    number: int
    mark: str
    metal: Annotated[Polygon, Key("outline")]
    visible: Polygon  # about the visible rhombus' centre
    width: Inches
    height: Inches
    share: Share
    same: Annotated[int, Key("count")]
    mirrored: int
    blank: Polygon = ()
    folds: int = 0  # hems left on it
    snips: int = 0  # cuts of the snips that free it and its corners

    @property
    def times(self) -> int:
        """How many are made, mirrored ones included."""
        return self.same + self.mirrored


@dataclass(frozen=True, slots=True, kw_only=True)
class SlopeLayout:
    """One slope laid out: lattice, pieces and lines. `region` and `voids` bound the visible metal."""

    slope: Measured
    turned: Annotated[Degrees, Key("turned_deg")]  # to lay it level (0 = the lattice follows the eave)
    alignment: Literal["point", "joint"]
    centre_x: Inches
    base: Inches  # y of the starters' base line
    spacing: Inches
    course: Inches  # as laid (closed up when the courses are made even)
    laid: int | None = None  # courses up to this one lie on the roof
    full_course: Inches
    exposed: Inches
    top_angle: Degrees
    lap: Inches
    cap_line: Inches | None  # y where the apex cap's lower edge lies
    region: tuple[Polygon, ...]  # more than one only where an opening cuts the slope through
    voids: tuple[Polygon, ...]
    pieces: Annotated[tuple[LaidPiece, ...], NOT_KEPT] = ()  # one each; many, and the job gives them again
    slivers: tuple[Sliver, ...]
    courses: tuple[CourseCount, ...]
    mark_step: Nanometres
    lines: tuple[CourseLine, ...]
    # Point marks on the eave line from the centre line.
    first_marks: tuple[Annotated[tuple[Inches, int], Fields(("exact", "mark"))], ...]
    notes: tuple[SlopeNote, ...] = ()

    def to_lay(self, course: int) -> bool:
        """Whether a course is still to be laid."""
        return self.laid is None or course > self.laid

    @property
    def cell(self) -> float:
        """Visible area of a whole piece as laid, square inches."""
        return self.spacing * self.course

    @stated
    def net_area(self) -> Annotated[SquareInches, Key("covered_area")]:
        """Area of the visible metal, square inches."""
        return math.fsum(abs(plane.area(r)) for r in self.region) - math.fsum(abs(plane.area(v)) for v in self.voids)

    @stated
    def ideal(self) -> Number:
        """Area over the area of a piece: the count no layout can beat."""
        return self.net_area / self.cell


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """Two cut shapes got from one blank, so many times; the second turned (and flipped when allowed)."""

    mark: str
    first: int
    second: int
    first_mirrored: bool
    second_mirrored: bool
    turned: Annotated[Degrees, Key("turned_deg")]
    flipped: Annotated[bool, Key("turned_over")]
    times: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PartBlank:
    """Cut shape left without a partner: takes a whole blank, or is nested by its own outline."""

    mark: str
    shape: Annotated[int, Key("cut_shape")]
    mirrored: bool
    outline: Polygon  # in the frame of the blank's centre
    times: Annotated[int, Key("count")]


@dataclass(frozen=True, slots=True, kw_only=True)
class PartUse:
    """A cut shape got from a part blank so many times, turned (and flipped) like the second of a pair."""

    shape: Annotated[int, Key("cut_shape")]
    mirrored: bool
    turned: Annotated[Degrees, Key("turned_deg")]
    flipped: Annotated[bool, Key("turned_over")]
    times: Annotated[int, Key("count")]


@dataclass(frozen=True, slots=True, kw_only=True)
class PartSize:
    """A blank smaller than the whole diamond, sheared to its own outline, from which cut shapes are made one each.

    `mark` is its own, `diamond` the mark of the whole blank; `outline` lies about the middle of the whole sheared
    blank, convex and counter-clockwise, `share` of its area.
    """

    mark: str
    diamond: Annotated[str, Key("of")]
    outline: Polygon
    share: Share
    parts: Annotated[tuple[PartUse, ...], Key("cut_shapes")]

    @stated
    def times(self) -> Annotated[int, Key("count")]:
        """How many the roof takes."""
        return sum(p.times for p in self.parts)


@dataclass(frozen=True, slots=True, kw_only=True)
class OffFall:
    """A cut piece made from what falls off another of its course, folded and unturned, on each of `times` slopes.

    `first` and `second` are places in the slope's `pieces`: the first is cut from a whole piece, the second is got from
    what falls off it.
    """

    slope: str
    course: int
    first: int
    second: int
    times: int


@dataclass(frozen=True, slots=True, kw_only=True)
class CutWay:
    """What the diamonds of a roof take when the cut pieces are cut in one place: all their blanks before spare, and the
    hours the cut pieces take, from the sheared blank to the roof, laying them included.

    `money` is what metal and hours come to together, at the shop's rate and what the stock costs by area; None without
    prices or a rate."""

    how: Literal["on the roof", "at the bench"]
    blanks: int
    metal: SquareInches
    hours: Number
    templates: int
    money: Number | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgeRun:
    """A strip along an edge, by length with laps. `length` includes `extra` for the laps at its ends."""

    kind: str
    where: str
    mark: str  # section piece, or "" when the job names none
    times: int
    length: Inches
    extra: Inches
    stock: Annotated[Inches, Key("stock_length")]
    lap: Inches
    pieces: int


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgeLength:
    """A length chosen for edge metal, made as piece `mark`; `of` is the mark in the job file that it belongs to."""

    mark: str
    of: str
    length: Nanometres
    typed: Nanometres  # the longest that may be made, as the job file says


@dataclass(frozen=True, slots=True, kw_only=True)
class Underlayment:
    """Rolls for one slope, counted by runs."""

    slope: str
    times: int
    rows: int
    runs: tuple[Inches, ...]  # inches, widest part of each row with the laps past hips
    total: Inches  # of roll, all equal slopes
    rolls: Number
    rolls_by_area: Number


@dataclass(frozen=True, slots=True, kw_only=True)
class Fastener:
    """One kind of fastener: so many a piece or a cleat (`each`), or one every so far along an edge (`apart`)."""

    what: Literal["shingle nails", "shingle cleats", "edge strip nails", "cap cleats", "cleat nails"]
    count: int
    each: int | None = None
    apart: Inches | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class KitItem:
    """Pieces of one kind and shape in a kit."""

    mark: str
    kind: PieceKind
    shape: Annotated[int, Key("cut_shape")]
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Kit:
    """What goes up in one lift."""

    label: str
    entry: str
    slopes: tuple[str, ...]
    first_course: int
    last_course: int
    part: tuple[int, int]  # (n, of): part of a course too big for one kit
    items: tuple[KitItem, ...]
    pieces: int
    pounds: Annotated[Pounds, Key("weight")]
    spare: int = 0  # of the pieces: whole ones over, because off-falls stand in for others
    over: Annotated[bool, Key("over_limit")] = False  # a single piece heavier than the limit


@dataclass(frozen=True, slots=True, kw_only=True)
class RoofPlan:
    """All slopes of a job laid out.

    `counts` = blanks needed by piece mark before spare (pairs and off-falls taken off); `pieces` = finished pieces by
    mark.
    """

    counts: ByMark = ()
    pieces: ByMark = ()
    slopes: tuple[SlopeLayout, ...] = ()
    hips: tuple[Hip, ...] = ()
    shapes: Annotated[tuple[CutShape, ...], Key("cut_shapes")] = ()
    pairs: tuple[Pair, ...] = ()
    leftover: Annotated[tuple[PartBlank, ...], Key("unpaired")] = ()
    part_sizes: Annotated[tuple[PartSize, ...], Key("part_blanks")] = ()
    spared: Annotated[ByMark, Key("whole_blanks_spared")] = ()  # whole blanks the part blanks stand in for, by mark
    off_falls: tuple[OffFall, ...] = ()
    off_fall_spare: ByMark = ()  # whole pieces over because off-falls are used, by mark
    ways: tuple[CutWay, ...] = ()  # the one planned first
    # Time of snipping and folding one whole diamond, which the ways count with.
    whole_work: tuple[Annotated[tuple[str, Seconds], Fields(("mark", "seconds"))], ...] = ()
    edge_runs: Annotated[tuple[EdgeRun, ...], Key("edges")] = ()
    edge_lengths: tuple[EdgeLength, ...] = ()  # chosen for this roof
    underlayment: tuple[Underlayment, ...] = ()
    fasteners: tuple[Fastener, ...] = ()
    kits: tuple[Kit, ...] = ()
    kit_limit: Annotated[tuple[int, Pounds | None], Fields(("pieces", "weight"))] = (120, None)
    variation: tuple[Variation, ...] = ()
    notes: tuple[RoofNote, ...] = ()
