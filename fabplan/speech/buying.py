"""Stock and weights in words: the buying list, and what is too heavy."""

from __future__ import annotations

from collections.abc import Iterable
from math import ceil, floor

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
