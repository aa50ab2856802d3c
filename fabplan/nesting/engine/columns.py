"""Cutting patterns as columns of the master problem, and as the trees handed back."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
import numpy.typing as npt

from fabplan.nesting.engine.frame import Frame, Ints, Turned
from fabplan.nesting.engine.problem import Axis, Node, Pattern, leaves
from fabplan.nesting.engine.tables import Panel, Section, Strip


@dataclass(slots=True, eq=False)
class PatternColumn:
    """One pattern: pieces it yields, stock it uses (steps of coil, or 1 sheet), and how it is cut.

    `given` is a pattern handed in from outside, kept as it is.
    """

    stock: int
    view: int
    counts: Ints
    use: int
    panels: tuple[Panel, ...]
    cost: float
    given: Pattern | None = None
    credit: Fraction = Fraction(0)


def column(frame: Frame, view: int, panels: tuple[Panel, ...]) -> PatternColumn:
    """A column from opened panels of a view."""
    v = frame.views[view]
    t = frame.tables[v.table]
    counts = np.zeros(frame.n, dtype=np.int64)
    for _, strips in panels:
        for _, sections in strips:
            for _, pieces in sections:
                for o, c in pieces:
                    counts[t.item[o]] += c
    use = panels[0][0] if v.coil else 1
    credit = Fraction(0)
    if frame.credit is not None:
        credit = min(_credit(frame, view, panels), frame.unit_cost[v.stock] * use)
    cost = float(use * frame.cost[v.stock]) - float(credit / frame.cost_scale)
    return PatternColumn(stock=v.stock, view=view, counts=counts, use=use, panels=panels, cost=cost, credit=credit)


def _credit(frame: Frame, view: int, panels: tuple[Panel, ...]) -> Fraction:
    """Credit for what is left at the end of the sheet, beside the strips and at the ends of the strips."""
    v, rule, k = frame.views[view], frame.credit, frame.kerf
    assert rule is not None
    t, stock = frame.tables[v.table], frame.problem.stock[v.stock]
    swap = v.direction == "width"
    across, along = (stock.length, stock.width) if swap else (stock.width, stock.length)
    rests: list[tuple[int, int]] = []
    trim = stock.trim
    if not v.coil:
        rests.append((across, along - trim - sum(y for y, _ in panels) * t.unit_along))
    for y, strips in panels:
        size = y * t.unit_along - k
        rests.append((across - trim - sum(w for w, _ in strips) * t.unit_across, size))
        for w, sections in strips:
            rests.append((w * t.unit_across - k, size - sum(s for s, _ in sections) * t.unit_along))
    area = 0
    for a, b in rests:
        if a > 0 and b > 0 and min(a, b) >= rule.short_side and max(a, b) >= rule.long_side:
            area += a * b
    return rule.per_area * area


def exact_cost(frame: Frame, col: PatternColumn) -> Fraction:
    """What one such pattern costs, before any credit."""
    return frame.unit_cost[col.stock] * col.use


class PatternPool:
    """Columns kept once each, with their piece counts as one matrix."""

    def __init__(self, frame: Frame) -> None:
        self.frame = frame
        self.columns: list[PatternColumn] = []
        self._seen: dict[tuple[int, int, bytes], int] = {}
        self._a = np.zeros((frame.n, 256), dtype=np.int64)
        self._cost = np.zeros(256)
        self._use = np.zeros(256)
        self._stock = np.zeros(256, dtype=np.int64)

    def __len__(self) -> int:
        return len(self.columns)

    def add(self, col: PatternColumn) -> int:
        """Index of the column; a like one already kept is reused."""
        key = (col.stock, col.use, col.counts.tobytes())
        old = self._seen.get(key)
        if old is not None:
            if col.credit > self.columns[old].credit:
                self.columns[old], self._cost[old] = col, col.cost
            return old
        at = len(self.columns)
        if at == self._cost.size:
            self._a = np.concatenate([self._a, np.zeros_like(self._a)], axis=1)
            self._cost = np.concatenate([self._cost, np.zeros_like(self._cost)])
            self._use = np.concatenate([self._use, np.zeros_like(self._use)])
            self._stock = np.concatenate([self._stock, np.zeros_like(self._stock)])
        self.columns.append(col)
        self._seen[key] = at
        self._a[:, at], self._cost[at] = col.counts, col.cost
        self._use[at], self._stock[at] = col.use, col.stock
        return at

    def extend(self, cols: Iterable[PatternColumn]) -> list[int]:
        """Add several columns."""
        return [self.add(c) for c in cols]

    @property
    def matrix(self) -> Ints:
        """(pieces, columns) counts."""
        return self._a[:, : len(self.columns)]

    @property
    def cost(self) -> npt.NDArray[np.float64]:
        """Cost of each column, scaled."""
        return self._cost[: len(self.columns)]

    @property
    def use(self) -> npt.NDArray[np.float64]:
        """Stock used by each column."""
        return self._use[: len(self.columns)]

    @property
    def stock(self) -> Ints:
        """Stock line of each column."""
        return self._stock[: len(self.columns)]


def given_column(frame: Frame, pattern: Pattern) -> PatternColumn:
    """A column from a pattern handed in."""
    keys = {s.key: i for i, s in enumerate(frame.problem.stock)}
    rows = {frame.problem.items[p].key: r for r, p in enumerate(frame.items)}
    s = keys[pattern.stock]
    stock = frame.problem.stock[s]
    counts = np.zeros(frame.n, dtype=np.int64)
    for leaf in leaves(pattern.root):
        assert leaf.piece is not None
        counts[rows[leaf.piece]] += 1
    use = 1
    if stock.form == "coil":
        use = -(-(pattern.length + frame.kerf) // frame.coil_step)
    return PatternColumn(
        stock=s, view=-1, counts=counts, use=use, panels=(), cost=float(use * frame.cost[s]), given=pattern
    )


def pattern(frame: Frame, col: PatternColumn, repeat: int) -> Pattern:
    """The tree of a column, in the stock's own frame."""
    if col.given is not None:
        g = col.given
        return Pattern(stock=g.stock, length=g.length, direction=g.direction, root=g.root, repeat=repeat)
    v = frame.views[col.view]
    stock = frame.problem.stock[v.stock]
    t = frame.tables[v.table]
    swap = v.direction == "width"
    build = _Builder(frame, t, swap, v.stock)
    k, trim = frame.kerf, stock.trim
    across = stock.length if swap else stock.width
    nodes = []
    at = 0 if v.coil else trim
    for y, strips in col.panels:
        size = y * t.unit_along - k
        if not v.coil and not v.many and not (v.cut_off and len(strips) == 1 and strips[0][0] == v.X):
            size = (stock.width if swap else stock.length) - 2 * trim
        nodes.append(build.panel(trim, at, across, size, strips))
        at += y * t.unit_along
    if v.coil:
        return Pattern(stock=stock.key, length=nodes[0].length, direction="length", root=nodes[0], repeat=repeat)
    whole = len(nodes) == 1 and nodes[0].width == stock.width and nodes[0].length == stock.length
    axis: Axis = "x" if swap else "y"
    root = nodes[0] if whole else Node(x=0, y=0, width=stock.width, length=stock.length, axis=axis, parts=tuple(nodes))
    return Pattern(
        stock=stock.key, length=stock.length, direction="width" if swap else "length", root=root, repeat=repeat
    )


