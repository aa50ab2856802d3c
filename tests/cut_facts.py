"""Layouts for tests from cut lines alone: the checker carries the cuts out and tells what each one parts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from fabplan.nesting.check.cuts import XY, CheckedLimits
from fabplan.nesting.check.parts import Truth, carried_out
from fabplan.nesting.model import Cut, Layout, Part

NOTHING = Part(outline=((0.0, 0.0), (1.0, 0.0), (0.0, 1.0)), blanks=(), use="scrap")


def line(**cut: Any) -> Cut:
    """A cut that does not say yet what it parts."""
    return Cut(**cut, on=None, falls=NOTHING, stays=None, after=None)


def told(layout: Layout, *, kerf: int = 0, keep: tuple[int, int] | None = None) -> Layout:
    """The layout with its cuts saying what they part.

    The part as deep as the back gauge drops; at a cut to a mark the one without blanks, else the smaller.
    """
    shop = CheckedLimits(10**9, 10**9, True, 0, (0.0, 180.0), kerf)
    made = carried_out(layout, shop, keep)
    assert made is not None, layout
    truth = Truth(layout, shop, keep, {m.on for m in made if m.on is not None})

    def part(ring: Sequence[XY]) -> Part:
        k = min(range(len(ring)), key=lambda n: ring[n][::-1])
        ring = (*ring[k:], *ring[:k])
        return Part(
            outline=tuple((float(x), float(y)) for x, y in ring), blanks=truth.blanks(ring), use=truth.use(ring)
        )

    cuts = []
    for cut, done in zip(layout.cuts, made, strict=True):
        parts = [part(ring) for ring in done.left]
        if done.on is None:
            cuts.append(replace(cut, falls=parts[0]))
            continue
        parts.sort(key=lambda p: (_miss(cut, p), bool(p.blanks), _area(p.outline)))
        cuts.append(replace(cut, on=part(done.on), falls=parts[0], stays=parts[1], after=done.after))
    return replace(layout, cuts=tuple(cuts))


def _miss(cut: Cut, part: Part) -> float:
    """How far a part is from reaching to the back gauge."""
    if cut.back_gauge is None:
        return 0.0
    (ax, ay), (bx, by) = cut.start, cut.end
    run = ((bx - ax) ** 2 + (by - ay) ** 2) ** 0.5
    deep = max(abs((x - ax) * (by - ay) - (y - ay) * (bx - ax)) / run for x, y in part.outline)
    return round(abs(deep - cut.back_gauge), 3)


def _area(ring: Sequence[XY]) -> float:
    return abs(sum(p[0] * q[1] - q[0] * p[1] for p, q in zip(ring, (*ring[1:], ring[0]), strict=True)))
