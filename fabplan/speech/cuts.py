"""Words for the metal at the shear: what a cut is made on, what comes off, what stays.

Marks are printed as the job's author typed them; a blank may be called ``scrap``.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Literal

from fabplan.nesting.model import Cut, Layout, Part, Use
from fabplan.speech.format import listed, spans

BARE = {"scrap": "scrap", "dust": "dust", "keep": "offcut to keep"}
Source = Literal["coil", "panel", "sheet", "offcut", "drop", "rest"]


@dataclass(frozen=True, slots=True)
class Take:
    """The metal a cut is made on: the coil, the stock as it lies, or the drop or the rest of the cut `step`."""

    source: Source
    step: int = 0


@dataclass(frozen=True, slots=True)
class MetalPart:
    """A part of the metal as a table tells it: what becomes of it and its blanks, each mark with how many.

    `panel` of what is cut off a coil.
    """

    use: Use
    marks: tuple[tuple[str, int], ...] = ()
    panel: bool = False


def take_of(layout: Layout, cut: Cut) -> Take:
    """What a cut of a layout is made on."""
    if cut.on is None:
        return Take("coil")
    before = None if cut.after is None else layout.cuts[cut.after - 1]
    if before is None or before.on is None:
        return Take("panel" if layout.form == "coil" else layout.form)
    return Take("drop" if cut.on == before.falls else "rest", before.step)


def lot_of(layout: Layout, part: Part, *, panel: bool = False) -> MetalPart:
    """A part of a layout's metal, by its marks."""
    marks = Counter(layout.blanks[n].mark for n in part.blanks)
    return MetalPart(part.use, tuple(marks.items()), panel)


def lot_words(lot: MetalPart) -> str:
    """``scrap``, ``A``, ``A to trim``, ``piece with 2 A, 1 B``, ``panel with 4 A``."""
    if not lot.marks:
        return BARE[lot.use]
    if lot.panel or sum(n for _, n in lot.marks) > 1:
        return f"{'panel' if lot.panel else 'piece'} with " + ", ".join(f"{n} {told(mark)}" for mark, n in lot.marks)
    ((mark, _),) = lot.marks
    return told(mark) if lot.use == "blank" else f"{told(mark)} to trim"


def told(mark: str) -> str:
    """A mark among words for metal: as typed, and as a blank's where it could be read as one of those words.

    >>> told("A"), told("scrap"), told("piece with 2 P")
    ('A', 'blank “scrap”', 'blank “piece with 2 P”')
    """
    plain = mark.casefold()
    alike = plain in BARE.values() or plain in BARE or plain.startswith(("piece with", "panel with"))
    return f"blank “{mark}”" if alike or plain.endswith(" to trim") else mark


def turn_words(quarters: int) -> str:
    """How the rest of a cut is turned before the next, in quarters to the left: ``, turned a quarter left``."""
    return {0: "", 1: ", turned a quarter left", -1: ", turned a quarter right", 2: ", turned half round"}[quarters]


def drops_words(lots: Sequence[MetalPart]) -> str:
    """What drops at some cuts, with how many: ``14 × A``, ``scrap``."""
    kinds = Counter(lots)
    if kinds.total() == 1:
        return lot_words(lots[0])
    return ", ".join(
        lot_words(lot) if n == 1 and lot.use in ("scrap", "dust") else f"{n} × {lot_words(lot)}"
        for lot, n in kinds.items()
    )


def take_words(take: Take) -> str:
    """``the panel``, ``drop of 3``."""
    return f"{take.source} of {take.step}" if take.source in ("drop", "rest") else f"the {take.source}"


def takes_words(takes: Sequence[Take]) -> str:
    """``the panel``, ``drops of 1, 2``: in the order given, that of the cuts made on them."""
    out = []
    for source, some in groupby(takes, key=lambda take: take.source):
        found = list(some)
        if source in ("drop", "rest") and len(found) > 1:
            out.append(f"{source}s of {spans(take.step for take in found)}")
        else:
            out += [take_words(take) for take in found]
    return listed(out)
