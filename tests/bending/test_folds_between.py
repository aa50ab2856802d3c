"""Folds of 180 degrees between legs, double hems, and bends closed past where the leaf goes.

The orders are common practice, no source: what stands on a fold is bent before the fold is closed, the inner hem of a
double one before the outer, and an acute bend is brought past square on the leaf, then pressed to its angle.
"""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from bend_sections import brake, job_of, metals, random_folded, section

from fabplan.bending.brake.bend_order import BendStroke, Move, SectionProblem
from fabplan.bending.brake.section import BendStrip
from fabplan.bending.brake.steps import BrakeWork, section_steps
from fabplan.bending.brake.strokes import Strokes
from fabplan.bending.check.collide import shutting_faults
from fabplan.bending.check.section import _stroke
from fabplan.bending.check.strip import StripReplay
from fabplan.bending.check.whole import check_schedule
from fabplan.bending.errors import BendError
from fabplan.bending.model import BendSchedule, Step
from fabplan.bending.schedule import schedule_bends
from fabplan.blanks.check.patterns import check_patterns
from fabplan.blanks.develop import develop
from fabplan.blanks.model import FlatPattern
from fabplan.job.load import load_job
from fabplan.plan.make import metals_of

T = 0.0216
DOUBLED_DRIP = section([3, 0.625, 2, 0.75], [-180, 90, -30])  # the deck flange doubled at the drip, then down
DOUBLE_HEM = section([3, 2, 0.5, 0.4375], [-90, -180, -180], radii=[0, T / 2, 0])
ACUTE = section([3, 1.5], [160])


def plan(pattern: FlatPattern) -> BendSchedule:
    schedule = schedule_bends(pattern, job_of(), metals())
    assert check_schedule(schedule, pattern, job_of(), metals()) == []
    return schedule


def test_the_drip_is_doubled_after_the_face_is_bent() -> None:
    steps = plan(DOUBLED_DRIP).steps
    at = {(s.edge, s.action): s.step for s in steps}
    assert at[2, "fold"] < at[1, "pre-bend"] == at[1, "close"] - 1
    assert steps[at[1, "close"] - 1].hold.way == "in front"  # the face stands in the nose's way when pushed in


def test_a_double_hem_is_folded_from_its_edge_inward() -> None:
    done = [(s.edge, s.action) for s in plan(DOUBLE_HEM).steps]
    assert done == [(3, "pre-bend"), (3, "close"), (2, "pre-bend"), (2, "close"), (1, "fold")]


def test_an_acute_bend_is_pressed_to_its_angle() -> None:
    first, second = plan(ACUTE).steps
    assert (first.turned_deg, second.turned_deg) == (135, 160)
    assert second.hold.shim is not None
    assert second.hold.shim / second.hold.deep == pytest.approx(0.364, abs=0.001)  # tan 20, any table


def test_no_bend_is_made_through_metal_folded_over_its_line() -> None:
    pattern = section([3, 1, 3], [180, 90])
    strokes = Strokes(BendStrip(pattern), brake(), 2.0)
    hit = strokes.first_problem(1, False, 0b01)
    assert hit is not None
    assert hit.what == "layer"
    assert hit.amount == pytest.approx(2.0, abs=0.05)  # 3 in folded back over a leg of 1 in
    flat = strokes.first_problem(1, False, 0)
    assert flat is None


def replayed(seed: int) -> None:
    rng = random.Random(seed)
    pattern = random_folded(rng, rng.randint(1, 5))
    try:
        plan(pattern)
    except BendError as error:
        assert error.reasons


@pytest.mark.parametrize("part", range(2))
def test_random_folded_sections_are_replayed(part: int) -> None:
    for seed in range(part * 5, part * 5 + 5):
        replayed(seed)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(1000, 1400))
def test_random_folded_sections_are_replayed_at_length(seed: int) -> None:
    replayed(seed)


def _closed(schedule: BendSchedule, **hold: object) -> BendSchedule:
    def one(step: Step) -> Step:
        return replace(step, hold=replace(step.hold, **hold)) if step.action == "close" else step  # type: ignore[arg-type]

    return replace(schedule, steps=tuple(one(s) for s in schedule.steps))


@pytest.mark.parametrize("hold", [{"shim": 0.1}, {"deep": 0.3}, {"way": "pushed in"}, {"shims_in": (1,)}])
def test_a_fold_closed_otherwise_is_caught(hold: dict[str, object]) -> None:
    for pattern in (DOUBLED_DRIP, ACUTE):
        assert check_schedule(_closed(plan(pattern), **hold), pattern, job_of(), metals())


def test_an_order_that_bends_through_a_closed_fold_is_caught() -> None:
    schedule = plan(DOUBLED_DRIP)
    first, *rest = schedule.steps
    late = tuple(replace(s, step=i) for i, s in enumerate([*rest[:2], first, *rest[2:]], 1))
    assert check_schedule(replace(schedule, steps=late), DOUBLED_DRIP, job_of(), metals())


