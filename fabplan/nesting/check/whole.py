"""Prove a cut plan from scratch: the plan against the job, with nothing from the code that made it.

The cuts are carried out one by one on the whole piece of stock: each must run from edge to edge of one piece lying on
the table, with the back gauge, the metal held and the angle the shear allows. What is left at the end must be exactly
the listed blanks, the listed leftovers and shapeless scrap.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from fractions import Fraction

from fabplan.blanks.model import FlatPattern
from fabplan.job.metals import MetalProfile
from fabplan.job.model import Job, RackStock, RectanglePiece, Stock
from fabplan.nesting.check import program as check_program
from fabplan.nesting.check.cuts import CheckedLimits, PiecesOnTable, hull, same_ring
from fabplan.nesting.check.minutes import minutes_faults
from fabplan.nesting.check.parts import NEAR, part_faults
from fabplan.nesting.model import CutPlan, Layout, Placed
from fabplan.units import NM_PER_INCH, to_grid

_INCH_FOOT = 12 * NM_PER_INCH
_DEFAULT_CUT_OFF = {"in": 120 * NM_PER_INCH, "mm": 3_000_000_000}
_KG = Fraction("0.45359237")
_WAYS = {"packer": "the best rectangle packer", "one_size": "one size per strip"}
_FLOAT = Fraction(1, 10**6)


def check_plan(
    plan: CutPlan,
    patterns: Sequence[FlatPattern],
    job: Job,
    metals: Mapping[str, MetalProfile],
    *,
    rack: Sequence[Stock] = (),
) -> list[str]:
    """Faults of a cut plan, empty when it is proved.

    Parameters
    ----------
    plan : CutPlan
    patterns : sequence of FlatPattern
        The blanks the plan is for.
    job : Job
    metals : mapping of profile name to MetalProfile
    rack : sequence of Stock
        Offcuts offered beside the job's stock.
    """
    faults: list[str] = []
    wanted = {p.mark: p for p in patterns}
    stock = {s.name: s for s in (*job.stock, *rack)}
    if any(p.grid != plan.grid for p in patterns):
        return ["the plan is not on the blanks' grid"]
    shop = CheckedLimits.of(job, plan.grid)
    for number, layout in enumerate(plan.layouts, start=1):
        where = f"layout {number}"
        line = stock.get(layout.stock)
        if line is None:
            faults.append(f"{where}: there is no stock {layout.stock!r}")
            continue
        faults += [f"{where}: {f}" for f in _layout_faults(layout, line, wanted, job, shop, plan.grid)]
    faults += _pull_faults(plan, job, stock, shop)
    faults += _count_faults(plan, patterns)
    faults += _money_faults(plan, job, metals, stock, shop)
    faults += _share_faults(plan, wanted)
    if faults:
        return faults
    faults += check_program.program_faults(plan, shop, job.nest.open_stacks)
    faults += minutes_faults(plan, job, metals, shop, _per_pound(plan, job, metals, stock))
    return faults


def _per_pound(
    plan: CutPlan, job: Job, metals: Mapping[str, MetalProfile], stock: Mapping[str, Stock]
) -> dict[str, Fraction]:
    """Cost of a pound of each metal at its cheapest; what is paid for already has none."""
    found: dict[str, Fraction] = {}
    for line in stock.values():
        metal = line.metal or job.metal.use
        cost, area, _, _ = _line_figures(line, job, metals, plan, 1)
        weight = Fraction(str(metals[metal].weight)) * area * Fraction(plan.grid, _INCH_FOOT) ** 2
        if cost:
            found[metal] = min(cost / weight, found.get(metal, cost / weight))
    return {metal: found.get(metal, Fraction(0)) for metal in metals}


def _pull_faults(plan: CutPlan, job: Job, stock: Mapping[str, Stock], shop: CheckedLimits) -> list[str]:
    """Coil pulled shorter than hands can hold, but for the last pull of each."""
    faults = []
    for name, line in stock.items():
        most = line.longest_cut_off or _DEFAULT_CUT_OFF[job.info.units]
        least = min(shop.least_pull, to_grid(most, plan.grid, "down"))
        short = sum(y.repeat for y in plan.layouts if y.stock == name and y.form == "coil" and y.length < least)
        if short > 1:
            faults.append(f"{name} is pulled {short} times shorter than the shear's least pull")
    return faults


def _layout_faults(
    layout: Layout, line: Stock, wanted: Mapping[str, FlatPattern], job: Job, shop: CheckedLimits, grid: int
) -> list[str]:
    faults = []
    metal = line.metal or job.metal.use
    if (layout.form, layout.metal) != (line.form, metal):
        faults.append(f"{line.name} is {line.form} of {metal}")
    if layout.repeat < 1:
        faults.append("it is repeated less than once")
    if layout.width != to_grid(line.width, grid, "down"):
        faults.append(f"its width is not that of {line.name}")
    if layout.form == "coil":
        most = to_grid(line.longest_cut_off or _DEFAULT_CUT_OFF[job.info.units], grid, "down")
        if not 0 < layout.length <= most:
            faults.append("the panel is longer than the longest cut-off")
    elif line.length is None or layout.length != to_grid(line.length, grid, "down"):
        faults.append(f"its length is not that of {line.name}")
    trim = to_grid(line.trim_each_edge, grid, "up")
    ends = 0 if layout.form == "coil" else trim
    inside = (trim, ends, layout.width - trim, layout.length - ends)
    may_turn = {p.mark: p.may_turn for p in job.pieces if isinstance(p, RectanglePiece)}
    for b in layout.blanks:
        pattern = wanted.get(b.mark)
        if pattern is None:
            faults.append(f"nobody asked for a blank {b.mark!r}")
            continue
        if pattern.metal != metal:
            faults.append(f"{b.mark} is to be {pattern.metal}, not {metal}")
        if b.x < inside[0] or b.y < inside[1] or b.x + b.width > inside[2] or b.y + b.length > inside[3]:
            faults.append(f"{b.mark} at ({b.x}, {b.y}) sticks out of the stock")
        faults += _shape_faults(b, pattern, line, may_turn.get(b.mark, True), grid)
    faults += _overlap_faults(layout.blanks)
    if faults:
        return faults
    faults = PiecesOnTable(layout, shop, _keep(job, grid)).faults(_rectangular(layout.blanks, wanted))
    return faults or part_faults(layout, shop, _keep(job, grid))


def _rectangular(blanks: Sequence[Placed], wanted: Mapping[str, FlatPattern]) -> list[bool]:
    return [wanted[b.mark].rectangular for b in blanks]


def _keep(job: Job, grid: int) -> tuple[int, int] | None:
    if job.info.keep_at_least is None:
        return None
    short, long = sorted(to_grid(k, grid, "up") for k in job.info.keep_at_least)
    return short, long


def _shape_faults(b: Placed, pattern: FlatPattern, line: Stock, may_turn: bool, grid: int) -> list[str]:
    """Size, outline and grain of one placed blank."""
    if pattern.rectangular:
        size = (pattern.length_units, pattern.width_units) if b.turned else (pattern.width_units, pattern.length_units)
        if (b.width, b.length) != size or b.outline is not None or b.boxed:
            return [f"{b.mark} at ({b.x}, {b.y}) does not have its size"]
        angle = 90.0 if b.turned else 0.0
    else:
        if b.outline is None:
            return [f"{b.mark} at ({b.x}, {b.y}) has lost its outline"]
        scale = NM_PER_INCH / grid
        found = _turned_by([(x * scale, y * scale) for x, y in pattern.outline], b.outline)
        if found is None:
            return [f"{b.mark} at ({b.x}, {b.y}) does not have its outline"]
        angle = found
        box = _box(b.outline)
        if not _boxed(b, box):
            return [f"{b.mark} at ({b.x}, {b.y}) is not where its outline is"]
        upright = min(angle % 180, 180 - angle % 180) < NEAR
        if b.turned == upright:
            return [f"{b.mark} at ({b.x}, {b.y}) is not turned as it says"]
    faults = []
    quarter = round(angle / 90)
    square = abs(angle - 90 * quarter) < NEAR
    if not may_turn and not (square and quarter % 2 == 0):
        faults.append(f"{b.mark} at ({b.x}, {b.y}) is turned and may not be")
    elif may_turn and pattern.grain != "any":
        want = (pattern.grain == "along") == (line.grain == "across")
        if not square or (quarter % 2 == 1) != want:
            faults.append(f"{b.mark} at ({b.x}, {b.y}) lies against its grain")
    return faults


def _turned_by(own: Sequence[tuple[float, float]], placed: Sequence[tuple[float, float]]) -> float | None:
    """Angle that turns one outline onto the other without turning it over; None when nothing does."""
    if len(own) != len(placed):
        return None
    a = math.atan2(own[1][1] - own[0][1], own[1][0] - own[0][0])
    b = math.atan2(placed[1][1] - placed[0][1], placed[1][0] - placed[0][0])
    c, s = math.cos(b - a), math.sin(b - a)
    dx = placed[0][0] - (c * own[0][0] - s * own[0][1])
    dy = placed[0][1] - (s * own[0][0] + c * own[0][1])
    for (x, y), (px, py) in zip(own, placed, strict=True):
        if abs(c * x - s * y + dx - px) > NEAR or abs(s * x + c * y + dy - py) > NEAR:
            return None
    return math.degrees(b - a) % 360


def _box(ring: Sequence[tuple[float, float]]) -> tuple[float, float, float, float]:
    xs, ys = [p[0] for p in ring], [p[1] for p in ring]
    return min(xs), min(ys), max(xs), max(ys)


def _boxed(b: Placed, box: tuple[float, float, float, float]) -> bool:
    """Whether the placed box is the outline's box, a graduation of rounding outward allowed."""
    low = (b.x, b.y)
    high = (b.x + b.width, b.y + b.length)
    return all(-NEAR <= at - lo < 1 + NEAR for lo, at in zip(low, box[:2], strict=True)) and all(
        -NEAR <= hi - at < 2 for hi, at in zip(high, box[2:], strict=True)
    )


