"""Kits: pieces that go up together, by course, within a count and a weight."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from fabplan import plane
from fabplan.blanks.model import FlatPattern
from fabplan.job.model import Job
from fabplan.roof.model import Kit, KitItem, LaidPiece, OffFall, SlopeLayout
from fabplan.roof.parts.off_falls import spare_for

DEFAULT_PIECES = 120  # common practice, no source

_Key = tuple[str, str, int]  # mark, kind, shape


@dataclass(slots=True)
class _Load:
    """Pieces gathered so far."""

    items: dict[_Key, int]
    pieces: int = 0
    pounds: float = 0.0
    spare: int = 0

    def add(self, key: _Key, count: int, each: float) -> None:
        self.items[key] = self.items.get(key, 0) + count
        self.pieces += count
        self.pounds += count * each

    def add_spare(self, count: int, each: float) -> None:
        self.spare += count
        self.pieces += count
        self.pounds += count * each


def kit_limit(job: Job) -> tuple[int, float | None]:
    """Most pieces and most pounds of one kit."""
    most = job.roof.kit_pieces or job.handling.carry_count or DEFAULT_PIECES
    return most, None if job.handling.lift_limit is None else float(job.handling.lift_limit)


def piece_weight(piece: LaidPiece, patterns: Mapping[str, FlatPattern]) -> float:
    """Pounds of one piece: its blank's weight, or for a cut piece its share of the blank's area."""
    pattern = patterns[piece.mark]
    if not piece.metal or piece.shape == 0:
        return pattern.weight
    return pattern.weight * min(1.0, abs(plane.area(piece.metal)) / abs(plane.area(pattern.outline)))


def pack_kits(
    layouts: Sequence[SlopeLayout],
    patterns: Mapping[str, FlatPattern],
    limit: tuple[int, float | None],
    off_falls: Sequence[OffFall] = (),
) -> tuple[Kit, ...]:
    """Consecutive courses of all slopes of one entry, until a limit; a course too big alone goes slope by slope.

    Pieces got from off-falls do not go up; whole spare ones do, one for each ten of them over all courses so far.
    """
    kits: list[Kit] = []
    saved: Counter[str] = Counter()
    given: Counter[str] = Counter()
    for entry in dict.fromkeys(layout.slope.entry for layout in layouts):
        group = [layout for layout in layouts if layout.slope.entry == entry]
        mine = [o for o in off_falls if any(o.slope == layout.slope.name for layout in group)]
        mark = group[0].slope.piece
        over: dict[int, int] = {}
        for course in sorted({o.course for o in mine}):
            saved[mark] += sum(o.times for o in mine if o.course == course)
            over[course] = spare_for(saved[mark]) - given[mark]
            given[mark] += over[course]
        group = [without(layout, mine) for layout in group]
        kits += _label(entry, _pack(entry, group, patterns, limit, over))
    return tuple(kits)


def without(layout: SlopeLayout, off_falls: Sequence[OffFall]) -> SlopeLayout:
    """The layout less its pieces that are got from off-falls."""
    gone = {o.second for o in off_falls if o.slope == layout.slope.name}
    return replace(layout, pieces=tuple(p for n, p in enumerate(layout.pieces) if n not in gone)) if gone else layout


def _lots(
    layout: SlopeLayout, course: int, patterns: Mapping[str, FlatPattern]
) -> tuple[dict[_Key, int], dict[_Key, float]]:
    counts: dict[_Key, int] = {}
    weights: dict[_Key, float] = {}
    for p in layout.pieces:
        if p.course == course and layout.to_lay(course):
            key = (p.mark, p.kind, p.shape)
            counts[key] = counts.get(key, 0) + 1
            weights[key] = max(weights.get(key, 0.0), piece_weight(p, patterns))
    return counts, weights


def _pack(
    entry: str,
    group: Sequence[SlopeLayout],
    patterns: Mapping[str, FlatPattern],
    limit: tuple[int, float | None],
    over: Mapping[int, int],
) -> list[Kit]:
    """Kits of one entry; `over` = whole spare pieces that go up with a course."""
    most, heaviest = limit
    each = patterns[group[0].slope.piece].weight

    def fits(load: _Load, pieces: int, pounds: float) -> bool:
        return load.pieces + pieces <= most and (heaviest is None or load.pounds + pounds <= heaviest + 1e-9)

    kits: list[Kit] = []
    open_load, first, last = _Load({}), 0, 0
    courses = sorted({c.course for layout in group for c in layout.courses})
    names = tuple(layout.slope.name for layout in group)
    for course in courses:
        lots = [(layout, *_lots(layout, course, patterns)) for layout in group]
        pieces = sum(sum(c.values()) * layout.slope.times for layout, c, _ in lots)
        pounds = sum(sum(n * w[k] for k, n in c.items()) * layout.slope.times for layout, c, w in lots)
        spare = over.get(course, 0)
        pieces, pounds = pieces + spare, pounds + spare * each
        if not pieces:
            continue
        if open_load.pieces and not fits(open_load, pieces, pounds):
            kits.append(_kit(entry, names, first, last, (1, 1), open_load, heaviest))
            open_load = _Load({})
        if not fits(_Load({}), pieces, pounds):
            kits += _split(entry, lots, course, limit)
            continue
        if not open_load.pieces:
            first = course
        last = course
        for layout, counts, weights in lots:
            for key, n in counts.items():
                open_load.add(key, n * layout.slope.times, weights[key])
        open_load.add_spare(spare, each)
    if open_load.pieces:
        kits.append(_kit(entry, names, first, last, (1, 1), open_load, heaviest))
    return kits


def _split(
    entry: str,
    lots: Sequence[tuple[SlopeLayout, dict[_Key, int], dict[_Key, float]]],
    course: int,
    limit: tuple[int, float | None],
) -> list[Kit]:
    """One course in several kits: whole slopes together where they fit, else piece by piece."""
    most, heaviest = limit
    loads: list[tuple[_Load, list[str]]] = [(_Load({}), [])]

    def room(load: _Load, pieces: int, pounds: float) -> bool:
        return load.pieces + pieces <= most and (heaviest is None or load.pounds + pounds <= heaviest + 1e-9)

    for layout, counts, weights in lots:
        pieces = sum(counts.values())
        pounds = sum(n * weights[k] for k, n in counts.items())
        for _ in range(layout.slope.times):
            load, names = loads[-1]
            if load.pieces and not room(load, pieces, pounds):
                loads.append((_Load({}), []))
            for key in sorted(counts):
                for _one in range(counts[key]):
                    load, names = loads[-1]
                    if load.pieces and not room(load, 1, weights[key]):
                        loads.append((_Load({}), []))
                        load, names = loads[-1]
                    load.add(key, 1, weights[key])
                    if layout.slope.name not in names:
                        names.append(layout.slope.name)
    return [
        _kit(entry, tuple(names), course, course, (i + 1, len(loads)), load, heaviest)
        for i, (load, names) in enumerate(loads)
    ]


def _kit(
    entry: str,
    slopes: tuple[str, ...],
    first: int,
    last: int,
    part: tuple[int, int],
    load: _Load,
    heaviest: float | None,
) -> Kit:
    return Kit(
        label="",
        entry=entry,
        slopes=slopes,
        first_course=first,
        last_course=last,
        part=part,
        items=tuple(
            KitItem(mark=mark, kind=kind, shape=shape, count=n)  # type: ignore[arg-type]
            for (mark, kind, shape), n in sorted(load.items.items())
        ),
        pieces=load.pieces,
        pounds=load.pounds,
        spare=load.spare,
        over=heaviest is not None and load.pounds > heaviest + 1e-9,
    )


def _label(entry: str, kits: Sequence[Kit]) -> list[Kit]:

    out = []
    for n, kit in enumerate(kits, start=1):
        span = (
            f"course {kit.first_course}"
            if kit.first_course == kit.last_course
            else f"courses {kit.first_course} to {kit.last_course}"
        )
        part = "" if kit.part == (1, 1) else f", part {kit.part[0]} of {kit.part[1]}"
        out.append(replace(kit, label=f"{entry}: kit {n} of {len(kits)}, {span}{part}"))
    return out
