"""A plan that is wrong in any one way must not pass the proof."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from functools import cache
from typing import Any

import pytest
from nesting_jobs import METALS, make_job, polygon, rect, stock

from fabplan.nesting.check.cuts import CheckedLimits, parents
from fabplan.nesting.check.whole import check_plan
from fabplan.nesting.model import CutPlan, Layout
from fabplan.nesting.nest import nest

SEEDS = range(12)
JOBS = 4


@cache
def base(number: int) -> tuple[CutPlan, Any, Any]:
    """A proved plan with its blanks and job."""
    if number == 0:  # coil and sheet by area, one blank locked to the grain
        job = make_job([stock("coil", "coil", 24), stock("sheet", "sheet", 36, 96)], keep=(6, 12), open_stacks=8)
        blanks = [rect("A", 300, 410, 9, grain="along"), rect("B", 200, 350, 7), rect("C", 96, 640, 5)]
    elif number == 1:  # money, two metals, an offcut, edge trim
        stocks = [
            stock("copper coil", "coil", 20, price=("9.40", "lb"), on_hand=400, trim="1/8"),
            stock("drop", "offcut", 18, 30),
            stock("zinc sheet", "sheet", 36, 72, price=("118", "sheet"), on_hand=4, material="zinc-0.7mm"),
        ]
        job = make_job(stocks, keep=(6, 12))
        blanks = [
            rect("A", 250, 300, 8),
            rect("B", 120, 500, 6, grain="across"),
            rect("Z", 333, 401, 7, material="zinc-0.7mm", grain="along"),
        ]
    elif number == 2:  # slanted blanks with a square cut rule
        job = make_job([stock("coil", "coil", 24)], keep=(4, 8))
        blanks = [
            polygon("R", [(0, 0), (12, 0), (16, 10), (4, 10)], 7),
            polygon("S", [(0, 0), (10, 0), (10, 6), (5, 11), (0, 6)], 6),
            rect("A", 150, 222, 6),
        ]
    else:  # a saw, a short shear
        job = make_job([stock("sheet", "sheet", 36, 96)], kerf="1/8", longest_cut=100, reach=40, keep=(6, 12))
        blanks = [rect("A", 300, 410, 6), rect("B", 200, 350, 9, grain="along")]
    return nest(blanks, job, METALS), blanks, job


Mutation = Callable[[CutPlan, Any, random.Random], CutPlan | None]
KINDS: dict[str, Mutation] = {}


def kind(f: Mutation) -> Mutation:
    KINDS[f.__name__] = f
    return f


def on_layout(plan: CutPlan, r: random.Random, change: Callable[[Layout], Layout | None]) -> CutPlan | None:
    numbers = list(range(len(plan.layouts)))
    r.shuffle(numbers)
    for k in numbers:
        new = change(plan.layouts[k])
        if new is not None:
            return replace(plan, layouts=(*plan.layouts[:k], new, *plan.layouts[k + 1 :]))
    return None


def swap(items: tuple[Any, ...], k: int, new: Any) -> tuple[Any, ...]:
    return (*items[:k], new, *items[k + 1 :])


def on_blank(plan: CutPlan, r: random.Random, change: Callable[[Any], Any]) -> CutPlan | None:
    def one(y: Layout) -> Layout | None:
        order = list(range(len(y.blanks)))
        r.shuffle(order)
        for k in order:
            new = change(y.blanks[k])
            if new is not None:
                return replace(y, blanks=swap(y.blanks, k, new))
        return None

    return on_layout(plan, r, one)


def on_cut(plan: CutPlan, r: random.Random, change: Callable[[Layout, int], Any]) -> CutPlan | None:
    def one(y: Layout) -> Layout | None:
        order = list(range(len(y.cuts)))
        r.shuffle(order)
        for k in order:
            new = change(y, k)
            if new is not None:
                return replace(y, cuts=swap(y.cuts, k, new))
        return None

    return on_layout(plan, r, one)


@kind
def moved_blank(plan: CutPlan, job: Any, r: random.Random) -> CutPlan | None:
    dx, dy = r.choice([(1, 0), (-1, 0), (0, 1), (0, -1), (7, 3)])

    def move(b: Any) -> Any:
        ring = b.outline and tuple((x + dx, y + dy) for x, y in b.outline)
        return replace(b, x=b.x + dx, y=b.y + dy, outline=ring)

    return on_blank(plan, r, move)


@kind
def resized_blank(plan: CutPlan, job: Any, r: random.Random) -> CutPlan | None:
    return on_blank(plan, r, lambda b: replace(b, width=b.width + r.choice([-3, -2, 2])))


@kind
def dropped_blank(plan: CutPlan, job: Any, r: random.Random) -> CutPlan | None:
    return on_layout(plan, r, lambda y: replace(y, blanks=y.blanks[1:]))


@kind
def doubled_blank(plan: CutPlan, job: Any, r: random.Random) -> CutPlan | None:
    return on_layout(plan, r, lambda y: replace(y, blanks=(*y.blanks, r.choice(y.blanks))))


@kind
def renamed_blank(plan: CutPlan, job: Any, r: random.Random) -> CutPlan | None:
    return on_blank(plan, r, lambda b: replace(b, mark=r.choice([m for m in "ABCRSZQ" if m != b.mark])))


@kind
def said_turned(plan: CutPlan, job: Any, r: random.Random) -> CutPlan | None:
    return on_blank(plan, r, lambda b: replace(b, turned=not b.turned))


@kind
def turned_against_grain(plan: CutPlan, job: Any, r: random.Random) -> CutPlan | None:
    """Turned in place on its own rectangle: only the size or the grain can give it away."""
    return on_blank(plan, r, lambda b: replace(b, width=b.length, length=b.width, turned=not b.turned))


@kind
def mirrored_outline(plan: CutPlan, job: Any, r: random.Random) -> CutPlan | None:
    def mirror(b: Any) -> Any:
        if b.outline is None:
            return None
        middle = 2 * b.x + b.width
        return replace(b, outline=tuple((middle - x, y) for x, y in b.outline[::-1]))

    return on_blank(plan, r, mirror)


@kind
def lost_outline(plan: CutPlan, job: Any, r: random.Random) -> CutPlan | None:
    return on_blank(plan, r, lambda b: None if b.outline is None else replace(b, outline=None))


@kind
def wrong_back_gauge(plan: CutPlan, job: Any, r: random.Random) -> CutPlan | None:
    def change(y: Layout, k: int) -> Any:
        g = y.cuts[k].back_gauge
        return None if g is None else replace(y.cuts[k], back_gauge=g + r.choice([-2, -1, 1, 5, 2000]))

    return on_cut(plan, r, change)


@kind
def lost_back_gauge(plan: CutPlan, job: Any, r: random.Random) -> CutPlan | None:
    def change(y: Layout, k: int) -> Any:
        return None if y.cuts[k].back_gauge is None else replace(y.cuts[k], back_gauge=None)

    return on_cut(plan, r, change)


@kind
def wrong_held(plan: CutPlan, job: Any, r: random.Random) -> CutPlan | None:
    def change(y: Layout, k: int) -> Any:
        if y.form == "coil" and k == 0:
            return None
        return replace(y.cuts[k], held=y.cuts[k].held + r.choice([-3, 2, 40]))

    return on_cut(plan, r, change)


@kind
def wrong_angle(plan: CutPlan, job: Any, r: random.Random) -> CutPlan | None:
    return on_cut(plan, r, lambda y, k: replace(y.cuts[k], angle=y.cuts[k].angle + r.choice([-7.0, 3.0, 80.0])))


@kind
def moved_cut(plan: CutPlan, job: Any, r: random.Random) -> CutPlan | None:
    def change(y: Layout, k: int) -> Any:
        c, (dx, dy) = y.cuts[k], r.choice([(1, 0), (0, 1), (-2, -2)])
        if (c.start[0] == c.end[0] and dx == 0) or (c.start[1] == c.end[1] and dy == 0):
            dx, dy = dy, dx  # move it sideways, not along itself
        return replace(c, start=(c.start[0] + dx, c.start[1] + dy), end=(c.end[0] + dx, c.end[1] + dy))

    return on_cut(plan, r, change)


@kind
def stopped_cut(plan: CutPlan, job: Any, r: random.Random) -> CutPlan | None:
    def change(y: Layout, k: int) -> Any:
        c = y.cuts[k]
        middle = ((c.start[0] + c.end[0]) / 2, (c.start[1] + c.end[1]) / 2)
        return replace(c, end=middle)

    return on_cut(plan, r, change)


@kind
def reversed_cut(plan: CutPlan, job: Any, r: random.Random) -> CutPlan | None:
    """The saw's kerf on the wrong side."""
    if not job.shear.kerf:
        return None
    return on_cut(plan, r, lambda y, k: replace(y.cuts[k], start=y.cuts[k].end, end=y.cuts[k].start))


