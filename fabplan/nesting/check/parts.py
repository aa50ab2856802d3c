"""Prove what every cut says of its metal: what it is made on, what drops, what stays, and which cut freed it.

The cuts are carried out on the table; nothing is taken from the code that wrote the parts down.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from fabplan.check_plane import signed_area
from fabplan.nesting.check.cuts import XY, CheckedLimits, PiecesOnTable
from fabplan.nesting.model import Cut, Layout, Part, Placed, Use

Ints = npt.NDArray[np.int64]
NEAR = 1e-3  # graduations


@dataclass(frozen=True, slots=True)
class Made:
    """One cut carried out: the metal it is made on (None: the coil), what it leaves, and the cut that freed it."""

    on: tuple[XY, ...] | None
    left: tuple[tuple[XY, ...], ...]
    after: int | None


def part_faults(layout: Layout, shop: CheckedLimits, keep: tuple[int, int] | None) -> list[str]:
    """Faults of the parts, stages and metal held of a layout whose cuts hold."""
    made = carried_out(layout, shop, keep)
    if made is None:
        return ["its cuts cannot be carried out"]
    truth = Truth(layout, shop, keep, {m.on for m in made if m.on is not None}, _inside(layout, made))
    faults: list[str] = []
    last = 0
    for cut, done in zip(layout.cuts, made, strict=True):
        if cut.after != done.after:
            faults.append(f"cut {cut.step}: its metal is freed by cut {done.after}, not {cut.after}")
        if done.on is None:
            faults += _cut_off_faults(cut, done, truth)
            continue
        if cut.stage < max(1, last):
            faults.append(f"cut {cut.step}: its stage is {cut.stage} after {last}")
        last = cut.stage
        faults += _cut_faults(cut, done, truth)
    return faults


def carried_out(layout: Layout, shop: CheckedLimits, keep: tuple[int, int] | None) -> list[Made] | None:
    """Every cut made on the table, or None when one of them cannot be."""
    table = PiecesOnTable(layout, shop, keep)
    out: list[Made] = []
    for cut in layout.cuts:
        if layout.form == "coil" and not out:
            table.cut_off(cut.step)
            out.append(Made(None, (tuple(table.pieces[0]),), None))
            continue
        table.cut(cut)
        if table.last is None:
            return None
        done = table.last
        out.append(Made(tuple(done.on), tuple(tuple(ring) for ring in done.left), done.after))
    return out


def _inside(layout: Layout, made: Sequence[Made]) -> dict[tuple[XY, ...], tuple[int, ...]]:
    """Blanks in every piece of metal that arises: those of the piece it was cut from, by the side they lie on."""
    centres = np.array([_centre(b) for b in layout.blanks]).reshape(-1, 2)
    inside: dict[tuple[XY, ...], Ints] = {}
    for m in made:
        of = np.arange(len(layout.blanks)) if m.on is None else inside.get(m.on)
        if of is None:
            assert m.on is not None
            inside[m.on] = of = _held(m.on, np.arange(len(layout.blanks)), centres)
        for ring in m.left:
            inside[ring] = _held(ring, of, centres)
    return {ring: tuple(of.tolist()) for ring, of in inside.items()}


def _held(ring: Sequence[XY], of: Ints, centres: npt.NDArray[np.float64]) -> Ints:
    at = centres[of]
    keep = np.ones(len(of), dtype=bool)
    for p, q in zip(ring, (*ring[1:], ring[0]), strict=True):
        keep &= (q[0] - p[0]) * (at[:, 1] - p[1]) - (q[1] - p[1]) * (at[:, 0] - p[0]) >= 0
    return of[keep]


@dataclass(frozen=True, slots=True)
class Truth:
    """What a piece of metal on the table is."""

    layout: Layout
    shop: CheckedLimits
    keep: tuple[int, int] | None
    again: set[tuple[XY, ...]]
    inside: Mapping[tuple[XY, ...], tuple[int, ...]] = field(default_factory=dict)

    def blanks(self, ring: Sequence[XY]) -> tuple[int, ...]:
        """Places of the blanks whose middle lies in a convex counter-clockwise ring."""
        if (known := self.inside.get(tuple(ring))) is not None:
            return known
        return tuple(n for n, b in enumerate(self.layout.blanks) if _holds(ring, _centre(b)))

    def use(self, ring: tuple[XY, ...]) -> Use:
        """What becomes of it."""
        if self.blanks(ring):
            return "piece" if ring in self.again else "blank"
        xs, ys = [p[0] for p in ring], [p[1] for p in ring]
        box = (min(xs), min(ys)), (max(xs), min(ys)), (max(xs), max(ys)), (min(xs), max(ys))
        short, long = sorted((max(xs) - min(xs), max(ys) - min(ys)))
        if self.keep is not None and same(ring, box) and short >= self.keep[0] and long >= self.keep[1]:
            return "keep"
        return "scrap"

    def is_it(self, part: Part | None, ring: tuple[XY, ...]) -> bool:
        """Whether a part is this piece, in every word."""
        return (
            part is not None
            and same(part.outline, ring)
            and sorted(part.blanks) == list(self.blanks(ring))
            and part.use == self.use(ring)
        )


def _cut_off_faults(cut: Cut, done: Made, truth: Truth) -> list[str]:
    (panel,) = done.left
    faults = []
    if cut.on is not None or cut.stays is not None or cut.stage != 0 or not truth.is_it(cut.falls, panel):
        faults.append("cut 1: it does not say that the panel is cut off the coil")
    if cut.held != max(truth.shop.least_held, 1):
        faults.append("cut 1: the metal held is not the shop's least")
    return faults


def _cut_faults(cut: Cut, done: Made, truth: Truth) -> list[str]:
    assert done.on is not None
    if cut.on is None or not same(cut.on.outline, done.on) or sorted(cut.on.blanks) != list(truth.blanks(done.on)):
        return [f"cut {cut.step}: it is not made on the metal it names"]
    if cut.on.use not in ("piece", truth.use(done.on)):
        return [f"cut {cut.step}: its metal is no {cut.on.use}"]
    parts = [p for p in (cut.falls, cut.stays) if p is not None and p.use != "dust"]
    # A trim no wider than the kerf is dust: it has an outline, and nothing is left of it.
    trims = [p for p in (cut.falls, cut.stays) if p is not None and p.use == "dust"]
    if cut.stays is None or len(parts) != len(done.left) or len(trims) != 2 - len(done.left):
        return [f"cut {cut.step}: it does not name the parts it makes"]
    found = [next((ring for ring in done.left if truth.is_it(part, ring)), None) for part in parts]
    if None in found or len(set(found)) != len(parts):
        return [f"cut {cut.step}: what falls and what stays are not what it parts"]
    left, most = sum(map(signed_area, done.left)), signed_area(done.on) * (1 + 1e-6)
    if any(p.blanks or signed_area(p.outline) + left > most for p in trims):
        return [f"cut {cut.step}: its dust is not what the saw takes"]
    falls, stays = _depth(cut.falls.outline, cut), _depth(cut.stays.outline, cut)
    # Of dust only the piece is there: it lies on the gauge and is held.
    drop, held = (stays, stays) if trims and cut.back_gauge is not None else (falls, stays)
    if cut.back_gauge is not None and abs(drop - cut.back_gauge) > NEAR:
        return [f"cut {cut.step}: what falls does not lie on the back gauge"]
    if not -NEAR <= held - cut.held < 1:
        return [f"cut {cut.step}: the metal held is not what it leaves"]
    return []


def same(a: Sequence[XY], b: Sequence[XY]) -> bool:
    """Whether two convex rings are one: the same corners, each said once, and running round them the same way."""
    if any(len(set(ring)) < len(ring) for ring in (a, b)):
        return False

    def every(one: Sequence[XY], other: Sequence[XY]) -> bool:
        return all(any(abs(x - u) <= NEAR and abs(y - v) <= NEAR for u, v in other) for x, y in one)

    return every(a, b) and every(b, a) and abs(signed_area(a) - signed_area(b)) <= 1e-3 * max(1.0, signed_area(b))


def _centre(b: Placed) -> XY:
    if b.outline is None:
        return b.x + b.width / 2, b.y + b.length / 2
    return sum(p[0] for p in b.outline) / len(b.outline), sum(p[1] for p in b.outline) / len(b.outline)


def _holds(ring: Sequence[XY], at: XY) -> bool:
    return all(
        (q[0] - p[0]) * (at[1] - p[1]) - (q[1] - p[1]) * (at[0] - p[0]) >= 0
        for p, q in zip(ring, (*ring[1:], ring[0]), strict=True)
    )


def _depth(ring: Sequence[XY], cut: Cut) -> float:
    """How far a piece reaches, square to the cut."""
    dx, dy = cut.end[0] - cut.start[0], cut.end[1] - cut.start[1]
    run = (dx * dx + dy * dy) ** 0.5 or 1.0
    offs = [((p[0] - cut.start[0]) * dy - (p[1] - cut.start[1]) * dx) / run for p in ring]
    return max(offs) - min(offs)
