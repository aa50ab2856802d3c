"""Knapsack tables in which every leftover has its price: exact fillings first, then one leftover at the end.

Values are whole numbers (scaled prices of the blanks less the work of freeing them), so comparisons are exact. As
in P. C. Gilmore and R. E. Gomory (Operations Research 13, 1965) strips are filled first, then panels with strips, then
sheets with panels; but a leftover is not free: it takes a stroke, scribing where it is too thin to gauge, and none
where it is too thin to cut.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Ints = npt.NDArray[np.int64]
NEVER = -(1 << 30)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wastes:
    """Scaled price of a leftover by its width: of thin ones each its own (None: no cut frees it), `stroke` of wider."""

    stroke: int
    thin: tuple[int | None, ...]

    def price(self, size: int) -> int | None:
        """What a leftover of this width takes off; None where none can be cut off."""
        return self.thin[size] if size < len(self.thin) else self.stroke

    def ended(self, exact: Ints, edge: int = 0) -> Ints:
        """Best value within each length (last axis), from the values of exact fillings; `edge` is trimmed anyway."""
        size = exact.shape[-1]
        out = np.full_like(exact, NEVER)
        far = max(0, len(self.thin) - edge)
        if far < size:
            best = np.maximum.accumulate(exact, axis=-1)
            np.maximum(out[..., far:], best[..., : size - far] - self.stroke, out=out[..., far:])
        for rest in range(min(far, size)):
            price = self.thin[rest + edge]
            if price is not None:
                np.maximum(out[..., rest:], exact[..., : size - rest] - price, out=out[..., rest:])
        return out

    def last(self, exact: npt.NDArray[np.int32], at: int, edge: int = 0) -> Ints:
        """Best value within `at` of every column of exact fillings (first axis)."""
        out = np.full(exact.shape[1], NEVER, dtype=np.int64)
        far = max(0, len(self.thin) - edge)
        if far <= at:
            np.maximum(out, exact[: at - far + 1].max(axis=0).astype(np.int64) - self.stroke, out=out)
        for rest in range(min(far, at + 1)):
            price = self.thin[rest + edge]
            if price is not None:
                np.maximum(out, exact[at - rest].astype(np.int64) - price, out=out)
        return out

    def end(self, exact: Ints, at: int, value: int, edge: int = 0) -> int:
        """Length of the exact filling that gave `ended(exact)[at] == value`."""
        if not edge and exact[at] == value:
            return at
        for low in range(at, -1, -1):
            price = self.price(at - low + edge)
            if price is not None and at - low + edge and exact[low] - price == value:
                return low
        raise AssertionError("no filling has this value")


def fill(f: Ints, size: int, value: int) -> None:
    """Add an item, any number of it, to exact fillings `f` in place (last axis)."""
    n = f.shape[-1]
    if size >= n:
        return
    rows = -(-n // size)
    if rows <= 3:
        for low in range(size, n, size):
            high = min(low + size, n)
            np.maximum(f[low:high], f[low - size : high - size] + value, out=f[low:high])
        return
    pad = np.full(rows * size, -(1 << 60), dtype=np.int64)
    pad[:n] = f
    grid = pad.reshape(rows, size)
    lift = (np.arange(rows, dtype=np.int64) * value)[:, None]
    grid -= lift
    np.maximum.accumulate(grid, axis=0, out=grid)
    grid += lift
    f[:] = pad[:n]


@dataclass(slots=True)
class StripFillings:
    """One row a strip width: `exact[r, y]` the best filling of exactly y, `best` with a leftover at the end.

    `items[r]`: (cell, length, value) that a strip of that width may hold; `deep` those that occur at most once; `due`
    what each strip's own setting takes off.
    """

    width: Ints
    exact: Ints
    plain: Ints
    best: Ints
    items: list[list[tuple[int, int, int]]]
    deep: list[list[tuple[int, int, int]]]
    wastes: Wastes
    due: Ints

    def open(self, row: int, y: int) -> list[int]:
        """Cells of the best strip of a row in a panel y long."""
        y = self.wastes.end(self.exact[row], y, int(self.best[row, y]))
        out: list[int] = []
        f = self.plain[row]
        if self.exact[row, y] != f[y]:
            for o, size, value in self.deep[row]:
                if y >= size and f[y - size] + value == self.exact[row, y]:
                    out.append(o)
                    y -= size
                    break
        while y > 0:
            for o, size, value in self.items[row]:
                if y >= size and f[y - size] + value == f[y]:
                    out.append(o)
                    y -= size
                    break
            else:
                raise AssertionError("a strip cannot be traced")
        return out


def strips(
    across: Ints, along: Ints, value: Ints, use: Ints, ymax: int, reach: int, wastes: Wastes, due: Ints | None = None
) -> StripFillings:
    """Strip table over the cells `use` (indices), one row for every width among them.

    `due`: what a setting at each cell's width takes off, where it is set for.
    """
    dues = np.zeros_like(across) if due is None else due
    order = use[np.argsort(across[use], kind="stable")]
    widths = np.unique(across[order])
    plain = np.full((widths.size, ymax + 1), NEVER, dtype=np.int64)
    exact = np.empty_like(plain)
    items: list[list[tuple[int, int, int]]] = []
    deep_items: list[list[tuple[int, int, int]]] = []
    base = np.full(ymax + 1, NEVER, dtype=np.int64)
    base[0] = 0
    wide: list[tuple[int, int, int]] = []
    wide_deep: list[tuple[int, int, int]] = []
    at = 0
    for r, w in enumerate(widths):
        while at < order.size and across[order[at]] <= w - len(wastes.thin):
            o = int(order[at])
            one = (o, int(along[o]), int(value[o]) - wastes.stroke - int(dues[o]))
            at += 1
            if along[o] > reach:
                wide_deep.append(one)
            else:
                wide.append(one)
                fill(base, one[1], one[2])
        mine, deep = list(wide), list(wide_deep)
        f = base.copy()
        for o in order[at:]:
            if across[o] > w:
                break
            price = wastes.price(int(w - across[o]))
            if price is None:
                continue
            one = (int(o), int(along[o]), int(value[o]) - price)
            if along[o] > reach:
                deep.append(one)
            else:
                mine.append(one)
                fill(f, one[1], one[2])
        plain[r] = np.maximum(f, NEVER)
        top = plain[r].copy()
        for _, size, worth in deep:
            np.maximum(top[size:], plain[r, : ymax + 1 - size] + worth, out=top[size:])
        exact[r] = top
        items.append(mine)
        deep_items.append(deep)
    own = {int(w): int(d) for w, d in zip(across[order], dues[order], strict=True)}
    return StripFillings(
        width=widths,
        exact=exact,
        plain=plain,
        best=wastes.ended(exact),
        items=items,
        deep=deep_items,
        wastes=wastes,
        due=np.array([own[int(w)] for w in widths], dtype=np.int64),
    )


@dataclass(slots=True)
class PanelFillings:
    """`exact[x, c]`: best strips exactly x across in a panel `length[c]` long; `plain` without a deep strip."""

    strips: StripFillings
    length: Ints
    exact: npt.NDArray[np.int32]
    plain: npt.NDArray[np.int32]
    reach: int

    def open(self, x: int, c: int) -> list[int]:
        """Rows of the strips of the best exact filling x across."""
        worth = self.strips.best[:, int(self.length[c])] - self.strips.due
        width = self.strips.width
        out: list[int] = []
        f = self.plain[:, c]
        target = int(self.exact[x, c])
        if target != f[x]:
            for d in np.flatnonzero((width > self.reach) & (width <= x)):
                r = int(d)
                if int(f[x - width[r]]) + int(worth[r]) == target:
                    out.append(r)
                    x -= int(width[r])
                    break
        rows = np.flatnonzero((width <= self.reach) & (worth > NEVER // 2))
        while x > 0:
            ok = rows[width[rows] <= x]
            hit = ok[f[x - width[ok]].astype(np.int64) + worth[ok] == f[x]]
            r = int(hit[-1])
            out.append(r)
            x -= int(width[r])
        return out


def panels(s: StripFillings, columns: Ints, xmax: int, reach: int, chunk: int = 128) -> PanelFillings:
    """Panel table for the given panel lengths."""
    exact = np.empty((xmax + 1, columns.size), dtype=np.int32)
    plain = exact
    deep = np.flatnonzero((s.width > reach) & (s.width <= xmax))
    if deep.size:
        plain = np.empty_like(exact)
    for low in range(0, columns.size, chunk):
        pick = columns[low : low + chunk]
        values = np.maximum(s.best[:, pick] - s.due[:, None], NEVER).astype(np.int32)
        g = np.full((xmax + 1, pick.size), NEVER, dtype=np.int32)
        g[0] = 0
        tmp = np.empty_like(g)
        for r in np.flatnonzero((s.width <= reach) & (s.width <= xmax)):
            w, v = int(s.width[r]), values[r]
            if not (v > NEVER // 2).any():
                continue
            for at in range(w, xmax + 1, w):
                end = min(at + w, xmax + 1)
                np.add(g[at - w : end - w], v, out=tmp[: end - at])
                np.maximum(g[at:end], tmp[: end - at], out=g[at:end])
            np.maximum(g, NEVER, out=g)
        plain[:, low : low + chunk] = g
        if deep.size:
            h = g.copy()
            for r in deep:
                w = int(s.width[r])
                np.maximum(h[w:], g[: xmax + 1 - w] + values[r], out=h[w:])
            exact[:, low : low + chunk] = np.maximum(h, NEVER)
    return PanelFillings(strips=s, length=columns, exact=exact, plain=plain, reach=reach)
