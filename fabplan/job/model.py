"""The job as fabplan understands it: what a validated job file (and shop file) says.

Every length is exact, in nanometres (`fabplan.units.Nm`). Angles are degrees. The models are frozen;
past this room nothing is re-checked. Reading and wording of faults: `fabplan.job.load`.

A field's `description` is its entry in ``docs/job-file.md``.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from fabplan.job.slopes import Roof, Slope
from fabplan.job.values import (
    Allowance,
    HourRateRule,
    Label,
    Lengths,
    Note,
    OnHandRule,
    PieceLength,
    Pounds,
    PriceRule,
    Share,
    SignedLength,
    Size,
    Spare,
    SpareRule,
    StockLength,
    Thicknesses,
    Time,
    angle_within,
    real_within,
    whole_within,
    word,
)
from fabplan.labour import NO_LABOUR, Labour
from fabplan.units import Nm, Show

Word = BeforeValidator(word)
Toward = Annotated[Literal["face", "back"], Word]
Grain = Annotated[Literal["any", "along", "across"], Word]
Truth = Annotated[bool, Field(strict=True)]
MOST_PIECES = 1_000_000


class Model(BaseModel):
    """Base: frozen, unknown keys refused."""

    model_config = ConfigDict(frozen=True, extra="forbid", arbitrary_types_allowed=True)


class JobInfo(Model):
    """``[job]``: name, units and shop-wide rules of the job."""

    name: Label = Field(description="Name of the job, printed on every page.")
    number: Label = Field(description="Job number; the packet folder is named by it.")
    units: Annotated[Literal["in", "mm"], Word] = Field(default="in", description="Unit of bare numbers and of print.")
    round_to: PieceLength = Field(description="The shop's smallest graduation; computed blanks are rounded to it once.")
    spare: SpareRule = Field(default=Spare(), description="Extra pieces of every mark: a share, or a number of pieces.")
    batch: Annotated[int, whole_within(1, 10_000)] = Field(default=25, description="Pieces in one tick-box batch.")
    keep_at_least: Size | None = Field(default=None, description="Offcuts this big or bigger are kept.")
    revision: Note = Field(default="", description="Printed on the cover when given.")
    date: Note = Field(default="", description="Printed only when given.")
    currency: Note = Field(default="", description="Name or sign of the money prices are in.")
    paper: Annotated[Literal["letter", "a4"], Word] = Field(default="letter", description="Paper of the packet.")


class MetalUse(Model):
    """``[metal]``: the profile every piece and stock line uses unless it names its own."""

    use: Label = Field(description="A shipped metal profile by name, or a profile file (.toml) by relative path.")


class HemSpec(Model):
    """A fold on an edge: `turned` degrees (180 = hem), `gap` inside an open hem."""

    width: PieceLength = Field(description="Finished width, outside of the fold to the raw edge.")
    toward: Toward = Field(description="Side of the metal it is folded to: face or back.")
    turned: Annotated[float, angle_within(1, 180)] = Field(default=180.0, description="Degrees turned; 180 is a hem.")
    gap: Allowance | None = Field(default=None, description="Opening inside the hem; 0 is closed flat.")


class PieceBase(Model):
    """Keys every ``[[piece]]`` may carry."""

    mark: Label = Field(description="Mark of the piece on every page; no two alike.")
    count: Annotated[int, whole_within(1, MOST_PIECES)] | None = Field(
        default=None, description="How many; left out when the slopes count it."
    )
    metal: Label | None = Field(default=None, description="Metal of this piece, when not the job's.")
    grain: Grain = Field(default="any", description="How the blank must lie to the rolling direction.")
    allowance: Annotated[Literal["computed", "plain"], Word] = Field(
        default="computed", description="computed: the bend allowance; plain: a fold takes its width."
    )
    note: Note = Field(default="", description="Printed with the piece.")


class DiamondPiece(PieceBase):
    """Interlocking diamond shingle: two upper edges folded over the face, two lower to the back."""

    kind: Literal["diamond"]
    side: PieceLength | None = Field(default=None, description="Finished side, outside of fold to outside of fold.")
    blank: PieceLength | None = Field(default=None, description="Or the flat side of the blank; one of the two.")
    top_angle: Annotated[float, angle_within(60, 120)] = Field(default=90.0, description="Angle at the top corner.")
    hem: PieceLength | None = Field(default=None, description="Finished width of all four hems.")
    upper_hem: PieceLength | None = Field(default=None, description="Width of the two upper hems, when not `hem`.")
    lower_hem: PieceLength | None = Field(default=None, description="Width of the two lower hems, when not `hem`.")
    hem_gap: Allowance | None = Field(default=None, description="Opening inside all four hems; they must hook.")
    upper_gap: Allowance | None = Field(default=None, description="Opening of the upper hems, when not `hem_gap`.")
    lower_gap: Allowance | None = Field(default=None, description="Opening of the lower hems, when not `hem_gap`.")
    snip_past: Allowance = Field(default=Nm(0), description="Snip past the fold crossing, where no open joint results.")
    slack: Allowance | None = Field(default=None, description="Slack of a lock beyond the metal's thickness.")
    joint: Allowance | None = Field(default=None, description="Clearance between clipped side tips.")


def _cut_fold(value: Any) -> Any:
    return word(value) if isinstance(value, str) else value


class CutPiece(PieceBase):
    """A part of a diamond: starter, ridge half, or rake half (left and right seen facing the roof)."""

    kind: Literal["starter", "ridge-half", "rake-left", "rake-right"]
    for_: Label = Field(alias="for", description="Mark of the diamond it is a part of.")
    hooks: Label | None = Field(default=None, description="Mark of the section its fold hooks: checked.")
    cut_fold: Annotated[HemSpec | Literal["none"] | None, BeforeValidator(_cut_fold)] = Field(
        default=None, description="Fold on the cut edge, or none."
    )


class FlatSeamPiece(PieceBase):
    """Rectangular flat-lock pan: top and left folded to the face, bottom and right to the back."""

    kind: Literal["flat-seam"]
    width: PieceLength = Field(description="Finished width, outside to outside.")
    length: PieceLength = Field(description="Finished length, outside to outside.")
    hem: PieceLength = Field(description="Finished width of all four hems.")
    hem_gap: Allowance | None = Field(default=None, description="Opening inside the hems; they must hook.")
    face_edges: tuple[Annotated[int, whole_within(1, 4)], ...] | None = Field(
        default=None, max_length=4, description="Edges folded to the face, when not top and left."
    )


class RectanglePiece(PieceBase):
    """A plain blank: no folds."""

    kind: Literal["rectangle"]
    width: PieceLength = Field(description="Width of the blank.")
    length: PieceLength = Field(description="Length of the blank.")
    may_turn: Truth = Field(default=True, description="Whether it may be turned 90° on the stock.")


class EdgeFold(HemSpec):
    """A fold on a numbered edge of an outline."""

    edge: Annotated[int, whole_within(1, 60)] = Field(description="Edge number; edge 1 starts at the first point.")


class OutlinePiece(PieceBase):
    """Any polygon (finished outline, counter-clockwise seen from the face) with folds on numbered edges."""

    kind: Literal["outline"]
    points: tuple[tuple[SignedLength, SignedLength], ...] = Field(
        min_length=3, max_length=60, description="Corners as [x, y], counter-clockwise seen from the face."
    )
    folds: tuple[EdgeFold, ...] = Field(default=(), max_length=60, description="Folds on numbered edges.")


class SectionPiece(PieceBase):
    """A bent strip: outside legs and signed bends (+ toward the face), with optional end hems."""

    kind: Literal["section"]
    length: StockLength = Field(description="Length along the bends.")
    legs: tuple[PieceLength, ...] = Field(
        min_length=1, max_length=30, description="Outside sizes of the legs in order, hems not counted."
    )
    bends: tuple[Annotated[float, angle_within(-180, 180)], ...] = Field(
        default=(), max_length=29, description="Degrees turned between the legs, + toward the face."
    )
    inside_radius: Lengths = Field(default=Nm(0), description="Inside radius of the bends: one, or a list.")
    start_hem: HemSpec | None = Field(default=None, description="Hem on the free edge of the first leg.")
    end_hem: HemSpec | None = Field(default=None, description="Hem on the free edge of the last leg.")
    lap: Allowance | None = Field(default=None, description="Lap where a strip longer than the brake is split.")


PIECE_MODELS: tuple[type[PieceBase], ...] = (
    DiamondPiece,
    CutPiece,
    FlatSeamPiece,
    RectanglePiece,
    OutlinePiece,
    SectionPiece,
)
Piece = Annotated[
    DiamondPiece | CutPiece | FlatSeamPiece | RectanglePiece | OutlinePiece | SectionPiece,
    Field(discriminator="kind"),
]


class Stock(Model):
    """``[[stock]]``: a coil, a sheet size, or one offcut."""

    name: Label = Field(description="Name of the stock line; no two alike.")
    form: Annotated[Literal["coil", "sheet", "offcut"], Word] = Field(description="coil, sheet or offcut.")
    width: StockLength = Field(description="Width as bought.")
    length: StockLength | None = Field(default=None, description="Length of a sheet or offcut.")
    longest_cut_off: StockLength | None = Field(default=None, description="Longest length cut off a coil.")
    trim_each_edge: Allowance = Field(default=Nm(0), description="Trimmed off each long edge before use.")
    on_hand: OnHandRule | None = Field(default=None, description="How much there is.")
    price: PriceRule | None = Field(default=None, description="Price per lb, kg, foot, meter, sheet or piece.")
    metal: Label | None = Field(default=None, description="Metal of this stock, when not the job's.")
    grain: Annotated[Literal["along", "across"], Word] = Field(
        default="along", description="Rolling direction: along or across the length."
    )


class Shear(Model):
    """``[shear]``: what the shop's shear can cut."""

    longest_cut: PieceLength = Field(description="Longest cut the blade makes.")
    back_gauge_reach: PieceLength = Field(description="Farthest setting of the back gauge.")
    coil_cut_off: Annotated[Literal["mark", "gauge"], Word] = Field(
        default="mark", description="A cut-off to a mark is not limited by the reach."
    )
    least_held: Allowance = Field(description="Narrowest strip that may be left in front of the blade.")
    least_gauge: Allowance = Field(
        default=Nm(0), description="Smallest back-gauge setting: less than this is not gauged."
    )
    width_tolerance: Allowance = Field(
        default=Nm(0), description="How much a mill edge may be off; a thinner trim is no cut to rely on."
    )
    least_pull: Allowance = Field(
        default=Nm(0), description="Shortest length pulled off a coil, but for the last one and offcuts."
    )
    angle_stop: tuple[Annotated[float, angle_within(0, 180)], Annotated[float, angle_within(0, 180)]] = Field(
        default=(30.0, 150.0),
        description="Degrees the angle stop can be set to, least and greatest, in front of the blade from its right.",
    )
    pattern: Annotated[Literal["strips", "stacked-strips"], Word] = Field(
        default="strips", description="Two stages of cuts, or three."
    )
    kerf: Allowance = Field(default=Nm(0), description="Metal lost in a cut: only for a saw.")


