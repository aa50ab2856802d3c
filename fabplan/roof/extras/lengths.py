"""Lengths of edge metal that divide the measured edges: one length a mark, with least metal and few laps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from fabplan.job.model import Job, SectionPiece
from fabplan.roof.extras.edges import pieces_for
from fabplan.roof.model import EdgeRun
from fabplan.units import NM_PER_INCH, Nm, inches, to_grid

EACH = 6.0  # inches of strip a further piece must save: it is bent, lapped and nailed (common practice, no source)
MOST_MORE = 3  # pieces over the fewest tried in a run


def fitted(runs: Sequence[EdgeRun], job: Job) -> tuple[tuple[EdgeRun, ...], tuple[tuple[str, Nm], ...]]:
    """The runs with the length chosen for each mark, and the lengths chosen where they differ from the typed ones."""
    if job.roof.lengths == "as typed":
        return tuple(runs), ()
    chosen: dict[str, Nm] = {}
    for mark in dict.fromkeys(r.mark for r in runs if r.mark):
        piece = next(p for p in job.pieces if p.mark == mark)
        if isinstance(piece, SectionPiece):
            found = _best([r for r in runs if r.mark == mark], longest(piece, job), int(job.info.round_to))
            if found is not None and found < piece.length:
                chosen[mark] = found
    out = [_at(r, inches(chosen[r.mark])) if r.mark in chosen else r for r in runs]
    return tuple(out), tuple(sorted(chosen.items()))


def _at(run: EdgeRun, stock: float) -> EdgeRun:
    return replace(run, stock=stock, pieces=pieces_for(run.length, stock, run.lap))


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


def _best(runs: Sequence[EdgeRun], most: float, grid: int) -> Nm | None:
    """The length that takes least strip in all, every piece counted as some inches more; None when none will do."""
    lengths = {int(most * NM_PER_INCH + 1e-3) // grid * grid}
    for run in runs:
        if run.lap >= most:
            return None
        fewest = pieces_for(run.length, most, run.lap)
        for n in range(fewest, fewest + MOST_MORE + 1):
            exact = Fraction((run.length + (n - 1) * run.lap) / n) * NM_PER_INCH
            lengths.add(to_grid(exact - Fraction(1, 1000), grid, "up") * grid)
    fits = [n for n in lengths if n / NM_PER_INCH <= most + 1e-9 and all(n / NM_PER_INCH > r.lap for r in runs)]

    def takes(nm: int) -> tuple[float, int]:
        count = sum(r.times * pieces_for(r.length, nm / NM_PER_INCH, r.lap) for r in runs)
        return round(count * (nm / NM_PER_INCH + EACH), 6), count

    return Nm(min(fits, key=lambda n: (*takes(n), n))) if fits else None


def with_lengths(job: Job, lengths: Sequence[tuple[str, int]]) -> Job:
    """The job with the lengths chosen for its roof."""
    chosen = dict(lengths)
    if not chosen:
        return job
    pieces = tuple(p.model_copy(update={"length": Nm(chosen[p.mark])}) if p.mark in chosen else p for p in job.pieces)
    return job.model_copy(update={"pieces": pieces})
