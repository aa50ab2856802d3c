"""Few of many kinds: one sheet after another is filled from exactly the pieces left, many fillings side by side.

A filling grows piece by piece: the next goes into the strip, a new strip, or a new panel. Fillings of as many pieces
are rated by the metal behind them for what they hold, and the fullest kept (beam search on a branching scheme that
inserts pieces so: F. Fontan, L. Libralesso, "PackingSolver: a tree search-based solver for two-dimensional two- and
three-staged guillotine packing problems", arXiv 2004.02603, 2020). All fillings of a step are arrays.

Plans of such sheets are made again and again with corrected worths: what lay in a poorly filled sheet is worth more the
next time (sequential value correction: G. Belov, G. Scheithauer, INFORMS Journal on Computing 19, 2007). Every good
filling is a column; an integer program over them chooses at last.
"""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fabplan.nesting.engine.columns import PatternColumn, column
from fabplan.nesting.engine.frame import HUGE, Frame, Ints
from fabplan.nesting.engine.state import Plan, SearchState
from fabplan.nesting.engine.tables import Panel, Section, Strip

Floats = npt.NDArray[np.float64]
MOST_PIECES = 160
NEVER = 1 << 30
KEPT = 4  # fillings of a sheet that become columns
POWERS = (0.0, 0.1, 0.3)  # how much large pieces are favoured
STRIP, NEXT, PANEL = range(3)


def applies(frame: Frame) -> bool:
    """Whether the job is small and its stock cut in panels."""
    if frame.thin or frame.stages == 3 or frame.credit is not None or int(frame.demand.sum()) > MOST_PIECES:
        return False
    return any(v.cut_off for v in frame.views)


class Room:
    """One view of the stock: its pieces as two slots each, `across` and `along` (out of reach where there is none)."""

    def __init__(self, frame: Frame, view: int) -> None:
        self.frame, self.view = frame, view
        v = frame.views[view]
        t = frame.tables[v.table]
        self.across, self.along, self.place = (np.full(2 * frame.n, x) for x in (NEVER, NEVER, -1))
        filled = np.zeros(frame.n, dtype=np.int64)
        for o in range(t.size):
            row = int(t.item[o])
            slot = 2 * row + int(filled[row])
            filled[row] += 1
            self.across[slot], self.along[slot], self.place[slot] = t.across[o], t.along[o], o
        self.X, self.Y, self.stock, self.many = v.X, v.Y, v.stock, v.many and not v.coil
        self.deep = min(v.Y, v.rip_max, t.gauge_along)
        self.wide = min(v.X, t.gauge_across, t.cut_across)
        self.row = np.repeat(np.arange(frame.n), 2)
        self._only((self.across <= self.wide) & (self.along <= self.deep))

    def _only(self, slots: npt.NDArray[np.bool_]) -> None:
        self.across, self.along, self.place, self.row = (
            a[slots] for a in (self.across, self.along, self.place, self.row)
        )

    def within(self, left: Ints) -> Room:
        """The same with the pieces that are left."""
        other = copy(self)
        other._only(left[self.row] > 0)
        return other


@dataclass(slots=True)
class Fillings:
    """Fillings side by side: what is left, the panel, the strip and its end, and what they hold."""

    left: Ints
    y: Ints
    long: Ints
    x: Ints
    wide: Ints
    end: Ints
    held: Floats