def _overlap_faults(blanks: Sequence[Placed]) -> list[str]:
    """Rectangles that share metal (outlines are kept apart by the cuts)."""
    faults = []
    ordered = sorted((b for b in blanks if b.outline is None), key=lambda b: (b.x, b.y))
    for i, a in enumerate(ordered):
        for j in range(i + 1, len(ordered)):
            b = ordered[j]
            if b.x >= a.x + a.width:
                break
            if b.y < a.y + a.length and a.y < b.y + b.length:
                faults.append(f"{a.mark} at ({a.x}, {a.y}) and {b.mark} at ({b.x}, {b.y}) overlap")
    return faults


def _count_faults(plan: CutPlan, patterns: Sequence[FlatPattern]) -> list[str]:
    made = Counter[str]()
    for layout in plan.layouts:
        for b in layout.blanks:
            made[b.mark] += layout.repeat
    short = Counter[str]()
    faults = []
    for mark, n in plan.short:
        short[mark] += n
        if n < 1:
            faults.append(f"{mark} is listed short by {n}")
    for p in patterns:
        if made[p.mark] + short[p.mark] != p.count:
            faults.append(f"{p.mark}: {made[p.mark]} made and {short[p.mark]} short of {p.count}")
    known = {p.mark for p in patterns}
    faults += [f"nobody asked for {m!r}" for m in sorted(set(made) | set(short)) if m not in known]
    if plan.short and plan.status != "short":
        faults.append("blanks are short and the status does not say so")
    return faults