class NestOptions(Model):
    """``[nest]``: how the cut plan is searched. All optional."""

    effort: Annotated[float, real_within(0, 100)] = Field(default=1.0, description="How hard to look; 0 is quickest.")
    seed: Annotated[int, whole_within(0, 4_294_967_295)] = Field(default=0, description="Seed of the search.")
    margin: Share = Field(description="A plan this close above the bound is good enough.")
    fewer_setups: Share = Field(description="Extra metal allowed for fewer shear settings.")
    open_stacks: Annotated[int, whole_within(1, 1_000)] | None = Field(
        default=None, description="Most marks lying half cut at a time."
    )
    offcut_credit: Share = Field(description="Share of the metal's price credited to kept offcuts.")
    pair: Truth = Field(default=True, description="Pair blanks that fit together head to foot.")


class MeasuredAllowance(Model):
    """An allowance measured from the shop's own test strips; used instead of the computed one."""

    metal: Label = Field(description="Metal profile it was measured on.")
    turned: Annotated[float, angle_within(1, 180)] = Field(description="Degrees turned.")
    gap: Allowance = Field(default=Nm(0), description="Opening of the hem, for 180°.")
    deduction: SignedLength = Field(description="Bend deduction measured: outside legs less flat length, per bend.")


class Brake(Model):
    """``[brake]``: the leaf brake in section; ``deduction`` strips measured on it."""

    longest_bend: PieceLength = Field(description="Longest bend.")
    largest_angle: Annotated[float, angle_within(1, 180)] = Field(
        default=135.0, description="Farthest the leaf swings, degrees turned."
    )
    nose_angle: Annotated[float, angle_within(1, 90)] = Field(
        default=45.0, description="Angle of the nose bar's front face."
    )
    nose_land: PieceLength = Field(description="Flat under the nose bar.")
    nose_setback: Thicknesses = Field(default=2.0, description="Nose set back from the bending edge, in thicknesses.")
    apron_bar: PieceLength = Field(description="Width of the bar on the bending leaf.")
    apron_hang: PieceLength = Field(description="How far the leaf hangs below the bed.")
    jaw: PieceLength = Field(description="Opening of the clamping leaf.")
    throat: PieceLength = Field(description="Depth behind the nose.")
    least_flange: PieceLength = Field(description="Least flange the leaf can take.")
    least_clamp: PieceLength = Field(description="Least flat the nose must clamp.")
    deepest_flattened_hem: PieceLength = Field(description="Deepest hem the brake can flatten.")
    springback: Annotated[float, real_within(0, 20)] = Field(
        default=2.0, description="Degrees the shop overbends a square bend."
    )
    measured_allowance: tuple[MeasuredAllowance, ...] = Field(
        default=(), max_length=200, description="Allowances measured on test strips."
    )
    assumed: tuple[str, ...] = ()  # keys that took the shop default, named on the page; never in a file


