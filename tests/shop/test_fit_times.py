"""Times from timings: simulated shops whose true times are known, and what cannot be known is said."""

from __future__ import annotations

import random
from collections import Counter

import pytest

from fabplan.labour import Labour
from fabplan.shop.fit_times import fit_times
from fabplan.shop.times_file import Timed

SHEAR = ("stroke", "scribe", "pull", "sheet", "layout", "set_gauge", "set_stop")
LABOUR = Labour()


def timed(work: dict[str, float], seconds: float, number: int = 1) -> Timed:
    return Timed(id=number, at="2026-01-01 00:00:00", job="J", what="layout 1", seconds=seconds, work=work)


def true_times(rng: random.Random) -> dict[str, float]:
    """A shop of its own: every time between half and double the default."""
    return {key: float(getattr(LABOUR, key)) * 2 ** rng.uniform(-1, 1) for key in SHEAR}


def some_work(rng: random.Random) -> dict[str, float]:
    """A pattern as shops cut them: some repeats, strokes and marks on each, a few settings; now and then a sheet."""
    repeat = rng.choice([1, 1, 2, 3, 5, 8, 13])
    return {
        "stroke": repeat * rng.randint(2, 30),
        "scribe": repeat * rng.choice([0, 0, 0, 1, 2, 6]),
        "layout": 1,
        "set_gauge": rng.randint(1, 9),
        "set_stop": rng.choice([0, 0, 1, 2]),
    } | {rng.choice(["pull", "pull", "sheet"]): repeat}


def shop_log(rng: random.Random, true: dict[str, float], timings: int, spread: float) -> list[Timed]:
    """Timings with every one off by its own share, read to the whole minute as on a page with began and ended."""
    log = []
    for n in range(timings):
        work = some_work(rng)
        seconds = sum(true[k] * times for k, times in work.items()) * rng.lognormvariate(0, spread)
        log.append(timed(work, max(60.0, 60.0 * round(seconds / 60)), n + 1))
    return log


def covered(shops: int, spread: float) -> tuple[Counter[str], Counter[str], int]:
    """How often the interval of each time holds the true one, and how often it was sure."""
    held, sure = Counter[str](), Counter[str]()
    for seed in range(shops):
        rng = random.Random(f"{seed} {spread}")
        true = true_times(rng)
        fit = fit_times(shop_log(rng, true, 60, spread), LABOUR)
        assert fit.together == ()
        assert len(fit.times) == len(SHEAR)
        for t in fit.times:
            assert 0 <= t.low <= t.seconds <= t.high
            held[t.key] += t.low <= true[t.key] <= t.high
            sure[t.key] += t.sure
    return held, sure, shops


@pytest.mark.parametrize("spread", [0.05, 0.15])
def test_intervals_hold_the_true_times(spread: float) -> None:
    held, sure, shops = covered(20, spread)
    assert sum(held.values()) >= 0.90 * shops * len(SHEAR)
    assert sure["stroke"] == shops  # what most of the time goes into is soon known


@pytest.mark.slow
@pytest.mark.parametrize("spread", [0.05, 0.10, 0.15, 0.25])
def test_intervals_hold_the_true_times_in_two_hundred_shops(spread: float) -> None:
    """Nine in ten or more of 200, for every time by itself."""
    held, _, shops = covered(200, spread)
    assert {key: held[key] / shops for key in SHEAR if held[key] < 0.90 * shops} == {}


def test_exact_timings_give_the_times_back() -> None:
    rng = random.Random(3)
    true = true_times(rng)
    log = []
    for n in range(20):
        work = some_work(rng)
        log.append(timed(work, sum(true[k] * v for k, v in work.items()), n))
    fit = fit_times(log, LABOUR)
    for t in fit.times:
        assert t.seconds == pytest.approx(true[t.key], rel=1e-6)
        assert t.sure


def test_work_that_always_comes_together_is_named_not_guessed() -> None:
    """One pull for every layout, always: their sum is known, neither is. The strokes still are."""
    rng = random.Random(5)
    log = []
    for n in range(30):
        strokes = rng.randint(5, 80)
        log.append(timed({"stroke": strokes, "pull": 1, "layout": 1}, strokes * 9.0 + 220.0 + rng.uniform(-5, 5), n))
    fit = fit_times(log, LABOUR)
    assert fit.together == (("pull", "layout"),)
    assert [t.key for t in fit.times] == ["stroke"]
    assert fit.times[0].low <= 9.0 <= fit.times[0].high
    assert fit.times[0].sure


def test_two_pairs_are_told_apart_from_each_other() -> None:
    rng = random.Random(6)
    log = []
    for n in range(30):
        a, b, c = rng.randint(1, 9), rng.randint(1, 9), rng.randint(5, 60)
        work = {"stroke": c, "pull": a, "scribe": a, "layout": b, "set_gauge": 3 * b}
        log.append(timed(work, 60.0 + 100 * a + 300 * b + 8 * c, n))
    fit = fit_times(log, LABOUR)
    assert sorted(map(set, fit.together), key=sorted) == [{"layout", "set_gauge"}, {"pull", "scribe"}]


@pytest.mark.parametrize("timings", [1, 2])
def test_too_few_timings_are_sure_of_nothing(timings: int) -> None:
    log = [timed({"stroke": 20.0 * (n + 1), "pull": 3.0}, 300.0 + 200 * n, n) for n in range(timings)]
    fit = fit_times(log, LABOUR)
    assert not any(t.sure for t in fit.times)


def test_no_time_falls_below_nothing() -> None:
    """Clock errors that would make a pull shorter than nothing."""
    log = [timed({"stroke": s, "pull": p}, 10.0 * s - 2.0 * p, s) for s, p in ((10, 1), (20, 5), (40, 2), (30, 9))]
    fit = fit_times(log, LABOUR)
    pull = next(t for t in fit.times if t.key == "pull")
    assert pull.seconds == pull.low == 0.0


def test_an_empty_log() -> None:
    assert fit_times([], LABOUR).times == ()
