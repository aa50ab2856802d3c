"""Comparisons and sweeps as table rows and as data."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from fabplan.job.model import Job
from fabplan.plan.buy import money
from fabplan.plan.file import head, parts_json
from fabplan.plan.forms import tidy
from fabplan.plan.handling import show_of
from fabplan.shop.compare import Compared
from fabplan.shop.decide import Best, turns
from fabplan.shop.nested_sizes import NestedSize
from fabplan.shop.sizes import SQUARE, SizeRow, SizeSweep
from fabplan.shop.trade import Traded
from fabplan.speech.labour import time_words
from fabplan.speech.status import STATUS
from fabplan.speech.worth import amount
from fabplan.units import area_number, number, weight_number

COMPARE_COLUMNS = (
    "stock",
    "metal",
    "weight",
    "scrap",
    "price",
    "at the shear",
    "settings",
    "above proven least",
    "why",
)
COMPARE_RIGHT = (1, 2, 3, 4, 5, 6, 7)


def compare_rows(results: Sequence[Compared], job: Job) -> list[tuple[str, ...]]:
    """A row a choice, cheapest first."""
    show = show_of(job)
    rows: list[tuple[str, ...]] = []
    for c in results:
        if not c.good or c.plan is None:
            rows.append((c.name, "-", "-", "-", "-", "-", "-", "-", c.why))
            continue
        above = c.plan.above_bound
        price = "" if c.money is None else f"{money(c.money):,.2f} {job.info.currency}".strip()
        rows.append(
            (
                c.name,
                show.area(c.square_inches),
                show.weight(c.pounds),
                show.percent(c.scrap_share),
                price,
                time_words(c.seconds),
                str(c.settings),
                "" if above is None else show.percent(above, 2),
                c.why,
            )
        )
    return rows


TRADE_COLUMNS = ("aim", "metal", "at the shear", "settings", "metal and work", "")
TRADE_RIGHT = (1, 2, 3, 4)


def trade_rows(found: Sequence[Traded], job: Job) -> list[tuple[str, ...]]:
    """A row an aim: metal, hours, settings and both sums, at the shop's own times and rate."""
    rows: list[tuple[str, ...]] = []
    for t in found:
        if t.plan is None:
            rows.append((t.aim, "-", "-", "-", "-", t.why))
            continue
        metal, both = (amount(value, t.plan, job) for value in (t.metal, t.total))
        rows.append((t.aim, metal, time_words(t.seconds), str(t.settings), both, ""))
    return rows


def trade_json(found: Sequence[Traded], job: Job) -> list[dict[str, Any]]:
    """The trade as data; costs in money, or null where stock has no prices."""
    out = []
    for t in found:
        priced = t.plan is not None and t.plan.objective == "money"
        out.append(
            {
                "aim": t.aim,
                "planned": t.plan is not None,
                "metal": float(money(t.metal)) if priced else None,
                "weight": weight_number(t.pounds, job.info.units),
                "seconds": t.seconds,
                "settings": t.settings,
                "total": float(money(t.total)) if priced else None,
                "why": t.why,
            }
        )
    return out


def compare_json(
    results: Sequence[Compared], job: Job, traded: Sequence[Traded] = (), best: Sequence[Best] = ()
) -> dict[str, Any]:
    """The comparison as data, in the job's units."""
    units = job.info.units
    return {
        **head(job),
        "compare": [
            {
                "stock": c.name,
                "holds_the_job": c.good,
                "area": area_number(c.square_inches, units),
                "weight": weight_number(c.pounds, units),
                "scrap_share": tidy(c.scrap_share),
                "price": None if c.money is None else float(money(c.money)),
                "seconds": round(c.seconds, 2),
                "settings": c.settings,
                "status": None if c.plan is None else c.plan.status,
                "status_says": None if c.plan is None else STATUS[c.plan.status],
                "above_bound": None if c.plan is None or c.plan.above_bound is None else tidy(c.plan.above_bound),
                "why": c.why,
            }
            for c in results
        ],
        "trade": trade_json(traded, job),
        "best": [{"stock": b.choice.name, "lines": list(b.lines), "buy": parts_json(b.buy, job)} for b in best],
        "prices_that_turn": [
            {"line": t.line, "price": float(t.price), "per": t.per, "now": float(t.now), "other": t.other}
            for t in turns(best, job)
        ],
    }


def size_columns(sweep: SizeSweep, job: Job) -> tuple[str, ...]:
    """Column titles: one a stock line at the end; squares of roof in inch jobs alone."""
    fixed = ("finished side", "top angle", "blank side", "pieces", "courses")
    each = "square" if job.info.units == "in" else "m²"
    return (*fixed, *(f"{o.stock}, metal per {each}" for o in sweep.asked.on), "")


