"""The job as fabplan understands it: what a validated job file (and shop file) says.

Every length is exact, in nanometres (`fabplan.units.Nm`). Angles are degrees. The models are frozen;
past this room nothing is re-checked. Reading and wording of faults: `fabplan.job.load`.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from fabplan.job.slopes import Roof, Slope
from fabplan.job.values import Angle, Length, OnHand, Pounds, Price, Share, Size, Spare

Toward = Literal["face", "back"]
Grain = Literal["any", "along", "across"]


class Model(BaseModel):
    """Base: frozen, unknown keys refused."""

    model_config = ConfigDict(frozen=True, extra="forbid", arbitrary_types_allowed=True)


class JobInfo(Model):
    """``[job]``: name, units and shop-wide rules of the job."""

    name: str
    number: str
    units: Literal["in", "mm"] = "in"
    round_to: Length  # filled in from units: 1/32 in or 0.5 mm
    spare: Spare = Spare()
    batch: int = Field(default=25, ge=1, le=10_000)
    keep_at_least: Size | None = None
    revision: str = ""
    date: str = ""
    currency: str = ""
    paper: Literal["letter", "a4"] = "letter"


class MetalUse(Model):
    """``[metal]``: the profile every piece uses unless it names its own."""

    use: str


class HemSpec(Model):
    """A fold on an edge: `turned` degrees (180 = hem), `gap` inside an open hem."""

    width: Length
    toward: Toward
    turned: Angle = 180.0
    gap: Length | None = None  # None = the shop default, 1/16 in or 1.5 mm


class PieceBase(Model):
    """Keys every ``[[piece]]`` may carry."""

    mark: str
    count: int | None = Field(default=None, ge=1, le=1_000_000)  # None = from [[slope]]
    metal: str | None = None
    grain: Grain = "any"
    allowance: Literal["computed", "plain"] = "computed"
    note: str = ""


class DiamondPiece(PieceBase):
    """Interlocking diamond shingle: two upper edges folded over the face, two lower to the back."""

    kind: Literal["diamond"]
    side: Length | None = None  # finished, outside of fold to outside of fold
    blank: Length | None = None  # or the flat side
    top_angle: Angle = Field(default=90.0, ge=60, le=120)
    hem: Length | None = None
    upper_hem: Length | None = None
    lower_hem: Length | None = None
    hem_gap: Length | None = None
    upper_gap: Length | None = None
    lower_gap: Length | None = None
    snip_past: Length = Length(0)
    slack: Length | None = None  # lap slack, default 1/32 in
    joint: Length | None = None  # clearance between clipped side tips, default 1/16 in


class CutPiece(PieceBase):
    """A part of a diamond: starter, rake half or ridge half."""

    kind: Literal["starter", "ridge-half", "rake-left", "rake-right"]
    for_: str = Field(alias="for")
    hooks: str | None = None  # the section it hooks (starter: drip edge)
    cut_fold: HemSpec | Literal["none"] | None = None  # None = the kind's default


class FlatSeamPiece(PieceBase):
    """Rectangular flat-lock pan: top and left folded to the face, bottom and right to the back."""

    kind: Literal["flat-seam"]
    width: Length
    length: Length
    hem: Length
    hem_gap: Length | None = None
    face_edges: tuple[int, ...] | None = None


class RectanglePiece(PieceBase):
    """A plain blank: no folds."""

    kind: Literal["rectangle"]
    width: Length
    length: Length
    may_turn: bool = True


class EdgeFold(HemSpec):
    """A fold on a numbered edge of an outline."""

    edge: int = Field(ge=1)


class OutlinePiece(PieceBase):
    """Any polygon (finished outline, counter-clockwise seen from the face) with folds on numbered edges."""

    kind: Literal["outline"]
    points: tuple[tuple[Length, Length], ...] = Field(min_length=3, max_length=60)
    folds: tuple[EdgeFold, ...] = ()


class SectionPiece(PieceBase):
    """A bent strip: outside legs and signed bends (+ toward the face), with optional end hems."""

    kind: Literal["section"]
    length: Length
    legs: tuple[Length, ...] = Field(min_length=1, max_length=30)
    bends: tuple[float, ...] = ()
    inside_radius: Length | tuple[Length, ...] = Length(0)
    start_hem: HemSpec | None = None
    end_hem: HemSpec | None = None
    lap: Length | None = None  # lap where a strip longer than the brake is split; default 3 in


Piece = Annotated[
    DiamondPiece | CutPiece | FlatSeamPiece | RectanglePiece | OutlinePiece | SectionPiece,
    Field(discriminator="kind"),
]


class Stock(Model):
    """``[[stock]]``: a coil, a sheet size, or one offcut."""

    name: str
    form: Literal["coil", "sheet", "offcut"]
    width: Length
    length: Length | None = None  # sheet, offcut
    longest_cut_off: Length | None = None  # coil; None = 120 in or 3000 mm
    trim_each_edge: Length = Length(0)
    on_hand: OnHand | None = None  # None = as much as needed (offcut: 1)
    price: Price | None = None
    metal: str | None = None
    grain: Literal["along", "across"] = "along"  # rolling direction along the length


class Shear(Model):
    """``[shear]``."""

    longest_cut: Length
    back_gauge_reach: Length
    coil_cut_off: Literal["mark", "gauge"] = "mark"
    least_held: Length
    angle_stop: tuple[float, float] = (30.0, 150.0)
    pattern: Literal["strips", "stacked-strips"] = "strips"
    kerf: Length = Length(0)


class NestOptions(Model):
    """``[nest]``."""

    effort: float = Field(default=1.0, ge=0, le=100)
    seed: int = Field(default=0, ge=0)
    margin: Share
    fewer_setups: Share
    open_stacks: int | None = Field(default=None, ge=1)
    offcut_credit: Share  # share of the metal's price credited to kept offcuts
    pair: bool = True


class Brake(Model):
    """``[brake]``: the leaf brake in section. See the metal notes for what each size means."""

    longest_bend: Length
    largest_angle: Angle = 135.0
    nose_angle: Angle = 45.0
    nose_land: Length
    nose_setback: float = 2.0  # in thicknesses
    apron_bar: Length
    apron_hang: Length
    jaw: Length
    throat: Length
    least_flange: Length
    least_clamp: Length
    deepest_flattened_hem: Length
    springback: float = Field(default=2.0, ge=0, le=20)
    measured_allowance: tuple[MeasuredAllowance, ...] = ()
    assumed: tuple[str, ...] = ()  # keys that took the shop default, named on the page


class MeasuredAllowance(Model):
    """An allowance measured from the shop's own test strips; used instead of the computed one."""

    metal: str
    turned: Angle
    gap: Length = Length(0)
    deduction: Length  # bend deduction measured


