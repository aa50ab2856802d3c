"""`fabplan best-size`: which finished size of a diamond takes least metal on which stock.

The number of blanks comes from the roof when the job has slopes, else from the area the asked pieces cover. Metal is
counted for one kind of blank in plain strips: the size is chosen by how it divides the stock's width and by its hems;
the mixed plan of `fabplan nest` then saves a little more on any size. Sizes are compared as bought metal for each
square (100 sq ft) of roof.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import ceil, cos, radians, sin

from fabplan.blanks.develop import develop
from fabplan.blanks.model import FlatPattern
from fabplan.errors import FabplanError, JobError, PlanError
from fabplan.job.metals import MetalProfile
from fabplan.job.model import CutPiece, DiamondPiece, Job, Stock
from fabplan.roof.extras.made_up import without_made_up
from fabplan.roof.extras.roof_bends import with_roof_bends
from fabplan.roof.lay.courses import close_up
from fabplan.roof.plan import plan_roof
from fabplan.shop.choices import metal_of
from fabplan.units import NM_PER_INCH, Nm, inches

SQUARE = 14_400.0  # square inches in a roofing square
SPARE = 1 / 16  # inches: common practice, no source
HANDY = (8.0, 12.0)  # blank sides in use, inches: Copper Development Association handbook, section 12.6


@dataclass(frozen=True, slots=True, kw_only=True)
class OnStock:
    """One size on one stock line: blanks across a strip (or on a sheet), metal for each square of roof."""

    stock: str
    across: int
    metal_per_square: float  # square inches of stock bought for 100 sq ft of roof; inf when the blank does not fit
    bought: float  # square inches
    spare: float | None = None  # inches of a coil's width left over


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeRow:
    """One finished size (inches): its blank, how many it takes, and what each stock gives."""

    side: float
    side_nm: int
    top_angle: float
    blank_side: float
    strip: float
    pieces: int
    courses: float
    even: bool
    hem_factor: float
    handy: bool
    on: tuple[OnStock, ...]

    @property
    def best(self) -> OnStock:
        """The stock that takes least."""
        return min(self.on, key=lambda o: (o.metal_per_square, o.stock))


@dataclass(frozen=True, slots=True, kw_only=True)
class Suggestion:
    """A size worth changing to: `saves` is the share of bought metal saved against the asked size on its best stock;
    `of_that_bigger` the part due to the hems' smaller share of a bigger piece, the rest is how the width divides."""

    row: SizeRow
    stock: str
    saves: float
    of_that_bigger: float
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeSweep:
    """All rows, the asked one, the sweet spots of each stock (indices into `rows`), and at most three suggestions."""

    mark: str
    rows: tuple[SizeRow, ...]
    asked: SizeRow
    sweet: tuple[tuple[str, tuple[int, ...]], ...]
    suggestions: tuple[Suggestion, ...]
    says: tuple[str, ...]


def diamond_of(job: Job, mark: str | None) -> DiamondPiece:
    """The diamond to size: the named one, or the only one."""
    diamonds = [p for p in job.pieces if isinstance(p, DiamondPiece)]
    if mark is not None:
        for p in diamonds:
            if p.mark == mark:
                return p
        raise JobError(
            "only a diamond's size can be chosen",
            file=job.file,
            key="--piece",
            value=mark,
            write=" or ".join(p.mark for p in diamonds) or "the mark of a diamond",
        )
    if len(diamonds) != 1:
        raise JobError(
            "the job has no diamond to size" if not diamonds else "the job has several diamonds",
            file=job.file,
            key="--piece",
            write="the mark of one diamond" + (f": {', '.join(p.mark for p in diamonds)}" if diamonds else ""),
        )
    return diamonds[0]


def with_size(job: Job, piece: DiamondPiece, side: Nm, top_angle: float) -> Job:
    """The job with this diamond at another finished size; its parts follow."""
    new = piece.model_copy(update={"side": side, "blank": None, "top_angle": top_angle})
    return job.model_copy(update={"pieces": tuple(new if p.mark == piece.mark else p for p in job.pieces)})