def _courses(row: SizeRow) -> str:
    if not row.courses:
        return "-"
    return f"{row.courses:g}" + (" even" if row.even else "")


def size_rows(sweep: SizeSweep, job: Job) -> list[tuple[str, ...]]:
    """A row a size; ``*`` marks a sweet spot of that stock, ``<`` the asked size."""
    show = show_of(job)
    sweet = [set(spots) for _, spots in sweep.sweet]
    per = 1.0 if job.info.units == "in" else SQUARE_METRE / SQUARE
    rows = []
    for k, row in enumerate(sweep.rows):
        cells = [
            "-" if o.across == 0 else show.area(o.metal_per_square * per) + (" *" if k in sweet[i] else "")
            for i, o in enumerate(row.on)
        ]
        asked = row.side_nm == sweep.asked.side_nm and row.top_angle == sweep.asked.top_angle
        rows.append(
            (
                show.length(row.side_nm),
                show.degrees(row.top_angle),
                show.length(row.blank_side),
                str(row.pieces),
                _courses(row),
                *cells,
                "< asked" if asked else "",
            )
        )
    return rows


def suggestion_lines(sweep: SizeSweep, job: Job) -> list[str]:
    """What to tell the manager, a sentence each."""
    show = show_of(job)
    lines = []
    for s in sweep.suggestions:
        bigger = s.of_that_bigger
        part = f"; {show.percent(bigger)} of that only because the piece is bigger" if bigger >= 0.0005 else ""
        lines.append(
            f"{show.length(s.row.side_nm)} on {s.stock} ({s.says}): {show.percent(s.saves)} less metal than "
            f"{show.length(sweep.asked.side_nm)} on {sweep.asked.best.stock}{part}. {s.row.pieces} pieces against "
            f"{sweep.asked.pieces}."
        )
    return lines + list(sweep.says)


SQUARE_METRE = 1550.0031  # square inches
NESTED_COLUMNS = ("finished side", "top angle", "diamonds", "metal", "work", "together", "saves", "")


def nested_rows(tried: Sequence[NestedSize], job: Job) -> list[tuple[str, ...]]:
    """The sizes nested, cheapest first: metal and work of the whole job, and what it saves against the asked size."""
    show = show_of(job)
    rows: list[tuple[str, ...]] = []
    for x in tried:
        size = show.length(x.row.side_nm), show.degrees(x.row.top_angle)
        if x.plan is None:
            rows.append((*size, "-", "-", "-", "-", "-", x.why or "cannot be planned"))
            continue
        plan = x.plan
        cells = [amount(float(v), plan, job) for v in (plan.metal_total, plan.labour_total, plan.total)]
        said = "< asked" if x.asked else "short of stock" if plan.status == "short" else ""
        rows.append((*size, f"{x.pieces:,}", *cells, "" if x.asked else show.percent(x.saves), said))
    return rows


def size_json(sweep: SizeSweep, job: Job, tried: Sequence[NestedSize] = ()) -> dict[str, Any]:
    """The sweep as data, in the job's units."""
    units = job.info.units

    def row_data(row: SizeRow) -> dict[str, Any]:
        return {
            "side": number(row.side_nm, units),
            "top_angle": tidy(row.top_angle),
            "blank_side": number(row.blank_side, units),
            "pieces": row.pieces,
            "courses": tidy(row.courses),
            "even": row.even,
            "on": [
                {
                    "stock": o.stock,
                    "across": o.across,
                    "metal_per_square": None if o.across == 0 else area_number(o.metal_per_square, units),
                    "bought": None if o.across == 0 else area_number(o.bought, units),
                }
                for o in row.on
            ],
        }

    return {
        **head(job),
        "best_size": {
            "mark": sweep.mark,
            "asked": row_data(sweep.asked),
            "rows": [row_data(r) for r in sweep.rows],
            "nested": [
                {
                    "side": number(x.row.side_nm, units),
                    "top_angle": tidy(x.row.top_angle),
                    "diamonds": x.pieces,
                    "metal": None if x.plan is None else float(x.plan.metal_total),
                    "work": None if x.plan is None else float(x.plan.labour_total),
                    "total": None if x.plan is None else float(x.plan.total),
                    "saves": tidy(x.saves),
                }
                for x in tried
            ],
            "sweet": [
                {"stock": name, "sides": [number(sweep.rows[k].side_nm, units) for k in spots]}
                for name, spots in sweep.sweet
            ],
            "suggestions": [
                {
                    "side": number(s.row.side_nm, units),
                    "top_angle": tidy(s.row.top_angle),
                    "stock": s.stock,
                    "saves": tidy(s.saves),
                    "of_that_bigger": tidy(s.of_that_bigger),
                    "says": s.says,
                }
                for s in sweep.suggestions
            ],
            "says": list(sweep.says),
        },
    }
