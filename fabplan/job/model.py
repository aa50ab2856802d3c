"""The job as fabplan understands it: what a validated job file (and shop file) says.

Every length is exact, in nanometres (`fabplan.units.Nm`). Angles are degrees. The models are frozen;
past this room nothing is re-checked. Reading and wording of faults: `fabplan.job.load`.

A field's `description` is its entry in ``docs/job-file.md``.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Annotated, Literal

from pydantic import Field

from fabplan.job.files import Renamed
from fabplan.job.kinds import PIECE_MODELS, Piece
from fabplan.job.kinds.base import MOST_PIECES, Grain, HemSpec, Model, PieceBase, Toward, Truth, Word
from fabplan.job.kinds.diamond import DiamondPiece
from fabplan.job.kinds.flat_seam import FlatSeamPiece
from fabplan.job.kinds.outline import EdgeFold, OutlinePiece
from fabplan.job.kinds.part import CutPiece
from fabplan.job.kinds.rectangle import RectanglePiece
from fabplan.job.kinds.section import SectionPiece
from fabplan.job.metals import Finish
from fabplan.job.slopes import Roof, Slope
from fabplan.job.values import (
    Allowance,
    Days,
    HourRateRule,
    Label,
    MetalName,
    Note,
    OnHandRule,
    PieceLength,
    Pounds,
    PriceRule,
    ScrapPriceRule,
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
)
from fabplan.labour import NO_LABOUR, Labour
from fabplan.units import Nm, Show

__all__ = [
    "MOST_PIECES",
    "PIECE_MODELS",
    "Brake",
    "CutPiece",
    "DiamondPiece",
    "Done",
    "EdgeFold",
    "FlatSeamPiece",
    "Grain",
    "Handling",
    "HemSpec",
    "HemTool",
    "Job",
    "JobInfo",
    "Laid",
    "MeasuredAllowance",
    "MetalUse",
    "Model",
    "NestOptions",
    "OutlinePiece",
    "Piece",
    "PieceBase",
    "RectanglePiece",
    "SectionPiece",
    "Shear",
    "Spread",
    "Stock",
    "Toward",
    "Truth",
    "Word",
]


class JobInfo(Model):
    """``[job]``: name, units and shop-wide rules of the job."""

    name: Label = Field(description="Name of the job, printed on every page.")
    number: Label = Field(description="Job number; the packet folder is named by it.")
    units: Annotated[Literal["in", "mm"], Word] = Field(default="in", description="Unit of bare numbers and of print.")
    round_to: PieceLength = Field(description="The shop's smallest graduation; computed blanks are rounded to it once.")
    spare: SpareRule = Field(default=Spare(), description="Extra pieces of every mark: a share, or a number of pieces.")
    batch: Annotated[int, whole_within(1, 10_000)] = Field(default=25, description="Pieces in one tick-box batch.")
    keep_at_least: Size | None = Field(default=None, description="Offcuts this big or bigger are kept.")
    scrap_price: ScrapPriceRule | None = Field(
        default=None, description="What the scrap dealer pays, per lb or kg: taken off on the quote."
    )
    revision: Note = Field(default="", description="Printed on the cover when given.")
    date: Note = Field(default="", description="Printed only when given.")
    currency: Note = Field(default="", description="Name or sign of the money prices are in.")
    paper: Annotated[Literal["letter", "a4"], Word] = Field(default="letter", description="Paper of the packet.")


class MetalUse(Model):
    """``[metal]``: the profile every piece and stock line uses unless it names its own."""

    use: MetalName = Field(description="A shipped metal profile by name, or a profile file (.toml) by relative path.")
    finish: Annotated[Finish, Word] | None = Field(
        default=None, description="Finish of this metal's face: bare, coated or pre-patinated."
    )


class Stock(Model):
    """``[[stock]]``: a coil, a sheet size, or one offcut."""

    name: Label = Field(description="Name of the stock line; no two alike.")
    form: Annotated[Literal["coil", "sheet", "offcut"], Word] = Field(description="coil, sheet or offcut.")
    width: StockLength = Field(description="Width as bought.")
    length: StockLength | None = Field(default=None, description="Length of a sheet or offcut.")
    longest_cut_off: StockLength | None = Field(default=None, description="Longest length cut off a coil.")
    trim_each_edge: Allowance = Field(default=Nm(0), description="Trimmed off each long edge before use.")
    on_hand: OnHandRule | None = Field(default=None, description="How much there is.")
    buy: Truth = Field(default=False, description="Whether more is bought when what is on hand runs out.")
    price: PriceRule | None = Field(default=None, description="Price per lb, kg, foot, meter, sheet or piece.")
    coil_min: StockLength | None = Field(default=None, description="Least length of coil the supplier sells.")
    coil_step: StockLength | None = Field(default=None, description="Steps in which more of it is sold.")
    sheets_per_pack: Annotated[int, whole_within(1, 10_000)] | None = Field(
        default=None, description="Sheets of a pack, when sold by the pack."
    )
    lead_time: Days | None = Field(default=None, description="How long ahead it is ordered.")
    metal: MetalName | None = Field(default=None, description="Metal of this stock, when not the job's.")
    grain: Annotated[Literal["along", "across"], Word] = Field(
        default="along", description="Rolling direction: along or across the length."
    )


class RackStock(Stock):
    """A stock line of metal alike from the rack; `pieces` are its identities, the first taken first. Never in a file.

    Of several coils, `coils` are the lot number of each and the nanometres free on it.
    """

    pieces: tuple[str, ...] = ()
    coils: tuple[tuple[int, int], ...] = ()


class Shear(Model):
    """``[shear]``: what the shop's shear can cut."""

    longest_cut: PieceLength = Field(description="Longest cut the blade makes.")
    back_gauge_reach: PieceLength = Field(description="Farthest setting of the back gauge.")
    coil_cut_off: Annotated[Literal["scribed", "gauge"], Word] = Field(
        default="scribed", description="A cut-off to a scribed line is not limited by the reach."
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
    cutting: Annotated[Literal["strips", "stacked-strips"], Word] = Field(
        default="strips", description="Two stages of cuts, or three."
    )
    kerf: Allowance = Field(default=Nm(0), description="Metal lost in a cut: only for a saw.")


class NestOptions(Model):
    """``[nest]``: how the cut plan is searched. All optional."""

    search_effort: Annotated[float, real_within(0, 100)] = Field(
        default=1.0, description="How hard to look; 0 is quickest."
    )
    try_again: Annotated[int, whole_within(0, 4_294_967_295)] = Field(
        default=0, description="Another number tries other plans."
    )
    good_enough: Share = Field(description="A plan this close above the bound is good enough.")
    fewer_setups: Share = Field(description="Extra metal allowed for fewer shear settings.")
    open_stacks: Annotated[int, whole_within(1, 1_000)] | None = Field(
        default=None, description="Most marks lying half cut at a time."
    )
    prefer_on_hand: Share = Field(
        default=Fraction(0),
        description="How much below its price metal on hand counts: it is taken unless buying is cheaper by more.",
    )
    offcut_credit: Share = Field(description="Share of the metal's price credited to kept offcuts.")
    pair: Truth = Field(default=True, description="Pair blanks that fit together head to foot.")


class MeasuredAllowance(Model):
    """An allowance measured from the shop's own test strips; used instead of the computed one."""

    metal: MetalName = Field(description="Metal profile it was measured on.")
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
    apron_bar_off: Allowance = Field(
        description="Width of the leaf's edge with its bar taken off for a stroke; 0 when the bar stays on."
    )
    apron_hang: PieceLength = Field(description="How far the leaf hangs below the bed.")
    bed_depth: PieceLength = Field(
        description="How far the bed runs back from the bending edge; metal behind it may hang down."
    )
    beam_depth: PieceLength = Field(
        description="How far the clamping beam runs back from the bending edge; metal behind it may stand up."
    )
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


class Done(Model):
    """``[done]``: what is cut or made already when the rest of a job is planned; `fabplan rest` writes it."""

    pieces: dict[str, Annotated[int, whole_within(0, MOST_PIECES)]] = Field(
        default={}, description="Good blanks and pieces that are there, by mark: so many fewer are cut."
    )
    unfolded: dict[str, Annotated[int, whole_within(0, MOST_PIECES)]] = Field(
        default={}, description="Of them those that are cut and not yet folded, by mark: told, with their sheets."
    )
    part_blanks: Truth | None = Field(
        default=None, description="Whether cut shapes come from part blanks: as the first plan had it."
    )
    layouts: Annotated[int, whole_within(0, 100_000)] = Field(
        default=0, description="Cutting layouts printed so far: their numbers go on from here."
    )
    sheets: Annotated[int, whole_within(0, 100_000)] = Field(
        default=0, description="Sheets of paper printed so far: the numbers go on from here."
    )
    offcuts: Annotated[int, whole_within(0, 100_000)] = Field(
        default=0, description="Offcuts kept and numbered so far (K1, K2): the numbers go on from here."
    )


class Laid(Model):
    """``[[laid]]``: courses of a slope that lie on the roof: its lines stay where they are, however it is measured."""

    slope: Label = Field(description="The slope, as the pages name it.")
    courses: Annotated[int, whole_within(0, 10_000)] = Field(
        description="The course it is laid up to; 0 is the starters."
    )
    centre: Annotated[Literal["point", "joint"], Word] = Field(description="What stands on its centre line.")
    from_left: SignedLength = Field(description="The centre line, along the eave from its left corner.")
    base: SignedLength = Field(description="The base line, up the slope from the eave's left corner.")
    course: PieceLength = Field(description="Height of a course as laid.")


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
    done: Done = Done()
    laid: tuple[Laid, ...] = ()
    assumed: tuple[str, ...] = ()  # keys that took a default which depends on the units, e.g. "job > round_to"
    renamed: tuple[Renamed, ...] = ()  # old names the files still have

    @property
    def show(self) -> Show:
        """Prints sizes of this job."""
        return Show(self.info.units, self.info.round_to)

    def held(self, slope: str) -> Laid | None:
        """What is laid on a slope, by its name on the pages."""
        return next((h for h in self.laid if h.slope == slope), None)