def metal_on(stock: Stock, pattern: FlatPattern, pieces: int) -> tuple[int, float]:
    """Blanks across a strip (on a sheet) and square inches of stock taken by `pieces` equal blanks cut in strips."""
    width = (int(stock.width) - 2 * int(stock.trim_each_edge)) / NM_PER_INCH
    full = int(stock.width) / NM_PER_INCH
    strip = pattern.width_units * pattern.grid / NM_PER_INCH
    along = pattern.length_units * pattern.grid / NM_PER_INCH
    # A rhombic blank's strip loses one slant at its end.
    lattice = pattern.lattice
    slant = strip / abs(_tan(lattice.top_angle)) if lattice and abs(lattice.top_angle - 90) > 1e-9 else 0.0
    n = int((width + 1e-9) // strip)
    if n == 0:
        return 0, float("inf")
    if stock.form == "coil":
        longest = (int(stock.longest_cut_off) if stock.longest_cut_off else 120 * NM_PER_INCH) / NM_PER_INCH
        in_row = int((longest - slant + 1e-9) // along)
        if in_row < 1:
            return 0, float("inf")
        rows = ceil(pieces / n)
        panels = ceil(rows / in_row)
        return n, full * (rows * along + panels * slant)
    assert stock.length is not None
    length = (int(stock.length) - 2 * int(stock.trim_each_edge)) / NM_PER_INCH
    best = 0
    for across, run in ((width, length), (length, width)):
        best = max(best, int((across + 1e-9) // strip) * max(0, int((run - slant + 1e-9) // along)))
    if best == 0:
        return 0, float("inf")
    return best, ceil(pieces / best) * full * int(stock.length) / NM_PER_INCH


def _tan(degrees_: float) -> float:
    return sin(radians(degrees_)) / cos(radians(degrees_))


Counter = Callable[[Job, tuple[FlatPattern, ...], FlatPattern], tuple[int, float, bool]]


def count_on_roof(job: Job, patterns: tuple[FlatPattern, ...], pattern: FlatPattern) -> tuple[int, float, bool]:
    """Blanks, most courses on a slope, and whether all courses come out even, from the measured roof.

    Starters and halves with marks of their own count by the area of their blank.
    """
    roof = plan_roof(job, patterns)
    counts = dict(roof.counts)
    parts = {p.mark for p in job.pieces if isinstance(p, CutPiece) and p.for_ == pattern.mark}
    whole = pattern.width_units * pattern.length_units
    area = sum((counts.get(p.mark, 0) * p.width_units * p.length_units for p in patterns if p.mark in parts), start=0)
    mine = [s for s in roof.slopes if s.slope.piece == pattern.mark]
    lattice = pattern.lattice
    if not mine or lattice is None:
        raise PlanError(f"No slope is laid with {pattern.mark}.")
    tall = [max(y for _, y in s.slope.outline) / lattice.course for s in mine]
    even = all(close_up(t * lattice.course, lattice, inches(job.roof.least_hook)).allowed for t in tall)
    return counts.get(pattern.mark, 0) + ceil(area / whole), float(max(ceil(t - 1e-9) for t in tall)), even


def count_by_area(area: float) -> Counter:
    """Count pieces by the area they cover: for jobs with counts instead of slopes."""

    def count(_job: Job, _patterns: tuple[FlatPattern, ...], pattern: FlatPattern) -> tuple[int, float, bool]:
        return ceil(area / pattern.finished.covers_area - 1e-9), 0.0, False

    return count


def sweep(
    job: Job,
    metals: Mapping[str, MetalProfile],
    *,
    mark: str | None = None,
    least: Nm | None = None,
    most: Nm | None = None,
    step: Nm | None = None,
    angles: Sequence[float] = (),
    done: Callable[[int, int], None] | None = None,
) -> SizeSweep:
    """Sweep the finished side (and top angle) of one diamond over every coil and sheet of its metal.

    Limits default to two inches (50 mm) either side of the asked size; the step to the least multiple of the shop's
    graduation that gives at most 65 sizes.
    """
    job = with_roof_bends(without_made_up(job))
    piece = diamond_of(job, mark)
    asked_pattern = next(p for p in develop(job, metals) if p.mark == piece.mark)
    grid = int(job.info.round_to)
    asked_side = round(asked_pattern.finished.side * NM_PER_INCH) if piece.side is None else int(piece.side)
    low = int(least) if least is not None else max(grid, asked_side - 2 * NM_PER_INCH)
    high = int(most) if most is not None else asked_side + 2 * NM_PER_INCH
    if low > high or low <= 0:
        raise JobError("the least size must be above 0 and not above the most", key="--from, --to", file=job.file)
    jump = int(step) if step is not None else grid * max(1, ceil((high - low) / grid / 64))
    if jump <= 0 or (high - low) // jump > 2_000:
        raise JobError("a sweep takes at most 2000 sizes", key="--step", file=job.file, write="a larger step")
    stock = [s for s in job.stock if s.form != "offcut" and metal_of(s, job) == (piece.metal or job.metal.use)]
    if not stock:
        raise JobError("the job lists no coil or sheet of this diamond's metal", file=job.file, key="[[stock]]")
    area = asked_pattern.count * asked_pattern.finished.covers_area
    laid = any(slope.piece == piece.mark for slope in job.slopes)  # a job may count one diamond and lay another
    counter = count_on_roof if laid else count_by_area(area)
    roof_area = _roof_area(job, metals, piece.mark) if laid else area
    sizes = sorted({*range(low, high + 1, jump), asked_side})
    turned = sorted({float(a) for a in angles} or {piece.top_angle})
    rows: list[SizeRow] = []
    asked_row: SizeRow | None = None
    todo = [(a, s) for a in sorted({*turned, piece.top_angle}) for s in sizes if a in turned or s == asked_side]
    for i, (angle, side) in enumerate(todo):
        row = _row(with_size(job, piece, Nm(side), angle), piece.mark, side, stock, metals, counter, roof_area)
        if row is not None:
            rows.append(row)
            if side == asked_side and angle == piece.top_angle:
                asked_row = row
        if done:
            done(i + 1, len(todo))
    if asked_row is None:
        raise JobError("the asked size itself cannot be made", file=job.file, key=f'piece "{piece.mark}"')
    return _judge(piece.mark, tuple(rows), asked_row, job.info.units)


def _roof_area(job: Job, metals: Mapping[str, MetalProfile], mark: str) -> float:
    roof = plan_roof(job, develop(job, metals))
    return sum(s.net_area * s.slope.times for s in roof.slopes if s.slope.piece == mark)


def _row(
    trial: Job,
    mark: str,
    side: int,
    stock: Sequence[Stock],
    metals: Mapping[str, MetalProfile],
    counter: Counter,
    roof_area: float,
) -> SizeRow | None:
    try:
        patterns = develop(trial, metals)
        pattern = next(p for p in patterns if p.mark == mark)
        pieces, courses, even = counter(trial, patterns, pattern)
    except FabplanError:
        return None  # this size cannot be made (hems too wide, say): it is simply not offered
    on = []
    for line in stock:
        across, bought = metal_on(line, pattern, pieces)
        on.append(OnStock(stock=line.name, across=across, metal_per_square=bought / roof_area * SQUARE, bought=bought))
    if all(o.across == 0 for o in on):
        return None
    lattice = pattern.lattice
    assert lattice is not None
    strip = pattern.width_units * pattern.grid / NM_PER_INCH
    blank = pattern.length_units * pattern.grid / NM_PER_INCH
    return SizeRow(
        side=side / NM_PER_INCH,
        side_nm=side,
        top_angle=lattice.top_angle,
        blank_side=blank,
        strip=strip,
        pieces=pieces,
        courses=courses,
        even=even,
        hem_factor=(blank / lattice.exposed) ** 2,
        handy=HANDY[0] <= blank <= HANDY[1],
        on=tuple(on),
    )


def _sweet(rows: Sequence[SizeRow], i: int) -> tuple[int, ...]:
    """Local minima of metal along the sweep, on stock number `i`: the bottoms of the saw-tooth."""
    values = [r.on[i].metal_per_square for r in rows]
    found = []
    for k in range(len(values) - 1):
        left = values[k - 1] if k else float("inf")
        # A tooth: no worse than the size below it, and the next size up costs a whole strip more.
        if values[k] <= left + 1e-9 and values[k] < values[k + 1] * 0.98:
            found.append(k)
    return tuple(found)


def _tight(row: SizeRow) -> str:
    """A warning when the strips leave next to nothing of the width for edge trim, width tolerance and camber."""
    spare = row.best.spare
    return "" if spare is None or spare >= SPARE else "; next to nothing is left for the stock's edges and camber"


def _judge(mark: str, rows: tuple[SizeRow, ...], asked: SizeRow, units: str) -> SizeSweep:
    names = [o.stock for o in asked.on]
    sweet = tuple((name, _sweet(rows, i)) for i, name in enumerate(names))
    base = asked.best.metal_per_square
    out: list[Suggestion] = []
    metric = units == "mm"
    half, whole, handy = ("13 mm", "25 mm", "203 to 305 mm") if metric else ("1/2 in", "1 in", "8 to 12 in")
    for reach, words in ((0.5, f"within {half}"), (1.0, f"within {whole}"), (float("inf"), "in the sweep")):
        near = [r for r in rows if abs(r.side - asked.side) <= reach + 1e-9]
        if not near:
            continue
        best = min(near, key=lambda r: (r.best.metal_per_square, abs(r.side - asked.side)))
        saves = 1 - best.best.metal_per_square / base
        if saves < 0.005 or any(s.row == best for s in out):
            continue
        bigger = max(0.0, 1 - best.hem_factor / asked.hem_factor)
        out.append(
            Suggestion(
                row=best,
                stock=best.best.stock,
                saves=saves,
                of_that_bigger=min(bigger, saves),
                says=f"least metal {words}{_tight(best)}",
            )
        )
    says = []
    if not out:
        says.append("The asked size already sits where its blank divides the stock's width: no size here saves 0.5 %.")
    if not asked.handy:
        says.append(
            f"The asked blank is outside {handy}, the sizes the copper trade's handbook gives for diagonal panels."
        )
    return SizeSweep(mark=mark, rows=rows, asked=asked, sweet=sweet, suggestions=tuple(out), says=tuple(says))
