"""Random realistic trim on three brakes: planned and replayed without fault, refused seldom, and never without reason.

A refusal is held against a brute force that shares no collision code with the search: every set of bends that can be
reached, stroke by stroke, as the checker's dense sampling of true arcs sees it. It lets metal touch a tool by a part of
a thickness, so the sections it cannot finish are those that nobody can on that brake.
"""

from __future__ import annotations

import random
from collections.abc import Mapping
from pathlib import Path

import pytest
from bend_sections import brake as brake_of
from bend_sections import job_of, metals, random_folded
from trim import BRAKES, job_text

from fabplan.bending.brake.bend_order import BendStroke, Move, SectionProblem, bend_order
from fabplan.bending.brake.section import BendStrip
from fabplan.bending.brake.springback import overbends
from fabplan.bending.brake.steps import BrakeWork, section_steps
from fabplan.bending.brake.tool import brake_shape
from fabplan.bending.check.section import _stroke
from fabplan.bending.check.strip import StripReplay
from fabplan.bending.check.whole import check_schedule
from fabplan.bending.errors import BendError
from fabplan.bending.schedule import schedule_bends
from fabplan.blanks.develop import develop
from fabplan.blanks.model import FlatPattern
from fabplan.job.load import load_job
from fabplan.job.metals import MetalProfile
from fabplan.job.model import Job
from fabplan.plan.make import metals_of

GRAZE = 0.5  # thicknesses the brute force lets metal into a tool


def tried(seeds: range, brake: str, folder: Path) -> tuple[int, int]:
    """Plan every piece; (refused, refused of five bends at most and found true)."""
    path = folder / f"{brake}.toml"
    path.write_text(job_text(seeds, brake), encoding="utf-8")
    job = load_job(path)
    metals = metals_of(job)
    refused = held = 0
    for pattern in develop(job, metals):
        try:
            schedule = schedule_bends(pattern, job, metals)
        except BendError as error:
            assert error.reasons
            refused += 1
            if len(pattern.folds) <= 5:
                assert not can_be_finished(pattern, job), (pattern.mark, error)
                held += 1
            continue
        assert check_schedule(schedule, pattern, job, metals) == [], pattern.mark
    return refused, held


def can_be_finished(pattern: FlatPattern, job: Job, known: Mapping[str, MetalProfile] | None = None) -> bool:
    """Whether any order at all bends it, as the checker sees every stroke."""
    metal, strip = (known or metals_of(job))[pattern.metal], BendStrip(pattern)
    problem = SectionProblem(
        strip, brake_shape(job.brake, pattern.thickness), overbends(strip, metal, job.brake.springback)
    )
    bench = BrakeWork(problem, metal)
    shape = pattern.section
    assert shape is not None
    full = [abs(b) for b in shape.bends]
    folds = tuple(sorted(pattern.folds, key=lambda f: f.edge))
    reached, stack = {0}, [0]
    while stack:
        made = stack.pop()
        for k in range(strip.n):
            if made >> k & 1 or made | 1 << k in reached:
                continue
            for move in moves(problem, k):
                up = strip.bends[k] > 0
                steps = section_steps(bench, [BendStroke(made, move, up, problem.end_after(move))])
                replay = StripReplay(
                    pattern=pattern,
                    folds=folds,
                    marks=shape.marks,
                    bends=shape.bends,
                    width=shape.developed + pattern.rounding,
                    turned=[full[j] if made >> j & 1 else 0.0 for j in range(strip.n)],
                    metal=metal,
                    brake=job.brake,
                    slack=GRAZE * pattern.thickness,
                )
                possible = True
                for step in steps:
                    possible = possible and not _stroke(replay, step)
                    replay.turned[k], replay.end_in = step.turned_deg, step.end_in
                if possible:
                    reached.add(made | 1 << k)
                    stack.append(made | 1 << k)
                    break
    return (1 << strip.n) - 1 in reached


def moves(problem: SectionProblem, k: int) -> list[Move]:
    """Both ends in, and every way to close a hem."""
    return [Move(k, finish, pushed) for finish in (False, True) for pushed in problem._ways(k, finish)]


def test_forty_seeds(tmp_path: Path) -> None:
    refused = sum(tried(range(k * 14, k * 14 + 14), b, tmp_path)[0] for k, b in enumerate(BRAKES))
    assert refused <= 0.12 * 42


@pytest.mark.slow
@pytest.mark.parametrize("brake", sorted(BRAKES))
@pytest.mark.parametrize("part", range(4))
def test_at_length(brake: str, part: int, tmp_path: Path) -> None:
    tried(range(1000 + 50 * part, 1050 + 50 * part), brake, tmp_path)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(60))
def test_refused_folds_between_legs_are_refused_truly(seed: int) -> None:
    rng = random.Random(seed)
    pattern = random_folded(rng, rng.randint(1, 3))
    strip = BendStrip(pattern)
    _, found = bend_order(strip, brake_of(), overbends(strip, metals()["copper-16oz"], 2.0))
    if found.cost is None:
        assert not can_be_finished(pattern, job_of(), metals())


@pytest.mark.slow
def test_seldom_refused(tmp_path: Path) -> None:
    refused = sum(tried(range(2000, 2100), b, tmp_path)[0] for b in BRAKES)
    assert refused <= 0.12 * 300
