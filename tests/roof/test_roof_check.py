"""The checker finds nothing wrong with good plans, and finds what is wrong with spoilt ones."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from typing import Any

import pytest
import roof_jobs as rj

from fabplan.job.model import Job
from fabplan.job.slopes import Roof, Slope
from fabplan.roof.check.whole import check_roof
from fabplan.roof.model import KINDS, RoofPlan
from fabplan.roof.plan import plan_roof

HOLE = {"from_left": "12 in", "up": "14 in", "width": "9-1/2 in", "height": "17 in"}
JOBS: dict[str, tuple[dict[str, Any], dict[str, Any]]] = {
    "turret": (
        {
            "shape": "irregular-spire",
            "eaves": ["60 in", "61 in", "62-1/2 in", "58 in"],
            "hips": ["121 in", "122-1/2 in", "121 in", "120 in"],
            "base_diagonals": [{"from": 1, "to": 3, "length": "85-1/2 in"}],
            "openings": [{**HOLE, "slope": 2, "name": "louvre"}],
        },
        {},
    ),
    "wing": ({"shape": "rectangle", "bottom": "46 in", "height": "40-1/2 in", "count": 2}, {"even_courses": True}),
    "spire": ({"shape": "regular-spire", "sides": 5, "side": "40 in", "height": "90 in", "top_side": "9 in"}, {}),
    "cheek": (
        {
            "shape": "four-sided",
            "bottom": "60 in",
            "right": "70 in",
            "top": "31 in",
            "left": "66 in",
            "diagonal_up_right": "82 in",
            "diagonal_up_left": "81-3/4 in",
            "go_on": True,
            "eave_drop": "1-1/2 in",
            "edges": {"left": "valley", "right": "wall"},
        },
        {"level_from": "middle"},
    ),
    "gable": (
        {"shape": "gable", "bottom": "70 in", "left": "20 in", "right": "20 in", "height": "60 in", "openings": [HOLE]},
        {"pair": False},
    ),
}


@cache
def planned(name: str) -> tuple[Job, RoofPlan]:
    keys, rules = JOBS[name]
    job = rj.job_with(rj.slope(**keys), rules=rj.roof(**rules))
    return job, plan_roof(job, rj.patterns())


@pytest.mark.parametrize("name", JOBS)
def test_good_plans_pass(name: str) -> None:
    job, plan = planned(name)
    assert check_roof(plan, job, rj.patterns()) == []


# -- spoilt plans ------------------------------------------------------------------------------------------------------

Spoil = Callable[[RoofPlan, random.Random], RoofPlan | None]


def _swap(items: tuple[Any, ...], n: int, new: Any) -> tuple[Any, ...]:
    return (*items[:n], new, *items[n + 1 :])


def _slope(plan: RoofPlan, rng: random.Random, change: Callable[[Any], Any]) -> RoofPlan | None:
    n = rng.randrange(len(plan.slopes))
    new = change(plan.slopes[n])
    return None if new is None else replace(plan, slopes=_swap(plan.slopes, n, new))


def _some(plan: RoofPlan, rng: random.Random, field: str, change: Callable[[Any], Any]) -> RoofPlan | None:
    items = getattr(plan, field)
    if not items:
        return None
    n = rng.randrange(len(items))
    new = change(items[n])
    return None if new is None or new == items[n] else replace(plan, **{field: _swap(items, n, new)})


def _off(rng: random.Random) -> float:
    return rng.choice([-1, 1]) * rng.choice([0.05, 0.3, 1.0, 6.5])


def _piece(plan: RoofPlan, rng: random.Random, change: Callable[[Any], Any], cut: bool = False) -> RoofPlan | None:
    def at(s: Any) -> Any:
        numbers = [i for i, p in enumerate(s.pieces) if not cut or p.shape]
        if not numbers:
            return None
        n = rng.choice(numbers)
        new = change(s.pieces[n])
        return None if new == s.pieces[n] else replace(s, pieces=_swap(s.pieces, n, new))

    return _slope(plan, rng, at)


def drop_piece(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    def change(s: Any) -> Any:
        n = rng.randrange(len(s.pieces))
        return replace(s, pieces=s.pieces[:n] + s.pieces[n + 1 :])

    return _slope(plan, rng, change)


def double_piece(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    return _slope(plan, rng, lambda s: replace(s, pieces=(*s.pieces, rng.choice(s.pieces))))


def other_kind(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    return _piece(plan, rng, lambda p: replace(p, kind=rng.choice(KINDS)))


def other_share(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    return _piece(plan, rng, lambda p: replace(p, share=p.share * rng.choice([0.9, 0.97, 1.05])))


def moved_piece(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    return _piece(plan, rng, lambda p: replace(p, column=p.column + rng.choice([-1, 1])))


def moved_course(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    return _piece(plan, rng, lambda p: replace(p, course=p.course + rng.choice([-1, 1])))


def moved_metal(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    def change(p: Any) -> Any:
        n = rng.randrange(len(p.metal))
        x, y = p.metal[n]
        return replace(p, metal=_swap(p.metal, n, (x + _off(rng), y + _off(rng))))

    return _piece(plan, rng, change, cut=True)


def other_shape(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    return _piece(plan, rng, lambda p: replace(p, shape=rng.randrange(1, len(plan.shapes) + 2)), cut=True)


def other_hand(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    return _piece(plan, rng, lambda p: replace(p, mirrored=not p.mirrored), cut=True)


def other_mark(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    return _piece(plan, rng, lambda p: replace(p, mark=rng.choice("ASTD")))


def other_snip(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    return _piece(plan, rng, lambda p: replace(p, trimmed=not p.trimmed))


def course_count(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    def change(s: Any) -> Any:
        n = rng.randrange(len(s.courses))
        field = rng.choice(
            ["whole", "starter", "cut_left", "cut_right", "cut_both", "ridge_half", "notched", "trimmed"]
        )
        c = s.courses[n]
        return replace(s, courses=_swap(s.courses, n, replace(c, **{field: getattr(c, field) + rng.choice([1, 2])})))

    return _slope(plan, rng, change)


def moved_line(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    def change(s: Any) -> Any:
        n = rng.randrange(len(s.lines))
        line = s.lines[n]
        field = rng.choice(["mark", "top_mark", "height", "top_line"])
        return replace(s, lines=_swap(s.lines, n, replace(line, **{field: getattr(line, field) + rng.choice([-1, 1])})))

    return _slope(plan, rng, change)


def dropped_line(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    def change(s: Any) -> Any:
        n = rng.randrange(len(s.lines))
        return replace(s, lines=s.lines[:n] + s.lines[n + 1 :])

    return _slope(plan, rng, change)


def stepped_lines(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    """Lines stepped with a rounded course instead of each measured from the base."""

    def change(s: Any) -> Any:
        step = s.lines[1].mark
        lines = tuple(replace(x, mark=x.course * step) for x in s.lines)
        return None if lines == s.lines else replace(s, lines=lines)

    return _slope(plan, rng, change)


def moved_mark(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    def change(s: Any) -> Any:
        n = rng.randrange(len(s.first_marks))
        exact, mark = s.first_marks[n]
        return replace(s, first_marks=_swap(s.first_marks, n, (exact, mark + rng.choice([-1, 1]))))

    return _slope(plan, rng, change)


def lattice_size(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    field = rng.choice(
        ["centre_x", "base", "spacing", "course", "full_course", "exposed", "top_angle", "lap", "turned"]
    )
    return _slope(plan, rng, lambda s: replace(s, **{field: getattr(s, field) + _off(rng) / 10}))


def alignment(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    return _slope(plan, rng, lambda s: replace(s, alignment="joint" if s.alignment == "point" else "point"))


def cap_line(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    return _slope(plan, rng, lambda s: None if s.cap_line is None else replace(s, cap_line=s.cap_line + _off(rng)))


def region_corner(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    def change(s: Any) -> Any:
        ring = s.region[0]
        n = rng.randrange(len(ring))
        return replace(s, region=(_swap(ring, n, (ring[n][0] + _off(rng), ring[n][1] + _off(rng))), *s.region[1:]))

    return _slope(plan, rng, change)


def no_void(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    return _slope(plan, rng, lambda s: replace(s, voids=()) if s.voids else None)


def outline_corner(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    def change(s: Any) -> Any:
        edges, n = s.slope.edges, rng.randrange(len(s.slope.edges))
        x, y = edges[n].start
        at = (x + _off(rng), y + _off(rng))
        edges = _swap(edges, n, replace(edges[n], start=at))
        edges = _swap(edges, n - 1 if n else len(edges) - 1, replace(edges[n - 1], end=at))
        return replace(s, slope=replace(s.slope, edges=edges))

    return _slope(plan, rng, change)


def edge_field(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    def change(s: Any) -> Any:
        n = rng.randrange(len(s.slope.edges))
        e = s.slope.edges[n]
        what = rng.choice(["reach", "kind", "fold"])
        if what == "fold" and e.kind == "eave":
            return None
        kind = rng.choice([k for k in ("eave", "ridge", "hip", "rake", "valley", "wall") if k != e.kind])
        new = replace(e, kind=kind) if what == "kind" else replace(e, **{what: getattr(e, what) + _off(rng)})
        return replace(s, slope=replace(s.slope, edges=_swap(s.slope.edges, n, new)))

    return _slope(plan, rng, change)


def times(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    return _slope(plan, rng, lambda s: replace(s, slope=replace(s.slope, times=s.slope.times + 1)))


def no_hole(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    return _slope(plan, rng, lambda s: replace(s, slope=replace(s.slope, holes=())) if s.slope.holes else None)


def sliver(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    def change(s: Any) -> Any:
        if not s.slivers:
            return None
        if rng.random() < 0.5:
            return replace(s, slivers=s.slivers[1:])
        return replace(s, slivers=(replace(s.slivers[0], area=s.slivers[0].area * 1.5), *s.slivers[1:]))

    return _slope(plan, rng, change)


def blank_count(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    return _some(plan, rng, "counts", lambda c: (c[0], c[1] + rng.choice([-1, 1, 5])))


def piece_count(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    return _some(plan, rng, "pieces", lambda c: (c[0], c[1] + rng.choice([-1, 1, 5])))


def pair_times(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    return _some(plan, rng, "pairs", lambda p: replace(p, times=p.times + 1))


def pair_turn(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    return _some(plan, rng, "pairs", lambda p: replace(p, turned=rng.choice([0.0, 90.0, 180.0, 270.0, 45.0])))


def pair_flip(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    return _some(plan, rng, "pairs", lambda p: replace(p, flipped=not p.flipped))


def pair_partner(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    return _some(plan, rng, "pairs", lambda p: replace(p, second=rng.randrange(1, len(plan.shapes) + 1)))


def rest_times(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    return _some(plan, rng, "leftover", lambda p: replace(p, times=p.times + 1))


def shape_count(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    return _some(plan, rng, "shapes", lambda s: replace(s, same=s.same + 1))


def shape_size(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    return _some(plan, rng, "shapes", lambda s: replace(s, width=s.width + 0.1))


def run_length(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    return _some(plan, rng, "edge_runs", lambda r: replace(r, length=r.length + rng.choice([-20.0, -1.0, 3.0, 40.0])))


def run_pieces(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    return _some(plan, rng, "edge_runs", lambda r: replace(r, pieces=r.pieces + rng.choice([-1, 1])))


def run_times(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    return _some(plan, rng, "edge_runs", lambda r: replace(r, times=r.times + 1))


def roll(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    field = rng.choice(["rows", "total", "rolls", "rolls_by_area"])
    return _some(plan, rng, "underlayment", lambda u: replace(u, **{field: getattr(u, field) + 1}))


def roll_run(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    return _some(plan, rng, "underlayment", lambda u: replace(u, runs=(u.runs[0] + 6.0, *u.runs[1:])))


def nails(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    return _some(plan, rng, "fasteners", lambda f: replace(f, count=f.count + 1))


def kit_item(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    def change(k: Any) -> Any:
        n = rng.randrange(len(k.items))
        return replace(k, items=_swap(k.items, n, replace(k.items[n], count=k.items[n].count + 1)))

    return _some(plan, rng, "kits", change)


def kit_lost(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    return replace(plan, kits=plan.kits[1:])


def kit_field(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    field = rng.choice(["pieces", "pounds", "first_course", "last_course"])
    return _some(plan, rng, "kits", lambda k: replace(k, **{field: getattr(k, field) + rng.choice([1, 3])}))


def kits_swapped(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    if len(plan.kits) < 2:
        return None
    a, b = plan.kits[0], plan.kits[1]
    return replace(
        plan,
        kits=(replace(a, items=b.items, pieces=b.pieces), replace(b, items=a.items, pieces=a.pieces), *plan.kits[2:]),
    )


def drift_size(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    def change(v: Any) -> Any:
        return replace(v, drifts=(replace(v.drifts[0], height_sigma=v.drifts[0].height_sigma * 1.1), *v.drifts[1:]))

    return _some(plan, rng, "variation", change)


def locks(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    return _some(plan, rng, "variation", lambda v: replace(v, locks=v.locks + 2))


def allowed(plan: RoofPlan, rng: random.Random) -> RoofPlan | None:
    def change(v: Any) -> Any:
        n = rng.randrange(len(v.intervals))
        i = v.intervals[n]
        return replace(v, intervals=_swap(v.intervals, n, replace(i, allowed_per_lock=not i.allowed_per_lock)))

    return _some(plan, rng, "variation", change)


SPOILS: tuple[Spoil, ...] = (
    drop_piece, double_piece, other_kind, other_share, moved_piece, moved_course, moved_metal, other_shape, other_hand,
    other_mark, other_snip, course_count, moved_line, dropped_line, stepped_lines, moved_mark, lattice_size, alignment,
    cap_line, region_corner, no_void, outline_corner, edge_field, times, no_hole, sliver, blank_count, piece_count,
    pair_times, pair_turn, pair_flip, pair_partner, rest_times, shape_count, shape_size, run_length, run_pieces,
    run_times, roll, roll_run, nails, kit_item, kit_lost, kit_field, kits_swapped, drift_size, locks, allowed,
)  # fmt: skip


def spoilt(name: str, seeds: range) -> tuple[int, list[str]]:
    """How many plans were spoilt, and which went through."""
    job, plan = planned(name)
    missed, tried = [], 0
    for spoil in SPOILS:
        for seed in seeds:
            bad = spoil(plan, random.Random(f"{name} {spoil.__name__} {seed}"))
            if bad is None or bad == plan:
                continue
            tried += 1
            if not check_roof(bad, job, rj.patterns()):
                missed.append(spoil.__name__)
    return tried, missed


def report(names: list[str], seeds: range) -> tuple[int, Counter[str]]:
    tried, missed = 0, Counter[str]()
    for name in names:
        n, some = spoilt(name, seeds)
        tried += n
        missed.update(some)
    return tried, missed


def test_spoilt_plans_are_caught() -> None:
    tried, missed = report(["cheek", "wing"], range(1))
    assert tried >= 70
    assert missed.total() <= 0.05 * tried, missed


@pytest.mark.slow
def test_more_spoilt_plans_are_caught() -> None:
    tried, missed = report(list(JOBS), range(6))
    assert tried >= 1000
    assert missed.total() <= 0.05 * tried, missed


def test_a_plan_of_another_job_does_not_pass() -> None:
    job, plan = planned("wing")
    other = rj.job_with(rj.slope(**{**JOBS["wing"][0], "bottom": "47 in"}), rules=rj.roof(even_courses=True))
    assert check_roof(plan, other, rj.patterns())
    rules: Roof = rj.roof(even_courses=True, cap_leg="4 in")
    assert check_roof(plan, rj.job_with(*job.slopes, rules=rules), rj.patterns())
    more: Slope = job.slopes[0].model_copy(update={"count": 3})
    assert check_roof(plan, rj.job_with(more, rules=job.roof), rj.patterns())


def test_opened_courses_are_caught() -> None:
    job, plan = planned("spire")
    s = replace(plan.slopes[0], course=plan.slopes[0].course + 0.1)
    assert any("opened" in f for f in check_roof(replace(plan, slopes=(s,)), job, rj.patterns()))
