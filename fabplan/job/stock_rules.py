"""What must hold inside one stock line, the shear, one hem tool."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Final

from fabplan.errors import JobError
from fabplan.job.merge import TableEntry
from fabplan.job.model import HemTool, Shear, Stock
from fabplan.job.wording import listed
from fabplan.units import NM_PER_INCH, Show

PRICES: Final = {
    "coil": ("lb", "kg", "foot", "meter"),
    "sheet": ("sheet", "lb", "kg"),
    "offcut": ("piece", "lb", "kg"),
}

MOST_PREFERRED: Final = Fraction(9, 10)
WIDEST_KERF: Final = NM_PER_INCH // 2
LARGEST_TOLERANCE: Final = NM_PER_INCH
LONGEST_LEAST_PULL: Final = 48 * NM_PER_INCH


def stock_faults(entry: TableEntry, line: Stock, show: Show) -> Iterator[JobError]:
    """Faults of one stock line."""
    if line.form == "coil":
        if line.length is not None:
            yield entry.fault(("length",), "a coil has no length here", value=entry.found(("length",)),
                              write='on_hand = "250 ft" for what is left of it')  # fmt: skip
    elif line.length is None:
        yield entry.fault((), f'"length" is missing: {_a(line.form)} needs width and length', write='length = "96 in"')
    if line.form != "coil" and line.longest_cut_off is not None:
        yield entry.fault(
            ("longest_cut_off",), f"only a coil has a longest cut-off, not {_a(line.form)}",
            value=entry.found(("longest_cut_off",)), write="it under a coil, or take it out",
        )  # fmt: skip
    if 2 * line.trim_each_edge >= line.width:
        yield entry.fault(
            ("trim_each_edge",), f"trimming leaves nothing of a width of {show.exact(line.width)}",
            value=entry.found(("trim_each_edge",)), write="a smaller trim",
        )  # fmt: skip
    if line.form != "coil" and line.length is not None and 2 * line.trim_each_edge >= line.length:
        yield entry.fault(
            ("trim_each_edge",), f"trimming leaves nothing of a length of {show.exact(line.length)}",
            value=entry.found(("trim_each_edge",)), write="a smaller trim",
        )  # fmt: skip
    for key, size in (("width", line.width), ("length", line.length)):
        if size is not None and size < show.grid:
            yield entry.fault(
                (key,), f"must be at least one graduation, {show.exact(show.grid)}",
                value=entry.found((key,)), write="the size of the metal that is there",
            )  # fmt: skip
    if line.price is not None and line.price.per not in PRICES[line.form]:
        yield entry.fault(
            ("price",), f"{_a(line.form)} is sold per {listed(PRICES[line.form])}",
            value=entry.found(("price",)), write=f'"9.40 per {PRICES[line.form][0]}"',
        )  # fmt: skip
    if line.buy and (line.form == "offcut" or line.on_hand is None):
        why = "an offcut cannot be bought" if line.form == "offcut" else "metal without on_hand is bought anyway"
        yield entry.fault(("buy",), why, value=entry.found(("buy",)), write="it beside on_hand of a coil or sheet")
    yield from _supply_faults(entry, line, show)
    if line.on_hand is not None:
        counted = line.on_hand.count is not None
        if line.form == "coil" and counted:
            yield entry.fault(("on_hand",), "a coil is on hand by length or weight",
                              value=entry.found(("on_hand",)), write='"250 ft" or "310 lb"')  # fmt: skip
        elif line.form != "coil" and not counted:
            yield entry.fault(("on_hand",), f"{_a(line.form)} is on hand by count",
                              value=entry.found(("on_hand",)), write="a count such as 12")  # fmt: skip


def _supply_faults(entry: TableEntry, line: Stock, show: Show) -> Iterator[JobError]:
    """Terms of the supplier suit what he sells."""
    terms = {"coil_min": "coil", "coil_step": "coil", "sheets_per_pack": "sheet"}
    for key, form in terms.items():
        if getattr(line, key) is not None and line.form != form:
            write = f"it under a {form}, or take it out"
            yield entry.fault((key,), f"is for a {form}, not {_a(line.form)}", value=entry.found((key,)), write=write)
    bought = line.form != "offcut" and (line.on_hand is None or line.buy)
    for key in (*terms, "lead_time"):
        if getattr(line, key) is not None and not bought and line.form == terms.get(key, line.form):
            yield entry.fault(
                (key,), "is of metal that is bought, and none of this is", value=entry.found((key,)),
                write="buy = true beside on_hand, or take it out",
            )  # fmt: skip


def prefer_faults(entry: TableEntry, prefer: Fraction) -> Iterator[JobError]:
    """Metal on hand still counts for something: else a scrap of it would be cut at any loss."""
    if prefer > MOST_PREFERRED:
        yield entry.fault(
            ("prefer_on_hand",), f"must be {float(MOST_PREFERRED):.0%} at most".replace("%", " %"),
            value=entry.found(("prefer_on_hand",)), write='for example "10 %"',
        )  # fmt: skip


def shear_faults(entry: TableEntry, shear: Shear, show: Show) -> Iterator[JobError]:
    """Faults of the shear."""
    if shear.angle_stop[0] > shear.angle_stop[1]:
        yield entry.fault(
            ("angle_stop",), "the least angle comes first",
            value=f"[{shear.angle_stop[0]:g}, {shear.angle_stop[1]:g}]", write="[30, 150]",
        )  # fmt: skip
    elif not shear.angle_stop[0] <= 90 <= shear.angle_stop[1]:
        yield entry.fault(
            ("angle_stop",), "must hold 90 degrees: every plan has square cuts",
            value=f"[{shear.angle_stop[0]:g}, {shear.angle_stop[1]:g}]", write="[30, 150]",
        )  # fmt: skip
    if shear.kerf > WIDEST_KERF:
        yield entry.fault(
            ("kerf",), f"must be {show.exact(WIDEST_KERF)} at most: the width a saw turns to dust",
            value=entry.found(("kerf",)), write="0 for a shear, or the saw's width, for example \"1/8 in\"",
        )  # fmt: skip
    if shear.least_held >= shear.back_gauge_reach:
        yield entry.fault(
            ("least_held",), f"must be less than the back gauge's reach, {show.exact(shear.back_gauge_reach)}",
            value=entry.found(("least_held",)), write="the narrowest strip that may be left, for example \"1 in\"",
        )  # fmt: skip
    if shear.least_gauge >= shear.back_gauge_reach:
        yield entry.fault(
            ("least_gauge",), f"must be less than the back gauge's reach, {show.exact(shear.back_gauge_reach)}",
            value=entry.found(("least_gauge",)), write="the smallest setting you trust, for example \"1/2 in\"",
        )  # fmt: skip
    if shear.width_tolerance > LARGEST_TOLERANCE:
        yield entry.fault(
            ("width_tolerance",), f"must be {show.exact(LARGEST_TOLERANCE)} at most",
            value=entry.found(("width_tolerance",)), write="how much the mill may be off, for example \"1/16 in\"",
        )  # fmt: skip
    if shear.least_pull > LONGEST_LEAST_PULL:
        yield entry.fault(
            ("least_pull",), f"must be {show.exact(LONGEST_LEAST_PULL)} at most",
            value=entry.found(("least_pull",)), write="the shortest pull you make, for example \"12 in\"",
        )  # fmt: skip


def tool_faults(entry: TableEntry, tool: HemTool, show: Show) -> Iterator[JobError]:
    """Faults of one hem tool."""
    if tool.least_fold > tool.greatest_fold:
        yield entry.fault(
            ("least_fold",), f"must be no more than greatest_fold, {show.exact(tool.greatest_fold)}",
            value=entry.found(("least_fold",)), write="a narrower least fold",
        )  # fmt: skip


def _a(form: str) -> str:
    return f"an {form}" if form == "offcut" else f"a {form}"
