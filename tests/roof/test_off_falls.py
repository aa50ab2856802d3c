"""Pieces cut on the roof: a whole one each, or what falls off another; and the checker that says so."""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
import roof_jobs as rj
import shapely
from test_random_roofs import SHAPES, random_rules, random_slope

from fabplan.errors import FabplanError
from fabplan.job.model import Job
from fabplan.job.slopes import Roof
from fabplan.roof.check.off_falls import check_off_falls, gap
from fabplan.roof.check.whole import check_roof
from fabplan.roof.extras.kits import pack_kits
from fabplan.roof.model import RoofPlan
from fabplan.roof.parts.ways import Worth, with_ways
from fabplan.roof.plan import plan_roof
from fabplan.speech.roof import notes as roof_notes
from fabplan.speech.roof_tables import course_table, kit_says

WORTH = Worth(whole={"A": 110.0}, area=0.06, hour=0.0)
WALL = {"shape": "rectangle", "bottom": "95 in", "height": "120 in", "count": 2}


def on_roof(**rules: Any) -> Roof:
    return rj.roof(cut_pieces="on the roof", **rules)


def planned(keys: dict[str, Any], **rules: Any) -> tuple[Job, RoofPlan]:
    job = rj.job_with(rj.slope(**keys), rules=on_roof(**rules))
    return job, plan_roof(job, rj.patterns())


def test_every_cut_piece_takes_a_whole_blank_by_default() -> None:
    job = rj.job_with(rj.slope(**WALL), rules=Roof.model_validate({}, context={"units": "in"}))
    out = plan_roof(job, rj.patterns())
    assert not (out.shapes or out.pairs or out.leftover or out.off_falls)
    assert dict(out.counts)["A"] == dict(out.pieces)["A"]
    assert sum(k.pieces for k in out.kits) == sum(dict(out.pieces).values())
    assert any("go up whole" in n and "the default" in n for n in roof_notes(out, job))


def test_off_falls_take_off_what_they_hold_and_put_back_one_in_ten() -> None:
    _, plain = planned(WALL)
    job, out = planned(WALL, use_off_falls=True)
    saved = sum(o.times for o in out.off_falls)
    assert saved >= 4
    over = math.ceil(saved / 10)
    assert dict(out.counts)["A"] == dict(plain.counts)["A"] - saved + over
    assert sum(k.spare for k in out.kits) == over
    assert sum(k.pieces for k in out.kits) == sum(k.pieces for k in plain.kits) - saved + over
    assert sum("whole over" in kit_says(k) for k in out.kits) == sum(k.spare > 0 for k in out.kits)
    table = course_table(out.slopes[0], job, out.off_falls)
    assert sum("from the off-fall of" in row[-1] for row in table.rows) == len({o.course for o in out.off_falls})


def test_a_wider_margin_never_uses_more() -> None:
    used = [len(planned(WALL, use_off_falls=True, off_fall_margin=m)[1].off_falls) for m in ("0 in", "1 in", "4 in")]
    assert used == sorted(used, reverse=True)
    assert used[0] > used[-1]


@pytest.mark.parametrize("shape", SHAPES)
def test_what_is_used_is_held_on_every_shape_of_slope(shape: str) -> None:
    """The metal of both pieces, grown by the margin, lies apart in one whole piece: told with shapely, not our own."""
    rng = random.Random(f"off-falls {shape}")
    used = 0
    for _ in range(6):
        rules = random_rules(rng)
        rules = rules.model_copy(
            update={"cut_pieces": "on the roof", "use_off_falls": True, "off_fall_margin": 12_700_000}
        )
        job = rj.job_with(rj.slope(**random_slope(rng, shape)), rules=rules)
        try:
            out = plan_roof(job, rj.patterns())
        except FabplanError:
            continue
        assert check_roof(out, job, rj.patterns()) == []
        layouts = {s.slope.name: s for s in out.slopes}
        for o in out.off_falls:
            one, other = (layouts[o.slope].pieces[n] for n in (o.first, o.second))
            grown = [shapely.buffer(shapely.Polygon(p.metal), 0.5 - 1e-6) for p in (one, other)]
            assert grown[0].intersection(grown[1]).is_empty
            assert one.course == other.course == o.course
        used += len(out.off_falls)
    assert used


def test_a_course_in_several_kits_uses_none() -> None:
    _, out = planned(WALL, use_off_falls=True, kit_pieces=5)
    assert {k.part[1] for k in out.kits} != {1}
    split = {k.first_course for k in out.kits if k.part[1] > 1}
    assert not split & {o.course for o in out.off_falls}


def swapped(plan: RoofPlan, **changes: Any) -> RoofPlan:
    return replace(plan, off_falls=(replace(plan.off_falls[0], **changes), *plan.off_falls[1:]))


def thinned(plan: RoofPlan) -> RoofPlan:
    """The second piece's metal shrunk to a third about its outermost corner: more would seem to fit than does."""
    layout = plan.slopes[0]
    n = plan.off_falls[0].second
    piece = layout.pieces[n]
    x, y = max(piece.metal, key=lambda p: abs(p[0]))
    less = tuple((x + (a - x) / 3, y + (b - y) / 3) for a, b in piece.metal)
    pieces = (*layout.pieces[:n], replace(piece, metal=less), *layout.pieces[n + 1 :])
    return replace(plan, slopes=(replace(layout, pieces=pieces), *plan.slopes[1:]))


