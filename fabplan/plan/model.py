"""Everything fabplan worked out for one job; the packet and the JSON are printed from this alone."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Literal

from fabplan.bending.model import BendSchedule, Round, Unbent
from fabplan.blanks.model import FlatPattern
from fabplan.job.metals import MetalProfile
from fabplan.job.model import Job
from fabplan.labour import Spent
from fabplan.nesting.model import CutPlan
from fabplan.nesting.remarks import Uncut
from fabplan.quantities import Cost, Fields, Key, Money, Nanometres, Pounds, Seconds, stated
from fabplan.roof.model import RoofPlan


@dataclass(frozen=True, slots=True, kw_only=True)
class Amount:
    """So much of a line of stock: a length of coil, or a count of sheets or offcuts; and what it weighs."""

    length: Nanometres | None = None
    count: int | None = None
    pounds: Annotated[Pounds, Key("weight")]


@dataclass(frozen=True, slots=True, kw_only=True)
class CoilPull:
    """What comes off one of several coils alike: its number and identity in the rack's file, the length, and of which
    layouts it is how many."""

    lot: int
    piece: str
    length: Nanometres
    layouts: tuple[Annotated[tuple[int, int], Fields(("layout", "times"))], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BuyLine:
    """One line of the buying list.

    Attributes
    ----------
    stock, metal : str
    form : {"coil", "sheet", "offcut"}
    need, pull, buy : Amount
        What the plan takes; what of it comes from stock on hand; what is to be bought.
    left : Amount or None
        What stays on hand, where that is known and is anything.
    price : Decimal or None
        Money for what is bought; None when nothing is, or it has no price.
    order : Amount or None
        What the supplier sells that holds what is to be bought, where that is more.
    order_price : Decimal or None
        Money for the order.
    lead_days : int or None
        Days ahead it is ordered, where anything is.
    coils : tuple of CoilPull
        What is pulled, coil by coil, where several alike are there.
    """

    stock: str
    metal: str
    form: Literal["coil", "sheet", "offcut"]
    need: Amount
    pull: Amount
    buy: Amount
    left: Amount | None = None
    price: Money | None = None
    order: Amount | None = None
    order_price: Money | None = None
    lead_days: int | None = None
    coils: tuple[CoilPull, ...] = ()

    @property
    def to_pay(self) -> Money | None:
        """Money for the order, or for what is bought when the supplier sells just that."""
        return self.price if self.order is None else self.order_price


@dataclass(frozen=True, slots=True, kw_only=True)
class Lift:
    """One thing to lift.

    Attributes
    ----------
    kind : {"sheet", "panel", "bundle", "kit"}
    of : str
        Name of the stock, mark of the blanks, label of the kit.
    count : int
        Blanks of a bundle; else 1.
    size : (int, int) or None
        Width and length of a sheet or panel, nanometres.
    pounds : float
        Of all of it.
    limit : float or None
        Pounds it is held against.
    """

    kind: Literal["sheet", "panel", "bundle", "kit"]
    of: str
    count: int = 1
    size: Annotated[tuple[Nanometres, Nanometres], Fields(("width", "length"))] | None = None
    pounds: Annotated[Pounds, Key("weight")]
    limit: Pounds | None

    @stated
    def over(self) -> bool:
        """Heavier than the limit."""
        return self.limit is not None and self.pounds > self.limit + 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class StationTime:
    """Work of the whole job at one station, by what it is; `seconds` all together."""

    station: Literal["shear", "bench", "brake", "roof"]
    spent: tuple[Spent, ...]

    @stated
    def seconds(self) -> Seconds:
        """Seconds of all the work."""
        return round(sum(s.seconds for s in self.spent), 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class StockLot:
    """What the rack's file said was free of one of the job's stock lines: a length of coil, or a count of sheets, and
    the identities of the lots it lies in, the first taken first; of several coils, the number of each and what is free
    on it."""

    stock: str
    length: Nanometres | None = None
    count: int | None = None
    lots: tuple[str, ...] = ()
    coils: tuple[Annotated[tuple[int, Nanometres], Fields(("lot", "free"))], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class JobShare:
    """What one job takes of a shear run cut for several; `metal` and `labour` cost as the run's cut plan does, exact.

    `layouts` are the numbers of those that hold its blanks.
    """

    number: str
    blanks: int
    layouts: tuple[int, ...]
    metal: Cost
    labour: Cost
    seconds: Seconds
    pounds: Annotated[Pounds, Key("weight")]


@dataclass(frozen=True, slots=True, kw_only=True)
class CutElsewhere:
    """The shear run that cuts a job's blanks, and what the job pays of it; prices are None where the run has none."""

    run: str
    layouts: tuple[int, ...]
    metal: Money | None
    labour: Money | None
    seconds: Seconds
    pounds: Annotated[Pounds, Key("weight")]


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """All results of one job, each already re-proved by its checker.

    Attributes
    ----------
    job : Job
    metals : mapping of profile name to MetalProfile
    patterns : tuple of FlatPattern
        One a piece mark, in the job's order: what is cut, bought and counted.
    cut_plan : CutPlan or None
        None when there is no stock in the job.
    schedules : tuple of BendSchedule
        One for each pattern that has folds and can be folded, same order.
    unbent : tuple of Unbent
        Pieces that cannot be folded with the tools at hand.
    uncut : tuple of Uncut
        Blanks that lie on no stock, or that the shear cannot cut out.
    left_out : tuple of FlatPattern
        Patterns of unbent and uncut pieces that are not cut, bought or counted.
    roof : RoofPlan or None
        None when the job has no slopes.
    buy : tuple of BuyLine
    lacking : tuple of BuyLine
        What to buy for everything, where the stock is short.
    lifts : tuple of Lift
    hours : tuple of StationTime
        Time at each station.
    shares : tuple of JobShare
        Of a shear run for several jobs, what each takes.
    cut_in : CutElsewhere or None
        The run that cuts this job's blanks.
    setups : tuple of Round
        Strokes of the whole job by tool and setting, a batch of every piece a round.
    """

    job: Job
    metals: Mapping[str, MetalProfile]
    patterns: tuple[FlatPattern, ...]
    cut_plan: CutPlan | None
    schedules: tuple[BendSchedule, ...]
    unbent: tuple[Unbent, ...] = ()
    uncut: tuple[Uncut, ...] = ()
    left_out: tuple[FlatPattern, ...] = ()
    roof: RoofPlan | None = None
    buy: tuple[BuyLine, ...] = ()
    lacking: tuple[BuyLine, ...] = ()
    lifts: tuple[Lift, ...] = ()
    hours: tuple[StationTime, ...] = ()
    shares: tuple[JobShare, ...] = ()
    cut_in: CutElsewhere | None = None
    setups: tuple[Round, ...] = ()

    def pattern(self, mark: str) -> FlatPattern:
        """The pattern with this mark (KeyError if there is none)."""
        for p in (*self.patterns, *self.left_out):
            if p.mark == mark:
                return p
        raise KeyError(mark)
