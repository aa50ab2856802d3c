"""Stock and weights in words: the buying list, and what is too heavy."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import ceil, floor

from fabplan.job.model import Job, Stock
from fabplan.job.wording import listed
from fabplan.plan.model import Amount, BuyLine, Lift
from fabplan.units import NM_PER_FOOT, NM_PER_MM, POUNDS_TO_KG, Show


def count_of(n: int, noun: str) -> str:
    """``1 sheet``, ``2 sheets``."""
    return f"{n} {noun}" if n == 1 else f"{n} {noun}s"


def amount_words(amount: Amount | None, line: BuyLine, show: Show, *, weigh: bool = False, down: bool = False) -> str:
    """``103.4 ft (206.8 lb)``, ``2 sheets``; nothing for none.

    Lengths of coil to a tenth of a foot or meter, rounded up; what is left over, `down`.
    """
    if amount is None or not (amount.length or amount.count):
        return ""
    if amount.length is None:
        return count_of(amount.count or 0, "offcut" if line.form == "offcut" else "sheet")
    unit, nm = ("m", 1000 * NM_PER_MM) if show.unit == "mm" else ("ft", NM_PER_FOOT)
    words = f"{(floor if down else ceil)(amount.length / nm * 10) / 10:.1f} {unit}"
    if not weigh:
        return words
    heavy = f"{amount.pounds * float(POUNDS_TO_KG):.1f} kg" if show.unit == "mm" else f"{amount.pounds:.1f} lb"
    return f"{words} ({heavy})"


def buy_words(line: BuyLine, show: Show) -> tuple[str, str, str, str]:
    """Needed, to pull, to buy and left over."""
    return (
        amount_words(line.need, line, show),
        amount_words(line.pull, line, show),
        amount_words(line.buy, line, show, weigh=True),
        amount_words(line.left, line, show, weigh=True, down=True),
    )


def order_words(line: BuyLine, show: Show, currency: str) -> str:
    """What is ordered beyond what is needed, with its price: ``Order 30.0 ft of coil 24, 4.2 ft more than ...``; or
    nothing."""
    if line.order is None:
        return ""
    over = Amount(
        length=None if line.order.length is None else line.order.length - (line.buy.length or 0),
        count=None if line.order.count is None else line.order.count - (line.buy.count or 0),
        pounds=line.order.pounds - line.buy.pounds,
    )
    words = f"Order {amount_words(line.order, line, show)} of {line.stock} as it is sold"
    more = f"{amount_words(over, line, show, down=True)} more than this job takes" if over.count or over.length else ""
    price = ""
    if line.order_price is not None and line.price is not None:
        price = f", for {line.order_price - line.price:,.2f} {currency}".rstrip()
    return f"{words}: {more}{price}. It stays on hand."


def coils_words(line: BuyLine, show: Show) -> str:
    """What comes off each of several coils alike: ``40.0 ft of lot 1 and 13.4 ft of lot 3``, ``lot 2``; or nothing."""
    if len(line.coils) == 1:
        return f"lot {line.coils[0].lot}"
    each = [f"{amount_words(Amount(length=c.length, pounds=0.0), line, show)} of lot {c.lot}" for c in line.coils]
    return listed(each, "and") if each else ""


def panels_words(line: BuyLine, layout: int, times: int) -> str:
    """Which coils the panels of a layout come off: ``Of them come 3 off lot 1 and 1 off the coil that is bought.``; or
    nothing."""
    if not line.coils:
        return ""
    off = [(c.lot, n) for c in line.coils for number, n in c.layouts if number == layout]
    each = [f"{n} off lot {lot}" for lot, n in off]
    bought = times - sum(n for _, n in off)
    each += [f"{bought} off the coil that is bought"] if bought else []
    if len(each) == 1:
        return f"{'It comes' if times == 1 else 'All come'} {each[0].split(' ', 1)[1]}."
    return f"Of them come {listed(each, 'and')}."


def lacking_words(lines: Sequence[BuyLine], job: Job) -> str:
    """What to buy for everything: ``Buy 6.2 ft more of coil 24 (58.30 USD) and all of it goes.``; or nothing."""
    if not lines:
        return ""
    each = []
    for line in lines:
        price = "" if line.to_pay is None else f" ({line.to_pay:,.2f} {job.info.currency}".rstrip() + ")"
        each.append(f"{amount_words(line.order or line.buy, line, job.show)} more of {line.stock}{price}")
    return f"Buy {listed(each, 'and')}, and there is enough for all."


def hand_words(line: Stock, show: Show) -> str:
    """How much of a line is on hand: ``60.0 ft``, ``4 sheets``."""
    hand = line.on_hand
    if line.form == "coil":
        unit, nm = ("m", 1000 * NM_PER_MM) if show.unit == "mm" else ("ft", NM_PER_FOOT)
        return f"{floor((hand.length or 0 if hand else 0) / nm * 10) / 10:.1f} {unit}"
    return count_of(hand.count or 0 if hand else 0, "sheet")


def lead_words(lines: Iterable[BuyLine]) -> str:
    """How long ahead what is bought is ordered, the longest first; nothing where nobody says."""
    days = sorted(((b.lead_days, b.stock) for b in lines if b.lead_days), key=lambda d: (-d[0], d[1]))
    if not days:
        return ""
    each = ", ".join(f"{stock} {count_of(n, 'day')}" for n, stock in days)
    return f"Order ahead: {each}."


def lift_words(item: Lift, show: Show) -> str:
    """``a panel off coil 24, 24 x 60 in``, ``12 of A``, ``kit N1``."""
    if item.kind == "kit":
        return f"kit {item.of}"
    if item.kind == "bundle":
        return f"{item.count} of {item.of}"
    size = f", {show.size(*item.size)}" if item.size else ""
    return f"{'a panel off' if item.kind == 'panel' else 'one of'} {item.of}{size}"


def heavy_notes(found: Iterable[Lift], show: Show) -> tuple[str, ...]:
    """A warning for each kind of thing above its limit, naming the heaviest."""
    notes = []
    kinds: dict[str, list[Lift]] = {}
    for item in found:
        if item.over:
            kinds.setdefault(item.kind, []).append(item)
    for kind, heavy in kinds.items():
        worst = max(heavy, key=lambda i: i.pounds)
        assert worst.limit is not None
        plural = kind if len(heavy) == 1 else f"{kind}s"
        notes.append(
            f"Too heavy for the limit of {show.weight(worst.limit)}: {len(heavy)} {plural}, "
            f"the heaviest {lift_words(worst, show)} at {show.weight(worst.pounds)}. Lift with help or split."
        )
    return tuple(notes)
