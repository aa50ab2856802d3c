"""Notes on a cut plan in words, from its facts."""

from __future__ import annotations

from fractions import Fraction
from types import SimpleNamespace
from typing import Any

import pytest

from fabplan.nesting.remarks import (
    Credit,
    FewerSetups,
    LooseLeast,
    NearlyAlike,
    Note,
    OffcutsUsed,
    OpenStacks,
    Outcome,
    Paired,
    Rival,
    Snipped,
    TooWide,
    Unpriced,
)
from fabplan.speech.nest import notes, rival_words

CASES: list[tuple[Note, str]] = [
    (Unpriced(stock=("a", "b", "c")), "Planned for the least metal, not money: a, b and c has no price."),
    (OffcutsUsed(used=2, offered=3, free=False), "2 of 3 offcuts on hand are used."),
    (
        OffcutsUsed(used=1, offered=1, free=True),
        "1 of 1 offcuts on hand are used. They are paid for and count for nothing in the total.",
    ),
    (
        Credit(amount=Fraction(5, 2)),
        "Offcuts going back on the rack are credited at USD 2.50; the total is before that credit.",
    ),
    (
        Paired(how="head_to_tail", marks=("A", "B"), saved=Fraction(10), share=0.25),
        "A and B: nested head to tail by slanted cuts, which saves about USD 10.00 (25.0 %) against cutting each from "
        "its own rectangle.",
    ),
    (
        Paired(how="saves_nothing", marks=("A",)),
        "A: nesting head to tail saves nothing here; each comes from its own rectangle.",
    ),
    (Paired(how="not_asked", marks=("A",)), "A: each cut from its own rectangle, as the job asks (pair = false)."),
    (
        Snipped(marks=("R",)),
        "R: the angle stop (60 to 120 degrees) does not reach every slanted side. The shear leaves a box, and the "
        "sides are scribed and snipped at the bench.",
    ),
    (LooseLeast(), "The proven least counts only the bare area of the few slanted blanks that share a strip."),
    (
        FewerSetups(layouts=3, before=5, more=0.0125),
        "For fewer set-ups: 3 layouts instead of 5, for 1.25 % more metal.",
    ),
    (
        FewerSetups(layouts=5, before=5, more=0.0),
        "No plan with fewer set-ups was found within the metal allowed for it.",
    ),
    (
        TooWide(mark="A", over=4, across=3, stock="coil 24", fits=256),
        "A is 1/8 in too wide to come 3 across coil 24: at 8 in it would, if its size may change.",
    ),
    (
        NearlyAlike(mark="A", other="B", differ=1),
        "A and B differ by 1/32 in in width: one width would share a strip and a setting.",
    ),
    (OpenStacks(most=4, asked=2), "One panel alone leaves 4 stacks lying open: 2 cannot be held."),
]


@pytest.mark.parametrize(("note", "words"), CASES, ids=lambda x: getattr(x, "kind", ""))
def test_a_note_in_words(note: Note, words: str) -> None:
    plan: Any = SimpleNamespace(notes=(note,), grid=793_750, objective="money")  # graduations of 1/32 in
    job: Any = SimpleNamespace(
        info=SimpleNamespace(units="in", round_to=793_750, currency="USD"),
        shear=SimpleNamespace(angle_stop=(60.0, 120.0)),
        nest=SimpleNamespace(prefer_on_hand=False),
    )
    assert notes(plan, job) == (words,)


def test_how_a_rival_came_out_on_several_metals_is_told_once_each() -> None:
    packed = Outcome(what="packed", packings=3, order="width")
    rival = Rival(way="packer", total=Fraction(1), outcomes=(packed, packed, Outcome(what="packed", packings=2)))
    assert rival_words(rival) == "best of 3 packings, widest first; best of 2 packings, largest area first"
