"""What the cutting engine is asked, and what it answers.

All lengths are integers on one grid; x runs across the stock's width, y along its length. One problem holds one
metal: the caller splits a job by metal first. The cutting class is

* coil: a panel is cut off across the width (at most `longest panel` long), ripped into strips, each strip cut to
  length, and a piece narrower than its strip trimmed;
* sheet or offcut: the same with panels cut off along its length ("length"), or along its width ("width"); without
  `sheet_as_coil` the whole sheet is one panel;
* three stages: a strip is cut to sections, and a section may hold several pieces side by side across the strip,
  each trimmed to length.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal

Key = str | int
Axis = Literal["x", "y"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """A rectangular blank: `width` across the stock, `length` along it; turning swaps the two.

    One that may not turn follows the rolling direction (it is laid turned on stock rolled across), or with
    `keeps_frame` lies along the stock's length whatever its rolling direction.
    """

    key: Key
    width: int
    length: int
    count: int
    may_turn: bool = True
    keeps_frame: bool = False

    def ways(self, grain_across: bool) -> tuple[bool, ...]:
        """Allowed values of "turned" on stock rolled along its length or across it."""
        if self.may_turn:
            return (False,) if self.width == self.length else (False, True)
        return (grain_across and not self.keeps_frame,)

    def __post_init__(self) -> None:
        if self.width <= 0 or self.length <= 0 or self.count < 0:
            raise ValueError(f"item {self.key!r}: sides must be positive and the count not negative")


@dataclass(frozen=True, slots=True, kw_only=True)
class StockSize:
    """A coil, or a sheet size (an offcut is a sheet with `available=1`).

    `length` is the sheet's length, or the longest panel cut off a coil. `available` is grid units of coil, or a
    count of sheets; None = as much as needed. `cost` is per grid unit of coil length, or per sheet. `trim` is taken
    off each edge before anything is cut (a coil has two edges, a sheet four). With `grain_across` the rolling
    direction runs across the width: pieces that follow it are placed turned.
    """

    key: Key
    form: Literal["coil", "sheet"]
    width: int
    length: int
    cost: Fraction
    available: int | None = None
    trim: int = 0
    grain_across: bool = False

    def __post_init__(self) -> None:
        if self.width <= 0 or self.length <= 0 or self.trim < 0:
            raise ValueError(f"stock {self.key!r}: sides must be positive and the trim not negative")
        if self.cost < 0 or (self.available is not None and self.available < 0):
            raise ValueError(f"stock {self.key!r}: cost and amount available may not be negative")


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What the shear and the shop allow.

    Every cut is at most `longest_cut` long. A cut splits a part in two: one goes behind the blade, at most
    `back_gauge` deep; the other is held in front, at least `least_held` wide. Scrap may be cut away in slices. A coil
    cut-off to a mark is not limited by the back gauge. A sheet cut in "length" has its panels cut off along its
    length; `both_directions` allows the other way too, `across_only` nothing else.
    """

    longest_cut: int | None = None
    back_gauge: int | None = None
    coil_cut_off_to_mark: bool = True
    least_held: int = 0
    stages: Literal[2, 3] = 2
    kerf: int = 0
    both_directions: bool = True
    across_only: bool = False
    sheet_as_coil: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class OffcutCredit:
    """Credit per square grid unit for a leftover rectangle with both sides at least `short_side` x `long_side`."""

    short_side: int
    long_side: int
    per_area: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """Blanks, stock of one metal, and the limits."""

    items: tuple[Item, ...]
    stock: tuple[StockSize, ...]
    limits: Limits = field(default_factory=Limits)

    def __post_init__(self) -> None:
        for kind, keys in (("item", [i.key for i in self.items]), ("stock", [s.key for s in self.stock])):
            if len(set(keys)) != len(keys):
                raise ValueError(f"{kind} keys must differ")


@dataclass(frozen=True, slots=True, kw_only=True)
class Options:
    """How hard to look. The work depends on `effort` and `seed` only; `seconds` merely cuts it short.

    `margin`: stop when the plan is within this share of the bound. `fewer_setups`: share of metal that may be spent
    on fewer different patterns. `progress(cost, bound, gap)` is called on every improvement; `should_stop()` is asked
    often and ends the search with the best plan so far. `bound_only`: no plan is looked for, only the proven least.
    `least` is known of every plan already: a search within a search, which takes a `share` of the work for its bound.
    """

    effort: float = 1.0
    seed: int = 0
    seconds: float | None = None
    margin: Fraction = Fraction(0)
    fewer_setups: Fraction = Fraction(0)
    credit: OffcutCredit | None = None
    progress: Callable[[Fraction | None, Fraction, float | None], None] | None = None
    should_stop: Callable[[], bool] | None = None
    bound_only: bool = False
    least: Fraction = Fraction(0)
    share: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Node:
    """A rectangle of metal in the stock's frame, and how it is divided.

    With `axis` "y" the node is divided by cuts straight across (parallel to x) and its parts follow each other
    along y; with "x" by cuts along the length. Parts are in order from the lower left, a kerf apart; what is left at
    the far end is scrap. A part narrower than its node across the cut direction is trimmed by a further node. A leaf
    is a piece (`piece` set) filling its rectangle.
    """

    x: int
    y: int
    width: int
    length: int
    axis: Axis | None = None
    parts: tuple[Node, ...] = ()
    piece: Key | None = None
    turned: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Pattern:
    """One cutting pattern, used `repeat` times.

    `root` is the whole stock used: the panel cut off a coil (full width, `length` long) or the whole sheet; edge
    trim already sets its parts in from the edges. `direction` tells which way panels are cut off.
    """

    stock: Key
    length: int
    direction: Literal["length", "width"]
    root: Node
    repeat: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Trace:
    """Best cost and bound after so many units of work."""

    work: int
    cost: Fraction | None
    bound: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class Solution:
    """The plan, its cost, and a lower bound on the cost of every plan of the allowed class.

    `credit` is what the kept offcuts count for; the search makes `cost - credit` small, the bound is on `cost`.
    """

    patterns: tuple[Pattern, ...]
    cost: Fraction
    bound: Fraction
    status: Literal["short", "proven", "within_margin", "not_proven"]
    credit: Fraction = Fraction(0)
    short: tuple[tuple[Key, int], ...] = ()
    stopped_early: bool = False
    work: int = 0
    history: tuple[Trace, ...] = ()


def leaves(node: Node) -> list[Node]:
    """The pieces of a tree, lower left first within each part."""
    if node.piece is not None:
        return [node]
    return [leaf for part in node.parts for leaf in leaves(part)]
