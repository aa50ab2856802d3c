"""Ten diamonds and calipers: spread, hem to set, first spacing; simulated shops cover the truth nine times in ten."""

from __future__ import annotations

import math
import random
from pathlib import Path
from statistics import NormalDist

import pytest
from typer.testing import CliRunner

from fabplan.blanks.model import Lattice
from fabplan.cli import app
from fabplan.errors import JobError, PlanError
from fabplan.job.load import load_job
from fabplan.job.model import Job
from fabplan.plan.make import make_pieces
from fabplan.shop.diamonds import Caliper, hands, read_diamonds, spread_of, write_hands

JOB = """
[job]
name = "Boathouse"
number = "7"
[metal]
use = "copper-16oz"
[[piece]]
mark = "A"
kind = "diamond"
count = 10
side = "10 in"
hem = "3/4 in"
"""
ROW = '[[diamond]]\nacross = ["{} in", "{} in"]\nhems = ["{} in", "{} in", "{} in", "{} in"]\n'


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> tuple[Job, Lattice, Path]:
    path = tmp_path_factory.mktemp("diamonds") / "job.toml"
    path.write_text(JOB, encoding="utf-8")
    job = load_job(path)
    lattice = make_pieces(job).patterns[0].lattice
    assert lattice is not None
    return job, lattice, path


def ten(rng: random.Random, shear: float, fold: float, wide: float = 0.0, n: int = 10) -> list[Caliper]:
    """Diamonds of a shop: the blank is sheared, each fold falls where it falls, calipers read to a thousandth."""
    out = []
    for _ in range(n):
        hems = [0.75 + wide + rng.gauss(0, fold) for _ in range(4)]
        across = [10 + rng.gauss(0, shear) - (hems[k] - 0.75) - (hems[k + 2] - 0.75) for k in (0, 1)]
        a, b = (round(x, 3) for x in across)
        one, two, three, four = (round(h, 3) for h in hems)
        out.append(Caliper(across=(a, b), hems=(one, two, three, four)))
    return out


def test_the_interval_of_a_spread_is_the_textbooks() -> None:
    """NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.3: limits sqrt((n-1) s^2 / chi2); 10 values, 90 %."""
    values = [float(k) for k in range(10)]
    found = spread_of([values], 0.001)
    assert found.value == pytest.approx(math.sqrt(82.5 / 9))
    assert found.low == pytest.approx(math.sqrt(82.5 / 16.919), rel=1e-4)  # chi2 0.95, 9 degrees, any table
    assert found.high == pytest.approx(math.sqrt(82.5 / 3.325), rel=1e-3)  # chi2 0.05


def covered(shops: int, seed: int, job: Job, lattice: Lattice) -> dict[str, float]:
    rng, held = random.Random(seed), dict.fromkeys(("shear", "fold", "wider", "spacing"), 0)
    for _ in range(shops):
        shear, fold, wide = rng.uniform(0.008, 0.03), rng.uniform(0.008, 0.03), rng.uniform(-0.03, 0.03)
        found = hands("A", ten(rng, shear, fold, wide), lattice, job)
        held["shear"] += found.shear.low <= shear <= found.shear.high
        held["fold"] += found.fold.low <= fold <= found.fold.high
        held["wider"] += abs(found.wider.mean - wide) <= found.wider.off
        # the wider of two equal hems is fold / sqrt(pi) more on the mean (Clark 1961)
        lap = 0.75 + wide + fold / math.sqrt(math.pi) + lattice.thickness + lattice.slack
        spacing = math.sqrt(2) * (10 - 2 * wide - lap)
        held["spacing"] += abs(found.spacing.mean - spacing) <= found.spacing.off
    return {key: n / shops for key, n in held.items()}


def test_sixty_simulated_shops_cover_the_truth(shop: tuple[Job, Lattice, Path]) -> None:
    held = covered(60, 5, shop[0], shop[1])
    assert all(share >= 0.8 for share in held.values()), held


@pytest.mark.slow
def test_two_hundred_simulated_shops_cover_the_truth(shop: tuple[Job, Lattice, Path]) -> None:
    held = covered(600, 9, shop[0], shop[1])
    low = 0.9 - NormalDist().inv_cdf(0.999) * math.sqrt(0.9 * 0.1 / 600)
    assert all(low <= share <= 0.96 for share in held.values()), held


def test_hems_set_wide_are_told_and_taken_off(shop: tuple[Job, Lattice, Path]) -> None:
    job, lattice, _ = shop
    even = hands("A", ten(random.Random(1), 0.012, 0.012), lattice, job)
    wide = hands("A", ten(random.Random(1), 0.012, 0.012, wide=1 / 16), lattice, job)
    assert wide.wider.mean - even.wider.mean == pytest.approx(1 / 16, abs=0.004)
    for a, b in zip(even.hems, wide.hems, strict=True):
        assert a.low < a.value < a.high
        assert a.value - b.value == pytest.approx(1 / 16, abs=0.004)
    # a wider hem takes its own lap and shortens the side by two: three hems at the shear
    assert even.spacing.mean - wide.spacing.mean == pytest.approx(3 / 16 * math.sqrt(2), abs=0.006)
    assert even.planned == lattice.spacing
    assert sorted(h.value for h in even.hems) == [h.value for h in even.hems]


def test_a_shop_that_varies_more_needs_a_wider_hem(shop: tuple[Job, Lattice, Path]) -> None:
    job, lattice, _ = shop
    fine, rough = (hands("A", ten(random.Random(2), s, s), lattice, job) for s in (0.008, 0.03))
    assert rough.fold.value > 2 * fine.fold.value
    assert rough.hems[-1].value > fine.hems[-1].value


def test_from_the_file_into_the_shop_file(tmp_path: Path) -> None:
    path, file = tmp_path / "job.toml", tmp_path / "measured.toml"
    path.write_text(JOB, encoding="utf-8")
    rng = random.Random(4)
    text = "".join(ROW.format(*c.across, *c.hems) for c in ten(rng, 0.012, 0.02))
    file.write_text(text, encoding="utf-8")
    run = CliRunner().invoke(app, ["strips", str(path), "--measured", str(file), "--write"])
    assert run.exit_code == 0, run.output
    assert "spread of the folds" in run.output
    assert "Written into" in run.output
    spread = load_job(path).spread
    assert spread.fold / 25_400_000 == pytest.approx(0.02, abs=0.006)
    assert spread.shear / 25_400_000 == pytest.approx(0.012, abs=0.006)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('[[diamond]]\nacross = ["10 in", "10 in"]\n', '"hems" is missing'),
        (ROW.format(10, 10, 0.75, 0.75, 0.75, 0.75).replace(', "0.75 in"]', "]"), "hems takes 4 sizes, not 3"),
        (ROW.format(10, 10, 0.75, 0.75, 0.75, 0.75) + 'mark = "Q"\n', '"Q" is no diamond of the job'),
        (ROW.format(10, 10, 0.75, 0.75, 0.75, "x"), "must be a length"),
    ],
)
def test_bad_files_are_told(shop: tuple[Job, Lattice, Path], tmp_path: Path, text: str, says: str) -> None:
    file = tmp_path / "measured.toml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(JobError, match=says):
        read_diamonds(file, shop[0])


def test_too_few_are_told(shop: tuple[Job, Lattice, Path]) -> None:
    job, lattice, _ = shop
    some = ten(random.Random(3), 0.01, 0.01, n=4)
    with pytest.raises(PlanError, match="says nothing of a spread"):
        hands("A", some[:1], lattice, job)
    with pytest.raises(PlanError, match="Too few diamonds"):
        write_hands([hands("A", some, lattice, job)], job)