class _Builder:
    """Places strips, sections and pieces; `swap` exchanges the axes for panels cut off along the width."""

    def __init__(self, frame: Frame, table: Turned, swap: bool, stock: int) -> None:
        self.frame, self.t, self.swap, self.k = frame, table, swap, frame.kerf
        self.grain_across = frame.problem.stock[stock].grain_across

    def node(self, a: int, b: int, across: int, along: int, axis: str | None, parts: list[Node]) -> Node:
        """A node at (a across, b along); `axis` "along" is divided by cuts straight across the strip."""
        name: Axis | None = None
        if axis is not None:
            name = "x" if (axis == "across") != self.swap else "y"
        x, y, w, length = (b, a, along, across) if self.swap else (a, b, across, along)
        return Node(x=x, y=y, width=w, length=length, axis=name, parts=tuple(parts))

    def piece(self, a: int, b: int, o: int) -> Node:
        """A leaf."""
        row = int(self.t.item[o])
        item = self.frame.problem.items[self.frame.items[row]]
        across = int(self.t.across[o]) * self.t.unit_across - self.k
        along = int(self.t.along[o]) * self.t.unit_along - self.k
        x, y, w, length = (b, a, along, across) if self.swap else (a, b, across, along)
        turned = (w, length) != (item.width, item.length)
        if item.width == item.length:
            turned = item.ways(self.grain_across)[0]
        return Node(x=x, y=y, width=w, length=length, piece=item.key, turned=turned)

    def panel(self, trim: int, b: int, across: int, along: int, strips: tuple[Strip, ...]) -> Node:
        """A panel across the whole stock; its strips are set in by the edge trim."""
        t, k = self.t, self.k
        parts, at = [], trim
        for width, sections in strips:
            parts.append(self.strip(at, b, width * t.unit_across - k, along, sections))
            at += width * t.unit_across
        if len(parts) == 1 and (parts[0].length if self.swap else parts[0].width) == across:
            return parts[0]
        return self.node(0, b, across, along, "across", parts)

    def strip(self, a: int, b: int, across: int, along: int, sections: tuple[Section, ...]) -> Node:
        """A strip: sections one after another, each a piece (trimmed if narrow) or pieces side by side."""
        t, k = self.t, self.k
        parts, at = [], b
        for length, pieces in sections:
            size = length * t.unit_along - k
            inner, off = [], a
            for o, c in pieces:
                for _ in range(c):
                    leaf = self.piece(off, at, o)
                    own = (leaf.width if self.swap else leaf.length, leaf.length if self.swap else leaf.width)
                    if own[0] != size:
                        leaf = self.node(off, at, own[1], size, "along", [leaf])
                    inner.append(leaf)
                    off += int(t.across[o]) * t.unit_across
            one = inner[0]
            if len(inner) > 1 or (one.length if self.swap else one.width) != across:
                one = self.node(a, at, across, size, "across", inner)
            parts.append(one)
            at += length * t.unit_along
        if len(parts) == 1 and (parts[0].width if self.swap else parts[0].length) == along:
            return parts[0]
        return self.node(a, b, across, along, "along", parts)


