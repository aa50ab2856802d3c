"""The least cost of a small shop by trying every cut, one stroke at a time, on every piece of metal that arises.

Nothing of the program is used. A piece of metal is cut in two at every place worth trying (sums of blank sides from
either end, the edge trims, the end of the back gauge), each stroke within the shear's limits, in levels: all strokes of
a level run one way, those of the next across it. What a piece of metal can yield is a set of counts, larger only.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal

Counts = tuple[int, ...]
Edges = tuple[bool, bool, bool, bool]  # untrimmed edges: low x, high x, low y, high y
CLEAN: Edges = (False, False, False, False)


@dataclass(frozen=True, kw_only=True)
class Blank:
    """A blank of `width` x `length`; `yields` come from one such rectangle (2: a pair parted by one slanted cut)."""

    width: int
    length: int
    count: int
    lie: Literal["any", "along", "across", "stock"] = "any"
    yields: int = 1

    def sizes(self, rolled_across: bool) -> set[tuple[int, int]]:
        """(across the stock, along the stock's length) of every way it may lie."""
        upright, turned = (self.width, self.length), (self.length, self.width)
        if self.lie == "any":
            return {upright, turned}
        if self.lie == "stock":
            return {upright}
        with_rolling = self.lie == "along"
        return {turned if with_rolling == rolled_across else upright}


@dataclass(frozen=True, kw_only=True)
class Line:
    """A coil (`length`: longest panel) or sheet; `cost` a graduation of coil or a sheet; `on_hand` of the same."""

    coil: bool
    width: int
    length: int
    cost: Fraction
    on_hand: int | None = None
    trim: int = 0
    rolled_across: bool = False


@dataclass(frozen=True, kw_only=True)
class Shear:
    """Limits in graduations; `stages` 2 ends with a trim, 3 with a stack of trimmed blanks."""

    longest_cut: int
    reach: int
    least_held: int
    kerf: int
    to_mark: bool
    stages: int


@dataclass
class Metal:
    """Everything one line of stock can yield."""

    blanks: tuple[Blank, ...]
    line: Line
    shear: Shear
    seen: dict[tuple[int, int, Edges, int, int], frozenset[Counts]] = field(default_factory=dict)
    added: dict[tuple[int, int], set[int]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.zero: Counts = (0,) * len(self.blanks)
        self.ways = [b.sizes(self.line.rolled_across) for b in self.blanks]
        self.sides = [sorted({s[axis] for way in self.ways for s in way}) for axis in (0, 1)]
        self.last = 3 if self.shear.stages == 2 else 4

    def wholes(self) -> Iterator[tuple[int, frozenset[Counts]]]:
        """(amount taken, what it can yield) of a panel of every length worth it, or of a sheet."""
        t, line, shear = self.line.trim > 0, self.line, self.shear
        if not line.coil:
            edges = (t, t, t, t)
            yield (
                1,
                largest(
                    self.yields(line.width, line.length, edges, 1, 0)
                    | self.yields(line.width, line.length, edges, 0, 0)
                ),
            )
            return
        most = line.length if shear.to_mark else min(line.length, shear.reach)
        if line.width > shear.longest_cut:
            return
        for length in sorted(self.sums(1, most)):
            yield length + shear.kerf, self.yields(line.width, length, (t, t, False, False), 0, 1)

    def yields(self, w: int, h: int, edges: Edges, axis: int, level: int) -> frozenset[Counts]:
        """Largest counts from a rectangle by strokes that step along `axis` (0 = x) at this level, then deeper."""
        if not any(a <= w and b <= h for way in self.ways for a, b in way):
            return frozenset([self.zero])
        key = (w, h, edges, axis, level)
        if key not in self.seen:
            found = {self.zero}
            if edges == CLEAN:
                for n, b in enumerate(self.blanks):
                    if (w, h) in self.ways[n]:
                        found.add(tuple(min(b.yields, b.count) if m == n else 0 for m in range(len(self.blanks))))
            found |= self.parted(w, h, edges, axis, level)
            if level < self.last:
                found |= self.yields(w, h, edges, 1 - axis, level + 1)
            self.seen[key] = largest(found)
        return self.seen[key]

    def parted(self, w: int, h: int, edges: Edges, axis: int, level: int) -> set[Counts]:
        """What two parts of it yield together, over every stroke the shear can make."""
        whole, stroke = (w, h) if axis == 0 else (h, w)
        out: set[Counts] = set()
        if stroke > self.shear.longest_cut:
            return out
        low_edge, high_edge = edges[2 * axis], edges[2 * axis + 1]
        for at in self.places(whole, axis, low_edge, high_edge):
            low, rest = max(0, at), max(0, whole - at - self.shear.kerf)
            if not self.can(low, rest):
                continue
            below = list(edges)
            above = list(edges)
            below[2 * axis + 1] = above[2 * axis] = False
            sizes = [(low, h), (rest, h)] if axis == 0 else [(w, low), (w, rest)]
            a, b = (
                self.yields(*size, tuple(left), axis, level) if deep else frozenset([self.zero])  # type: ignore[arg-type]
                for size, left, deep in ((sizes[0], below, low), (sizes[1], above, rest))
            )
            if level == self.last:  # a trim: one side is scrap
                out |= a | b
            else:
                out |= {self.both(p, q) for p in a for q in b}
        return out

    def both(self, p: Counts, q: Counts) -> Counts:
        return tuple(min(a + b, blank.count) for a, b, blank in zip(p, q, self.blanks, strict=True))

    def can(self, below: int, above: int) -> bool:
        """Whether the shear can part a piece so: one part on the gauge, the other held."""
        s = self.shear
        if not below or not above:  # the saw takes all of the trim
            return s.kerf > 0 and max(below, above) >= s.least_held
        return (below <= s.reach and above >= s.least_held) or (above <= s.reach and below >= s.least_held)

    def places(self, whole: int, axis: int, low_edge: bool, high_edge: bool) -> set[int]:
        """Where a stroke is worth trying, from the low end."""
        k, trim, reach = self.shear.kerf, self.line.trim, self.shear.reach
        if whole <= reach and self.shear.least_held <= 1 and not (low_edge or high_edge):
            return {s for s in self.sums(axis, whole) if s < whole}  # nothing is gained by leaving a gap first
        low, high = (trim if low_edge else 0), (trim if high_edge else 0)
        from_low = {low, low - k, reach} | {low + s for s in self.sums(axis, whole - low)}
        from_high = {high, high - k, reach} | {high + s for s in self.sums(axis, whole - high)}
        found = from_low | {whole - s - k for s in from_high}
        return {p for p in found if -k < p < whole}

    def sums(self, axis: int, most: int) -> set[int]:
        """Lengths that blanks side by side add up to, the saw's width between them."""
        k = self.shear.kerf
        if (axis, most) in self.added:
            return self.added[axis, most]
        reached, fresh = set[int](), {s for s in self.sides[axis] if s <= most}
        while fresh:
            reached |= fresh
            fresh = {r + k + s for r in fresh for s in self.sides[axis] if r + k + s <= most} - reached
        self.added[axis, most] = reached
        return reached


def largest(found: Iterable[Counts]) -> frozenset[Counts]:
    """The counts no other is as large as in every kind."""
    out: list[Counts] = []
    for c in sorted(set(found), reverse=True):
        if not any(all(x <= y for x, y in zip(c, d, strict=True)) for d in out):
            out.append(c)
    return frozenset(out)


def least(blanks: tuple[Blank, ...], lines: tuple[Line, ...], shear: Shear) -> Fraction | None:
    """The least cost of all the blanks, or None when the stock and the shear do not make them."""
    offers = [
        (n, line.cost * take, take, made)
        for n, line in enumerate(lines)
        for take, most in Metal(blanks, line, shear).wholes()
        for made in most
        if any(made)
    ]
    memo: dict[tuple[Counts, tuple[int | None, ...]], Fraction | None] = {}

    def rest(need: Counts, left: tuple[int | None, ...]) -> Fraction | None:
        if not any(need):
            return Fraction(0)
        if (need, left) not in memo:
            first = next(i for i, n in enumerate(need) if n)
            best: Fraction | None = None
            for n, cost, take, made in offers:
                have = left[n]
                if not made[first] or (have is not None and have < take):
                    continue
                after = tuple(None if h is None else h - take * (i == n) for i, h in enumerate(left))
                more = rest(tuple(max(0, a - b) for a, b in zip(need, made, strict=True)), after)
                if more is not None and (best is None or cost + more < best):
                    best = cost + more
            memo[need, left] = best
        return memo[need, left]

    return rest(tuple(b.count for b in blanks), tuple(line.on_hand for line in lines))
