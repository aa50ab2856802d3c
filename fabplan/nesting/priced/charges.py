"""What the work of cutting costs, in the money or metal the plan is counted in.

Per repeat of a layout: the pull or the sheet, its strokes, what is scribed. Once: the layout itself and every setting
of back gauge and angle stop, shared over the shear program.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from fabplan.nesting.problem import Group, StockLine

Setting = tuple[int, float]  # back gauge, angle
TICKS = 100  # a second
LAYOUT_MORE = 300  # per cent of a layout's time more, for the piles of its half-cut pieces and what it holds up
GAUGE_MORE = 220  # per cent of a setting's time: it is set again where the order of cuts comes back to it
TIE = 300  # hours for the cheapest pull or sheet: what an hour weighs where work costs nothing, to choose among equals


@dataclass(frozen=True, slots=True, kw_only=True)
class Charges:
    """Times of one stroke, scribing, and so on in ticks, and what a tick costs.

    `gauge`, `scribe_from`: least trims gauged and scribed, in graduations; `held`: least leftover that is held.
    """

    tick: Fraction
    stroke: int
    scribe: int
    pull: int
    sheet: int
    offcut: int
    layout: int
    set_gauge: int
    set_stop: int
    gauge: int
    scribe_from: int
    held: int

    @classmethod
    def of(cls, group: Group) -> Charges:
        """Read from a group's times and limits."""
        t, limits = group.labour, group.limits

        def ticks(seconds: float) -> int:
            return round(seconds * TICKS)

        return cls(
            tick=(group.second or _between_equals(group)) / TICKS,
            stroke=ticks(t.stroke),
            scribe=ticks(t.scribe),
            pull=ticks(t.pull),
            sheet=ticks(t.sheet),
            offcut=ticks(t.offcut),
            layout=ticks(t.layout),
            set_gauge=ticks(t.set_gauge),
            set_stop=ticks(t.set_stop),
            gauge=max(1, limits.least_gauge),
            scribe_from=max(1, limits.least_scribed),
            held=limits.least_held,
        )

    def prudent(self) -> Charges:
        """With what set-ups really take: settings come back in the program, piles wait, and a page is another page."""
        return replace(
            self, layout=self.layout + LAYOUT_MORE * self.layout // 100, set_gauge=self.set_gauge * GAUGE_MORE // 100
        )

    def money(self, ticks: int) -> Fraction:
        """What so many ticks cost."""
        return self.tick * ticks

    def start(self, line: StockLine) -> int:
        """Of one pull, sheet or offcut before its first stroke; a pull's own stroke is one of the strokes."""
        return {"coil": self.pull, "sheet": self.sheet - self.stroke, "offcut": self.offcut - self.stroke}[line.form]

    def waste(self, size: int) -> int | None:
        """Of parting a leftover of this width from what is wanted; None where no cut does."""
        if size == 0:
            return 0
        if size >= self.gauge:
            return self.stroke
        return self.stroke + self.scribe if size >= self.scribe_from else None


def _between_equals(group: Group) -> Fraction:
    """What a second weighs where it costs nothing: so little that it only chooses among plans of equal metal."""
    least = min((line.cost for line in group.stock if line.cost), default=0)
    return Fraction(least) / (TIE * 3600)