@kind
def dropped_cut(plan: CutPlan, job: Any, r: random.Random) -> CutPlan | None:
    def drop(y: Layout) -> Layout | None:
        if not y.cuts:
            return None
        k = r.randrange(len(y.cuts))
        rest = (*y.cuts[:k], *y.cuts[k + 1 :])
        return replace(y, cuts=tuple(replace(c, step=n) for n, c in enumerate(rest, start=1)))

    return on_layout(plan, r, drop)


@kind
def swapped_cut(plan: CutPlan, job: Any, r: random.Random) -> CutPlan | None:
    """A cut before the one that frees its piece."""
    shop = CheckedLimits.of(job, plan.grid)

    def change(y: Layout) -> Layout | None:
        pairs = [(p, k) for k, p in enumerate(parents(y, shop), start=1) if p is not None]
        if not pairs:
            return None
        a, b = r.choice(pairs)
        cuts = list(y.cuts)
        cuts[a - 1], cuts[b - 1] = replace(cuts[b - 1], step=a), replace(cuts[a - 1], step=b)
        return replace(y, cuts=tuple(cuts))

    return on_layout(plan, r, change)


@kind
def wrong_stock(plan: CutPlan, job: Any, r: random.Random) -> CutPlan | None:
    def change(y: Layout) -> Layout | None:
        names = [s.name for s in job.stock if s.name != y.stock] + ["nothing"]
        return replace(y, stock=r.choice(names))

    return on_layout(plan, r, change)