def _money_faults(
    plan: CutPlan, job: Job, metals: Mapping[str, MetalProfile], stock: Mapping[str, Stock], shop: CheckedLimits
) -> list[str]:
    """Stock taken, its cost and weight, the objective, total, bound and status."""
    faults = []
    used = Counter[str]()
    for y in plan.layouts:
        used[y.stock] += y.repeat * (y.length + shop.kerf if y.form == "coil" else 1)
    cut = {y.metal for y in plan.layouts}
    offered = [s for s in stock.values() if (s.metal or job.metal.use) in cut]
    if plan.objective == "money" and any(s.price is None for s in offered if s.form != "offcut"):
        faults.append("the plan is costed in money and some stock has no price")
    total = Fraction(0)
    listed = {u.name: u for u in plan.stock}
    if set(listed) != set(+used) or len(listed) != len(plan.stock):
        faults.append("the stock list does not name what the layouts use")
    for name, n in used.items():
        line = stock.get(name)
        if line is None:
            continue
        cost, area, pounds, have = _line_figures(line, job, metals, plan, n)
        total += cost
        if have is not None and n > have:
            faults.append(f"{name}: {n} taken and {have} on hand")
        u = listed.get(name)
        if u is None:
            continue
        count = (n, None) if line.form == "coil" else (None, n)
        if (u.used_length, u.used_count) != count or (u.cost, u.area) != (cost, area):
            faults.append(f"{name}: amount, cost or area is not what the layouts take")
        # Saved in the job's unit to six decimals: half a millionth of a kilogram is 1.1 millionths of a pound.
        if abs(u.pounds - pounds) > 2e-6 * max(1.0, pounds):
            faults.append(f"{name}: weight is not what the layouts take")
        if (u.form, u.width) != (line.form, to_grid(line.width, plan.grid, "down")):
            faults.append(f"{name}: form or width is not the stock's")
        length = None if line.form == "coil" else to_grid(line.length or 0, plan.grid, "down")
        metal = line.metal or job.metal.use
        thick = abs(u.thickness - metals[metal].thickness) < 1e-6  # a saved plan keeps so many decimals
        if (u.length, u.metal, u.grain) != (length, metal, line.grain) or not thick:
            faults.append(f"{name}: length, metal, grain or thickness is not the stock's")
        if u.rack_pieces != (line.pieces if isinstance(line, RackStock) else ()):
            faults.append(f"{name}: the pieces of the rack are not the stock's")
    if plan.total != total + plan.labour_total:
        faults.append("the total is not the cost of the stock taken and of the work")
    if plan.metal_total != total:
        faults.append("the metal total is not the cost of the stock taken")
    if not 0 <= plan.metal_bound <= plan.metal_total:
        faults.append("the metal bound is above the metal total, or below nothing")
    if not 0 <= plan.bound <= plan.total:
        faults.append("the bound is above the total, or below nothing")
    faults += [
        f"{_WAYS[r.way]} costs less than the proven least"
        for r in plan.rivals
        if r.total is not None and r.total < plan.bound * (1 - _FLOAT) and not plan.short
    ]
    faults += _status_faults(plan, Fraction(job.nest.good_enough))
    return faults