def neighbours(plan: RoofPlan) -> RoofPlan:
    """Two cut pieces of one course that do not fit in one whole piece."""
    layout = plan.slopes[0]
    used = {n for o in plan.off_falls for n in (o.first, o.second)}
    cut = [n for n, p in enumerate(layout.pieces) if p.kind != "whole" and n not in used and p.mark == "A"]
    a, b = next(
        (a, b)
        for a in cut
        for b in cut
        if a < b
        and layout.pieces[a].course == layout.pieces[b].course
        and gap(layout.pieces[a].metal, layout.pieces[b].metal) < 1
    )
    return swapped(plan, course=layout.pieces[a].course, first=a, second=b)


WRONG: tuple[tuple[str, Callable[[RoofPlan], RoofPlan], str], ...] = (
    ("twice", lambda p: replace(p, off_falls=(*p.off_falls, p.off_falls[0])), "gives or takes an off-fall twice"),
    ("itself", lambda p: swapped(p, second=p.off_falls[0].first), "lie 0.0000 in apart"),
    ("another course", lambda p: swapped(p, course=p.off_falls[0].course + 1), "not cut on the roof in that course"),
    ("no piece", lambda p: swapped(p, second=10_000), "no such pieces"),
    ("no slope", lambda p: swapped(p, slope="moon"), "no such pieces"),
    ("times", lambda p: swapped(p, times=1), "counted 1 times on 2 slopes"),
    ("too near", neighbours, "they need 2.0000"),
    ("less metal", thinned, "less than the edges ask for"),
    ("no spare", lambda p: replace(p, off_fall_spare=()), "they should be {'A': "),
    ("kits", lambda p: replace(p, kits=tuple(replace(k, spare=0) for k in p.kits)), "they should hold {'A': "),
    (
        "in several kits",
        lambda p: replace(p, kits=tuple(replace(k, part=(1, 2)) for k in p.kits)),
        "does not go up in one kit",
    ),
)


@pytest.mark.parametrize(("wrong", "says"), [w[1:] for w in WRONG], ids=[w[0] for w in WRONG])
def test_a_wrong_off_fall_is_refused(wrong: Callable[[RoofPlan], RoofPlan], says: str) -> None:
    job, out = planned(WALL, use_off_falls=True)
    patterns = {p.mark: p for p in rj.patterns()}
    assert not list(check_off_falls(out, job, patterns))
    faults = list(check_off_falls(wrong(out), job, patterns))
    assert any(says in f for f in faults), faults


def test_off_falls_nobody_asked_for_are_refused() -> None:
    job, out = planned(WALL, use_off_falls=True)
    bare = job.model_copy(update={"roof": on_roof()})
    assert any("does not ask for" in f for f in check_roof(out, bare, rj.patterns()))


def test_pieces_counted_without_off_falls_are_refused() -> None:
    job, out = planned(WALL, use_off_falls=True)
    counts = tuple((m, n + (m == "A")) for m, n in out.counts)
    assert any("blanks are needed" in f for f in check_roof(replace(out, counts=counts), job, rj.patterns()))
    kits = pack_kits(out.slopes, {p.mark: p for p in rj.patterns()}, out.kit_limit)
    assert check_roof(replace(out, kits=kits), job, rj.patterns())


def test_distance_of_outlines_against_a_library() -> None:
    rng = random.Random(7)
    for _ in range(200):
        rings = []
        for _one in range(2):
            x, y = rng.uniform(-6, 6), rng.uniform(-6, 6)
            turns = sorted(rng.uniform(0, math.tau) for _ in range(5))
            rings.append([(x + 2 * math.cos(t), y + 3 * math.sin(t)) for t in turns])
        want = shapely.distance(*(shapely.Polygon(r) for r in rings))
        assert gap(*rings) == pytest.approx(want, abs=1e-9)


# -- both ways told ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("how", ["on the roof", "at the bench"])
def test_both_ways_are_told_and_either_tells_the_other(how: str) -> None:
    job = rj.job_with(rj.slope(**WALL), rules=rj.roof(cut_pieces=how))
    plan = with_ways(plan_roof(job, rj.patterns()), job, rj.patterns(), WORTH)
    assert check_roof(plan, job, rj.patterns()) == []
    assert plan.ways[0].how == how
    ways = {w.how: w for w in plan.ways}
    roof, bench = ways["on the roof"], ways["at the bench"]
    other = rj.job_with(rj.slope(**WALL), rules=rj.roof(cut_pieces=plan.ways[1].how))
    assert {w.how: w for w in with_ways(plan_roof(other, rj.patterns()), other, rj.patterns(), WORTH).ways} == ways
    assert bench.blanks < roof.blanks and bench.metal < roof.metal
    note = next(n for n in roof_notes(plan, job) if "blanks of the diamonds" in n)
    assert f"{roof.blanks:,} blanks" in note and f"{bench.blanks:,} blanks" in note
    assert (f"with {bench.templates} template" in note) == (how == "on the roof")


def test_ways_that_do_not_hold_are_refused() -> None:
    job = rj.job_with(rj.slope(**WALL), rules=on_roof())
    plan = with_ways(plan_roof(job, rj.patterns()), job, rj.patterns(), WORTH)
    one, other = plan.ways
    for wrong in (
        (replace(one, metal=one.metal + 1), other),
        (replace(one, hours=one.hours + 0.1), other),
        (one, replace(other, templates=0)),
        (one, replace(other, metal=2 * one.metal)),
        (other, one),
    ):
        assert check_roof(replace(plan, ways=wrong), job, rj.patterns())