@kind
def wrong_metal(plan: CutPlan, job: Any, r: random.Random) -> CutPlan | None:
    return on_layout(plan, r, lambda y: replace(y, metal=y.metal + "x"))


@kind
def wrong_repeat(plan: CutPlan, job: Any, r: random.Random) -> CutPlan | None:
    return on_layout(plan, r, lambda y: replace(y, repeat=y.repeat + r.choice([-1, 1, 3])))


@kind
def wrong_panel(plan: CutPlan, job: Any, r: random.Random) -> CutPlan | None:
    return on_layout(plan, r, lambda y: replace(y, length=y.length + r.choice([-1, 1, 500])))


@kind
def wrong_width(plan: CutPlan, job: Any, r: random.Random) -> CutPlan | None:
    return on_layout(plan, r, lambda y: replace(y, width=y.width + r.choice([-1, 1])))


@kind
def dropped_layout(plan: CutPlan, job: Any, r: random.Random) -> CutPlan | None:
    k = r.randrange(len(plan.layouts))
    return replace(plan, layouts=(*plan.layouts[:k], *plan.layouts[k + 1 :]))


@kind
def wrong_total(plan: CutPlan, job: Any, r: random.Random) -> CutPlan | None:
    return replace(plan, total=plan.total + r.choice([Fraction(-1, 1000), Fraction(1), Fraction(-5)]))


@kind
def bound_above_total(plan: CutPlan, job: Any, r: random.Random) -> CutPlan | None:
    return replace(plan, bound=plan.total + Fraction(1, r.randint(1, 10**6)))


@kind
def wrong_status(plan: CutPlan, job: Any, r: random.Random) -> CutPlan | None:
    every = ["short", "proven", "within_margin", "not_proven"]
    return replace(plan, status=r.choice([s for s in every if s != plan.status]))


@kind
def wrong_objective(plan: CutPlan, job: Any, r: random.Random) -> CutPlan | None:
    return replace(plan, objective="area" if plan.objective == "money" else "money")


@kind
def wrong_amount(plan: CutPlan, job: Any, r: random.Random) -> CutPlan | None:
    k = r.randrange(len(plan.stock))
    u = plan.stock[k]
    if u.used_length is not None:
        new = replace(u, used_length=u.used_length + r.choice([-1, 1]))
    else:
        new = replace(u, used_count=(u.used_count or 0) + 1)
    return replace(plan, stock=swap(plan.stock, k, new))


