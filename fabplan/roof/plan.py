"""From the job's slopes to the whole roof: counts, courses, lines, edges, underlayment, fasteners, kits, variation."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from fabplan import plane
from fabplan.blanks.model import FlatPattern, Lattice
from fabplan.errors import JobError
from fabplan.job.model import CutPiece, Job
from fabplan.job.slopes import Slope
from fabplan.roof.count import with_ready
from fabplan.roof.extras.edges import edge_runs
from fabplan.roof.extras.fasteners import count_fasteners
from fabplan.roof.extras.hooking import hook_notes
from fabplan.roof.extras.kits import kit_limit, pack_kits
from fabplan.roof.extras.lengths import fitted
from fabplan.roof.extras.underlayment import underlay
from fabplan.roof.extras.variation import Evenness, greatest_course, vary
from fabplan.roof.extras.variation_model import Variation
from fabplan.roof.lay.hips import refuse_wraps
from fabplan.roof.lay.lattice import Alignment, blank_rhombus
from fabplan.roof.lay.placing import mark_step, place
from fabplan.roof.lay.repeats import choices, repeat_offers
from fabplan.roof.measure.tape import measure_slopes
from fabplan.roof.model import (
    CutShape,
    EdgeRun,
    LaidPiece,
    Measured,
    OffFall,
    Pair,
    PartBlank,
    RoofPlan,
    SlopeLayout,
)
from fabplan.roof.parts.alike import NumberedShapes, alike_within, room_under_cap
from fabplan.roof.parts.off_falls import find_off_falls, saved_by_mark, spare_for
from fabplan.roof.parts.pairing import mirrored, pair_parts, placements
from fabplan.roof.parts.shape_patterns import with_work
from fabplan.roof.remarks import Choice
from fabplan.roof.words import size
from fabplan.units import NM_PER_INCH, inches

_CUT_KINDS = {"starter": "starter", "ridge-half": "ridge-half", "cut-left": "rake-left", "cut-right": "rake-right"}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Parts:
    """Marked layouts of some slopes with their cut shapes and pairs."""

    layouts: tuple[SlopeLayout, ...]
    shapes: tuple[CutShape, ...]
    pairs: tuple[Pair, ...]
    leftover: tuple[PartBlank, ...]

    @property
    def blanks(self) -> Counter[str]:
        """Blanks by mark, pairs taken off."""
        out = pieces_by_mark(self.layouts)
        for pair in self.pairs:
            out[pair.mark] -= pair.times
        return out

    @property
    def cut(self) -> int:
        """Pieces that are not whole."""
        return sum(s.slope.times for s in self.layouts for p in s.pieces if p.kind != "whole")


def plan_roof(job: Job, patterns: Sequence[FlatPattern]) -> RoofPlan:
    """Lay out every slope of a job.

    Parameters
    ----------
    job : Job
    patterns : sequence of FlatPattern
        Flat patterns of the job's pieces; their counts are not used.

    Returns
    -------
    RoofPlan
        `counts` are blanks by mark before spare.

    Raises
    ------
    JobError
        Slopes that do not close, marks that are no diamond or section, a count given twice.
    PlanError
        Wrapped hips that do not meet, nothing left to cover.
    """
    by_mark = {p.mark: p for p in patterns}
    lattices, benches = _diamonds(job, by_mark)
    measured, hips = measure_slopes(job, {m: lattice.lower_allowance for m, lattice in lattices.items()})
    _refuse_unknown_laid(job, [m.name for m in measured])
    chosen = [
        _best([s for s in measured if s.entry == entry.name], entry, lattices[entry.piece], job, by_mark)
        for entry in job.slopes
    ]
    layouts = [layout for parts in chosen for layout in parts.layouts]
    hip_notes = refuse_wraps(tuple(layouts), hips, job)
    parts = chosen[0] if len(chosen) == 1 else mark_parts(layouts, job, by_mark)
    runs, lengths = fitted(edge_runs(parts.layouts, hips, job), job)
    pieces = pieces_by_mark(parts.layouts)
    limit = kit_limit(job)
    off_falls: tuple[OffFall, ...] = ()
    if job.roof.use_off_falls:
        margin = inches(job.roof.off_fall_margin)
        off_falls = find_off_falls(parts.layouts, pack_kits(parts.layouts, by_mark, limit), margin)
    saved = saved_by_mark(off_falls, parts.layouts)
    over = {mark: spare_for(n) for mark, n in saved.items()}
    fasteners = count_fasteners(pieces.total(), runs, job.roof)
    cleats = sum(f.count for f in fasteners if f.what in ("shingle cleats", "cap cleats"))
    plan = RoofPlan(
        counts=_counts(job, parts, runs, Counter({mark: saved[mark] - n for mark, n in over.items()}), cleats),
        pieces=tuple(sorted(pieces.items())),
        slopes=parts.layouts,
        hips=hips,
        shapes=with_work(parts.shapes, by_mark),
        pairs=parts.pairs,
        leftover=parts.leftover,
        off_falls=off_falls,
        off_fall_spare=tuple(sorted(over.items())),
        edge_runs=runs,
        edge_lengths=lengths,
        underlayment=underlay(parts.layouts, job.roof),
        fasteners=fasteners,
        kits=pack_kits(parts.layouts, by_mark, limit, off_falls),
        kit_limit=limit,
        variation=tuple(
            _varied(mark, lattice, parts.layouts, benches[mark], job) for mark, lattice in lattices.items()
        ),
    )
    return replace(
        plan, notes=(*hip_notes, *hook_notes(parts.layouts, job), *_choices(plan, parts, measured, job, by_mark))
    )


def lay_entry(
    job: Job, patterns: Sequence[FlatPattern], name: str, alignment: Alignment | None = None
) -> tuple[tuple[SlopeLayout, ...], tuple[Variation, ...]]:
    """One of a job's slopes as it is laid, by itself, and how much its diamond may vary: for looking at, unproved.

    Parameters
    ----------
    job : Job
    patterns : sequence of FlatPattern
    name : str
        Of the slope.
    alignment : {"point", "joint"}, optional
        What stands on the centre line where the job leaves it to fabplan.

    Raises
    ------
    JobError, PlanError
        As `plan_roof`.
    """
    entry = next(s for s in job.slopes if s.name == name)
    if alignment is not None and (entry.centre or job.roof.centre) == "better":
        entry = entry.model_copy(update={"centre": alignment})
    alone = job.model_copy(update={"slopes": (entry,)})
    by_mark = {p.mark: p for p in patterns}
    lattices, benches = _diamonds(alone, by_mark)
    mark, lattice = entry.piece, lattices[entry.piece]
    measured, _ = measure_slopes(alone, {mark: lattice.lower_allowance})
    layouts = _best(measured, entry, lattice, alone, by_mark).layouts
    return layouts, (_varied(mark, lattice, layouts, benches[mark], alone),)


def _diamonds(job: Job, by_mark: Mapping[str, FlatPattern]) -> tuple[dict[str, Lattice], dict[str, Evenness]]:
    """Lattice of every diamond that is laid, and how evenly it is made."""
    lattices = _lattices(job, by_mark)
    benches = {mark: _bench(job, by_mark[mark]) for mark in lattices}
    for mark, lattice in lattices.items():
        _reachable(job, by_mark[mark], lattice, benches[mark])
    return lattices, benches


def _varied(mark: str, lattice: Lattice, layouts: Sequence[SlopeLayout], bench: Evenness, job: Job) -> Variation:
    return vary(
        mark,
        lattice,
        sum(s.slope.times * len(s.pieces) for s in layouts if s.slope.piece == mark),
        bench,
        least_hook=inches(job.roof.least_hook),
        confidence=float(job.roof.confidence),
    )


def _refuse_unknown_laid(job: Job, names: Sequence[str]) -> None:
    """Refuse courses laid on a slope that is not there."""
    for line in job.laid:
        if line.slope not in names:
            raise JobError(
                "names no slope of the job",
                file=job.file,
                key=f'laid "{line.slope}" > slope',
                write=" or ".join(f'"{n}"' for n in names[:12]),
            )


def _bench(job: Job, pattern: FlatPattern) -> Evenness:
    """How evenly the shop makes this diamond."""
    return Evenness(
        shear=inches(job.spread.shear),
        fold=inches(job.spread.fold),
        play=inches(job.spread.play),
        step=mark_step(job) / NM_PER_INCH,
        rounding=pattern.rounding,
    )


def _reachable(job: Job, pattern: FlatPattern, lattice: Lattice, bench: Evenness) -> None:
    """Refuse a graduation that shears the blanks so short that no lock can be pulled open far enough for the lines."""
    short = lattice.course - greatest_course(lattice, bench)
    if short > 1e-6 and bench.rounding < 0:
        units = job.info.units
        raise JobError(
            f"shears the blank of {pattern.mark} {size(-bench.rounding, units)} short of its exact side: with every "
            f"lock pulled open its courses still end {size(short, units)} below each printed line",
            file=job.file,
            key="job > round_to",
            value=job.show.exact(job.info.round_to),
            write=f"a finer round_to, or for piece {pattern.mark} a side or a blank that lies on it",
        )


def _choices(
    plan: RoofPlan, parts: _Parts, measured: Sequence[Measured], job: Job, by_mark: Mapping[str, FlatPattern]
) -> list[Choice]:
    """Top angles to choose for fewer templates: of each diamond those that suit the slope with most of its pieces."""
    if job.roof.even_courses or job.roof.cut_pieces == "on the roof":
        return []  # closed-up courses repeat at no angle known beforehand; on the roof there are no templates

    def count(mark: str, lattice: Lattice, pattern: FlatPattern) -> tuple[int, int]:
        other = {**by_mark, mark: pattern}
        layouts = [
            layout
            for entry in job.slopes
            if entry.piece == mark
            for layout in _best([s for s in measured if s.entry == entry.name], entry, lattice, job, other).layouts
        ]
        made = mark_parts(layouts, job, other)
        return len(made.shapes), made.blanks[mark]

    offers = {}
    for mark in dict.fromkeys(s.slope.piece for s in plan.slopes):
        main = max((s for s in plan.slopes if s.slope.piece == mark), key=lambda s: s.slope.times * len(s.pieces))
        now = sum(s.mark == mark for s in plan.shapes), parts.blanks[mark]
        offers[main.slope.name] = repeat_offers(main, by_mark[mark], now, count)
    return choices(offers)


def _lattices(job: Job, by_mark: Mapping[str, FlatPattern]) -> dict[str, Lattice]:
    out: dict[str, Lattice] = {}
    seen: set[str] = set()
    for entry in job.slopes:
        key = f'slope "{entry.name}"'
        if entry.name in seen:
            raise JobError("two slopes have this name", file=job.file, key=key, write="another name")
        seen.add(entry.name)
        pattern = by_mark.get(entry.piece)
        if pattern is None or pattern.kind != "diamond" or pattern.lattice is None:
            diamonds = [p.mark for p in by_mark.values() if p.kind == "diamond"]
            raise JobError(
                "names the diamond laid on it, and there is no diamond with this mark",
                file=job.file,
                key=f"{key} > piece",
                value=f'"{entry.piece}"',
                write=" or ".join(f'"{m}"' for m in diamonds) or "the mark of a piece of kind diamond",
            )
        out[entry.piece] = pattern.lattice
    return out


def _best(
    slopes: Sequence[Measured], entry: Slope, lattice: Lattice, job: Job, by_mark: Mapping[str, FlatPattern]
) -> _Parts:
    """Point or joint on the centre line, or the better: fewest blanks, then fewest cut pieces, then the point."""
    asked = entry.centre or job.roof.centre
    tries: tuple[Alignment, ...] = ("point", "joint") if asked == "better" else (asked,)
    best: tuple[tuple[int, int], _Parts] | None = None
    for alignment in tries:
        parts = mark_parts([place(s, entry, lattice, job, alignment) for s in slopes], job, by_mark)
        key = (parts.blanks.total(), parts.cut)
        if best is None or key < best[0]:
            best = key, parts
    if best is None:  # the schema allows no other alignment
        raise ValueError(asked)
    return best[1]


def pieces_by_mark(layouts: Sequence[SlopeLayout]) -> Counter[str]:
    """Finished pieces by the mark of the blank each comes from."""
    out: Counter[str] = Counter()
    for layout in layouts:
        for piece in layout.pieces:
            out[piece.mark] += layout.slope.times
    return out


def mark_parts(layouts: Sequence[SlopeLayout], job: Job, by_mark: Mapping[str, FlatPattern]) -> _Parts:
    """Give every piece its mark and cut shape, and pair the cut shapes."""
    sorters: dict[str, NumberedShapes] = {}
    alike = alike_within(job)
    numbers: dict[tuple[str, int], int] = {}
    templates: dict[int, tuple[str, LaidPiece]] = {}
    made: dict[int, tuple[NumberedShapes, int]] = {}
    seen: Counter[tuple[int, bool]] = Counter()
    marked: list[SlopeLayout] = []
    for layout in layouts:
        diamond = layout.slope.piece
        own: dict[str, str] = {p.kind: p.mark for p in job.pieces if isinstance(p, CutPiece) and p.for_ == diamond}
        sorter = sorters.setdefault(diamond, NumberedShapes())
        pieces = []
        for piece in layout.pieces:
            mark = own.get(_CUT_KINDS.get(piece.kind, "")) if _is_own(piece, layout) else None
            if mark is not None:
                pieces.append(replace(piece, mark=mark))
                continue
            if piece.kind == "whole" or job.roof.cut_pieces == "on the roof":
                pieces.append(replace(piece, mark=diamond))
                continue
            index, flag = sorter.number(piece.metal, room_under_cap(piece, layout, alike))
            number = numbers.setdefault((diamond, index), len(numbers) + 1)
            made[number] = sorter, index
            templates.setdefault(number, (diamond, piece))
            seen[number, flag] += layout.slope.times
            pieces.append(replace(piece, mark=diamond, shape=number, mirrored=flag))
        marked.append(replace(layout, pieces=tuple(pieces), courses=with_ready(layout.courses, pieces, diamond)))
    shapes = tuple(
        _cut_shape(number, by_mark[mark], _sized(piece, made[number]), seen[number, False], seen[number, True])
        for number, (mark, piece) in sorted(templates.items())
    )
    pairs: list[Pair] = []
    leftover: list[PartBlank] = []
    for mark in sorters:
        parts = [
            (s.number, flag, mirrored(s.metal) if flag else s.metal, n)
            for s in shapes
            if s.mark == mark
            for flag, n in ((False, s.same), (True, s.mirrored))
            if n
        ]
        if job.roof.pair:
            ways = placements(
                marked[0].top_angle if len(sorters) == 1 else _angle(marked, mark),
                flips=not job.roof.good_side,
                quarter_turns=by_mark[mark].grain == "any",
            )
            some, rest = pair_parts(mark, parts, ways, abs(plane.area(by_mark[mark].outline)) + 1.0)
            pairs += some
            leftover += rest
        else:
            leftover += [
                PartBlank(mark=mark, shape=shape, mirrored=flag, outline=ring, times=n)
                for shape, flag, ring, n in parts
            ]
    return _Parts(layouts=tuple(marked), shapes=shapes, pairs=tuple(pairs), leftover=tuple(leftover))


def _angle(layouts: Sequence[SlopeLayout], mark: str) -> float:
    return next(layout.top_angle for layout in layouts if layout.slope.piece == mark)


def _is_own(piece: LaidPiece, layout: SlopeLayout) -> bool:
    """Whether a cut piece is exactly a starter, ridge half or rake half, on the edge that piece is made for."""
    if not piece.standard:
        return False
    if piece.kind in ("starter", "ridge-half"):
        return True
    rakes = [e for e in layout.slope.edges if e.kind == "rake"]
    x = piece.centre[0]
    return any(
        abs(e.start[0] - e.end[0]) < 1 and abs((e.start[0] + e.end[0]) / 2 - x) <= abs(e.reach) + 1 for e in rakes
    )


def _sized(piece: LaidPiece, made: tuple[NumberedShapes, int]) -> LaidPiece:
    """The first piece of a shape, with the metal the shape is made with."""
    return replace(piece, metal=made[0].metal(made[1]))


def _cut_shape(number: int, pattern: FlatPattern, piece: LaidPiece, same: int, flipped: int) -> CutShape:
    xs, ys = [p[0] for p in piece.metal], [p[1] for p in piece.metal]
    cx, cy = piece.centre
    return CutShape(
        number=number,
        mark=pattern.mark,
        metal=piece.metal,
        visible=tuple((x - cx, y - cy) for x, y in piece.visible),
        width=max(xs) - min(xs),
        height=max(ys) - min(ys),
        share=piece.share,
        same=same,
        mirrored=flipped,
        blank=blank_rhombus(pattern.lattice) if pattern.lattice is not None else (),
    )


def _counts(
    job: Job, parts: _Parts, runs: Sequence[EdgeRun], saved: Counter[str], cleats: int
) -> tuple[tuple[str, int], ...]:
    """Blanks by mark, those `saved` taken off; a piece with its own `count` must not be counted here too."""
    counts = parts.blanks
    counts.subtract(saved)
    for run in runs:
        if run.mark:
            counts[run.mark] += run.times * run.pieces
    if job.roof.cleat_piece is not None:
        counts[job.roof.cleat_piece] += cleats
    laid = {s.piece for s in job.slopes}
    for piece in job.pieces:
        if piece.mark in laid or (isinstance(piece, CutPiece) and piece.for_ in laid and piece.count is None):
            counts.setdefault(piece.mark, 0)
        if piece.count is not None and counts.get(piece.mark, 0):
            raise JobError(
                f"has a count of {piece.count:,}, and the slopes take {counts[piece.mark]:,}: only one can be right",
                file=job.file,
                key=f'piece "{piece.mark}" > count',
                value=str(piece.count),
                write="no count, to take it from the slopes, or no slope for this piece",
            )
    return tuple(sorted(counts.items()))