class HemTool(Model):
    """``[[hem_tool]]``: a hand tool that folds hems."""

    name: Label = Field(description="Name of the tool; no two alike.")
    largest_angle: Annotated[float, angle_within(1, 180)] = Field(description="Farthest it turns, degrees.")
    least_fold: Allowance = Field(description="Narrowest fold it holds.")
    greatest_fold: PieceLength = Field(description="Widest fold it holds.")
    slot_depth: Allowance = Field(default=Nm(0), description="Depth of a fixed slot; 0 = no fixed depth.")
    longest_fold: PieceLength = Field(description="Longest fold in one bite.")
    in_bites: Truth = Field(default=False, description="Whether a longer fold may be made bite by bite.")
    press_strip: Allowance = Field(description="Strip it presses on, inside the fold line.")
    closes_hems: Truth = Field(default=False, description="Whether it can close a hem.")


class Spread(Model):
    """``[spread]``: the shop's hand-made variation (one standard deviation unless said)."""

    shear: Allowance = Field(description="Spread of a sheared size.")
    fold: Allowance = Field(description="Spread of a folded width.")
    play: Allowance = Field(description="Greatest play of a lock.")
    tape: Allowance = Field(description="Spread of a tape reading.")


class Handling(Model):
    """``[handling]``: weights people lift."""

    lift_limit: Pounds | None = Field(default=None, description="Most a hoist or lift may carry at a time.")
    carry_limit: Pounds | None = Field(default=None, description="Most one person carries.")
    carry_count: Annotated[int, whole_within(1, 100_000)] | None = Field(
        default=None, description="Most pieces in one kit."
    )


