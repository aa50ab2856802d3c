"""A cut plan: which stock, how it is cut, and how far from best it can be.

Everything here is in whole graduations of the shop (`grid` nanometres each); x across the stock's width, y along
its length, lower left (0, 0). Outlines of pieces that are not rectangles are floats in graduations.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Annotated, Literal

from fabplan.labour import Spent
from fabplan.nesting.remarks import Note, Rival
from fabplan.quantities import (
    Cost,
    Degrees,
    Fields,
    FineSteps,
    Inches,
    Key,
    Nanometres,
    Pounds,
    Seconds,
    Share,
    SquareSteps,
    Steps,
    Unit,
    stated,
)

Place = tuple[FineSteps, FineSteps]
ProgramItem = Annotated[tuple[int, tuple[int, ...], int], Fields(("layout", "steps", "times"))]
Status = Literal["short", "proven", "within_margin", "not_proven"]
Use = Literal["blank", "piece", "scrap", "keep", "dust"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """One blank on the stock: lower left of its bounding box, size as placed, outline if not a rectangle.

    `boxed`: the shear frees the bounding box only, and the sides of the outline are scribed and snipped at the bench.
    """

    mark: str
    x: Steps
    y: Steps
    width: Steps
    length: Steps
    turned: bool
    outline: tuple[Place, ...] | None = None
    boxed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A piece of metal on the table while a layout is cut.

    `outline` is convex and runs counter-clockwise from its lowest, leftmost corner; `blanks` are the places, in the
    layout's `blanks`, of those that lie in it. `use` is what becomes of it: a "blank" is done; a "piece" is cut
    further; "keep" goes back on the rack, "scrap" does not; "dust" is a trim no wider than the saw's kerf.
    """

    outline: tuple[Place, ...]
    blanks: tuple[int, ...]
    use: Use


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """One straight shear cut from edge to edge of the piece it is made on.

    `back_gauge` is the stop setting (None for a cut to a mark); `angle` the angle-stop setting in degrees for a
    slanted cut (90 = square). `start`/`end` are points on the layout; a saw's kerf lies to the right of start to end.
    `on` is the metal the cut is made on (None: the coil), `falls` what drops behind the blade, `stays` what stays on
    the table (None: the coil). `after` is the cut that freed `on`, None when it is the stock itself. `held` is the
    width in front of the blade.
    """

    step: int
    start: Annotated[Place, Key("from")]
    end: Annotated[Place, Key("to")]
    back_gauge: Steps | None
    held: Steps
    angle: Annotated[Degrees, Key("angle_deg")] = 90.0
    stage: int = 1
    on: Part | None
    falls: Part
    stays: Part | None
    after: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Offcut:
    """A rectangle left over; `keep` when both sides reach the job's least size: then it has a number in the job."""

    x: Steps
    y: Steps
    width: Steps
    length: Steps
    keep: bool
    number: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """One cutting pattern, made `repeat` times.

    `width` is the full stock width, `length` the cut-off length (coil) or sheet length, in graduations. `spent` is the
    time of all its repeats without settings, which the shear program shares.
    """

    stock: str
    form: Literal["coil", "sheet", "offcut"]
    metal: str
    repeat: int
    width: Steps
    length: Steps
    blanks: tuple[Placed, ...]
    cuts: tuple[Cut, ...]
    offcuts: tuple[Offcut, ...]
    spent: tuple[Spent, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class StockUse:
    """How much of one stock line the plan takes. Coil: `used_length` graduations; sheet, offcut: `used_count`.

    `rack_pieces` are the identities of the pieces a line of the rack stands for, in the order they are taken.
    """

    name: str
    form: Literal["coil", "sheet", "offcut"]
    metal: str
    width: Steps
    length: Steps | None
    used_length: Steps | None
    used_count: int | None
    cost: Cost
    pounds: Annotated[Pounds, Key("weight")]
    thickness: Inches
    grain: Literal["along", "across"] = "along"
    rack_pieces: tuple[str, ...] = ()

    @stated
    def area(self) -> Annotated[int, Unit("square graduations")]:
        """Square graduations taken."""
        return self.width * (self.used_length or (self.used_count or 0) * (self.length or 0))


@dataclass(frozen=True, slots=True, kw_only=True)
class ProgramStep:
    """One back-gauge setting of the job-wide shear program and what is cut at it.

    `items` are (layout number from 1, cut steps of that layout, times).
    """

    step: int
    back_gauge: Steps | None
    angle: Annotated[Degrees, Key("angle_deg")]
    items: Annotated[tuple[ProgramItem, ...], Key("cuts")]


@dataclass(frozen=True, slots=True, kw_only=True)
class ShearProgram:
    """Order of cuts over the whole job with few settings."""

    steps: tuple[ProgramStep, ...]
    settings: int
    settings_layout_by_layout: int
    most_open_stacks: int
    least_settings: int


@dataclass(frozen=True, slots=True, kw_only=True)
class CutPlan:
    """The nest of a whole job.

    `total` and `bound` are money (in the job's currency) or area (square graduations) as `objective` says; both exact.
    `metal_total` is what the stock costs, `labour_total` what the time of `spent` costs at the shop's rate.
    `time_limit` is the clock somebody set, None where the search counted work alone.
    """

    grid: Nanometres
    objective: Literal["area", "money"]
    total: Cost
    bound: Cost
    status: Status
    stopped_early: bool
    layouts: tuple[Layout, ...]
    stock: tuple[StockUse, ...]
    short: tuple[Annotated[tuple[str, int], Fields(("mark", "missing"))], ...]
    scrap_share: Share
    kept_share: Share
    blanks_area: SquareSteps
    stock_area: SquareSteps
    rivals: tuple[Rival, ...] = ()
    program: Annotated[ShearProgram | None, Key("shear_program")] = None
    notes: tuple[Note, ...] = ()
    metal_total: Cost = Fraction(0)
    labour_total: Cost = Fraction(0)
    metal_bound: Cost = Fraction(0)
    spent: tuple[Spent, ...] = ()
    time_limit: Seconds | None = None

    @stated
    def above_bound(self) -> Share | None:
        """Total over bound less one; None when the bound is 0."""
        return float(self.total / self.bound - 1) if self.bound else None
