"""Hours of a job by station: counted by hand on a small job, counted twice on every other, and of a sensible size."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from fabplan.bending.check.minutes import minutes_faults
from fabplan.bending.model import BendSchedule, FoldTime
from fabplan.blanks.model import Notch
from fabplan.blanks.snip_count import snips_of
from fabplan.job.load import load_job
from fabplan.labour import Spent
from fabplan.plan.check_hours import check_hours
from fabplan.plan.hours import batch_work
from fabplan.plan.make import make_bends, make_pieces, make_plan
from fabplan.plan.model import Plan

JOB = """
[job]
name = "Shed"
number = "S-2"
batch = 10
[metal]
use = "copper-16oz"
[[piece]]
mark = "A"
kind = "diamond"
count = 24
side = "10 in"
hem = "3/4 in"
hem_gap = "1/16 in"
[[piece]]
mark = "D"
kind = "section"
count = 3
length = "96 in"
legs = ["3 in", "2 in"]
bends = [90]
[shear]
longest_cut = "120 in"
[[hem_tool]]
name = "tongs"
largest_angle = 180
least_fold = "1/4 in"
greatest_fold = "1-1/2 in"
longest_fold = "4 in"
in_bites = true
press_strip = "1/2 in"
closes_hems = true
"""


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    path = tmp_path_factory.mktemp("hours") / "job.toml"
    path.write_text(JOB, encoding="utf-8")
    return make_plan(load_job(path), effort=0, should_stop=lambda: True)


def work(spent: tuple[Spent, ...]) -> dict[str, tuple[int, float]]:
    return {s.what: (s.times, s.seconds) for s in spent}


def test_a_drip_edge_at_the_brake(plan: Plan) -> None:
    """An 8 ft bend takes twice a stroke of 4 ft; three pieces are one batch, set once, checked once."""
    schedule = next(s for s in plan.schedules if s.mark == "D")
    assert schedule.times == (
        FoldTime(
            station="brake",
            each=(Spent(what="brake_stroke", times=1, seconds=24.0),),
            batch=(Spent(what="check_fold", times=1, seconds=10.0), Spent(what="set_bench", times=1, seconds=60.0)),
        ),
    )
    (brake,) = [h for h in plan.hours if h.station == "brake"]
    assert work(brake.spent) == {"brake_stroke": (3, 72.0), "check_fold": (1, 10.0), "set_bench": (1, 60.0)}
    assert brake.seconds == 142.0


def test_diamonds_at_the_bench(plan: Plan) -> None:
    """Bites of 4 in along every hem; 24 pieces in batches of ten are three batches."""
    schedule = next(s for s in plan.schedules if s.mark == "A")
    (bench,) = schedule.times
    each, batch = work(bench.each), work(bench.batch)
    bites = sum(max(1, s.hold.bites) for s in schedule.steps)
    assert bites >= 4 * 3
    assert each["bite"] == (bites, 6.0 * bites)
    assert each["turn_over"] == (schedule.turn_overs, 4.0 * schedule.turn_overs)
    assert batch["check_fold"][0] == len(schedule.steps)
    (hours,) = [h for h in plan.hours if h.station == "bench"]
    found = work(hours.spent)
    assert found["bite"] == (24 * bites, 24 * 6.0 * bites)
    assert found["check_fold"][0] == 3 * len(schedule.steps)
    assert found["snip"][0] == 24 * sum(snips_of(n, p.outline) for p in plan.patterns[:1] for n in p.notches)
    assert {h.station for h in plan.hours} == {"bench", "brake"}  # nothing is cut and nothing laid


def test_batches_are_whole() -> None:
    each = [Spent(what="bite", times=2, seconds=12.0)]
    batch = [Spent(what="set_bench", times=1, seconds=60.0)]
    assert [s.times for s in batch_work(each, batch, 25, 25)] == [50, 1]
    assert [s.times for s in batch_work(each, batch, 26, 25)] == [52, 2]


SQUARE = ((0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0))


@pytest.mark.parametrize(
    ("removed", "snips"),
    [
        (((0.0, 0.0), (1.0, 0.0), (0.0, 1.0)), 1),  # a corner clipped straight
        (((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)), 2),  # a square notch
        (((4.0, 0.0), (6.0, 0.0), (5.0, 2.0)), 2),  # a V in an edge
        ((), 1),  # a slit
    ],
)
def test_snips_of_a_notch(removed: tuple[tuple[float, float], ...], snips: int) -> None:
    notch = Notch(corner=0, kind="V", removed=removed, legs=(1.0, 1.0), depth=1.0, says="")
    assert snips_of(notch, SQUARE) == snips


SPOIL: dict[str, Callable[[Plan], Plan]] = {
    "a station left out": lambda p: replace(p, hours=p.hours[1:]),
    "stations in disorder": lambda p: replace(p, hours=p.hours[::-1]),
    "nothing at all": lambda p: replace(p, hours=()),
    "a second less": lambda p: changed(p, seconds=-1.0),
    "a snip more": lambda p: changed(p, times=1),
}


def changed(plan: Plan, *, times: int = 0, seconds: float = 0.0) -> Plan:
    first = plan.hours[0]
    s = first.spent[0]
    worse = replace(s, times=s.times + times, seconds=s.seconds + seconds)
    return replace(plan, hours=(replace(first, spent=(worse, *first.spent[1:])), *plan.hours[1:]))


@pytest.mark.parametrize("what", SPOIL)
def test_wrong_hours_are_found(plan: Plan, what: str) -> None:
    assert check_hours(plan) == []
    assert check_hours(SPOIL[what](plan))


FOLD_SPOIL: dict[str, Callable[[FoldTime], FoldTime]] = {
    "a bite fewer": lambda t: replace(t, each=(replace(t.each[0], times=t.each[0].times - 1), *t.each[1:])),
    "a second less": lambda t: replace(t, each=(replace(t.each[0], seconds=t.each[0].seconds - 1), *t.each[1:])),
    "no setting": lambda t: replace(t, batch=t.batch[:1]),
    "work told twice": lambda t: replace(t, each=(*t.each, t.each[0])),
    "another station": lambda t: replace(t, station="bench" if t.station == "brake" else "brake"),
}


@pytest.mark.parametrize("what", FOLD_SPOIL)
def test_wrong_times_of_a_schedule_are_found(plan: Plan, what: str) -> None:
    for schedule in plan.schedules:
        pattern = plan.pattern(schedule.mark)
        assert minutes_faults(schedule, pattern, plan.job) == []
        bad: BendSchedule = replace(schedule, times=tuple(FOLD_SPOIL[what](t) for t in schedule.times))
        assert minutes_faults(bad, pattern, plan.job)


def test_a_roof_takes_about_as_long_as_men_of_the_trade_took() -> None:
    """Whole hours of a roof against published day's work, to the order of magnitude.

    "Two good workmen can put on and paint 250 to 300 sq ft of tin roofing in 8 hours": The Building Trades Pocketbook,
    "Tin Roofs": 16 man-hours for 2.5 to 3 squares, 5 to 7 a square. A slater lays 2 squares a day, half as much on a
    tower: A Treatise on Architecture and Building Construction, vol. 4, "Estimating the Roofing Work": 4 to 8 a square.
    Small hand-made shingles on a steep pavilion take longer than either, but not ten times as long.
    """
    job = load_job(Path(__file__).parents[2] / "docs/examples/lakeside-pavilion/job.toml")
    pieces = make_pieces(job)
    assert pieces.roof is not None
    schedules = make_bends(job, pieces).schedules
    plan = Plan(
        job=job, metals=pieces.metals, patterns=pieces.patterns, cut_plan=None, schedules=schedules, roof=pieces.roof
    )
    from fabplan.plan.hours import station_times

    found = station_times(job, plan.patterns, None, schedules, pieces.roof, ())
    hours = {h.station: h.seconds / 3600 for h in found}
    squares = sum(s.slope.times * sum(c.covered for c in s.courses) for s in pieces.roof.slopes) / 144 / 100
    assert 4 <= hours["roof"] / squares <= 40
    assert hours["bench"] / squares <= 40


TURRET = """
[job]
name = "Dovecote"
number = "12"
[metal]
use = "copper-16oz"
[[piece]]
mark = "A"
kind = "diamond"
side = "9 in"
hem = "3/4 in"
{cap}
[[slope]]
name = "turret"
shape = "regular-spire"
piece = "A"
sides = 8
across_flats = "48 in"
slant = "50 in"
[roof]
{roof}
"""
CAP = '[[piece]]\nmark = "P"\nkind = "apex-cap"\ncount = 2\nsides = 4\nside = "12 in"\nslant = "10 in"\nlap = "0 in"'


def turret(tmp_path: Path, roof: str, cap: str = "") -> Plan:
    path = tmp_path / "job.toml"
    path.write_text(TURRET.format(roof=roof, cap=cap), encoding="utf-8")
    return make_plan(load_job(path), effort=0)


def at(plan: Plan, station: str) -> dict[str, tuple[int, float]]:
    return next(work(h.spent) for h in plan.hours if h.station == station)


def test_pieces_cut_at_the_bench_are_laid_like_whole_ones(tmp_path: Path) -> None:
    """Each is marked and snipped by its template at the bench; on the roof nothing is trimmed but hem tips."""
    bench, here = turret(tmp_path, 'cut_pieces = "at the bench"'), turret(tmp_path, "")
    assert bench.roof is not None and here.roof is not None
    cut = sum(s.times for s in bench.roof.shapes)
    snips = sum(c.trimmed for s in bench.roof.slopes for c in s.courses) * 8
    pieces = sum(c.total for s in bench.roof.slopes for c in s.courses) * 8
    assert at(bench, "bench")["scribe"] == (cut, 75.0 * cut)
    assert at(bench, "bench")["layout"] == (len(bench.roof.shapes), 180.0 * len(bench.roof.shapes))
    assert at(bench, "roof").get("lay_cut", (0, 0.0))[0] == snips
    assert at(here, "roof")["lay_cut"][0] == snips + cut
    assert "scribe" not in at(here, "bench")
    runs = sum(r.times * r.pieces for r in bench.roof.edge_runs)
    assert at(bench, "roof")["lay"][0] == pieces - snips + runs
    wrong = replace(bench.roof, shapes=(replace(bench.roof.shapes[0], snips=99), *bench.roof.shapes[1:]))
    assert check_hours(replace(bench, roof=wrong))
    other = replace(bench.roof, whole_work=(("A", 1.0),))
    assert any("a whole A takes" in f for f in check_hours(replace(bench, roof=other)))


def test_creases_and_pieces_bent_round_a_hip_take_time(tmp_path: Path) -> None:
    """Two caps of three creases 11.662 in long; sixteen sides of eight hips, dressed along their length."""
    plan = turret(tmp_path, 'hips = "wrapped"\nwrap_mismatch = "12 in"\napex_cap = false', CAP)
    assert at(plan, "bench")["mallet"] == (6, pytest.approx(6 * 11.6619 / 12 * 30, abs=0.02))
    assert plan.roof is not None
    courses = sum(len(s.courses) for s in plan.roof.slopes)
    hip = plan.roof.hips[0].length
    assert at(plan, "roof")["mallet"] == (16 * courses, pytest.approx(16 * hip / 12 * 30, abs=0.02))