class HemTool(Model):
    """``[[hem_tool]]``: a hand tool that folds hems."""

    name: str
    largest_angle: Angle
    least_fold: Length
    greatest_fold: Length
    slot_depth: Length = Length(0)  # 0 = no fixed depth
    longest_fold: Length
    in_bites: bool = False
    press_strip: Length
    closes_hems: bool = False


class Spread(Model):
    """``[spread]``: the shop's hand-made variation (one standard deviation unless said)."""

    shear: Length  # default 1/64 in (so +-1/32 is two sigma)
    fold: Length
    play: Length  # greatest play of a lock, default 1/32 in
    tape: Length  # one sigma of a tape reading, default 1/16 in


class Handling(Model):
    """``[handling]``: weights people lift."""

    lift_limit: Pounds | None = None
    carry_limit: Pounds | None = None
    carry_count: int | None = Field(default=None, ge=1)


class Job(Model):
    """A whole job, shop file merged in."""

    file: str  # as the user named it
    shop: str | None = None
    info: JobInfo
    metal: MetalUse
    pieces: tuple[Piece, ...] = ()
    stock: tuple[Stock, ...] = ()
    shear: Shear
    nest: NestOptions
    brake: Brake
    hem_tools: tuple[HemTool, ...] = ()
    slopes: tuple[Slope, ...] = ()
    roof: Roof
    spread: Spread
    handling: Handling