def holdable(frame: Frame, col: PatternColumn) -> bool:
    """Whether every division leaves something wide enough to hold in front of the blade."""
    least = frame.problem.limits.least_held
    if col.given is not None or not frame.thin:
        return True
    v, k = frame.views[col.view], frame.kerf
    t, stock = frame.tables[v.table], frame.problem.stock[v.stock]
    across = stock.length if v.direction == "width" else stock.width
    along = stock.width if v.direction == "width" else stock.length

    def ok(whole: int, parts: list[int], first: int = 0) -> bool:
        rest = whole - first - sum(parts) - k * len(parts)
        return (len(parts) == 1 and parts[0] == whole) or max(*parts, rest) >= least

    if not v.coil and not ok(along, [y * t.unit_along - k for y, _ in col.panels], stock.trim):
        return False
    for y, strips in col.panels:
        size = y * t.unit_along - k
        if not ok(across, [w * t.unit_across - k for w, _ in strips], stock.trim):
            return False
        for w, sections in strips:
            if not ok(size, [s * t.unit_along - k for s, _ in sections]):
                return False
            for s, pieces in sections:
                wide = [int(t.across[o]) * t.unit_across - k for o, c in pieces for _ in range(c)]
                if not ok(w * t.unit_across - k, wide):
                    return False
                if not all(ok(s * t.unit_along - k, [int(t.along[o]) * t.unit_along - k]) for o, _ in pieces):
                    return False
    return True
