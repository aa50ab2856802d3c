"""Lengths of edge metal that divide the measured edges: as few lengths a mark as pay, with least metal and few laps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import combinations

from fabplan.job.model import Job, SectionPiece
from fabplan.roof.extras.edges import pieces_for
from fabplan.roof.model import EdgeLength, EdgeRun
from fabplan.units import NM_PER_INCH, Nm, inches, to_grid

EACH = 6.0  # inches of strip a further piece must save: it is bent, lapped and nailed (common practice, no source)
ANOTHER = 12.0  # inches a further length of a mark must save: another setting, pile and label (common practice)
MOST_MORE = 3  # pieces over the fewest tried in a run
MOST_LENGTHS = 4  # of one mark: more are mixed up on the roof
PAIRED = 60  # lengths up to which every pair of them is tried


def fitted(runs: Sequence[EdgeRun], job: Job) -> tuple[tuple[EdgeRun, ...], tuple[EdgeLength, ...]]:
    """The runs with the length and the mark chosen for each, and the lengths chosen where they differ from typed ones.

    The longest keeps the mark, each other takes the mark with a number: ``drip``, ``drip-2``.
    """
    if job.roof.lengths == "as typed":
        return tuple(runs), ()
    taken = {p.mark for p in job.pieces}
    chosen: dict[str, list[EdgeLength]] = {}
    for mark in dict.fromkeys(r.mark for r in runs if r.mark):
        piece = next(p for p in job.pieces if p.mark == mark)
        if isinstance(piece, SectionPiece):
            mine = [r for r in runs if r.mark == mark]
            found = _best(mine, longest(piece, job), int(job.info.round_to))
            if found and found != (piece.length,):
                chosen[mark] = _named(piece, sorted(found, reverse=True), taken)
    out = [_at(r, chosen[r.mark]) if r.mark in chosen else r for r in runs]
    return tuple(out), tuple(sorted((x for some in chosen.values() for x in some), key=lambda x: x.mark))


def _named(piece: SectionPiece, lengths: Sequence[Nm], taken: set[str]) -> list[EdgeLength]:
    out = []
    for n, length in enumerate(lengths, 1):
        name = piece.mark if n == 1 else next(m for k in range(n, 1000) if (m := f"{piece.mark}-{k}") not in taken)
        taken.add(name)
        out.append(EdgeLength(mark=name, of=piece.mark, length=length, typed=piece.length))
    return out


def _at(run: EdgeRun, lengths: Sequence[EdgeLength]) -> EdgeRun:
    best, _ = _for_run(run, [Nm(x.length) for x in lengths])
    mark = next(x.mark for x in lengths if x.length == best)
    return replace(run, mark=mark, stock=inches(best), pieces=pieces_for(run.length, inches(best), run.lap))


def _for_run(run: EdgeRun, lengths: Sequence[Nm]) -> tuple[Nm, float]:
    """The length that suits a run best, and the strip it takes, every piece counted as some inches more."""

    def strip(nm: Nm) -> float:
        return pieces_for(run.length, inches(nm), run.lap) * (inches(nm) + EACH)

    best: Nm = min(lengths, key=lambda nm: (round(strip(nm), 6), -nm))
    return best, strip(best)


def longest(piece: SectionPiece, job: Job) -> float:
    """Longest strip of a section made in one, inches: as typed, within brake, shear and the stock it is cut of."""
    metal = piece.metal or job.metal.use
    limits = [inches(piece.length), inches(job.shear.longest_cut)]
    if piece.bends:
        limits.append(inches(job.brake.longest_bend))
    sides = [
        inches(side)
        for s in job.stock
        if (s.metal or job.metal.use) == metal
        for side in (s.width, s.length if s.form != "coil" else s.longest_cut_off)
        if side is not None
    ]
    if sides and not any(s.form == "coil" and s.longest_cut_off is None for s in job.stock):
        limits.append(max(sides))
    return min(limits)


def _best(runs: Sequence[EdgeRun], most: float, grid: int) -> tuple[Nm, ...]:
    """The lengths that take least strip in all, each further one counted as some inches more; none when none will do.

    Every pair of lengths is tried, then further ones are taken while they pay.
    """
    lengths = {int(most * NM_PER_INCH + 1e-3) // grid * grid}
    for run in runs:
        if run.lap >= most:
            return ()
        fewest = pieces_for(run.length, most, run.lap)
        for n in range(fewest, fewest + MOST_MORE + 1):
            exact = Fraction((run.length + (n - 1) * run.lap) / n) * NM_PER_INCH
            lengths.add(to_grid(exact - Fraction(1, 1000), grid, "up") * grid)
    least = max(r.lap for r in runs)
    fits = sorted(Nm(n) for n in lengths if least < n / NM_PER_INCH <= most + 1e-9)
    if not fits:
        return ()

    def takes(some: tuple[Nm, ...]) -> tuple[float, int, tuple[Nm, ...]]:
        strip = sum(r.times * _for_run(r, some)[1] for r in runs)
        return round(strip + ANOTHER * (len(some) - 1), 6), len(some), some

    best: tuple[Nm, ...] = min(((nm,) for nm in fits), key=takes)
    if len(runs) > 1 and len(fits) <= PAIRED:
        pairs: list[tuple[Nm, ...]] = [(a, b) for a, b in combinations(fits, 2)]
        best = min((best, *pairs), key=takes)
    for _ in range(MOST_LENGTHS):
        more = min(((*best, nm) for nm in fits if nm not in best), key=takes, default=best)
        if len(more) > MOST_LENGTHS or takes(more) >= takes(best):
            break
        best = more
    used = {_for_run(r, best)[0] for r in runs}
    return tuple(nm for nm in best if nm in used)


def with_lengths(job: Job, lengths: Sequence[EdgeLength]) -> Job:
    """The job with a piece for each length chosen for its roof, those of a mark one after the other."""
    if not lengths:
        return job
    pieces = []
    for piece in job.pieces:
        mine = [x for x in lengths if x.of == piece.mark]
        pieces += [piece.model_copy(update={"mark": x.mark, "length": Nm(x.length)}) for x in mine] or [piece]
    return job.model_copy(update={"pieces": tuple(pieces)})
