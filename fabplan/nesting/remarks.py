"""What a cut plan tells the manager beside its figures, as facts: notes on the plan, and other ways of cutting."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from fabplan.quantities import Cost, Nanometres, Seconds, Share, Steps


@dataclass(frozen=True, slots=True, kw_only=True)
class InTheWay:
    """A key of [shear] that alone keeps a blank from being cut; `needs` would do (None for the angle stop)."""

    key: str
    needs: Nanometres | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Uncut:
    """A blank that lies on no stock, or that the shear cannot cut out (`fits`): each of `ways` alone would help."""

    mark: str
    metal: str
    width: Nanometres
    length: Nanometres
    fits: bool
    ways: tuple[InTheWay, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Unpriced:
    """The plan is for the least metal and not for money: these stock lines have no price."""

    kind: Literal["unpriced"] = "unpriced"
    stock: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class OffcutsUsed:
    """How many of the offcuts on hand are used; `free`: they count for nothing in the total."""

    kind: Literal["offcuts_used"] = "offcuts_used"
    used: int
    offered: int
    free: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Credit:
    """What the offcuts that go back on the rack are credited at; the total is before that."""

    kind: Literal["credit"] = "credit"
    amount: Cost


@dataclass(frozen=True, slots=True, kw_only=True)
class Paired:
    """Slanted blanks and how they are nested: `how` head to tail, or each from its own rectangle and why.

    `saved` and its `share` are against cutting each from its own rectangle.
    """

    kind: Literal["paired"] = "paired"
    how: Literal["head_to_tail", "saves_nothing", "not_asked"]
    marks: tuple[str, ...]
    saved: Cost | None = None
    share: Share = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Snipped:
    """Blanks with slanted sides that the angle stop does not reach: they leave the shear as boxes."""

    kind: Literal["snipped"] = "snipped"
    marks: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LooseLeast:
    """The proven least counts only the bare area of the few slanted blanks that share a strip."""

    kind: Literal["loose_least"] = "loose_least"


@dataclass(frozen=True, slots=True, kw_only=True)
class FewerSetups:
    """What fewer set-ups cost in metal: layouts before and after; equal when no plan with fewer was found."""

    kind: Literal["fewer_setups"] = "fewer_setups"
    layouts: int
    before: int
    more: Share


@dataclass(frozen=True, slots=True, kw_only=True)
class TooWide:
    """A blank a little too wide to come once more across a stock; at `fits` it would."""

    kind: Literal["too_wide"] = "too_wide"
    mark: str
    over: Steps
    across: int
    stock: str
    fits: Steps


@dataclass(frozen=True, slots=True, kw_only=True)
class NearlyAlike:
    """Two blanks whose widths differ by a hair: one width would share a strip and a setting."""

    kind: Literal["nearly_alike"] = "nearly_alike"
    mark: str
    other: str
    differ: Steps


@dataclass(frozen=True, slots=True, kw_only=True)
class LeastMetal:
    """What counting work changed: the plan found with the least metal, by how much less, and its time at the shear.

    `more` is that of the least metal less that of this plan, in seconds; both are 0 where no plan with less metal was
    found.
    """

    kind: Literal["least_metal"] = "least_metal"
    saves: Cost
    more: Seconds


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenStacks:
    """One panel alone leaves more stacks open than the job asks for."""

    kind: Literal["open_stacks"] = "open_stacks"
    most: int
    asked: int


Note = (
    Unpriced
    | OffcutsUsed
    | Credit
    | Snipped
    | Paired
    | LooseLeast
    | FewerSetups
    | LeastMetal
    | TooWide
    | NearlyAlike
    | OpenStacks
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """How another way of cutting came out on one metal.

    `packings` were tried, the best in this `order`; or it gave no plan: the shear cannot make its cuts, the stock
    does not take all, or no strip holds the blank `mark`.
    """

    what: Literal["packed", "one_size", "not_cuttable", "left_over", "no_strip", "not_tried"]
    packings: int = 0
    order: Literal["area", "length", "width"] | None = None
    mark: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rival:
    """Another way of cutting the same job, for the page: its cost, or none, and how it came out."""

    way: Literal["packer", "one_size"]
    total: Cost | None
    outcomes: tuple[Outcome, ...]