@kind
def wrong_line_cost(plan: CutPlan, job: Any, r: random.Random) -> CutPlan | None:
    k = r.randrange(len(plan.stock))
    return replace(plan, stock=swap(plan.stock, k, replace(plan.stock[k], cost=plan.stock[k].cost + 1)))


@kind
def wrong_weight(plan: CutPlan, job: Any, r: random.Random) -> CutPlan | None:
    k = r.randrange(len(plan.stock))
    return replace(plan, stock=swap(plan.stock, k, replace(plan.stock[k], pounds=plan.stock[k].pounds * 1.001)))


@kind
def moved_offcut(plan: CutPlan, job: Any, r: random.Random) -> CutPlan | None:
    def change(y: Layout) -> Layout | None:
        if not y.offcuts:
            return None
        k = r.randrange(len(y.offcuts))
        o = y.offcuts[k]
        new = r.choice([replace(o, x=o.x + 1), replace(o, width=o.width + 1), replace(o, length=o.length - 1)])
        return replace(y, offcuts=swap(y.offcuts, k, new))

    return on_layout(plan, r, change)


@kind
def wrong_keep(plan: CutPlan, job: Any, r: random.Random) -> CutPlan | None:
    def change(y: Layout) -> Layout | None:
        if not y.offcuts:
            return None
        k = r.randrange(len(y.offcuts))
        return replace(y, offcuts=swap(y.offcuts, k, replace(y.offcuts[k], keep=not y.offcuts[k].keep)))

    return on_layout(plan, r, change)


@kind
def false_short(plan: CutPlan, job: Any, r: random.Random) -> CutPlan | None:
    return replace(plan, short=((plan.layouts[0].blanks[0].mark, 1),), status="short")


@kind
def wrong_share(plan: CutPlan, job: Any, r: random.Random) -> CutPlan | None:
    field = r.choice(["scrap_share", "kept_share", "blanks_area", "stock_area"])
    return replace(plan, **{field: getattr(plan, field) * 1.01 + 0.001})


@kind
def program_step_lost(plan: CutPlan, job: Any, r: random.Random) -> CutPlan | None:
    assert plan.program is not None
    k = r.randrange(len(plan.program.steps))
    steps = (*plan.program.steps[:k], *plan.program.steps[k + 1 :])
    return replace(plan, program=replace(plan.program, steps=tuple(replace(s, step=n) for n, s in enumerate(steps, 1))))


@kind
def program_setting_wrong(plan: CutPlan, job: Any, r: random.Random) -> CutPlan | None:
    assert plan.program is not None
    k = r.randrange(len(plan.program.steps))
    s = plan.program.steps[k]
    new = replace(s, back_gauge=(s.back_gauge or 10) + 1)
    return replace(plan, program=replace(plan.program, steps=swap(plan.program.steps, k, new)))


@kind
def program_figures_wrong(plan: CutPlan, job: Any, r: random.Random) -> CutPlan | None:
    assert plan.program is not None
    field, by = r.choice([("settings", -1), ("settings", 1), ("most_open_stacks", -1), ("least_settings", 10**6)])
    return replace(plan, program=replace(plan.program, **{field: getattr(plan.program, field) + by}))


def test_base_plans_pass() -> None:
    for number in range(JOBS):
        plan, blanks, job = base(number)
        assert check_plan(plan, blanks, job, METALS) == []


@pytest.mark.parametrize("name", sorted(KINDS))
def test_mutation_is_caught(name: str) -> None:
    tried = 0
    for seed in SEEDS:
        for number in range(JOBS):
            plan, blanks, job = base((seed + number) % JOBS)
            r = random.Random(f"{name} {seed} {number}")
            mutant = KINDS[name](plan, job, r)
            if mutant is None or mutant == plan:
                continue
            tried += 1
            assert check_plan(mutant, blanks, job, METALS), f"seed {seed}: passed unseen"
            break
    assert tried >= 6


def test_enough_kinds_and_mutants() -> None:
    assert len(KINDS) >= 12
    assert len(KINDS) * len(SEEDS) >= 200
