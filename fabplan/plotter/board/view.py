"""Where a layout lies on the paper."""

from __future__ import annotations

from dataclasses import dataclass

from fabplan.plotter.model import Point


@dataclass(frozen=True, slots=True)
class PaperView:
    """From graduations of the layout to mm on the paper: turned a quarter when the stock is longer than wide."""

    scale: float
    left: float
    bottom: float
    turned: bool
    width: float  # of the stock on paper, mm
    height: float

    def point(self, p: Point) -> Point:
        if self.turned:
            return self.left + p[1] * self.scale, self.bottom + self.height - p[0] * self.scale
        return self.left + p[0] * self.scale, self.bottom + p[1] * self.scale

    def direction(self, d: Point) -> Point:
        return (d[1], -d[0]) if self.turned else d

    @property
    def right(self) -> float:
        return self.left + self.width

    @property
    def top(self) -> float:
        return self.bottom + self.height

    def rectangle(self, x: float, y: float, w: float, h: float) -> tuple[Point, ...]:
        return tuple(self.point(p) for p in ((x, y), (x + w, y), (x + w, y + h), (x, y + h)))