def _status_faults(plan: CutPlan, margin: Fraction) -> list[str]:
    status = "not_proven"
    if plan.short:
        status = "short"
    elif plan.total == plan.bound:
        status = "proven"
    elif plan.bound and plan.total / plan.bound - 1 <= margin:
        status = "within_margin"
    return [] if plan.status == status else [f"the status is {plan.status}; the figures say {status}"]


def _line_figures(
    line: Stock, job: Job, metals: Mapping[str, MetalProfile], plan: CutPlan, n: int
) -> tuple[Fraction, int, float, int | None]:
    """Cost, area, pounds of `n` of a line (graduations of coil, or sheets), and how many there are on hand."""
    grid = plan.grid
    width = to_grid(line.width, grid, "down")
    run = n if line.form == "coil" else n * to_grid(line.length or 0, grid, "down")
    area = width * run
    weight = Fraction(str(metals[line.metal or job.metal.use].weight))
    pounds = weight * area * Fraction(grid, _INCH_FOOT) ** 2
    have: int | None = 1 if line.form == "offcut" else None
    if line.on_hand is not None and not line.buy:
        if line.on_hand.length is not None:
            have = to_grid(line.on_hand.length, grid, "down")
        elif line.on_hand.pounds is not None and line.form == "coil":
            have = math.floor(Fraction(str(line.on_hand.pounds)) / (weight * width * Fraction(grid, _INCH_FOOT) ** 2))
        elif line.on_hand.count is not None:
            have = line.on_hand.count
    counts = _counts_as(line, job, n, weight * width * Fraction(grid, _INCH_FOOT) ** 2, grid)
    if plan.objective == "area":
        return Fraction(0 if line.form == "offcut" else area) * counts, area, float(pounds), have
    if line.price is None:
        return Fraction(0), area, float(pounds), have
    each = {
        "lb": pounds,
        "kg": pounds * _KG,
        "foot": Fraction(run * grid, _INCH_FOOT),
        "meter": Fraction(run * grid, 1_000_000_000),
        "sheet": Fraction(n),
        "piece": Fraction(n),
    }
    return Fraction(line.price.amount) * each[line.price.per] * counts, area, float(pounds), have


def _counts_as(line: Stock, job: Job, n: int, each: Fraction, grid: int) -> Fraction:
    """Share of its price that `n` of a line count as: metal on hand counts less where it is preferred; `each` is the
    weight of a graduation of coil."""
    if line.on_hand is None or not n:
        return Fraction(1)
    here = line.on_hand.count or 0
    if line.form == "coil" and line.on_hand.length is not None:
        here = to_grid(line.on_hand.length, grid, "down")
    elif line.form == "coil" and line.on_hand.pounds is not None:
        here = math.floor(Fraction(str(line.on_hand.pounds)) / each)
    return 1 - job.nest.prefer_on_hand * Fraction(min(n, here) if line.buy else n, n)


def _share_faults(plan: CutPlan, wanted: Mapping[str, FlatPattern]) -> list[str]:
    """Areas and shares on the page."""
    sizes = {}
    for mark, p in wanted.items():
        scale = NM_PER_INCH / p.grid
        ring = [(x * scale, y * scale) for x, y in p.outline]
        sizes[mark] = float(p.width_units * p.length_units) if p.rectangular else hull(ring).area
    blanks = sum(y.repeat * sizes.get(b.mark, 0.0) for y in plan.layouts for b in y.blanks)
    metal = float(sum(u.area for u in plan.stock))
    kept = float(sum(y.repeat * o.width * o.length for y in plan.layouts for o in y.offcuts if o.keep))
    faults = []
    for name, said, right in (
        ("blanks' area", plan.blanks_area, blanks),
        ("stock's area", plan.stock_area, metal),
        ("kept share", plan.kept_share * metal, kept),
        ("scrap share", plan.scrap_share * metal, metal - blanks - kept),
    ):
        if abs(said - right) > 1e-6 * max(1.0, metal):
            faults.append(f"the {name} is not what the layouts give")
    return faults


__all__ = ["check_plan", "same_ring"]
