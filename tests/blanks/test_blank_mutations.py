"""The checker catches wrong patterns: seeded changes of single numbers, points, words and members."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace
from functools import cache
from typing import Any

import pytest
from blank_jobs import job, metals, piece

from fabplan.blanks.check.patterns import check_patterns
from fabplan.blanks.develop import develop
from fabplan.blanks.model import FlatPattern

HEM = {"width": "1/2 in", "toward": "back", "gap": "1/16 in"}
L_SHAPE = [
    ["0 in", "0 in"],
    ["10 in", "0 in"],
    ["10 in", "5 in"],
    ["5 in", "5 in"],
    ["5 in", "10 in"],
    ["0 in", "10 in"],
]
PIECES = [
    piece(kind="diamond", side="10 in", hem="3/4 in"),
    piece(mark="B", kind="diamond", side="9 in", upper_hem="3/4 in", lower_hem="1 in", top_angle=75),
    piece(mark="S", kind="starter", **{"for": "A"}),
    piece(mark="RL", kind="rake-left", **{"for": "B"}),
    piece(mark="RH", kind="ridge-half", **{"for": "A"}),
    piece(mark="F", kind="flat-seam", width="16-1/2 in", length="22-1/2 in", hem="3/4 in"),
    piece(mark="RD", kind="disc", diameter="5 in"),
    piece(
        mark="O",
        kind="outline",
        points=L_SHAPE,
        folds=[{"edge": e, "width": "1/2 in", "toward": "face", "gap": "1/16 in"} for e in (1, 2, 3, 4)]
        + [{"edge": 6, "width": "1 in", "toward": "back", "turned": 90}],
    ),
    piece(
        mark="D",
        kind="section",
        length="48 in",
        legs=["3/4 in", "2-1/2 in", "3 in"],
        bends=[90, -45],
        inside_radius="1/32 in",
        start_hem=HEM,
        end_hem=HEM,
    ),
]
# Words for people are not proven.
UNPROVEN = {"notes", "says"}
WORDS = {
    "toward": ["face", "back"],
    "kind": ["diamond", "starter", "outline", "section", "square", "45-degree", "V", "slit", "point", "side snip"],
    "grain": ["any", "along", "across"],
    "finish": ["bare", "coated", "pre-patinated"],
    "metal": ["copper-16oz", "zinc-0.7mm"],
    "mark": ["A", "B", "Z"],
}


def changes(value: Any, rng: random.Random, name: str = "") -> Iterator[tuple[str, Any]]:
    """One changed copy of a value for each thing in it that can be changed, with the name of what was changed."""
    if is_dataclass(value) and not isinstance(value, type):
        for f in fields(value):
            if f.name in UNPROVEN:
                continue
            for what, new in changes(getattr(value, f.name), rng, f.name):
                yield f"{type(value).__name__}.{what}", replace(value, **{f.name: new})
    elif isinstance(value, bool):
        yield name, not value
    elif isinstance(value, int):
        yield name, value + rng.choice([-1, 1])
    elif isinstance(value, float):
        yield name, value + rng.choice([-1, 1]) * rng.choice([0.002, 0.01, 0.1, 1.0])
    elif isinstance(value, str):
        yield name, rng.choice([w for w in WORDS[name] if w != value])
    elif value is None:
        if name == "gaps":
            yield name, 0.05
    elif isinstance(value, tuple):
        point = len(value) == 2 and all(isinstance(v, float) for v in value)
        for k, v in enumerate(value):
            for what, new in changes(v, rng, name):
                yield what, (*value[:k], new, *value[k + 1 :])
            if not point and name not in ("line", "legs") and len(value) > 1:
                yield f"{name} (one left out)", (*value[:k], *value[k + 1 :])
        if len(value) > 2 and not point and value[::-1] != value:
            yield f"{name} (backward)", value[::-1]


def every_change(rng: random.Random) -> list[tuple[int, str, FlatPattern]]:
    patterns = develop(job(*PIECES), metals())
    return [(k, what, new) for k, p in enumerate(patterns) for what, new in changes(p, rng)]


@cache
def setting(k: int) -> tuple[Any, tuple[FlatPattern, ...]]:
    """A job of piece k and the diamond it is a part of, and its right patterns, piece k last."""
    own = PIECES[k]
    one = job(*[p for p in PIECES if p.mark == getattr(own, "for_", None)], own)
    return one, develop(one, metals())


def caught(k: int, changed: FlatPattern) -> bool:
    """Whether the checker objects when pattern k is changed."""
    one, patterns = setting(k)
    return bool(check_patterns((*patterns[:-1], changed), one, metals()))


def test_wrong_patterns_are_caught() -> None:
    rng = random.Random(1)
    chosen = rng.sample(every_change(rng), 220)
    assert Counter(what for k, what, new in chosen if not caught(k, new)) == {}


@pytest.mark.slow
def test_every_wrong_pattern_is_caught() -> None:
    everything = every_change(random.Random(7))
    assert len(everything) > 1500
    assert Counter(what for k, what, new in everything if not caught(k, new)) == {}


def test_the_right_patterns_pass() -> None:
    one = job(*PIECES)
    assert check_patterns(develop(one, metals()), one, metals()) == []


def test_a_missing_or_strange_pattern_is_told() -> None:
    one = job(*PIECES)
    patterns = develop(one, metals())
    assert check_patterns(patterns[1:], one, metals())
    assert check_patterns(patterns[::-1], one, metals())


def test_counts_from_the_roof_are_proven() -> None:
    one = job(piece(kind="diamond", side="10 in", hem="3/4 in", count=None))
    patterns = develop(one, metals(), counts={"A": 7})
    assert check_patterns(patterns, one, metals(), counts={"A": 7}) == []
    assert check_patterns(patterns, one, metals(), counts={"A": 8})