class LabourTimes(Model):
    """``[labour]``: how long each piece of work takes in this shop, and what an hour weighs against metal."""

    rate: HourRateRule | None = Field(
        default=None, description="What an hour weighs: money an hour, or metal; 0 gives the least metal."
    )
    stroke: Time = Field(
        description="One cut: place, hold, step, take away. Above 10 lb on the table in proportion to its weight."
    )
    set_gauge: Time = Field(description="Back gauge to a new size, tried on scrap.")
    set_stop: Time = Field(description="Angle stop to a new angle.")
    scribe: Time = Field(description="A cut to marks: two points laid off, the line brought to the blade.")
    pull: Time = Field(description="A length pulled off a coil.")
    sheet: Time = Field(description="A sheet fetched.")
    offcut: Time = Field(description="An offcut found and squared.")
    layout: Time = Field(description="A new cutting layout picked up, read, chalked.")
    stack: Time = Field(description="Each pile that waits half cut beyond six.")
    snip: Time = Field(description="One cut with the snips.")
    bite: Time = Field(description="One bite of the hand seamer.")
    bar_fold: Time = Field(description="One fold in the folding bar.")
    mallet: Time = Field(description="A foot of fold dressed with the mallet.")
    turn_over: Time = Field(description="A piece turned over.")
    quarter_turn: Time = Field(description="A piece turned to another edge.")
    set_bench: Time = Field(description="A tool set to a depth or an angle, once a batch.")
    check_fold: Time = Field(description="A fold checked, once a batch.")
    brake_stroke: Time = Field(description="One bend on the brake. Above 4 ft in proportion to its length.")
    lay: Time = Field(description="A piece laid on the roof.")
    lay_cut: Time = Field(description="A piece laid, scribed and trimmed in place.")
    snap_line: Time = Field(description="A line snapped on the roof.")


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
    labour: Labour = NO_LABOUR
    assumed: tuple[str, ...] = ()  # keys that took a default which depends on the units, e.g. "job > round_to"

    @property
    def show(self) -> Show:
        """Prints sizes of this job."""
        return Show(self.info.units, self.info.round_to)
