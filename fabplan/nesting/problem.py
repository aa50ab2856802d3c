"""What is to be cut from what: the job's blanks and stock, metal by metal, on the shop's graduation.

Blanks arrive on the grid already (rounded once, where they were developed) and are never rounded again; stock and
the shear's limits round to the safe side. Prices become one exact cost per graduation of coil or per sheet.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Literal

from fabplan import plane
from fabplan.blanks.model import FlatPattern
from fabplan.errors import JobError, PlanError
from fabplan.job.metals import MetalProfile
from fabplan.job.model import Job, RackStock, RectanglePiece, Shear, Stock
from fabplan.job.wording import listed
from fabplan.labour import NO_LABOUR, Labour
from fabplan.nesting.hour import second_cost
from fabplan.units import NM_PER_INCH, NM_PER_MM, to_grid

Form = Literal["coil", "sheet", "offcut"]
Objective = Literal["area", "money"]
PricedHere = Literal["counted", "at its price", "alone"]
XY = tuple[float, float]

POUNDS_PER_KG = 1 / Fraction("0.45359237")
DEFAULT_CUT_OFF = {"in": 120 * NM_PER_INCH, "mm": 3000 * NM_PER_MM}
SCRIBED = NM_PER_INCH // 8  # a thinner trim cannot be brought to the blade by a line: common practice, no source
NEAR = 1e-6  # graduations: two floats this close are one place on the metal


@dataclass(frozen=True, slots=True, kw_only=True)
class Blank:
    """One blank to cut: size in graduations, pieces wanted and how it may lie.

    `lie` is "any"; "along" (its length along the rolling direction); "across"; or "stock" (its length along the
    stock's length whatever the rolling direction: a plain blank that may not turn). `outline` is the convex outline
    the shear can make, in graduations in the blank's frame, or None for a rectangle; `drawn` the pattern's own
    outline. `area` is the area of `outline` in square graduations.
    """

    mark: str
    width: int
    length: int
    count: int
    lie: Literal["any", "along", "across", "stock"] = "any"
    area: float
    outline: tuple[XY, ...] | None = None
    drawn: tuple[XY, ...] | None = None

    def ways(self, stock: StockLine) -> tuple[bool, ...]:
        """Allowed values of "turned" on this stock."""
        if self.lie == "any":
            return (False, True)
        if self.lie == "stock":
            return (False,)
        return ((self.lie == "along") == stock.grain_across,)


@dataclass(frozen=True, slots=True, kw_only=True)
class StockLine:
    """One line of stock in graduations; `cost` and `pounds` per graduation of coil, or per sheet.

    `length` is the sheet's length or the longest panel of a coil. `on_hand` is graduations of coil or a count; None
    = as much as needed. Where so much is `here` and more is bought, the two count at `prices`, and `cost` is that of
    the search.
    """

    name: str
    form: Form
    metal: str
    width: int
    length: int
    trim: int
    on_hand: int | None
    cost: Fraction
    pounds: float
    thickness: float = 0.0  # inches
    grain_across: bool = False
    rack_pieces: tuple[str, ...] = ()
    here: int | None = None
    prices: tuple[Fraction, Fraction] = (Fraction(0), Fraction(0))

    def worth(self, n: int) -> Fraction:
        """What so much of it counts as."""
        if self.here is None:
            return self.cost * n
        return self.prices[0] * min(n, self.here) + self.prices[1] * max(0, n - self.here)

    @property
    def usable_width(self) -> int:
        """Between the trimmed edges."""
        return self.width - 2 * self.trim

    @property
    def usable_length(self) -> int:
        """Between the trimmed ends; a coil has none."""
        return self.length if self.form == "coil" else self.length - 2 * self.trim

    @property
    def cost_per_area(self) -> Fraction:
        """Cost per usable square graduation."""
        area = self.usable_width * (1 if self.form == "coil" else self.usable_length)
        return self.cost / area


@dataclass(frozen=True, slots=True, kw_only=True)
class ShearLimits:
    """The shear in graduations, rounded to the safe side.

    `least_gauge`: smallest back-gauge setting; `least_scribed`: thinnest trim cut to a line, where the gauge does not
    serve; `least_pull`: shortest length pulled off a coil, but for the last.
    """

    longest_cut: int
    reach: int
    cut_off_to_mark: bool
    least_held: int
    angle_stop: tuple[float, float]
    stages: Literal[2, 3]
    kerf: int
    least_gauge: int = 1
    least_scribed: int = 1
    least_pull: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """The blanks of one metal and the stock they may be cut from.

    `labour` are the shop's times, `second` what one second of them costs in the objective's own terms.
    """

    metal: str
    grid: int
    blanks: tuple[Blank, ...]
    stock: tuple[StockLine, ...]
    limits: ShearLimits
    objective: Objective
    keep: tuple[int, int] | None  # short and long side of an offcut worth keeping
    labour: Labour = NO_LABOUR
    second: Fraction = Fraction(0)

    def line(self, name: str) -> StockLine:
        """The stock line with this name."""
        return next(s for s in self.stock if s.name == name)

    def keeps(self, width: int, length: int) -> bool:
        """Whether a leftover of this size goes back on the rack."""
        return (
            self.keep is not None
            and (min(width, length), max(width, length)) >= self.keep
            and (min(width, length) >= self.keep[0] and max(width, length) >= self.keep[1])
        )


class NoRoomError(PlanError):
    """Blanks that fit on no stock; `marks` names them."""

    def __init__(self, what: str, *, help_: str = "", marks: Sequence[str] = ()) -> None:
        self.marks = tuple(marks)
        super().__init__(what, help_=help_)


def build_groups(
    patterns: Sequence[FlatPattern],
    job: Job,
    metals: Mapping[str, MetalProfile],
    *,
    rack: Sequence[Stock] = (),
    here: PricedHere = "counted",
) -> tuple[Group, ...]:
    """Split a job by metal and put everything on its grid.

    Parameters
    ----------
    patterns : sequence of FlatPattern
        Blanks with their counts; patterns with count 0 are left out.
    job : Job
    metals : mapping of profile name to MetalProfile
    rack : sequence of Stock
        Offcuts kept from earlier jobs, offered beside the job's own stock.
    here : {"counted", "at its price", "alone"}
        How metal is looked for that is on hand, counts less than its price (`prefer_on_hand`), and more of it can be
        bought: as though more counted less too, as though it did not, or with no more of it.

    Raises
    ------
    NoRoomError
        A blank's metal has no stock.
    JobError
        A price or amount on hand that does not suit its kind of stock.
    """
    grid = patterns[0].grid if patterns else job.info.round_to
    wanted = [p for p in patterns if p.count > 0]
    limits = shear_limits(job.shear, grid)
    for p in wanted:
        if 2 * limits.kerf >= min(p.width_units, p.length_units):
            raise JobError(
                f'must be less than half the narrower side of blank "{p.mark}"', file=job.file, key="shear > kerf",
                write="the saw's own kerf, or 0 for a shear",
            )  # fmt: skip
    lines = [stock_line(s, job, metals, grid, limits) for s in (*job.stock, *rack)]
    order = list(dict.fromkeys(p.metal for p in wanted))
    for metal in order:
        if not any(s.metal == metal for s in lines):
            marks = [p.mark for p in wanted if p.metal == metal]
            raise NoRoomError(
                f"No stock of {metal} is listed, and {listed(marks, 'and')} must be cut from it.",
                help_="Add a [[stock]] table for it, or name another metal for the piece.",
                marks=marks,
            )
    objective = choose_objective(job, rack, order, lines)
    keep = job.info.keep_at_least
    sides = None if keep is None else tuple(sorted(to_grid(k, grid, "up") for k in keep))
    if objective == "area":
        lines = [_by_area(s) for s in lines]
    if job.nest.prefer_on_hand:
        stock = (*job.stock, *rack)
        lines = [_preferred(s, own, job, grid, here) for s, own in zip(lines, stock, strict=True)]
    return tuple(
        Group(
            metal=metal,
            grid=grid,
            blanks=tuple(_blank(p, job, grid) for p in wanted if p.metal == metal),
            stock=tuple(s for s in lines if s.metal == metal),
            limits=limits,
            objective=objective,
            keep=None if sides is None else (sides[0], sides[1]),
            labour=job.labour,
            second=second_cost(
                job.labour,
                metals[metal].hour_weighs,
                [_per_pound(s, metals[metal], grid) for s in lines if s.metal == metal],
                money=objective == "money",
            ),
        )
        for metal in order
    )


def shear_limits(shear: Shear, grid: int) -> ShearLimits:
    """The shear's limits in graduations: lengths down, least held and kerf up."""
    return ShearLimits(
        longest_cut=to_grid(shear.longest_cut, grid, "down"),
        reach=to_grid(shear.back_gauge_reach, grid, "down"),
        cut_off_to_mark=shear.coil_cut_off == "scribed",
        least_held=to_grid(shear.least_held, grid, "up"),
        angle_stop=shear.angle_stop,
        stages=3 if shear.cutting == "stacked-strips" else 2,
        kerf=to_grid(shear.kerf, grid, "up"),
        least_gauge=max(1, to_grid(shear.least_gauge, grid, "up")),
        least_scribed=max(1, to_grid(min(shear.least_gauge, max(SCRIBED, shear.width_tolerance)), grid, "up")),
        least_pull=to_grid(shear.least_pull, grid, "up"),
    )


def choose_objective(job: Job, rack: Iterable[Stock], metals: Sequence[str], lines: Sequence[StockLine]) -> Objective:
    """Money when every coil and sheet that may be used has a price (offcuts are paid for already); else area."""
    priced = {s.name: s.price is not None for s in (*job.stock, *rack)}
    bought = [s for s in lines if s.metal in metals and s.form != "offcut"]
    any_price = any(priced[s.name] for s in lines if s.metal in metals)
    return "money" if any_price and all(priced[s.name] for s in bought) else "area"


def stock_line(stock: Stock, job: Job, metals: Mapping[str, MetalProfile], grid: int, limits: ShearLimits) -> StockLine:
    """One stock line in graduations, its cost exact (0 when it has no price)."""
    metal = stock.metal or job.metal.use
    profile = metals[metal]
    width = to_grid(stock.width, grid, "down")
    if stock.form == "coil":
        length = to_grid(stock.longest_cut_off or DEFAULT_CUT_OFF[job.info.units], grid, "down")
        if not limits.cut_off_to_mark:
            length = min(length, limits.reach)
    else:
        if stock.length is None:
            raise _fault(job, stock, "length", "a sheet or offcut needs a length")
        length = to_grid(stock.length, grid, "down")
    square_foot = Fraction(12 * NM_PER_INCH, grid) ** 2
    pounds = Fraction(str(profile.weight)) * width * (1 if stock.form == "coil" else length) / square_foot
    return StockLine(
        name=stock.name,
        form=stock.form,
        metal=metal,
        width=width,
        length=length,
        trim=to_grid(stock.trim_each_edge, grid, "up"),
        on_hand=_on_hand(stock, job, grid, pounds),
        cost=_cost(stock, job, grid, length, pounds),
        pounds=float(pounds),
        thickness=profile.thickness,
        grain_across=stock.grain == "across",
        rack_pieces=stock.pieces if isinstance(stock, RackStock) else (),
    )


def _on_hand(stock: Stock, job: Job, grid: int, pounds: Fraction) -> int | None:
    have = stock.on_hand
    if stock.buy and stock.form != "offcut":
        return None
    if have is None:
        return 1 if stock.form == "offcut" else None
    if stock.form == "coil":
        if have.length is not None:
            return to_grid(have.length, grid, "down")
        if have.pounds is not None:
            return int(Fraction(str(have.pounds)) / pounds)
        raise _fault(
            job, stock, "on_hand", "a coil on hand is a length or a weight", 'for example "250 ft" or "310 lb"'
        )
    if have.count is None:
        raise _fault(job, stock, "on_hand", "sheets on hand are a count", "for example 12")
    return have.count


def _cost(stock: Stock, job: Job, grid: int, length: int, pounds: Fraction) -> Fraction:
    price = stock.price
    if price is None:
        return Fraction(0)
    amount = Fraction(price.amount)
    per_length = {"foot": Fraction(grid, 12 * NM_PER_INCH), "meter": Fraction(grid, 1000 * NM_PER_MM)}
    if price.per == "lb":
        return amount * pounds
    if price.per == "kg":
        return amount * pounds / POUNDS_PER_KG
    if price.per in per_length:
        return amount * per_length[price.per] * (1 if stock.form == "coil" else length)
    if stock.form == "coil":
        raise _fault(job, stock, "price", "a coil is priced per lb, kg, foot or meter", 'for example "9.40 per lb"')
    return amount


def _per_pound(line: StockLine, metal: MetalProfile, grid: int) -> Fraction:
    """What a pound of a stock line costs, exactly."""
    area = line.width * (1 if line.form == "coil" else line.length)
    return line.cost / (Fraction(str(metal.weight)) * area * Fraction(grid, 12 * NM_PER_INCH) ** 2)


def _by_area(line: StockLine) -> StockLine:
    """The line costed by the area it takes; offcuts are paid for already and cost nothing."""
    area = line.width * (1 if line.form == "coil" else line.length)
    cost = Fraction(0 if line.form == "offcut" else area)
    return StockLine(**{name: getattr(line, name) for name in line.__slots__} | {"cost": cost})


def _preferred(line: StockLine, stock: Stock, job: Job, grid: int, how: PricedHere) -> StockLine:
    """The line with its metal on hand counted below its price."""
    if stock.on_hand is None or not line.cost:
        return line
    less = line.cost * (1 - job.nest.prefer_on_hand)
    if line.on_hand is not None:
        return replace(line, cost=less)
    if how == "at its price":
        return line
    here = _on_hand(stock.model_copy(update={"buy": False}), job, grid, Fraction(line.pounds))
    if how == "alone":
        return replace(line, cost=less, on_hand=here)
    return replace(line, cost=less, here=here, prices=(less, line.cost))


def _blank(pattern: FlatPattern, job: Job, grid: int) -> Blank:
    plain = {p.mark: p for p in job.pieces if isinstance(p, RectanglePiece)}
    lie: Literal["any", "along", "across", "stock"] = pattern.grain
    if pattern.mark in plain and not plain[pattern.mark].may_turn:
        lie = "stock"
    outline: tuple[XY, ...] | None = None
    drawn: tuple[XY, ...] | None = None
    width, length = pattern.width_units, pattern.length_units
    area = float(width * length)
    if not pattern.rectangular:
        scale = NM_PER_INCH / grid
        drawn = tuple((x * scale, y * scale) for x, y in pattern.outline)
        outline = plane.hull(drawn, NEAR)
        area = plane.area(outline)
        width = _up(max(x for x, _ in outline))
        length = _up(max(y for _, y in outline))
        if area >= width * length * (1 - 1e-9):
            outline = None  # its corners are notched by hand: the shear sees the rectangle
            area = float(width * length)
    return Blank(
        mark=pattern.mark,
        width=width,
        length=length,
        count=pattern.count,
        lie=lie,
        area=area,
        outline=outline,
        drawn=drawn,
    )


def _up(value: float) -> int:
    return -int(-(value - NEAR) // 1)


def _fault(job: Job, stock: Stock, key: str, rule: str, write: str = "") -> JobError:
    return JobError(rule, file=job.file, key=f'stock "{stock.name}" > {key}', write=write)
