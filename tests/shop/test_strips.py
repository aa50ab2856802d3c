"""Test strips: what they ask for, what measured legs say, what is written; simulated shops cover the truth."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from fabplan.errors import JobError, PlanError
from fabplan.job.load import load_job
from fabplan.plan.make import make_pieces
from fabplan.shop.strips import fit, interval_of, read_strips, wanted, write_found

JOB = """
[job]
name = "strips"
number = "1"
[metal]
use = "copper-16oz"
[[piece]]
mark = "D"
kind = "section"
count = 1
length = "48 in"
legs = ["3 in", "2 in", "3/4 in"]
bends = [-90, 45]
end_hem = {width = "1/2 in", toward = "back", gap = "1/16 in"}
"""
STRIP = """
[[strip]]
metal = "copper-16oz"
turned = 90
flat = "4 in"
legs = ["2 in", "2-1/32 in"]
set = 92.5
reads = 90
"""


@pytest.fixture
def path(tmp_path: Path) -> Path:
    file = tmp_path / "job.toml"
    file.write_text(JOB, encoding="utf-8")
    return file


def test_every_kind_of_bend_is_asked_for_once(path: Path) -> None:
    asked = wanted(make_pieces(load_job(path)).patterns)
    assert [(b.turned, round(b.gap, 4)) for b in asked] == [(45, 0), (90, 0), (180, 0.0625)]


def test_measured_legs_give_deduction_and_springback_and_go_into_the_file(path: Path, tmp_path: Path) -> None:
    job = load_job(path)
    metals = make_pieces(job).metals
    file = tmp_path / "measured.toml"
    file.write_text(STRIP * 4, encoding="utf-8")
    (found,) = fit(read_strips(file, job), job, metals)
    assert found.strips == 4
    assert found.deduction.mean == pytest.approx(1 / 32)
    assert found.deduction.off > 0  # the ruler's step, though all four read alike
    assert found.springback is not None
    assert found.springback.mean == pytest.approx(2.5)
    write_found([found], job)
    again = load_job(path)
    assert again.brake.springback == 2.5
    (allowance,) = again.brake.measured_allowance
    assert (allowance.metal, allowance.turned) == ("copper-16oz", 90)
    (pattern,) = make_pieces(again).patterns
    assert pattern.folds[0].deduction == pytest.approx(1 / 32, abs=1e-4)
    with pytest.raises(PlanError, match="already holds a measured allowance"):
        write_found([found], again)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("x = 1", "holds no measured strips"),
        ("[[strip]]\nturned = 90\n", '"legs" is missing'),
        (STRIP.replace("turned = 90", "turned = 0"), "turned is above 0"),
        (STRIP.replace('"2 in"', '"two"'), "must be a length"),
        ("[[strip", "cannot be read as TOML"),
    ],
)
def test_bad_files_are_told(path: Path, tmp_path: Path, text: str, says: str) -> None:
    file = tmp_path / "measured.toml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(JobError, match=says):
        read_strips(file, load_job(path))


def test_too_few_strips_are_not_written(path: Path, tmp_path: Path) -> None:
    job = load_job(path)
    file = tmp_path / "measured.toml"
    file.write_text(STRIP * 2, encoding="utf-8")
    with pytest.raises(PlanError, match="Too few strips"):
        write_found(fit(read_strips(file, job), job, make_pieces(job).metals), job)


def test_simulated_shops_cover_the_truth() -> None:
    """Five strips, legs off by hand work and read to 1/64 in: nine intervals of ten hold the true deduction."""
    rng = random.Random(3)
    truth, held, shops = 0.0317, 0, 600
    for _ in range(shops):
        values = []
        for _ in range(5):
            legs = [2 + truth / 2 + rng.gauss(0, 0.012) for _ in range(2)]
            values.append(sum(round(leg * 64) / 64 for leg in legs) - 4)
        found = interval_of(values, 2**0.5 / 64)
        held += abs(found.mean - truth) <= found.off
    assert 0.87 <= held / shops <= 0.96
