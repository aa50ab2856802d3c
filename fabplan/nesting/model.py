"""A cut plan: which stock, how it is cut, and how far from best it can be.

Everything here is in whole graduations of the shop (`grid` nanometres each); x across the stock's width, y along
its length, lower left (0, 0). Outlines of pieces that are not rectangles are floats in graduations.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

Status = Literal["short", "proven", "within_margin", "not_proven"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """One blank on the stock: lower left of its bounding box, size as placed, outline if not a rectangle."""

    mark: str
    x: int
    y: int
    width: int
    length: int
    turned: bool
    outline: tuple[tuple[float, float], ...] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """One straight shear cut from edge to edge of the piece it is made on.

    `back_gauge` is the stop setting (None for a cut to a mark); `angle` the angle-stop setting in degrees for a
    slanted cut (90 = square). `start`/`end` are points on the layout. `comes_off` and `left` say in words what
    drops behind the blade and what stays on the table. `held` is the width in front of the blade.
    """

    step: int
    start: tuple[float, float]
    end: tuple[float, float]
    back_gauge: int | None
    held: int
    angle: float = 90.0
    stage: int = 1
    comes_off: str = ""
    left: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Offcut:
    """A rectangle left over; `keep` when both sides reach the job's least size."""

    x: int
    y: int
    width: int
    length: int
    keep: bool
    label: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """One cutting pattern, made `repeat` times.

    `width` is the full stock width, `length` the cut-off length (coil) or sheet length, in graduations.
    """

    stock: str
    form: Literal["coil", "sheet", "offcut"]
    metal: str
    repeat: int
    width: int
    length: int
    blanks: tuple[Placed, ...]
    cuts: tuple[Cut, ...]
    offcuts: tuple[Offcut, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StockUse:
    """How much of one stock line the plan takes. Coil: `used_length` graduations; sheet, offcut: `used_count`."""

    name: str
    form: Literal["coil", "sheet", "offcut"]
    metal: str
    width: int
    length: int | None
    used_length: int | None
    used_count: int | None
    cost: Fraction
    area: int
    pounds: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Rival:
    """Another way of cutting the same job, for the page: its cost, or why it has none."""

    name: str
    total: Fraction | None
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ProgramStep:
    """One back-gauge setting of the job-wide shear program and what is cut at it.

    `items` are (layout number from 1, cut steps of that layout, times).
    """

    step: int
    back_gauge: int | None
    angle: float
    items: tuple[tuple[int, tuple[int, ...], int], ...]
    says: str


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
    """

    grid: int
    objective: Literal["area", "money"]
    total: Fraction
    bound: Fraction
    status: Status
    stopped_early: bool
    layouts: tuple[Layout, ...]
    stock: tuple[StockUse, ...]
    short: tuple[tuple[str, int], ...]
    scrap_share: float
    kept_share: float
    blanks_area: float
    stock_area: float
    rivals: tuple[Rival, ...] = ()
    program: ShearProgram | None = None
    notes: tuple[str, ...] = ()

    @property
    def above_bound(self) -> float | None:
        """Total over bound less one; None when the bound is 0."""
        return float(self.total / self.bound - 1) if self.bound else None
