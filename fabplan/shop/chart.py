"""Charts of a comparison and of a size sweep, written as SVG."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from fabplan.errors import JobError
from fabplan.job.model import Job
from fabplan.packet.output.folder import write_file
from fabplan.plan.buy import money
from fabplan.plan.handling import show_of
from fabplan.plotter.board.paint import svg
from fabplan.plotter.charts import Series, StockBar, draw_size_curve, draw_stock_bars
from fabplan.plotter.model import Drawing
from fabplan.shop.compare import Compared
from fabplan.shop.sizes import SizeSweep
from fabplan.shop.trade import Traded
from fabplan.speech.labour import time_words
from fabplan.speech.worth import amount
from fabplan.units import MM2_PER_SQ_IN, SQ_IN_PER_SQ_FT


def compare_chart(results: Sequence[Compared], job: Job) -> Drawing:
    """Cost (or metal, where the stock has no prices) of each choice, split into blanks, rack and scrap."""
    show = show_of(job)
    good = [c for c in results if c.good]
    priced = all(c.money is not None for c in good)
    bars = []
    for i, c in enumerate(results):
        if not c.good or c.plan is None:
            bars.append(StockBar(name=c.name, amount=None, says=c.why))
            continue
        scrap, kept = c.plan.scrap_share, c.plan.kept_share
        if priced and c.money is not None:
            amount, text = float(c.money), f"{money(c.money):,.2f} {job.info.currency}".strip()
        else:
            amount, text = c.square_inches, show.area(c.square_inches)
        bars.append(
            StockBar(
                name=c.name,
                amount=amount,
                blanks=max(0.0, 1 - scrap - kept),
                kept=kept,
                scrap=scrap,
                says=f"{text}, scrap {show.percent(scrap)}",
                best=i == 0,
            )
        )
    what = "Cost" if priced else "Metal"
    return draw_stock_bars(bars, title=f"{what} of each stock choice")


def trade_chart(found: Sequence[Traded], job: Job) -> Drawing:
    """Metal and work of each aim, one bar each: more work on the right, least of both drawn heavy."""
    good = [t for t in found if t.plan is not None]
    least = min((t.total for t in good), default=None)
    bars = []
    for t in found:
        if t.plan is None:
            bars.append(StockBar(name=t.aim, amount=None, says=t.why))
            continue
        share = float(t.metal / t.total) if t.total else 1.0
        says = f"{amount(t.total, t.plan, job)}, {time_words(t.seconds)} at the shear"
        bars.append(
            StockBar(name=t.aim, amount=float(t.total), blanks=share, scrap=1 - share, says=says, best=t.total == least)
        )
    parts = ("metal", "", "work at the shear")
    return draw_stock_bars(bars, name="metal-against-work", title="Metal against work", parts=parts)


def size_chart(found: SizeSweep, job: Job) -> Drawing:
    """Metal bought for each square of roof against the finished size, a line a stock; ringed sizes fit the width."""
    show = show_of(job)
    metric = job.info.units == "mm"
    unit = MM2_PER_SQ_IN / 1_000_000 if metric else 1 / SQ_IN_PER_SQ_FT  # so that the axis has round numbers

    asked_angle = [r for r in found.rows if r.top_angle == found.asked.top_angle]
    place = {id(r): k for k, r in enumerate(asked_angle)}
    series = []
    for i, (name, spots) in enumerate(found.sweet):
        marked = tuple(place[id(found.rows[k])] for k in spots if id(found.rows[k]) in place)
        points = tuple((r.side, r.on[i].metal_per_square * float(unit)) for r in asked_angle)
        series.append(Series(name=name, points=points, strong=name == found.asked.best.stock, marked=marked))
    return draw_size_curve(
        series,
        x_name=f"finished side, {job.info.units}",
        y_name=f"{'m²' if metric else 'sq ft'} of metal for 100 sq ft of roof",
        x_text=lambda x: show.bare(float(x)),
        y_text=lambda y: show.number(float(y)),
        title=f"Piece {found.mark}: metal against finished size",
        asked=found.asked.side,
    )


def write_chart(drawing: Drawing, path: Path) -> Path:
    """Write a chart as an SVG file."""
    if path.suffix.lower() != ".svg":
        raise JobError("a chart is written as SVG", key="--chart", value=str(path), write="a name ending in .svg")
    return write_file(path, svg(drawing).encode())
