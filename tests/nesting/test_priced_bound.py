"""The proven least of metal and work together, against every plan of small jobs; and no rival is cheaper."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import product

import pytest
from nesting_jobs import METALS, make_job, rect, stock

from fabplan.labour import Labour
from fabplan.nesting.nest import nest
from fabplan.nesting.priced.charges import Charges
from fabplan.nesting.priced.search import Search
from fabplan.nesting.problem import Group, StockLine, build_groups
from fabplan.nesting.search.priced import whole_bound
from fabplan.nesting.search.work import least_work

INCH = 32
SHOP = Labour(rate_pounds=6.0)
Sizes = Sequence[tuple[int, int]]
Way = tuple[int, int]  # length along, strokes


def parted(items: list[int]) -> Iterator[list[list[int]]]:
    """Every way to part a list into groups."""
    if not items:
        yield []
        return
    first, rest = items[0], items[1:]
    for groups in parted(rest):
        yield [[first], *groups]
        for n in range(len(groups)):
            yield [*groups[:n], [first, *groups[n]], *groups[n + 1 :]]


def panels(sizes: Sizes, items: list[int], across: int) -> list[Way]:
    """Length and strokes of every panel that holds these pieces: strips side by side, pieces one after another."""
    found: dict[int, int] = {}
    for turns in product((False, True), repeat=len(items)):
        size = {i: sizes[i][::-1] if t else sizes[i] for i, t in zip(items, turns, strict=True)}
        for strips in parted(items):
            widths = [max(size[i][0] for i in s) for s in strips]
            lengths = [sum(size[i][1] for i in s) for s in strips]
            if sum(widths) > across:
                continue
            trims = sum(size[i][0] < w for s, w in zip(strips, widths, strict=True) for i in s)
            ends = sum(length < max(lengths) for length in lengths) + (sum(widths) < across)
            at = max(lengths)
            found[at] = min(found.get(at, 1 << 30), len(items) + trims + ends)
    return list(found.items())


def cheapest(sizes: Sizes, group: Group) -> Fraction:
    """The least metal and work of every plan, layouts read once in all and settings free."""
    seconds = {"stroke": group.labour.stroke, "pull": group.labour.pull, "sheet": group.labour.sheet}
    cost = {k: Fraction(str(v)) * group.second for k, v in seconds.items()}
    everything = list(range(len(sizes)))
    known: dict[tuple[int, ...], Fraction | None] = {}

    def piece_of_stock(items: list[int]) -> Fraction | None:
        key = tuple(items)
        if key not in known:
            costs = [c for line in group.stock for c in on(line, items)]
            known[key] = min(costs, default=None)
        return known[key]

    def on(line: StockLine, items: list[int]) -> Iterator[Fraction]:
        if line.form == "coil":
            for length, strokes in panels(sizes, items, line.width):
                if length <= line.length:
                    yield line.cost * length + cost["pull"] + cost["stroke"] * strokes
            return
        for across, along in ((line.width, line.length), (line.length, line.width)):
            for rows in parted(items):
                for ways in product(*(panels(sizes, r, across) for r in rows)):
                    used = sum(length for length, _ in ways)
                    if used <= along:
                        strokes = sum(s for _, s in ways) + (used < along) - 1
                        yield line.cost + cost["sheet"] + cost["stroke"] * strokes

    best: Fraction | None = None
    for plan in parted(everything):
        costs = [piece_of_stock(sorted(p)) for p in plan]
        if all(c is not None for c in costs):
            total = sum((c for c in costs if c is not None), Fraction(0))
            best = total if best is None else min(best, total)
    assert best is not None
    return best + Fraction(str(group.labour.layout)) * group.second


def check(seed: int) -> None:
    rng = random.Random(seed)
    kinds = [(rng.randint(3, 20) * INCH, rng.randint(3, 20) * INCH) for _ in range(rng.randint(1, 3))]
    counts = [1] * len(kinds)
    for _ in range(rng.randint(0, 4 - len(kinds))):
        counts[rng.randrange(len(kinds))] += 1
    lines = [stock("coil", "coil", rng.randint(20, 26))]
    if rng.random() < 0.5:
        lines.append(stock("sheet", "sheet", rng.randint(20, 30), rng.randint(30, 48)))
    job = make_job(lines, least_held=0).model_copy(update={"labour": SHOP})
    blanks = [rect(f"B{i}", w, h, n) for i, ((w, h), n) in enumerate(zip(kinds, counts, strict=True))]
    (group,) = build_groups(blanks, job, METALS)
    search = Search(group, Charges.of(group), pair=True)
    search.close()
    bound = whole_bound(group, search)
    sizes = [size for size, n in zip(kinds, counts, strict=True) for _ in range(n)]
    least = cheapest(sizes, group)
    assert 0 < bound <= least, seed
    assert least_work(group) < least


@pytest.mark.parametrize("first", range(0, 30, 10))
def test_no_plan_costs_less_than_the_bound(first: int) -> None:
    for seed in range(first, first + 10):
        check(seed)


@pytest.mark.slow
@pytest.mark.parametrize("first", range(1000, 1200, 20))
def test_no_plan_of_many_jobs_costs_less_than_the_bound(first: int) -> None:
    for seed in range(first, first + 20):
        check(seed)


def test_no_rival_is_cheaper_with_its_work() -> None:
    job = make_job([stock("coil", "coil", 24)], effort=0).model_copy(update={"labour": SHOP})
    blanks = [rect("A", 300, 410, 17), rect("B", 200, 350, 9), rect("C", 64, 96, 40)]
    plan = nest(blanks, job, METALS)
    assert plan.bound <= plan.total == plan.metal_total + plan.labour_total
    assert all(r.total is None or plan.total <= r.total for r in plan.rivals)


def test_work_is_worth_metal() -> None:
    """Where an hour weighs much, the plan takes less time than the plan of least metal, and no less metal."""
    blanks = [rect("A", 300, 410, 17), rect("B", 200, 350, 9), rect("C", 64, 96, 40)]
    plans = {}
    for pounds in (0.0, 60.0):
        job = make_job([stock("coil", "coil", 24)], effort=0)
        plans[pounds] = nest(blanks, job.model_copy(update={"labour": Labour(rate_pounds=pounds)}), METALS)
    seconds = {p: sum(s.seconds for s in plan.spent) for p, plan in plans.items()}
    assert seconds[60.0] <= seconds[0.0]
    assert plans[60.0].metal_total >= plans[0.0].metal_bound


def test_hands_keep_their_fingers() -> None:
    hands = {"least_gauge": 0.5, "least_held": 2, "width_tolerance": 1 / 16, "least_pull": 12}
    job = make_job([stock("coil", "coil", 24)], effort=0, **hands).model_copy(update={"labour": SHOP})
    blanks = [rect("A", 300, 410, 7), rect("B", 755, 100, 9), rect("C", 64, 96, 40)]
    plan = nest(blanks, job, METALS)
    cuts = [c for y in plan.layouts for c in y.cuts]
    assert all(c.back_gauge is None or c.back_gauge >= 16 for c in cuts)
    assert sum(y.repeat for y in plan.layouts if y.length < 12 * INCH) <= 1
