"""From a layout to the order of straight cuts, each with its back-gauge setting.

The shear: the part behind the blade lies against the back gauge and drops (`back_gauge` deep); the part in front is
held. A saw's kerf lies to the right of the line from start to end (above it, or to its right). A trim strip too
narrow to hold is taken as the gauged drop. Cells out of reach of the shear raise `NotCuttableError`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from fabplan.nesting.model import Cut, Offcut, Part, Placed, Use
from fabplan.nesting.problem import XY, Form, ShearLimits

Axis = Literal["x", "y"]
Which = Literal["all", "head", "tail"]
Inside = Callable[[int, int], list[Cut]]


class NotCuttableError(Exception):
    """No order of straight cuts within the shear's limits makes this layout."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """A rectangle the straight cuts must free: one blank, or a strip of slanted blanks cut further by `inside`.

    `inside(stage, first)` gives the cuts within the cell at that stage and later; the cell's blanks are numbered from
    `first`, their place among all blanks of the layout.
    """

    x: int
    y: int
    width: int
    length: int
    blanks: tuple[Placed, ...]
    inside: Inside | None = None
    first: int = 0


@dataclass(frozen=True, slots=True)
class Region:
    """A rectangle of metal, low and high along both axes."""

    x0: int
    y0: int
    x1: int
    y1: int

    def span(self, axis: Axis) -> tuple[int, int]:
        """Low and high along the axis the cuts step along."""
        return (self.x0, self.x1) if axis == "x" else (self.y0, self.y1)

    def across(self, axis: Axis) -> int:
        """Length of a cut that steps along `axis`."""
        return self.y1 - self.y0 if axis == "x" else self.x1 - self.x0

    def part(self, axis: Axis, low: int, high: int) -> Region:
        """The slice of this rectangle from low to high."""
        return Region(low, self.y0, high, self.y1) if axis == "x" else Region(self.x0, low, self.x1, high)

    def outline(self) -> tuple[XY, ...]:
        """Its corners, as in `Part`."""
        x0, y0, x1, y1 = float(self.x0), float(self.y0), float(self.x1), float(self.y1)
        return (x0, y0), (x1, y0), (x1, y1), (x0, y1)


@dataclass(slots=True)
class _Step:
    cut: Cut
    stage: int


@dataclass(slots=True)
class _Work:
    limits: ShearLimits
    keeps: Callable[[int, int], bool]
    budget: int
    trims_first: bool = False
    steps: list[_Step] = field(default_factory=list)
    offcuts: list[Offcut] = field(default_factory=list)


_Part = tuple[int, int, tuple[Cell, ...]]
_Way = tuple[int | None, int, bool]  # back gauge, metal held, whether the low side drops
_Plan = tuple[list[_Step], list[Offcut]]


def order_cuts(
    form: Form,
    width: int,
    length: int,
    cells: Sequence[Cell],
    limits: ShearLimits,
    keeps: Callable[[int, int], bool],
    *,
    first: Axis | None = None,
    trims_first: bool = False,
) -> tuple[tuple[Cut, ...], tuple[Offcut, ...]]:
    """Cuts that free every cell, in shop order, and the rectangles left over.

    Parameters
    ----------
    form, width, length
        The piece of stock: full width; cut-off length of a coil, or the sheet's length. Graduations.
    cells : sequence of Cell
    limits : ShearLimits
    keeps : callable
        Whether a leftover of this width and length is worth keeping.
    first : {"x", "y"}, optional
        Axis tried first: "x" rips along the length, "y" crosscuts.
    trims_first : bool
        Trims too narrow to hold come off before the strips beside them, not after.

    Raises
    ------
    NotCuttableError
    """
    work = _Work(limits=limits, keeps=keeps, budget=20_000, trims_first=trims_first)
    root = Region(0, 0, width, length)
    numbered = _numbered(cells)
    steps: list[_Step] = []
    if form == "coil":
        if width > limits.longest_cut:
            raise NotCuttableError("the coil is wider than the longest cut")
        gauge = None if limits.cut_off_to_mark else length
        if gauge is not None and gauge > limits.reach:
            raise NotCuttableError("the panel is longer than the back gauge reaches")
        cut = Cut(
            step=1,
            start=(float(width), float(length)),
            end=(0.0, float(length)),
            back_gauge=gauge,
            held=max(limits.least_held, 1),
            stage=0,
            on=None,
            falls=_metal(work, root, numbered),
            stays=None,
            after=None,
        )
        steps.append(_Step(cut, 0))
    found = _divide(work, root, numbered, first or "x", 1)
    if found is None:
        raise NotCuttableError("no order of cuts stays within the shear's limits")
    more, offcuts = found
    steps += sorted(more, key=lambda s: s.stage)
    ordered = sorted(offcuts, key=lambda o: (not o.keep, -o.width * o.length, o.x, o.y))
    return _chained(steps), tuple(ordered)


def _numbered(cells: Sequence[Cell]) -> tuple[Cell, ...]:
    """The cells with the place of their first blank among all blanks."""
    out, first = [], 0
    for cell in cells:
        out.append(replace(cell, first=first))
        first += len(cell.blanks)
    return tuple(out)


def _chained(steps: Sequence[_Step]) -> tuple[Cut, ...]:
    """The cuts numbered, each with the one that freed its metal; metal that is cut again is a piece, not a blank."""
    again = {s.cut.on.outline for s in steps if s.cut.on is not None}
    if steps and steps[0].cut.on is None and len(steps) > 1:
        again.add(steps[0].cut.falls.outline)
    freed: dict[tuple[XY, ...], int] = {}

    def told(part: Part | None) -> Part | None:
        if part is None or not part.blanks:
            return part
        return replace(part, use="piece" if part.outline in again else "blank")

    out = []
    for n, s in enumerate(steps, start=1):
        falls = told(s.cut.falls)
        assert falls is not None
        after = None if s.cut.on is None else freed.get(s.cut.on.outline)
        cut = replace(
            s.cut, step=n, stage=s.stage, on=told(s.cut.on), falls=falls, stays=told(s.cut.stays), after=after
        )
        freed |= {part.outline: n for part in (cut.falls, cut.stays) if part is not None}
        out.append(cut)
    return tuple(out)


def _divide(work: _Work, region: Region, cells: tuple[Cell, ...], first: Axis, stage: int) -> _Plan | None:
    """All cuts inside a region, or None when the limits forbid every order tried."""
    width, length = region.x1 - region.x0, region.y1 - region.y0
    if not cells:
        keep = work.keeps(width, length)
        return [], [Offcut(x=region.x0, y=region.y0, width=width, length=length, keep=keep)]
    cell = cells[0]
    if len(cells) == 1 and (cell.x, cell.y, cell.width, cell.length) == (region.x0, region.y0, width, length):
        if cell.inside is None:
            return [], []
        return [_Step(c, c.stage) for c in cell.inside(stage, cell.first)], []
    work.budget -= 1
    if work.budget < 0:
        return None
    other: Axis = "y" if first == "x" else "x"
    trims: tuple[tuple[Axis, Which], ...] = ((first, "head"), (other, "head"), (first, "tail"), (other, "tail"))
    for axis, which in (*_tails(work, region, cells, first), (first, "all"), (other, "all"), *trims):
        parts = _parts(region, cells, axis, work.limits.kerf, which)
        if len(parts) < 2 and not _swallowed(region, parts, axis):
            continue
        found = _make(work, region, parts, axis, stage)
        if found is not None:
            return found
    return None


def _make(work: _Work, region: Region, parts: list[_Part], axis: Axis, stage: int) -> _Plan | None:
    cuts = _sequence(work, region, parts, axis)
    if cuts is None:
        parts = _sliced(work, parts)
        cuts = _sequence(work, region, parts, axis)
        if cuts is None:
            return None
    steps = [_Step(c, stage) for c in cuts]
    offcuts: list[Offcut] = []
    other: Axis = "y" if axis == "x" else "x"
    for low, high, inside in parts:
        found = _divide(work, region.part(axis, low, high), inside, other, stage + 1)
        if found is None:
            return None
        steps += found[0]
        offcuts += found[1]
    return steps, offcuts


def _tails(work: _Work, region: Region, cells: tuple[Cell, ...], first: Axis) -> Iterable[tuple[Axis, Which]]:
    """Cut a worthwhile leftover off in one piece before anything else, when that leaves more of it."""
    kerf = work.limits.kerf
    sizes: dict[Axis, int] = {}
    for axis in ("x", "y"):
        _, high = region.span(axis)
        end = max((c.x + c.width) if axis == "x" else (c.y + c.length) for c in cells)
        rest = high - end - kerf
        if rest > 0 and work.keeps(rest, region.across(axis)):
            sizes[axis] = rest * region.across(axis)
    best = max(sizes, key=lambda a: (sizes[a], a == first), default=None)
    return [] if best is None else [(best, "tail")]


def _parts(region: Region, cells: tuple[Cell, ...], axis: Axis, kerf: int, which: Which) -> list[_Part]:
    """Slices of a region between the cuts that cross no cell, low to high; empty slices are waste.

    `which` cuts: all of them, or only the one that trims the head or the tail.
    """
    low, high = region.span(axis)
    spans = sorted(((c.x, c.x + c.width) if axis == "x" else (c.y, c.y + c.length)) + (n,) for n, c in enumerate(cells))
    end = max(s[1] for s in spans)
    parts: list[_Part] = []
    if which == "head":
        head = spans[0][0]
        return [(low, head - kerf, ()), (head, high, cells)] if head - kerf > low else [(head, high, cells)]
    if which == "tail":
        return [(low, end, cells), (end + kerf, high, ())] if high - end > kerf else [(low, end, cells)]
    if spans[0][0] - kerf > low:
        parts.append((low, spans[0][0] - kerf, ()))
        low = spans[0][0]
    start, reach = low, spans[0][1]
    group = [spans[0][2]]
    for lo, hi, n in spans[1:]:
        if lo >= reach + kerf and lo > start:
            parts.append((start, reach, tuple(cells[m] for m in sorted(group))))
            if lo - reach > 2 * kerf:
                parts.append((reach + kerf, lo - kerf, ()))
                start = lo
            else:
                start = reach + kerf
            group = []
        group.append(n)
        reach = max(reach, hi)
    last = tuple(cells[m] for m in sorted(group))
    if high - reach > kerf:
        return [*parts, (start, reach, last), (reach + kerf, high, ())]
    if parts:
        return [*parts, (start, high, last)]
    # Nothing to part: only a trim that the saw turns to dust, one end at a time.
    first = min(s[0] for s in spans)
    return [(first, high, last)] if first > start else [(start, reach, last)]


def _swallowed(region: Region, parts: list[_Part], axis: Axis) -> bool:
    """Whether the only trim on this axis is narrower than the kerf (a saw skims it)."""
    low, high = region.span(axis)
    return bool(parts) and (parts[0][0] > low or parts[-1][1] < high)


def _sliced(work: _Work, parts: list[_Part]) -> list[_Part]:
    """Waste deeper than the back gauge reaches, taken in slices."""
    reach, kerf = work.limits.reach, work.limits.kerf
    out: list[_Part] = []
    for low, high, cells in parts:
        at = low
        while not cells and high - at > reach:
            out.append((at, at + reach, ()))
            at += reach + kerf
        if high > at:
            out.append((at, high, cells))
    return out


def _sequence(work: _Work, region: Region, parts: list[_Part], axis: Axis) -> list[Cut] | None:
    """Order of the cuts between slices: peel from the low end, from the high end, else split in between."""
    if region.across(axis) > work.limits.longest_cut:
        return None
    if len(parts) == 1:
        skim = _skim(work, region, axis, parts[0])
        return None if skim is None else [skim]
    low, high = region.span(axis)
    last = len(parts) - 1
    choice: dict[tuple[int, int], tuple[int, _Way] | None] = {}

    def ends(i: int, j: int) -> tuple[int, int]:
        return low if i == 0 else parts[i][0], high if j == last else parts[j][1]

    def works(i: int, j: int) -> bool:
        """Whether slices i..j, still in one piece, can be parted."""
        if i == j:
            return True
        if (i, j) not in choice:
            choice[i, j] = None
            # A trim too narrow to hold has a gauge of its own: taken first, the strips beside it share the next.
            thin = work.trims_first and not parts[j][2] and parts[j][1] - parts[j][0] < work.limits.least_held
            ends_first = (j - 1, i) if thin else (i, j - 1)
            for s in dict.fromkeys((*ends_first, *range(i + 1, j - 1))):
                way = _way(work, axis, ends(i, j), parts, (i, s, j))
                if way is not None and works(i, s) and works(s + 1, j):
                    choice[i, j] = (s, way)
                    break
        return choice[i, j] is not None

    if not works(0, last):
        return None
    cuts: list[Cut] = []
    todo = [(0, last)]
    while todo:
        i, j = todo.pop()
        made = choice.get((i, j)) if i < j else None
        if made is not None:
            s, way = made
            sides = [
                _metal(work, region.part(axis, *ends(a, b)), tuple(c for p in parts[a : b + 1] for c in p[2]))
                for a, b in ((i, j), (i, s), (s + 1, j))
            ]
            cuts.append(_line(region, axis, parts[s][1], way, sides[0], sides[1:]))
            todo += [(s + 1, j), (i, s)]
    return cuts


def _way(work: _Work, axis: Axis, span: tuple[int, int], parts: list[_Part], at: tuple[int, int, int]) -> _Way | None:
    """How slices s and s + 1 of the piece holding slices a..b are parted (`at`); None: the limits forbid it."""
    limits = work.limits
    a, s, b = at
    low, high = span
    line = parts[s][1]
    below, above = line - low, high - parts[s + 1][0]
    below_cells = [c for p in parts[a : s + 1] for c in p[2]]
    above_cells = [c for p in parts[s + 1 : b + 1] for c in p[2]]
    ways: list[tuple[bool, int | None, int, bool]] = []
    grip = _grip(limits, below_cells, axis), _grip(limits, above_cells, axis)
    if limits.least_gauge <= below <= limits.reach and above >= grip[1]:
        ways.append((not below_cells, below, above, True))
    if limits.least_gauge <= above <= limits.reach and below >= grip[0]:
        ways.append((not above_cells, above, below, False))
    if not ways:  # a trim too thin to gauge is cut to a line, the wide piece on the table
        if not below_cells and limits.least_scribed <= below < limits.least_gauge and above >= grip[1]:
            ways.append((True, None, above, True))
        if not above_cells and limits.least_scribed <= above < limits.least_gauge and below >= grip[0]:
            ways.append((True, None, below, False))
    if not ways:
        return None
    return min(ways, key=lambda w: (w[0], not w[3] if s == a else w[3], w[1] or 0))[1:]


def _grip(limits: ShearLimits, cells: Sequence[Cell], axis: Axis) -> int:
    """Least width that must lie in front of the blade: a narrow blank is held by its own width, scrap is not."""
    own = [c.width if axis == "x" else c.length for c in cells]
    return min([limits.least_held, *own])


def _skim(work: _Work, region: Region, axis: Axis, part: _Part) -> Cut | None:
    """A saw cut that turns a waste narrower than its kerf to dust: the piece lies against the gauge."""
    low, high = region.span(axis)
    leading = part[0] > low
    size, line = (high - part[0], part[0]) if leading else (part[1] - low, part[1])
    if size < work.limits.least_held:
        return None
    gauge = size if size <= work.limits.reach else None
    trim, rest = ((low, line), (line, high)) if leading else ((line, high), (low, line))
    on, stays = _metal(work, region, part[2]), _metal(work, region.part(axis, *rest), part[2])
    dust = Part(outline=region.part(axis, *trim).outline(), blanks=(), use="dust")
    cut = _line(region, axis, line, (gauge, size, True), on, (dust, stays))
    return replace(cut, start=cut.end, end=cut.start) if leading else cut  # the kerf lies on the trim's side


def _line(region: Region, axis: Axis, at: int, way: _Way, on: Part, sides: Sequence[Part]) -> Cut:
    """A cut along one axis of a region; `sides` are the two parts, the low one first."""
    if axis == "x":
        start, end = (float(at), float(region.y0)), (float(at), float(region.y1))
    else:
        start, end = (float(region.x1), float(at)), (float(region.x0), float(at))
    gauge, held, low_drops = way
    falls, stays = sides if low_drops else sides[::-1]
    return Cut(step=1, start=start, end=end, back_gauge=gauge, held=held, on=on, falls=falls, stays=stays, after=None)


def _metal(work: _Work, region: Region, cells: Sequence[Cell]) -> Part:
    """A rectangle of metal; whether one with blanks is cut further is told when all cuts are known."""
    blanks = tuple(n for c in cells for n in range(c.first, c.first + len(c.blanks)))
    use: Use = "piece"
    if not blanks:
        use = "keep" if work.keeps(region.x1 - region.x0, region.y1 - region.y0) else "scrap"
    return Part(outline=region.outline(), blanks=blanks, use=use)
