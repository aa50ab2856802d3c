"""Each thing the roof checker proves: one wrong plan, and the words it is refused with."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
import roof_jobs as rj
from test_roof_check import HOLE, planned

from fabplan.job.model import Job
from fabplan.roof.check.whole import check_roof
from fabplan.roof.model import RoofPlan
from fabplan.roof.plan import plan_roof


def first(plan: RoofPlan, field: str, **changes: Any) -> RoofPlan:
    """The plan with the first of some items changed."""
    one, *others = getattr(plan, field)
    return replace(plan, **{field: (replace(one, **changes), *others)})


def slope(plan: RoofPlan, **changes: Any) -> RoofPlan:
    """The plan with the measured slope of its first layout changed."""
    return first(plan, "slopes", slope=replace(plan.slopes[0].slope, **changes))


def hole(plan: RoofPlan, index: int, **changes: Any) -> RoofPlan:
    """The plan with an opening changed in the layout `index`."""
    layout = plan.slopes[index]
    new = replace(layout.slope, holes=(replace(layout.slope.holes[0], **changes),))
    return replace(plan, slopes=(*plan.slopes[:index], replace(layout, slope=new), *plan.slopes[index + 1 :]))


def interval(plan: RoofPlan) -> RoofPlan:
    one = plan.variation[0].intervals[0]
    worse = replace(one, hem_whole_roof=one.hem_per_lock - 0.1)
    return first(plan, "variation", intervals=(worse, *plan.variation[0].intervals[1:]))


def scaled(plan: RoofPlan) -> RoofPlan:
    return first(plan, "leftover", outline=tuple((2 * x, 2 * y) for x, y in plan.leftover[0].outline))


def same_label(plan: RoofPlan) -> RoofPlan:
    return replace(plan, kits=(plan.kits[0], replace(plan.kits[1], label=plan.kits[0].label), *plan.kits[2:]))


def with_hole_edges(plan: RoofPlan) -> RoofPlan:
    edges = plan.slopes[0].slope.holes[0].edges
    return hole(plan, 0, edges=(replace(edges[0], reach=edges[0].reach + 0.5), *edges[1:]))


def moved_hole(plan: RoofPlan) -> RoofPlan:
    def along(p: tuple[float, float]) -> tuple[float, float]:
        return p[0] + 1.0, p[1]

    edges = tuple(replace(e, start=along(e.start), end=along(e.end)) for e in plan.slopes[0].slope.holes[0].edges)
    return hole(plan, 0, edges=edges)


def shrunk_hole(plan: RoofPlan) -> RoofPlan:
    def half(p: tuple[float, float]) -> tuple[float, float]:
        return p[0] / 2, p[1] / 2

    edges = tuple(replace(e, start=half(e.start), end=half(e.end)) for e in plan.slopes[0].slope.holes[0].edges)
    return hole(plan, 0, edges=edges)


def loose_edge(plan: RoofPlan) -> RoofPlan:
    edges = plan.slopes[0].slope.edges
    x, y = edges[1].end
    return slope(plan, edges=(edges[0], replace(edges[1], end=(x + 0.5, y)), *edges[2:]))


WRONG: tuple[tuple[str, str, Callable[[RoofPlan], RoofPlan], str], ...] = (
    ("variation left out", "wing", lambda p: replace(p, variation=()), "variation is not given for each diamond"),
    ("variation of another diamond", "wing", lambda p: first(p, "variation", mark="Z"), "variation is not given"),
    ("another confidence", "wing", lambda p: first(p, "variation", confidence=0.5), "confidence 0.5, asked"),
    ("the roof easier than a lock", "wing", interval, "the whole roof asks less hem than one lock"),
    ("a label twice", "turret", same_label, "two kits have the same label"),
    ("another limit of weight", "wing", lambda p: replace(p, kit_limit=(p.kit_limit[0], 10.0)), "kits are limited to"),
    ("a kit said to be too heavy", "wing", lambda p: first(p, "kits", over=True), "lb is more than"),
    ("a part of too many", "wing", lambda p: first(p, "kits", part=(1, 7)), "part 1 of 7"),
    ("no underlayment", "wing", lambda p: replace(p, underlayment=()), "underlayment is not counted once"),
    ("an edge of another piece", "wing", lambda p: first(p, "edge_runs", mark="A"), "counted as A, asked"),
    ("longer strips", "wing", lambda p: first(p, "edge_runs", stock=200.0), "strips of 200.000 in"),
    ("a mark twice", "wing", lambda p: replace(p, counts=(*p.counts, p.counts[0])), "a mark is counted twice"),
    ("a pair of another diamond", "turret", lambda p: first(p, "pairs", mark="Z"), "not both of Z"),
    ("a part of no shape", "cheek", lambda p: first(p, "leftover", shape=999), "left over is not listed"),
    ("a part of another outline", "cheek", scaled, "left over has another outline"),
    ("another diamond laid", "wing", lambda p: slope(p, piece="S"), "laid with S, asked A"),
    ("a slope of no job", "wing", lambda p: slope(p, entry="attic"), "is not in the job"),
    ("an open outline", "wing", loose_edge, "does not end where"),
    ("no such alignment", "wing", lambda p: first(p, "slopes", alignment="corner"), "nothing called corner"),
    ("lines marked coarser", "wing", lambda p: first(p, "slopes", mark_step=25_400_000), "lines are marked to 25"),
    ("courses out of order", "wing", lambda p: first(p, "slopes", courses=p.slopes[0].courses[::-1]), "courses listed"),
    ("an opening left out", "gable", lambda p: slope(p, holes=()), "0 openings are laid, 1 asked"),
    ("an opening too small", "gable", shrunk_hole, "should take"),
    ("an opening elsewhere", "gable", moved_hole, "is not where it was measured"),
    ("metal into an opening", "gable", with_hole_edges, "it should be 0.0000 in"),
)  # fmt: skip


@pytest.mark.parametrize(("name", "spoil", "says"), [row[1:] for row in WRONG], ids=[row[0] for row in WRONG])
def test_a_wrong_plan_is_refused_with_its_words(name: str, spoil: Callable[[RoofPlan], RoofPlan], says: str) -> None:
    job, plan = planned(name)
    assert any(says in fault for fault in check_roof(spoil(plan), job, rj.patterns()))


def asking(job: Job, **rules: Any) -> Job:
    return job.model_copy(update={"roof": job.roof.model_copy(update=rules)})


@pytest.mark.parametrize(
    ("name", "rules", "says"),
    [
        ("turret", {"pair": False}, "which the job forbids"),
        ("wing", {"kit_pieces": 3}, "pieces are more than 3"),
    ],
)
def test_a_plan_made_by_other_rules_is_refused(name: str, rules: dict[str, Any], says: str) -> None:
    job, plan = planned(name)
    assert any(says in fault for fault in check_roof(plan, asking(job, **rules), rj.patterns()))


@pytest.mark.parametrize(
    ("rules", "says"),
    [
        ({"apex_cap": False}, "an apex cap is planned, none is asked"),
        ({"apex_width": 50_000_000}, "the apex cap begins a course lower than it has to"),
        ({"apex_width": 900_000_000}, "the apex cap begins where the slope is only"),
        ({"underlap": 30_000_000}, "do not end on a course line below the apex cap"),
    ],
)
def test_an_apex_cap_of_other_rules_is_refused(rules: dict[str, Any], says: str) -> None:
    keys = {"shape": "regular-spire", "sides": 6, "side": "40 in", "height": "90 in"}
    job = rj.job_with(rj.slope(**keys), rules=rj.roof(apex_cap=True))
    plan = plan_roof(job, rj.patterns())
    assert plan.slopes[0].cap_line is not None
    assert check_roof(plan, job, rj.patterns()) == []
    assert any(says in fault for fault in check_roof(plan, asking(job, **rules), rj.patterns()))


def test_courses_closed_up_unasked_are_told() -> None:
    keys = {"shape": "rectangle", "bottom": "46 in", "height": "45 in"}
    job = rj.job_with(rj.slope(**keys), rules=rj.roof(even_courses=True))
    plan = plan_roof(job, rj.patterns())
    assert plan.slopes[0].course < plan.slopes[0].full_course
    assert check_roof(plan, job, rj.patterns()) == []
    assert any("closed up by" in f for f in check_roof(plan, asking(job, even_courses=False), rj.patterns()))


def test_the_other_alignment_asked_is_told() -> None:
    job, plan = planned("wing")
    other = "joint" if plan.slopes[0].alignment == "point" else "point"
    assert any(f"asked a {other}" in f for f in check_roof(plan, asking(job, centre=other), rj.patterns()))


@pytest.mark.parametrize(
    ("keys", "rules"),
    [
        ({"shape": "regular-spire", "sides": 6, "side": "40 in", "height": "90 in"}, {"hips": "wrapped"}),
        (
            {
                "shape": "polygon",
                "points": [["0 in", "0 in"], ["70 in", "0 in"], ["70 in", "50 in"], ["0 in", "50 in"]],
                "openings": [{"points": [["20 in", "15 in"], ["32 in", "15 in"], ["26 in", "30 in"]]}],
            },
            {},
        ),
        ({"shape": "rectangle", "bottom": "70 in", "height": "50 in", "openings": [{**HOLE, "run_past": "1 in"}]}, {}),
    ],
    ids=["wrapped hips", "an opening by its corners", "metal carried into an opening"],
)
def test_right_plans_of_rarer_roofs_pass(keys: dict[str, Any], rules: dict[str, Any]) -> None:
    job = rj.job_with(rj.slope(**keys), rules=rj.roof(**rules))
    plan = plan_roof(job, rj.patterns())
    assert check_roof(plan, job, rj.patterns()) == []