def fill(state: SearchState, room: Room, left: Ints, worth: Floats, width: int, power: float) -> list[PatternColumn]:
    """The best fillings of one piece of stock from what is left, so many looked at side by side."""
    key = np.arange(1, left.size + 6, dtype=np.int64) * 0x9E3779B97F4A7C1 % (1 << 61)
    zero = np.zeros(1, dtype=np.int64)
    s = Fillings(left[None, :].copy(), zero, zero, zero, zero, zero, np.zeros(1))
    room = room.within(left)
    each = worth[room.row]
    trail: list[tuple[Ints, Ints, Ints]] = []
    ends: list[tuple[float, int, int]] = []
    while True:
        state.tick(0.3 + 5e-5 * s.y.size * room.row.size)
        score, parent, slot, how = _children(s, room, each, power)
        if not score.size:
            break
        order = np.argsort(score, kind="stable")[: 2 * width]
        parent, slot, how = parent[order], slot[order], how[order]
        s = _taken(s, room, each, parent, slot, how)
        with np.errstate(over="ignore"):
            mixed = s.left @ key[: left.size] + np.stack([s.y, s.long, s.x, s.wide, s.end], axis=1) @ key[left.size :]
        pick = np.sort(np.unique(mixed, return_index=True)[1])[:width]
        s = Fillings(*(getattr(s, name)[pick] for name in Fillings.__slots__))
        trail.append((parent[pick], slot[pick], how[pick]))
        ends += [(float(s.held[i]), len(trail), int(i)) for i in np.argsort(-s.held, kind="stable")[:KEPT]]
    out: dict[bytes, PatternColumn] = {}
    for _, depth, at in sorted(ends, key=lambda e: (-e[0], e[1], e[2])):
        col = _column(room, trail[:depth], at)
        out.setdefault(col.counts.tobytes(), col)
        if len(out) == KEPT:
            break
    return list(out.values())


def _children(s: Fillings, room: Room, each: Floats, power: float) -> tuple[Floats, Ints, Ints, Ints]:
    """Every next piece in every place: score, filling, slot, place."""
    inside = s.left[:, room.row] > 0
    a, b, X = room.across, room.along, room.X
    y, long, x, w, end = (q[:, None] for q in (s.y, s.long, s.x, s.wide, s.end))
    held = (s.held[:, None] + each) ** (1 + power)
    parts = []
    far, across = np.maximum(long, end + b), np.maximum(w, a)
    ok = inside & (far <= room.deep) & (y + far <= room.Y) & (across <= room.wide) & (x + across <= X) & (end > 0)
    parts.append((ok, y * X + far * x + across * (end + b)))
    far = np.maximum(long, b)
    parts.append((inside & (y + far <= room.Y) & (x + w + a <= X), y * X + far * (x + w) + a * b))
    if room.many:
        parts.append((inside & (y + long + b <= room.Y) & (long > 0), (y + long) * X + a * b))
    found = []
    for place, (ok, behind) in enumerate(parts):
        at, which = np.nonzero(ok)
        found.append((behind[at, which] / held[at, which], at, which, np.full(at.size, place)))
    score, parent, slot, how = (np.concatenate(c) for c in zip(*found, strict=True))
    return score, parent, slot, how


def _taken(s: Fillings, room: Room, each: Floats, parent: Ints, slot: Ints, how: Ints) -> Fillings:
    """The fillings after these pieces."""
    a, b = room.across[slot], room.along[slot]
    y, long, x, w, end = (q[parent] for q in (s.y, s.long, s.x, s.wide, s.end))
    left = s.left[parent]
    left[np.arange(slot.size), room.row[slot]] -= 1
    same, beside, panel = how == STRIP, how == NEXT, how == PANEL
    return Fillings(
        left=left,
        y=np.where(panel, y + long, y),
        long=np.where(same, np.maximum(long, end + b), np.where(beside, np.maximum(long, b), b)),
        x=np.where(same, x, np.where(beside, x + w, 0)),
        wide=np.where(same, np.maximum(w, a), a),
        end=np.where(same, end + b, b),
        held=s.held[parent] + each[slot],
    )


def _column(room: Room, trail: list[tuple[Ints, Ints, Ints]], at: int) -> PatternColumn:
    """The pattern of one filling of the last step."""
    steps: list[tuple[int, int]] = []
    for parent, slot, how in reversed(trail):
        steps.append((int(slot[at]), int(how[at])))
        at = int(parent[at])
    panels: list[list[list[int]]] = [[]]
    for slot_, how_ in reversed(steps):
        if how_ == PANEL:
            panels.append([])
        if how_ != STRIP:
            panels[-1].append([])
        panels[-1][-1].append(slot_)
    return column(room.frame, room.view, tuple(_panel(room, p) for p in panels))


