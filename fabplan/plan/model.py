"""Everything fabplan worked out for one job; the packet and the JSON are printed from this alone."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated

from fabplan.bending.model import BendSchedule, Unbent
from fabplan.blanks.model import FlatPattern
from fabplan.job.metals import MetalProfile
from fabplan.job.model import Job
from fabplan.nesting.model import CutPlan
from fabplan.quantities import Key, Money, Pounds
from fabplan.roof.model import RoofPlan


@dataclass(frozen=True, slots=True, kw_only=True)
class BuyLine:
    """One line of the buying list, in the unit the supplier sells.

    `need` says what the plan takes ("103.4 ft of coil 24"), `pull` what comes from stock on hand, `buy` what to buy;
    `pounds` the weight bought or pulled, `price` money for what is bought or None, `left` what will be left over.
    """

    stock: str
    metal: str
    need: str
    pull: str
    buy: str
    pounds: Annotated[Pounds, Key("weight")]
    price: Money | None = None
    left: str = ""


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
    left_out : tuple of FlatPattern
        Patterns of unbent pieces that are not cut, bought or counted.
    roof : RoofPlan or None
        None when the job has no slopes.
    buy : tuple of BuyLine
    notes : tuple of str
        Warnings for the cover, plain sentences.
    """

    job: Job
    metals: Mapping[str, MetalProfile]
    patterns: tuple[FlatPattern, ...]
    cut_plan: CutPlan | None
    schedules: tuple[BendSchedule, ...]
    unbent: tuple[Unbent, ...] = ()
    left_out: tuple[FlatPattern, ...] = ()
    roof: RoofPlan | None = None
    buy: tuple[BuyLine, ...] = ()
    notes: tuple[str, ...] = ()
    extra: Mapping[str, str] = field(default_factory=dict)

    def pattern(self, mark: str) -> FlatPattern:
        """The pattern with this mark (KeyError if there is none)."""
        for p in (*self.patterns, *self.left_out):
            if p.mark == mark:
                return p
        raise KeyError(mark)
