"""What changed between two plans, in at most ten lines."""

from __future__ import annotations

from collections.abc import Sequence

from fabplan.plan.changes import BlankChange, Changes, CountChange, StockChange
from fabplan.speech.buying import amount_words
from fabplan.speech.format import count, listed
from fabplan.speech.labour import time_words
from fabplan.units import Show

_MOST = 8
_SAME = 1.0  # seconds


def change_lines(found: Changes, show: Show, currency: str = "") -> list[str]:
    """The changes, what concerns hands first; one sentence when there are none."""
    lines = [
        _line("Pieces", [_counted(c) for c in found.counts]),
        _line("Other blanks", [_blank(c, show) for c in found.blanks]),
        _line("Same blanks, folded another way", found.folds),
        _line("Made by the old pages and still good", found.still_good if found.blanks or found.folds else ()),
        _layouts(found),
        _line("Stock", [_stock(c, show) for c in found.stock], "; "),
        _total(found, show, currency),
        _missing(found),
        _hours(found),
    ]
    said = [line for line in lines if line]
    return said or ["Nothing changed for the shop."]


def _line(head: str, items: Sequence[str], between: str = ", ") -> str:
    if not items:
        return ""
    more = len(items) - _MOST
    shown = between.join(items[:_MOST])
    return f"{head}: {shown}{f' and {more} more' if more > 0 else ''}."


def _counted(c: CountChange) -> str:
    if not c.old:
        return f"{c.mark} {c.new:,} (new)"
    if not c.new:
        return f"no {c.mark} any more (was {c.old:,})"
    return f"{c.mark} {c.new:,}, was {c.old:,} ({c.new - c.old:+,})"


def _blank(c: BlankChange, show: Show) -> str:
    if c.old == c.new:
        return f"{c.mark} (same size, another outline or metal)"
    return f"{c.mark} {show.size(*c.new)}, was {show.size(*c.old)}"


def _layouts(found: Changes) -> str:
    lay = found.layouts
    if lay is None or not (lay.new or lay.gone or lay.other_times):
        return ""
    parts = [f"{lay.same} the same"]
    if lay.other_times:
        parts.append(f"{lay.other_times} cut another number of times")
    if lay.new:
        parts.append(f"{lay.new} new")
    if lay.gone:
        parts.append(f"{lay.gone} no longer cut")
    return f"Cutting layouts: {listed(parts)}."


def _stock(c: StockChange, show: Show) -> str:
    line = c.new or c.old
    assert line is not None
    new = amount_words(c.new.need, c.new, show) if c.new else "none"
    old = amount_words(c.old.need, c.old, show) if c.old else "none"
    taken = f"{new} of {line.stock}" + (f", was {old}" if new != old else "")
    buy = [amount_words(each.buy, each, show) if each else "" for each in (c.old, c.new)]
    return taken if buy[0] == buy[1] else f"{taken} (to buy {buy[1] or 'none'}, was {buy[0] or 'none'})"


def _total(found: Changes, show: Show, currency: str) -> str:
    totals = found.money or found.metal
    if totals is None:
        return ""
    old, new = totals
    if found.money:
        said = [f"{value:,.2f} {currency}".strip() for value in (new, old)]
    else:
        said = [show.area(value) for value in (new, old)]
    share = f" ({(new - old) / old:+.1%})" if old else ""
    return f"{'Metal cost' if found.money else 'Metal taken'}: {said[0]}, was {said[1]}{share}."


def _missing(found: Changes) -> str:
    old, new = found.missing
    return "" if old == new else f"SHORT of stock: {count(new, 'blank')} missing, was {old:,}."


def _hours(found: Changes) -> str:
    moved = [h for h in found.hours if abs(h.new - h.old) > _SAME]
    if not moved:
        return ""
    old, new = (sum(h.old for h in found.hours), sum(h.new for h in found.hours))
    each = [f"{h.station} {'+' if h.new > h.old else '-'}{time_words(abs(h.new - h.old))}" for h in moved]
    return f"Work: {time_words(new)}, was {time_words(old)} ({', '.join(each)})."
