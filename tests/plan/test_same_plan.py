"""Same job, same plan: counted work alone decides, whatever the machine, its load, and how Python shuffles its sets."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from real_runs import PLAIN, ROOT, environment

from fabplan.job.load import load_job
from fabplan.nesting.engine.lp import summable
from fabplan.plan.make import make_plan

HUT = """
[job]
name = "Rain gauge hut"
number = "77"
units = "mm"
spare = "4 %"
currency = "EUR"
[metal]
use = "zinc-0.7mm"
[[piece]]
mark = "K"
kind = "diamond"
side = "280 mm"
top_angle = 80
hem = "22 mm"
[[piece]]
mark = "KS"
kind = "starter"
for = "K"
[[piece]]
mark = "P"
kind = "rectangle"
count = 6
width = "180 mm"
length = "300 mm"
[[slope]]
name = "hut"
shape = "regular-spire"
piece = "K"
sides = 6
side = "1150 mm"
top_side = "240 mm"
slant = "1900 mm"
[[stock]]
name = "coil 670"
form = "coil"
width = "670 mm"
price = "6.80 per kg"
[[stock]]
name = "sheet 1000 x 2000"
form = "sheet"
width = "1000 mm"
length = "2000 mm"
on_hand = 4
price = "66 per sheet"
"""


@contextmanager
def loaded(processes: int) -> Iterator[None]:
    """So many processes at full load beside."""
    busy = [subprocess.Popen([sys.executable, "-c", "while True: pass"]) for _ in range(processes)]
    try:
        yield
    finally:
        for b in busy:
            b.kill()
            b.wait()


def plan_bytes(job: Path, folder: Path, *, one_core: bool = False, **env: str) -> bytes:
    """`plan.json` of a run of the command in a process of its own."""
    pin = "import os; os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})\n" if one_core else ""
    code = f"{pin}import sys\nfrom fabplan.cli import main\nmain(sys.argv[1:])"
    run = subprocess.run(
        [sys.executable, "-c", code, "plan", str(job), "--out", str(folder)],
        cwd=ROOT, capture_output=True, text=True, timeout=900, check=False, env=environment(**env),
    )  # fmt: skip
    assert run.returncode == 0, run.stderr
    return (folder / "plan.json").read_bytes()


def test_no_clock_is_read_unless_one_is_set(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / "job.toml"
    file.write_text(PLAIN)
    job = load_job(file)

    def read(*_: Any) -> float:
        raise AssertionError("the clock was read")

    for clock in ("monotonic", "time", "process_time"):
        monkeypatch.setattr(time, clock, read)
    plan = make_plan(job, effort=0.1).cut_plan
    assert plan is not None and plan.time_limit is None and not plan.stopped_early
    with pytest.raises(AssertionError, match="clock"):
        make_plan(job, effort=0.1, seconds=600)


def test_prices_are_summed_without_rounding_in_any_order() -> None:
    rng = np.random.default_rng(5)
    for _ in range(50):
        prices = summable(rng.random(60) * 10.0 ** rng.integers(-9, 6), 40)
        times = rng.integers(0, 41, size=60)
        parts = prices * times
        sums = {float(np.cumsum(rng.permutation(parts))[-1]) for _ in range(20)}
        assert len(sums) == 1
    rough = np.array([1 / 3, 1e-9, 7e5])
    assert np.allclose(summable(rough, 9), rough, rtol=1e-6, atol=1e-9)


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(os, "sched_setaffinity"), reason="cores cannot be chosen there")
def test_the_plan_is_the_same_to_the_byte_on_one_core_and_under_load(tmp_path: Path) -> None:
    job = tmp_path / "job.toml"
    job.write_text(HUT)
    one = plan_bytes(job, tmp_path / "one", one_core=True, PYTHONHASHSEED="1")
    with loaded(4):
        busy = plan_bytes(job, tmp_path / "busy", PYTHONHASHSEED="2")
    assert busy == one