JOB = """
[job]
name = "Boathouse"
number = "7"
[metal]
use = "copper-16oz"
[[piece]]
mark = "D"
kind = "section"
count = 2
length = "46 in"
legs = ["3 in", "2 in"]
bends = [-90]
start_hem = {width = "1/2 in", toward = "back", double = true}
[[piece]]
mark = "T"
kind = "section"
count = 2
length = "46 in"
legs = ["3 in", "5/8 in", "2 in"]
bends = [-180, 90]
inside_radius = ["1/32 in", "0 in"]
"""


def test_they_are_developed_proven_and_bent_from_the_job_file(tmp_path) -> None:  # type: ignore[no-untyped-def]
    path = tmp_path / "job.toml"
    path.write_text(JOB, encoding="utf-8")
    job = load_job(path)
    metal = metals_of(job)
    patterns = develop(job, metal)
    assert check_patterns(patterns, job, metal) == []
    double, drip = patterns
    assert double.section is not None
    assert drip.section is not None
    assert double.section.legs == pytest.approx((0.4375, 0.5, 3, 2))
    # a double hem takes about two widths, less a sixteenth and the folds' own metal: common practice, no source
    square = 2 * T - 1.5708 * 0.35 * T
    assert double.section.developed == pytest.approx(3 + 2 - square + 2 * 0.5 - 1 / 16, abs=1 / 32)
    assert drip.section.gaps == (pytest.approx(1 / 16), None)
    for pattern in patterns:
        assert check_schedule(schedule_bends(pattern, job, metal), pattern, job, metal) == []
    wrong = replace(double, section=replace(double.section, legs=(0.5, 0.5, 3, 2)))
    assert check_patterns((wrong, drip), job, metal)


def said(schedule: BendSchedule, pattern: FlatPattern, brake_keys: str) -> str:
    return " ".join(check_schedule(schedule, pattern, job_of(f"[brake]\n{brake_keys}\n"), metals()))


def test_a_fold_deeper_than_the_brake_flattens_is_caught() -> None:
    assert "too deep for the brake to flatten" not in said(plan(DOUBLED_DRIP), DOUBLED_DRIP, "")
    assert "too deep for the brake to flatten" in said(
        plan(DOUBLED_DRIP), DOUBLED_DRIP, 'deepest_flattened_hem = "3/8 in"'
    )


def test_a_fold_that_does_not_go_under_the_jaw_is_caught() -> None:
    assert "does not go under the open jaw" in said(plan(DOUBLED_DRIP), DOUBLED_DRIP, 'jaw = "1/4 in"')


def replay_of(pattern: FlatPattern, turned: list[float]) -> StripReplay:
    """The checker's replay of a piece bent so far."""
    shape = pattern.section
    assert shape is not None
    return StripReplay(
        pattern=pattern,
        folds=pattern.folds,
        marks=shape.marks,
        bends=shape.bends,
        width=shape.developed,
        turned=turned,
        metal=metals()["copper-16oz"],
        brake=job_of().brake,
        slack=1.5 * T,
    )


def shut(pattern: FlatPattern, *, pushed_in: bool) -> str:
    """What the checker says of closing fold 1 after bend 2, whatever came before."""
    problem = SectionProblem(BendStrip(pattern), brake(), 2.0)
    move = Move(0, False, pushed_in)
    up = problem.strip.bends[0] > 0
    _, step = section_steps(
        BrakeWork(problem, metals()["copper-16oz"]), [BendStroke(0b10, move, up, problem.end_after(move))]
    )
    bends = problem.strip.bends
    turned = [135.0, abs(bends[1]), *(0.0,) * (len(bends) - 2)]
    return " ".join(shutting_faults(replay_of(pattern, turned), step, -1))


def test_a_fold_that_strikes_the_body_when_it_is_closed_is_caught() -> None:
    """The leg beyond the fold turned the other way: it comes down on the flange it is folded over."""
    assert "strikes itself, closed" in shut(section([3, 0.625, 0.5], [-180, -90]), pushed_in=False)


def test_what_stands_on_a_fold_does_not_go_under_the_nose_with_it() -> None:
    assert shut(DOUBLED_DRIP, pushed_in=False) == ""
    assert "into the nose bar closed" in shut(DOUBLED_DRIP, pushed_in=True)


def test_a_bend_through_metal_folded_over_its_line_is_caught() -> None:
    pattern = section([3, 1, 3], [180, 90])
    problem = SectionProblem(BendStrip(pattern), brake(), 2.0)
    (step,) = section_steps(
        BrakeWork(problem, metals()["copper-16oz"]), [BendStroke(0b01, Move(1, False, False), True, False)]
    )
    through = " ".join(_stroke(replay_of(pattern, [180.0, 0.0]), step))
    assert "other metal lies 2.0" in through
