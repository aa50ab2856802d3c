"""The `[labour]` table: times as people write them, what an hour weighs, and what is said to be assumed."""

from __future__ import annotations

from pathlib import Path

import pytest

from fabplan.errors import BadValueError
from fabplan.job.load import load_job
from fabplan.job.metals import HOUR_WEIGHS, list_metals
from fabplan.job.model import Job, LabourTimes
from fabplan.job.readers import HourRate, read_rate, read_time
from fabplan.job.summary import said_rows
from fabplan.labour import STATIONS, TIME_KEYS, Labour, span
from tests.job.bad_jobs import GOOD


def load(tmp_path: Path, more: str, job: str = "") -> Job:
    text = GOOD.replace('number = "7"', f'number = "7"\n{job}') + more
    (tmp_path / "job.toml").write_text(text, encoding="utf-8")
    return load_job(tmp_path / "job.toml")


@pytest.mark.parametrize(
    ("typed", "seconds"),
    [("40 s", 40), ("1.5 min", 90), ("0.1 h", 360), ("1 min 30 s", 90), ("2 minutes", 120), ("1h30min", 5400), (0, 0)],
)
def test_times_as_people_write_them(typed: str | int, seconds: float) -> None:
    assert read_time(typed) == seconds


@pytest.mark.parametrize("typed", [10, 1.5, "10", "s", "1.5.2 min", "10 s 10 s", "", True, "1 fortnight"])
def test_what_is_no_time(typed: object) -> None:
    with pytest.raises(BadValueError):
        read_time(typed)


@pytest.mark.parametrize(
    ("typed", "rate"),
    [
        (75, HourRate(money=75.0)),
        ("75 per hour", HourRate(money=75.0)),
        ("$75/h", HourRate(money=75.0)),
        ("75 USD per hour", HourRate(money=75.0)),
        ("6 lb", HourRate(pounds=6.0)),
        ("6 lb per hour", HourRate(pounds=6.0)),
        (0, HourRate(money=0.0)),
    ],
)
def test_rates_as_people_write_them(typed: str | int, rate: HourRate) -> None:
    assert read_rate(typed, "in") == rate


def test_every_key_of_the_table_is_a_time_of_a_station() -> None:
    keys = [key for keys in STATIONS.values() for key in keys]
    assert sorted(keys) == sorted(set(keys))
    assert set(LabourTimes.model_fields) == {"rate", *keys}
    assert all(hasattr(Labour(), key) for key in keys)


def test_typed_times_win_and_the_rest_is_told(tmp_path: Path) -> None:
    job = load(tmp_path, '[labour]\nstroke = "8 s"\nrate = 75\n', 'currency = "USD"')
    assert (job.labour.stroke, job.labour.rate, job.labour.set_gauge) == (8.0, 75.0, 45.0)
    assert "stroke" not in job.labour.assumed
    assert "rate" not in job.labour.assumed
    assert set(job.labour.assumed) == set(TIME_KEYS) - {"stroke"}
    rows = said_rows(job)
    assert ("labour", "an hour counts as 75 USD; stroke 8 s") in rows
    said = next(value for what, value in rows if what == "assumed" and value.startswith("labour"))
    assert "set_gauge 45 s" in said
    assert "stroke 10 s" not in said


@pytest.mark.parametrize(
    ("currency", "rate"), [("USD", 60.0), ("$", 60.0), ("eur", 60.0), ("CHF", 60.0), ("SEK", None), ("", None)]
)
def test_an_hour_without_a_rate(tmp_path: Path, currency: str, rate: float | None) -> None:
    job = load(tmp_path, "", f'currency = "{currency}"')
    assert job.labour.rate == rate
    assert job.labour.assumed[0] == "rate"
    said = next(value for what, value in said_rows(job) if what == "assumed" and value.startswith("labour"))
    assert "rate = 0 gives the least metal" in said
    assert ("60" if rate else "6 lb of copper-16oz") in said.split(";")[0]


def test_rate_nought_is_the_least_metal_and_assumes_nothing(tmp_path: Path) -> None:
    job = load(tmp_path, "[labour]\nrate = 0\n")
    assert job.labour.free
    assert ("labour", "rate = 0: the least metal") in said_rows(job)
    assert not any(value.startswith("labour") for what, value in said_rows(job) if what == "assumed")


def test_heavy_metal_and_long_bends_take_longer() -> None:
    labour = Labour()
    assert labour.one_stroke(1) == labour.one_stroke(10) == 10
    assert labour.one_stroke(24) == pytest.approx(24)
    assert labour.one_bend(30) == labour.one_bend(48) == 12
    assert labour.one_bend(96) == pytest.approx(24)


def test_every_profile_says_what_an_hour_weighs() -> None:
    for metal in list_metals():
        assert metal.sources["hour_weighs"] == "from memory"
        assert 0.5 < metal.hour_weighs / HOUR_WEIGHS[metal.family] < 2.0


@pytest.mark.parametrize(
    ("seconds", "says"), [(40, "40 s"), (75, "75 s"), (180, "3 min"), (5400, "1.5 h"), (0.5, "0.5 s")]
)
def test_a_time_said_back(seconds: float, says: str) -> None:
    assert span(seconds) == says


def test_default_times_read_back_as_they_are_written() -> None:
    for key in TIME_KEYS:
        assert read_time(span(getattr(Labour(), key))) == getattr(Labour(), key)