def _panel(room: Room, strips: list[list[int]]) -> Panel:
    made: list[Strip] = []
    for slots in strips:
        sections: list[Section] = [(int(room.along[o]), ((int(room.place[o]), 1),)) for o in slots]
        sections.sort(key=lambda p: (-p[0], p[1]))
        made.append((max(int(room.across[o]) for o in slots), tuple(sections)))
    made.sort(key=lambda p: (-p[0], p[1]))
    v = room.frame.views[room.view]
    long = max(sum(size for size, _ in sections) for _, sections in made)
    return (long if v.coil or v.many else v.Y), tuple(made)


def _some(state: SearchState, rooms: list[Room], turn: int) -> list[Room]:
    """All the stock, or on every other turn some of it: the best sheet by itself need not be part of the best plan."""
    lines = sorted({r.stock for r in rooms if state.frame.available[r.stock] >= HUGE})
    if turn % 2 == 0 or len(lines) < 2:
        return rooms
    out = lines[int(state.rng.integers(len(lines)))]
    return [r for r in rooms if r.stock != out]


def in_turn(state: SearchState, rooms: list[Room], worth: Floats, width: int, power: float) -> tuple[Plan, Floats]:
    """A plan of one filled sheet after another, and the corrected worths; an empty plan where the stock runs out."""
    frame = state.frame
    left, have = frame.demand.copy(), frame.available.copy()
    plan: Plan = {}
    seen, paid = np.zeros(frame.n), np.zeros(frame.n)
    while left.any():
        cols = [c for r in rooms if have[r.stock] > 0 for c in fill(state, r, left, worth, width, power)]
        cols = [c for c in cols if have[c.stock] >= c.use]
        if not cols:
            return {}, worth
        best = _choice(state, cols, left, worth)
        col = cols[best]
        times = int((left[col.counts > 0] // col.counts[col.counts > 0]).min())
        if have[col.stock] < HUGE:
            times = min(times, int(have[col.stock] // col.use))
            have[col.stock] -= times * col.use
        where = [state.pool.add(c) for c in cols]
        plan[where[best]] = plan.get(where[best], 0) + times
        left = left - times * col.counts
        share = col.cost / max(float(worth @ col.counts), 1e-12)  # of the metal, by worth
        seen += times * col.counts
        paid += times * col.counts * worth * share
    return plan, paid / np.maximum(seen, 1)


def _choice(state: SearchState, cols: list[PatternColumn], left: Ints, worth: Floats) -> int:
    """The filling with most worth for its cost; of those that end the plan, the cheapest."""
    last = [(c.cost, i) for i, c in enumerate(cols) if (c.counts >= left).all()]
    rate = [float(worth @ c.counts) / max(c.cost, 1e-12) for c in cols]
    best = max(range(len(cols)), key=lambda i: (rate[i], -i))
    if last and (min(last)[0] <= cols[best].cost or rate[min(last)[1]] > 0.98 * rate[best]):
        return min(last)[1]
    return best


def corrected(state: SearchState, turns: int, width: int, prices: Floats | None = None) -> None:
    """Plans in turn with corrected worths, each offered; the worths begin as areas, or halfway to the prices given."""
    frame = state.frame
    rooms = [Room(frame, i) for i, v in enumerate(frame.views) if v.cut_off]
    worth: Floats = frame.area / frame.area.sum()
    if prices is not None and prices.any():
        worth = (worth + prices / prices.sum()) / 2
    for turn in range(turns):
        plan, paid = in_turn(state, _some(state, rooms, turn), worth, width, POWERS[turn % len(POWERS)])
        if not plan:
            return
        state.offer(plan)
        if state.done():
            return
        share = 0.3 + 0.4 * state.rng.random()
        paid = paid * float(worth.sum() / max(paid.sum(), 1e-12))
        worth = ((1 - share) * worth + share * paid) * (1 + 0.1 * state.rng.random(frame.n))
