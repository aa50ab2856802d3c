"""The times of the work: how long a stroke, a setting, a fold takes in this shop, and what an hour is worth.

A ground floor that cutting, folding and the roof read. The times a shop does not write are from memory, common
practice without a source; whatever is printed from them names them as assumed.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, Literal

from fabplan.quantities import Seconds
from fabplan.units import NM_PER_FOOT, NM_PER_INCH

Station = Literal["shear", "bench", "brake", "roof"]

STATIONS: Final[dict[Station, tuple[str, ...]]] = {
    "shear": ("stroke", "set_gauge", "set_stop", "scribe", "pull", "sheet", "offcut", "layout", "stack"),
    "bench": (
        "snip", "bite", "bar_fold", "mallet", "turn_over", "quarter_turn", "set_bench", "check_fold",
    ),
    "brake": ("brake_stroke",),
    "roof": ("lay", "lay_cut", "snap_line"),
}  # fmt: skip
"""Where the time of each key is spent."""

LIGHT_POUNDS: Final = 10.0
"""A shear stroke takes `Labour.stroke` up to this weight on the table, heavier metal in proportion to its weight."""
SHORT_BEND_NM: Final = 4 * NM_PER_FOOT
"""A brake stroke takes `Labour.brake_stroke` up to this length, a longer one in proportion to its length."""
FREE_STACKS: Final = 6
"""Piles that may wait half cut before `Labour.stack` counts for each more."""
KNOWN_CURRENCIES: Final = frozenset(("USD", "$", "EUR", "€", "GBP", "£", "CAD", "AUD", "CHF"))
"""Moneys in which an hour has a default worth, `KNOWN_RATE`."""
KNOWN_RATE: Final = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Labour:
    """Times of one shop, seconds each, and what an hour of it weighs against metal.

    Defaults are from memory: common practice, no source.

    Attributes
    ----------
    rate : float or None
        Money an hour; 0 counts no labour. None when an hour is counted in metal.
    rate_pounds : float or None
        Pounds of metal an hour weighs, where the shop says so; None with `rate` None: the metal profile's own number.
    stroke : float
        One cut at the shear: place, hold, step, take away (see `LIGHT_POUNDS`).
    set_gauge, set_stop : float
        Back gauge to a new size; angle stop to a new angle.
    scribe : float
        Two points laid off and the line brought to the blade, beside the stroke.
    pull, sheet, offcut : float
        A length pulled off a coil and parted; a sheet fetched; an offcut found and squared.
    layout : float
        A new cutting layout picked up, read and chalked.
    stack : float
        Each pile that waits half cut beyond `FREE_STACKS`.
    snip, bite, bar_fold, turn_over, quarter_turn : float
        At the bench, each.
    mallet : float
        A foot of fold dressed with the mallet.
    set_bench, check_fold : float
        A depth or an angle, once a batch; a fold checked, once a batch.
    brake_stroke : float
        One bend on the leaf brake (see `SHORT_BEND_NM`).
    lay, lay_cut, snap_line : float
        On the roof: a piece, a piece scribed and trimmed in place, a line.
    assumed : tuple of str
        Keys nobody wrote, in the order of this class; ``rate`` among them.
    """

    rate: float | None = None
    rate_pounds: float | None = None
    stroke: float = 10.0
    set_gauge: float = 45.0
    set_stop: float = 60.0
    scribe: float = 75.0
    pull: float = 40.0
    sheet: float = 60.0
    offcut: float = 90.0
    layout: float = 180.0
    stack: float = 20.0
    snip: float = 15.0
    bite: float = 6.0
    bar_fold: float = 10.0
    mallet: float = 30.0
    turn_over: float = 4.0
    quarter_turn: float = 3.0
    set_bench: float = 60.0
    check_fold: float = 10.0
    brake_stroke: float = 12.0
    lay: float = 120.0
    lay_cut: float = 300.0
    snap_line: float = 120.0
    assumed: tuple[str, ...] = ()

    @property
    def free(self) -> bool:
        """Whether time costs nothing: the least metal is wanted."""
        return self.rate == 0 or (self.rate is None and self.rate_pounds == 0)

    def one_stroke(self, pounds: float) -> float:
        """Seconds of one shear stroke on a piece of this weight."""
        return self.stroke * max(1.0, pounds / LIGHT_POUNDS)

    def one_bend(self, inches: float) -> float:
        """Seconds of one stroke of the brake on a bend of this length."""
        return self.brake_stroke * max(1.0, inches * NM_PER_INCH / SHORT_BEND_NM)


NO_LABOUR: Final = Labour(rate=0.0)
"""Time costs nothing: of a job that is not read from a file."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spent:
    """Time one kind of work takes: `what` is its key under [labour], done `times` times, `seconds` all together."""

    what: str
    times: int
    seconds: Seconds


TIME_KEYS: Final[tuple[str, ...]] = tuple(key for keys in STATIONS.values() for key in keys)
"""Every key that is a time, station by station."""


def default_rate(currency: str) -> float | None:
    """Money an hour is worth where the shop does not say: `KNOWN_RATE` in a money of `KNOWN_CURRENCIES`, else None."""
    return KNOWN_RATE if currency.strip().upper() in KNOWN_CURRENCIES else None


def span(seconds: float) -> str:
    """A time as people write it: ``40 s``, ``1.5 min``, ``2.3 h``."""
    if seconds < 120:
        return f"{seconds:.4g} s"
    if seconds < 3600:
        return f"{seconds / 60:.3g} min"
    return f"{seconds / 3600:,.1f} h"


def spans(labour: Labour, keys: Iterable[str]) -> str:
    """Times in a line: ``stroke 10 s, set_gauge 45 s``."""
    return ", ".join(f"{key} {span(getattr(labour, key))}" for key in keys if key in TIME_KEYS)
